//! The metal of a part's walls as triangles that know where they lie in the blank, where they stand
//! when formed, and what became of them.
//!
//! Walls that the forming solve laid flat come with their triangles. The others are solved exactly
//! and get some here: straight walls, which are only unrolled, and walls around full circles, by
//! the ring solution.

use std::collections::{BTreeMap, BTreeSet};

use crate::fe::ring::ring;
use crate::flat::half_shell::{has_wall, wall_of};
use crate::flat::{Flat, Forming, openings_of};
use crate::geom::{
    Loop, Point, Polyarc, Segment, Vec2, left_of, offset_closed, offset_sides, spans_left,
};
use crate::part::Part;
use crate::shell::Wall;
use crate::shell::{EdgeStrain, SolvedWalls};
use crate::tolerance::{CURVE_TO_ARCS, SAME_POINT, SOLID_CHORD};

/// Rows of triangles round a bend, and up a wall, where the ring solution is drawn.
const RING_ROWS: (u32, u32) = (6, 14);
/// Columns of triangles in a full circle.
const RING_COLUMNS: f64 = 120.0;

/// One place of the metal.
#[derive(Debug, Clone, Copy)]
pub(super) struct Node {
    /// In the blank.
    pub(super) flat: Point,
    /// On the formed middle surface: x and y in the profile's plane, z square to it toward the
    /// outer side, 0 on the face.
    pub(super) formed: [f64; 3],
    /// Greater and lesser principal strain, engineering.
    pub(super) strain: (f64, f64),
    /// Thickness over the sheet's.
    pub(super) thickness_ratio: f64,
}

impl Node {
    /// The larger one of the two strains, with its sign.
    pub(super) fn dominant(&self) -> f64 {
        dominant(self.strain)
    }

    pub(super) fn between(&self, other: &Self, share: f64) -> Self {
        let mean = |a: f64, b: f64| a + (b - a) * share;
        Self {
            flat: self.flat.lerp(other.flat, share),
            formed: std::array::from_fn(|k| mean(self.formed[k], other.formed[k])),
            strain: (mean(self.strain.0, other.strain.0), mean(self.strain.1, other.strain.1)),
            thickness_ratio: mean(self.thickness_ratio, other.thickness_ratio),
        }
    }
}

/// The larger one of two strains, with its sign.
fn dominant((greater, lesser): (f64, f64)) -> f64 {
    if greater.abs() >= lesser.abs() { greater } else { lesser }
}

/// The free edge of one side: places along it, and the edge's own strain at each.
pub(super) type FreeEdge = Vec<(Node, f64)>;

/// Everything there is to draw of a part's formed metal.
#[derive(Debug, Clone, Default)]
pub(super) struct Surface {
    pub(super) nodes: Vec<Node>,
    /// Corners, counter-clockwise in the blank.
    pub(super) triangles: Vec<[usize; 3]>,
    /// The free edges of the walls that follow a curve, side by side.
    pub(super) edges: Vec<FreeEdge>,
    /// Places where something is at its most, beside the nodes: free edges and triangles of the
    /// forming solve.
    pub(super) extremes: Vec<Node>,
    /// The flat face: outline and openings. Empty where it closes on itself.
    pub(super) face: Vec<Vec<Point>>,
    /// Whether there is metal around circles, solved as rings.
    pub(super) has_rings: bool,
    /// How many walls have no triangles: no ring of them could be solved.
    pub(super) unmapped: usize,
    /// Nodes at the ends of exactly solved walls, where the next one may go on.
    seams: Vec<usize>,
}

/// Walls along the sides of one outline that has its face to the left.
struct Walls {
    face: Loop,
    walled: Vec<bool>,
    wall: Wall,
    /// Metal beyond the finished edge, which is there when the wall is hammered, mm.
    trim: f64,
    /// Whether they turn toward the outer side.
    outward: bool,
}

impl Walls {
    fn inset_of(&self, inset: f64) -> impl Fn(usize) -> f64 + '_ {
        move |side| if self.walled[side] { inset } else { 0.0 }
    }
}

/// The walls of the part: around its profile, then around its lipped openings, in the order in
/// which the flat lists their edges.
fn walls_of(part: &Part, flat: &Flat) -> Vec<Walls> {
    let mut all = Vec::new();
    if let Some(shell) = part.kind.half_shell()
        && let Ok(wall) = wall_of(part, shell)
    {
        let shell = shell.as_hammered();
        let face = shell.profile.sides.clone();
        let walled = (0..face.sides.len()).map(|i| has_wall(&shell, i)).collect();
        all.push(Walls { face, walled, wall, trim: shell.trim.mm(), outward: false });
    }
    for opening in openings_of(part, flat) {
        let Some(lip) = &opening.lip else { continue };
        let wall = Wall::new(
            part.thickness,
            lip.inside_radius,
            lip.bend_angle,
            lip.height,
            &part.bend_rule,
            part.unit,
        );
        if let Ok(wall) = wall {
            let face = opening.outline.reversed();
            all.push(Walls {
                walled: vec![true; face.sides.len()],
                face,
                wall,
                trim: 0.0,
                outward: lip.outward,
            });
        }
    }
    all
}

/// The formed metal of a part; of a bent or folded one its lips, which are hammered while the blank
/// is flat. `flat` is the blank of the hand that the part describes.
pub(super) fn surface_of(part: &Part, flat: &Flat, forming: &Forming) -> Surface {
    let mut surface = Surface::default();
    let walls = walls_of(part, flat);
    for solved in &forming.solved {
        surface.add_solved(solved, is_outward(part, flat, solved));
    }
    let rim = surface.rim_nodes();
    let mut rest: &[EdgeStrain] = &forming.edge;
    for (k, walls) in walls.iter().enumerate() {
        // All walls of a face that is not level come as triangles.
        let solved = k == 0 && forming.face.is_some();
        let outline = walls.face.chain();
        for (i, side) in outline.pieces().iter().enumerate() {
            let (start, end) = (outline.starts()[i], outline.starts()[i + 1]);
            let own;
            (own, rest) =
                rest.split_at(if walls.walled[i] { of_side(rest, start, end) } else { 0 });
            if own.is_empty() {
                surface.unmapped += usize::from(walls.walled[i]);
            } else if solved || surface.covers(forming, walls, side) {
                surface.add_edge(own, &rim);
            } else {
                surface.add_exact(walls, i, part);
            }
        }
    }
    // A face that is not level comes as triangles.
    if forming.face.is_none() {
        surface.face = face_of(part, walls.first(), flat);
    }
    surface
}

/// How many of the edge's samples belong to a side that runs from `from` to `to` mm along its
/// outline; each side has one at both its ends.
fn of_side(samples: &[EdgeStrain], from: f64, to: f64) -> usize {
    let mut count = 0;
    for sample in samples {
        if sample.along < from - 1e-6 || sample.along > to + 1e-6 {
            break;
        }
        count += 1;
        if sample.along > to - 1e-6 {
            break;
        }
    }
    count
}

/// Whether solved walls are a lip that turns to the outer side: laid flat, a lip lies in its
/// opening.
fn is_outward(part: &Part, flat: &Flat, solved: &SolvedWalls) -> bool {
    let mut openings = openings_of(part, flat);
    openings.retain(|opening| opening.lip.is_some_and(|lip| lip.outward));
    openings.iter().any(|opening| {
        let outline = opening.outline.to_polyarc(CURVE_TO_ARCS);
        solved.triangles.iter().flatten().any(|node| outline.contains(solved.flat[*node]))
    })
}

impl Surface {
    /// Adds triangles of the forming solve; what is known of triangles goes to their nodes by area.
    fn add_solved(&mut self, solved: &SolvedWalls, outward: bool) {
        let first = self.nodes.len();
        let up = if outward { -1.0 } else { 1.0 };
        let count = solved.flat.len();
        let mut sums = vec![[0.0; 4]; count];
        for (corners, metal) in solved.triangles.iter().zip(&solved.metal) {
            let [a, b, c] = corners.map(|i| solved.flat[i]);
            let turn = (b - a).cross(c - a);
            for i in corners {
                let own = [1.0, metal.strain.0, metal.strain.1, metal.thickness_ratio];
                sums[*i].iter_mut().zip(own).for_each(|(sum, x)| *sum += x * turn.abs());
            }
            let mean = |k: usize| corners.iter().map(|i| solved.formed[*i][k]).sum::<f64>() / 3.0;
            self.extremes.push(Node {
                flat: a + ((b - a) + (c - a)) / 3.0,
                formed: [mean(0), mean(1), mean(2) * up],
                strain: metal.strain,
                thickness_ratio: metal.thickness_ratio,
            });
            let corners = corners.map(|i| i + first);
            self.triangles.push(if turn < 0.0 {
                [corners[0], corners[2], corners[1]]
            } else {
                corners
            });
        }
        for ((flat, [x, y, z]), [area, greater, lesser, ratio]) in
            solved.flat.iter().zip(&solved.formed).zip(sums)
        {
            let share = |sum: f64, plain: f64| if area > 0.0 { sum / area } else { plain };
            self.nodes.push(Node {
                flat: *flat,
                formed: [*x, *y, z * up],
                strain: (share(greater, 0.0), share(lesser, 0.0)),
                thickness_ratio: share(ratio, 1.0),
            });
        }
    }

    /// The nodes along the edges of what has been added.
    fn rim_nodes(&self) -> Vec<usize> {
        let mut nodes: Vec<usize> =
            rim(&self.triangles).into_iter().flat_map(|(a, b)| [a, b]).collect();
        nodes.sort_unstable();
        nodes.dedup();
        nodes
    }

    /// Whether the forming solve has triangles in the middle of the wall along a side.
    fn covers(&self, forming: &Forming, walls: &Walls, side: &Segment) -> bool {
        let out = walls.wall.flat_width() / 2.0 - walls.wall.tangent_inset();
        let at = side.point_at(0.5) - left_of(side.tangent_at(0.5)) * out;
        let inside = |corners: &[usize; 3]| {
            let [a, b, c] = corners.map(|i| self.nodes[i].flat);
            [(a, b), (b, c), (c, a)].into_iter().all(|(p, q)| (q - p).cross(at - p) >= 0.0)
        };
        forming.elements() > 0 && self.triangles[..forming.elements()].iter().any(inside)
    }

    /// The free edge of a solved side: its samples, standing where the nearest nodes of the rim
    /// stand.
    fn add_edge(&mut self, samples: &[EdgeStrain], rim: &[usize]) {
        let edge: FreeEdge = samples
            .iter()
            .filter_map(|sample| {
                let away = |node: &&usize| self.nodes[**node].flat.distance_squared(sample.at);
                let nearest = rim.iter().min_by(|a, b| away(a).total_cmp(&away(b)))?;
                let node = Node {
                    flat: sample.at,
                    strain: along_edge(sample.strain, sample.thickness_ratio),
                    thickness_ratio: sample.thickness_ratio,
                    ..self.nodes[*nearest]
                };
                Some((node, sample.strain))
            })
            .collect();
        self.extremes.extend(edge.iter().map(|(node, _)| *node));
        self.edges.push(edge);
    }

    /// Adds the exactly solved wall along a side: a straight one, or a piece of a ring.
    fn add_exact(&mut self, walls: &Walls, side: usize, part: &Part) {
        let segment = &walls.face.sides[side].segment;
        let rows = if segment.is_straight() {
            Some(rows(walls, 1, |up| (walls.wall.unrolled(up), (0.0, 0.0), 1.0)))
        } else {
            ring_rows(walls, segment.curvature_at(0.5), part)
        };
        let Some(rows) = rows else {
            self.unmapped += 1;
            return;
        };
        self.has_rings |= !segment.is_straight();
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "clamped to 1..=200"
        )]
        let columns = if segment.is_straight() {
            1
        } else {
            let turn = (segment.curvature_at(0.5) * segment.length()).abs();
            (turn / std::f64::consts::TAU * RING_COLUMNS).ceil().clamp(1.0, 200.0) as u32
        };
        let first = self.nodes.len();
        for row in &rows {
            let (from, to) = spans_left(&walls.face, &walls.inset_of(row.inset))
                .map_or((0.0, 1.0), |spans| spans[side]);
            for k in 0..=columns {
                let u = from + (to - from) * f64::from(k) / f64::from(columns);
                let inward: Vec2 = left_of(segment.tangent_at(u));
                let formed = segment.point_at(u) + inward * row.inset;
                self.nodes.push(Node {
                    flat: segment.point_at(u)
                        + inward * (walls.wall.tangent_inset() - row.distance),
                    formed: [
                        formed.x,
                        formed.y,
                        if walls.outward { row.height } else { -row.height },
                    ],
                    strain: row.strain,
                    thickness_ratio: row.thickness_ratio,
                });
            }
        }
        let across = columns as usize + 1;
        let ends = (0..rows.len())
            .flat_map(|row| [first + row * across, first + row * across + columns as usize]);
        let joined: BTreeMap<usize, usize> =
            ends.filter_map(|end| Some((end, self.known(end)?))).collect();
        let node = |row: usize, k: usize| {
            let own = first + row * across + k;
            joined.get(&own).copied().unwrap_or(own)
        };
        for row in 1..rows.len() {
            for k in 0..columns as usize {
                // Outward is to the right of the side.
                self.triangles.push([node(row, k), node(row, k + 1), node(row - 1, k + 1)]);
                self.triangles.push([node(row, k), node(row - 1, k + 1), node(row - 1, k)]);
            }
        }
        self.seams
            .extend((0..rows.len()).flat_map(|row| [node(row, 0), node(row, columns as usize)]));
        let last = rows.len() - 1;
        if !segment.is_straight() {
            let edge = (0..=columns as usize).map(|k| self.nodes[node(last, k)]);
            let own = |node: Node| {
                if segment.curvature_at(0.5) > 0.0 { node.strain.1 } else { node.strain.0 }
            };
            self.edges.push(edge.map(|node| (node, own(node))).collect());
        }
        self.extremes.extend((0..rows.len()).map(|row| self.nodes[node(row, across / 2)]));
    }

    /// The node of an exactly solved wall before, if there is one at the very place of this one.
    fn known(&self, node: usize) -> Option<usize> {
        let same = |a: &Node, b: &Node| {
            let apart = (0..3)
                .map(|k| (a.formed[k] - b.formed[k]).abs())
                .fold(a.flat.distance(b.flat), f64::max);
            apart < SAME_POINT
        };
        self.seams.iter().copied().find(|other| same(&self.nodes[*other], &self.nodes[node]))
    }

    /// The same metal of the other hand.
    pub(super) fn other_hand(mut self) -> Self {
        let flip = |node: &mut Node| {
            node.flat.x = -node.flat.x;
            node.formed[0] = -node.formed[0];
        };
        self.nodes.iter_mut().chain(&mut self.extremes).for_each(flip);
        self.edges.iter_mut().flatten().for_each(|(node, _)| flip(node));
        self.face.iter_mut().flatten().for_each(|point| point.x = -point.x);
        self.triangles.iter_mut().for_each(|corners| corners.swap(1, 2));
        self
    }
}

/// The two principal strains at a free edge that is strained by `strain` along itself: the other
/// one follows from the volume kept.
fn along_edge(strain: f64, thickness_ratio: f64) -> (f64, f64) {
    let across = 1.0 / ((1.0 + strain) * thickness_ratio) - 1.0;
    (strain.max(across), strain.min(across))
}

/// One row of nodes along a wall.
struct Row {
    /// Plan distance inside the side, and below the face's middle surface, mm.
    inset: f64,
    height: f64,
    /// From the tangent line in the flat, mm.
    distance: f64,
    strain: (f64, f64),
    thickness_ratio: f64,
}

/// Rows round the bend and up the wall; `metal` gives flat distance, strains and thickness at a
/// length of middle surface.
fn rows(walls: &Walls, wall_rows: u32, metal: impl Fn(f64) -> (f64, (f64, f64), f64)) -> Vec<Row> {
    let wall = &walls.wall;
    let section = wall.ring_section(0.0, walls.trim);
    let bend = section.bend_mid_radius * section.bend_angle;
    let (around, up_wall) = (RING_ROWS.0, wall_rows);
    let ups = (0..=around).map(|k| bend * f64::from(k) / f64::from(around)).chain(
        (1..=up_wall).map(|k| bend + section.wall_length * f64::from(k) / f64::from(up_wall)),
    );
    ups.map(|up| {
        let angle = up.min(bend) / section.bend_mid_radius;
        let straight = (up - bend).max(0.0);
        let (distance, strain, thickness_ratio) = metal(up);
        Row {
            inset: wall.tangent_inset()
                - section.bend_mid_radius * angle.sin()
                - straight * wall.bend_angle.cos(),
            height: section.bend_mid_radius * (1.0 - angle.cos())
                + straight * wall.bend_angle.sin(),
            distance,
            strain,
            thickness_ratio,
        }
    })
    .collect()
}

/// The wall around a full circle of that curvature at the seam. None where there is no solution.
fn ring_rows(walls: &Walls, curvature: f64, part: &Part) -> Option<Vec<Row>> {
    let tangent_curvature = curvature / (1.0 - curvature * walls.wall.tangent_inset());
    let solved =
        ring(&part.material.sheet_law(), &walls.wall.ring_section(tangent_curvature, walls.trim))
            .ok()?;
    Some(rows(walls, RING_ROWS.1, |up| {
        let point = solved.at(up);
        let (hoop, up_wall) = (point.hoop_strain.exp_m1(), point.meridian_strain.exp_m1());
        (point.flat_distance, (hoop.max(up_wall), hoop.min(up_wall)), point.thickness_ratio())
    }))
}

/// The flat face as formed, a bent or folded part's whole blank: inside the walls' tangent lines,
/// outside those of lips. Empty where it closes on itself.
fn face_of(part: &Part, profile: Option<&Walls>, flat: &Flat) -> Vec<Vec<Point>> {
    let polygon = |outline: &Polyarc| outline.flatten(SOLID_CHORD);
    let outer = if part.kind.has_buck() {
        profile.and_then(|walls| {
            let inset = walls.wall.tangent_inset();
            let kept = offset_sides(&walls.face, &|i| -walls.inset_of(inset)(i))
                .map(|face| face.to_polyarc(CURVE_TO_ARCS));
            kept.or_else(|| {
                let all = offset_closed(&walls.face.to_polyarc(CURVE_TO_ARCS), -inset);
                all.into_iter().max_by(|a, b| a.area().total_cmp(&b.area()))
            })
        })
    } else {
        Some(flat.outside.clone())
    };
    let Some(outer) = outer else { return Vec::new() };
    let mut outlines = vec![polygon(&outer)];
    for opening in openings_of(part, flat) {
        let outline = opening.outline.to_polyarc(CURVE_TO_ARCS);
        let wall = opening.lip.as_ref().and_then(|lip| {
            Wall::new(
                part.thickness,
                lip.inside_radius,
                lip.bend_angle,
                lip.height,
                &part.bend_rule,
                part.unit,
            )
            .ok()
        });
        match wall {
            Some(wall) => {
                outlines.extend(offset_closed(&outline, wall.tangent_inset()).iter().map(polygon));
            }
            None => outlines.push(polygon(&outline)),
        }
    }
    outlines
}

/// The sides that belong to one triangle only, as they are walked round it.
fn rim(triangles: &[[usize; 3]]) -> Vec<(usize, usize)> {
    let mut sides: BTreeSet<(usize, usize)> = BTreeSet::new();
    for [a, b, c] in triangles {
        for side in [(*a, *b), (*b, *c), (*c, *a)] {
            if !sides.remove(&(side.1, side.0)) {
                sides.insert(side);
            }
        }
    }
    sides.into_iter().collect()
}
