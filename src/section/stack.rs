//! A section as a stack of thin slices: how far each skin of the sheet reaches at every height, and
//! what follows for area and inertia.
//!
//! A skin is the sheet's outside, its inside or the mid-line between. Its bend is walked by angle,
//! its wall by height, both at the nodes of Gauss's rule, so that arcs, straight strips and slopes
//! come out exact to rounding, whatever the outline does at each height.

use super::cut::{Crossing, Frame, Moved, Profile};
use crate::geom::GAUSS_8;
use crate::shell::Wall;

/// The same with 3 points: exact for the cubes of straight walls.
const GAUSS_3: [(f64, f64); 3] =
    [(-0.774_596_669_241_483_4, 5.0 / 9.0), (0.0, 8.0 / 9.0), (0.774_596_669_241_483_4, 5.0 / 9.0)];

/// One slice of a skin.
#[derive(Debug, Clone, Copy)]
pub(super) struct Slice {
    /// Plan distance from the profile in to the skin, mm.
    pub(super) inset: f64,
    /// Height above the seam plane, mm.
    pub(super) rise: f64,
    /// How much height it stands for, mm.
    pub(super) height: f64,
    /// How much of the skin's length it stands for in its section square to the edge, mm.
    pub(super) length: f64,
    /// Angle between the sheet there and the face, radians.
    pub(super) turn: f64,
    /// Thickness of the metal there, mm.
    pub(super) thickness: f64,
}

/// The sheet in its section square to the edge, up to the seam plane: the trim is cut off level
/// with it, and the seam's root gap is filled with weld as thick as the wall's end.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sheet {
    pub(super) wall: Wall,
    /// Half the root gap, mm.
    pub(super) half_gap: f64,
}

impl Sheet {
    /// Height of the face's outside above the seam plane, mm.
    pub(super) fn top(&self) -> f64 {
        self.wall.depth + self.half_gap
    }

    /// The slices of a skin, `share` of the thickness out from the inside: 0 the inside, 1/2 the
    /// mid-line, 1 the outside.
    fn slices(&self, share: f64) -> Vec<Slice> {
        let wall = &self.wall;
        let (t, n) = (wall.thickness, wall.bend_angle);
        let radius = wall.inside_radius + share * t;
        let centre = wall.inside_radius + t;
        let mut slices = Vec::with_capacity(14);
        for (node, weight) in GAUSS_8.into_iter().flat_map(|(x, w)| [(-x, w), (x, w)]) {
            let turn = n / 2.0 * (1.0 + node);
            let length = radius * n / 2.0 * weight;
            slices.push(Slice {
                inset: wall.tangent_inset() - radius * turn.sin(),
                rise: self.top() - (centre - radius * turn.cos()),
                height: length * turn.sin(),
                length,
                turn,
                thickness: t,
            });
        }
        let end_of_bend = centre - radius * n.cos();
        let straight = wall.depth - end_of_bend;
        // At the seam plane the skin stands this far in.
        let end_inset = (1.0 - share) * t / wall.lean().cos();
        for (node, weight) in GAUSS_3 {
            let depth = end_of_bend + straight / 2.0 * (1.0 + node);
            let height = straight / 2.0 * weight;
            slices.push(Slice {
                inset: end_inset + (wall.depth - depth) * wall.lean().tan(),
                rise: self.top() - depth,
                height,
                length: height / n.sin(),
                turn: n,
                thickness: t,
            });
        }
        if self.half_gap > 0.0 {
            for (node, weight) in GAUSS_3 {
                let height = self.half_gap / 2.0 * weight;
                slices.push(Slice {
                    inset: end_inset,
                    rise: self.half_gap / 2.0 * (1.0 + node),
                    height,
                    length: height,
                    turn: std::f64::consts::FRAC_PI_2,
                    thickness: t / wall.lean().cos(),
                });
            }
        }
        slices
    }
}

/// Area and its moments over both halves, about the station's origin in the seam plane; y across
/// the run, z square to the seam plane.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Moments {
    /// ∫ dA, mm².
    pub(super) area: f64,
    /// ∫ y dA, mm³.
    pub(super) y: f64,
    /// ∫ y² dA, mm⁴.
    pub(super) yy: f64,
    /// ∫ z² dA, mm⁴.
    pub(super) zz: f64,
}

impl Moments {
    /// Adds, in both halves, the strip up to the crossing at height `rise` that is `height` high. A
    /// crossing with the inside above it takes away what the one at the other end adds too much.
    fn add(&mut self, crossing: &Crossing, rise: f64, height: f64) {
        let sign = if crossing.inside_above { -2.0 } else { 2.0 };
        let (y, weight) = (crossing.y, sign * height);
        self.area += weight * y;
        self.y += weight * y * y / 2.0;
        self.yy += weight * y * y * y / 3.0;
        self.zz += weight * y * rise * rise;
    }

    /// Takes away, in both halves, the stretch from `low` to `high` of a face whose metal lies
    /// between the heights `under` and `over`.
    pub(super) fn cut_face(&mut self, (low, high): (f64, f64), (under, over): (f64, f64)) {
        let height = 2.0 * (over - under);
        self.area -= height * (high - low);
        self.y -= height * (high * high - low * low) / 2.0;
        self.yy -= height * (high.powi(3) - low.powi(3)) / 3.0;
        self.zz -= 2.0 * (high - low) * (over.powi(3) - under.powi(3)) / 3.0;
    }

    /// What is left of this without `other`.
    pub(super) fn less(&self, other: &Self) -> Self {
        Self {
            area: self.area - other.area,
            y: self.y - other.y,
            yy: self.yy - other.yy,
            zz: self.zz - other.zz,
        }
    }
}

/// A skin of the sheet round the profile: its slices, each with the outline at its inset.
#[derive(Debug)]
pub(super) struct Skin {
    slices: Vec<(Slice, usize)>,
    outlines: Vec<Moved>,
}

impl Skin {
    /// `share` as for [`Sheet::slices`]. None where the skin closes on itself.
    fn of(profile: &Profile, sheet: &Sheet, share: f64) -> Option<Self> {
        let mut skin = Self { slices: Vec::new(), outlines: Vec::<Moved>::new() };
        for slice in sheet.slices(share) {
            // A wall without draft has one outline at every height.
            if skin.outlines.last().is_none_or(|outline| outline.inset != slice.inset) {
                skin.outlines.push(profile.moved(slice.inset)?);
            }
            skin.slices.push((slice, skin.outlines.len() - 1));
        }
        Some(skin)
    }

    /// The slices with the places where the frame's line crosses them.
    pub(super) fn cut<'a>(
        &'a self,
        profile: &Profile,
        frame: &Frame,
    ) -> impl Iterator<Item = (&'a Slice, Vec<Crossing>)> {
        let crossings: Vec<_> =
            self.outlines.iter().map(|outline| profile.crossings(frame, outline)).collect();
        self.slices.iter().map(move |(slice, outline)| (slice, crossings[*outline].clone()))
    }

    /// What lies inside the skin.
    pub(super) fn inside(&self, profile: &Profile, frame: &Frame) -> Moments {
        let mut moments = Moments::default();
        for (slice, crossings) in self.cut(profile, frame) {
            for crossing in &crossings {
                moments.add(crossing, slice.rise, slice.height);
            }
        }
        moments
    }
}

/// The skins of a sheet round the profile.
#[derive(Debug)]
pub(super) struct Skins {
    pub(super) sheet: Sheet,
    pub(super) outside: Skin,
    pub(super) middle: Skin,
    pub(super) inside: Skin,
    /// The profile itself, at the seam plane.
    pub(super) edge: Moved,
    /// Where the face begins.
    pub(super) face: Moved,
}

impl Skins {
    /// None where one of them closes on itself.
    pub(super) fn of(profile: &Profile, sheet: Sheet) -> Option<Self> {
        Some(Self {
            outside: Skin::of(profile, &sheet, 1.0)?,
            middle: Skin::of(profile, &sheet, 0.5)?,
            inside: Skin::of(profile, &sheet, 0.0)?,
            edge: profile.moved(0.0)?,
            face: profile.moved(sheet.wall.tangent_inset())?,
            sheet,
        })
    }
}
