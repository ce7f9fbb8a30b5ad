//! Places on a drawing where a mark or a word lies on none of its lines.

use crate::geom::{Point, Rect, Segment};
use crate::page::{Drawing, Shape, lettering};

/// Distance between the points by which a line is known, mm: less than any mark is wide.
const LINE_STEP: f64 = 1.0;
/// What stays free around a mark, mm.
const CLEAR: f64 = 0.8;

/// What a drawing has taken of its plane.
#[derive(Debug, Clone)]
pub(super) struct Taken {
    /// Points along its lines.
    points: Vec<Point>,
    /// Its words, and what was taken since.
    rects: Vec<Rect>,
}

impl Taken {
    pub(super) fn by(drawing: &Drawing) -> Self {
        let mut taken = Self { points: Vec::new(), rects: Vec::new() };
        for mark in &drawing.marks {
            match &mark.shape {
                Shape::Closed(outline) => outline.segments().for_each(|piece| taken.line(&piece)),
                Shape::Open(chain) => chain.iter().for_each(|piece| taken.line(piece)),
                Shape::Text { at, height, angle, centred, text } => {
                    taken.rects.push(words_rect(*at, *height, *angle, *centred, text));
                }
            }
        }
        taken
    }

    fn line(&mut self, piece: &Segment) {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "clamped to 1..=100000"
        )]
        let steps = (piece.length() / LINE_STEP).ceil().clamp(1.0, 1e5) as u32;
        self.points.extend((0..=steps).map(|i| piece.point_at(f64::from(i) / f64::from(steps))));
    }

    pub(super) fn take(&mut self, rect: Rect) {
        self.rects.push(rect);
    }

    pub(super) fn is_free(&self, rect: Rect) -> bool {
        let clear = rect.inflate(CLEAR, CLEAR);
        !self.points.iter().any(|point| clear.contains(*point))
            && !self.rects.iter().any(|taken| taken.overlaps(clear))
    }
}

/// The upright rectangle around a line of words.
fn words_rect(at: Point, height: f64, angle: f64, centred: bool, text: &str) -> Rect {
    let width = lettering::width(text, height);
    let along = crate::geom::Vec2::from_angle(angle);
    let up = crate::geom::left_of(along);
    let start = if centred { at - along * (width / 2.0) } else { at };
    let corners = [(0.0, -0.3), (width, -0.3), (0.0, 1.0), (width, 1.0)];
    corners
        .map(|(x, y)| start + along * x + up * (y * height))
        .into_iter()
        .fold(Rect::from_points(start, start), |rect, corner| rect.union_pt(corner))
}
