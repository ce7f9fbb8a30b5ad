//! Corners between walls, and curves that a wall cannot follow.

use crate::finding::{Finding, Grade, Rule};
use crate::flat::{CornerKind, Flat, WallCorner};
use crate::units::Digits;

/// What sharp corners and impossible curves between walls ask of the builder.
pub(super) fn wall_corners(flat: &Flat) -> Vec<Finding> {
    flat.wall_corners.iter().map(wall_corner).collect()
}

fn wall_corner(corner: &WallCorner) -> Finding {
    let near = format!("[{}, {}] mm", Digits(corner.at.x, 1), Digits(corner.at.y, 1));
    let no_limit = "geometry: the stretch or shrink of a wall grows without limit as its corner's radius goes to 0";
    let finding = match corner.kind {
        CornerKind::Sharp { turn, join } if turn > 0.0 => {
            let message =
                format!("the walls meet in a sharp outside corner at {near}; {}", join.words());
            let remedy = "weld the corner shut after forming, or round it with `round`";
            Finding::new(Rule::WallCorner, Grade::Over, message, no_limit).remedy(remedy)
        }
        CornerKind::Sharp { .. } => {
            let message = format!(
                "the walls meet in a sharp inside corner at {near}, where metal would have to tear"
            );
            let remedy =
                "saw along the scribed line and weld a gusset in, or round the corner with `round`";
            Finding::new(Rule::WallCorner, Grade::Over, message, no_limit).remedy(remedy)
        }
        CornerKind::HammeredRound { turn } => {
            let message = format!(
                "the walls go on round the corner of {} degrees at {near} in one piece, hammered round: all that it asks of the metal \
                 comes together there",
                Digits(turn.to_degrees().abs(), 1),
            );
            let source = "geometry: cut apart, their edges find no place to meet";
            let remedy = "round it with `round`, which spreads the stretch or shrink";
            Finding::new(Rule::WallCorner, Grade::Care, message, source).remedy(remedy)
        }
        CornerKind::CutApart { radius } => {
            let message = format!(
                "the wall cannot follow an inside radius of {} mm at {near}: it is cut apart there, along the scribed line",
                Digits(radius, 1),
            );
            let source =
                "exact ring solution and forming solve of the sheet's law: no balance of forces";
            let remedy = "make the wall lower or the radius wider, or weld a gusset in";
            Finding::new(Rule::WallCurve, Grade::Over, message, source).remedy(remedy)
        }
    };
    finding.at(&corner.place)
}
