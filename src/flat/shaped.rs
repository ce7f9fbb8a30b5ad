//! The blank of a half-shell whose face is not level: face unrolled, walls laid flat by the forming solve of [`crate::fe`].
//!
//! The buck and the clamp plate hold the face where its unrolling puts it; the walls stand on the surface of a rolling ball
//! ([`RolledEdge`]) and are meshed in columns, from the tangent line on the face down to the seam plane. The runs of walls are solved
//! longer than they are at open ends and sharp corners, and cut in the flat: at an open edge where its plane cuts each row of the mesh, at
//! an outside corner where the tangent lines cross, at an inside corner where the edges do.
//!
//! Millimetres and radians.

mod blank;
mod crown;
mod face;
mod line;
mod solver;

use self::blank::Blank;
use self::crown::{CrownProblem, MeshedFace};
use self::face::FaceMesh;
pub use self::face::FormedFace;
use self::line::Line;
use self::solver::{Solver, failure_words, metal_of, onto};
use crate::fe::law::SheetLaw;
use crate::fe::membrane::Settings;
use crate::fe::wall::{Face, shell_membrane};
use crate::flat::one_step::columns::{Asked, Column, columns};
use crate::flat::one_step::{self, Metal, NoBalance, Quality, between_rows, quality};
use crate::flat::walled::{Walled, WalledProblem};
use crate::formed::{RolledEdge, ShellFace, Wall};
use crate::geom::mesh_wall::{TangentSample, WallMesh};
use crate::geom::{Loop, Point, Segment, Vec2};
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

/// Every run laid flat, and the face: places in the flat, and metal.
type WholeShell = (Vec<Laid>, Vec<Point>, Vec<Metal>);

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
        for (_, side) in self.profile.sides.iter().enumerate().filter(|(i, _)| (self.has_wall)(*i)) {
            super::walled::tight_corner(&side.segment, self.wall)?;
        }
        super::narrow::too_narrow(self.profile, self.has_wall, self.wall)?;
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
    fn solve_free(&self, solvers: &[Solver], face: &MeshedFace, trim: f64) -> Result<WholeShell, NoBalance> {
        let plan: Vec<[f64; 2]> = face.over.iter().map(|p| [p.x, p.y]).collect();
        let half = self.wall.thickness / 2.0;
        let positions: Vec<[f64; 3]> = (0..plan.len()).map(|i| face.under(i, half, self.top())).collect();
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
        let solution = shell.membrane.settle(&Settings::default()).map_err(|failure| {
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
