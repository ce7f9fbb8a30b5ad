//! Chains of points with fewer of them.

use super::Point;

/// The chain without points that lie within `tolerance` of the line between those kept (Douglas and
/// Peucker).
#[must_use]
pub fn thinned(chain: &[Point], tolerance: f64) -> Vec<Point> {
    if chain.len() < 3 {
        return chain.to_vec();
    }
    let mut keep = vec![false; chain.len()];
    let last = chain.len() - 1;
    (keep[0], keep[last]) = (true, true);
    let mut spans = vec![(0, last)];
    while let Some((from, to)) = spans.pop() {
        let (a, b) = (chain[from], chain[to]);
        let along = b - a;
        let away = |p: Point| {
            let share = if along.hypot2() > 0.0 {
                ((p - a).dot(along) / along.hypot2()).clamp(0.0, 1.0)
            } else {
                0.0
            };
            p.distance(a + along * share)
        };
        let farthest = (from + 1..to).max_by(|i, k| away(chain[*i]).total_cmp(&away(chain[*k])));
        if let Some(middle) = farthest.filter(|i| away(chain[*i]) > tolerance) {
            keep[middle] = true;
            spans.extend([(from, middle), (middle, to)]);
        }
    }
    chain.iter().zip(keep).filter_map(|(point, keep)| keep.then_some(*point)).collect()
}
