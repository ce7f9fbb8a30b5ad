//! Maps of strain and thickness: what they cover, where they are marked, and the other hand.

use std::collections::BTreeMap;
use std::sync::Arc;

use indoc::{formatdoc, indoc};
use planish::drawing::{MetalMaps, metal_maps};
use planish::geom::Point;
use planish::page::{Ink, Item, Pen, Picture, Scale};
use planish::part::Part;
use planish::shop::material::StrainLimit;

use crate::support::asserts::assert_near;
use crate::support::parts::{made, part, part_and_made};

const HEAD: &str = indoc!(
    "
    units: mm
    material: 4130-annealed
    thickness: 1.6
    "
);

fn round_pan() -> String {
    formatdoc!(
        "
        part: pan
        {HEAD}half_shell:
          profile: {{circle: {{diameter: 120}}}}
          depth: 16
          edge_radius: 4
          trim: 0
        buck: {{undercut: 0}}
        "
    )
}

fn maps(yaml: &str) -> Option<MetalMaps> {
    metal_maps(&part(yaml), &made(yaml).flat, false)
}

/// The items of the blank's view, or of the formed part's.
fn view(picture: &Picture, formed: bool) -> &[Item] {
    let heading = |start: &str| {
        let is = |item: &Item| matches!(item, Item::Words { text, .. } if text.starts_with(start));
        picture.items.iter().position(is).expect("a heading")
    };
    let (blank, shell) = (heading("The blank"), heading("Formed"));
    if formed { &picture.items[shell..] } else { &picture.items[blank..shell] }
}

fn signed_area(outline: &[Point]) -> f64 {
    outline.windows(2).map(|pair| pair[0].to_vec2().cross(pair[1].to_vec2())).sum::<f64>() / 2.0
}

/// First moment about the y axis, of the same sign as the area.
fn moment(outline: &[Point]) -> f64 {
    outline
        .windows(2)
        .map(|p| p[0].to_vec2().cross(p[1].to_vec2()) * (p[0].x + p[1].x))
        .sum::<f64>()
        / 6.0
}

/// For each colour of the scales its area and the x of its centroid.
fn colours(items: &[Item]) -> BTreeMap<Ink, (f64, f64)> {
    let mut all: BTreeMap<Ink, (f64, f64)> = BTreeMap::new();
    for item in items {
        let Item::Fill { ink: ink @ Ink::Step(..), outlines } = item else { continue };
        let (area, x) =
            outlines.iter().fold((0.0, 0.0), |sum, o| (sum.0 + signed_area(o), sum.1 + moment(o)));
        let entry = all.entry(*ink).or_default();
        *entry = (entry.0 + area.abs(), entry.1 + x * area.signum());
    }
    for (area, x) in all.values_mut() {
        *x /= *area;
    }
    all
}

fn texts(items: &[Item]) -> Vec<&str> {
    items
        .iter()
        .filter_map(
            |item| if let Item::Words { text, .. } = item { Some(text.as_str()) } else { None },
        )
        .collect()
}

fn has_pen(picture: &Picture, wanted: Pen) -> bool {
    view(picture, false)
        .iter()
        .any(|item| matches!(item, Item::Lines { pen, .. } if *pen == wanted))
}

#[test]
fn metal_that_is_only_unrolled_has_no_map() {
    let channel = formatdoc!(
        "
        part: channel
        {HEAD}half_shell:
          profile:
            path:
              - [0, 0]
              - {{to: [200, 0], edge: low}}
              - {{to: [200, 60], edge: right}}
              - {{to: [0, 60], edge: high}}
              - {{to: [0, 0], edge: left}}
          depth: 20
          edge_radius: 4
          open_edges: [left, right]
        "
    );
    let plate = formatdoc!(
        "
        part: washer
        {HEAD}plate:
          profile: {{circle: {{diameter: 40}}}}
        "
    );
    assert!(maps(&channel).is_none() && maps(&plate).is_none());
    assert!(maps(&round_pan()).is_some());
}

/// The bands of a round pan fill the ring between its tangent line, edge radius and thickness
/// inside the outline, and the net blank's edge.
#[test]
fn bands_fill_the_walls_of_the_blank_and_shrink_is_blue_stretch_red() {
    let yaml = round_pan();
    let (flat, maps) = (made(&yaml).flat, maps(&yaml).expect("a map"));
    let blank = view(&maps.strain, false);
    let cut = blank.iter().find_map(|item| match item {
        Item::Lines { pen: Pen::Cut, chains } => Some(chains[0].clone()),
        _ => None,
    });
    let xs: Vec<f64> = cut.expect("the cut").iter().map(|p| p.x).collect();
    let wide =
        xs.iter().copied().fold(f64::MIN, f64::max) - xs.iter().copied().fold(f64::MAX, f64::min);
    let scale = wide / flat.outside.bounds().width();
    let ring = flat.net_area() - std::f64::consts::PI * (60.0_f64 - 4.0 - 1.6).powi(2);
    for picture in [&maps.strain, &maps.thickness] {
        let area: f64 = colours(view(picture, false)).values().map(|(area, _)| area).sum();
        // Chords of 3 degrees lose 0.05 %, thinned outlines 0.04 mm at most.
        assert_near("area of all bands", area / (scale * scale), ring, ring * 3e-3);
    }
    let steps = |maps: &MetalMaps| -> Vec<usize> {
        let inks = colours(view(&maps.strain, false)).into_keys();
        inks.filter_map(
            |ink| if let Ink::Step(Scale::Diverging, step) = ink { Some(step) } else { None },
        )
        .collect()
    };
    assert!(
        steps(&maps).iter().all(|step| *step <= 5) && steps(&maps)[0] < 3,
        "a pan's wall shrinks: {:?}",
        steps(&maps)
    );
    let lip = formatdoc!(
        "
        part: plate
        {HEAD}plate:
          profile: {{rectangle: {{size: [120, 100]}}}}
          openings: [{{circle: {{diameter: 50}}, lip: {{height: 7, radius: 2.4}}}}]
        "
    );
    let lip = self::maps(&lip).expect("a map");
    assert!(
        steps(&lip).iter().all(|step| *step >= 5) && steps(&lip).contains(&8),
        "a lip stretches: {:?}",
        steps(&lip)
    );
}

#[test]
fn edges_past_their_limits_are_marked_and_named() {
    let yaml = round_pan();
    let with = |caution: f64, stop: f64| {
        let mut part: Part = part(&yaml);
        let mut shop = (*part.shop).clone();
        shop.shrink = Some(StrainLimit { caution, stop });
        part.shop = Arc::new(shop);
        metal_maps(&part, &made(&yaml).flat, false).expect("a map").strain
    };
    let names = |picture: &Picture, zone: &str| {
        [false, true].map(|formed| {
            texts(view(picture, formed)).iter().filter(|text| text.ends_with(zone)).count()
        })
    };
    let (easy, caution, stop) = (with(0.5, 0.6), with(0.02, 0.5), with(0.02, 0.04));
    assert!(
        !has_pen(&easy, Pen::Caution)
            && !has_pen(&easy, Pen::Stop)
            && names(&easy, "caution") == [0, 0]
    );
    assert!(
        has_pen(&caution, Pen::Caution)
            && !has_pen(&caution, Pen::Stop)
            && names(&caution, ": caution") == [1, 1]
    );
    assert!(
        !has_pen(&stop, Pen::Caution)
            && has_pen(&stop, Pen::Stop)
            && names(&stop, ": stop") == [1, 1]
    );
}

/// Pages of wide parts have their views in the middle, so that the other hand's picture is the own
/// one mirrored about it.
#[test]
fn the_other_hand_has_the_mirrored_picture() {
    let yaml = formatdoc!(
        "
        part: tray
        {HEAD}half_shell:
          profile:
            path:
              - [0, 0]
              - {{to: [160, 0], round: 30}}
              - {{to: [150, 70], round: 22}}
              - {{to: [10, 60], round: 16}}
              - {{to: [0, 0], round: 25}}
          depth: 12
          edge_radius: 4
          trim: 0
        buck: {{undercut: 0}}
        "
    );
    let (part, own) = part_and_made(&yaml);
    let right = metal_maps(&part, &own.flat, false).expect("a map").strain;
    let left = metal_maps(&part, &own.other_hand().flat, true).expect("a map").strain;
    assert_eq!(right.size, left.size);
    let middle = right.size.0 / 2.0;
    for formed in [false, true] {
        let (right, left) = (colours(view(&right, formed)), colours(view(&left, formed)));
        assert!(right.len() >= 3 && right.keys().eq(left.keys()), "the same colours on both");
        for (ink, (area, x)) in right {
            let (other_area, other_x) = left[&ink];
            assert_near("area of a colour", other_area, area, area * 0.01 + 1.0);
            assert_near("middle of a colour", other_x - middle, middle - x, 1.0);
        }
    }
}

/// A tray with a flanged hole in one of its walls: the map shows the lip, at a scale that fits the
/// page, and its edge as beyond caution where it is.
#[test]
fn a_folded_parts_map_shows_its_lips() {
    let yaml = formatdoc!(
        "
        part: tray
        {HEAD}folded:
          radius: 2.4
          panel: {{profile: {{path: [[0, 0], {{to: [160, 0], edge: front}}, {{to: [160, 90]}}, [0, 90]]}}}}
          flanges: [{{edge: front, bend: 90, height: 60, openings: [{{circle: {{diameter: 30, at: [80, 32]}}, lip: {{height: 5.5, radius: 2}}}}]}}]
        "
    );
    let maps = maps(&yaml).expect("a map");
    let texts = texts(&maps.strain.items);
    assert!(texts.iter().any(|text| text.contains("largest stretch")), "{texts:?}");
    let scale = texts.iter().find(|text| text.starts_with("Its lips formed")).expect("a heading");
    // The blank is 160 mm wide, the page 400.
    let figure: f64 = scale
        .rsplit_once(", ")
        .and_then(|(_, s)| s.split_once(" : "))
        .and_then(|(a, _)| a.parse().ok())
        .expect("a scale");
    assert!((0.5..4.0).contains(&figure), "{scale}");
    // The lip, a ring about [80, ..] between its hole and its bend, is coloured: the area of red
    // bands is that of the ring.
    let forming = made(&yaml).flat.forming.expect("a lip");
    assert!(forming.max_stretch() > 0.08, "{}", forming.max_stretch());
    assert!(texts.iter().any(|text| text.contains("Edges that pass their limits")), "{texts:?}");
}
