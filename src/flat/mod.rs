//! Takes a [`Part`], gives its [`Flat`], the blank that is cut; `check` verifies it, `nest`
//! places it.

mod bent;
pub(crate) mod half_shell;
mod plate;

use crate::fe::ring::Extremes;
use crate::formed::{FoldTree, bent_tree, folded_tree};
use crate::geom::{OTHER_HAND, Point, Polyarc, Segment, Vec2, mirrored};
use crate::part::{Join, Kind, Opening, Part};
use crate::problem::{Checked, Place};
use crate::shell::{Dart, EdgeStrain, FormedFace, SharpCorner, SolvedWalls, Wall};
use crate::shop::bend_rule::DevelopedBend;
use crate::units::{Angle, Density, Length};

/// The blank of a part, seen from its upper face: the hammered side of a shell.
#[derive(Debug, Clone)]
pub struct Flat {
    /// The outer cut.
    pub outside: Polyarc,
    /// The finished outline in the flat; the outer cut less the trim.
    pub net: Polyarc,
    /// The inner cuts.
    pub openings: Vec<Polyarc>,
    /// The bends.
    pub bends: Vec<FlatBend>,
    /// The faces that the bends join.
    pub tree: Option<FoldTree>,
    /// Where bends and walls begin and end.
    pub bend_zones: Vec<Vec<Segment>>,
    /// Middle lines of walls, which all turn the same way.
    pub wall_lines: Vec<WallLine>,
    /// Lines to scribe: cuts to saw after forming, the net line.
    pub scribes: Vec<Vec<Segment>>,
    /// Marks by which bends are set under a tool by eye.
    pub fold_marks: Vec<FoldMark>,
    /// What the metal does where walls follow a curve.
    pub forming: Option<Forming>,
    /// Corners where walls of folded flanges meet: their gaps.
    pub wall_corners: Vec<WallCorner>,
}

/// The middle of a wall's bend.
#[derive(Debug, Clone)]
pub struct WallLine {
    /// The line.
    pub line: Vec<Segment>,
    /// Whether it turns toward the viewer.
    pub up: bool,
}

/// Marks by which a bend is set under a tool by eye.
#[derive(Debug, Clone, PartialEq)]
pub struct FoldMark {
    /// The bend.
    pub bend: usize,
    /// What is scribed.
    pub lines: Vec<[Point; 2]>,
    /// In a leaf brake the direction of the side that is held.
    pub held: Option<Vec2>,
}

/// A bend in the flat.
#[derive(Debug, Clone)]
pub struct FlatBend {
    /// Its name, `bend 1` and so on.
    pub name: String,
    /// The angle turned through, without its sign.
    pub angle: Angle,
    /// Whether it turns toward the viewer.
    pub up: bool,
    /// Its inside radius.
    pub inside_radius: Length,
    /// How it was developed.
    pub developed: DevelopedBend,
    /// Length of the bend line.
    pub length: Length,
    /// Its middle line.
    pub line: [Point; 2],
    /// Where it stands in the description.
    pub place: crate::problem::Place,
}

/// How the blank of hammered walls or lips was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Method {
    /// Every wall is straight: unrolled exactly.
    Exact,
    /// Walls along curves by the exact solution of a full ring of the local radius.
    ClosedForm,
    /// Runs of walls that hold curves laid flat as a whole, by the forming solve with finite
    /// elements.
    OneStep,
}

impl Method {
    /// Its name in results.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Exact => "exact",
            Self::ClosedForm => "closed-form",
            Self::OneStep => "one-step",
        }
    }
}

/// What the metal does where walls follow a curve.
#[derive(Debug, Clone)]
pub struct Forming {
    /// The wall's section.
    pub wall: Wall,
    /// How the blank was found.
    pub method: Method,
    /// Strain and thickness along the free edges.
    pub edge: Vec<EdgeStrain>,
    /// Walls laid flat by the forming solve.
    pub solved: Vec<SolvedWalls>,
    /// The face where it is not level, of the hand that the description has.
    pub face: Option<FormedFace>,
    /// Relief darts where an edge passes its stop limit; their lines are among the scribes.
    pub darts: Vec<Dart>,
    /// Where a half-shell's walls meet at sharp corners.
    pub corners: Vec<SharpCorner>,
}

impl Forming {
    /// What is known of the metal everywhere, as it is hammered: along the free edges as cut, in
    /// walls that were solved as rings, and in every triangle of the forming solve.
    fn extremes(&self) -> Extremes {
        let solved = self.solved.iter().flat_map(|walls| &walls.metal);
        let solved = solved.map(|metal| Extremes {
            strain: (metal.strain.1.ln_1p(), metal.strain.0.ln_1p()),
            thickness_ratio: (metal.thickness_ratio, metal.thickness_ratio),
        });
        self.edge
            .iter()
            .map(|edge| edge.metal)
            .chain(solved)
            .fold(Extremes::STILL, Extremes::joined)
    }

    /// The largest stretch anywhere, in any direction of the sheet: engineering strain.
    #[must_use]
    pub fn max_stretch(&self) -> f64 {
        self.extremes().strain.1.exp_m1()
    }

    /// The largest shrink anywhere, in any direction of the sheet: engineering strain, positive.
    #[must_use]
    pub fn max_shrink(&self) -> f64 {
        -self.extremes().strain.0.exp_m1()
    }

    /// The largest stretch and the largest shrink along the finished edges, which are what is left
    /// when the trim is cut off: engineering strains, both positive.
    #[must_use]
    pub fn finished_edge(&self) -> (f64, f64) {
        self.edge.iter().fold((0.0, 0.0), |(stretch, shrink): (f64, f64), e| {
            (stretch.max(e.finished), shrink.max(-e.finished))
        })
    }

    /// The least thickness, mm.
    #[must_use]
    pub fn min_thickness(&self) -> f64 {
        self.extremes().thickness_ratio.0 * self.wall.thickness
    }

    /// The greatest thickness, mm.
    #[must_use]
    pub fn max_thickness(&self) -> f64 {
        self.extremes().thickness_ratio.1 * self.wall.thickness
    }

    /// Triangles of the forming solve; none where no wall needed it.
    #[must_use]
    pub fn elements(&self) -> usize {
        self.solved.iter().map(|walls| walls.triangles.len()).sum()
    }
}

/// A place between walls that asks something of the builder.
#[derive(Debug, Clone)]
pub struct WallCorner {
    /// Where it is in the profile, or in the outline of a lipped opening.
    pub at: Point,
    /// What the walls do there.
    pub kind: CornerKind,
    /// Where the outline stands in the description.
    pub place: Place,
}

/// What walls do at a corner or a tight curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CornerKind {
    /// They meet sharp.
    Sharp {
        /// The angle turned, radians, positive convex.
        turn: f64,
        /// How they meet.
        join: Join,
    },
    /// They go on in one piece round a blunt corner.
    HammeredRound {
        /// The angle turned, radians, positive convex.
        turn: f64,
    },
    /// One wall is cut apart, because its metal cannot follow the curve.
    CutApart {
        /// The outline's radius there, mm.
        radius: f64,
    },
}

impl Flat {
    /// A flat with no bends.
    #[must_use]
    pub fn plain(outside: Polyarc, openings: Vec<Polyarc>) -> Self {
        Self {
            net: outside.clone(),
            outside,
            openings,
            bends: Vec::new(),
            tree: None,
            bend_zones: Vec::new(),
            wall_lines: Vec::new(),
            scribes: Vec::new(),
            fold_marks: Vec::new(),
            forming: None,
            wall_corners: Vec::new(),
        }
    }

    /// Net area in mm²: the finished outline less the openings.
    #[must_use]
    pub fn net_area(&self) -> f64 {
        self.net.area() - self.openings.iter().map(Polyarc::area).sum::<f64>()
    }

    /// Area as cut in mm²: the outer cut less the openings.
    #[must_use]
    pub fn cut_area(&self) -> f64 {
        self.outside.area() - self.openings.iter().map(Polyarc::area).sum::<f64>()
    }

    /// Length of all cuts in mm.
    #[must_use]
    pub fn cut_length(&self) -> f64 {
        self.outside.length() + self.openings.iter().map(Polyarc::length).sum::<f64>()
    }

    /// Net mass in kg.
    #[must_use]
    pub fn mass(&self, thickness: Length, density: Density) -> f64 {
        self.net_area() * 1e-6 * density.sheet_kg_per_m2(thickness)
    }

    /// The blank of the other hand: mirrored in x. A bend toward the viewer stays one.
    #[must_use]
    pub fn other_hand(&self) -> Self {
        let mirror = OTHER_HAND;
        let chain = |line: &Vec<Segment>| line.iter().map(|s| s.moved(mirror)).collect::<Vec<_>>();
        let outlines = |all: &[Polyarc]| all.iter().map(|outline| outline.moved(mirror)).collect();
        Self {
            outside: self.outside.moved(mirror),
            net: self.net.moved(mirror),
            openings: outlines(&self.openings),
            bends: self
                .bends
                .iter()
                .map(|bend| FlatBend { line: bend.line.map(|p| mirror * p), ..bend.clone() })
                .collect(),
            tree: self.tree.as_ref().map(FoldTree::other_hand),
            bend_zones: self.bend_zones.iter().map(chain).collect(),
            wall_lines: self
                .wall_lines
                .iter()
                .map(|w| WallLine { line: chain(&w.line), up: w.up })
                .collect(),
            scribes: self.scribes.iter().map(chain).collect(),
            fold_marks: self
                .fold_marks
                .iter()
                .map(|mark| FoldMark {
                    bend: mark.bend,
                    lines: mark.lines.iter().map(|line| line.map(|p| mirror * p)).collect(),
                    held: mark.held.map(mirrored),
                })
                .collect(),
            forming: self.forming.clone().map(|forming| Forming {
                edge: forming
                    .edge
                    .iter()
                    .map(|e| EdgeStrain { at: mirror * e.at, net_at: mirror * e.net_at, ..*e })
                    .collect(),
                solved: forming.solved.into_iter().map(SolvedWalls::other_hand).collect(),
                darts: forming.darts.into_iter().map(Dart::other_hand).collect(),
                corners: forming
                    .corners
                    .into_iter()
                    .map(|corner| SharpCorner { at: mirror * corner.at, ..corner })
                    .collect(),
                ..forming
            }),
            wall_corners: self.wall_corners.clone(),
        }
    }
}

/// The openings of a part's description where they lie in its blank, in the order in which the flat
/// lists them and the edges of their lips.
#[must_use]
pub fn openings_of<'a>(part: &'a Part, flat: &'a Flat) -> Vec<&'a Opening> {
    match &flat.tree {
        Some(tree) => tree.faces.iter().flat_map(|face| &face.openings).collect(),
        None => part.kind.openings(),
    }
}

/// Lays a part out flat. Problems are those that leave nothing to cut; of what can be cut but
/// should not be, `check` speaks.
pub fn flatten(part: &Part) -> Checked<Flat> {
    match &part.kind {
        Kind::Plate(plate) => plate::flatten(part, plate),
        Kind::HalfShell(shell) => half_shell::flatten(part, shell),
        Kind::Bent(bent) => bent::flatten(part, bent_tree(part, bent)?),
        Kind::Folded(folded) => bent::flatten(part, folded_tree(part, folded)?),
    }
}
