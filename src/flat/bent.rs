//! The flat of a bent part, a section's or a folded one's: its fold tree laid out.

use super::plate::add_openings;
use super::{Flat, FlatBend};
use crate::formed::{FaceBend, FoldTree, Unfoldable};
use crate::geom::{Point, Polyarc, Segment};
use crate::part::Part;
use crate::problem::{Checked, Code, Place, Problem};
use crate::tolerance::CURVE_TO_ARCS;
use crate::units::{Angle, Length};

/// Lays the faces and bends of a fold tree out as a blank.
pub(super) fn flatten(part: &Part, tree: FoldTree) -> Checked<Flat> {
    let outside = tree.blank().map_err(|why| vec![no_blank(part, &tree, &why)])?;
    let mut flat = Flat::plain(outside, Vec::new());
    for face in &tree.faces {
        for opening in &face.openings {
            place_opening(part, opening, &mut flat)?;
        }
    }
    for bend in &tree.bends {
        for line in [bend.parent_line, bend.child_line] {
            let [from, to] = clear_of_reliefs(&tree, line);
            flat.bend_zones.push(vec![Segment::Line { from, to }]);
        }
        flat.bends.push(flat_bend(&tree, bend));
    }
    flat.tree = Some(tree);
    Ok(flat)
}

fn no_blank(part: &Part, tree: &FoldTree, why: &Unfoldable) -> Problem {
    match why {
        Unfoldable::Overlap => {
            let (message, place) = match overlapping(tree) {
                Some((one, two, place)) => {
                    (format!("laid flat, `{one}` and `{two}` overlap or touch"), place.clone())
                }
                None => (
                    "laid flat, two faces of this part overlap or touch".to_owned(),
                    part.place.clone(),
                ),
            };
            let help = "cut one of them back, make it lower, or weld it on as a part of its own";
            Problem::new(Code::NoRoom, message, help).at(place)
        }
        Unfoldable::FallsApart { bends } => {
            let message = "the relief at this corner cuts the blank in pieces";
            let place =
                bends.first().map_or(part.place.clone(), |bend| tree.bends[*bend].place.clone());
            Problem::new(Code::NoRoom, message, "make the relief smaller, or the flange longer")
                .at(place)
        }
        Unfoldable::CopedThrough { place } => {
            let message = "this cope cuts the blank in pieces, or leaves nothing of it";
            Problem::new(
                Code::NoRoom,
                message,
                "move the tube nearer to the end, or make the part longer",
            )
            .at(place.clone())
        }
    }
}

/// The first two faces of which one has a corner inside the other in the flat, and where the later
/// one stands in the description.
fn overlapping(tree: &FoldTree) -> Option<(&str, &str, &Place)> {
    let with_zone = |face: usize| {
        let zone = tree.faces[face].bend.map(|bend| tree.bends[bend].outline());
        std::iter::once(tree.faces[face].outline.clone()).chain(zone)
    };
    let meets = |a: usize, b: usize| {
        with_zone(a).any(|one| {
            with_zone(b).any(|two| {
                let middle = |outline: &Polyarc| outline.bounds().center();
                let has = |outline: &Polyarc, other: &Polyarc| {
                    other
                        .vertices
                        .iter()
                        .any(|v| outline.contains(v.point + (middle(other) - v.point) * 1e-6))
                };
                has(&one, &two) || has(&two, &one)
            })
        })
    };
    let pairs = (0..tree.faces.len()).flat_map(|b| (0..b).map(move |a| (a, b)));
    // A face and what is bent up from it touch everywhere along their bend.
    let carries =
        |a: usize, b: usize| tree.faces[b].bend.is_some_and(|bend| tree.bends[bend].parent == a);
    let (a, b) = pairs.into_iter().find(|(a, b)| !carries(*a, *b) && meets(*a, *b))?;
    Some((&tree.faces[a].name, &tree.faces[b].name, &tree.bends[tree.faces[b].bend?].place))
}

/// The line less what reliefs cut off its ends.
fn clear_of_reliefs(tree: &FoldTree, line: [Point; 2]) -> [Point; 2] {
    let end = |from: Point, to: Point| {
        let cut = |share: f64| {
            let p = from.lerp(to, share);
            tree.reliefs.iter().any(|relief| !relief.in_outlines && relief.outline.contains(p))
                || tree.copes.iter().any(|(cut, _)| cut.contains(p))
        };
        if !cut(0.0) {
            return from;
        }
        // Reliefs lie at the ends: the middle is clear of them, or the blank has fallen apart
        // before this.
        let (mut inside, mut clear) = (0.0, 0.5);
        for _ in 0..60 {
            let middle = f64::midpoint(inside, clear);
            if cut(middle) { inside = middle } else { clear = middle }
        }
        from.lerp(to, clear)
    };
    [end(line[0], line[1]), end(line[1], line[0])]
}

fn flat_bend(tree: &FoldTree, bend: &FaceBend) -> FlatBend {
    let line = clear_of_reliefs(tree, bend.middle());
    FlatBend {
        name: bend.name.clone(),
        angle: Angle::from_radians(bend.angle.abs()),
        up: bend.angle > 0.0,
        inside_radius: Length::from_mm(bend.inside_radius),
        developed: bend.developed.clone(),
        length: Length::from_mm(line[0].distance(line[1])),
        line,
        place: bend.place.clone(),
    }
}

/// Adds an opening, which must lie in the blank and clear of the others.
fn place_opening(part: &Part, opening: &crate::part::Opening, flat: &mut Flat) -> Checked<()> {
    let outline = opening.outline.to_polyarc(CURVE_TO_ARCS);
    if !flat.outside.encloses(&outline) {
        let message = "this opening reaches outside the part";
        let help = part.kind.opening_axes();
        return Err(vec![
            Problem::new(Code::OpeningOutside, message, help).at(opening.place.clone()),
        ]);
    }
    let clashes = |other: &Polyarc| {
        outline.bounds().overlaps(other.bounds())
            && (outline.flatten(0.05).iter().any(|p| other.contains(*p))
                || other.flatten(0.05).iter().any(|p| outline.contains(*p)))
    };
    if flat.openings.iter().any(clashes) {
        let help = "move one of them, or make one opening of the two";
        return Err(vec![
            Problem::new(Code::Outline, "this opening runs into another", help)
                .at(opening.place.clone()),
        ]);
    }
    add_openings(part, std::slice::from_ref(opening), flat)
}
