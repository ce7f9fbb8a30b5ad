//! Stations: named lines square to the part's run, the same on blank, buck and plate.

use crate::flat::half_shell::has_wall;
use crate::geom::{Affine, Loop, OTHER_HAND, Point, Polyarc, Vec2, left_of, mirrored};
use crate::part::HalfShell;
use crate::shell::{EdgeStrain, FormedFace};
use crate::tolerance::SAME_POINT;
use crate::units::{Digits, Length, LengthUnit};

/// A station.
#[derive(Debug, Clone, PartialEq)]
pub struct Station {
    /// Its name, such as `S150`.
    pub name: String,
    /// Its distance along the part, mm.
    pub at: f64,
    /// A point on it.
    pub origin: Point,
    /// The direction across the part.
    pub across: Vec2,
    /// Where it lies in the flat, for a face that is not level.
    pub flat: Option<FlatStation>,
}

/// A station in the flat of a shell whose face is not level.
#[derive(Debug, Clone, PartialEq)]
pub struct FlatStation {
    /// Where it meets the finished edges, each with the unit direction down the wall's metal,
    /// toward the face.
    pub marks: Vec<(Point, Vec2)>,
    /// A point on it where it crosses the face.
    pub origin: Point,
}

impl FlatStation {
    /// The same on the other hand.
    #[must_use]
    pub fn other_hand(&self) -> Self {
        let marks = self.marks.iter().map(|(at, inward)| (OTHER_HAND * *at, mirrored(*inward)));
        Self { marks: marks.collect(), origin: OTHER_HAND * self.origin }
    }
}

impl Station {
    /// The same on the other hand.
    #[must_use]
    pub fn other_hand(&self) -> Self {
        Self {
            origin: OTHER_HAND * self.origin,
            across: mirrored(self.across),
            flat: self.flat.as_ref().map(FlatStation::other_hand),
            ..self.clone()
        }
    }

    /// Where the station crosses an outline, from its right side to its left.
    #[must_use]
    pub fn crossings(&self, outline: &Polyarc) -> Vec<Point> {
        // Turned so that the station stands upright at x = 0.
        let angle = std::f64::consts::FRAC_PI_2 - self.across.atan2();
        let motion = Affine::rotate(angle) * Affine::translate(-self.origin.to_vec2());
        let back = motion.inverse();
        let heights = Loop::of(&outline.moved(motion), None).heights_at(0.0);
        heights.into_iter().map(|y| back * Point::new(0.0, y)).collect()
    }
}

/// The name of the station at `at` mm along the run, in the file's own unit: `S50`, or `S2 in`.
#[must_use]
pub fn station_name(at: f64, unit: LengthUnit) -> String {
    match unit {
        LengthUnit::Millimetre => format!("S{}", Digits(at, 1)),
        LengthUnit::Inch => format!("S{} in", Digits(Length::from_mm(at).inches(), 3)),
    }
}

/// The stations of a shell whose buck has `outline`: every pitch along x, or along the centreline.
#[must_use]
pub fn stations_of(shell: &HalfShell, outline: &Polyarc, unit: LengthUnit) -> Vec<Station> {
    let pitch = shell.buck.stations.mm();
    let name = |at: f64| station_name(at, unit);
    if let Some(line) = &shell.profile.centreline {
        return steps(0.0, line.length(), pitch)
            .filter_map(|at| {
                let (origin, along) = line.at(at)?;
                Some(Station { name: name(at), at, origin, across: left_of(along), flat: None })
            })
            .collect();
    }
    let bounds = outline.bounds();
    steps(bounds.x0, bounds.x1, pitch)
        .map(|at| Station {
            name: name(at),
            at,
            origin: Point::new(at, 0.0),
            across: Vec2::new(0.0, 1.0),
            flat: None,
        })
        .collect()
}

/// Multiples of `pitch` inside the range, two thousand at most.
fn steps(from: f64, to: f64, pitch: f64) -> impl Iterator<Item = f64> {
    let first = (from / pitch + 1e-6).ceil();
    let count = ((to / pitch - 1e-6).floor() - first + 1.0).clamp(0.0, 2000.0);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to 0..=2000"
    )]
    let count = count as u32;
    (0..count).map(move |i| (first + f64::from(i)) * pitch)
}

/// Where a station of a shell whose face is not level lies in the flat; `edge` are the free edges
/// in order along the profile.
pub(super) fn in_the_flat(
    shell: &HalfShell,
    face: &FormedFace,
    edge: &[EdgeStrain],
    station: &Station,
) -> FlatStation {
    let mut marks: Vec<(f64, Point, Vec2)> = Vec::new();
    let outline = shell.profile.sides.chain();
    for (i, segment) in outline.pieces().iter().enumerate() {
        let beside = |u: f64| (segment.point_at(u) - station.origin).cross(station.across);
        let steps = if segment.is_straight() { 1 } else { 64 };
        for k in (0..steps).filter(|_| has_wall(shell, i)) {
            let (mut low, mut high) =
                (f64::from(k) / f64::from(steps), f64::from(k + 1) / f64::from(steps));
            if (beside(low) < 0.0) == (beside(high) < 0.0) {
                continue;
            }
            let rising = beside(low) < 0.0;
            for _ in 0..60 {
                let middle = f64::midpoint(low, high);
                if (beside(middle) < 0.0) == rising { low = middle } else { high = middle }
            }
            let along = outline.along(i, low);
            let within = |pair: &&[EdgeStrain]| {
                pair[0].along <= along + SAME_POINT && along <= pair[1].along + SAME_POINT
            };
            let Some(pair) =
                edge.windows(2).find(|pair| pair[1].along > pair[0].along && within(pair))
            else {
                continue;
            };
            let share = (along - pair[0].along) / (pair[1].along - pair[0].along);
            let across = (segment.point_at(low) - station.origin).dot(station.across);
            marks.push((
                across,
                pair[0].net_at.lerp(pair[1].net_at, share),
                left_of((pair[1].net_at - pair[0].net_at).normalize()),
            ));
        }
    }
    marks.sort_by(|a, b| a.0.total_cmp(&b.0));
    FlatStation {
        marks: marks.into_iter().map(|(_, at, inward)| (at, inward)).collect(),
        origin: face.flat_of(station.origin),
    }
}
