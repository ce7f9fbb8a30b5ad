//! Reliefs: what is cut out where bends meet or end inside an edge, so that no metal is torn.

use super::corner::Corner;
use super::fold_tree::ReliefCut;
use crate::geom::{Point, Polyarc, Segment, Vertex, left_of};
use crate::part::Relief;

/// Width of a slit, mm: narrower than any cut, so that the torch makes it in one pass.
pub(super) const SLIT: f64 = 0.3;

/// A relief with the number of the bend it does not clear, when it clears not all.
pub(super) type Short = (usize, f64);

/// How far a relief of the program's own goes past the tangent lines, mm: half the thickness, at
/// least 0.8 mm; 1/32 to 1/16 in is aircraft practice (common practice, no source).
fn past(thickness: f64) -> f64 {
    (thickness / 2.0).max(0.8)
}

/// Diameter of a hole of the program's own where bends meet, mm: 1/8 in up to 0.064 in of sheet,
/// 3/16 in above, at least the inside radius. Aircraft practice for light alloys (common practice,
/// no source).
fn hole_diameter(thickness: f64, radius: f64) -> f64 {
    let least: f64 = if thickness <= 1.63 { 3.2 } else { 4.8 };
    least.max(radius)
}

/// The relief of a corner, with setback and inside radius of its two bends; none if none is asked
/// for.
pub(super) fn at_corner(
    corner: &Corner,
    relief: Relief,
    setbacks: [f64; 2],
    radius: f64,
    thickness: f64,
) -> Result<Option<ReliefCut>, Short> {
    let widest = setbacks[0].max(setbacks[1]);
    let to_meet = corner.meet - corner.mould;
    let hole =
        |diameter: f64| (Polyarc::circle(corner.meet, diameter / 2.0), [diameter / 2.0; 2], "hole");
    let slot = |width: f64, depth: f64, shape: &'static str| {
        let share = depth / widest;
        let along = to_meet.normalize();
        let across = left_of(along) * (width / 2.0);
        let end = corner.mould + to_meet * share - along * (width / 2.0);
        let vertices = vec![
            Vertex { point: corner.mould - across, bulge: 0.0 },
            Vertex { point: end - across, bulge: 1.0 },
            Vertex { point: end + across, bulge: 0.0 },
            Vertex { point: corner.mould + across, bulge: 0.0 },
        ];
        (
            Polyarc { vertices }.counter_clockwise(),
            setbacks.map(|setback| setback * (share - 1.0)),
            shape,
        )
    };
    let (outline, clears, shape) = match relief {
        Relief::None => return Ok(None),
        Relief::Auto => hole(hole_diameter(thickness, radius)),
        Relief::Hole(diameter) => hole(diameter.mm()),
        Relief::Slot(width, depth) => slot(width.mm(), depth.mm(), "slot"),
        Relief::Slit => slot(SLIT, widest + past(thickness) + SLIT / 2.0, "slit"),
        Relief::Notch(width, depth) => {
            // Depths from the mould lines before and after the corner.
            let depths = [width.mm(), depth.mm()];
            let [one, two] = corner.ways;
            let sine = one.cross(two);
            let (along_one, along_two) = (one * (depths[1] / sine), two * (depths[0] / sine));
            let points = [
                corner.mould,
                corner.mould + along_two,
                corner.mould + along_two - along_one,
                corner.mould - along_one,
            ];
            (
                Polyarc::polygon(points).counter_clockwise(),
                [depths[0] - setbacks[0], depths[1] - setbacks[1]],
                "notch",
            )
        }
    };
    if let Some(i) = (0..2).find(|i| clears[*i] <= 0.0) {
        return Err((corner.bends[i], -clears[i]));
    }
    let clearance = clears[0].min(clears[1]);
    Ok(Some(ReliefCut {
        outline,
        bends: corner.bends.to_vec(),
        clearance,
        shape,
        in_outlines: false,
    }))
}

/// Width along the edge of the relief beside a bend's end, mm. A slot of the program's own is one
/// thickness wide; bending guidelines ask for 0.8 T (common practice), and below 1.5 mm a torch
/// closes it again.
pub(super) fn width_of(relief: Relief, thickness: f64) -> f64 {
    match relief {
        Relief::Auto => thickness.max(1.5),
        Relief::None | Relief::Slit => SLIT,
        Relief::Hole(width) | Relief::Slot(width, _) | Relief::Notch(width, _) => width.mm(),
    }
}

/// The relief beside the end of a bend that ends inside its edge.
pub(super) struct BesideEnd {
    /// Width of the cut along the edge, mm.
    pub(super) width: f64,
    pub(super) relief: ReliefCut,
    /// The face's edge from the mould line, `width` from the bend's end, round the cut to the
    /// tangent line.
    pub(super) pieces: Vec<Segment>,
}

/// The relief beside the end of bend `bend`; `at` gives the point so far beside that end and so far
/// in from the mould line. The edge has `room`.
pub(super) fn beside_end(
    relief: Relief,
    (bend, setback): (usize, f64),
    thickness: f64,
    room: f64,
    at: &dyn Fn(f64, f64) -> Point,
) -> Result<BesideEnd, Short> {
    let width = width_of(relief, thickness).min(room);
    let (depth, shape) = match relief {
        Relief::Auto => (setback + past(thickness).max(width / 2.0), "slot"),
        // Without a relief the metal beside the bend still has to come apart, up to the tangent
        // line.
        Relief::None => (setback, "none"),
        Relief::Slit => (setback + past(thickness), "slit"),
        Relief::Hole(diameter) => (setback + diameter.mm() / 2.0, "hole"),
        Relief::Slot(_, depth) => (depth.mm(), "slot"),
        Relief::Notch(_, depth) => (depth.mm(), "notch"),
    };
    let is_round = matches!(shape, "slot" | "hole");
    let straight = if is_round { depth - width / 2.0 } else { depth };
    if straight < setback - 1e-9 {
        return Err((bend, setback - straight));
    }
    let corners = [at(width, 0.0), at(width, straight), at(0.0, straight), at(0.0, setback)];
    let mut pieces = vec![Segment::Line { from: corners[0], to: corners[1] }];
    // The round end bulges into the face.
    let inward = at(0.0, 1.0) - at(0.0, 0.0);
    let bulge = if (corners[2] - corners[1]).cross(inward) > 0.0 { -1.0 } else { 1.0 };
    pieces.push(if is_round {
        Segment::Arc { from: corners[1], to: corners[2], bulge }
    } else {
        Segment::Line { from: corners[1], to: corners[2] }
    });
    pieces.push(Segment::Line { from: corners[2], to: corners[3] });
    pieces.retain(|piece| piece.from().distance(piece.to()) > 1e-9);
    let outline = Polyarc {
        vertices: [corners[0], corners[1], corners[2], at(0.0, 0.0)]
            .into_iter()
            .enumerate()
            .map(|(i, point)| Vertex { point, bulge: if is_round && i == 1 { bulge } else { 0.0 } })
            .collect(),
    };
    let relief = ReliefCut {
        outline: outline.counter_clockwise(),
        bends: vec![bend],
        clearance: depth - setback,
        shape,
        in_outlines: true,
    };
    Ok(BesideEnd { width, relief, pieces })
}
