//! The kinds of part, and what the rest of the program asks of each.

use super::{Bent, Folded, HalfShell, Opening, Plate, Tabs};

/// What is made of the sheet.
#[derive(Debug, Clone)]
pub enum Kind {
    /// Cut and left flat.
    Plate(Plate),
    /// Hammered over a buck.
    HalfShell(Box<HalfShell>),
    /// Bent from one section.
    Bent(Bent),
    /// A panel with flanges on its edges.
    Folded(Box<Folded>),
}

impl Kind {
    /// Its name in descriptions and results.
    #[must_use]
    pub const fn name(&self) -> &'static str {
        match self {
            Self::Plate(_) => Plate::NAME,
            Self::HalfShell(_) => HalfShell::NAME,
            Self::Bent(_) => Bent::NAME,
            Self::Folded(_) => Folded::NAME,
        }
    }

    /// The half-shell, if it is one.
    #[must_use]
    pub fn half_shell(&self) -> Option<&HalfShell> {
        match self {
            Self::HalfShell(shell) => Some(shell),
            _ => None,
        }
    }

    /// Whether it is formed over a buck.
    #[must_use]
    pub fn has_buck(&self) -> bool {
        self.half_shell().is_some()
    }

    /// Whether a brake bends it, so that its blank is the flat of a fold tree.
    #[must_use]
    pub const fn is_bent(&self) -> bool {
        match self {
            Self::Plate(_) | Self::HalfShell(_) => false,
            Self::Bent(_) | Self::Folded(_) => true,
        }
    }

    /// All its openings, as described: face after face.
    #[must_use]
    pub fn openings(&self) -> Vec<&Opening> {
        match self {
            Self::Plate(plate) => plate.openings.iter().collect(),
            Self::HalfShell(shell) => shell.openings.iter().collect(),
            Self::Bent(bent) => bent.legs.iter().flat_map(|leg| &leg.openings).collect(),
            Self::Folded(folded) => folded.all_openings(),
        }
    }

    /// Where `at` of an opening is measured from, for what it lies outside of.
    #[must_use]
    pub const fn opening_axes(&self) -> &'static str {
        match self {
            Self::Plate(_) | Self::HalfShell(_) => "`at` is measured where the profile is",
            Self::Bent(_) => {
                "`at` is along the leg from its start mould line (the first leg: from its free end), then across the depth"
            }
            Self::Folded(_) => {
                "`at` is along the edge from its start, then up the flange from the outside mould line"
            }
        }
    }

    /// All its tabs, with the names of their edges: `bottom`, or `front/outer` for those of a
    /// flange.
    #[must_use]
    pub fn tabs(&self) -> Vec<(String, &Tabs)> {
        match self {
            Self::Plate(plate) => {
                plate.tabs.iter().map(|tabs| (tabs.edge_name.clone(), tabs)).collect()
            }
            Self::Folded(folded) => folded.all_tabs(),
            Self::HalfShell(_) | Self::Bent(_) => Vec::new(),
        }
    }
}
