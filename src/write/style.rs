//! How each kind of line looks, in every format alike: colour, dashes and plain words.
//!
//! Colours are those of M. Okabe and K. Ito, Color Universal Design (2008), told apart by all common kinds of colour sight; the
//! assignment is our own. Outside cuts are not red and marks are not blue. As a print may be black and white, each kind also has its own
//! dashes: a whole line is cut, a broken one is marked.

use crate::drawing::Layer;

/// How one kind of line looks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Style {
    /// Red, green and blue as in CSS.
    pub(super) colour: &'static str,
    /// The nearest of the indexed colours that old DXF readers know.
    pub(super) index_colour: u8,
    /// Lengths of dash, gap, dash, gap … in mm; none for a whole line.
    pub(super) dashes: &'static [f64],
    /// The dashes' name in a DXF file.
    pub(super) line_type: &'static str,
    /// Width on the page, mm.
    pub(super) width: f64,
    /// What the line means, as in a legend.
    pub(super) words: &'static str,
}

/// The grey of backdrops and of what explains a picture.
pub(super) const GREY: &str = "#6e6e6e";

/// How `layer` looks.
pub(super) const fn style(layer: Layer) -> Style {
    let (colour, index_colour) = match layer {
        Layer::Outside => ("#000000", 7),
        Layer::Opening => ("#0072B2", 5),
        Layer::FoldUp => ("#009E73", 3),
        Layer::FoldDown => ("#CC79A7", 6),
        Layer::BendZone => ("#E69F00", 40),
        Layer::Scribe => ("#D55E00", 30),
        Layer::Lead => ("#56B4E9", 4),
        Layer::Note => (GREY, 8),
    };
    let (line_type, dashes): (_, &[f64]) = match layer {
        Layer::Outside | Layer::Opening | Layer::Note => ("CONTINUOUS", &[]),
        Layer::FoldUp => ("LONG_DASH", &[9.0, 3.0]),
        Layer::FoldDown => ("LONG_DASH_TWO_DOTS", &[9.0, 1.5, 1.0, 1.5, 1.0, 1.5]),
        Layer::BendZone => ("DOTS", &[0.7, 1.6]),
        Layer::Scribe => ("SHORT_DASH", &[3.0, 1.5]),
        Layer::Lead => ("DASH_DOT", &[5.0, 1.2, 1.0, 1.2]),
    };
    let (width, words) = match layer {
        Layer::Outside => (0.5, "outer cut"),
        Layer::Opening => (0.3, "inner cut"),
        Layer::FoldUp => (0.35, "bend, toward you"),
        Layer::FoldDown => (0.35, "bend, away from you"),
        Layer::BendZone => (0.3, "edge of a bend or wall"),
        Layer::Scribe => (0.3, "scribe or punch, not cut"),
        Layer::Lead => (0.3, "lead-in of the cut"),
        Layer::Note => (0.2, "text, not cut"),
    };
    Style { colour, index_colour, dashes, line_type, width, words }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_differ_in_dashes_alone_and_colours_keep_the_rule() {
        let marks = [Layer::FoldUp, Layer::FoldDown, Layer::BendZone, Layer::Scribe, Layer::Lead].map(style);
        for (i, a) in marks.iter().enumerate() {
            assert!(!a.dashes.is_empty());
            assert!(marks[i + 1..].iter().all(|b| a.dashes != b.dashes && a.line_type != b.line_type && a.colour != b.colour));
        }
        assert!(style(Layer::Outside).index_colour != 1 && style(Layer::Outside).colour != "#D55E00");
        for mark in [Layer::FoldUp, Layer::FoldDown, Layer::BendZone, Layer::Scribe].map(style) {
            assert!(mark.index_colour != 5 && !["#0072B2", "#56B4E9"].contains(&mark.colour));
        }
    }
}
