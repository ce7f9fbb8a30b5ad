//! The blank of a half-shell whose face is not level: face unrolled, walls laid flat by the forming solve of [`crate::fe`].
//!
//! The buck and the clamp plate hold the face where its unrolling puts it; the walls stand on the surface of a rolling ball
//! ([`RolledEdge`]) and are meshed in columns, from the tangent line on the face down to the seam plane. The runs of walls are solved
//! longer than they are at open ends and sharp corners, and cut in the flat: at an open edge where its plane cuts each row of the mesh, at
//! an outside corner where the tangent lines cross, at an inside corner where the edges do.
//!
//! Millimetres and radians.

mod crown;
mod line;

use self::crown::{CrownProblem, MeshedFace};
use self::line::{Line, cross};
use super::one_step::columns::{Asked, Column, beyond, columns, rows};
use super::one_step::{self, FaceTriangles, Metal, NoBalance, Quality, SolvedWalls, between_rows, quality};
use super::rim::{Edge, EdgeStrain};
use super::walled::{Walled, WalledProblem};
use crate::fe::law::SheetLaw;
use crate::fe::membrane::{Failure, Membrane, Settings, Solution, TriangleState};
use crate::fe::wall::{Face, shell_membrane, wall_membrane};
use crate::formed::{RolledEdge, ShellFace, Wall};
use crate::geom::mesh_face::mesh_face;
use crate::geom::mesh_wall::{NodeColumn, TangentSample, WallMesh, mesh_columns};
use crate::geom::{Affine, Loop, Point, Polyarc, Segment, Vec2, Vertex, left_of, self_crossing, space};
use crate::tolerance::{SAME_POINT, SLIGHT_CORNER, SMOOTH_JOINT};

/// By how many tangent insets a run is solved longer at least than it is: room for inside corners of up to 150 degrees.
const LONGER: f64 = 4.0;
/// As if the tangent line turned so much over 1 mm: columns beside a face that strains stand as close as those of curves.
const FREE_BEND: f64 = 1e-3;
/// Triangles of a face that strains in a wall's width, and the most of them.
const FACE_ROWS: f64 = 8.0;
const MOST_FACE_TRIANGLES: f64 = 10_000.0;
/// Points of an open edge, whose unrolling need not be straight.
const EDGE_POINTS: u32 = 32;

/// A half-shell to be laid flat.
pub(super) struct Shaped<'a> {
    pub(super) profile: &'a Loop,
    pub(super) has_wall: &'a dyn Fn(usize) -> bool,
    pub(super) face: &'a ShellFace,
    /// The wall's section where the shell is deepest.
    pub(super) wall: &'a Wall,
    pub(super) law: &'a SheetLaw,
    pub(super) trim: f64,
    /// Height of the bulge over the face, mm.
    pub(super) crown: f64,
}

/// The face of a shell that is not level, as it stands and as it lies in the flat; of the hand that the description has.
#[derive(Debug, Clone)]
pub struct FormedFace {
    /// Within its tangent lines and open edges, in the flat.
    pub outline: Polyarc,
    surface: ShellFace,
    mesh: Option<FaceMesh>,
}

/// A face that is more than unrolled.
#[derive(Debug, Clone)]
struct FaceMesh {
    face: MeshedFace,
    flat: Vec<Point>,
    metal: Vec<Metal>,
    /// Distance along the profile of each column, with the tilt of its edge.
    tilts: Vec<(f64, f64)>,
}

impl FormedFace {
    /// Where the metal of the outside over a place in plan lies in the flat: exactly where the face unrolls, else between the solved nodes.
    #[must_use]
    pub fn flat_of(&self, over: Point) -> Point {
        match &self.mesh {
            None => self.surface.unrolled(over),
            Some(mesh) => carried(&mesh.face.over, &mesh.flat, &mesh.face.triangles, over),
        }
    }

    /// The place in plan of the outside whose metal lies there in the flat.
    #[must_use]
    pub fn plan_of(&self, flat: Point) -> Point {
        match &self.mesh {
            None => self.surface.rolled(flat),
            Some(mesh) => carried(&mesh.flat, &mesh.face.over, &mesh.face.triangles, flat),
        }
    }

    /// Height over the seam plane of the skin `under` mm below the outside, over a place in plan.
    #[must_use]
    pub fn skin_height(&self, p: Point, under: f64) -> f64 {
        let Some(mesh) = &self.mesh else { return self.surface.skin_height(p, under) };
        let face = &mesh.face;
        let Some((corners, shares)) = triangle_about(&face.over, &face.triangles, p) else { return 0.0 };
        let mean = |of: &dyn Fn(usize) -> f64| (0..3).map(|i| shares[i] * of(corners[i])).sum::<f64>();
        // The mean of the plane through the corners and of their tangent planes is true to parabolas.
        let gradient = |i: usize| Vec2::new(-face.normals[i][0], -face.normals[i][1]) / face.normals[i][2];
        let plane = mean(&|i| face.heights[i]);
        let tangent = mean(&|i| face.heights[i] + gradient(i).dot(p - face.over[i]));
        let upward = mean(&|i| face.normals[i][2]).max(0.1);
        f64::midpoint(plane, tangent) - under / upward
    }

    /// The section of edge and wall at a place of the profile, `along` mm from its start.
    #[must_use]
    pub fn edge(&self, at: Point, outward: Vec2, along: f64, draft: f64, outside_radius: f64) -> Option<RolledEdge> {
        let edge = RolledEdge::new(&self.surface, at, outward, draft, outside_radius)?;
        let Some(mesh) = &self.mesh else { return Some(edge) };
        let tilts = &mesh.tilts;
        let i = tilts.partition_point(|(place, _)| *place <= along);
        let tilt = match (i.checked_sub(1).map(|i| tilts[i]), tilts.get(i)) {
            (Some((a, p)), Some((b, q))) => p + (q - p) * (along - a) / (b - a),
            (Some((_, p)), None) => p,
            (None, Some((_, q))) => *q,
            (None, None) => 0.0,
        };
        Some(edge.tilted(tilt))
    }

    /// Slope of the face without its crown in a direction at a place in plan.
    #[must_use]
    pub fn slope(&self, p: Point, direction: Vec2) -> f64 {
        self.surface.height(p).1.dot(direction)
    }

    /// How much its run bends it at a place in plan, 1/mm.
    #[must_use]
    pub fn bend_at(&self, p: Point) -> f64 {
        self.surface.bend_at(p)
    }

    /// The face without its crown.
    #[must_use]
    pub const fn surface(&self) -> &ShellFace {
        &self.surface
    }

    /// Whether it is unrolled without strain.
    #[must_use]
    pub const fn is_unrolled(&self) -> bool {
        self.mesh.is_none()
    }
}

/// The triangle about a place, or the nearest one, with the shares of its corners.
fn triangle_about(points: &[Point], triangles: &[[usize; 3]], p: Point) -> Option<([usize; 3], [f64; 3])> {
    let shares = |corners: &[usize; 3]| {
        let [a, b, c] = corners.map(|i| points[i]);
        let whole = (b - a).cross(c - a);
        let (u, v) = ((p - a).cross(c - a) / whole, (b - a).cross(p - a) / whole);
        [1.0 - u - v, u, v]
    };
    let least = |corners: &[usize; 3]| shares(corners).into_iter().fold(f64::INFINITY, f64::min);
    let best = triangles.iter().max_by(|a, b| least(a).total_cmp(&least(b)))?;
    Some((*best, shares(best)))
}

/// Where a map of triangles carries a place.
fn carried(from: &[Point], to: &[Point], triangles: &[[usize; 3]], p: Point) -> Point {
    let Some((corners, shares)) = triangle_about(from, triangles, p) else { return p };
    corners.iter().zip(shares).fold(Vec2::ZERO, |sum, (i, share)| sum + to[*i].to_vec2() * share).to_point()
}

/// What follows a stretch of the outline.
#[derive(Debug, Clone, Copy)]
enum Stretch {
    /// This side has no wall.
    Open(usize),
    /// This run of walls.
    Run(usize),
}

/// A run of walls laid flat. Places along it are columns with fractions.
struct Run {
    sides: Vec<usize>,
    closed: bool,
    columns: Vec<Column>,
    net: Laid,
    trimmed: Option<Laid>,
    tangent: Line,
    /// By [`Edge`].
    edges: [Line; 3],
    middle: Line,
    bend_end: Line,
    /// The stretch that is left of each of the edges, and of the tangent line.
    ranges: [(f64, f64); 3],
    inner: (f64, f64),
    /// Where the plane of an open edge cuts each row, at start and end; for the net mesh, and the one with trim.
    cuts: [Option<[Vec<f64>; 2]>; 2],
}

/// A run laid flat net, and with its trim where it has one.
type BothWays = (Laid, Option<Laid>);

/// One solve.
struct Laid {
    mesh: WallMesh,
    /// Places of the mesh's nodes in the flat.
    flat: Vec<Point>,
    /// What the metal of each of its triangles does.
    metal: Vec<Metal>,
    quality: Quality,
    /// Row, with fractions, that lies at the seam plane, for each column.
    seam: Vec<f64>,
}

impl Laid {
    fn flat(&self, column: usize, row: usize) -> Point {
        self.flat[self.mesh.node(column, row)]
    }

    fn at_row(&self, column: usize, row: f64) -> Point {
        between_rows(&|r| self.flat(column, r), row, self.mesh.rows - 1)
    }
}

impl Shaped<'_> {
    /// Lays the shell flat.
    pub(super) fn unfold(&self) -> Result<Walled, WalledProblem> {
        let n = self.profile.sides.len();
        for (i, side) in self.profile.sides.iter().enumerate().filter(|(i, _)| (self.has_wall)(*i)) {
            debug_assert!(i < n, "a side");
            super::walled::tight_corner(&side.segment, self.wall)?;
        }
        let walled = |i: usize| (self.has_wall)(i);
        let goes_on: Vec<bool> = (0..n)
            .map(|i| walled(i) && walled((i + 1) % n) && self.profile.turn_before((i + 1) % n).abs() < self.smooth())
            .collect();
        let found = one_step::runs(&walled, &goes_on);
        let segments: Vec<Vec<Segment>> =
            found.iter().map(|(sides, _)| sides.iter().map(|i| self.profile.sides[*i].segment).collect()).collect();
        let columns: Vec<Vec<Column>> =
            found.iter().zip(&segments).map(|((_, closed), segments)| self.columns(segments, *closed)).collect();
        let mut solvers = Vec::new();
        for (k, (_, closed)) in found.iter().enumerate() {
            let solver =
                Solver { shaped: self, segments: &segments[k], closed: *closed, columns: &columns[k], edges: Vec::new() };
            solvers.push(solver.with_edges().map_err(WalledProblem::NoBalance)?);
        }
        let (laid, face) = self.solve(&mut solvers)?;
        let mut runs = Vec::new();
        for ((solver, (sides, _)), (net, trimmed)) in solvers.iter().zip(found).zip(laid) {
            runs.push(solver.run(sides, net, trimmed));
        }
        Blank { shaped: self, stretches: self.stretches(&runs), runs, face, corners: Vec::new() }.walled()
    }

    /// Walls whose sides turn by less run on into each other: round a face that strains slight corners too.
    fn smooth(&self) -> f64 {
        if self.is_free() { SLIGHT_CORNER } else { SMOOTH_JOINT }
    }

    /// Whether the face strains, and is not held.
    fn is_free(&self) -> bool {
        self.crown > 0.0 || !self.face.is_developable()
    }

    fn columns(&self, segments: &[Segment], closed: bool) -> Vec<Column> {
        // A face that strains is felt all along its walls.
        let least = if self.is_free() { FREE_BEND } else { 0.0 };
        let bend = |p: Point| self.face.bend_at(p).max(least);
        let asked = Asked { longer: LONGER * self.wall.tangent_inset(), bend: &bend };
        columns(segments, closed, self.wall, self.wall.flat_width(), &asked)
    }

    /// Lays every run flat, net and with its trim, and the face where it is not just unrolled.
    fn solve(&self, solvers: &mut [Solver]) -> Result<(Vec<BothWays>, Option<FaceMesh>), WalledProblem> {
        let trims = if self.trim > 0.0 { vec![0.0, self.trim] } else { vec![0.0] };
        let mut laid: Vec<BothWays> = Vec::new();
        if !self.is_free() {
            for solver in solvers {
                let samples = solver.samples(None);
                let solve = |trim: f64| solver.solve(&samples, trim).map_err(WalledProblem::NoBalance);
                let net = solve(0.0)?;
                let trimmed = if self.trim > 0.0 { Some(solve(self.trim)?) } else { None };
                laid.push((net, trimmed));
            }
            return Ok((laid, None));
        }
        let face = self.mesh_face(solvers)?;
        let (mut flat, mut metal) = (Vec::new(), Vec::new());
        for trim in trims {
            let (runs, face_flat, face_metal) = self.solve_free(solvers, &face, trim).map_err(WalledProblem::NoBalance)?;
            (flat, metal) = (face_flat, face_metal);
            for (k, run) in runs.into_iter().enumerate() {
                match laid.get_mut(k) {
                    Some(both) => both.1 = Some(run),
                    None => laid.push((run, None)),
                }
            }
        }
        let mut tilts: Vec<(f64, f64)> = Vec::new();
        let mut first = 0;
        for solver in solvers.iter() {
            for (c, column) in solver.columns.iter().enumerate().filter(|(_, column)| column.is_inside()) {
                tilts.push((self.along(&solver.segments[column.side], column.u), face.tilts[first + c]));
            }
            first += solver.columns.len();
        }
        tilts.sort_by(|a, b| a.0.total_cmp(&b.0));
        tilts.dedup_by(|b, a| b.0 - a.0 < SAME_POINT);
        Ok((laid, Some(FaceMesh { face, flat, metal, tilts })))
    }

    /// Distance along the profile of a place on one of its segments.
    fn along(&self, segment: &Segment, u: f64) -> f64 {
        let before = self.profile.sides.iter().take_while(|side| side.segment != *segment);
        before.map(|side| side.segment.length()).sum::<f64>() + segment.between(0.0, u.clamp(0.0, 1.0)).length()
    }

    /// The face as a mesh, its edges tilted by its crown.
    fn mesh_face(&self, solvers: &mut [Solver]) -> Result<MeshedFace, WalledProblem> {
        let refuse = |at: Point, reason: &'static str, help: &'static str| WalledProblem::Face { at, reason, help };
        let n = self.profile.sides.len();
        for i in 0..n {
            let (next, at) = ((i + 1) % n, self.profile.sides[i].segment.to());
            match ((self.has_wall)(i), (self.has_wall)(next)) {
                (true, true) if self.profile.turn_before(next).abs() >= self.smooth() => {
                    let reason = "two walls meet in a sharp corner round a face that has to strain";
                    return Err(refuse(at, reason, "round that corner with `round`, or make the face level"));
                }
                (false, false) => {
                    let reason = "two open edges meet at a corner of a face that has to strain";
                    return Err(refuse(at, reason, "give one of the two a wall, or make the face level"));
                }
                _ => {}
            }
        }
        let mut ranges = Vec::new();
        let mut first = 0;
        for solver in solvers.iter() {
            ranges.push((first..first + solver.columns.len(), solver.closed));
            first += solver.columns.len();
        }
        let edges: Vec<&RolledEdge> = solvers.iter().flat_map(|solver| &solver.edges).collect();
        let outwards: Vec<Vec2> = solvers.iter().flat_map(|solver| solver.columns.iter().map(|column| column.outward)).collect();
        let area = self.profile.area().abs();
        let size = (self.wall.flat_width() / FACE_ROWS).max((area / MOST_FACE_TRIANGLES).sqrt());
        let meshed = crown::mesh(self.face, &edges, &outwards, &ranges, self.outside_radius(), self.crown, size);
        let meshed = meshed.map_err(|problem| {
            let middle = self.profile.bounds().center();
            let lower = "make the crown lower, or the shell wider";
            match problem {
                CrownProblem::Outline => {
                    refuse(middle, "no face is left inside the tangent lines", "make the shell wider, or the edge radius smaller")
                }
                CrownProblem::Unsettled => refuse(middle, "the crown is so high that it finds no edge", lower),
                CrownProblem::Folds(column) => {
                    let at = edges.get(column).map_or(middle, |edge| Point::new(edge.centre[0], edge.centre[1]));
                    refuse(at, "the crown is so high that it folds over at its edge", lower)
                }
            }
        })?;
        let mut tilts = meshed.tilts.iter();
        for solver in solvers.iter_mut() {
            for edge in &mut solver.edges {
                *edge = edge.tilted(tilts.next().copied().unwrap_or(0.0));
            }
        }
        Ok(meshed)
    }

    /// Face and walls in one, nothing held; laid on the plan as near as it goes.
    fn solve_free(
        &self,
        solvers: &[Solver],
        face: &MeshedFace,
        trim: f64,
    ) -> Result<(Vec<Laid>, Vec<Point>, Vec<Metal>), NoBalance> {
        let plan: Vec<[f64; 2]> = face.over.iter().map(|p| [p.x, p.y]).collect();
        let half = self.wall.thickness / 2.0;
        let positions: Vec<[f64; 3]> = (0..plan.len())
            .map(|i| {
                let normal = face.normals[i];
                let at = [plan[i][0], plan[i][1], face.heights[i] - self.top()];
                space::minus(at, space::times(normal, half))
            })
            .collect();
        let samples: Vec<Vec<TangentSample>> = {
            let mut rest = &face.over[..];
            solvers
                .iter()
                .map(|solver| {
                    let (own, others) = rest.split_at(solver.columns.len());
                    rest = others;
                    solver.samples(Some(own))
                })
                .collect()
        };
        let mut meshes = Vec::new();
        for (solver, samples) in solvers.iter().zip(&samples) {
            meshes.push(solver.mesh(samples, trim)?);
        }
        let walls: Vec<(&WallMesh, &[TangentSample])> =
            meshes.iter().zip(&samples).map(|(mesh, samples)| (mesh, samples.as_slice())).collect();
        let fault = |reason: &dyn std::fmt::Display| NoBalance { at: self.profile.bounds().center(), reason: reason.to_string() };
        let formed = Face { plan: &plan, positions: &positions, normals: &face.normals, triangles: &face.triangles };
        let stretch = self.wall.ring_section(0.0, 0.0).stretch_of_bend;
        let shell = shell_membrane(&formed, &walls, stretch, self.law, self.wall.thickness).map_err(|f| fault(&f))?;
        let solution = settled(&shell.membrane).map_err(|failure| {
            let at = |node: usize| Point::new(shell.positions[node][0], shell.positions[node][1]);
            failure_words(&failure, &|node| at(node), &|triangle| at(shell.membrane.triangles[triangle][0]), &fault)
        })?;
        let tangent: usize = solvers.iter().map(|solver| solver.columns.len()).sum();
        let motion = onto(&solution.flat[..tangent], &plan[..tangent]);
        let flat: Vec<Point> = solution.flat.iter().map(|[x, y]| motion * Point::new(*x, *y)).collect();
        let mut normals = face.normals.clone();
        for (mesh, nodes) in meshes.iter().zip(&shell.wall_nodes) {
            for (node, normal) in nodes.iter().zip(&mesh.normals) {
                if *node >= normals.len() {
                    normals.push(*normal);
                }
            }
        }
        let quality = quality((&shell.positions, &normals), &shell.membrane, &solution);
        let metal = metal_of(&solution, self.wall.thickness);
        let mut first = face.triangles.len();
        let mut laid = Vec::new();
        for ((mesh, nodes), solver) in meshes.into_iter().zip(&shell.wall_nodes).zip(solvers) {
            let own = first..first + mesh.triangles.len();
            first = own.end;
            laid.push(Laid {
                flat: nodes.iter().map(|node| flat[*node]).collect(),
                metal: metal[own].to_vec(),
                quality,
                seam: solver.seam(&mesh, trim),
                mesh,
            });
        }
        Ok((laid, flat[..plan.len()].to_vec(), metal[..face.triangles.len()].to_vec()))
    }

    /// The outline as stretches in order, the first one after an end if there is any.
    fn stretches(&self, runs: &[Run]) -> Vec<Stretch> {
        let n = self.profile.sides.len();
        let run_of = |side: usize| runs.iter().position(|run| run.sides.contains(&side));
        let first = runs.first().map_or(0, |run| run.sides[0]);
        let mut stretches: Vec<Stretch> = Vec::new();
        for k in 0..n {
            let side = (first + k) % n;
            match (run_of(side), stretches.last()) {
                (Some(run), Some(Stretch::Run(last))) if run == *last => {}
                (Some(run), _) => stretches.push(Stretch::Run(run)),
                (None, _) => stretches.push(Stretch::Open(side)),
            }
        }
        stretches
    }

    fn outside_radius(&self) -> f64 {
        self.wall.inside_radius + self.wall.thickness
    }

    /// The height of z = 0 in what is shown of the formed shell: the middle of the sheet where it is deepest.
    fn top(&self) -> f64 {
        self.wall.depth - self.wall.thickness / 2.0
    }
}

struct Solver<'a> {
    shaped: &'a Shaped<'a>,
    segments: &'a [Segment],
    closed: bool,
    columns: &'a [Column],
    edges: Vec<RolledEdge>,
}

/// Solves, by the long way round where the short one misleads.
fn settled(membrane: &Membrane) -> Result<Solution, Failure> {
    membrane
        .solve(&Settings::default())
        .or_else(|_| membrane.solve(&Settings { far_start: true, iteration_limit: 25, ..Settings::default() }))
}

/// Why a solve has no answer; where nodes and triangles stand in plan.
fn failure_words(
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

fn metal_of(solution: &Solution, thickness: f64) -> Vec<Metal> {
    let metal = |state: &TriangleState| Metal {
        strain: (state.e1.exp_m1(), state.e2.exp_m1()),
        thickness_ratio: state.thickness / thickness,
    };
    solution.triangles.iter().map(metal).collect()
}

/// The turn and shift that lay points as near as can be onto others, by least squares.
fn onto(from: &[[f64; 2]], to: &[[f64; 2]]) -> Affine {
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

impl<'a> Solver<'a> {
    /// The run with its lines.
    fn run(&self, sides: Vec<usize>, net: Laid, trimmed: Option<Laid>) -> Run {
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
    fn with_edges(mut self) -> Result<Self, NoBalance> {
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

    fn shifted(&self, column: usize, by: isize) -> Option<usize> {
        line::shifted(self.columns.len(), self.closed, column, by)
    }

    /// The tangent line laid flat: unrolled with the face, if it is not given.
    fn samples(&self, given: Option<&[Point]>) -> Vec<TangentSample> {
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

    fn mesh(&self, samples: &[TangentSample], trim: f64) -> Result<WallMesh, NoBalance> {
        let (_, shape) = rows(self.shaped.wall, self.shaped.wall.flat_width() + trim);
        let counts = (shape.bend_rows, shape.wall_rows);
        let nodes = (0..self.columns.len()).map(|c| self.column(c, counts, trim)).collect();
        mesh_columns(nodes, shape.bend_rows + 1, samples, self.closed)
            .map_err(|fault| self.no_balance(self.columns.len() / 2, &fault.to_string()))
    }

    /// The row at the seam plane, for each column.
    fn seam(&self, mesh: &WallMesh, trim: f64) -> Vec<f64> {
        let bend_rows = (mesh.bend_end - 1) as f64;
        let wall_rows = (mesh.rows - 1) as f64 - bend_rows;
        self.edges.iter().map(|edge| edge.wall_length / (edge.wall_length + trim) * wall_rows + bend_rows).collect()
    }

    /// Lays the walls flat round a face that is held.
    fn solve(&self, samples: &[TangentSample], trim: f64) -> Result<Laid, NoBalance> {
        let wall = self.shaped.wall;
        let middle = self.columns.len() / 2;
        let fault = |fault: &dyn std::fmt::Display| self.no_balance(middle, &fault.to_string());
        let mesh = self.mesh(samples, trim)?;
        let membrane =
            wall_membrane(&mesh, samples, self.stretch_of_bend(), self.shaped.law, wall.thickness).map_err(|f| fault(&f))?;
        let at = |column: usize| self.no_balance(column, "").at;
        let solution = settled(&membrane).map_err(|failure| {
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

    /// A line of metal across the columns without the zigzag that the mesh's alternating diagonals make: averaged over five columns with
    /// the weights (-1, 4, 10, 4, -1)/16 in the columns' own frames, less what a straight wall has there.
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
                    (Some(a), Some(b), Some(d), Some(e)) => (own[c] * 10.0 + (b + d) * 4.0 - a - e) / 16.0,
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

/// The blank in the making.
struct Blank<'a> {
    shaped: &'a Shaped<'a>,
    stretches: Vec<Stretch>,
    runs: Vec<Run>,
    /// The face where it strains.
    face: Option<FaceMesh>,
    /// What stands between each stretch and the next.
    corners: Vec<Corner>,
}

/// How two stretches are joined.
#[derive(Debug, Clone, Copy)]
enum Corner {
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
    fn walled(mut self) -> Result<Walled, WalledProblem> {
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
            run.inner.1 = with_trim[0]
        } else {
            run.inner.0 = with_trim[0]
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
            let formed = |c: usize| run.net.mesh.positions[run.net.mesh.node(c, run.net.mesh.rows - 1)];
            let edge = &run.edges[Edge::Net as usize];
            let count = run.columns.len();
            let strain = |c: usize| {
                let (mut laid, mut stood) = (0.0, 0.0);
                for by in [-1, 1] {
                    if let Some(other) = line::shifted(count, run.closed, c, by) {
                        laid += edge.points[c].distance(edge.points[other]);
                        stood += space::length(space::minus(formed(other), formed(c)));
                    }
                }
                (stood / laid).ln()
            };
            let sample = |c: usize, side: usize, u: f64| {
                let segment = &sides[side].segment;
                let strain = strain(c);
                EdgeStrain {
                    at: edge.points[c],
                    along: starts[side] + u * segment.length(),
                    strain: strain.exp_m1(),
                    // At a free edge the sheet is in plain tension or compression along it: e_t = -e/(1 + r).
                    thickness_ratio: (-strain / (1.0 + self.shaped.law.anisotropy)).exp(),
                    width: edge.points[c].distance(run.tangent.points[c]),
                    radius: if segment.is_straight() { f64::INFINITY } else { 1.0 / segment.curvature_at(u) },
                }
            };
            for (c, column) in run.columns.iter().enumerate().filter(|(_, column)| column.is_inside()) {
                let side = run.sides[column.side];
                let own = &mut by_side[side];
                let along = starts[side] + column.u * sides[side].segment.length();
                if own.last().is_none_or(|s| s.along < along) {
                    own.push(sample(c, side, column.u));
                }
                let next = line::shifted(count, run.closed, c, 1);
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
                let mesh = &run.net.mesh;
                let within = |i: &usize| mesh.triangles[*i].iter().all(|node| run.columns[node / mesh.rows].is_inside());
                let kept: Vec<usize> = (0..mesh.triangles.len()).filter(within).collect();
                SolvedWalls {
                    flat: run.net.flat.clone(),
                    triangles: kept.iter().map(|i| mesh.triangles[*i]).collect(),
                    metal: kept.iter().map(|i| run.net.metal[*i]).collect(),
                    quality: run.net.quality,
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
            let at = [face.over[i].x, face.over[i].y, face.heights[i] - self.shaped.top()];
            cut.formed.push(space::minus(at, space::times(face.normals[i], half)));
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
