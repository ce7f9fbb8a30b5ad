//! Cavities: the hollow that a half-shell and its mirror make, and what a folded part closes off.

use crate::finding::{Finding, Grade, Measured, Rule, Sense};
use crate::flat::Flat;
use crate::formed::{Piece, SheetMesh};
use crate::geom::enclosed;
use crate::part::{HalfShell, Kind, Opening, Part};
use crate::units::Digits;

const SOURCE: &str = "no unvented volume at weld time: common practice of tank builders";
const REMEDY: &str = "add an opening as a vent, 2 to 3 mm at least, and keep it open until all heat is done, your face out of line with it";

/// Width of a cell in thicknesses: a gap narrower than two cells counts as a seam that will be
/// welded shut.
const CELL: f64 = 2.0;

/// Whether the pair's cavity has a way out for the heat of welding.
pub(crate) fn check_pair(part: &Part, shell: &HalfShell) -> Finding {
    let ways_out = vents(&shell.openings) + shell.open_edges.len();
    let vented = format!("the pair's cavity has openings or open edges: {ways_out} in each half");
    vent(part, ways_out, vented, "the pair closes a cavity")
}

/// The same for a folded part that closes a space off once its corners are welded; none where it
/// closes none, as no section does that is bent along parallel lines.
pub(super) fn folded_cavity(part: &Part, flat: &Flat) -> Option<Finding> {
    let tree = flat.tree.as_ref().filter(|_| matches!(part.kind, Kind::Folded(_)))?;
    let mesh = SheetMesh::new(tree, &flat.outside, &[])?;
    let face_of = |piece: Piece| match piece {
        Piece::Face(face) => face,
        Piece::Bend(bend) => tree.bends[bend].child,
    };
    let surface: Vec<_> = mesh
        .surface(&tree.folded())
        .into_iter()
        .map(|(triangle, piece)| (triangle, face_of(piece)))
        .collect();
    let cavity = enclosed(&surface, CELL * tree.thickness)?;
    let ways_out = cavity.walls.iter().map(|face| vents(&tree.faces[*face].openings)).sum();
    let vented = format!(
        "with its corners welded the part closes off a space; openings that lead out of it: {ways_out}"
    );
    let litres = Digits(cavity.volume / 1e6, 2);
    let closes = format!("with its corners welded the part closes off at least {litres} litres");
    Some(vent(part, ways_out, vented, &closes))
}

/// The finding on a cavity with so many ways out, and what is said of it with any and with none.
fn vent(part: &Part, ways_out: usize, vented: String, closes: &str) -> Finding {
    let measured = Measured::count(ways_out, Sense::AtLeast, 1);
    let (message, remedy) = if measured.holds() {
        (vented, "")
    } else {
        let message = format!(
            "{closes} with no way out: welding heats the air in it, and the last tack blows out or the cavity bursts"
        );
        (message, REMEDY)
    };
    Finding::measured(Rule::CavityVent, measured, Grade::Over, message, SOURCE)
        .remedy(remedy)
        .at(&part.place)
}

/// How many openings let air out: slots are filled and welded by their tabs.
fn vents(openings: &[Opening]) -> usize {
    openings.iter().filter(|opening| opening.tab.is_none()).count()
}
