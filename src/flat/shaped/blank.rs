//! The blank put together from runs of walls and open edges.

use super::face::{FaceMesh, FormedFace, carried};
use super::line;
use super::line::{Line, cross};
use super::{EDGE_POINTS, Run, Shaped, Stretch};
use crate::flat::one_step::columns::beyond;
use crate::flat::one_step::{FaceTriangles, Metal, SolvedWalls, formed_at_row, strains_along};
use crate::flat::rim::{Edge, EdgeStrain, edge_metal, edge_thickness};
use crate::flat::walled::{Walled, WalledProblem};
use crate::geom::mesh_face::mesh_face;
use crate::geom::mesh_wall::shifted;
use crate::geom::{Point, Polyarc, Segment, Vertex, left_of, self_crossing, space};
use crate::tolerance::{SAME_POINT, SLIGHT_CORNER};

/// The blank in the making.
pub(super) struct Blank<'a> {
    pub(super) shaped: &'a Shaped<'a>,
    pub(super) stretches: Vec<Stretch>,
    pub(super) runs: Vec<Run>,
    /// The face where it strains.
    pub(super) face: Option<FaceMesh>,
    /// What stands between each stretch and the next.
    pub(super) corners: Vec<Corner>,
}

/// How two stretches are joined.
#[derive(Debug, Clone, Copy)]
pub(super) enum Corner {
    /// One run all round.
    None,
    /// Walls cut apart, each ending square where the tangent lines cross.
    Outside(Point),
    /// Walls mitred; the place where the tangent lines cross, if it is worth a saw cut.
    Inside(Option<Point>),
    WallEnds,
    WallBegins,
    /// Two open edges meet here in the flat.
    Open(Point),
}

impl Blank<'_> {
    pub(super) fn walled(mut self) -> Result<Walled, WalledProblem> {
        self.join()?;
        let cut = self.outline(Edge::Cut);
        let net = self.outline(Edge::Net);
        if let Some(crossing) = self_crossing(&cut) {
            return Err(WalledProblem::Crossing { at: crossing.at });
        }
        let mut sharp_corners = Vec::new();
        let mut saw_lines = Vec::new();
        for (k, corner) in self.corners.iter().enumerate() {
            let side = self.last_side(k);
            let next = (side + 1) % self.shaped.profile.sides.len();
            let sharp = (self.shaped.profile.sides[side].segment.to(), self.shaped.profile.turn_before(next));
            match corner {
                Corner::Outside(_) => sharp_corners.push(sharp),
                Corner::Inside(Some(inner)) => {
                    sharp_corners.push(sharp);
                    if let Stretch::Run(run) = self.stretches[k] {
                        let from = self.runs[run].edges[0].at(self.runs[run].ranges[0].1).0;
                        saw_lines.push(vec![Segment::Line { from, to: *inner }]);
                    }
                }
                _ => {}
            }
        }
        let chain = |line: &Line, range: (f64, f64), run: &Run| line.segments(range, &run.breaks());
        let lines = |of: &dyn Fn(&Run) -> Vec<Segment>| self.runs.iter().map(of).collect::<Vec<_>>();
        let strains = self.strains();
        Ok(Walled {
            face: Some(FormedFace { outline: self.face_outline(), surface: self.shaped.face.clone(), mesh: self.face.clone() }),
            tangent_lines: lines(&|run| chain(&run.tangent, run.inner, run)),
            middle_lines: lines(&|run| chain(&run.middle, run.inner, run)),
            end_lines: lines(&|run| chain(&run.bend_end, run.inner, run)),
            net_lines: lines(&|run| chain(&run.edges[Edge::Seam as usize], run.ranges[Edge::Seam as usize], run)),
            saw_lines,
            strains,
            sharp_corners,
            cannot_follow: Vec::new(),
            as_if_straight: false,
            solved: self.solved(),
            cut,
            net,
        })
    }

    fn last_side(&self, k: usize) -> usize {
        match self.stretches[k] {
            Stretch::Open(side) => side,
            Stretch::Run(run) => self.runs[run].sides[self.runs[run].sides.len() - 1],
        }
    }

    /// Where each stretch ends.
    fn join(&mut self) -> Result<(), WalledProblem> {
        let count = self.stretches.len();
        for k in 0..count {
            let next = (k + 1) % count;
            let side = self.last_side(k);
            let at = self.shaped.profile.sides[side].segment.to();
            let corner = match (self.stretches[k], self.stretches[next]) {
                (Stretch::Run(a), Stretch::Run(b)) if self.runs[a].closed && a == b => Corner::None,
                (Stretch::Run(a), Stretch::Run(b)) => {
                    let turn = self.shaped.profile.turn_before((side + 1) % self.shaped.profile.sides.len());
                    self.sharp(a, b, turn).ok_or(WalledProblem::NoCorner { at })?
                }
                (Stretch::Run(run), Stretch::Open(open)) => {
                    self.cut_end(run, open, true).ok_or(WalledProblem::NoCorner { at })?;
                    Corner::WallEnds
                }
                (Stretch::Open(open), Stretch::Run(run)) => {
                    self.cut_end(run, open, false).ok_or(WalledProblem::NoCorner { at })?;
                    Corner::WallBegins
                }
                (Stretch::Open(_), Stretch::Open(_)) => Corner::Open(self.on_face(at)),
            };
            self.corners.push(corner);
        }
        Ok(())
    }

    /// The middle of the face's sheet over a place in plan, unrolled.
    fn on_face(&self, p: Point) -> Point {
        if let Some(mesh) = &self.face {
            return carried(&mesh.face.over, &mesh.flat, &mesh.face.triangles, p);
        }
        let over = self.shaped.face.over(p, self.shaped.wall.thickness / 2.0);
        self.shaped.face.unrolled(over)
    }

    fn sharp(&mut self, a: usize, b: usize, turn: f64) -> Option<Corner> {
        let (u, v, inner) = cross(&self.runs[a].tangent, &self.runs[b].tangent)?;
        self.runs[a].inner.1 = u;
        self.runs[b].inner.0 = v;
        if turn > SLIGHT_CORNER {
            for edge in Edge::ALL {
                self.runs[a].ranges[edge as usize].1 = u;
                self.runs[b].ranges[edge as usize].0 = v;
            }
            return Some(Corner::Outside(inner));
        }
        for edge in Edge::ALL {
            let (u, v, _) = cross(&self.runs[a].edges[edge as usize], &self.runs[b].edges[edge as usize])?;
            self.runs[a].ranges[edge as usize].1 = u;
            self.runs[b].ranges[edge as usize].0 = v;
        }
        Some(Corner::Inside((turn.abs() >= SLIGHT_CORNER).then_some(inner)))
    }

    /// Cuts a run where the plane of an open edge stands.
    fn cut_end(&mut self, run: usize, open: usize, at_end: bool) -> Option<()> {
        let edge = self.shaped.profile.sides[open].segment;
        let run = &mut self.runs[run];
        let end = usize::from(at_end);
        for (i, laid) in [Some(&run.net), run.trimmed.as_ref()].into_iter().enumerate() {
            let Some(laid) = laid else { continue };
            let inside = |column: usize, row: usize| {
                let p = laid.mesh.positions[laid.mesh.node(column, row)];
                inside_of(&edge, Point::new(p[0], p[1]), at_end)
            };
            let mut cut = Vec::with_capacity(laid.mesh.rows);
            for row in 0..laid.mesh.rows {
                let order: Vec<usize> =
                    if at_end { (0..laid.mesh.columns).collect() } else { (0..laid.mesh.columns).rev().collect() };
                // The last place on the way out where the metal is still inside.
                let pair = order.windows(2).rev().find(|pair| inside(pair[0], row) > 0.0 && inside(pair[1], row) <= 0.0)?;
                let (from, to) = (inside(pair[0], row), inside(pair[1], row));
                cut.push(pair[0] as f64 + (pair[1] as f64 - pair[0] as f64) * from / (from - to));
            }
            let mut both = run.cuts[i].take().unwrap_or_default();
            both[end] = cut;
            run.cuts[i] = Some(both);
        }
        let net = run.cuts[0].as_ref()?[end].clone();
        let with_trim = run.cuts[1].as_ref().map_or_else(|| net.clone(), |both| both[end].clone());
        let laid = run.trimmed.as_ref().unwrap_or(&run.net);
        let column = with_trim[laid.mesh.rows - 1].clamp(0.0, (run.columns.len() - 1) as f64);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to the columns")]
        let seam = line::between(&with_trim, laid.seam[column as usize]);
        let last = |cut: &[f64]| cut[cut.len() - 1];
        let ends = [last(&with_trim), last(&net), seam];
        for (range, at) in run.ranges.iter_mut().zip(ends) {
            if at_end { range.1 = at } else { range.0 = at }
        }
        if at_end {
            run.inner.1 = with_trim[0];
        } else {
            run.inner.0 = with_trim[0];
        }
        Some(())
    }

    /// The end of a wall at an open edge in the flat, from its free edge to its tangent line, without either; nothing where it is straight.
    fn end_line(&self, run: usize, at_end: bool, edge: Edge) -> Vec<Point> {
        let run = &self.runs[run];
        let trimmed = edge != Edge::Net && run.trimmed.is_some();
        let (laid, cuts) =
            if trimmed { (run.trimmed.as_ref().unwrap_or(&run.net), &run.cuts[1]) } else { (&run.net, &run.cuts[0]) };
        let Some(cut) = cuts.as_ref().map(|both| &both[usize::from(at_end)]) else { return Vec::new() };
        let range = run.ranges[edge as usize];
        let (outer, inner) = if at_end { (range.1, run.inner.1) } else { (range.0, run.inner.0) };
        let (from, to) = (run.edges[edge as usize].at(outer).0, run.tangent.at(inner).0);
        let points: Vec<Point> =
            (1..laid.mesh.rows - 1).rev().map(|row| line::between_points(&|c| laid.flat(c, row), cut[row])).collect();
        let chord = (to - from).normalize();
        let straight = points.iter().all(|p| (*p - from).cross(chord).abs() < 10.0 * SAME_POINT);
        if straight { Vec::new() } else { points }
    }

    fn outline(&self, edge: Edge) -> Polyarc {
        let mut vertices: Vec<Vertex> = Vec::new();
        let corner = |point: Point| Vertex { point, bulge: 0.0 };
        for (k, stretch) in self.stretches.iter().enumerate() {
            let next = self.stretches[(k + 1) % self.stretches.len()];
            if let Stretch::Run(run) = stretch {
                let run = &self.runs[*run];
                vertices.extend(run.edges[edge as usize].vertices(run.ranges[edge as usize], &run.breaks()));
                if !run.closed {
                    vertices.push(corner(run.edges[edge as usize].at(run.ranges[edge as usize].1).0));
                }
            }
            match (self.corners[k], *stretch, next) {
                (Corner::Outside(inner), ..) => vertices.push(corner(inner)),
                (Corner::Open(at), ..) => vertices.push(corner(at)),
                (Corner::WallEnds, Stretch::Run(run), Stretch::Open(open)) => {
                    vertices.extend(self.end_line(run, true, edge).into_iter().map(corner));
                    vertices.push(corner(self.runs[run].tangent.at(self.runs[run].inner.1).0));
                    vertices.extend(self.open_edge(open).into_iter().map(corner));
                }
                (Corner::WallBegins, _, Stretch::Run(run)) => {
                    vertices.push(corner(self.runs[run].tangent.at(self.runs[run].inner.0).0));
                    vertices.extend(self.end_line(run, false, edge).into_iter().rev().map(corner));
                }
                _ => {}
            }
        }
        Polyarc { vertices }.tidied()
    }

    /// What lies between the ends of an open edge in the flat; nothing where that is straight.
    fn open_edge(&self, side: usize) -> Vec<Point> {
        let segment = self.shaped.profile.sides[side].segment;
        let inset = self.shaped.wall.tangent_inset() / segment.length();
        let at = |i: u32| inset + (1.0 - 2.0 * inset) * f64::from(i) / f64::from(EDGE_POINTS);
        let points: Vec<Point> = (1..EDGE_POINTS).map(|i| self.on_face(segment.point_at(at(i)))).collect();
        let (Some(from), Some(to)) = (points.first(), points.last()) else { return Vec::new() };
        let chord = (*to - *from).normalize();
        let straight = points.iter().all(|p| (*p - *from).cross(chord).abs() < SAME_POINT);
        if straight { Vec::new() } else { points }
    }

    /// The flat face within its tangent lines and open edges.
    fn face_outline(&self) -> Polyarc {
        let mut vertices: Vec<Vertex> = Vec::new();
        let corner = |point: Point| Vertex { point, bulge: 0.0 };
        for (k, stretch) in self.stretches.iter().enumerate() {
            match stretch {
                Stretch::Run(run) => {
                    let run = &self.runs[*run];
                    vertices.extend(run.tangent.vertices(run.inner, &run.breaks()));
                    if !run.closed {
                        vertices.push(corner(run.tangent.at(run.inner.1).0));
                    }
                }
                Stretch::Open(side) => {
                    vertices.extend(self.open_edge(*side).into_iter().map(corner));
                    if let Corner::Open(at) = self.corners[k] {
                        vertices.push(corner(at));
                    }
                }
            }
        }
        Polyarc { vertices }.tidied()
    }

    fn strains(&self) -> Vec<EdgeStrain> {
        let sides = &self.shaped.profile.sides;
        let starts: Vec<f64> = sides
            .iter()
            .scan(0.0, |sum, side| {
                let start = *sum;
                *sum += side.segment.length();
                Some(start)
            })
            .collect();
        let mut by_side: Vec<Vec<EdgeStrain>> = vec![Vec::new(); sides.len()];
        for run in &self.runs {
            let laid = run.trimmed.as_ref().unwrap_or(&run.net);
            let mesh = &laid.mesh;
            let at_edge = |c: usize| mesh.positions[mesh.node(c, mesh.rows - 1)];
            let at_seam = |c: usize| formed_at_row(mesh, c, laid.seam[c]);
            let count = run.columns.len();
            let strains = |edge: Edge, formed: &dyn Fn(usize) -> [f64; 3]| {
                strains_along(&run.edges[edge as usize].points, run.closed, formed)
            };
            let (as_cut, finished) = (strains(Edge::Cut, &at_edge), strains(Edge::Seam, &at_seam));
            let law = self.shaped.law;
            let sample = |c: usize, side: usize, u: f64| {
                let segment = &sides[side].segment;
                let hoop = as_cut[c];
                let [at, net_at] = [Edge::Cut, Edge::Net].map(|edge| run.edges[edge as usize].points[c]);
                EdgeStrain {
                    at,
                    net_at,
                    along: starts[side] + u * segment.length(),
                    strain: hoop.exp_m1(),
                    finished: finished[c].exp_m1(),
                    thickness_ratio: edge_thickness(law, hoop),
                    metal: edge_metal(law, hoop),
                    width: at.distance(run.tangent.points[c]),
                    radius: if segment.is_straight() { f64::INFINITY } else { 1.0 / segment.curvature_at(u) },
                    lip: None,
                }
            };
            for (c, column) in run.columns.iter().enumerate().filter(|(_, column)| column.is_inside()) {
                let side = run.sides[column.side];
                let own = &mut by_side[side];
                let along = starts[side] + column.u * sides[side].segment.length();
                if own.last().is_none_or(|s| s.along < along) {
                    own.push(sample(c, side, column.u));
                }
                let next = shifted(count, run.closed, c, 1);
                let ends = next.is_some_and(|next| run.columns[next].side != column.side || (run.closed && c + 1 == count));
                if let Some(next) = next.filter(|_| ends) {
                    by_side[side].push(sample(next, side, 1.0));
                }
            }
        }
        by_side.into_iter().flatten().collect()
    }

    /// Triangles of walls and face.
    fn solved(&self) -> Vec<SolvedWalls> {
        let mut all: Vec<SolvedWalls> = self
            .runs
            .iter()
            .map(|run| {
                let laid = run.trimmed.as_ref().unwrap_or(&run.net);
                let mesh = &laid.mesh;
                let within = |i: &usize| mesh.triangles[*i].iter().all(|node| run.columns[node / mesh.rows].is_inside());
                let kept: Vec<usize> = (0..mesh.triangles.len()).filter(within).collect();
                SolvedWalls {
                    flat: laid.flat.clone(),
                    triangles: kept.iter().map(|i| mesh.triangles[*i]).collect(),
                    metal: kept.iter().map(|i| laid.metal[*i]).collect(),
                    quality: laid.quality,
                    formed: mesh.positions.clone(),
                }
            })
            .collect();
        if let (Some(face), Some(first)) = (self.face_triangles(), all.first_mut()) {
            first.add(face);
        }
        all
    }

    /// The face as triangles: places in the blank and on the formed middle surface.
    fn face_triangles(&self) -> Option<FaceTriangles> {
        if let Some(mesh) = &self.face {
            return Some(self.strained_face(mesh));
        }
        let half = self.shaped.wall.thickness / 2.0;
        let mut over: Vec<Point> = Vec::new();
        for stretch in &self.stretches {
            match stretch {
                Stretch::Run(run) => {
                    let run = &self.runs[*run];
                    let at = |c: usize| {
                        let p = run.net.mesh.positions[run.net.mesh.node(c % run.columns.len(), 0)];
                        Point::new(p[0], p[1])
                    };
                    let (from, to) = run.inner;
                    let mut places = vec![from];
                    places.extend((0..run.columns.len()).map(|c| c as f64).filter(|c| *c > from + 1e-3 && *c < to - 1e-3));
                    if !run.closed {
                        places.push(to);
                    }
                    over.extend(places.into_iter().map(|place| line::between_points(&at, place)));
                }
                Stretch::Open(_) => {}
            }
        }
        let outline: Vec<[f64; 2]> = over.iter().map(|p| [p.x, p.y]).collect();
        let bounds = self.shaped.profile.bounds();
        let size = bounds.width().min(bounds.height()) / 12.0;
        let mesh = mesh_face(&[outline], size.max(1.0)).ok()?;
        let places: Vec<Point> = mesh.points.iter().map(|p| Point::new(p[0], p[1])).collect();
        let formed = places.iter().map(|p| [p.x, p.y, self.shaped.face.skin_height(*p, half) - self.shaped.top()]).collect();
        let still = Metal { strain: (0.0, 0.0), thickness_ratio: 1.0 };
        Some(FaceTriangles {
            flat: places.iter().map(|p| self.on_face(*p)).collect(),
            formed,
            metal: vec![still; mesh.triangles.len()],
            triangles: mesh.triangles,
        })
    }

    /// The triangles of a face that strains, cut off at open edges.
    fn strained_face(&self, mesh: &FaceMesh) -> FaceTriangles {
        let half = self.shaped.wall.thickness / 2.0;
        let face = &mesh.face;
        let mut cut = FaceTriangles { flat: Vec::new(), formed: Vec::new(), triangles: Vec::new(), metal: Vec::new() };
        let open = self.stretches.iter().filter_map(|stretch| match stretch {
            Stretch::Open(side) => Some(self.shaped.profile.sides[*side].segment),
            Stretch::Run(_) => None,
        });
        let open: Vec<Segment> = open.collect();
        let inside = |edge: &Segment, at: &[f64; 3]| inside_of(edge, Point::new(at[0], at[1]), true);
        for i in 0..face.over.len() {
            cut.formed.push(face.under(i, half, self.shaped.top()));
            cut.flat.push(mesh.flat[i]);
        }
        for (corners, metal) in face.triangles.iter().zip(&mesh.metal) {
            let mut rim: Vec<usize> = corners.to_vec();
            for edge in &open {
                let whole = std::mem::take(&mut rim);
                for (k, a) in whole.iter().enumerate() {
                    let b = whole[(k + 1) % whole.len()];
                    let (from, to) = (inside(edge, &cut.formed[*a]), inside(edge, &cut.formed[b]));
                    if from >= 0.0 {
                        rim.push(*a);
                    }
                    if (from < 0.0) != (to < 0.0) {
                        let share = from / (from - to);
                        rim.push(cut.flat.len());
                        cut.flat.push(cut.flat[*a].lerp(cut.flat[b], share));
                        let way = space::minus(cut.formed[b], cut.formed[*a]);
                        cut.formed.push(space::plus(cut.formed[*a], space::times(way, share)));
                    }
                }
            }
            for pair in rim.windows(2).skip(1) {
                cut.triangles.push([rim[0], pair[0], pair[1]]);
                cut.metal.push(*metal);
            }
        }
        cut
    }
}

impl Run {
    /// Columns at which a new side of the outline begins.
    fn breaks(&self) -> Vec<usize> {
        (1..self.columns.len()).filter(|c| self.columns[*c].side != self.columns[c - 1].side).collect()
    }
}

/// How far a place lies on the face's side of an open edge, mm; the edge runs on beyond its end next to the wall.
fn inside_of(edge: &Segment, p: Point, wall_before: bool) -> f64 {
    let mut u = if wall_before { 0.0 } else { 1.0 };
    for _ in 0..20 {
        let (q, t) = (beyond(edge, u), edge.tangent_at(u.clamp(0.0, 1.0)));
        u += (p - q).dot(t) / edge.length();
    }
    (p - beyond(edge, u)).dot(left_of(edge.tangent_at(u.clamp(0.0, 1.0))))
}
