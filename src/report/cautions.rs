//! Cautions, each printed only when it applies.

use serde::Serialize;

use crate::bending::Bending;
use crate::finding::{Finding, Rule};
use crate::flat::{Flat, openings_of};
use crate::part::Part;
use crate::shop::material::Hazard;

/// A caution in plain words.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Caution {
    /// When it applies, in two or three words.
    pub about: &'static str,
    /// The same in half a line, for the terminal.
    pub brief: &'static str,
    /// What to mind.
    pub words: &'static str,
}

/// A caution as results give it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct CautionResult {
    /// When it applies.
    pub hazard: &'static str,
    /// What to mind.
    pub text: &'static str,
}

impl From<&Caution> for CautionResult {
    fn from(caution: &Caution) -> Self {
        Self { hazard: caution.about, text: caution.words }
    }
}

const STRUCTURE: Caution = Caution {
    about: "structure",
    brief: "nobody has checked the strength of this",
    words: "This is help with shapes only. Nobody has checked strength, stiffness, fatigue or the law for your vehicle: a licensed engineer or \
            experienced builder must own that, under the local codes, with a proof load and slow running before use.",
};
const EDGES: Caution = Caution {
    about: "sheet edges",
    brief: "fresh edges cut to the bone",
    words: "Fresh cut edges and dross cut to the bone. Deburr first; wear gloves for carrying, never near turning tools or a press; take two \
            people for a full sheet.",
};
const PLASMA: Caution = Caution {
    about: "plasma cutting",
    brief: "the arc burns eyes and skin, slag starts fires, fume harms",
    words: "The arc burns eyes and skin in seconds, bystanders' too: shade it. Ventilate against fume and nitrogen oxides, wear ear defenders. Hot \
            slag sets fire to rags, fuel and dust far off: clear them away and keep watch afterwards.",
};
const HAMMER: Caution = Caution {
    about: "hammering",
    brief: "wear ear and eye protection",
    words: "Sheet work is often above 90 dB(A): ear protection from the start. Eye protection against chips, padded handles, short sessions.",
};
const BUCK: Caution = Caution {
    about: "making the buck",
    brief: "board dust harms the lungs",
    words: "Board dust harms the lungs: extraction and a mask. A router climbs on end grain: clamp the work. Keep a torch off wooden bucks, which \
            smoke and burn.",
};
const WELD: Caution = Caution {
    about: "welding",
    brief: "screens, ventilation, a fire watch",
    words: "The arc burns eyes and skin: helmet, covered skin, screens for bystanders. Draw fume off at the source; shielding gas in a pit or a \
            closed space drives out the air. Clear away what burns, have an extinguisher at hand and keep a fire watch afterwards. Strip paint, oil \
            and coatings first.",
};
const BRAKE: Caution = Caution {
    about: "the brake",
    brief: "hands out of the throat, clear of what whips up",
    words: "Hands out of the throat and away from the side that whips up; hold small parts with a tool; mind the pinch at the back gauge and \
            the swing of a leaf's counterweight.",
};
const CAVITY: Caution = Caution {
    about: "closed cavities",
    brief: "a closed cavity needs a vent before any heat",
    words: "A closed cavity needs an open vent before any heat: pressure builds and the last tack spits. Keep your face out of its line.",
};
const TANK: Caution = Caution {
    about: "tanks",
    brief: "no hot work on what held fuel or oil; a can is not a crash-safe tank",
    words: "Never weld on anything that has held fuel, oil or solvent until a competent person has proved it free of vapour, before and during the \
            work; a little petrol in oil is enough to explode. Test for leaks with water first; with air only at the lowest pressure, through a \
            regulator and a relief valve, standing aside. A plain sheet can is not a crash-safe fuel tank. Flush out grit before oil goes near an \
            engine.",
};
const CHROMIUM: Caution = Caution {
    about: "chromium steel",
    brief: "fume and dust of cutting, grinding and welding hold chromium",
    words: "Fume and dust of cutting, grinding and welding hold chromium: exhaust at the source, respirator to the local rule. Grind the plasma \
            skin off edges that will be stretched, bent or welded: it cracks.",
};
const CHROMIUM_MOLYBDENUM: Caution = Caution {
    about: "welding chromium-molybdenum steel",
    brief: "chromium-molybdenum welds: dry, bright, out of draughts, never quenched",
    words: "Clean to bright metal 25 mm each side, no zinc, cadmium or oil. Weld at room temperature or warmer, out of draughts, cool in still air, \
            never quench; look again the next day and dye-check main joints. Heat-treated metal beside a weld loses its temper.",
};
const ZINC: Caution = Caution {
    about: "zinc coating",
    brief: "zinc fume poisons",
    words: "Zinc fume makes ill within hours. Cut and weld coated sheet only with exhaust at the source, and grind the coating off well back from \
            every weld.",
};
const LIGHT_METAL: Caution = Caution {
    about: "light metal",
    brief: "light-metal dross makes hydrogen in water, its dust burns",
    words: "Dross and dust of light metal make hydrogen in water: clear the water table before and after, and never leave dross in it. Its fine \
            dust burns and can explode: keep it dry, swept up and apart from steel grindings.",
};
const TITANIUM: Caution = Caution {
    about: "titanium fines",
    brief: "titanium dust and chips burn, and water feeds the fire",
    words: "Dust, chips and fine dross of titanium catch fire from a spark and burn white; water feeds that fire. Keep them swept up and apart, \
            have a metal-fire extinguisher or dry sand at hand.",
};
/// What every list of cautions ends with.
pub(super) const DEFERENCE: Caution = Caution {
    about: "before all of this",
    brief: "local codes, the maker's manual and a qualified person come first",
    words: "Local codes, the maker's manual and a qualified person come first.",
};

/// The cautions that a part calls for, the closing one last; `flat` is none for a half-shell
/// without a blank.
#[must_use]
pub fn cautions_of(
    part: &Part,
    flat: Option<&Flat>,
    bending: Option<&Bending>,
    findings: &[Finding],
) -> Vec<Caution> {
    let mut all = vec![STRUCTURE, EDGES];
    all.extend(cutting_cautions(&part.material.hazards));
    if part.kind.has_buck() {
        all.extend([HAMMER, BUCK]);
    } else if flat.is_some_and(|flat| hammered(part, flat, bending)) {
        all.push(HAMMER);
    }
    if flat.is_some_and(|flat| bent_at_a_brake(flat, bending)) {
        all.push(BRAKE);
    }
    if is_welded(part, flat) {
        all.push(WELD);
        if part.material.hazards.contains(&Hazard::ChromiumMolybdenum) {
            all.push(CHROMIUM_MOLYBDENUM);
        }
    }
    let is_pair = part.kind.half_shell().is_some_and(|shell| shell.paired);
    if is_pair || findings.iter().any(|finding| finding.rule == Rule::CavityVent) {
        all.push(CAVITY);
    }
    // Of a pair it is told how much oil it holds.
    if is_pair {
        all.push(TANK);
    }
    all.push(DEFERENCE);
    all
}

/// The cautions of cutting such a metal by plasma.
pub(super) fn cutting_cautions(hazards: &[Hazard]) -> Vec<Caution> {
    let of_metal = hazards.iter().filter_map(|hazard| match hazard {
        Hazard::Chromium => Some(CHROMIUM),
        Hazard::Zinc => Some(ZINC),
        Hazard::LightMetal => Some(LIGHT_METAL),
        Hazard::Titanium => Some(TITANIUM),
        Hazard::ChromiumMolybdenum => None,
    });
    std::iter::once(PLASMA).chain(of_metal).collect()
}

/// The cautions of several parts together, each once, the closing one last.
#[must_use]
pub fn joined_cautions(parts: impl IntoIterator<Item = Vec<Caution>>) -> Vec<Caution> {
    let mut all: Vec<Caution> = Vec::new();
    for caution in parts.into_iter().flatten() {
        if caution != DEFERENCE && !all.contains(&caution) {
            all.push(caution);
        }
    }
    all.push(DEFERENCE);
    all
}

/// Cautions in a line or two, for the terminal.
#[must_use]
pub fn caution_words(cautions: &[Caution]) -> String {
    cautions.iter().map(|caution| caution.brief).collect::<Vec<_>>().join("; ")
}

/// Whether a lip or a joggle in a block is hammered down.
fn hammered(part: &Part, flat: &Flat, bending: Option<&Bending>) -> bool {
    openings_of(part, flat).iter().any(|opening| opening.lip.is_some())
        || bending.is_some_and(|bending| bending.pressed().next().is_some())
}

/// Whether any bend is made at a brake and not in a joggle block.
fn bent_at_a_brake(flat: &Flat, bending: Option<&Bending>) -> bool {
    match bending {
        Some(bending) => bending.practice.iter().any(|practice| !practice.in_block),
        None => !flat.bends.is_empty(),
    }
}

/// Whether something of it is welded as a rule: a pair's seam, relief darts, sharp corners of a
/// shell, corners where two flanges meet, tabs.
fn is_welded(part: &Part, flat: Option<&Flat>) -> bool {
    let forming = flat.and_then(|flat| flat.forming.as_ref());
    let cut_apart =
        forming.is_some_and(|forming| !(forming.darts.is_empty() && forming.corners.is_empty()));
    let takes_tab = flat
        .is_some_and(|flat| openings_of(part, flat).iter().any(|opening| opening.tab.is_some()));
    let tree = flat.and_then(|flat| flat.tree.as_ref());
    let corners = tree.is_some_and(|tree| tree.reliefs.iter().any(|relief| relief.bends.len() > 1));
    cut_apart
        || takes_tab
        || corners
        || part.kind.half_shell().is_some_and(|shell| shell.paired)
        || !part.kind.tabs().is_empty()
}
