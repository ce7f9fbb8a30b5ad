//! The edges of a run of walls that holds curves: the whole run laid flat at once, by the forming solve of [`crate::fe`].
//!
//! The face is clamped on its tangent line, so only the walls are meshed. Columns of nodes stand on the tangent line, square to it, and
//! close enough for its curvature. Three things are done with the solution:
//!
//! * The alternating diagonals of the mesh make its edge zigzag by some micrometres. Each edge node is taken in its column's own frame
//!   (outward, along), where a wall of constant curvature has constant values, and averaged over five columns with the weights
//!   (-1, 4, 10, 4, -1)/16: they take a zigzag away and leave cubics as they are.
//! * Beside straight sides the metal strains only near the curves. From two wall widths off it is led over to the exact unrolled wall,
//!   which it has reached at three.
//! * The edge is read off along each side's normals: distance and direction, of the curve through the averaged nodes.
//!
//! An open run is solved longer than it is, its end sides running on: curves by one wall width, straight sides up to four in all. There
//! its last column is held where the closed form has it, and the blank is cut where the wall ends: it is the blank that would be formed
//! longer and cut off. That a wall's real end is free of load is left out; on a straight side it makes no difference.
//!
//! Millimetres and radians.

pub(super) mod columns;

use self::columns::{Asked, Column, columns, rows, straight_shares};
use super::rim::{Sample, edge_metal};
use crate::fe::balance::balance;
use crate::fe::coarse::WallProblem;
use crate::fe::law::SheetLaw;
use crate::fe::membrane::{Failure, Membrane, Settings, Solution};
use crate::fe::ring::ring;
use crate::fe::wall::wall_membrane;
use crate::formed::Wall;
use crate::geom::mesh_wall::{TangentSample, WallMesh, mesh_wall, shifted, without_zigzag};
use crate::geom::{Point, Segment, Vec2, left_of, space};
use kurbo::CubicBez;

/// Walls for which no blank was found: where, and why.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct NoBalance {
    pub(super) at: Point,
    pub(super) reason: String,
}

/// Walls laid flat by the forming solve, triangle by triangle, as they are hammered: with their trim.
#[derive(Debug, Clone, PartialEq)]
pub struct SolvedWalls {
    /// Places of the nodes in the blank.
    pub flat: Vec<Point>,
    /// Their places on the formed middle surface, mm: x and y in the profile's plane, z square to it, 0 on the face.
    pub formed: Vec<[f64; 3]>,
    /// Corners of the triangles.
    pub triangles: Vec<[usize; 3]>,
    /// What the metal of each triangle does.
    pub metal: Vec<Metal>,
    /// How good the mesh and the balance are.
    pub quality: Quality,
}

/// How good a solution is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Quality {
    /// Least angle of a formed triangle, radians.
    pub least_angle: f64,
    /// Greatest quotient of a formed triangle's longest side and the height on it.
    pub greatest_aspect: f64,
    /// Forces along the free edge that stay unbalanced, as a share of the mean force on a node ([`crate::fe::balance`]).
    pub edge_force: f64,
    /// Newton steps taken.
    pub steps: usize,
}

impl SolvedWalls {
    pub(super) fn add(&mut self, face: FaceTriangles) {
        let first = self.flat.len();
        self.flat.extend(face.flat);
        self.formed.extend(face.formed);
        self.metal.extend(face.metal);
        self.triangles.extend(face.triangles.into_iter().map(|corners| corners.map(|node| node + first)));
    }

    pub(super) fn other_hand(mut self) -> Self {
        self.flat.iter_mut().for_each(|p| p.x = -p.x);
        self.formed.iter_mut().for_each(|p| p[0] = -p[0]);
        self.triangles.iter_mut().for_each(|corners| corners.swap(1, 2));
        self
    }
}

/// A face with its triangles, as [`SolvedWalls`] has those of walls.
pub(super) struct FaceTriangles {
    pub(super) flat: Vec<Point>,
    pub(super) formed: Vec<[f64; 3]>,
    pub(super) triangles: Vec<[usize; 3]>,
    pub(super) metal: Vec<Metal>,
}

/// The metal of one triangle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Metal {
    /// Greater and lesser principal strain of the middle surface, engineering.
    pub strain: (f64, f64),
    /// Thickness over the sheet's.
    pub thickness_ratio: f64,
}

/// A solved run.
#[derive(Debug, Clone)]
pub(super) struct SolvedRun {
    /// For each side what its rim takes over.
    pub(super) sides: Vec<Vec<Sample>>,
    pub(super) walls: SolvedWalls,
}

/// The runs of walled sides that go on smoothly, each with whether it closes. `goes_on` tells whether a side runs on into the next.
pub(super) fn runs(walled: &dyn Fn(usize) -> bool, goes_on: &[bool]) -> Vec<(Vec<usize>, bool)> {
    let n = goes_on.len();
    let Some(last_end) = goes_on.iter().position(|on| !on) else { return vec![((0..n).collect(), true)] };
    let mut runs: Vec<(Vec<usize>, bool)> = Vec::new();
    let mut open = false;
    for k in 1..=n {
        let i = (last_end + k) % n;
        if walled(i) {
            match runs.last_mut() {
                Some((run, _)) if open => run.push(i),
                _ => runs.push((vec![i], false)),
            }
        }
        open = goes_on[i];
    }
    runs
}

/// Whether the closed form is exact: no curve at all, or a full circle.
pub(super) fn is_exact_already(segments: &[Segment], closed: bool) -> bool {
    let curvature = segments.first().map_or(0.0, |first| first.curvature_at(0.5));
    let circle =
        |s: &Segment| matches!(s, Segment::Arc { .. }) && (s.curvature_at(0.5) - curvature).abs() < 1e-9 * curvature.abs();
    segments.iter().all(Segment::is_straight) || (closed && segments.iter().all(circle))
}

/// Lays a run of walls flat. `trim` mm of metal stay beyond its net edge.
pub(super) fn solve_run(
    segments: &[Segment],
    closed: bool,
    wall: &Wall,
    law: &SheetLaw,
    trim: f64,
) -> Result<SolvedRun, NoBalance> {
    // The columns hang on no trim, so that the net blank does not either.
    let width = wall.flat_width();
    let columns = columns(segments, closed, wall, width, &Asked { longer: 0.0, bend: &|_| 0.0 });
    let run = Run { segments, closed, wall, law, columns: &columns, shares: straight_shares(segments, closed, &columns, width) };
    let net = run.solve(0.0)?;
    let trimmed = if trim > 0.0 { Some(run.solve(trim)?) } else { None };
    let with_trim = trimmed.as_ref().unwrap_or(&net);
    let mesh = &with_trim.mesh;
    let at_edge = |c: usize| mesh.positions[mesh.node(c, mesh.rows - 1)];
    let at_seam = |c: usize| formed_at_row(mesh, c, with_trim.seam_row);
    let strains = [run.strains(&with_trim.edge, &at_edge), run.strains(&with_trim.seam, &at_seam)];
    let sides = run.samples([&with_trim.edge, &net.edge, &with_trim.seam], &strains);
    let finite = |s: &Sample| s.out.iter().chain(&s.tilt).chain([&s.strain, &s.finished]).all(|x| x.is_finite());
    if !sides.iter().flatten().all(finite) {
        return Err(run.no_balance(run.tightest(), "the edge of the blank would double back on itself"));
    }
    Ok(SolvedRun { sides, walls: run.walls(trimmed.unwrap_or(net)) })
}

/// Logarithmic strain of a line of metal at each column: formed over flat length of the line on both its sides. `flat` has its places in the
/// flat, `formed` gives those on the formed middle surface.
pub(super) fn strains_along(flat: &[Point], closed: bool, formed: &dyn Fn(usize) -> [f64; 3]) -> Vec<f64> {
    let count = flat.len();
    (0..count)
        .map(|c| {
            let sides = [shifted(count, closed, c, -1).map(|i| (i, c)), shifted(count, closed, c, 1).map(|i| (c, i))];
            let (mut laid, mut stood) = (0.0, 0.0);
            for (a, b) in sides.into_iter().flatten() {
                laid += flat[a].distance(flat[b]);
                stood += space::length(space::minus(formed(b), formed(a)));
            }
            (stood / laid).ln()
        })
        .collect()
}

/// The formed place at a row with fractions of a column.
pub(super) fn formed_at_row(mesh: &WallMesh, column: usize, row: f64) -> [f64; 3] {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 <= row <= the last")]
    let below = (row as usize).min(mesh.rows - 2);
    let [from, to] = [below, below + 1].map(|row| mesh.positions[mesh.node(column, row)]);
    space::plus(from, space::times(space::minus(to, from), row - below as f64))
}

/// One solve: lines of metal in the flat, one point a column.
struct Laid {
    /// The wall's edge, and the line at the seam.
    edge: Vec<Point>,
    seam: Vec<Point>,
    /// The row, with fractions, of the line at the seam.
    seam_row: f64,
    mesh: WallMesh,
    membrane: Membrane,
    solution: Solution,
}

struct Run<'a> {
    segments: &'a [Segment],
    closed: bool,
    wall: &'a Wall,
    law: &'a SheetLaw,
    columns: &'a [Column],
    /// See [`straight_shares`].
    shares: Vec<f64>,
}

impl Run<'_> {
    fn no_balance(&self, column: usize, reason: &str) -> NoBalance {
        let column = &self.columns[column.min(self.columns.len() - 1)];
        NoBalance { at: self.segments[column.side].point_at(column.u.clamp(0.0, 1.0)), reason: reason.to_owned() }
    }

    /// The column at the tightest curve.
    fn tightest(&self) -> usize {
        let tighter = |a: &usize, b: &usize| self.columns[*a].curvature.abs().total_cmp(&self.columns[*b].curvature.abs());
        (0..self.columns.len()).max_by(tighter).unwrap_or(0)
    }

    /// Why the solve has no answer, and where.
    fn failed(&self, mesh: &WallMesh, failure: &Failure) -> NoBalance {
        match failure {
            Failure::NotConverged { node, .. } => {
                self.no_balance(node / mesh.rows, "its forces have not come to balance within the steps allowed")
            }
            Failure::Collapsing { triangle, .. } | Failure::NotANumber { triangle, .. } => {
                self.no_balance(mesh.triangles[*triangle][0] / mesh.rows, "the metal would fold over before its forces balance")
            }
            other => self.no_balance(self.tightest(), &other.to_string()),
        }
    }

    fn tangent_samples(&self, trim: f64) -> Vec<TangentSample> {
        let sample = |c: &Column| TangentSample {
            point: [c.point.x, c.point.y],
            outward: [c.outward.x, c.outward.y],
            curvature: c.curvature,
            wall_length: self.wall.length() + trim,
        };
        self.columns.iter().map(sample).collect()
    }

    fn solve(&self, trim: f64) -> Result<Laid, NoBalance> {
        let (_, shape) = rows(self.wall, self.wall.flat_width() + trim);
        let samples = self.tangent_samples(trim);
        let mesh =
            mesh_wall(&samples, self.closed, &shape).map_err(|fault| self.no_balance(self.tightest(), &fault.to_string()))?;
        let stretch = self.wall.ring_section(0.0, 0.0).stretch_of_bend;
        let mut membrane = wall_membrane(&mesh, &samples, stretch, self.law, self.wall.thickness)
            .map_err(|fault| self.no_balance(self.tightest(), &fault.to_string()))?;
        self.hold_ends(&mesh, &mut membrane, trim)?;
        let problem = WallProblem { mesh: &mesh, samples: &samples, stretch_of_bend: stretch, membrane: &membrane };
        let solution = problem.solve(&Settings::default()).map_err(|failure| self.failed(&mesh, &failure))?;
        let flat = |column: usize, row: usize| {
            let [x, y] = solution.flat[mesh.node(column, row)];
            Point::new(x, y)
        };
        let last = mesh.rows - 1;
        let bend_rows = mesh.bend_end - 1;
        let seam_row = self.wall.length() / (self.wall.length() + trim) * (last - bend_rows) as f64 + bend_rows as f64;
        let count = self.columns.len();
        let edge: Vec<Point> = (0..count).map(|c| flat(c, last)).collect();
        let at_seam: Vec<Point> = (0..count).map(|c| between_rows(&|row| flat(c, row), seam_row, last)).collect();
        let straight = self.wall.flat_width();
        let (edge, seam) = (self.evened(&edge, straight + trim), self.evened(&at_seam, straight));
        Ok(Laid { edge, seam, seam_row, mesh, membrane, solution })
    }

    /// What is kept of a solution: the triangles of the run itself.
    fn walls(&self, Laid { mesh, membrane, solution, .. }: Laid) -> SolvedWalls {
        let within = |i: &usize| mesh.triangles[*i].iter().all(|node| self.columns[node / mesh.rows].is_inside());
        let kept: Vec<usize> = (0..mesh.triangles.len()).filter(within).collect();
        let metal = |i: &usize| {
            let state = &solution.triangles[*i];
            Metal { strain: (state.e1.exp_m1(), state.e2.exp_m1()), thickness_ratio: state.thickness / self.wall.thickness }
        };
        SolvedWalls {
            flat: solution.flat.iter().map(|[x, y]| Point::new(*x, *y)).collect(),
            triangles: kept.iter().map(|i| mesh.triangles[*i]).collect(),
            metal: kept.iter().map(metal).collect(),
            quality: quality((&mesh.positions, &mesh.normals), &membrane, &solution),
            formed: mesh.positions,
        }
    }

    /// Holds the end columns of an open run where the closed form has them.
    fn hold_ends(&self, mesh: &WallMesh, membrane: &mut Membrane, trim: f64) -> Result<(), NoBalance> {
        let ends = if self.closed { Vec::new() } else { vec![0, self.columns.len() - 1] };
        for c in ends {
            let column = &self.columns[c];
            let section = self.wall.ring_section(column.curvature, trim);
            let exact = ring(self.law, &section).map_err(|failure| self.no_balance(c, &failure.to_string()))?;
            for row in 0..mesh.rows {
                let node = mesh.node(c, row);
                let up = mesh.up[node];
                let distance = if column.curvature == 0.0 { self.wall.unrolled(up) } else { exact.at(up).flat_distance };
                let at = column.point + column.outward * distance;
                membrane.start[node] = [at.x, at.y];
                membrane.held[node] = [true, true];
            }
        }
        Ok(())
    }

    /// Index of the column `by` places on; none past an open end.
    fn shifted(&self, column: usize, by: isize) -> Option<usize> {
        shifted(self.columns.len(), self.closed, column, by)
    }

    /// A line of metal without the mesh's zigzag, and exact where the wall is straight; `straight` = its distance from the tangent line
    /// there.
    fn evened(&self, line: &[Point], straight: f64) -> Vec<Point> {
        let own: Vec<Vec2> = self
            .columns
            .iter()
            .zip(line)
            .map(|(column, p)| {
                let offset = *p - column.point;
                Vec2::new(offset.dot(column.outward), offset.dot(left_of(column.outward)))
            })
            .collect();
        (0..line.len())
            .map(|c| {
                let far = |by: isize| self.shifted(c, by).map(|i| own[i]);
                let even = match (far(-2), far(-1), far(1), far(2)) {
                    (Some(a), Some(b), Some(d), Some(e)) => without_zigzag([a, b, own[c], d, e]),
                    _ => own[c],
                };
                let share = self.shares[c];
                let even = even * (1.0 - share) + Vec2::new(straight, 0.0) * share;
                let column = &self.columns[c];
                column.point + column.outward * even.x + left_of(column.outward) * even.y
            })
            .collect()
    }

    /// As [`strains_along`], nothing where the wall is straight.
    fn strains(&self, flat: &[Point], formed: &dyn Fn(usize) -> [f64; 3]) -> Vec<f64> {
        let all = strains_along(flat, self.closed, formed);
        all.iter().zip(&self.shares).map(|(strain, share)| strain * (1.0 - share)).collect()
    }

    /// The samples of every side, its two ends included.
    fn samples(&self, lines: [&Vec<Point>; 3], strains: &[Vec<f64>; 2]) -> Vec<Vec<Sample>> {
        let curves = lines.map(|line| Curve { run: self, line, directions: self.directions(line) });
        let inset = self.wall.tangent_inset();
        let sample = |c: usize, side: usize, u: f64| {
            let read = curves.each_ref().map(|curve| curve.along_normal(c));
            Sample {
                u,
                out: read.map(|r| r.0 - inset),
                tilt: read.map(|r| r.1),
                strain: strains[0][c],
                finished: strains[1][c],
                metal: edge_metal(self.law, strains[0][c]),
                curvature: self.segments[side].curvature_at(u),
                at: Some([lines[0][c], lines[1][c]]),
            }
        };
        let mut sides: Vec<Vec<Sample>> = vec![Vec::new(); self.segments.len()];
        let count = self.columns.len();
        for (c, column) in self.columns.iter().enumerate().filter(|(_, column)| column.is_inside()) {
            // The extension's first column at the run's end stands on the side's own end.
            if sides[column.side].last().is_none_or(|s| s.u < column.u) {
                sides[column.side].push(sample(c, column.side, column.u));
            }
            let next = self.shifted(c, 1).map(|i| &self.columns[i]);
            if let Some(next) = next.filter(|next| next.side != column.side || (self.closed && c + 1 == count)) {
                debug_assert!(next.u == 0.0, "a side begins at its joint");
                sides[column.side].push(sample((c + 1) % count, column.side, 1.0));
            }
        }
        sides
    }

    /// Unit directions of a line of metal at its columns, of the parabola through each point and its neighbours.
    fn directions(&self, line: &[Point]) -> Vec<Vec2> {
        (0..line.len())
            .map(|c| {
                let exact = |i: usize| self.shares[i] >= 1.0;
                let (before, after) = (self.shifted(c, -1), self.shifted(c, 1));
                if [before, Some(c), after].into_iter().flatten().all(exact) {
                    return left_of(self.columns[c].outward);
                }
                let d = match (before, after) {
                    (Some(a), Some(b)) => {
                        let (first, second) = (line[c] - line[a], line[b] - line[c]);
                        let (h, k) = (first.hypot(), second.hypot());
                        first * (k / h) + second * (h / k)
                    }
                    (Some(a), None) => line[c] - line[a],
                    (None, Some(b)) => line[b] - line[c],
                    (None, None) => left_of(self.columns[c].outward),
                };
                d.normalize()
            })
            .collect()
    }
}

/// How good a solution is; `formed` has positions and normals of the nodes.
pub(super) fn quality(formed: (&[[f64; 3]], &[[f64; 3]]), membrane: &Membrane, solution: &Solution) -> Quality {
    let (positions, normals) = formed;
    let mut quality = Quality { least_angle: f64::INFINITY, greatest_aspect: 0.0, edge_force: 0.0, steps: 0 };
    for corners in &membrane.triangles {
        let at = corners.map(|node| positions[node]);
        let side = |i: usize| space::length(space::minus(at[(i + 1) % 3], at[i]));
        let mut sides = [side(0), side(1), side(2)];
        sides.sort_by(f64::total_cmp);
        let [a, b, c] = sides;
        // The least angle lies across from the shortest side; twice the area is b c sin of it.
        let angle = ((b * b + c * c - a * a) / (2.0 * b * c)).clamp(-1.0, 1.0).acos();
        quality.least_angle = quality.least_angle.min(angle);
        quality.greatest_aspect = quality.greatest_aspect.max(c / (b * angle.sin()));
    }
    quality.edge_force = balance(membrane, solution, positions, normals).map_or(0.0, |forces| forces.free_edge);
    quality.steps = solution.record.iterations.len();
    quality
}

/// The smooth curve through a line's points.
struct Curve<'a> {
    run: &'a Run<'a>,
    line: &'a [Point],
    directions: Vec<Vec2>,
}

impl Curve<'_> {
    /// Distance from the tangent line along a column's normal, and how much the curve leaves the line's direction there.
    fn along_normal(&self, c: usize) -> (f64, f64) {
        let column = &self.run.columns[c];
        let forward = left_of(column.outward);
        let past = |i: usize| (self.line[i] - column.point).dot(forward);
        // Nearest spans first: the metal moves along the wall by less than a few columns.
        let spans = (0..24_isize).map(|k| if k % 2 == 0 { k / 2 } else { -(k / 2) - 1 });
        for by in spans {
            let (Some(a), Some(b)) = (self.run.shifted(c, by), self.run.shifted(c, by + 1)) else { continue };
            if past(a) <= 0.0 && past(b) >= 0.0 && past(b) > past(a) {
                return self.crossing(column, (a, b));
            }
        }
        let (offset, d) = (self.line[c] - column.point, self.directions[c]);
        (offset.dot(column.outward), d.dot(column.outward) / d.dot(forward))
    }

    fn crossing(&self, column: &Column, (a, b): (usize, usize)) -> (f64, f64) {
        let forward = left_of(column.outward);
        let chord = self.line[a].distance(self.line[b]) / 3.0;
        let piece = Segment::Curve(CubicBez::new(
            self.line[a],
            self.line[a] + self.directions[a] * chord,
            self.line[b] - self.directions[b] * chord,
            self.line[b],
        ));
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..50 {
            let middle = f64::midpoint(low, high);
            if (piece.point_at(middle) - column.point).dot(forward) < 0.0 { low = middle } else { high = middle }
        }
        let u = if (self.line[a] - column.point).dot(forward) >= 0.0 { 0.0 } else { high };
        let d = piece.tangent_at(u);
        ((piece.point_at(u) - column.point).dot(column.outward), d.dot(column.outward) / d.dot(forward))
    }
}

/// The point at a row with fractions, on the parabola through the three rows about it.
pub(super) fn between_rows(flat: &dyn Fn(usize) -> Point, row: f64, last: usize) -> Point {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 <= row <= last")]
    let middle = (row.round() as usize).clamp(1, last - 1);
    let x = row - middle as f64;
    let [a, b, c] = [middle - 1, middle, middle + 1].map(|row| flat(row).to_vec2());
    (a * (x * (x - 1.0) / 2.0) + b * (1.0 - x * x) + c * (x * (x + 1.0) / 2.0)).to_point()
}

#[cfg(test)]
mod tests;
