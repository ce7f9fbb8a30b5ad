//! Maps of what the metal does in forming: how much it stretches and shrinks, and how thick it is
//! left.
#![doc = include_str!("METHOD.md")]

mod bands;
mod page;
mod scale;
mod stretches;
mod surface;
mod view;

use self::page::draw_page;
use self::scale::{strain_levels, thickness_levels};
use self::surface::{Node, Surface, surface_of};
use self::view::Shading;
use crate::flat::Flat;
use crate::geom::space::{cross, length, minus};
use crate::page::{Picture, Scale};
use crate::part::Part;
use crate::units::{Digits, LengthUnit, MM_PER_INCH};

/// Metal strained by less than this is not strained: rounding of the solutions.
const STRAINED: f64 = 1e-5;

/// Strain that is worth a label: what would be printed as 0.1 %.
const SHOWN: f64 = 5e-4;

/// The pictures of a part's formed metal.
#[derive(Debug, Clone)]
pub struct MetalMaps {
    /// How much the metal stretches or shrinks.
    pub strain: Picture,
    /// How thick it is.
    pub thickness: Picture,
}

/// The metal that the maps show, measured by its triangles, mm².
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MappedMetal {
    /// As it lies in the blank.
    pub flat: f64,
    /// As it stands.
    pub formed: f64,
    /// As it stands, each piece times its thickness over the sheet's.
    pub thinned: f64,
    /// Whether every wall is mapped.
    pub whole: bool,
    /// How far it reaches beyond the blank, mm.
    pub beyond: f64,
    /// The greatest strain, either way.
    pub strain: f64,
}

/// Measures the metal that the maps would show of a half-shell, of the hand that the part
/// describes; none where there are none.
#[must_use]
pub fn mapped_metal(part: &Part, flat: &Flat) -> Option<MappedMetal> {
    let forming = flat.forming.as_ref()?;
    if forming.max_stretch().max(forming.max_shrink()) < STRAINED {
        return None;
    }
    let surface = surface_of(part, flat, forming);
    if surface.triangles.is_empty() {
        return None;
    }
    let polygon = |points: &Vec<crate::geom::Point>| {
        crate::geom::Polyarc::polygon(points.iter().copied()).area().abs()
    };
    let mut face = surface.face.iter().map(polygon);
    let level = face.next().unwrap_or(0.0) - face.sum::<f64>();
    let mut metal = MappedMetal {
        flat: level,
        formed: level,
        thinned: level,
        whole: surface.unmapped == 0,
        beyond: 0.0,
        strain: surface.nodes.iter().map(|node| node.dominant().abs()).fold(0.0, f64::max),
    };
    for corners in &surface.triangles {
        let [a, b, c] = corners.map(|i| surface.nodes[i]);
        let ways = [minus(b.formed, a.formed), minus(c.formed, a.formed)];
        let formed = length(cross(ways[0], ways[1])) / 2.0;
        metal.flat += (b.flat - a.flat).cross(c.flat - a.flat).abs() / 2.0;
        metal.formed += formed;
        metal.thinned += formed * (a.thickness_ratio + b.thickness_ratio + c.thickness_ratio) / 3.0;
    }
    let bounds = flat.outside.bounds();
    for node in &surface.nodes {
        let off = [
            bounds.x0 - node.flat.x,
            node.flat.x - bounds.x1,
            bounds.y0 - node.flat.y,
            node.flat.y - bounds.y1,
        ];
        metal.beyond = off.into_iter().fold(metal.beyond, f64::max);
    }
    Some(metal)
}

/// What a page is to show.
struct Subject<'a> {
    part: &'a Part,
    flat: &'a Flat,
    surface: &'a Surface,
    other_hand: bool,
    /// What the picture shows, in a few words.
    heading: &'a str,
    /// Sentences that explain it.
    notes: Vec<String>,
    shading: Shading,
    /// What stands beside each level in the legend.
    ticks: Vec<String>,
    /// What stands over the legend, from left to right.
    legend: [String; 3],
    /// The worst places and what is said of them.
    worst: Vec<(Node, String)>,
}

/// The maps of a part whose walls are strained; none where all of them are only unrolled, or none
/// could be mapped. `flat` is the blank of the hand that is asked for.
#[must_use]
pub fn metal_maps(part: &Part, flat: &Flat, other_hand: bool) -> Option<MetalMaps> {
    let forming = flat.forming.as_ref()?;
    if forming.max_stretch().max(forming.max_shrink()) < STRAINED {
        return None;
    }
    // The part describes its own hand; the other one is drawn from it, mirrored.
    let surface = if other_hand {
        let own = flat.other_hand();
        surface_of(part, &own, own.forming.as_ref()?).other_hand()
    } else {
        surface_of(part, flat, forming)
    };
    if surface.triangles.is_empty() {
        return None;
    }
    let strain = draw_page(&strain_subject(part, flat, &surface, other_hand));
    let thickness = draw_page(&thickness_subject(part, flat, &surface, other_hand));
    Some(MetalMaps { strain, thickness })
}

/// The place at which a value is greatest.
fn most(surface: &Surface, value: impl Fn(&Node) -> f64) -> Option<&Node> {
    surface.extremes.iter().max_by(|a, b| value(a).total_cmp(&value(b)))
}

fn strain_subject<'a>(
    part: &'a Part,
    flat: &'a Flat,
    surface: &'a Surface,
    other_hand: bool,
) -> Subject<'a> {
    let percent = |x: f64, digits: usize| Digits(x * 100.0, digits).to_string();
    let stretched = most(surface, Node::dominant).filter(|node| node.dominant() > SHOWN);
    let shrunk = most(surface, |node| -node.dominant()).filter(|node| node.dominant() < -SHOWN);
    let largest = surface.nodes.iter().map(|node| node.dominant().abs()).fold(0.0, f64::max);
    let levels = strain_levels(largest);
    let step = levels[levels.len() - 1] / 5.0;
    let mut worst = Vec::new();
    worst.extend(
        stretched.map(|node| (*node, format!("largest stretch {} %", percent(node.dominant(), 1)))),
    );
    worst.extend(
        shrunk.map(|node| (*node, format!("largest shrink {} %", percent(-node.dominant(), 1)))),
    );
    let signed =
        |level: &f64| format!("{}{}", if *level > 0.0 { "+" } else { "" }, percent(*level, 2));
    Subject {
        part,
        flat,
        surface,
        other_hand,
        heading: "how much the metal stretches and shrinks",
        notes: vec![
            format!(
                "Red metal is longer when formed than it was flat, blue metal shorter; at each place the greater of the two is shown. 1 % is \
                 1 mm in every 100. A line every {} %.",
                percent(step, 2)
            ),
            "On walls the metal stretches or shrinks along the edge; near the bend of a wall that shrinks, it stretches down the wall."
                .to_owned(),
        ],
        ticks: levels.iter().map(signed).collect(),
        shading: Shading {
            values: surface.nodes.iter().map(Node::dominant).collect(),
            colours: (0..=levels.len()).collect(),
            levels,
            scale: Scale::Diverging,
        },
        legend: ["shrinks".to_owned(), "% of its length".to_owned(), "stretches".to_owned()],
        worst,
    }
}

fn thickness_subject<'a>(
    part: &'a Part,
    flat: &'a Flat,
    surface: &'a Surface,
    other_hand: bool,
) -> Subject<'a> {
    let (unit, name, digits) = match part.unit {
        LengthUnit::Millimetre => (1.0, "mm", 3),
        LengthUnit::Inch => (MM_PER_INCH, "in", 4),
    };
    let sheet = part.thickness.mm() / unit;
    let shown = |node: &Node| format!("{} {name}", Digits(node.thickness_ratio * sheet, digits));
    let range = surface.nodes.iter().map(|node| node.thickness_ratio * sheet);
    let (least, greatest) =
        range.fold((sheet, sheet), |(least, greatest), x| (least.min(x), greatest.max(x)));
    let levels = thickness_levels(least, greatest);
    let step = if levels.len() > 1 { levels[1] - levels[0] } else { 0.0 };
    // Metal as thick as the sheet may lie on a level: it is not to flicker between the colours
    // beside it.
    let settled =
        |ratio: f64| if (ratio - 1.0).abs() * sheet < step * 0.02 { sheet } else { ratio * sheet };
    let mut worst = Vec::new();
    worst.extend(
        most(surface, |node| -node.thickness_ratio)
            .map(|node| (*node, format!("thinnest {}", shown(node)))),
    );
    worst.extend(
        most(surface, |node| node.thickness_ratio)
            .map(|node| (*node, format!("thickest {}", shown(node)))),
    );
    let steps = Scale::Sequential.steps();
    let bands = levels.len() + 1;
    Subject {
        part,
        flat,
        surface,
        other_hand,
        heading: "how thick the metal is when formed",
        notes: vec![format!(
            "The darker, the thicker; the sheet is {}. Where metal stretches it gets thinner, where it shrinks thicker. A line every {} {name}.",
            part.unit.show(part.thickness),
            Digits(step, 4)
        )],
        ticks: levels.iter().map(|level| Digits(*level, 4).to_string()).collect(),
        shading: Shading {
            values: surface.nodes.iter().map(|node| settled(node.thickness_ratio)).collect(),
            colours: (0..bands)
                .map(|band| if bands > 1 { band * (steps - 1) / (bands - 1) } else { 0 })
                .collect(),
            levels,
            scale: Scale::Sequential,
        },
        legend: ["thinner".to_owned(), format!("thickness, {name}"), "thicker".to_owned()],
        worst,
    }
}
