//! Takes what was made of a part or a job, gives the findings. Every rule stands here, one
//! file for each thing that is looked at.
//!
//! | function | looks at | when |
//! |---|---|---|
//! | [`check`] | metal, bends, brake, openings, walls, edge strains | the part is laid flat |
//! | `name_lower_walls` | walls that would hold, for edges beyond their limits | files are made |
//! | [`check_without_blank`], `no_blank` | metal and openings of a shell; why it has no blank | none was found |
//! | `figures_differ` | figures that contradict each other | the part is laid flat |
//! | `check_buck` | the form block | there is one |
//! | `check_pair` | the hollow that a pair makes | the part is paired |
//! | [`check_tabs`] | tabs and slots across a job | the job is read |
//! | `check_cuts`, `test_piece_room` | the cuts of a sheet, the room for test pieces | the sheets are laid out |

mod bending;
mod buck;
mod cavity;
mod cutting;
mod edge_strains;
mod figures;
mod forming_limit;
mod metal;
mod no_blank;
mod openings;
mod tabs;
mod walls;

use crate::bending::Bending;
use crate::finding::Finding;
use crate::flat::Flat;
use crate::part::{Kind, Part};
use crate::units::Angle;

use self::bending::{brake, flanges, legs};
pub(crate) use self::buck::check_buck;
pub(crate) use self::cavity::check_pair;
use self::cavity::folded_cavity;
pub(crate) use self::cutting::{check_cuts, test_piece_room};
use self::edge_strains::edge_strains;
pub(crate) use self::edge_strains::name_lower_walls;
pub(crate) use self::figures::figures_differ;
use self::forming_limit::forming_limit;
use self::metal::{bend_radii, edge_radius, hems, k_factors, room_when_folded};
pub(crate) use self::no_blank::{crown_with_a_blank, no_blank};
use self::openings::{openings_near_bends, openings_on_face, small_openings, tab_slots};
pub use self::tabs::check_tabs;
use self::walls::wall_corners;

/// Every rule that looks at the part laid flat.
#[must_use]
pub fn check(part: &Part, flat: &Flat, bending: Option<&Bending>) -> Vec<Finding> {
    let mut findings = wall_corners(flat);
    findings.extend(openings_near_bends(part, flat));
    findings.extend(openings_on_face(part, flat));
    match &part.kind {
        Kind::Bent(bent) => {
            findings.extend(bend_radii(part, flat));
            findings.extend(bending.iter().flat_map(|bending| legs(part, bent, flat, bending)));
        }
        Kind::HalfShell(shell) => {
            findings.extend(edge_radius(
                part,
                shell.inside_radius,
                Angle::from_degrees(90.0) - shell.draft,
                &shell.profile_place,
            ));
        }
        Kind::Folded(folded) => {
            findings.extend(bend_radii(part, flat));
            findings.extend(bending.iter().flat_map(|bending| flanges(part, flat, bending)));
            hems(part, &folded.flanges, &mut findings);
        }
        Kind::Plate(_) => {}
    }
    findings.extend(k_factors(part, flat));
    let own =
        flat.tree.iter().flat_map(|tree| room_when_folded(part, flat, tree)).collect::<Vec<_>>();
    findings.extend(bending.iter().flat_map(|bending| brake(part, flat, bending, !own.is_empty())));
    findings.extend(own);
    findings.extend(edge_strains(part, flat));
    findings.extend(forming_limit(part, flat));
    findings.extend(small_openings(part, flat));
    findings.extend(tab_slots(part, flat));
    findings.extend(folded_cavity(part, flat));
    findings
}

/// The rules that apply to a half-shell without a blank.
#[must_use]
pub fn check_without_blank(part: &Part) -> Vec<Finding> {
    let Some(shell) = part.kind.half_shell() else { return Vec::new() };
    let angle = Angle::from_degrees(90.0) - shell.draft;
    edge_radius(part, shell.inside_radius, angle, &shell.profile_place).into_iter().collect()
}
