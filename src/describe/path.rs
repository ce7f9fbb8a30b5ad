//! Outlines walked once round, piece by piece.

use std::borrow::Cow;
use std::fmt;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Deserialize;
use serde::de::{self, Deserializer};

use super::yaml::{Allowed, At, Name, PointText, Quantity, Read, Reader};
use crate::geom::{FilletFailure, Loop, Point, Segment, Side, Vec2, fillet, natural_spline};
use crate::part::Outline;
use crate::problem::Code;
use crate::tolerance::SAME_POINT;
use crate::units::Length;

/// A piece of a path: a bare point, or keys.
#[derive(Debug, Clone, PartialEq)]
pub enum PathItemText {
    /// A bare `[x, y]`.
    Point(PointText),
    /// A piece with keys.
    Keys(PathKeysText),
}

impl<'de> Deserialize<'de> for PathItemText {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Visitor;
        impl<'de> de::Visitor<'de> for Visitor {
            type Value = PathItemText;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(
                    "a point such as [300, 60] or a piece such as {to: [300, 60], round: 12}",
                )
            }
            fn visit_seq<A: de::SeqAccess<'de>>(self, seq: A) -> Result<Self::Value, A::Error> {
                PointText::deserialize(de::value::SeqAccessDeserializer::new(seq))
                    .map(PathItemText::Point)
            }
            fn visit_map<A: de::MapAccess<'de>>(self, map: A) -> Result<Self::Value, A::Error> {
                PathKeysText::deserialize(de::value::MapAccessDeserializer::new(map))
                    .map(PathItemText::Keys)
            }
        }
        deserializer.deserialize_any(Visitor)
    }
}

impl JsonSchema for PathItemText {
    fn inline_schema() -> bool {
        true
    }
    fn schema_name() -> Cow<'static, str> {
        "PathItem".into()
    }
    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let (point, keys) =
            (generator.subschema_for::<PointText>(), generator.subschema_for::<PathKeysText>());
        json_schema!({ "anyOf": [point, keys] })
    }
}

/// A piece of a path with keys: `to`, or `through`.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PathKeysText {
    /// Where a line or an arc goes.
    pub to: Option<PointText>,
    /// Points that a smooth curve passes, the last one its end.
    pub through: Option<Vec<PointText>>,
    /// Radius of an arc under half a turn; positive turns left, negative right.
    pub arc: Option<Quantity>,
    /// A point that an arc passes on its way.
    pub via: Option<PointText>,
    /// Radius that rounds the corner at its end.
    pub round: Option<Quantity>,
    /// The name of this edge.
    pub edge: Option<Name>,
}

pub(super) fn path(reader: &mut Reader, items: &[PathItemText], at: &At) -> Read<Outline> {
    let mut pieces: Vec<Piece> = Vec::new();
    let mut edge_names = Vec::new();
    let mut start = None;
    let mut here = Point::ORIGIN;
    for (i, item) in items.iter().enumerate() {
        let at = at.item(i);
        let keys = match item {
            PathItemText::Point(point) => PathKeysText {
                to: Some(point.clone()),
                through: None,
                arc: None,
                via: None,
                round: None,
                edge: None,
            },
            PathItemText::Keys(keys) => keys.clone(),
        };
        if start.is_none() {
            here = path_start(reader, &keys, &at)?;
            start = Some(here);
            continue;
        }
        let edge = keys
            .edge
            .as_ref()
            .map(|name| edge_index(reader, &name.0, &mut edge_names, &at.key("edge")));
        let round = reader
            .length_or(keys.round.as_ref(), &at.key("round"), Allowed::ZeroOrMore, Length::ZERO)?
            .mm();
        // A bare point is a point of the list itself.
        let point_at =
            if matches!(item, PathItemText::Point(_)) { at.clone() } else { at.key("to") };
        let run = path_piece(reader, here, &keys, &at, &point_at)?;
        here = run.last().map_or(here, Segment::to);
        pieces.push(Piece { run, edge, round, at });
    }
    let Some(start) = start else {
        return Err(reader.refuse(
            at,
            Code::Outline,
            "this path is empty",
            "give its start and at least two more points",
        ));
    };
    let gap = here.distance(start);
    if gap > SAME_POINT {
        let run = vec![Segment::Line { from: here, to: start }];
        pieces.push(Piece { run, edge: None, round: 0.0, at: at.clone() });
    } else if let Some(last) = pieces.last_mut().and_then(|piece| piece.run.last_mut()) {
        last.end_at(start);
    }
    let sides = joined(reader, &pieces);
    if sides.len() < 2 {
        return Err(reader.refuse(
            at,
            Code::Outline,
            "this path encloses nothing",
            "give its start and at least two more points",
        ));
    }
    Ok(Outline { sides: Loop { sides }, edge_names, centreline: None })
}

/// One item of a path.
struct Piece {
    run: Vec<Segment>,
    edge: Option<usize>,
    round: f64,
    at: At,
}

fn path_start(reader: &mut Reader, keys: &PathKeysText, at: &At) -> Read<Point> {
    let only_a_point = keys.through.is_none()
        && keys.arc.is_none()
        && keys.via.is_none()
        && keys.round.is_none()
        && keys.edge.is_none();
    match &keys.to {
        Some(to) if only_a_point => reader.point(to, at),
        _ => Err(reader.refuse(
            at,
            Code::Choice,
            "a path begins with a bare point, its start",
            "such as `- [0, 0]`; round its corner on the last item",
        )),
    }
}

fn edge_index(reader: &mut Reader, name: &str, names: &mut Vec<String>, at: &At) -> usize {
    if let Some(i) = names.iter().position(|n| n == name) {
        let message = format!("two edges of this path are called `{name}`");
        reader.refuse(at, Code::DuplicateName, message, "give each edge a name of its own");
        return i;
    }
    names.push(name.to_owned());
    names.len() - 1
}

/// One item of a path as lines, arcs or curves from `here` on.
fn path_piece(
    reader: &mut Reader,
    here: Point,
    keys: &PathKeysText,
    at: &At,
    point_at: &At,
) -> Read<Vec<Segment>> {
    let to = match (&keys.to, &keys.through) {
        (Some(to), None) => reader.point(to, point_at)?,
        (None, Some(through)) => return through_points(reader, here, keys, through, at),
        _ => {
            let message = "a piece of a path goes `to` a point or `through` points";
            return Err(reader.refuse(
                at,
                Code::Choice,
                message,
                "give exactly one of `to` and `through`",
            ));
        }
    };
    if to.distance(here) <= SAME_POINT {
        let message = "this piece of the path ends where it begins";
        return Err(reader.refuse(
            point_at,
            Code::Outline,
            message,
            "drop it, or go somewhere else",
        ));
    }
    match (&keys.arc, &keys.via) {
        (None, None) => Ok(vec![Segment::Line { from: here, to }]),
        (Some(_), Some(_)) => Err(reader.refuse(
            at,
            Code::Choice,
            "an arc is given by its radius or by a point on its way",
            "drop `arc` or `via`",
        )),
        (Some(arc), None) => {
            let radius = reader.length(arc, &at.key("arc"), Allowed::Any)?.mm();
            let chord = here.distance(to);
            if radius.abs() < chord / 2.0 * (1.0 - 1e-9) {
                let least = reader.shown_unit().show(Length::from_mm(chord / 2.0));
                let message = "this arc's radius is too small to reach its end";
                let help = format!(
                    "it must be {least} at least; for more than half a turn give a point with `via`"
                );
                return Err(reader.refuse(&at.key("arc"), Code::NoRoom, message, help));
            }
            let half_angle = (chord / 2.0 / radius.abs()).min(1.0).asin();
            Ok(vec![Segment::Arc {
                from: here,
                to,
                bulge: (half_angle / 2.0).tan() * radius.signum(),
            }])
        }
        (None, Some(via)) => {
            let via = reader.point(via, &at.key("via"))?;
            arc_through(here, via, to).ok_or_else(|| {
                let help = "put `via` between its ends and off the line between them";
                reader.refuse(&at.key("via"), Code::Outline, "these three points give no arc", help)
            })
        }
    }
}

/// A smooth curve as a piece of a path.
fn through_points(
    reader: &mut Reader,
    here: Point,
    keys: &PathKeysText,
    through: &[PointText],
    at: &At,
) -> Read<Vec<Segment>> {
    if keys.arc.is_some() || keys.via.is_some() {
        let message = "`through` makes a smooth curve; `arc` and `via` do not go with it";
        return Err(reader.refuse(at, Code::Choice, message, "drop them"));
    }
    let at = at.key("through");
    let mut points = vec![here];
    for (i, point) in through.iter().enumerate() {
        points.push(reader.point(point, &at.item(i))?);
    }
    curve(reader, &points, &at)
}

/// The natural cubic spline through the points.
pub(super) fn curve(reader: &mut Reader, points: &[Point], at: &At) -> Read<Vec<Segment>> {
    if points.len() < 2 {
        return Err(reader.refuse(
            at,
            Code::Outline,
            "this curve has no points",
            "give at least one",
        ));
    }
    if let Some(i) = points.windows(2).position(|pair| pair[0].distance(pair[1]) <= SAME_POINT) {
        return Err(reader.refuse(
            &at.item(i),
            Code::Outline,
            "two points of this curve are in one place",
            "drop one of them",
        ));
    }
    let direction = (points[points.len() - 1] - points[0]).normalize();
    let straight = points.windows(2).all(|pair| {
        let step = pair[1] - pair[0];
        step.cross(direction).abs() <= 1e-9 * step.hypot() && step.dot(direction) > 0.0
    });
    if straight || points.len() == 2 {
        return Ok(vec![Segment::Line { from: points[0], to: points[points.len() - 1] }]);
    }
    Ok(natural_spline(points).into_iter().map(Segment::Curve).collect())
}

/// The pieces with their corners rounded.
fn joined(reader: &mut Reader, pieces: &[Piece]) -> Vec<Side> {
    let n = pieces.len();
    let mut spans: Vec<(f64, f64)> =
        pieces.iter().map(|piece| (0.0, piece.run.len() as f64)).collect();
    let mut rounds = vec![None; n];
    for i in 0..n {
        let next = (i + 1) % n;
        if pieces[i].round == 0.0 || n == 1 {
            continue;
        }
        let at = pieces[i].at.key("round");
        match fillet(&pieces[i].run, &pieces[next].run, pieces[i].round) {
            Ok((leaves, joins)) => {
                spans[i].1 = leaves;
                spans[next].0 = joins;
                rounds[i] = Some(pieces[i].round);
            }
            Err(FilletFailure::NoCorner) => {
                reader.refuse(
                    &at,
                    Code::NoRoom,
                    "there is no corner here to round",
                    "drop `round`: the pieces run on into each other",
                );
            }
            Err(FilletFailure::TooLarge { largest }) => {
                let largest = reader.shown_unit().show(Length::from_mm(largest));
                let message = "this round is larger than the corner allows";
                reader.refuse(
                    &at,
                    Code::NoRoom,
                    message,
                    format!("between these two pieces it can be about {largest} at most"),
                );
            }
        }
    }
    let mut sides = Vec::new();
    for (i, piece) in pieces.iter().enumerate() {
        let (from, to) = spans[i];
        if from > to + 1e-9 {
            let message = "the rounds at both ends of this piece overlap";
            reader.refuse(
                &piece.at,
                Code::NoRoom,
                message,
                "make one of them smaller, or the piece longer",
            );
            continue;
        }
        for (k, segment) in piece.run.iter().enumerate() {
            let (start, end) = ((from - k as f64).max(0.0), (to - k as f64).min(1.0));
            if start < end && segment.between(start, end).length() > SAME_POINT {
                let whole = start == 0.0 && end == 1.0;
                let segment = if whole { *segment } else { segment.between(start, end) };
                sides.push(Side { segment, edge: piece.edge });
            }
        }
        if rounds[i].is_some() {
            let next = (i + 1) % n;
            let (end, join) =
                (point_on(&piece.run, to), point_on(&pieces[next].run, spans[next].0));
            let (t0, t1) = (end.1, join.1);
            let bulge = (t0.cross(t1).atan2(t0.dot(t1)) / 4.0).tan();
            sides.push(Side {
                segment: Segment::Arc { from: end.0, to: join.0, bulge },
                edge: None,
            });
        }
    }
    // What a round cut off leaves its neighbour to start exactly where it ends.
    for i in 0..sides.len() {
        let start = sides[(i + 1) % sides.len()].segment.from();
        sides[i].segment.end_at(start);
    }
    sides
}

fn point_on(run: &[Segment], place: f64) -> (Point, Vec2) {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "0 <= place <= length of the run"
    )]
    let i = (place.max(0.0) as usize).min(run.len() - 1);
    (run[i].point_at(place - i as f64), run[i].tangent_at(place - i as f64))
}

/// The arc from `from` by `via` to `to`; two arcs where it turns through more than half a circle.
fn arc_through(from: Point, via: Point, to: Point) -> Option<Vec<Segment>> {
    let (a, b) = (via - from, to - via);
    let cross = a.cross(b);
    if cross.abs() <= 1e-9 * a.hypot() * b.hypot()
        || from.distance(via) <= SAME_POINT
        || via.distance(to) <= SAME_POINT
    {
        return None;
    }
    // The angle over a chord as seen from the circle is half the angle at its centre.
    let half_sweep = cross.atan2(a.dot(b));
    let bulge = (half_sweep / 2.0).tan();
    if bulge.abs() <= 1.0 {
        return Some(vec![Segment::Arc { from, to, bulge }]);
    }
    let (first, second) = (chord_bulge(to, from, via), chord_bulge(from, via, to));
    Some(vec![
        Segment::Arc { from, to: via, bulge: first },
        Segment::Arc { from: via, to, bulge: second },
    ])
}

/// Bulge of the arc from `from` to `to` on the circle that also passes `other`, on the side away
/// from it.
fn chord_bulge(other: Point, from: Point, to: Point) -> f64 {
    let (a, b) = (from - other, to - other);
    (a.cross(b).atan2(a.dot(b)) / 2.0).tan()
}
