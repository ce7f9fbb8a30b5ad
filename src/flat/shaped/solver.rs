//! One run of walls laid flat.

use super::line;
use super::line::Line;
use super::{Laid, Run, Shaped};
use crate::fe::coarse::WallProblem;
use crate::fe::membrane::{Failure, Settings, Solution, TriangleState};
use crate::fe::wall::wall_membrane;
use crate::flat::one_step::columns::{Column, beyond, rows};
use crate::flat::one_step::{Metal, NoBalance, quality};
use crate::formed::RolledEdge;
use crate::geom::mesh_wall::{NodeColumn, TangentSample, WallMesh, mesh_columns, shifted, without_zigzag};
use crate::geom::{Affine, Point, Segment, Vec2, left_of, space};

pub(super) struct Solver<'a> {
    pub(super) shaped: &'a Shaped<'a>,
    pub(super) segments: &'a [Segment],
    pub(super) closed: bool,
    pub(super) columns: &'a [Column],
    pub(super) edges: Vec<RolledEdge>,
}

/// Why a solve has no answer; where nodes and triangles stand in plan.
pub(super) fn failure_words(
    failure: &Failure,
    at_node: &dyn Fn(usize) -> Point,
    at_triangle: &dyn Fn(usize) -> Point,
    other: &dyn Fn(&dyn std::fmt::Display) -> NoBalance,
) -> NoBalance {
    match failure {
        Failure::NotConverged { node, .. } => {
            NoBalance { at: at_node(*node), reason: "its forces have not come to balance within the steps allowed".to_owned() }
        }
        Failure::Collapsing { triangle, .. } | Failure::NotANumber { triangle, .. } => {
            NoBalance { at: at_triangle(*triangle), reason: "the metal would fold over before its forces balance".to_owned() }
        }
        failure => other(failure),
    }
}

pub(super) fn metal_of(solution: &Solution, thickness: f64) -> Vec<Metal> {
    let metal = |state: &TriangleState| Metal {
        strain: (state.e1.exp_m1(), state.e2.exp_m1()),
        thickness_ratio: state.thickness / thickness,
    };
    solution.triangles.iter().map(metal).collect()
}

/// The turn and shift that lay points as near as can be onto others, by least squares.
pub(super) fn onto(from: &[[f64; 2]], to: &[[f64; 2]]) -> Affine {
    let count = from.len() as f64;
    let middle = |all: &[[f64; 2]]| all.iter().fold(Vec2::ZERO, |sum, p| sum + Vec2::new(p[0], p[1])) / count;
    let (a, b) = (middle(from), middle(to));
    let (mut dot, mut cross) = (0.0, 0.0);
    for (p, q) in from.iter().zip(to) {
        let (p, q) = (Vec2::new(p[0], p[1]) - a, Vec2::new(q[0], q[1]) - b);
        dot += p.dot(q);
        cross += p.cross(q);
    }
    Affine::translate(b) * Affine::rotate(cross.atan2(dot)) * Affine::translate(-a)
}

impl Solver<'_> {
    /// The run with its lines.
    pub(super) fn run(&self, sides: Vec<usize>, net: Laid, trimmed: Option<Laid>) -> Run {
        let with_trim = trimmed.as_ref().unwrap_or(&net);
        let own: Vec<Point> = (0..self.columns.len()).map(|c| with_trim.flat(c, 0)).collect();
        let samples = self.samples(Some(&own));
        let last = |laid: &Laid| laid.mesh.rows - 1;
        let edge = |laid: &Laid| self.line(&samples, &|c| laid.flat(c, last(laid)), &|c| self.unrolled(c));
        let bend_rows = (with_trim.mesh.bend_end - 1) as f64;
        let seam = self.line(&samples, &|c| with_trim.at_row(c, with_trim.seam[c]), &|c| self.unrolled(c));
        let tangent = self.line(&samples, &|c| own[c], &|_| Vec2::ZERO);
        let at_row =
            |row: f64, share: f64| self.line(&samples, &|c| with_trim.at_row(c, row), &|c| self.bend_allowance(c) * share);
        let inside = |c: &Column| c.is_inside();
        let first = self.columns.iter().position(inside).unwrap_or(0) as f64;
        let count = self.columns.len() as f64;
        let end = if self.closed { count } else { self.columns.iter().rposition(inside).unwrap_or(0) as f64 };
        Run {
            edges: [edge(with_trim), edge(&net), seam],
            middle: at_row(bend_rows / 2.0, 0.5),
            bend_end: at_row(bend_rows, 1.0),
            tangent,
            ranges: [(first, end); 3],
            inner: (first, end),
            cuts: [None, None],
            sides,
            closed: self.closed,
            columns: self.columns.to_vec(),
            net,
            trimmed,
        }
    }

    fn no_balance(&self, column: usize, reason: &str) -> NoBalance {
        let column = &self.columns[column.min(self.columns.len() - 1)];
        NoBalance { at: self.segments[column.side].point_at(column.u.clamp(0.0, 1.0)), reason: reason.to_owned() }
    }

    /// Rolls the ball along the run.
    pub(super) fn with_edges(mut self) -> Result<Self, NoBalance> {
        let radius = self.shaped.outside_radius();
        for (c, column) in self.columns.iter().enumerate() {
            let at = beyond(&self.segments[column.side], column.u);
            let edge = RolledEdge::new(self.shaped.face, at, column.outward, self.shaped.wall.lean(), radius)
                .ok_or_else(|| self.no_balance(c, "the edge radius finds no room between face and wall"))?;
            if edge.wall_length <= 0.0 {
                return Err(self.no_balance(c, "no straight wall is left below the edge radius"));
            }
            self.edges.push(edge);
        }
        Ok(self)
    }

    fn mid_radius(&self) -> f64 {
        self.shaped.wall.inside_radius + self.shaped.wall.thickness / 2.0
    }

    fn stretch_of_bend(&self) -> f64 {
        self.shaped.wall.ring_section(0.0, 0.0).stretch_of_bend
    }

    pub(super) fn shifted(&self, column: usize, by: isize) -> Option<usize> {
        shifted(self.columns.len(), self.closed, column, by)
    }

    /// The tangent line laid flat: unrolled with the face, if it is not given.
    pub(super) fn samples(&self, given: Option<&[Point]>) -> Vec<TangentSample> {
        let radius = self.shaped.outside_radius();
        let unrolled = || self.edges.iter().map(|edge| self.shaped.face.unrolled(edge.touch(radius))).collect();
        let flat: Vec<Point> = given.map_or_else(unrolled, <[Point]>::to_vec);
        let directions = line::directions(&flat, self.closed);
        (0..flat.len())
            .map(|c| {
                let outward = -left_of(directions[c]);
                let (mut turned, mut length) = (0.0, 0.0);
                for (a, b) in [(self.shifted(c, -1), Some(c)), (Some(c), self.shifted(c, 1))] {
                    if let (Some(a), Some(b)) = (a, b) {
                        let (p, q) = (directions[a], directions[b]);
                        turned += p.cross(q).atan2(p.dot(q));
                        length += flat[a].distance(flat[b]);
                    }
                }
                TangentSample {
                    point: [flat[c].x, flat[c].y],
                    outward: [outward.x, outward.y],
                    curvature: turned / length,
                    wall_length: self.edges[c].wall_length,
                }
            })
            .collect()
    }

    fn column(&self, c: usize, (bend_rows, wall_rows): (usize, usize), trim: f64) -> NodeColumn {
        let (edge, radius) = (&self.edges[c], self.mid_radius());
        let mut column = NodeColumn { positions: Vec::new(), normals: Vec::new(), up: Vec::new() };
        let mut add = |at: [f64; 3], normal: [f64; 3], up: f64| {
            column.positions.push([at[0], at[1], at[2] - self.shaped.top()]);
            column.normals.push(normal);
            column.up.push(up);
        };
        for row in 0..bend_rows {
            let angle = edge.bend_angle * row as f64 / bend_rows as f64;
            add(edge.round_bend(radius, angle), edge.normal_at(angle), radius * angle);
        }
        for row in 0..=wall_rows {
            let down = (edge.wall_length + trim) * row as f64 / wall_rows as f64;
            add(edge.on_wall(radius, down), edge.wall_normal, radius * edge.bend_angle + down);
        }
        column
    }

    pub(super) fn mesh(&self, samples: &[TangentSample], trim: f64) -> Result<WallMesh, NoBalance> {
        let (_, shape) = rows(self.shaped.wall, self.shaped.wall.flat_width() + trim);
        let counts = (shape.bend_rows, shape.wall_rows);
        let nodes = (0..self.columns.len()).map(|c| self.column(c, counts, trim)).collect();
        mesh_columns(nodes, shape.bend_rows + 1, samples, self.closed)
            .map_err(|fault| self.no_balance(self.columns.len() / 2, &fault.to_string()))
    }

    /// The row at the seam plane, for each column.
    pub(super) fn seam(&self, mesh: &WallMesh, trim: f64) -> Vec<f64> {
        let bend_rows = (mesh.bend_end - 1) as f64;
        let wall_rows = (mesh.rows - 1) as f64 - bend_rows;
        self.edges.iter().map(|edge| edge.wall_length / (edge.wall_length + trim) * wall_rows + bend_rows).collect()
    }

    /// Lays the walls flat round a face that is held.
    pub(super) fn solve(&self, samples: &[TangentSample], trim: f64) -> Result<Laid, NoBalance> {
        let wall = self.shaped.wall;
        let middle = self.columns.len() / 2;
        let fault = |fault: &dyn std::fmt::Display| self.no_balance(middle, &fault.to_string());
        let mesh = self.mesh(samples, trim)?;
        let stretch_of_bend = self.stretch_of_bend();
        let membrane = wall_membrane(&mesh, samples, stretch_of_bend, self.shaped.law, wall.thickness).map_err(|f| fault(&f))?;
        let problem = WallProblem { mesh: &mesh, samples, stretch_of_bend, membrane: &membrane };
        let at = |column: usize| self.no_balance(column, "").at;
        let solution = problem.solve(&Settings::default()).map_err(|failure| {
            let at_triangle = |triangle: usize| at(mesh.triangles[triangle][0] / mesh.rows);
            failure_words(&failure, &|node| at(node / mesh.rows), &at_triangle, &fault)
        })?;
        Ok(Laid {
            flat: solution.flat.iter().map(|[x, y]| Point::new(*x, *y)).collect(),
            metal: metal_of(&solution, wall.thickness),
            quality: quality((&mesh.positions, &mesh.normals), &membrane, &solution),
            seam: self.seam(&mesh, trim),
            mesh,
        })
    }

    /// The bend laid out on a straight tangent line: outward, and forward along it.
    fn bend_allowance(&self, c: usize) -> Vec2 {
        Vec2::new(self.stretch_of_bend() * self.mid_radius() * self.edges[c].bend_angle, 0.0)
    }

    /// As [`Self::bend_allowance`], with the wall down to the seam plane.
    fn unrolled(&self, c: usize) -> Vec2 {
        let (before, after) = (self.shifted(c, -1).unwrap_or(c), self.shifted(c, 1).unwrap_or(c));
        let way = space::minus(self.edges[after].centre, self.edges[before].centre);
        let (cos, sin) = self.edges[c].lean_of_wall(way);
        self.bend_allowance(c) + Vec2::new(cos, sin) * self.edges[c].wall_length
    }

    /// A line of metal across the columns without the zigzag that the mesh's alternating diagonals make: averaged over five columns
    /// in the columns' own frames, less what a straight wall has there.
    fn line(&self, samples: &[TangentSample], at: &dyn Fn(usize) -> Point, straight: &dyn Fn(usize) -> Vec2) -> Line {
        let frame = |c: usize| {
            let outward = Vec2::new(samples[c].outward[0], samples[c].outward[1]);
            (Point::new(samples[c].point[0], samples[c].point[1]), outward, left_of(outward))
        };
        let own: Vec<Vec2> = (0..samples.len())
            .map(|c| {
                let (origin, outward, forward) = frame(c);
                let offset = at(c) - origin;
                Vec2::new(offset.dot(outward), offset.dot(forward)) - straight(c)
            })
            .collect();
        let points: Vec<Point> = (0..own.len())
            .map(|c| {
                let far = |by: isize| self.shifted(c, by).map(|i| own[i]);
                let even = match (far(-2), far(-1), far(1), far(2)) {
                    (Some(a), Some(b), Some(d), Some(e)) => without_zigzag([a, b, own[c], d, e]),
                    _ => own[c],
                };
                let (origin, outward, forward) = frame(c);
                let even = even + straight(c);
                origin + outward * even.x + forward * even.y
            })
            .collect();
        Line::through(points, self.closed)
    }
}
