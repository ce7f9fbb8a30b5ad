//! The blank put together from runs of walls and open edges.

use super::ends::{Corner, Cut};
use super::finish::Finish;
use super::formed_face::{FaceMesh, FormedFace};
use super::line::{between_points, cross};
use super::run::{Edge, LaidRun};
use super::strain::{EdgeStrain, FaceTriangles, Metal, SolvedWalls};
use super::{NoBlank, Shell, Stretch};
use crate::geom::mesh_face::mesh_face;
use crate::geom::{
    Chain, Point, Polyarc, Segment, Vec2, Vertex, fit_samples, left_of, lines_and_arcs,
    segments_between, self_crossing, shifted,
};
use crate::tolerance::{CURVE_TO_ARCS, SAME_POINT};

/// Points of an open edge, whose unrolling need not be straight, and of a tangent line along a
/// curve that is cut apart.
const EDGE_POINTS: u32 = 32;
/// Rows of triangles across a face that is just unrolled, for the map of its metal.
const FACE_ROWS: f64 = 12.0;

/// A face with its walls laid flat.
#[derive(Debug, Clone)]
pub struct ShellBlank {
    /// The outline to cut, trim included.
    pub cut: Polyarc,
    /// The outline of the finished walls.
    pub net: Polyarc,
    /// Where the bends begin: each a chain of lines.
    pub tangent_lines: Vec<Vec<Segment>>,
    /// The middles of the bends.
    pub middle_lines: Vec<Vec<Segment>>,
    /// Where the bends end.
    pub end_lines: Vec<Vec<Segment>>,
    /// The finished edges of the walls.
    pub net_lines: Vec<Vec<Segment>>,
    /// Where metal is left beyond open edges: the finished ends, across walls and face.
    pub finished_ends: Vec<Vec<Segment>>,
    /// Where two walls must be sawn apart.
    pub saw_lines: Vec<Vec<Segment>>,
    /// Along the free edges.
    pub strains: Vec<EdgeStrain>,
    /// Sharp corners between walls.
    pub sharp_corners: Vec<SharpCorner>,
    /// Blunt corners that are hammered round, with the angle turned, radians, positive convex.
    pub hammered_round: Vec<(Point, f64)>,
    /// Curves too tight for a wall, where it is cut apart: the place and the outline's radius
    /// there.
    pub cut_apart: Vec<(Point, f64)>,
    /// The face, where it is not just the profile's inside.
    pub face: Option<FormedFace>,
    /// Runs of walls laid flat by the forming solve.
    pub solved: Vec<SolvedWalls>,
}

/// A sharp corner between two walls.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SharpCorner {
    /// The profile's corner.
    pub at: Point,
    /// The angle turned, radians, positive convex.
    pub turn: f64,
    /// Of an outside corner: length of the edge along which the first wall ends there, from the
    /// face to the seam, mm.
    pub edge: Option<f64>,
}

/// The face laid flat.
pub(super) struct FaceFlat {
    /// Where the tangent line of each run lies, column by column.
    pub(super) tangents: Vec<Vec<Point>>,
    /// The face where it strains.
    pub(super) mesh: Option<FaceMesh>,
}

/// The blank in the making.
pub(super) struct Blank<'a> {
    pub(super) shell: &'a Shell<'a>,
    pub(super) stretches: Vec<Stretch>,
    /// What stands between each stretch and the next.
    pub(super) corners: Vec<Corner>,
    pub(super) runs: Vec<LaidRun>,
    pub(super) face: FaceFlat,
}

impl Blank<'_> {
    pub(super) fn assembled(mut self) -> Result<ShellBlank, NoBlank> {
        let mut sharp_corners = Vec::new();
        let mut saw_lines = Vec::new();
        for k in 0..self.stretches.len() {
            match (self.stretches[k], self.corners[k]) {
                (Stretch::Run(run), Corner::Outside { at, turn }) => {
                    let run = &self.runs[run];
                    let last = run.tangent.points[run.tangent.points.len() - 1];
                    let edge = segments_between(&run.end_line(true, Edge::Net), last)
                        .iter()
                        .map(Segment::length)
                        .sum();
                    sharp_corners.push(SharpCorner { at, turn, edge: Some(edge) });
                }
                (Stretch::Run(run), Corner::Inside { at, turn }) => {
                    sharp_corners.push(SharpCorner { at, turn, edge: None });
                    let inner = self
                        .mitre(k, k + 1)
                        .and_then(|()| self.meet_inside(k))
                        .ok_or(NoBlank::NoCorner { at })?;
                    saw_lines.push(vec![Segment::Line { from: self.edge_end(run), to: inner }]);
                }
                (Stretch::Run(run), Corner::BesideApart) => {
                    let after = (1..=self.stretches.len())
                        .find(|i| matches!(self.stretch(k + i), Stretch::Run(_)));
                    let after = after.unwrap_or(1);
                    let sides: Vec<Segment> = (1..after)
                        .filter_map(|i| self.side_of(k + i))
                        .map(|side| self.shell.profile.sides[side].segment)
                        .collect();
                    let at = sides[sides.len() / 2].point_at(0.5);
                    self.mitre(k, k + after).ok_or(NoBlank::Crossing { at })?;
                    let to = self.middle_of_tangent(&sides);
                    saw_lines.push(vec![Segment::Line { from: self.edge_end(run), to }]);
                }
                _ => {}
            }
        }
        let finishes = self.finishes()?;
        let cut = self.outline(Edge::Cut, &finishes);
        let net = self.outline(Edge::Net, &finishes);
        if let Some(crossing) = self_crossing(&cut) {
            return Err(NoBlank::Crossing { at: crossing.at });
        }
        let lines =
            |of: &dyn Fn(&LaidRun) -> Vec<Segment>| self.runs.iter().map(of).collect::<Vec<_>>();
        let mut tangent_lines = lines(&|run| run.tangent.segments(run.inner));
        let apart: Vec<usize> = self
            .stretches
            .iter()
            .filter_map(
                |stretch| if let Stretch::Apart(side) = stretch { Some(*side) } else { None },
            )
            .collect();
        tangent_lines.extend(apart.iter().map(|side| self.tangent_of(*side)));
        let cut_apart =
            apart.iter().map(|side| tightest(&self.shell.profile.sides[*side].segment)).collect();
        let seam = Edge::Seam as usize;
        Ok(ShellBlank {
            tangent_lines,
            middle_lines: lines(&|run| run.middle.segments(run.inner)),
            end_lines: lines(&|run| run.bend_end.segments(run.inner)),
            net_lines: lines(&|run| run.edges[seam].segments(run.ranges[seam])),
            finished_ends: self.finished_ends(&finishes),
            strains: self.strains(),
            face: self.shell.surface.map(|surface| FormedFace {
                outline: self.face_outline(),
                surface: surface.clone(),
                mesh: self.face.mesh.clone(),
                finished: None,
            }),
            solved: self.solved(),
            saw_lines,
            sharp_corners,
            hammered_round: Vec::new(),
            cut_apart,
            cut,
            net,
        })
    }

    fn stretch(&self, k: usize) -> Stretch {
        self.stretches[k % self.stretches.len()]
    }

    fn side_of(&self, k: usize) -> Option<usize> {
        match self.stretch(k) {
            Stretch::Open(side) | Stretch::Apart(side) => Some(side),
            Stretch::Run(_) => None,
        }
    }

    /// Ends two runs where their edges meet; none where they do not.
    fn mitre(&mut self, k: usize, next: usize) -> Option<()> {
        let (Stretch::Run(a), Stretch::Run(b)) = (self.stretch(k), self.stretch(next)) else {
            return None;
        };
        for edge in Edge::ALL {
            let (u, v, _) =
                cross(&self.runs[a].edges[edge as usize], &self.runs[b].edges[edge as usize])?;
            self.runs[a].ranges[edge as usize].1 = u;
            self.runs[b].ranges[edge as usize].0 = v;
        }
        Some(())
    }

    /// Ends the tangent lines of a run and the next where they cross, and gives that place.
    fn meet_inside(&mut self, k: usize) -> Option<Point> {
        let (Stretch::Run(a), Stretch::Run(b)) = (self.stretch(k), self.stretch(k + 1)) else {
            return None;
        };
        let (u, v, inner) = cross(&self.runs[a].tangent, &self.runs[b].tangent)?;
        self.runs[a].inner.1 = u;
        self.runs[b].inner.0 = v;
        Some(inner)
    }

    /// The end of a run's edge as cut.
    fn edge_end(&self, run: usize) -> Point {
        let run = &self.runs[run];
        run.edges[Edge::Cut as usize].end(run.ranges[Edge::Cut as usize].1)
    }

    /// The middle of the tangent line along sides that are cut apart, in the flat.
    fn middle_of_tangent(&self, sides: &[Segment]) -> Point {
        let chain = Chain::open(sides.to_vec());
        let (i, u) = chain.place(chain.length() / 2.0).unwrap_or_default();
        self.touch(&sides[i], u)
    }

    /// Where the bend along a side begins, in the flat.
    fn touch(&self, segment: &Segment, u: f64) -> Point {
        let (at, outward) = (segment.point_at(u), -left_of(segment.tangent_at(u)));
        let Some(section) = self.shell.section(at, outward) else { return at };
        let over = section.touch(self.shell.outside_radius());
        match (&self.face.mesh, self.shell.surface) {
            (Some(mesh), _) => mesh.flat_of(over),
            (None, Some(surface)) => surface.unrolled(over),
            (None, None) => over,
        }
    }

    fn tangent_of(&self, side: usize) -> Vec<Segment> {
        let segment = self.shell.profile.sides[side].segment;
        let exact = if self.shell.surface.is_none() {
            shifted(&segment, self.shell.wall.tangent_inset())
        } else {
            None
        };
        exact.map_or_else(
            || {
                let points: Vec<Point> = (0..=EDGE_POINTS)
                    .map(|i| self.touch(&segment, f64::from(i) / f64::from(EDGE_POINTS)))
                    .collect();
                points.windows(2).map(|pair| Segment::Line { from: pair[0], to: pair[1] }).collect()
            },
            |pieces| lines_and_arcs(&pieces, CURVE_TO_ARCS),
        )
    }

    /// The middle of the face's sheet over a place in plan, laid flat.
    fn on_face(&self, p: Point) -> Point {
        let over = self.shell.over_middle(p);
        match (&self.face.mesh, self.shell.surface) {
            (Some(mesh), _) => mesh.flat_of(over),
            (None, Some(surface)) => surface.unrolled(over),
            (None, None) => p,
        }
    }

    /// The finished edge of an open side beyond which metal is left.
    fn finished(&self, stretch: Stretch) -> Option<Segment> {
        let Stretch::Open(side) = stretch else { return None };
        (self.shell.finished)(side)
    }

    /// For each stretch that is a run of walls, its finished ends, where metal is left beyond them;
    /// the net edge ends there.
    fn finishes(&mut self) -> Result<Vec<[Option<Finish>; 2]>, NoBlank> {
        let count = self.stretches.len();
        let neutral = self.shell.mid_radius() * (self.shell.stretch_of_bend() - 1.0);
        let mut all = vec![[None, None]; count];
        for (k, own) in all.iter_mut().enumerate() {
            let Stretch::Run(r) = self.stretches[k] else { continue };
            for (end, beside) in
                [self.stretch(k + count - 1), self.stretch(k + 1)].into_iter().enumerate()
            {
                let Some(line) = self.finished(beside) else { continue };
                let cut = Cut { line, wall_before: end == 1, beside: None };
                let finish = self.runs[r]
                    .finish(&cut, neutral)
                    .ok_or(NoBlank::NoCorner { at: line.point_at(0.5) })?;
                let net = &mut self.runs[r].ranges[Edge::Net as usize];
                *(if end == 0 { &mut net.0 } else { &mut net.1 }) = finish.place;
                own[end] = Some(finish);
            }
        }
        Ok(all)
    }

    /// The finished ends across walls, from their edges in, and across the face.
    fn finished_ends(&self, finishes: &[[Option<Finish>; 2]]) -> Vec<Vec<Segment>> {
        let mut all: Vec<Vec<Segment>> = finishes
            .iter()
            .flatten()
            .flatten()
            .map(|finish| segments_between(&finish.vertices(false), finish.at_tangent()))
            .collect();
        for (k, stretch) in self.stretches.iter().enumerate() {
            let Some(segment) = self.finished(*stretch) else { continue };
            let (start, end) = self.open_ends(k, &segment, Some(finishes));
            let mut vertices = vec![Vertex { point: start, bulge: 0.0 }];
            vertices.extend(self.open_edge(&segment, start, end));
            vertices.dedup_by(|b, a| {
                b.point.distance(a.point) < SAME_POINT && {
                    a.bulge = b.bulge;
                    true
                }
            });
            all.push(segments_between(&vertices, end));
        }
        all
    }

    fn outline(&self, edge: Edge, finishes: &[[Option<Finish>; 2]]) -> Polyarc {
        let net = edge == Edge::Net;
        let mut vertices: Vec<Vertex> = Vec::new();
        let corner = |point: Point| Vertex { point, bulge: 0.0 };
        for (k, stretch) in self.stretches.iter().enumerate() {
            match *stretch {
                Stretch::Run(run) => {
                    let run = &self.runs[run];
                    let before = self.corners[(k + self.corners.len() - 1) % self.corners.len()];
                    let [begins, ends] =
                        finishes[k].each_ref().map(|finish| finish.as_ref().filter(|_| net));
                    if let Some(finish) = begins {
                        vertices.extend(reversed(&finish.vertices(true), finish.at_tangent()));
                    } else if matches!(before, Corner::WallBegins | Corner::Outside { .. }) {
                        let line = run.end_line(false, edge);
                        let to_edge = reversed(&line, run.tangent.points[0]);
                        vertices.extend(to_edge);
                    }
                    let range = run.ranges[edge as usize];
                    vertices.extend(run.edges[edge as usize].vertices(range));
                    match self.corners[k] {
                        Corner::None | Corner::Inside { .. } if run.closed => {}
                        _ if ends.is_some() => {
                            vertices.extend(ends.iter().flat_map(|finish| finish.vertices(true)));
                            vertices.extend(ends.map(|finish| corner(finish.at_tangent())));
                        }
                        Corner::WallEnds | Corner::Outside { .. } => {
                            vertices.extend(run.end_line(true, edge));
                            vertices.push(corner(run.tangent.points[run.tangent.points.len() - 1]));
                        }
                        _ => vertices.push(corner(run.edges[edge as usize].end(range.1))),
                    }
                }
                Stretch::Open(side) => {
                    let finished = self.finished(*stretch).filter(|_| net);
                    let segment = finished.unwrap_or(self.shell.profile.sides[side].segment);
                    let (start, end) = self.open_ends(k, &segment, Some(finishes).filter(|_| net));
                    vertices.extend(self.open_edge(&segment, start, end));
                    if matches!(self.corners[k], Corner::Open(_)) {
                        vertices.push(corner(end));
                    }
                }
                Stretch::Apart(_) => {}
            }
        }
        Polyarc { vertices }.tidied()
    }

    /// The ends in the flat of an open edge, which is stretch `k` and lies along `segment`: at the
    /// tangent lines of runs beside it, as cut or, with `finishes`, as finished.
    fn open_ends(
        &self,
        k: usize,
        segment: &Segment,
        finishes: Option<&[[Option<Finish>; 2]]>,
    ) -> (Point, Point) {
        let count = self.stretches.len();
        let at = |k: usize, at_end: bool| {
            let finish = finishes.and_then(|all| all[k % count][usize::from(at_end)].as_ref());
            finish.map(Finish::at_tangent).or_else(|| self.end_of_run(self.stretch(k), at_end))
        };
        (
            at(k + count - 1, true).unwrap_or_else(|| self.on_face(segment.from())),
            at(k + 1, false).unwrap_or_else(|| self.on_face(segment.to())),
        )
    }

    /// What lies between the ends of an open edge in the flat; nothing where that is straight.
    fn open_edge(&self, segment: &Segment, start: Point, end: Point) -> Vec<Vertex> {
        let (a, b) = (self.foot_in_flat(segment, start, 0.0), self.foot_in_flat(segment, end, 1.0));
        let at = |i: u32| a + (b - a) * f64::from(i) / f64::from(EDGE_POINTS);
        let mut points = vec![start];
        points.extend((1..EDGE_POINTS).map(|i| self.on_face(segment.point_at(at(i)))));
        points.push(end);
        let chord = (end - start).normalize();
        if points.iter().all(|p| (*p - start).cross(chord).abs() < SAME_POINT) {
            return Vec::new();
        }
        let directions = super::line::directions(&points, false);
        let samples: Vec<(Point, Vec2)> = points.into_iter().zip(directions).collect();
        fit_samples(&samples, CURVE_TO_ARCS)
    }

    /// The end of a run's tangent line.
    fn end_of_run(&self, stretch: Stretch, at_end: bool) -> Option<Point> {
        let Stretch::Run(run) = stretch else { return None };
        let points = &self.runs[run].tangent.points;
        Some(points[if at_end { points.len() - 1 } else { 0 }])
    }

    /// The parameter of an open edge whose place lies nearest to a point in the flat.
    fn foot_in_flat(&self, segment: &Segment, p: Point, from: f64) -> f64 {
        let mut u = from;
        for _ in 0..20 {
            let h = 1e-4;
            let way = (self.on_face(segment.point_at(u + h))
                - self.on_face(segment.point_at(u - h)))
                / (2.0 * h);
            let step = (p - self.on_face(segment.point_at(u))).dot(way) / way.hypot2();
            u += step;
            if step.abs() < 1e-10 {
                break;
            }
        }
        u
    }

    /// The flat face within its tangent lines and open edges.
    fn face_outline(&self) -> Polyarc {
        let mut vertices: Vec<Vertex> = Vec::new();
        let corner = |point: Point| Vertex { point, bulge: 0.0 };
        for (k, stretch) in self.stretches.iter().enumerate() {
            match stretch {
                Stretch::Run(run) => {
                    let run = &self.runs[*run];
                    vertices.extend(run.tangent.vertices(run.inner));
                    if !run.closed {
                        vertices.push(corner(run.tangent.end(run.inner.1)));
                    }
                }
                Stretch::Apart(side) => {
                    let pieces = self.tangent_of(*side);
                    vertices.extend(
                        pieces
                            .iter()
                            .flat_map(|piece| crate::geom::vertices_of(piece, CURVE_TO_ARCS)),
                    );
                }
                Stretch::Open(side) => {
                    let segment = self.shell.profile.sides[*side].segment;
                    let (start, end) = self.open_ends(k, &segment, None);
                    vertices.extend(self.open_edge(&segment, start, end));
                    if matches!(self.corners[k], Corner::Open(_)) {
                        vertices.push(corner(end));
                    }
                }
            }
        }
        Polyarc { vertices }.tidied()
    }

    fn strains(&self) -> Vec<EdgeStrain> {
        let sides = &self.shell.profile.sides;
        let lengths: Vec<f64> = sides.iter().map(|side| side.segment.length()).collect();
        let starts: Vec<f64> = lengths
            .iter()
            .scan(0.0, |sum, length| {
                let start = *sum;
                *sum += length;
                Some(start)
            })
            .collect();
        let mut by_side: Vec<Vec<EdgeStrain>> = vec![Vec::new(); sides.len()];
        for run in &self.runs {
            for (side, strain) in run.strains(&starts, &lengths) {
                by_side[side].push(strain);
            }
        }
        by_side.into_iter().flatten().collect()
    }

    /// Triangles of walls and face.
    fn solved(&self) -> Vec<SolvedWalls> {
        let mut all: Vec<SolvedWalls> = self.runs.iter().filter_map(LaidRun::solved).collect();
        if self.shell.surface.is_some()
            && let (Some(face), Some(first)) = (self.face_triangles(), all.first_mut())
        {
            first.add(face);
        }
        all
    }

    /// The face as triangles: places in the blank and on the formed middle surface.
    fn face_triangles(&self) -> Option<FaceTriangles> {
        let half = self.shell.wall.thickness / 2.0;
        let top = self.shell.top();
        if let Some(mesh) = &self.face.mesh {
            let count = mesh.face.over.len();
            return Some(FaceTriangles {
                flat: mesh.flat.clone(),
                formed: (0..count).map(|i| mesh.face.under(i, half, top)).collect(),
                triangles: mesh.face.triangles.clone(),
                metal: mesh.metal.clone(),
            });
        }
        let surface = self.shell.surface?;
        let mut over: Vec<Point> = Vec::new();
        for stretch in &self.stretches {
            let Stretch::Run(run) = stretch else { continue };
            let run = &self.runs[*run];
            let mesh = &run.net.mesh;
            let at = |c: usize| {
                let p = mesh.positions[mesh.node(c % run.columns.len(), 0)];
                Point::new(p[0], p[1])
            };
            let (from, to) = run.inner;
            let mut places = vec![from];
            places.extend(
                (0..run.columns.len())
                    .map(|c| c as f64)
                    .filter(|c| *c > from + 1e-3 && *c < to - 1e-3),
            );
            if !run.closed {
                places.push(to);
            }
            over.extend(places.into_iter().map(|place| between_points(&at, place)));
        }
        over.dedup_by(|b, a| b.distance(*a) < SAME_POINT);
        if over.len() > 1 && over[0].distance(over[over.len() - 1]) < SAME_POINT {
            over.pop();
        }
        let outline: Vec<[f64; 2]> = over.iter().map(|p| [p.x, p.y]).collect();
        let bounds = self.shell.profile.bounds();
        let size = bounds.width().min(bounds.height()) / FACE_ROWS;
        let mesh = mesh_face(&[outline], size.max(1.0)).ok()?;
        let places: Vec<Point> = mesh.points.iter().map(|p| Point::new(p[0], p[1])).collect();
        let formed =
            places.iter().map(|p| [p.x, p.y, surface.skin_height(*p, half) - top]).collect();
        let still = Metal { strain: (0.0, 0.0), thickness_ratio: 1.0 };
        Some(FaceTriangles {
            flat: places.iter().map(|p| self.on_face(*p)).collect(),
            formed,
            metal: vec![still; mesh.triangles.len()],
            triangles: mesh.triangles,
        })
    }
}

/// The tightest place of a curve, and its radius there.
fn tightest(segment: &Segment) -> (Point, f64) {
    let places = (0..=64).map(|i| f64::from(i) / 64.0);
    let u = places
        .min_by(|a, b| segment.curvature_at(*a).total_cmp(&segment.curvature_at(*b)))
        .unwrap_or(0.5);
    let u = if matches!(segment, Segment::Curve(_)) { u } else { 0.5 };
    (segment.point_at(u), 1.0 / segment.curvature_at(u))
}

/// A chain that ends at `end`, walked the other way, without its own last point.
fn reversed(line: &[Vertex], end: Point) -> Vec<Vertex> {
    let segments = segments_between(line, end);
    segments
        .iter()
        .rev()
        .flat_map(|segment| crate::geom::vertices_of(&segment.reversed(), CURVE_TO_ARCS))
        .collect()
}
