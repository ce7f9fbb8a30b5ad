//! The face of a shell that cannot just be unrolled, as a mesh: crowned, or of a depth that changes
//! along a run that curves.
//!
//! A crown is the shape of a thin skin under even pressure ([`crate::fe::bulge`]) over the face, so
//! high that its top stands by the crown over the face without it. The ball of the edge stays where
//! it is; the skin meets it, and touches it, where its slope is the ball's: the bend from face to
//! wall ends there, turned by less than without the crown. Slope and place hang on each other and
//! are found in turns.
//!
//! Millimetres and radians.

use super::{RolledEdge, ShellFace};
use crate::fe::bulge::Skin;
use crate::geom::mesh_face::mesh_face;
use crate::geom::mesh_wall::without_zigzag;
use crate::geom::space::{Space, dot, minus, times};
use crate::geom::{Point, Vec2};

/// Turns in which slope and place of the crown's edge settle.
const TURNS: usize = 40;
/// Settled when the edge's slope changes by no more than this, radians.
const SETTLED: f64 = 1e-8;
/// The mesh is made anew in this many first turns; then its edge moves by little.
const MESHED: usize = 3;
/// How often a field along the edge is smoothed.
const SMOOTHINGS: usize = 8;
/// Columns from a sharp corner within which the tilt of the edge goes by the corner's angle.
const WEDGE: usize = 8;
/// A crown that is steeper than this at its edge, radians, folds over.
const STEEPEST: f64 = 1.2;

/// The edge of a face, once round it, to the left.
pub(super) struct Rim {
    /// Its columns, in chains of neighbours.
    pub(super) edges: Vec<RolledEdge>,
    pub(super) outwards: Vec<Vec2>,
    /// The angle by which the outline turns at columns that stand at sharp outside corners,
    /// radians; 0 at all others.
    pub(super) turns: Vec<f64>,
    /// The chains, and whether each closes.
    pub(super) chains: Vec<(std::ops::Range<usize>, bool)>,
    /// Once round: columns, and places between them that are free.
    pub(super) round: Vec<RimPoint>,
}

/// A point of a face's edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum RimPoint {
    Column(usize),
    Free(Point),
}

/// A face as a mesh. Nodes of the edge's columns come first.
#[derive(Debug, Clone)]
pub(super) struct MeshedFace {
    /// Places of the outside in plan.
    pub(super) over: Vec<Point>,
    /// Heights of the outside over the seam plane.
    pub(super) heights: Vec<f64>,
    /// Unit normals.
    pub(super) normals: Vec<Space>,
    pub(super) triangles: Vec<[usize; 3]>,
    /// How far the bend of each column begins round from the face's own normal without the crown.
    pub(super) tilts: Vec<f64>,
}

impl MeshedFace {
    /// Where a node of the skin `under` mm below the outside stands, `zero` being the height of z =
    /// 0.
    pub(super) fn under(&self, node: usize, under: f64, zero: f64) -> Space {
        let at = [self.over[node].x, self.over[node].y, self.heights[node] - zero];
        minus(at, times(self.normals[node], under))
    }
}

/// Points in plan, and triangles of them.
type PlanMesh = (Vec<[f64; 2]>, Vec<[usize; 3]>);

/// Why a face makes no mesh.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum CrownProblem {
    /// The tangent lines cross, or hold nothing.
    Outline,
    /// The crown folds over at this column.
    Folds(usize),
    /// Slope and place did not settle.
    Unsettled,
}

/// Meshes the face inside its edge.
pub(super) fn mesh(
    face: &ShellFace,
    rim: &Rim,
    outside_radius: f64,
    crown: f64,
    size: f64,
) -> Result<MeshedFace, CrownProblem> {
    let Rim { edges, outwards, turns, chains: runs, .. } = rim;
    let mut tilts = vec![0.0; edges.len()];
    let mut mesh: Option<PlanMesh> = None;
    for turn in 0..TURNS {
        let touch: Vec<Space> = edges
            .iter()
            .zip(&tilts)
            .map(|(edge, tilt)| edge.round_bend(outside_radius, *tilt))
            .collect();
        let (points, triangles) = match mesh.take().filter(|_| turn >= MESHED) {
            Some((mut points, triangles)) => {
                for (point, at) in points.iter_mut().zip(&touch) {
                    *point = [at[0], at[1]];
                }
                (points, triangles)
            }
            None => meshed(&touch, rim, outside_radius, size).ok_or(CrownProblem::Outline)?,
        };
        let count = edges.len();
        let base: Vec<f64> = points.iter().map(|p| face.height(Point::new(p[0], p[1])).0).collect();
        let fixed = |node: usize| node < count;
        let (heights, gradients, steeper) = if crown == 0.0 {
            (vec![0.0; points.len()], vec![[0.0; 2]; points.len()], vec![0.0; count])
        } else {
            let skin = Skin::new(&points, &triangles, &fixed).ok_or(CrownProblem::Outline)?;
            let at_edge = |node: usize| touch[node][2] - base[node];
            let level = skin.heights(0.0, &at_edge);
            let unit = skin.heights(1.0, &|_| 0.0);
            let pressure = pressure_for(crown, &level, &unit);
            let heights: Vec<f64> =
                level.iter().zip(&unit).map(|(a, b)| a + pressure * b).collect();
            let forces = skin.forces(&heights, pressure);
            let slopes = even(&slopes_of(&forces, &touch, runs), runs);
            let gradients = skin.gradients(&heights);
            let along = along_edge(&touch, &heights, runs);
            // At the edge: outward slope from the forces, along it from the heights.
            let mut steeper: Vec<f64> = (0..count)
                .map(|i| {
                    let outward = out_of(&along[i].0, outwards[i]);
                    let g = face.height(Point::new(touch[i][0], touch[i][1])).1
                        + outward * slopes[i]
                        + along[i].0 * along[i].1;
                    angle_toward_wall(&edges[i], g)
                })
                .collect();
            for i in (0..count).filter(|i| turns[*i] > 0.0) {
                less_steep_toward_corner(i, turns[i], &touch, runs, &mut steeper);
            }
            (heights, gradients, steeper)
        };
        if let Some(bad) = steeper.iter().position(|tilt| tilt.is_nan() || tilt.abs() >= STEEPEST) {
            return Err(CrownProblem::Folds(bad));
        }
        let steeper = chained(&steeper, runs);
        let change = steeper.iter().zip(&tilts).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        if change < SETTLED || (crown > 0.0 && turn + 1 == TURNS && change < 1e-6) {
            let over: Vec<Point> = points.iter().map(|p| Point::new(p[0], p[1])).collect();
            let normals = (0..points.len())
                .map(|i| {
                    if i < count {
                        return edges[i].normal_at(tilts[i]);
                    }
                    let g = face.height(over[i]).1 + Vec2::new(gradients[i][0], gradients[i][1]);
                    normal_of(g)
                })
                .collect();
            let heights = (0..points.len())
                .map(|i| if i < count { touch[i][2] } else { base[i] + heights[i] })
                .collect();
            return Ok(MeshedFace { over, heights, normals, triangles, tilts });
        }
        tilts = steeper;
        mesh = Some((points, triangles));
    }
    Err(CrownProblem::Unsettled)
}

/// Toward a sharp corner of a skin its slope falls off as the distance to the power of π/α - 1, α
/// being the angle inside: Poisson's equation in a wedge. The mesh cannot tell so near the corner:
/// there the tilt of the edge follows that from [`WEDGE`] columns off. The corner itself is given
/// that of a tenth of the way to its neighbour.
fn less_steep_toward_corner(
    corner: usize,
    turn: f64,
    touch: &[Space],
    runs: &[(std::ops::Range<usize>, bool)],
    tilts: &mut [f64],
) {
    let count = tilts.len();
    let power = turn / (std::f64::consts::PI - turn);
    let mut at_corner = Vec::new();
    for forward in [false, true] {
        let next = |i: usize| if forward { (i + 1) % count } else { (i + count - 1) % count };
        let chain = runs.iter().map(|(chain, _)| chain).find(|chain| chain.contains(&next(corner)));
        let Some(chain) = chain else { continue };
        let reach = WEDGE.min(chain.len() / 2);
        let (mut columns, mut places) = (vec![corner], vec![0.0]);
        while columns.len() <= reach {
            let (last, place) = (columns[columns.len() - 1], places[places.len() - 1]);
            columns.push(next(last));
            places.push(place + apart(touch[last], touch[next(last)]));
        }
        let (Some(&far), Some(&whole)) = (columns.last(), places.last()) else { continue };
        for (column, place) in columns.iter().zip(&places).skip(1) {
            tilts[*column] = tilts[far] * (place / whole).powf(power);
        }
        if reach > 0 {
            at_corner.push(tilts[far] * (0.1 * places[1] / whole).powf(power));
        }
    }
    tilts[corner] = at_corner.iter().sum::<f64>() / at_corner.len().max(1) as f64;
}

/// Unit upward normal of a surface of that gradient.
fn normal_of(g: Vec2) -> Space {
    let size = (1.0 + g.hypot2()).sqrt();
    [-g.x / size, -g.y / size, 1.0 / size]
}

/// The angle from the edge's face normal toward its wall's at which the surface's normal stands.
fn angle_toward_wall(edge: &RolledEdge, gradient: Vec2) -> f64 {
    let normal = normal_of(gradient);
    let cos = edge.bend_angle.cos();
    let across = minus(edge.wall_normal, times(edge.face_normal, cos));
    let across = times(across, 1.0 / crate::geom::space::length(across));
    dot(normal, across).atan2(dot(normal, edge.face_normal))
}

/// The part of `outward` square to the edge in plan.
fn out_of(along: &Vec2, outward: Vec2) -> Vec2 {
    (outward - *along * outward.dot(*along)).normalize()
}

/// The pressure under which the skin's top stands by `crown` over the face: the top grows with it,
/// so it is halved down to.
fn pressure_for(crown: f64, level: &[f64], unit: &[f64]) -> f64 {
    let top =
        |p: f64| level.iter().zip(unit).map(|(a, b)| a + p * b).fold(f64::NEG_INFINITY, f64::max);
    let most = unit.iter().copied().fold(f64::MIN_POSITIVE, f64::max);
    let least = level.iter().copied().fold(0.0, f64::min);
    let (mut low, mut high) = (0.0, 2.0 * (crown - least) / most);
    for _ in 0..100 {
        let middle = f64::midpoint(low, high);
        if top(middle) < crown { low = middle } else { high = middle }
    }
    f64::midpoint(low, high)
}

/// Neighbours of a column within its run: before and after.
fn neighbours(i: usize, runs: &[(std::ops::Range<usize>, bool)]) -> (Option<usize>, Option<usize>) {
    for (run, closed) in runs {
        if run.contains(&i) {
            let before = if i > run.start { Some(i - 1) } else { closed.then_some(run.end - 1) };
            let after = if i + 1 < run.end { Some(i + 1) } else { closed.then_some(run.start) };
            return (before, after);
        }
    }
    (None, None)
}

fn apart(a: Space, b: Space) -> f64 {
    (b[0] - a[0]).hypot(b[1] - a[1])
}

/// Outward slope at every column.
fn slopes_of(forces: &[f64], touch: &[Space], runs: &[(std::ops::Range<usize>, bool)]) -> Vec<f64> {
    (0..touch.len())
        .map(|i| {
            let (before, after) = neighbours(i, runs);
            let share = |j: Option<usize>| j.map_or(0.0, |j| apart(touch[i], touch[j]) / 2.0);
            forces[i] / (share(before) + share(after))
        })
        .collect()
}

/// Direction of the edge in plan at every column, and the heights' slope along it.
fn along_edge(
    touch: &[Space],
    heights: &[f64],
    runs: &[(std::ops::Range<usize>, bool)],
) -> Vec<(Vec2, f64)> {
    (0..touch.len())
        .map(|i| {
            let (before, after) = neighbours(i, runs);
            let (a, b) = (before.unwrap_or(i), after.unwrap_or(i));
            let d = Vec2::new(touch[b][0] - touch[a][0], touch[b][1] - touch[a][1]);
            (d.normalize(), (heights[b] - heights[a]) / d.hypot())
        })
        .collect()
}

/// The column so many columns off in a chain; an open chain goes on beyond its ends as its own
/// mirror image, since a skin has no slope across a free edge.
fn mirrored(i: usize, by: isize, runs: &[(std::ops::Range<usize>, bool)]) -> usize {
    let Some((chain, closed)) = runs.iter().find(|(chain, _)| chain.contains(&i)) else { return i };
    let (first, count) = (chain.start.cast_signed(), chain.len().cast_signed());
    let place = i.cast_signed() - first + by;
    let place = if *closed {
        place.rem_euclid(count)
    } else {
        let last = count - 1;
        (last - (last - place.abs()).abs()).clamp(0, last)
    };
    (first + place).cast_unsigned()
}

/// Values at the columns without the zigzag of the mesh.
fn even(values: &[f64], runs: &[(std::ops::Range<usize>, bool)]) -> Vec<f64> {
    (0..values.len())
        .map(|i| {
            let near = |by: isize| values[mirrored(i, by, runs)];
            without_zigzag([near(-2), near(-1), values[i], near(1), near(2)])
        })
        .collect()
}

/// Values of columns, each chain by itself without the unevenness of the mesh inside, as
/// [`smoothed`].
fn chained(values: &[f64], chains: &[(std::ops::Range<usize>, bool)]) -> Vec<f64> {
    smoothed_by(values, |i, by| Some(mirrored(i, by, chains)))
}

/// A field along columns without the unevenness that triangles of all shapes leave from one column
/// to the next; the ends of an open line stay.
pub(super) fn smoothed<T>(values: &[T], closed: bool) -> Vec<T>
where
    T: Copy + std::ops::Add<Output = T> + std::ops::Mul<f64, Output = T>,
{
    smoothed_by(values, |i, by| crate::geom::mesh_wall::shifted(values.len(), closed, i, by))
}

/// Each value is brought half way to the mean of its two neighbours, which `near` tells,
/// [`SMOOTHINGS`] times. What changes over several columns stays.
fn smoothed_by<T>(values: &[T], near: impl Fn(usize, isize) -> Option<usize>) -> Vec<T>
where
    T: Copy + std::ops::Add<Output = T> + std::ops::Mul<f64, Output = T>,
{
    let mut all = values.to_vec();
    for _ in 0..SMOOTHINGS {
        let old = all.clone();
        for (i, value) in all.iter_mut().enumerate() {
            if let (Some(a), Some(b)) = (near(i, -1), near(i, 1)) {
                *value = old[i] * 0.5 + (old[a] + old[b]) * 0.25;
            }
        }
    }
    all
}

/// The mesh inside the edge; the columns' points come first. Free places go along with the columns
/// between which they lie, which the crown moves out, as far as that is along their own line.
fn meshed(touch: &[Space], rim: &Rim, outside_radius: f64, size: f64) -> Option<PlanMesh> {
    let round = &rim.round;
    let count = round.len();
    let plain = |point: &RimPoint| match point {
        RimPoint::Column(i) => rim.edges[*i].touch(outside_radius),
        RimPoint::Free(at) => *at,
    };
    let moved = |i: usize| {
        Vec2::new(touch[i][0], touch[i][1]) - rim.edges[i].touch(outside_radius).to_vec2()
    };
    let outline: Vec<[f64; 2]> = (0..count)
        .map(|k| match &round[k] {
            RimPoint::Column(i) => [touch[*i][0], touch[*i][1]],
            RimPoint::Free(at) => {
                let column = |step: usize| {
                    (1..count).find_map(|n| match round[(k + n * step) % count] {
                        RimPoint::Column(i) => Some((n as f64, moved(i))),
                        RimPoint::Free(_) => None,
                    })
                };
                let (Some((after, next)), Some((before, last))) = (column(1), column(count - 1))
                else {
                    return [at.x, at.y];
                };
                let by = (last * after + next * before) / (before + after);
                let along = (plain(&round[(k + 1) % count])
                    - plain(&round[(k + count - 1) % count]))
                .normalize();
                let at = *at + along * by.dot(along);
                [at.x, at.y]
            }
        })
        .collect();
    let mesh = mesh_face(&[outline], size).ok()?;
    let mut place = vec![0; mesh.points.len()];
    let mut next = touch.len();
    for (node, place) in place.iter_mut().enumerate() {
        *place = match round.get(node) {
            Some(RimPoint::Column(i)) => *i,
            _ => {
                next += 1;
                next - 1
            }
        };
    }
    let mut points = vec![[0.0; 2]; mesh.points.len()];
    for (node, at) in mesh.points.iter().enumerate() {
        points[place[node]] = *at;
    }
    Some((points, mesh.triangles.iter().map(|corners| corners.map(|node| place[node])).collect()))
}
