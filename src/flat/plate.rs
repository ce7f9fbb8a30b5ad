//! Flat parts, and openings with and without lips.

use super::{CornerKind, Flat, Forming, Method, WallCorner, WallLine};
use crate::part::{Join, Lip, Opening, Part, Plate};
use crate::problem::{Checked, Code, Place, Problem};
use crate::shell::{EdgeStrain, NoBalance, NoBlank, Shell, ShellBlank, Wall};
use crate::tolerance::CURVE_TO_ARCS;
use crate::units::{Digits, Length, LengthUnit};

pub(super) fn flatten(part: &Part, plate: &Plate) -> Checked<Flat> {
    let mut flat = Flat::plain(plate.profile.sides.to_polyarc(CURVE_TO_ARCS), Vec::new());
    add_openings(part, &plate.openings, &mut flat)?;
    Ok(flat)
}

/// Adds the openings of a flat face to its blank; those with lips as the smaller holes that are cut
/// for them.
pub(super) fn add_openings(part: &Part, openings: &[Opening], flat: &mut Flat) -> Checked<()> {
    let mut problems = Vec::new();
    for (number, opening) in openings.iter().enumerate() {
        match &opening.lip {
            None => flat.openings.push(opening.outline.to_polyarc(CURVE_TO_ARCS)),
            Some(lip) => problems.extend(lipped(part, (number, opening), lip, flat).err()),
        }
    }
    if problems.is_empty() { Ok(()) } else { Err(problems) }
}

/// A flanged opening: its lip is a wall around the face outside it, laid flat into the opening.
fn lipped(
    part: &Part,
    (number, opening): (usize, &Opening),
    lip: &Lip,
    flat: &mut Flat,
) -> Result<(), Problem> {
    let wall = Wall::new(
        part.thickness,
        lip.inside_radius,
        lip.bend_angle,
        lip.height,
        &part.bend_rule,
        part.unit,
    )
    .map_err(|problem| {
        Problem::new(Code::NoRoom, problem.message, problem.help).at(opening.place.clone())
    })?;
    // Walked clockwise, the opening has the face to its left.
    let face = opening.outline.reversed();
    let shell = Shell {
        profile: &face,
        has_wall: &|_| true,
        surface: None,
        finished: &|_| None,
        wall: &wall,
        law: &part.material.sheet_law(),
        trim: 0.0,
        crown: 0.0,
        join: Join::Open,
    };
    let walled = match shell.lay_flat() {
        Ok(walled) => Some(walled),
        Err(NoBlank::UsedUp { .. }) => None,
        Err(problem) => return Err(refused(&problem, &wall, part.unit, "opening", &opening.place)),
    };
    let Some(walled) = walled.filter(|walled| walled.cut.area() < 0.0) else {
        let message = "this opening is too small for its lip: the hole to cut would close";
        return Err(Problem::new(
            Code::WallCannotFollow,
            message,
            "make the lip lower, its angle less, or the opening larger",
        )
        .at(opening.place.clone()));
    };
    flat.openings.push(walled.cut.reversed());
    add_walls(&walled, lip.outward, flat);
    flat.wall_corners.extend(wall_corners(&walled, Join::Open, &opening.place));
    let method = method_of(&walled);
    let strains = walled.strains.into_iter().map(|edge| EdgeStrain { lip: Some(number), ..edge });
    match &mut flat.forming {
        Some(forming) => {
            forming.edge.extend(strains);
            forming.solved.extend(walled.solved);
            forming.method = forming.method.max(method);
        }
        None => {
            flat.forming = Some(Forming {
                wall,
                method,
                edge: strains.collect(),
                solved: walled.solved,
                darts: Vec::new(),
                corners: Vec::new(),
                face: None,
            });
        }
    }
    Ok(())
}

/// How walls were laid flat: the most elaborate of the ways taken.
pub(super) fn method_of(walled: &ShellBlank) -> Method {
    if !walled.solved.is_empty() {
        Method::OneStep
    } else if walled.strains.iter().all(|e| e.radius.is_infinite()) {
        Method::Exact
    } else {
        Method::ClosedForm
    }
}

/// Adds the lines of laid-out walls.
pub(super) fn add_walls(walled: &ShellBlank, up: bool, flat: &mut Flat) {
    flat.bend_zones.extend(walled.tangent_lines.iter().cloned());
    flat.bend_zones.extend(walled.end_lines.iter().cloned());
    flat.wall_lines
        .extend(walled.middle_lines.iter().map(|line| WallLine { line: line.clone(), up }));
    flat.scribes.extend(walled.saw_lines.iter().cloned());
}

/// The problem of walls that have no blank.
pub(super) fn refused(
    problem: &NoBlank,
    wall: &Wall,
    unit: LengthUnit,
    what: &str,
    place: &Place,
) -> Problem {
    let near = |p: &crate::geom::Point| match unit {
        LengthUnit::Millimetre => format!("[{}, {}]", Digits(p.x, 2), Digits(p.y, 2)),
        LengthUnit::Inch => format!("[{}, {}]", Digits(p.x / 25.4, 3), Digits(p.y / 25.4, 3)),
    };
    match problem {
        NoBlank::TightCorner { at, radius } => {
            let least = unit.show(Length::from_mm(wall.tangent_inset()));
            let message = format!(
                "the {what} curves with a radius of {} at {}, tighter than its edge radius and thickness leave room for",
                unit.show(Length::from_mm(*radius)),
                near(at)
            );
            Problem::new(Code::NoRoom, message, format!("make that radius more than {least}, or the edge radius smaller"))
        }
        NoBlank::TooNarrow { at, width } => {
            let least = unit.show(Length::from_mm(2.0 * wall.tangent_inset()));
            let message = format!(
                "the {what} is {} wide at {}: its two edges, each of the edge radius and the thickness, leave no face between them",
                unit.show(Length::from_mm(*width)),
                near(at)
            );
            Problem::new(Code::NoRoom, message, format!("make it more than {least} wide there, or the edge radius smaller"))
        }
        NoBlank::Crossing { at } => {
            let message = format!("laid flat, the walls of this {what} run into each other at {}", near(at));
            Problem::new(
                Code::WallCannotFollow,
                message,
                "make the walls lower or the inside curve wider, or split the part there",
            )
        }
        NoBlank::NoCorner { at } => {
            let message = format!("two sides of this {what} find no common corner at {} once the walls are laid flat", near(at));
            Problem::new(Code::NoRoom, message, "make the short side longer, or the corner wider")
        }
        NoBlank::UsedUp { at } => {
            let message = format!("the wall of this {what} cannot follow its curve at {}: its metal is used up before its edge", near(at));
            Problem::new(Code::WallCannotFollow, message, "make the wall lower or the curve wider")
        }
        NoBlank::Face { at, reason, help } => {
            Problem::new(Code::NoRoom, format!("at {} of this {what} {reason}", near(at)), *help)
        }
        NoBlank::NoBalance(NoBalance { at, reason }) => {
            let message = format!("no blank was found for the walls of this {what}: at {}, {reason}", near(at));
            Problem::new(Code::NoBalance, message, "make the wall lower or the curve wider there, or split the part")
        }
    }
    .at(place.clone())
}

/// The corners between walls, and the curves where a wall is cut apart.
pub(super) fn wall_corners(walled: &ShellBlank, join: Join, place: &Place) -> Vec<WallCorner> {
    let sharp = walled
        .sharp_corners
        .iter()
        .map(|corner| (corner.at, CornerKind::Sharp { turn: corner.turn, join }));
    let round = walled
        .hammered_round
        .iter()
        .map(|(at, turn)| (*at, CornerKind::HammeredRound { turn: *turn }));
    let apart = walled
        .cut_apart
        .iter()
        .map(|(at, radius)| (*at, CornerKind::CutApart { radius: radius.abs() }));
    sharp
        .chain(round)
        .chain(apart)
        .map(|(at, kind)| WallCorner { at, kind, place: place.clone() })
        .collect()
}
