//! The fold tree: one flat sheet as faces joined by bends, and how it stands in space with each
//! bend at its own fraction of its angle.
//!
//! Everything is kept where it lies in the flat blank (mm, seen from the upper face). There the
//! metal fills z from 0, its lower face, to T, its upper one; a bend with a positive angle turns
//! its child toward the viewer, up. Folding moves each face as a whole and rolls each bend zone
//! round its axis; unfolding is reading the flat positions back.

use crate::geom::space::{Pose, Space};
use crate::geom::{
    Loop, OTHER_HAND, Point, Polyarc, Segment, Side, Vec2, cut_off, mirrored, self_crossing,
};
use crate::part::{JoggleBend, Opening};
use crate::problem::Place;
use crate::shop::bend_rule::DevelopedBend;
use crate::tolerance::SAME_POINT;

/// A sheet with bends in it.
#[derive(Debug, Clone)]
pub struct FoldTree {
    /// Thickness T, mm.
    pub thickness: f64,
    /// The faces; the first one stays where it is when the others fold.
    pub faces: Vec<Face>,
    /// The bends, each after the one that carries its parent; as many as faces but one.
    pub bends: Vec<FaceBend>,
    /// What is cut out where bends meet or end inside an edge.
    pub reliefs: Vec<ReliefCut>,
    /// What is cut off its ends to lie against tubes, and where each stands in the description.
    pub copes: Vec<(Polyarc, Place)>,
}

/// A cut that keeps metal from tearing where bends meet or end inside an edge.
#[derive(Debug, Clone)]
pub struct ReliefCut {
    /// Its outline in the flat.
    pub outline: Polyarc,
    /// The bends that it serves.
    pub bends: Vec<usize>,
    /// How far it reaches past the tangent lines of all of them, mm.
    pub clearance: f64,
    /// Its shape in a word.
    pub shape: &'static str,
    /// Whether the faces' outlines go round it already.
    pub in_outlines: bool,
}

/// Why a tree has no blank.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Unfoldable {
    /// Two faces overlap or touch in the flat.
    Overlap,
    /// The relief of these bends cuts the blank in pieces.
    FallsApart {
        /// The bends it serves.
        bends: Vec<usize>,
    },
    /// A cope cuts the blank in pieces or takes all of it.
    CopedThrough {
        /// Where it stands in the description.
        place: Place,
    },
}

/// A plane face between bends.
#[derive(Debug, Clone)]
pub struct Face {
    /// Its name: `panel`, `front`, `front/outer`, or `leg 1`.
    pub name: String,
    /// Its outline in the flat, counter-clockwise, ending at the tangent lines of its bends;
    /// reliefs not taken off.
    pub outline: Polyarc,
    /// The openings in it, where they lie in the flat.
    pub openings: Vec<Opening>,
    /// The bend that joins it to its parent; none for the first face.
    pub bend: Option<usize>,
}

/// A bend between a parent face and a child face.
#[derive(Debug, Clone)]
pub struct FaceBend {
    /// Its name, `bend 1` and so on.
    pub name: String,
    /// The face it is bent up from.
    pub parent: usize,
    /// The face that it turns.
    pub child: usize,
    /// The tangent line on the parent, in the flat, from one end of the metal to the other.
    pub parent_line: [Point; 2],
    /// The tangent line on the child, in the flat, walked the same way.
    pub child_line: [Point; 2],
    /// Where the metal of the zone ends between the lines' first ends and between their second
    /// ends, from parent to child.
    pub ends: [Vec<Point>; 2],
    /// Unit vector in the flat from parent to child, square to the tangent lines.
    pub toward: Vec2,
    /// The angle turned through, radians, positive toward the upper face.
    pub angle: f64,
    /// Inside radius R, mm.
    pub inside_radius: f64,
    /// How it was developed.
    pub developed: DevelopedBend,
    /// Which bend of a joggle it is, if it is one; the second is bent up from the face that the
    /// first one turns.
    pub joggle: Option<JoggleBend>,
    /// Where it stands in the description.
    pub place: Place,
}

impl FaceBend {
    /// Bend allowance BA: the width of its zone in the flat, mm.
    #[must_use]
    pub fn allowance(&self) -> f64 {
        self.developed.allowance.mm()
    }

    /// Its zone in the flat, counter-clockwise.
    #[must_use]
    pub fn outline(&self) -> Polyarc {
        let [a, b] = self.parent_line;
        let [c, d] = self.child_line;
        let [first, second] = &self.ends;
        let round = [a, b]
            .into_iter()
            .chain(second.iter().copied())
            .chain([d, c])
            .chain(first.iter().rev().copied());
        Polyarc::polygon(round).counter_clockwise()
    }

    /// The ends of the zone's metal at depth `v` from the parent's tangent line, 0 to BA.
    #[must_use]
    pub fn width_at(&self, v: f64) -> [Point; 2] {
        [0, 1].map(|i| {
            let ends: Vec<Point> = [self.parent_line[i]]
                .into_iter()
                .chain(self.ends[i].iter().copied())
                .chain([self.child_line[i]])
                .collect();
            let depth = |k: usize| self.depth_of(ends[k]);
            let k = (1..ends.len() - 1).find(|k| depth(*k) > v).unwrap_or(ends.len() - 1);
            let span = depth(k) - depth(k - 1);
            ends[k - 1]
                .lerp(ends[k], ((v - depth(k - 1)) / span.max(f64::MIN_POSITIVE)).clamp(0.0, 1.0))
        })
    }

    /// The line along the middle of its zone, in the flat.
    #[must_use]
    pub fn middle(&self) -> [Point; 2] {
        self.width_at(self.allowance() / 2.0)
    }

    /// Distance in the flat from the parent's tangent line, mm: 0 to BA in the zone.
    #[must_use]
    pub fn depth_of(&self, point: Point) -> f64 {
        (point - self.parent_line[0]).dot(self.toward)
    }

    /// The motion of metal at depth `v` in the zone when the bend is turned by `fraction` of its
    /// angle; at BA that of the child.
    ///
    /// The neutral line keeps its length at every fraction f: its radius is BA/(f N), that at full
    /// angle R + K T when the rule's BA is N (R + K T). So the inside radius of a bend half made is
    /// larger than R, as it is over a die.
    #[must_use]
    pub fn motion(&self, v: f64, fraction: f64, thickness: f64) -> Pose {
        let back = Pose::shift([-v * self.toward.x, -v * self.toward.y, 0.0]);
        let turned = self.angle * fraction;
        // So slight a turn lifts nothing by the last bit of a metre; its axis would lie kilometres
        // away.
        if turned.abs() < 1e-9 {
            return Pose::STILL;
        }
        let from_inside = self.developed.k_factor * thickness;
        let to_axis = self.allowance() / turned.abs() - from_inside;
        // The axis lies over the upper face of a bend up, under the lower face of a bend down.
        let height = if turned > 0.0 { thickness + to_axis } else { -to_axis };
        let axis_point = [self.parent_line[0].x, self.parent_line[0].y, height];
        // Turning from `toward` to z: the axis is toward x z.
        let axis = [self.toward.y, -self.toward.x, 0.0];
        Pose::turn(axis_point, axis, turned * v / self.allowance()).after(&back)
    }
}

/// A sheet folded, each bend by its own fraction.
#[derive(Debug, Clone)]
pub struct Folding<'a> {
    /// What is folded.
    pub tree: &'a FoldTree,
    /// How far each bend is turned, from 0 to 1 of its angle.
    pub fractions: Vec<f64>,
    /// How each face is moved out of the flat.
    pub poses: Vec<Pose>,
}

impl FoldTree {
    /// The sheet with every bend made.
    #[must_use]
    pub fn folded(&self) -> Folding<'_> {
        self.fold(&vec![1.0; self.bends.len()])
    }

    /// The sheet with each bend turned by its own fraction of its angle; bends beyond the end of
    /// `fractions` stay flat.
    #[must_use]
    pub fn fold(&self, fractions: &[f64]) -> Folding<'_> {
        let fractions: Vec<f64> =
            (0..self.bends.len()).map(|i| fractions.get(i).copied().unwrap_or(0.0)).collect();
        let mut poses = vec![Pose::STILL; self.faces.len()];
        for (bend, fraction) in self.bends.iter().zip(&fractions) {
            poses[bend.child] =
                poses[bend.parent].after(&bend.motion(bend.allowance(), *fraction, self.thickness));
        }
        Folding { tree: self, fractions, poses }
    }

    /// The bends that carry face `i`, from the first face out.
    #[must_use]
    pub fn way_to(&self, face: usize) -> Vec<usize> {
        let mut way: Vec<usize> = std::iter::successors(self.faces[face].bend, |bend| {
            self.faces[self.bends[*bend].parent].bend
        })
        .collect();
        way.reverse();
        way
    }

    /// The outline of the blank before reliefs are cut: all faces and bend zones, the tangent lines
    /// between them gone. None where they make no single outline, because two of them overlap or
    /// touch in the flat.
    #[must_use]
    pub fn outline(&self) -> Option<Polyarc> {
        let zones = self.bends.iter().map(FaceBend::outline);
        let mut segments: Vec<Segment> = Vec::new();
        for outline in self.faces.iter().map(|face| face.outline.clone()).chain(zones) {
            for segment in outline.segments() {
                // A line walked both ways lies between two neighbours.
                let shared = segments.iter().position(|other| {
                    same(other.from(), segment.to())
                        && same(other.to(), segment.from())
                        && other.is_straight()
                        && segment.is_straight()
                });
                if same(segment.from(), segment.to()) {
                    continue;
                }
                match shared {
                    Some(i) => drop(segments.swap_remove(i)),
                    None => segments.push(segment),
                }
            }
        }
        let mut chain = vec![segments.pop()?];
        while !segments.is_empty() {
            let end = chain.last()?.to();
            let next = segments.iter().position(|segment| same(segment.from(), end))?;
            let mut segment = segments.swap_remove(next);
            if let Segment::Line { from, .. } | Segment::Arc { from, .. } = &mut segment {
                *from = end;
            }
            chain.push(segment);
        }
        let closed = same(chain.last()?.to(), chain[0].from());
        let sides = chain.into_iter().map(|segment| Side { segment, edge: None }).collect();
        closed.then(|| from_lower_left(&Loop { sides }.to_polyarc(0.0).tidied()))
    }

    /// The outline of the blank as it is cut: faces and bend zones with their reliefs taken off.
    pub fn blank(&self) -> Result<Polyarc, Unfoldable> {
        let whole = self
            .outline()
            .filter(|outline| self_crossing(outline).is_none())
            .ok_or(Unfoldable::Overlap)?;
        let cuts = self.reliefs.iter().filter(|relief| !relief.in_outlines);
        let left = cuts.into_iter().try_fold(whole, |left, relief| {
            let mut pieces = cut_off(&left, &relief.outline);
            match (pieces.pop(), pieces.is_empty()) {
                (Some(piece), true) => Ok(from_lower_left(&piece.tidied())),
                _ => Err(Unfoldable::FallsApart { bends: relief.bends.clone() }),
            }
        })?;
        self.copes.iter().try_fold(left, |left, (cut, place)| {
            let mut pieces = cut_off(&left, cut);
            match (pieces.pop(), pieces.is_empty()) {
                (Some(piece), true) => Ok(from_lower_left(&piece.tidied())),
                _ => Err(Unfoldable::CopedThrough { place: place.clone() }),
            }
        })
    }

    /// The mirrored sheet, mirrored in x; a bend toward the viewer stays one.
    #[must_use]
    pub fn other_hand(&self) -> Self {
        let mirror = OTHER_HAND;
        Self {
            thickness: self.thickness,
            faces: self
                .faces
                .iter()
                .map(|face| Face {
                    outline: face.outline.moved(mirror),
                    openings: face.openings.iter().map(|opening| opening.moved(mirror)).collect(),
                    ..face.clone()
                })
                .collect(),
            bends: self
                .bends
                .iter()
                .map(|bend| FaceBend {
                    parent_line: bend.parent_line.map(|p| mirror * p),
                    child_line: bend.child_line.map(|p| mirror * p),
                    ends: [0, 1].map(|i| bend.ends[i].iter().map(|p| mirror * *p).collect()),
                    toward: mirrored(bend.toward),
                    ..bend.clone()
                })
                .collect(),
            reliefs: self
                .reliefs
                .iter()
                .map(|relief| ReliefCut { outline: relief.outline.moved(mirror), ..relief.clone() })
                .collect(),
            copes: self
                .copes
                .iter()
                .map(|(cut, place)| (cut.moved(mirror), place.clone()))
                .collect(),
        }
    }
}

/// The same outline, starting at its leftmost vertex, of several the lowest, so that it hangs on no
/// order of faces.
fn from_lower_left(outline: &Polyarc) -> Polyarc {
    let mut vertices = outline.vertices.clone();
    let key = |p: Point| ((p.x / SAME_POINT).round(), p.y);
    let least = (0..vertices.len()).min_by(|a, b| {
        let (a, b) = (key(vertices[*a].point), key(vertices[*b].point));
        a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1))
    });
    vertices.rotate_left(least.unwrap_or(0));
    Polyarc { vertices }
}

/// Whether two ends are one: they come from the same arithmetic but for rounding.
fn same(a: Point, b: Point) -> bool {
    (a - b).hypot2() < SAME_POINT.powi(2)
}

impl Folding<'_> {
    /// Where the point of face `i` at `point` in the flat, `height` over the lower face, stands in
    /// space.
    #[must_use]
    pub fn on_face(&self, face: usize, point: Point, height: f64) -> Space {
        self.poses[face].at([point.x, point.y, height])
    }

    /// Where the point of bend `i` at `point` in the flat, `height` over the lower face, stands in
    /// space.
    #[must_use]
    pub fn in_bend(&self, bend: usize, point: Point, height: f64) -> Space {
        let made = &self.tree.bends[bend];
        let motion = made.motion(made.depth_of(point), self.fractions[bend], self.tree.thickness);
        self.poses[made.parent].at(motion.at([point.x, point.y, height]))
    }
}
