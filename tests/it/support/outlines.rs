//! Outlines that tests make up, and how outlines are compared.

use std::fmt::Write as _;

use planish::geom::{Affine, Point, Polyarc, Segment, distance_to};

use super::dice::Dice;

/// One side of a made-up outline, from its corner to the next one.
#[derive(Debug, Clone)]
pub(crate) enum Way {
    /// Straight.
    Straight,
    /// An arc of that radius, positive to the left.
    Arc(f64),
    /// A smooth curve through these points.
    Through(Vec<Point>),
}

/// A made-up outline: corner, round of the corner, way to the next corner, name of that side.
#[derive(Debug, Clone)]
pub(crate) struct Walk(pub(crate) Vec<(Point, f64, Way, Option<String>)>);

impl Walk {
    /// Straight sides between corners, all rounded alike.
    pub(crate) fn polygon(corners: &[(f64, f64)], round: f64) -> Self {
        Self(corners.iter().map(|&c| (Point::from(c), round, Way::Straight, None)).collect())
    }

    /// The same outline begun at corner `first`.
    pub(crate) fn begun_at(&self, first: usize) -> Self {
        let mut all = self.0.clone();
        all.rotate_left(first);
        Self(all)
    }

    /// The same outline walked the other way.
    pub(crate) fn reversed(&self) -> Self {
        let n = self.0.len();
        let corner = |i: usize| &self.0[(n - i) % n];
        let way = |i: usize| &self.0[n - 1 - i];
        Self(
            (0..n)
                .map(|i| {
                    let turned = match &way(i).2 {
                        Way::Straight => Way::Straight,
                        Way::Arc(radius) => Way::Arc(-radius),
                        Way::Through(points) => {
                            Way::Through(points.iter().rev().copied().collect())
                        }
                    };
                    (corner(i).0, corner(i).1, turned, way(i).3.clone())
                })
                .collect(),
        )
    }

    /// The outline moved, turned or mirrored.
    pub(crate) fn moved(&self, motion: Affine) -> Self {
        let hand = motion.determinant().signum();
        let moved = |(at, round, way, name): &(Point, f64, Way, Option<String>)| {
            let way = match way {
                Way::Straight => Way::Straight,
                Way::Arc(radius) => Way::Arc(radius * hand),
                Way::Through(points) => Way::Through(points.iter().map(|p| motion * *p).collect()),
            };
            (motion * *at, *round, way, name.clone())
        };
        Self(self.0.iter().map(moved).collect())
    }

    /// The outline as a description's `path`, lengths times `scale`.
    pub(crate) fn yaml(&self, scale: f64) -> String {
        let at = |p: Point| format!("[{:.13}, {:.13}]", p.x * scale, p.y * scale);
        let n = self.0.len();
        let mut text = format!("{{path: [{}", at(self.0[0].0));
        for i in 0..n {
            let (_, _, way, name) = &self.0[i];
            let (to, round, ..) = &self.0[(i + 1) % n];
            match way {
                Way::Straight => write!(text, ", {{to: {}", at(*to)),
                Way::Arc(radius) => {
                    write!(text, ", {{to: {}, arc: {:.13}", at(*to), radius * scale)
                }
                Way::Through(points) => {
                    let all: Vec<String> = points.iter().chain([to]).map(|p| at(*p)).collect();
                    write!(text, ", {{through: [{}]", all.join(", "))
                }
            }
            .expect("a string takes all");
            if *round > 0.0 {
                write!(text, ", round: {:.13}", round * scale).expect("a string takes all");
            }
            if let Some(name) = name {
                write!(text, ", edge: {name}").expect("a string takes all");
            }
            text.push('}');
        }
        text + "]}"
    }

    /// A convex polygon of `count` rounded corners on an ellipse of about `size` mm half axis.
    pub(crate) fn convex(dice: &mut Dice, count: u32, size: f64, round: f64) -> Self {
        let aspect = dice.between(0.6, 1.0);
        let step = std::f64::consts::TAU / f64::from(count);
        let corners: Vec<(f64, f64)> = (0..count)
            .map(|i| {
                let angle = step * (f64::from(i) + dice.between(-0.2, 0.2));
                (size * angle.cos(), size * aspect * angle.sin())
            })
            .collect();
        Self::polygon(&corners, round)
    }
}

/// How far the one outline strays from the other, at worst: from every corner and middle of `a` to
/// `b`, and the other way.
pub(crate) fn stray(a: &Polyarc, b: &Polyarc) -> f64 {
    let one_way = |a: &Polyarc, b: &Polyarc| {
        let places =
            a.segments().flat_map(|s| [s.point_at(0.0), s.point_at(0.37), s.point_at(0.5)]);
        places.map(|p| distance_to(b, p)).fold(0.0, f64::max)
    };
    one_way(a, b).max(one_way(b, a))
}

/// The largest angle, degrees, by which an outline turns at one of its vertices.
pub(crate) fn sharpest(outline: &Polyarc) -> (f64, Point) {
    let sides: Vec<Segment> = outline.segments().collect();
    (0..sides.len())
        .map(|i| {
            let (before, after) =
                (sides[i].tangent_at(1.0), sides[(i + 1) % sides.len()].tangent_at(0.0));
            (before.cross(after).atan2(before.dot(after)).to_degrees().abs(), sides[i].to())
        })
        .fold((0.0, Point::ORIGIN), |a, b| if b.0 > a.0 { b } else { a })
}
