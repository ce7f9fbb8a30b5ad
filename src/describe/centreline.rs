//! Outlines of a line with a width: its two edges and its square ends.

use std::ops::Range;

use kurbo::{CurveFitSample, ParamCurveFit, fit_to_bezpath};
use schemars::JsonSchema;
use serde::Deserialize;

use super::path::curve;
use super::stations::{along_the_part, smooth_between, station_place};
use super::yaml::{Allowed, At, ListOr, Name, PointText, Quantity, Read, Reader};
use crate::geom::{Chain, Loop, MonotoneCurve, Point, Segment, Side, Vec2, left_of, segments_of};
use crate::part::Outline;
use crate::problem::Code;
use crate::tolerance::{SAME_POINT, SHIFTED_CURVE};
use crate::units::Length;

/// A line with a width.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CentrelineText {
    /// The points that the line passes.
    pub through: Vec<PointText>,
    /// The width, or a list of {at, width} along the line.
    pub width: ListOr<WidthStationText, Quantity>,
    /// How the width runs between stations: smooth (default) or straight, with a kink at each.
    pub between: Option<Name>,
}

/// A width at a distance along the line.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct WidthStationText {
    /// Distance along the line from its first point, or `end` for its last.
    pub at: Quantity,
    /// The width of the outline at that distance, square to the line: a length above 0.
    pub width: Quantity,
}

/// The edges of a centreline outline, in the order of `Outline::edge_names`.
const EDGES: [&str; 4] = ["start", "right", "end", "left"];

pub(super) fn centreline(reader: &mut Reader, text: &CentrelineText, at: &At) -> Read<Outline> {
    let through = at.key("through");
    let mut points = Vec::new();
    for (i, point) in text.through.iter().enumerate() {
        points.push(reader.point(point, &through.item(i))?);
    }
    if points.len() < 2 {
        return Err(reader.refuse(
            &through,
            Code::Outline,
            "a centreline needs two points at least",
            "give its start and its end",
        ));
    }
    let line = Chain::open(curve(reader, &points, &through)?);
    let width = widths(reader, text, line.length(), at)?;
    let mut right = Vec::new();
    let mut left = Vec::new();
    for stretch in stretches(&line, width.places()) {
        for (side, edge) in [(-1.0, &mut right), (1.0, &mut left)] {
            let edge_curve = EdgeCurve { segment: stretch.0, from: stretch.1, width: &width, side };
            if let Some(place) = edge_curve.folds_over() {
                let shown = reader.shown_unit().show(Length::from_mm(place));
                let message =
                    format!("this line curves tighter than half its width, {shown} along it");
                return Err(reader.refuse(
                    at,
                    Code::NoRoom,
                    message,
                    "make it narrower there, or its curve wider",
                ));
            }
            edge.extend(edge_curve.segments());
        }
    }
    let (start, end) = (
        (left[0].from(), right[0].from()),
        (right[right.len() - 1].to(), left[left.len() - 1].to()),
    );
    let side = |edge: usize| move |segment: Segment| Side { segment, edge: Some(edge) };
    let mut sides = vec![side(0)(Segment::Line { from: start.0, to: start.1 })];
    sides.extend(right.into_iter().map(side(1)));
    sides.push(side(2)(Segment::Line { from: end.0, to: end.1 }));
    sides.extend(left.into_iter().rev().map(|segment| side(3)(segment.reversed())));
    let edge_names = EDGES.map(str::to_owned).to_vec();
    Ok(Outline { sides: Loop { sides }, edge_names, centreline: Some(line) })
}

/// The width along the line.
fn widths(reader: &mut Reader, text: &CentrelineText, length: f64, at: &At) -> Read<MonotoneCurve> {
    let width_at = at.key("width");
    let list = match &text.width {
        ListOr::One(width) => {
            let width = reader.length(width, &width_at, Allowed::Positive)?.mm();
            return Ok(MonotoneCurve::straight(&[(0.0, width)]));
        }
        ListOr::List(list) => list,
    };
    let mut stations = Vec::new();
    for (i, station) in list.iter().enumerate() {
        let at = width_at.item(i);
        let place = station_place(reader, &station.at, &at.key("at"), length);
        let width = reader.length(&station.width, &at.key("width"), Allowed::Positive);
        stations.push((place?, width?.mm()));
    }
    let is_smooth = smooth_between(reader, text.between.as_ref(), at, true)?;
    along_the_part(reader, stations, (0.0, length), is_smooth, &width_at)
}

/// The line cut at every station, each stretch with the distance along the line at which it starts.
fn stretches(line: &Chain, places: &[f64]) -> Vec<(Segment, f64)> {
    let mut all = Vec::new();
    for (i, segment) in line.pieces().iter().enumerate() {
        let (before, length) = (line.starts()[i], segment.length());
        let mut cuts = vec![0.0];
        cuts.extend(
            places
                .iter()
                .map(|p| p - before)
                .filter(|p| *p > SAME_POINT && *p < length - SAME_POINT)
                .map(|p| segment.parameter_at(p)),
        );
        cuts.push(1.0);
        for pair in cuts.windows(2) {
            let whole = pair[0] == 0.0 && pair[1] == 1.0;
            let part = if whole { *segment } else { segment.between(pair[0], pair[1]) };
            all.push((part, line.along(i, pair[0])));
        }
    }
    all
}

/// One edge of a stretch of the line.
struct EdgeCurve<'a> {
    segment: Segment,
    from: f64,
    width: &'a MonotoneCurve,
    /// +1 for the left edge, -1 for the right one.
    side: f64,
}

impl EdgeCurve<'_> {
    /// Point, and derivative over the segment's parameter.
    fn at(&self, u: f64) -> (Point, Vec2) {
        let place = self.from + self.segment.between(0.0, u).length();
        let (point, tangent) = (self.segment.point_at(u), self.segment.tangent_at(u));
        let speed = self.segment.velocity_at(u).hypot();
        let half = self.width.value_at(place) / 2.0 * self.side;
        let h = 1e-4;
        // The slope within this stretch: one-sided at its ends, where a station may make a kink.
        let (a, b) =
            ((place - h).max(self.from), (place + h).min(self.from + self.segment.length()));
        let slope = if b > a {
            (self.width.value_at(b) - self.width.value_at(a)) / (b - a) / 2.0 * self.side
        } else {
            0.0
        };
        let normal = left_of(tangent);
        let velocity = tangent * (1.0 - half * self.segment.curvature_at(u)) + normal * slope;
        (point + normal * half, velocity * speed)
    }

    /// Where the edge would run backwards, as distance along the line.
    fn folds_over(&self) -> Option<f64> {
        (0..=64).map(|i| f64::from(i) / 64.0).find_map(|u| {
            let place = self.from + self.segment.between(0.0, u).length();
            let half = self.width.value_at(place) / 2.0 * self.side;
            (half * self.segment.curvature_at(u) > 0.98).then_some(place)
        })
    }

    /// Whether the width changes evenly along the stretch.
    fn has_even_slope(&self) -> bool {
        let (from, to) = (self.at(0.0).0, self.at(1.0).0);
        (1..8).all(|i| {
            (self.at(f64::from(i) / 8.0).0 - from).cross(to - from).abs()
                < 1e-9 * (to - from).hypot()
        })
    }

    fn segments(&self) -> Vec<Segment> {
        if self.segment.is_straight() && self.has_even_slope() {
            return vec![Segment::Line { from: self.at(0.0).0, to: self.at(1.0).0 }];
        }
        segments_of(&fit_to_bezpath(self, SHIFTED_CURVE))
    }
}

impl ParamCurveFit for EdgeCurve<'_> {
    fn sample_pt_tangent(&self, t: f64, _sign: f64) -> CurveFitSample {
        let (p, tangent) = self.at(t);
        CurveFitSample { p, tangent }
    }

    fn sample_pt_deriv(&self, t: f64) -> (Point, Vec2) {
        self.at(t)
    }

    fn break_cusp(&self, _range: Range<f64>) -> Option<f64> {
        None
    }
}
