//! A short mark by which the print of one state of a part is told from that of another.

use crate::geom::{Point, Segment};
use crate::page::{Drawing, Shape};
use crate::part::Part;

/// Coordinates are told apart in steps of this, mm: finer than a print shows, coarser than
/// rounding.
const STEP: f64 = 0.01;

/// FNV-1a of 64 bits (G. Fowler, L. C. Noll, K.-P. Vo; offset and prime from memory).
struct Fnv(u64);

impl Fnv {
    const fn new() -> Self {
        Self(0xcbf2_9ce4_8422_2325)
    }

    fn take(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.0 = (self.0 ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3);
        }
    }

    fn point(&mut self, point: Point) {
        for value in [point.x, point.y] {
            #[expect(clippy::cast_possible_truncation, reason = "drawings are 100 m at most")]
            let steps = (value / STEP).round() as i64;
            self.take(&steps.to_le_bytes());
        }
    }

    fn segment(&mut self, piece: &Segment) {
        for share in [0.0, 0.5, 1.0] {
            self.point(piece.point_at(share));
        }
    }
}

/// Eight hexadecimal digits of the part's description, as it is written, and of every line and word
/// of its drawings. So it changes with the description, and also when the shop's figures or the
/// program move a line by more than rounding.
pub(super) fn revision<'a>(part: &Part, drawings: impl Iterator<Item = &'a Drawing>) -> String {
    let mut fnv = Fnv::new();
    fnv.take(part.place.source.text.as_bytes());
    for mark in drawings.flat_map(|drawing| &drawing.marks) {
        fnv.take(mark.layer.name().as_bytes());
        match &mark.shape {
            Shape::Closed(outline) => outline.segments().for_each(|piece| fnv.segment(&piece)),
            Shape::Open(chain) => chain.iter().for_each(|piece| fnv.segment(piece)),
            Shape::Text { text, .. } => fnv.take(text.as_bytes()),
        }
    }
    // The upper half folded into the lower one.
    format!("{:08x}", (fnv.0 >> 32) ^ (fnv.0 & 0xffff_ffff))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sum_is_that_of_its_publication() {
        // Test vectors of draft-eastlake-fnv, appendix C.
        for (text, sum) in [
            ("", 0xcbf2_9ce4_8422_2325),
            ("a", 0xaf63_dc4c_8601_ec8c),
            ("foobar", 0x8594_4171_f739_67e8),
        ] {
            let mut fnv = Fnv::new();
            fnv.take(text.as_bytes());
            assert_eq!(fnv.0, sum, "{text}");
        }
    }
}
