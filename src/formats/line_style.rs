//! How each kind of line looks, in every format alike: colour, dashes and plain words.
//!
//! Colours are those of M. Okabe and K. Ito, Color Universal Design (2008), told apart by all
//! common kinds of colour sight; the assignment is our own. Outside cuts are not red and marks are
//! not blue. As a print may be black and white, each kind also has its own dashes: a whole line is
//! cut, a broken one is marked.

use crate::page::{Ink, Layer, Pen, Scale};

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

/// What the lines of `layer` mean, as in a legend.
#[must_use]
pub const fn line_words(layer: Layer) -> &'static str {
    style(layer).words
}

/// Stretch and shrink: the eleven classes of `RdBu`, a diverging scheme of C. Brewer, `ColorBrewer`
/// (Pennsylvania State University, 2002), told apart by all common kinds of colour sight; from the
/// blue end to the red one. Values from memory.
const SHRINK_TO_STRETCH: [&str; Scale::Diverging.steps()] = [
    "#053061", "#2166ac", "#4393c3", "#92c5de", "#d1e5f0", "#f7f7f7", "#fddbc7", "#f4a582",
    "#d6604d", "#b2182b", "#67001f",
];

/// Thickness: Greens, a scheme of one hue by the same author, of its nine classes the eight darker
/// ones. Values from memory.
const THIN_TO_THICK: [&str; Scale::Sequential.steps()] =
    ["#e5f5e0", "#c7e9c0", "#a1d99b", "#74c476", "#41ab5d", "#238b45", "#006d2c", "#00441b"];

/// The colour of an area in a picture.
pub(super) fn ink_colour(ink: Ink) -> &'static str {
    match ink {
        Ink::Metal => "#c4c4c4",
        Ink::Tool => "#e8e0cc",
        Ink::Black => "#000000",
        Ink::Paper => "#ffffff",
        Ink::Step(Scale::Diverging, step) => {
            SHRINK_TO_STRETCH[step.min(SHRINK_TO_STRETCH.len() - 1)]
        }
        Ink::Step(Scale::Sequential, step) => THIN_TO_THICK[step.min(THIN_TO_THICK.len() - 1)],
    }
}

/// How a line of a picture looks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct PenStyle {
    /// Red, green and blue as in CSS.
    pub(super) colour: &'static str,
    /// Width, mm.
    pub(super) width: f64,
    /// Lengths of dash, gap … in mm; none for a whole line.
    pub(super) dashes: &'static [f64],
    /// Width of the white line under it, mm; 0 for none.
    pub(super) casing: f64,
}

/// How a line of a picture is drawn. Zones of an edge differ in colour, width and dashes, and stand
/// on white, so that they are seen on any colour of a scale.
pub(super) const fn pen_style(pen: Pen) -> PenStyle {
    let layer = match pen {
        Pen::FoldUp => Some(Layer::FoldUp),
        Pen::FoldDown => Some(Layer::FoldDown),
        Pen::Scribe => Some(Layer::Scribe),
        _ => None,
    };
    if let Some(layer) = layer {
        let Style { colour, dashes, width, .. } = style(layer);
        return PenStyle { colour, width, dashes, casing: 0.0 };
    }
    let (colour, width, casing): (_, f64, f64) = match pen {
        Pen::Cut => ("#000000", 0.4, 0.0),
        Pen::Edge => ("#333333", 0.2, 0.0),
        Pen::BendZone => ("#333333", 0.25, 0.0),
        Pen::Net => ("#000000", 0.25, 0.0),
        Pen::Level => ("#1a1a1a", 0.12, 0.0),
        Pen::Caution => ("#E69F00", 1.1, 1.9),
        Pen::Stop => ("#000000", 1.6, 2.2),
        Pen::Leader => ("#000000", 0.2, 0.7),
        _ => ("#000000", 0.13, 0.0),
    };
    let dashes: &[f64] = match pen {
        Pen::BendZone => &[0.6, 0.9],
        Pen::Net => &[3.0, 1.5],
        Pen::Caution => &[4.0, 1.5],
        Pen::Stop => &[1.2, 1.0],
        _ => &[],
    };
    PenStyle { colour, width, dashes, casing }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_differ_in_dashes_alone_and_colours_keep_the_rule() {
        let marks = [Layer::FoldUp, Layer::FoldDown, Layer::BendZone, Layer::Scribe, Layer::Lead]
            .map(style);
        for (i, a) in marks.iter().enumerate() {
            assert!(!a.dashes.is_empty());
            assert!(marks[i + 1..].iter().all(|b| a.dashes != b.dashes
                && a.line_type != b.line_type
                && a.colour != b.colour));
        }
        assert!(
            style(Layer::Outside).index_colour != 1 && style(Layer::Outside).colour != "#D55E00"
        );
        for mark in [Layer::FoldUp, Layer::FoldDown, Layer::BendZone, Layer::Scribe].map(style) {
            assert!(mark.index_colour != 5 && !["#0072B2", "#56B4E9"].contains(&mark.colour));
        }
    }

    #[test]
    fn stretch_is_reddish_and_shrink_bluish_and_zones_differ_in_more_than_colour() {
        let channels = |colour: &str| {
            let part =
                |at: usize| i32::from_str_radix(&colour[at..at + 2], 16).expect("hexadecimal");
            (part(1), part(3), part(5))
        };
        for step in 0..11 {
            let (red, _, blue) = channels(ink_colour(Ink::Step(Scale::Diverging, step)));
            assert_eq!(
                (red - blue).signum(),
                (i32::try_from(step).expect("small") - 5).signum(),
                "step {step}"
            );
        }
        let light = |step| {
            let (red, green, blue) = channels(ink_colour(Ink::Step(Scale::Sequential, step)));
            red + green + blue
        };
        assert!((1..8).all(|step| light(step) < light(step - 1)), "darker with more");
        let (caution, stop) = (pen_style(Pen::Caution), pen_style(Pen::Stop));
        assert!(
            caution.dashes != stop.dashes
                && caution.colour != stop.colour
                && !caution.dashes.is_empty()
                && !stop.dashes.is_empty()
        );
    }
}
