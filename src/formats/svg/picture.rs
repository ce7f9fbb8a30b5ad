//! Pictures to look at: filled areas, lines and words on a page.

use std::fmt::Write as _;

use ::svg::Node as _;
use ::svg::node::element::{Element, Path, SVG, Title};

use super::write::number;
use crate::formats::line_style::{ink_colour, pen_style};
use crate::formats::{WriteProblem, text};
use crate::geom::Point;
use crate::page::{Anchor, Item, Picture};
use crate::units::Digits;

/// Decimals of a coordinate on the page, mm: a tenth of what can be seen.
const DECIMALS: usize = 2;

/// Areas of one colour are drawn this much larger, mm, so that nothing shines through between
/// neighbours.
const OVERLAP: f64 = 0.2;

/// The picture as an SVG file.
pub fn page_svg(picture: &Picture) -> Result<Vec<u8>, WriteProblem> {
    let (width, height) = picture.size;
    let root = root(picture)?
        .set("width", format!("{}mm", number(width)))
        .set("height", format!("{}mm", number(height)));
    Ok(format!("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n{root}\n").into_bytes())
}

/// The same picture as an `<svg>` element to stand in an HTML page, at most `width_px` CSS pixels
/// wide.
pub fn page_svg_element(picture: &Picture, width_px: f64) -> Result<String, WriteProblem> {
    let look = format!("width:100%;max-width:{}px;height:auto", number(width_px));
    Ok(root(picture)?.set("role", "img").set("style", look).to_string())
}

fn root(picture: &Picture) -> Result<SVG, WriteProblem> {
    let is_finite = |item: &Item| match item {
        Item::Fill { outlines: chains, .. } | Item::Lines { chains, .. } => {
            chains.iter().flatten().all(|p| p.is_finite())
        }
        Item::Words { at, height, .. } => at.is_finite() && height.is_finite(),
    };
    if !picture.items.iter().all(is_finite) {
        return Err(WriteProblem::NotFinite { layer: None });
    }
    let (width, height) = picture.size;
    let root = SVG::new()
        .set("viewBox", format!("0 0 {} {}", number(width), number(height)))
        .set("font-family", "sans-serif")
        .set("stroke-linejoin", "round")
        .add(Title::new(text::printable(&picture.title)));
    Ok(picture.items.iter().fold(root, add_item))
}

fn add_item(root: SVG, item: &Item) -> SVG {
    match item {
        Item::Fill { ink, outlines } => {
            let colour = ink_colour(*ink);
            let path = Path::new()
                .set("d", data(outlines))
                .set("fill", colour)
                .set("fill-rule", "evenodd");
            root.add(path.set("stroke", colour).set("stroke-width", number(OVERLAP)))
        }
        Item::Lines { pen, chains } => {
            let look = pen_style(*pen);
            let d = data(chains);
            let line = |colour: &str, width: f64| {
                Path::new()
                    .set("d", d.as_str())
                    .set("fill", "none")
                    .set("stroke", colour)
                    .set("stroke-width", number(width))
            };
            let root =
                if look.casing > 0.0 { root.add(line("#ffffff", look.casing)) } else { root };
            let mut path = line(look.colour, look.width);
            if !look.dashes.is_empty() {
                let dashes: Vec<String> = look.dashes.iter().map(|dash| number(*dash)).collect();
                path.assign("stroke-dasharray", dashes.join(" "));
            }
            root.add(path)
        }
        Item::Words { at, height, anchor, upward, text } => {
            let mut words = Element::new("text");
            words.assign("x", short(at.x));
            words.assign("y", short(at.y));
            words.assign("font-size", number(height / text::CAPITAL_OVER_SIZE));
            match anchor {
                Anchor::Start => {}
                Anchor::Middle => words.assign("text-anchor", "middle"),
                Anchor::End => words.assign("text-anchor", "end"),
            }
            if *upward {
                words.assign("transform", format!("rotate(-90 {} {})", short(at.x), short(at.y)));
            }
            words.append(::svg::node::Text::new(text::printable(text)));
            root.add(words)
        }
    }
}

fn short(value: f64) -> String {
    Digits(value, DECIMALS).to_string()
}

/// Path data of chains, each closed where its last point is its first.
fn data(chains: &[Vec<Point>]) -> String {
    let mut d = String::new();
    for chain in chains {
        let closed = chain.len() > 2 && chain.first() == chain.last();
        let points = if closed { &chain[..chain.len() - 1] } else { &chain[..] };
        for (i, point) in points.iter().enumerate() {
            // After a move, further pairs of numbers are lines.
            let sign = if i == 0 { "M" } else { " " };
            let _ = write!(d, "{sign}{} {}", short(point.x), short(point.y));
        }
        if closed {
            d.push('Z');
        }
    }
    d
}
