//! The middle of the kerf: edges moved off the metal that is kept.

use crate::geom::{Point, Polyarc, Segment, Vertex, distance_to, offset_closed};
use crate::tolerance::{SHORTEST_PIECE, TORCH_OFF_EDGE};

/// A closed line that the middle of the torch follows.
#[derive(Debug, Clone, PartialEq)]
pub struct TorchPath {
    /// The line, counter-clockwise.
    pub outline: Polyarc,
    /// Whether the metal that is kept lies inside it.
    pub around: bool,
}

/// The lines half a kerf off a counter-clockwise edge, on the side of the waste, the longest first;
/// and whether they follow all of it. None where the torch is too wide for any of an opening.
///
/// Wherever such a line runs it is half the kerf from the edge; sharp outer corners are rounded by
/// an arc about them, and what the torch cannot get into is left out. An outer edge with a bay
/// whose mouth is narrower than the kerf gives the bay as a line of its own.
#[must_use]
pub fn torch_paths(edge: &Polyarc, opening: bool, kerf: f64) -> (Vec<TorchPath>, bool) {
    let half = kerf / 2.0;
    let shift = if opening { -half } else { half };
    if kerf == 0.0 {
        return (vec![TorchPath { outline: edge.clone(), around: !opening }], true);
    }
    let mut lines: Vec<Polyarc> = offset_closed(edge, shift)
        .into_iter()
        .map(Polyarc::counter_clockwise)
        .filter(|line| line.vertices.len() >= 2 && line.area() > kerf * kerf * 1e-3)
        .filter_map(|line| {
            // Without crumbs if that keeps it where it belongs.
            let fits = |p: Point| (distance_to(edge, p) - half).abs() <= TORCH_OFF_EDGE;
            let ways = [without_crumbs(&line, &fits), line.tidied(), line];
            ways.into_iter()
                .find(|line| line.vertices.len() >= 2 && keeps_off(edge, line, opening, half))
        })
        .collect();
    lines.sort_by(|a, b| b.area().total_cmp(&a.area()));
    let count = lines.len();
    let paths: Vec<TorchPath> = lines
        .into_iter()
        .enumerate()
        .map(|(i, outline)| TorchPath { outline, around: !opening && i == 0 })
        .collect();
    let whole = count == 1 && reaches_all(edge, &paths[0].outline, half);
    (paths, whole)
}

/// The line with every piece that is too short replaced by one just long enough, which takes a
/// little off its neighbours, or by the corner where these meet, whichever is where it belongs by
/// `fits`.
fn without_crumbs(line: &Polyarc, fits: &dyn Fn(Point) -> bool) -> Polyarc {
    let mut segments: Vec<Segment> = line.segments().collect();
    // Each mending leaves one crumb less.
    for _ in 0..line.vertices.len() {
        let Some(crumb) = segments.iter().position(|segment| segment.length() < SHORTEST_PIECE)
        else {
            break;
        };
        segments.rotate_left(crumb);
        let bridges =
            BRIDGES.into_iter().filter_map(|back| bridged(&segments[1..], back * SHORTEST_PIECE));
        let mut ways = bridges.chain(sharpened(&segments[1..]));
        let all_fit = |chain: &Vec<Segment>| {
            chain.last().is_some_and(|new| {
                [0.0, 0.25, 0.5, 0.75, 1.0].into_iter().all(|u| fits(new.point_at(u)))
            })
        };
        let Some(mended) = ways.find(all_fit) else { break };
        segments = mended;
    }
    let bulge =
        |segment: &Segment| if let Segment::Arc { bulge, .. } = segment { *bulge } else { 0.0 };
    Polyarc {
        vertices: segments
            .iter()
            .map(|segment| Vertex { point: segment.from(), bulge: bulge(segment) })
            .collect(),
    }
}

/// How much of its neighbours a piece that is too short takes, as shares of the shortest length.
const BRIDGES: [f64; 8] = [0.05, 0.15, 0.3, 0.45, 0.6, 0.8, 1.1, 2.0];

/// An open chain closed by an arc that turns as its ends do, `back` mm taken off both ends first,
/// or the whole piece there if it is hardly longer. None where the arc would still be too short, or
/// nothing would be left.
fn bridged(chain: &[Segment], back: f64) -> Option<Vec<Segment>> {
    let mut chain = chain.to_vec();
    let left = |segment: &Segment| segment.length() - back > SHORTEST_PIECE;
    let last = chain.pop()?;
    if left(&last) {
        chain.push(last.between(0.0, 1.0 - back / last.length()));
    }
    let first = (!chain.is_empty()).then(|| chain.remove(0))?;
    if left(&first) {
        chain.insert(0, first.between(back / first.length(), 1.0));
    }
    let (from, to) = (chain.last()?.to(), chain.first()?.from());
    let (into, out) = (chain.last()?.tangent_at(1.0), chain.first()?.tangent_at(0.0));
    let bulge = (into.cross(out).atan2(into.dot(out)) / 4.0).tan();
    if from.distance(to) < SHORTEST_PIECE / 2.0 {
        return None;
    }
    let bridge = if bulge.abs() < 1e-6 {
        Segment::Line { from, to }
    } else {
        Segment::Arc { from, to, bulge }
    };
    (bridge.length() > 1.005 * SHORTEST_PIECE).then(|| {
        chain.push(bridge);
        chain
    })
}

/// An open chain whose ends, both straight, are led on to where they meet.
fn sharpened(chain: &[Segment]) -> Option<Vec<Segment>> {
    let (Segment::Line { from: a, to: b }, Segment::Line { from: c, to: d }) =
        (*chain.last()?, *chain.first()?)
    else {
        return None;
    };
    let (into, out) = (b - a, d - c);
    let turn = into.cross(out);
    if chain.len() < 3 || turn.abs() < 1e-6 * into.hypot() * out.hypot() {
        return None;
    }
    let corner = a + into * ((c - a).cross(out) / turn);
    let mut chain = chain.to_vec();
    if let Some(first) = chain.first_mut() {
        *first = Segment::Line { from: corner, to: d };
    }
    if let Some(last) = chain.last_mut() {
        *last = Segment::Line { from: a, to: corner };
    }
    Some(chain)
}

/// Whether a line keeps half a kerf off the edge, on the side of the waste.
fn keeps_off(edge: &Polyarc, line: &Polyarc, opening: bool, half: f64) -> bool {
    line.segments().all(|segment| {
        [0.0, 0.25, 0.5, 0.75].into_iter().all(|u| {
            let place = segment.point_at(u);
            (distance_to(edge, place) - half).abs() <= TORCH_OFF_EDGE
                && edge.contains(place) == opening
        })
    })
}

/// Whether every stretch of the edge is passed at half a kerf, inner corners apart: those that the
/// torch leaves round are missed by no more than a right angle's corner is, (√2 - 1) of half a
/// kerf.
fn reaches_all(edge: &Polyarc, line: &Polyarc, half: f64) -> bool {
    edge.segments().all(|segment| {
        distance_to(line, segment.point_at(0.5)) <= half * std::f64::consts::SQRT_2 + TORCH_OFF_EDGE
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::{Rect, cut_off};

    #[test]
    fn a_plate_grows_and_its_hole_shrinks_by_half_a_kerf() {
        let plate = Polyarc::rectangle(Rect::new(0.0, 0.0, 60.0, 40.0));
        let (paths, whole) = torch_paths(&plate, false, 1.4);
        assert!(whole && paths.len() == 1 && paths[0].around);
        // Steiner's formula: area + perimeter h + pi h².
        let area = 2400.0 + 200.0 * 0.7 + std::f64::consts::PI * 0.49;
        assert!((paths[0].outline.area() - area).abs() < 1e-9);
        let hole = Polyarc::circle(Point::new(30.0, 20.0), 10.0);
        let (paths, whole) = torch_paths(&hole, true, 1.4);
        assert!(
            whole
                && !paths[0].around
                && (paths[0].outline.area() - std::f64::consts::PI * 9.3 * 9.3).abs() < 1e-9
        );
    }

    #[test]
    fn an_opening_narrower_than_the_kerf_has_no_path() {
        let slot = Polyarc::rectangle(Rect::new(0.0, 0.0, 30.0, 1.39));
        assert_eq!(torch_paths(&slot, true, 1.4), (Vec::new(), false));
        let slot = Polyarc::rectangle(Rect::new(0.0, 0.0, 30.0, 1.6));
        assert_eq!(torch_paths(&slot, true, 1.4).0.len(), 1);
    }

    #[test]
    fn a_waist_narrower_than_the_kerf_parts_an_opening() {
        let dumbbell = Polyarc::polygon(
            [
                (0., 0.),
                (10., 0.),
                (10., 4.5),
                (20., 4.5),
                (20., 0.),
                (30., 0.),
                (30., 10.),
                (20., 10.),
                (20., 5.5),
                (10., 5.5),
                (10., 10.),
                (0., 10.),
            ]
            .map(Point::from),
        );
        let (paths, whole) = torch_paths(&dumbbell, true, 1.4);
        assert!(!whole && paths.len() == 2, "{}", paths.len());
    }

    #[test]
    fn a_bay_with_a_narrow_mouth_is_a_path_of_its_own() {
        let plate = Polyarc::rectangle(Rect::new(0.0, 0.0, 60.0, 40.0));
        // A keyhole from the upper edge: a slit 1 mm wide into a square of 12.
        let keyhole = Polyarc::polygon(
            [
                (29.5, 41.0),
                (29.5, 26.0),
                (24.0, 26.0),
                (24.0, 14.0),
                (36.0, 14.0),
                (36.0, 26.0),
                (30.5, 26.0),
                (30.5, 41.0),
            ]
            .map(Point::from),
        );
        let (paths, whole) =
            torch_paths(&cut_off(&plate, &keyhole.counter_clockwise())[0], false, 1.4);
        assert!(!whole);
        assert_eq!(paths.iter().map(|path| path.around).collect::<Vec<_>>(), [true, false]);
        assert!((paths[1].outline.area() - 10.6 * 10.6).abs() < 0.2, "{}", paths[1].outline.area());
    }
}
