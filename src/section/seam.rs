//! The runs of weld between the halves.

use crate::flat::half_shell::has_wall;
use crate::part::HalfShell;

/// A run of weld without a gap.
#[derive(Debug, Clone, PartialEq)]
pub struct Seam {
    /// The named edges of the profile that it follows, in order; empty where none has a name.
    pub edges: Vec<String>,
    /// Its length along the outside of the metal, mm.
    pub length: f64,
}

/// The runs of weld of a pair: along every wall, from open edge to open edge, or once round.
pub(super) fn seams_of(shell: &HalfShell) -> Vec<Seam> {
    let sides = &shell.profile.sides.sides;
    let n = sides.len();
    // From the first wall after an open edge, so that no run is cut in two where the outline
    // starts.
    let first =
        (0..n).find(|&i| has_wall(shell, i) && !has_wall(shell, (i + n - 1) % n)).unwrap_or(0);
    let mut seams: Vec<Seam> = Vec::new();
    let mut runs_on = false;
    for i in (0..n).map(|k| (first + k) % n) {
        if !has_wall(shell, i) {
            runs_on = false;
            continue;
        }
        if !runs_on {
            seams.push(Seam { edges: Vec::new(), length: 0.0 });
            runs_on = true;
        }
        let Some(seam) = seams.last_mut() else { continue };
        seam.length += sides[i].segment.length();
        if let Some(name) = sides[i].edge.and_then(|edge| shell.profile.edge_names.get(edge))
            && seam.edges.last() != Some(name)
        {
            seam.edges.push(name.clone());
        }
    }
    seams
}
