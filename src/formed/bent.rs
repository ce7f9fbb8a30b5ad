//! The fold tree of a bent section: its legs in a row, each bent up from the one before it.

use super::cope::{cope_cuts, runs_along};
use super::developed::{developed, reach};
use super::fold_tree::{Face, FaceBend, FoldTree};
use crate::geom::{Affine, Point, Polyarc, Rect, Vec2};
use crate::part::{Bent, Part};
use crate::problem::{Checked, Code, Problem};
use crate::shop::bend_rule::{DevelopedBend, StraightBend};
use crate::units::Length;

/// Lays the legs of a section out along x, from its first free end.
pub fn bent_tree(part: &Part, bent: &Bent) -> Checked<FoldTree> {
    let mut problems = Vec::new();
    let mut bends = Vec::new();
    for bend in &bent.bends {
        match developed(part, bend.inside_radius, bend.angle, &bend.place) {
            Ok(pair) => bends.push(pair),
            Err(problem) => problems.push(problem),
        }
    }
    if !problems.is_empty() {
        return Err(problems);
    }
    let flats = flats_between(part, bent, &bends)?;
    let depth = bent.depth.mm();
    let mut tree = FoldTree {
        thickness: part.thickness.mm(),
        faces: Vec::new(),
        bends: Vec::new(),
        reliefs: Vec::new(),
        copes: Vec::new(),
    };
    let mut x = 0.0;
    for (i, (leg, leg_flat)) in bent.legs.iter().zip(&flats).enumerate() {
        // A leg's own x runs from its start mould line, the first leg's from its free end.
        let origin = if i == 0 { x } else { x - bends[i - 1].1.outside_setback.mm() };
        let shift = Affine::translate((origin, 0.0));
        tree.faces.push(Face {
            name: format!("leg {}", i + 1),
            outline: Polyarc::rectangle(Rect::new(x, 0.0, x + leg_flat, depth)),
            openings: leg.openings.iter().map(|opening| opening.moved(shift)).collect(),
            bend: i.checked_sub(1),
        });
        x += leg_flat;
        if let Some((straight, developed)) = bends.get(i) {
            let upright = |x: f64| [Point::new(x, 0.0), Point::new(x, depth)];
            tree.bends.push(FaceBend {
                name: format!("bend {}", i + 1),
                parent: i,
                child: i + 1,
                parent_line: upright(x),
                child_line: upright(x + developed.allowance.mm()),
                ends: [Vec::new(), Vec::new()],
                toward: Vec2::new(1.0, 0.0),
                angle: bent.bends[i].angle.radians(),
                inside_radius: straight.inside_radius().mm(),
                developed: developed.clone(),
                joggle: bent.bends[i].joggle,
                place: bent.bends[i].place.clone(),
            });
            x += developed.allowance.mm();
        }
    }
    for cope in &bent.copes {
        if runs_along(cope) {
            let message = "this tube runs along the part, so no end of the part lies against it";
            let help = "give `along` the way the tube runs, not the way the part does";
            problems.push(Problem::new(Code::NoRoom, message, help).at(cope.place.clone()));
            continue;
        }
        let cuts = cope_cuts(&tree, cope, depth);
        if cuts.is_empty() {
            let message = "this tube does not meet the part";
            let help = "`through` is a point of its axis: x along the first leg from its free end, y along the depth, z up from its lower face";
            problems.push(Problem::new(Code::NoRoom, message, help).at(cope.place.clone()));
        }
        tree.copes.extend(cuts.into_iter().map(|cut| (cut, cope.place.clone())));
    }
    if problems.is_empty() { Ok(tree) } else { Err(problems) }
}

/// The flat part of each leg between its tangent lines, mm. A leg with less than nothing between
/// them is refused.
fn flats_between(
    part: &Part,
    bent: &Bent,
    developed: &[(StraightBend, DevelopedBend)],
) -> Checked<Vec<f64>> {
    let mut problems = Vec::new();
    let mut flats = Vec::new();
    for (i, leg) in bent.legs.iter().enumerate() {
        let before = if i == 0 { None } else { developed.get(i - 1) };
        let ends: f64 = [before, developed.get(i)]
            .into_iter()
            .flatten()
            .map(|(bend, d)| reach(bent.dims, bend, d))
            .sum();
        let flat = leg.length.mm() - ends;
        if flat < -1e-9 {
            let message = format!(
                "this leg is shorter than the {} that its bends take of it",
                part.unit.show(Length::from_mm(ends))
            );
            problems.push(
                Problem::new(
                    Code::NoRoom,
                    message,
                    "make the leg longer or the bend radius smaller",
                )
                .at(leg.place.clone()),
            );
        }
        flats.push(flat.max(0.0));
    }
    if problems.is_empty() { Ok(flats) } else { Err(problems) }
}
