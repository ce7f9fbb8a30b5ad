//! A run of walls laid flat round a face that is held.
//!
//! Columns of nodes stand on the tangent line, square to it and close enough for its curvature; at
//! an upright cut they lean over so that the last one lies in it, in the formed shell: what it
//! becomes in the flat is the blank's edge there, and no load is on it. Three things are done with
//! a solution:
//!
//! * The alternating diagonals of the mesh make its edge zigzag by some micrometres. Each node is
//!   taken in its column's own frame (outward, along), where a wall of constant curvature has
//!   constant values, and averaged over five columns with the weights (-1, 4, 10, 4, -1)/16: they
//!   take a zigzag away and leave cubics as they are.
//! * Beside straight sides under a level face the metal strains only near the curves. From two wall
//!   widths off it is led over to the exact unrolled wall, which it has reached at three.
//! * Lines of metal are read off through the averaged nodes.
//!
//! Millimetres and radians.

use super::columns::{Column, NO_KINK, Place, Sides, columns, rows, straight_shares};
use super::ends::{Cut, End};
use super::line::{Line, Span, directions};
use super::strain::{
    EdgeStrain, Metal, Quality, SolvedWalls, between_rows, edge_metal, edge_thickness,
    formed_at_row, metal_of, quality, strains_along,
};
use super::{Ends, Fault, NoBalance, NoBlank, RolledEdge, Shell};
use crate::fe::coarse::WallProblem;
use crate::fe::membrane::{Failure, Membrane, Settings, Start};
use crate::fe::ring::{Extremes, RingWall, WallSection, ring};
use crate::fe::wall::wall_membrane;
use crate::geom::mesh_wall::{
    Corners, NodeColumn, TangentSample, WallMesh, mesh_columns, shifted, without_zigzag,
};
use crate::geom::space::Space;
use crate::geom::{Point, Segment, Vec2, Vertex, fit_samples, left_of, space};
use crate::tolerance::{CURVE_TO_ARCS, SAME_POINT};

/// Rows round the bend of a wall that is just unrolled.
const FINE_ROWS: usize = 24;
/// Columns lean over within so many times the most that they lean, and one wall width at least.
const LEAN_OVER: f64 = 4.0;
/// Shares of a wall's height that lead up to it where it is not found at once.
const LOWER_WALLS: [f64; 4] = [0.5, 0.7, 0.85, 0.95];
/// Rounds in which a column's place in a cut is found.
const ROUNDS: usize = 60;

/// A line along a wall laid flat.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Edge {
    /// The outer cut, beyond the trim.
    Cut,
    /// The edge of the wall when it is cut without trim.
    Net,
    /// The metal of the wall with trim that ends at the seam.
    Seam,
}

impl Edge {
    pub(super) const ALL: [Self; 3] = [Self::Cut, Self::Net, Self::Seam];
}

/// How a run is laid flat.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Way {
    /// Straight under a level face: unrolled.
    Unrolled,
    /// One whole circle under a level face: the exact ring.
    Ring,
    Solved,
}

/// A run of walls, with the sections in which it stands.
pub(super) struct Run<'a> {
    shell: &'a Shell<'a>,
    /// Its sides, by their numbers in the profile.
    pub(super) sides: Vec<usize>,
    outline: Sides<'a>,
    pub(super) ends: Ends,
    pub(super) columns: Vec<Column>,
    /// At each column.
    pub(super) sections: Vec<RolledEdge>,
    /// How far each column is given over to the straight wall's exact edge.
    shares: Vec<f64>,
    way: Way,
}

/// One row of a wall: its share of the bend's angle, or of the way down the wall.
#[derive(Debug, Clone, Copy)]
enum Row {
    Bend(f64),
    Wall(f64),
}

/// One solve.
#[derive(Debug, Clone)]
pub(super) struct Laid {
    pub(super) mesh: WallMesh,
    /// Places of the mesh's nodes in the flat.
    pub(super) flat: Vec<Point>,
    /// What the metal of each of its triangles does, and how good the solution is; none where it is
    /// known exactly.
    solved: Option<(Vec<Metal>, Quality)>,
    /// Row, with fractions, that lies at the seam plane, for each column.
    seam: Vec<f64>,
    /// Of a whole circle.
    ring: Option<RingWall>,
}

impl Laid {
    pub(super) fn flat(&self, column: usize, row: usize) -> Point {
        self.flat[self.mesh.node(column, row)]
    }

    fn at_row(&self, column: usize, row: f64) -> Point {
        between_rows(&|r| self.flat(column, r), row, self.mesh.rows - 1)
    }
}

/// A run of walls laid flat. Places along it are columns with fractions.
#[derive(Debug, Clone)]
pub(super) struct LaidRun {
    pub(super) sides: Vec<usize>,
    pub(super) closed: bool,
    ends: Ends,
    pub(super) columns: Vec<Column>,
    pub(super) net: Laid,
    pub(super) trimmed: Option<Laid>,
    pub(super) tangent: Line,
    /// By [`Edge`].
    pub(super) edges: [Line; 3],
    pub(super) middle: Line,
    pub(super) bend_end: Line,
    /// Along the edge at each column.
    edge: Vec<EdgeStrain>,
    /// The stretch that is left of each of the edges, and of the tangent line.
    pub(super) ranges: [(f64, f64); 3],
    pub(super) inner: (f64, f64),
}

/// What a solve starts from.
#[derive(Clone, Copy)]
struct Origin<'a> {
    /// A lower wall that leads up to it.
    lower: Option<&'a Laid>,
    corners: Corners,
    /// Whether the metal at cuts is taken as if the run went on there.
    as_if_on: bool,
}

impl Origin<'_> {
    /// Its own start.
    const OWN: Self = Self { lower: None, corners: Corners::Shared, as_if_on: false };
}

impl<'a> Run<'a> {
    /// The run of these sides, `outline` having their segments.
    pub(super) fn new(
        shell: &'a Shell<'a>,
        mut sides: Vec<usize>,
        outline: Sides<'a>,
        ends: Ends,
    ) -> Result<Self, Fault> {
        let last = outline.segments.len() - 1;
        let mut places = (Place { side: 0, u: 0.0 }, Place { side: last, u: 1.0 });
        for (end, place) in ends.iter().zip([&mut places.0, &mut places.1]) {
            let before = *place;
            let nowhere = || Fault::Shell(NoBlank::NoCorner { at: outline.point(before) });
            match end {
                None => {}
                Some(End::Longer(by)) => {
                    let sign = if place.side == 0 && place.u == 0.0 { -1.0 } else { 1.0 };
                    let room = longest(&outline.segments[place.side], place.u);
                    *place = outline.moved(*place, sign * by.min(room));
                }
                Some(End::Cut(cut)) => {
                    let by = reach(shell, &outline, cut, *place, Row::Bend(0.0), (0.0, 0.0))
                        .ok_or_else(nowhere)?;
                    *place = outline.moved(*place, by);
                }
            }
        }
        let (from, to) = places;
        if from.side > to.side || (from.side == to.side && from.u >= to.u) {
            return Err(Fault::Shell(NoBlank::NoCorner { at: outline.point(from) }));
        }
        let bend =
            |p: Point| shell.surface.map_or(0.0, |face| face.bend_at(p)) + shell.crown_bend();
        let columns = columns(&outline, (from, to), shell.wall, &bend);
        // Sides that a cut takes away wholly are none of the run's.
        sides.truncate(to.side + 1);
        let shares = if shell.surface.is_some() {
            vec![0.0; columns.len()]
        } else {
            straight_shares(&outline, &columns, shell.wall.flat_width())
        };
        let way = way_of(shell, &outline);
        let mut sections = Vec::with_capacity(columns.len());
        for column in &columns {
            let none = |reason: &str| {
                Fault::Run(
                    sides.clone(),
                    NoBalance { at: outline.point(column.place), reason: reason.to_owned() },
                )
            };
            let section = shell
                .section(column.point + column.outward * shell.wall.tangent_inset(), column.outward)
                .ok_or_else(|| none("the edge radius finds no room between face and wall"))?;
            if section.wall_length < 0.0 || (section.wall_length == 0.0 && shell.surface.is_some())
            {
                return Err(none("no straight wall is left below the edge radius"));
            }
            sections.push(section);
        }
        Ok(Self { shell, sides, outline, ends, columns, sections, shares, way })
    }

    fn no_balance(&self, column: usize, reason: &str) -> Fault {
        let place = self.columns[column.min(self.columns.len() - 1)].place;
        let at = self.outline.point(Place { u: place.u.clamp(0.0, 1.0), ..place });
        Fault::Run(self.sides.clone(), NoBalance { at, reason: reason.to_owned() })
    }

    fn closed(&self) -> bool {
        self.outline.closed
    }

    fn shifted(&self, column: usize, by: isize) -> Option<usize> {
        shifted(self.columns.len(), self.closed(), column, by)
    }

    /// See [`own_columns`].
    pub(super) fn own(&self) -> (usize, usize) {
        own_columns(&self.columns, &self.ends)
    }

    /// The line on which the walls stand in the flat.
    fn samples(&self, tangent: &[Point]) -> Vec<TangentSample> {
        let level = self.shell.surface.is_none();
        let directions = directions(tangent, self.closed());
        (0..tangent.len())
            .map(|c| {
                let column = &self.columns[c];
                let outward = if level { column.outward } else { -left_of(directions[c]) };
                let (mut turned, mut length) = (0.0, 0.0);
                for (a, b) in [(self.shifted(c, -1), Some(c)), (Some(c), self.shifted(c, 1))] {
                    if let (Some(a), Some(b)) = (a, b) {
                        let (p, q) = (directions[a], directions[b]);
                        turned += p.cross(q).atan2(p.dot(q));
                        length += tangent[a].distance(tangent[b]);
                    }
                }
                TangentSample {
                    point: [tangent[c].x, tangent[c].y],
                    outward: [outward.x, outward.y],
                    curvature: if level { column.curvature } else { turned / length },
                    wall_length: self.sections[c].wall_length,
                }
            })
            .collect()
    }

    /// Lays the run flat, its tangent line lying there.
    pub(super) fn lay_flat(&self, tangent: &[Point]) -> Result<LaidRun, Fault> {
        let samples = self.samples(tangent);
        let net = self.solve(&samples, 0.0)?;
        let trimmed =
            if self.shell.trim > 0.0 { Some(self.solve(&samples, self.shell.trim)?) } else { None };
        let laid = trimmed.as_ref().unwrap_or(&net);
        let last = |laid: &Laid| (laid.mesh.rows - 1) as f64;
        let bend_rows = (laid.mesh.bend_end - 1) as f64;
        let line = |laid: &Laid, row: f64| self.line(&samples, laid, &|_| row);
        let own = self.own();
        let range =
            (own.0 as f64, if self.closed() { self.columns.len() as f64 } else { own.1 as f64 });
        let edges = [
            line(laid, last(laid)),
            line(&net, last(&net)),
            self.line(&samples, laid, &|c| laid.seam[c]),
        ];
        let edge = self.edge_strains(laid, &net, &edges, tangent);
        if edge
            .iter()
            .any(|e| !(e.strain.is_finite() && e.finished.is_finite() && e.at.is_finite()))
        {
            return Err(self.no_balance(0, "the edge of the blank would double back on itself"));
        }
        Ok(LaidRun {
            tangent: self.tangent_line(tangent),
            middle: line(laid, bend_rows / 2.0),
            bend_end: line(laid, bend_rows),
            edges,
            edge,
            ranges: [range; 3],
            inner: range,
            sides: self.sides.clone(),
            closed: self.closed(),
            ends: self.ends,
            columns: self.columns.clone(),
            net,
            trimmed,
        })
    }

    /// Rows up the wall with `trim` mm more of it.
    fn rows(&self, trim: f64) -> (usize, Vec<Row>) {
        let (_, shape) = rows(self.shell.wall, self.shell.wall.flat_width() + trim);
        let (bend, wall) = (shape.bend_rows, shape.wall_rows);
        // Only its ends are drawn through the rows of a wall that is just unrolled.
        let bend = if self.way == Way::Unrolled { FINE_ROWS.max(bend) } else { bend };
        let mut all: Vec<Row> = (0..bend).map(|row| Row::Bend(row as f64 / bend as f64)).collect();
        all.extend((0..=wall).map(|row| Row::Wall(row as f64 / wall as f64)));
        (bend, all)
    }

    /// How far along the run each row of each column leans over toward the cuts at the ends, mm;
    /// none where no cut leans.
    fn leans(&self, rows: &[Row], trim: f64) -> Result<Option<Vec<Vec<f64>>>, Fault> {
        let count = self.columns.len();
        let mut along = vec![0.0];
        for pair in self.columns.windows(2) {
            along.push(along[along.len() - 1] + pair[0].point.distance(pair[1].point));
        }
        let whole = along[count - 1];
        let mut leans: Option<Vec<Vec<f64>>> = None;
        for (end, at) in self.ends.iter().zip([0, count - 1]) {
            let Some(End::Cut(cut)) = end else { continue };
            let place = self.columns[at].place;
            let tilt = self.tilt(at);
            // The tangent line stays where the face has it.
            let mut own = vec![0.0];
            for row in &rows[1..] {
                let by = reach(self.shell, &self.outline, cut, place, *row, (trim, tilt));
                own.push(by.ok_or_else(|| {
                    Fault::Shell(NoBlank::NoCorner { at: self.outline.point(place) })
                })?);
            }
            let most = own.iter().fold(0.0_f64, |most, by| most.max(by.abs()));
            if most < 1e-9 {
                continue;
            }
            let over = (LEAN_OVER * most).max(self.shell.wall.flat_width());
            let crowded = over > whole / 2.0;
            let leans = leans.get_or_insert_with(|| vec![vec![0.0; rows.len()]; count]);
            for (column, lean) in leans.iter_mut().enumerate() {
                let x = (along[column] - along[at]).abs() / if crowded { whole } else { over };
                let share = if crowded {
                    1.0 - x
                } else {
                    let x = x.min(1.0);
                    1.0 - x * x * (3.0 - 2.0 * x)
                };
                lean.iter_mut().zip(&own).for_each(|(lean, by)| *lean += share * by);
            }
        }
        if let Some(leans) = &leans {
            // No row turns back on itself.
            let turns = |c: &usize| {
                let step = along[*c] - along[c - 1];
                leans[c - 1].iter().zip(&leans[*c]).any(|(before, own)| step + own - before <= 0.0)
            };
            if let Some(bad) = (1..count).find(turns) {
                return Err(Fault::Shell(NoBlank::NoCorner {
                    at: self.outline.point(self.columns[bad].place),
                }));
            }
        }
        Ok(leans)
    }

    /// The formed wall as triangles.
    fn mesh(
        &self,
        samples: &[TangentSample],
        trim: f64,
        corners: Corners,
    ) -> Result<WallMesh, Fault> {
        let (bend_rows, rows) = self.rows(trim);
        let leans = self.leans(&rows, trim)?;
        let (radius, top) = (self.shell.mid_radius(), self.shell.top());
        let mut columns = Vec::with_capacity(self.columns.len());
        for (c, section) in self.sections.iter().enumerate() {
            let leaning = leans.as_ref().filter(|leans| leans[c].iter().any(|along| *along != 0.0));
            let tilt = if leaning.is_some() { self.tilt(c) } else { 0.0 };
            let mut column = NodeColumn {
                positions: Vec::new(),
                normals: Vec::new(),
                up: Vec::new(),
                along: Vec::new(),
            };
            for (r, row) in rows.iter().enumerate() {
                let along = leaning.map_or(0.0, |leans| leans[c][r]);
                let stands =
                    if along == 0.0 { Some(*section) } else { self.section_at(c, along, tilt) };
                let section = stands.ok_or_else(|| {
                    self.no_balance(c, "the edge radius finds no room between face and wall")
                })?;
                let (at, normal, up) = on_skin(&section, radius, *row, trim);
                column.positions.push([at[0], at[1], at[2] - top]);
                column.normals.push(normal);
                column.up.push(up);
                column.along.push(along);
            }
            columns.push(column);
        }
        mesh_columns(columns, bend_rows + 1, samples, (self.closed(), corners))
            .map_err(|fault| self.no_balance(self.tightest(), &fault.to_string()))
    }

    /// The section `along` mm farther along the profile than a column's, with so much of the
    /// crown's tilt.
    fn section_at(&self, column: usize, along: f64, tilt: f64) -> Option<RolledEdge> {
        let place = self.outline.moved(self.columns[column].place, along);
        let section = self.shell.section(self.outline.point(place), self.outline.outward(place))?;
        Some(if tilt == 0.0 { section } else { section.tilted(tilt) })
    }

    /// By how much the crown makes the bend of a column begin later.
    fn tilt(&self, column: usize) -> f64 {
        if self.shell.crown == 0.0 {
            return 0.0;
        }
        let Column { point, outward, .. } = self.columns[column];
        let plain = self.shell.section(point + outward * self.shell.wall.tangent_inset(), outward);
        plain.map_or(0.0, |plain| plain.bend_angle - self.sections[column].bend_angle)
    }

    /// The column at the tightest curve.
    fn tightest(&self) -> usize {
        let tighter = |a: &usize, b: &usize| {
            self.columns[*a].curvature.abs().total_cmp(&self.columns[*b].curvature.abs())
        };
        (0..self.columns.len()).max_by(tighter).unwrap_or(0)
    }

    /// Lays the walls flat, with `trim` mm more of them. Where the solve finds nothing from its own
    /// start, the corners at cuts are meshed the other way; where that finds nothing, lower walls
    /// lead up to it; where they find nothing either, as at cuts that all but graze the wall, the
    /// metal at a level shell's cuts is taken as if the run went on there.
    fn solve(&self, samples: &[TangentSample], trim: f64) -> Result<Laid, Fault> {
        let lowest =
            self.sections.iter().map(|section| section.wall_length).fold(f64::INFINITY, f64::min);
        let led_up = |fault: Fault| {
            let mut before: Option<Laid> = None;
            for share in LOWER_WALLS {
                let less = (lowest + trim) * (share - 1.0);
                let from = Origin { lower: before.as_ref(), ..Origin::OWN };
                let Ok(laid) = self.solve_from(samples, trim + less, from) else {
                    return Err(fault);
                };
                before = Some(laid);
            }
            self.solve_from(samples, trim, Origin { lower: before.as_ref(), ..Origin::OWN })
                .map_err(|_| fault)
        };
        let fault = match self.solve_from(samples, trim, Origin::OWN) {
            // An arc too tight for any wall is cut apart.
            Err(fault)
                if self.way == Way::Solved
                    && matches!(fault, Fault::Run(..))
                    && self.shell.tightest_arc(&self.sides).is_none() =>
            {
                fault
            }
            done => return done,
        };
        let cut = self.ends.iter().any(|end| matches!(end, Some(End::Cut(_))));
        if cut
            && let Ok(laid) = self.solve_from(
                samples,
                trim,
                Origin { corners: Corners::AloneOnLine, ..Origin::OWN },
            )
        {
            return Ok(laid);
        }
        led_up(fault).or_else(|fault| {
            if !cut || self.shell.surface.is_some() {
                return Err(fault);
            }
            self.solve_from(samples, trim, Origin { as_if_on: true, ..Origin::OWN })
                .map_err(|_| fault)
        })
    }

    /// Where the metal of `mesh` lies if it goes on as it does in a lower wall.
    fn led_on(samples: &[TangentSample], lower: &Laid, mesh: &WallMesh) -> Vec<[f64; 2]> {
        let old = &lower.mesh;
        (0..mesh.up.len())
            .map(|node| {
                let (c, up) = (node / mesh.rows, mesh.up[node]);
                let row = (1..old.rows - 1)
                    .find(|row| old.up[old.node(c, *row)] >= up)
                    .unwrap_or(old.rows - 1);
                let (a, b) = (old.node(c, row - 1), old.node(c, row));
                let share = (up - old.up[a]) / (old.up[b] - old.up[a]);
                let at = lower.flat[a].lerp(lower.flat[b], share);
                let (along, [x, y]) = (
                    mesh.along[node] - old.along[a] - (old.along[b] - old.along[a]) * share,
                    samples[c].outward,
                );
                [at.x - along * y, at.y + along * x]
            })
            .collect()
    }

    /// As [`Self::solve`], in one way.
    fn solve_from(
        &self,
        samples: &[TangentSample],
        trim: f64,
        from: Origin,
    ) -> Result<Laid, Fault> {
        let Origin { lower, corners, as_if_on } = from;
        let wall = self.shell.wall;
        let mesh = self.mesh(samples, trim, corners)?;
        let (bend_rows, last) = ((mesh.bend_end - 1) as f64, (mesh.rows - 1) as f64);
        // A column is as high as the wall where it stands.
        let seam = (0..mesh.columns)
            .map(|c| {
                let height =
                    mesh.up[mesh.node(c, mesh.rows - 1)] - mesh.up[mesh.node(c, mesh.bend_end - 1)];
                last - (last - bend_rows) * trim.max(0.0) / height
            })
            .collect();
        match self.way {
            Way::Unrolled => {
                let flat = mesh.laid_out(samples, |_, up| wall.unrolled(up));
                Ok(Laid { flat: points(&flat), mesh, solved: None, seam, ring: None })
            }
            Way::Ring => {
                let section = wall.ring_section(self.columns[0].curvature, trim);
                let at = self.outline.point(self.columns[0].place);
                let ring = ring(self.shell.law, &section)
                    .map_err(|_| Fault::Shell(NoBlank::UsedUp { at }))?;
                // Every column is alike.
                let heights = &mesh.up[..mesh.rows];
                let distances: Vec<f64> =
                    heights.iter().map(|up| ring.at(*up).flat_distance).collect();
                let row = |up: f64| heights.partition_point(|own| *own < up).min(mesh.rows - 1);
                let flat = mesh.laid_out(samples, |_, up| distances[row(up)]);
                Ok(Laid { flat: points(&flat), mesh, solved: None, seam, ring: Some(ring) })
            }
            Way::Solved => {
                let stretch_of_bend = self.shell.stretch_of_bend();
                let fault = |fault: &dyn std::fmt::Display| {
                    self.no_balance(self.tightest(), &fault.to_string())
                };
                let mut membrane =
                    wall_membrane(&mesh, samples, stretch_of_bend, self.shell.law, wall.thickness)
                        .map_err(|f| fault(&f))?;
                self.hold_ends(&mesh, &mut membrane, trim, as_if_on);
                let found = if let Some(lower) = lower {
                    let led = Self::led_on(samples, lower, &mesh);
                    for (node, at) in
                        led.into_iter().enumerate().filter(|(node, _)| !membrane.held[*node][0])
                    {
                        membrane.start[node] = at;
                    }
                    membrane.solve(&Settings { start: Start::Near, ..Settings::default() })
                } else {
                    WallProblem { mesh: &mesh, samples, stretch_of_bend, membrane: &membrane }
                        .solve(&Settings::default())
                };
                let solution = found.map_err(|failure| match &failure {
                    Failure::NotConverged { node, .. } => self.no_balance(
                        node / mesh.rows,
                        "its forces have not come to balance within the steps allowed",
                    ),
                    Failure::Collapsing { triangle, .. } | Failure::NotANumber { triangle, .. } => {
                        let column = mesh.triangles[*triangle][0] / mesh.rows;
                        self.no_balance(
                            column,
                            "the metal would fold over before its forces balance",
                        )
                    }
                    other => fault(other),
                })?;
                let quality = quality((&mesh.positions, &mesh.normals), &membrane, &solution);
                let metal = metal_of(&solution, wall.thickness);
                Ok(Laid {
                    flat: points(&solution.flat),
                    mesh,
                    solved: Some((metal, quality)),
                    seam,
                    ring: None,
                })
            }
        }
    }

    /// Holds the last columns of a run where a whole ring, or a straight wall, has them, as if it
    /// went on: of one solved longer, or of any.
    fn hold_ends(&self, mesh: &WallMesh, membrane: &mut Membrane, trim: f64, all: bool) {
        let last = self.columns.len() - 1;
        for (end, c) in self.ends.iter().zip([0, last]) {
            let asked = match end {
                Some(End::Longer(_)) => true,
                Some(End::Cut(_)) => all,
                None => false,
            };
            let (section, column) = (&self.sections[c], &self.columns[c]);
            let flat = WallSection {
                bend_angle: section.bend_angle,
                wall_length: section.wall_length + trim,
                ..self.shell.wall.ring_section(column.curvature, trim)
            };
            let exact =
                if column.curvature == 0.0 { None } else { ring(self.shell.law, &flat).ok() };
            if !asked || (exact.is_none() && column.curvature != 0.0) {
                continue;
            }
            let [x, y] = membrane.start[mesh.node(c, 0)];
            let tangent = Point::new(x, y);
            for row in 1..mesh.rows {
                let node = mesh.node(c, row);
                let distance = match &exact {
                    Some(ring) => ring.at(mesh.up[node]).flat_distance,
                    None => self.straight_at(c, mesh.up[node]).x,
                };
                // Where a cut makes the column lean it stands on another place of the tangent line.
                let place = self.outline.moved(column.place, mesh.along[node]);
                let outward = self.outline.outward(place);
                let moved = self.outline.point(place)
                    - outward * self.shell.wall.tangent_inset()
                    - column.point;
                let at = tangent + moved + outward * distance;
                membrane.start[node] = [at.x, at.y];
                membrane.held[node] = [true, true];
            }
        }
    }

    /// Where the wall would lie in a column's own frame at a row with fractions if it were straight
    /// there: outward and forward.
    fn straight(&self, laid: &Laid, column: usize, row: f64) -> Vec2 {
        let mesh = &laid.mesh;
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "0 <= row <= the last"
        )]
        let below = (row as usize).min(mesh.rows - 2);
        let between = |of: &Vec<f64>| {
            let [a, b] = [below, below + 1].map(|row| of[mesh.node(column, row)]);
            a + (b - a) * (row - below as f64)
        };
        let (up, along) = (between(&mesh.up), between(&mesh.along));
        self.straight_at(column, up) + Vec2::new(0.0, along)
    }

    fn straight_at(&self, column: usize, up: f64) -> Vec2 {
        if self.shell.surface.is_none() {
            return Vec2::new(self.shell.wall.unrolled(up), 0.0);
        }
        let section = &self.sections[column];
        let bend = self.shell.mid_radius() * section.bend_angle;
        let (before, after) =
            (self.shifted(column, -1).unwrap_or(column), self.shifted(column, 1).unwrap_or(column));
        let way = space::minus(self.sections[after].centre, self.sections[before].centre);
        let (cos, sin) = section.lean_of_wall(way);
        Vec2::new(self.shell.stretch_of_bend() * up.min(bend), 0.0)
            + Vec2::new(cos, sin) * (up - bend).max(0.0)
    }

    /// A line of metal across the columns at a row with fractions of each: without the mesh's
    /// zigzag, and exact where the wall is.
    fn line(&self, samples: &[TangentSample], laid: &Laid, row: &dyn Fn(usize) -> f64) -> Line {
        let frame = |c: usize| {
            let outward = Vec2::new(samples[c].outward[0], samples[c].outward[1]);
            (Point::new(samples[c].point[0], samples[c].point[1]), outward, left_of(outward))
        };
        let straight: Vec<Vec2> =
            (0..samples.len()).map(|c| self.straight(laid, c, row(c))).collect();
        let own: Vec<Vec2> = (0..samples.len())
            .map(|c| {
                let (origin, outward, forward) = frame(c);
                let offset = laid.at_row(c, row(c)) - origin;
                Vec2::new(offset.dot(outward), offset.dot(forward)) - straight[c]
            })
            .collect();
        let solved = self.way == Way::Solved;
        let points: Vec<Point> = (0..own.len())
            .map(|c| {
                let far = |by: isize| self.shifted(c, by).map(|i| own[i]);
                let even = match (far(-2), far(-1), far(1), far(2)) {
                    (Some(a), Some(b), Some(d), Some(e)) if solved => {
                        without_zigzag([a, b, own[c], d, e])
                    }
                    _ => own[c],
                };
                let share = if solved { self.shares[c] } else { 0.0 };
                let (origin, outward, forward) = frame(c);
                let even = even * (1.0 - share) + straight[c];
                origin + outward * even.x + forward * even.y
            })
            .collect();
        let exact = |c: usize| self.shares[c] >= 1.0;
        let span = |c: usize| match self.way {
            Way::Unrolled => Span::Straight,
            Way::Ring => self.round(c),
            Way::Solved if exact(c) && self.shifted(c, 1).is_some_and(exact) => Span::Straight,
            Way::Solved => Span::Solved,
        };
        let direction = |c: usize| {
            let near = [self.shifted(c, -1), Some(c), self.shifted(c, 1)];
            let known = !solved || near.into_iter().flatten().all(exact);
            known.then(|| left_of(self.columns[c].outward))
        };
        Line::through(points, self.closed(), self.breaks(), &span, &direction)
    }

    /// Columns at which a new side of the outline begins.
    fn breaks(&self) -> Vec<usize> {
        (1..self.columns.len())
            .filter(|c| self.columns[*c].place.side != self.columns[c - 1].place.side)
            .collect()
    }

    /// The arc that follows on a column.
    fn round(&self, c: usize) -> Span {
        let next = self.shifted(c, 1).unwrap_or(c);
        let (a, b) = (self.columns[c].outward, self.columns[next].outward);
        Span::Round(a.cross(b).atan2(a.dot(b)))
    }

    fn tangent_line(&self, tangent: &[Point]) -> Line {
        let level = self.shell.surface.is_none();
        let span = |c: usize| match &self.outline.segments[self.columns[c].place.side] {
            _ if !level => Span::Solved,
            Segment::Line { .. } => Span::Straight,
            Segment::Arc { .. } if self.round(c) != Span::Round(0.0) => self.round(c),
            segment if segment.is_straight() => Span::Straight,
            _ => Span::Solved,
        };
        let direction = |c: usize| level.then(|| left_of(self.columns[c].outward));
        Line::through(tangent.to_vec(), self.closed(), self.breaks(), &span, &direction)
    }

    /// Strain and thickness along the free edge at each column; `along` is still that from the
    /// side's start.
    fn edge_strains(
        &self,
        laid: &Laid,
        net: &Laid,
        edges: &[Line; 3],
        tangent: &[Point],
    ) -> Vec<EdgeStrain> {
        let mesh = &laid.mesh;
        let at_edge = |c: usize| mesh.positions[mesh.node(c, mesh.rows - 1)];
        let at_seam = |c: usize| formed_at_row(mesh, c, laid.seam[c]);
        let strains = |edge: Edge, formed: &dyn Fn(usize) -> Space| -> Vec<f64> {
            let all = strains_along(&edges[edge as usize].points, self.closed(), formed);
            all.iter().zip(&self.shares).map(|(strain, share)| strain * (1.0 - share)).collect()
        };
        let (as_cut, finished) = match (&laid.ring, self.way) {
            (Some(ring), _) => {
                let seam = net.ring.as_ref().map_or(0.0, RingWall::formed_length);
                let count = self.columns.len();
                (vec![ring.edge_hoop_strain; count], vec![ring.at(seam).hoop_strain; count])
            }
            (None, Way::Unrolled) => (vec![0.0; self.columns.len()], vec![0.0; self.columns.len()]),
            _ => (strains(Edge::Cut, &at_edge), strains(Edge::Seam, &at_seam)),
        };
        let law = self.shell.law;
        let whole = laid.ring.as_ref().map(|ring| ring.extremes(ring.formed_length()));
        (0..self.columns.len())
            .map(|c| {
                let [at, net_at] =
                    [Edge::Cut, Edge::Net].map(|edge| edges[edge as usize].points[c]);
                let Place { side, u } = self.columns[c].place;
                let segment = &self.outline.segments[side];
                EdgeStrain {
                    at,
                    net_at,
                    along: u.clamp(0.0, 1.0) * segment.length(),
                    strain: as_cut[c].exp_m1(),
                    finished: finished[c].exp_m1(),
                    thickness_ratio: edge_thickness(law, as_cut[c]),
                    metal: match whole {
                        Some(whole) => whole,
                        None if self.way == Way::Unrolled => Extremes::STILL,
                        None => edge_metal(law, as_cut[c]),
                    },
                    width: at.distance(tangent[c]),
                    radius: if segment.is_straight() {
                        f64::INFINITY
                    } else {
                        1.0 / segment.curvature_at(u.clamp(0.0, 1.0))
                    },
                    lip: None,
                }
            })
            .collect()
    }
}

impl LaidRun {
    /// Whether it is this run, ended in the same way.
    pub(super) fn is_of(&self, run: &Run) -> bool {
        self.sides == run.sides && self.closed == run.closed() && self.ends == run.ends
    }

    /// As it is hammered: with its trim.
    pub(super) fn laid(&self) -> &Laid {
        self.trimmed.as_ref().unwrap_or(&self.net)
    }

    /// See [`own_columns`].
    pub(super) fn own(&self) -> (usize, usize) {
        own_columns(&self.columns, &self.ends)
    }

    /// Triangles of the walls, where they were solved.
    pub(super) fn solved(&self) -> Option<SolvedWalls> {
        let laid = self.laid();
        let (metal, quality) = laid.solved.as_ref()?;
        let mesh = &laid.mesh;
        let (first, last) = self.own();
        let within = |i: &usize| {
            mesh.triangles[*i].iter().all(|node| (first..=last).contains(&(node / mesh.rows)))
        };
        let kept: Vec<usize> = (0..mesh.triangles.len()).filter(within).collect();
        let mut own: Vec<Metal> = kept.iter().map(|i| metal[*i]).collect();
        for (end, column) in self.ends.iter().zip([0, mesh.columns - 1]) {
            if matches!(end, Some(End::Cut(_))) {
                self.even_out_corner(mesh.positions[mesh.node(column, 0)], &kept, &mut own);
            }
        }
        Some(SolvedWalls {
            flat: laid.flat.clone(),
            triangles: kept.iter().map(|i| mesh.triangles[*i]).collect(),
            metal: own,
            quality: *quality,
            formed: mesh.positions.clone(),
        })
    }

    /// Where a cut meets the held tangent line the strain of the model has no bound, and that of
    /// the triangles there hangs on their size alone: within a bend's width of that corner, and as
    /// far as the cut leans, each is given the mean of all there, by area.
    fn even_out_corner(&self, corner: Space, kept: &[usize], metal: &mut [Metal]) {
        let mesh = &self.laid().mesh;
        let lean = [0, mesh.columns - 1].map(|c| {
            (0..mesh.rows).map(|row| mesh.along[mesh.node(c, row)].abs()).fold(0.0, f64::max)
        });
        let reach = mesh.up[mesh.node(0, mesh.bend_end - 1)] + lean[0].max(lean[1]);
        let (mut area, mut sums, mut near) = (0.0, [0.0; 2], Vec::new());
        for (k, triangle) in kept.iter().enumerate() {
            let [a, b, c] = mesh.triangles[*triangle].map(|node| mesh.positions[node]);
            let middle = space::times(space::plus(space::plus(a, b), c), 1.0 / 3.0);
            if space::length(space::minus(middle, corner)) < reach {
                let own = space::length(space::cross(space::minus(b, a), space::minus(c, a)));
                area += own;
                let Metal { strain: (greater, lesser), .. } = metal[k];
                for (sum, value) in sums.iter_mut().zip([greater.ln_1p(), lesser.ln_1p()]) {
                    *sum += own * value;
                }
                near.push(k);
            }
        }
        let [greater, lesser] = [sums[0] / area, sums[1] / area];
        for k in near {
            metal[k] = Metal {
                strain: (greater.exp_m1(), lesser.exp_m1()),
                thickness_ratio: (-greater - lesser).exp(),
            };
        }
    }

    /// The blank's edge along the cut that ends the run, from its free edge to its tangent line,
    /// without the latter.
    pub(super) fn end_line(&self, at_end: bool, edge: Edge) -> Vec<Vertex> {
        let laid = if edge == Edge::Net { &self.net } else { self.laid() };
        let column = if at_end { self.columns.len() - 1 } else { 0 };
        let mut points: Vec<Point> =
            (0..laid.mesh.rows).rev().map(|row| laid.flat(column, row)).collect();
        let line = &self.edges[edge as usize].points;
        if edge != Edge::Seam {
            points[0] = line[column];
        }
        if let Some(last) = points.last_mut() {
            *last = self.tangent.points[column];
        }
        end_vertices(&points, laid.mesh.rows - laid.mesh.bend_end)
    }

    /// Strain and thickness along the free edge, each with its side's number in the profile;
    /// `starts` tells where the profile's sides begin along it, `lengths` how long they are.
    pub(super) fn strains(&self, starts: &[f64], lengths: &[f64]) -> Vec<(usize, EdgeStrain)> {
        let (first, last) = self.own();
        let count = self.columns.len();
        let mut all = Vec::new();
        for c in first..=last {
            let side = self.columns[c].place.side;
            let number = self.sides[side];
            all.push((
                number,
                EdgeStrain { along: starts[number] + self.edge[c].along, ..self.edge[c] },
            ));
            // The next side's first sample is this one's last.
            if let Some(next) = shifted(count, self.closed, c, 1) {
                let ends = self.columns[next].place.side != side || (self.closed && c + 1 == count);
                if ends && (self.closed || next <= last) {
                    all.push((
                        number,
                        EdgeStrain { along: starts[number] + lengths[number], ..self.edge[next] },
                    ));
                }
            }
        }
        all
    }
}

/// Lines and arcs through points from a wall's edge to its tangent line, without the last; at
/// `split` the bend begins.
pub(super) fn end_vertices(points: &[Point], split: usize) -> Vec<Vertex> {
    let is_line = |part: &[Point]| {
        let chord = (part[part.len() - 1] - part[0]).normalize();
        part.iter().all(|p| (*p - part[0]).cross(chord).abs() < SAME_POINT)
    };
    if is_line(points) {
        return vec![Vertex { point: points[0], bulge: 0.0 }];
    }
    // The wall first, a line where it is one, then the bend.
    let mut vertices = Vec::new();
    for part in [&points[..=split], &points[split..]] {
        if is_line(part) {
            vertices.push(Vertex { point: part[0], bulge: 0.0 });
        } else {
            let samples: Vec<(Point, Vec2)> =
                part.iter().copied().zip(directions(part, false)).collect();
            vertices.extend(fit_samples(&samples, CURVE_TO_ARCS));
        }
    }
    vertices
}

/// The columns that are a run's own, those by which it was solved longer left out: the first and
/// the last.
fn own_columns(columns: &[Column], ends: &Ends) -> (usize, usize) {
    let longer = |end: &Option<End>| matches!(end, Some(End::Longer(_)));
    let last = columns.len() - 1;
    let first =
        if longer(&ends[0]) { columns.iter().position(Column::is_inside).unwrap_or(0) } else { 0 };
    let end = if longer(&ends[1]) {
        columns.iter().rposition(Column::is_inside).unwrap_or(last)
    } else {
        last
    };
    (first, end)
}

/// How far a side may run on beyond one of its ends: a curve by its radius, so that it does not
/// turn by more than a radian.
fn longest(segment: &Segment, u: f64) -> f64 {
    let curvature = segment.curvature_at(u.clamp(0.0, 1.0)).abs();
    if matches!(segment, Segment::Arc { .. }) { 1.0 / curvature } else { f64::INFINITY }
}

fn way_of(shell: &Shell, run: &Sides) -> Way {
    if shell.surface.is_some() {
        return Way::Solved;
    }
    let curvature = run.segments[0].curvature_at(0.5);
    let circle = |s: &Segment| {
        matches!(s, Segment::Arc { .. })
            && (s.curvature_at(0.5) - curvature).abs() < 1e-9 * curvature.abs()
    };
    let smooth = (0..run.segments.len()).all(|side| run.kink(side).abs() < NO_KINK);
    if smooth && run.segments.iter().all(Segment::is_straight) {
        Way::Unrolled
    } else if smooth && run.closed && run.segments.iter().all(circle) {
        Way::Ring
    } else {
        Way::Solved
    }
}

/// A place on the skin whose bend has this radius: where it stands (z over the seam plane), its
/// normal, and how far up the section it is.
fn on_skin(section: &RolledEdge, radius: f64, row: Row, trim: f64) -> (Space, Space, f64) {
    match row {
        Row::Bend(share) => {
            let angle = section.bend_angle * share;
            (section.round_bend(radius, angle), section.normal_at(angle), radius * angle)
        }
        Row::Wall(share) => {
            let down = (section.wall_length + trim) * share;
            (section.on_wall(radius, down), section.wall_normal, radius * section.bend_angle + down)
        }
    }
}

/// How far from a place a row of the wall, with so much trim and its section so much tilted,
/// reaches to a cut, mm along the run, positive onward.
fn reach(
    shell: &Shell,
    run: &Sides,
    cut: &Cut,
    from: Place,
    row: Row,
    (trim, tilt): (f64, f64),
) -> Option<f64> {
    let share = match row {
        Row::Bend(share) => share,
        Row::Wall(_) => 1.0,
    };
    // The tangent line goes with the middle of the face's sheet, what follows on it with the
    // neutral line.
    let neutral = if share == 0.0 {
        shell.mid_radius()
    } else {
        shell.mid_radius() * shell.stretch_of_bend()
    };
    let radius = if cut.beside.is_some() { shell.outside_radius() } else { neutral };
    let inside = |by: f64| {
        let place = run.moved(from, by);
        let section = shell.section(run.point(place), run.outward(place))?;
        let section = if tilt == 0.0 { section } else { section.tilted(tilt) };
        let at = on_skin(&section, radius, row, trim).0;
        Some(cut.inside(Point::new(at[0], at[1])))
    };
    let mut by = 0.0;
    let mut left = inside(by)?;
    for _ in 0..ROUNDS {
        if left.abs() < 1e-11 {
            break;
        }
        let h = 1e-4;
        let slope = (inside(by + h)? - inside(by - h)?) / (2.0 * h);
        if slope.abs() < 1e-3 {
            return None;
        }
        by -= left / slope;
        left = inside(by)?;
    }
    if left.abs() > 1e-7 {
        return None;
    }
    let Some(beside) = cut.beside else { return Some(by) };
    let sign = if cut.wall_before { 1.0 } else { -1.0 };
    let section = shell.section(run.point(from), run.outward(from))?;
    let bend = shell.stretch_of_bend() * shell.mid_radius() * section.bend_angle;
    let out = match row {
        Row::Bend(share) => bend * share,
        Row::Wall(share) => bend + (section.wall_length + trim) * share,
    };
    let room = (out * beside.tangent_of_half - beside.gap / 2.0).max(0.0);
    Some(sign * (sign * by - beside.set_back * share).min(room))
}

fn points(flat: &[[f64; 2]]) -> Vec<Point> {
    flat.iter().map(|[x, y]| Point::new(*x, *y)).collect()
}
