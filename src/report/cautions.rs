//! Cautions, each printed only when it applies.

use crate::part::{Kind, Part};

/// A caution in plain words.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Caution {
    /// When it applies, in two or three words.
    pub about: &'static str,
    /// What to mind.
    pub words: &'static str,
}

const STRUCTURE: Caution = Caution {
    about: "structure",
    words: "This is help with shapes only. Nobody has checked strength, stiffness, fatigue or the law for your vehicle: a licensed engineer or \
            experienced builder must own that, under the local codes, with a proof load and slow running before use.",
};
const EDGES: Caution = Caution {
    about: "sheet edges",
    words: "Fresh cut edges and dross cut to the bone. Deburr first; wear gloves for carrying, never near turning tools or a press; take two \
            people for a full sheet.",
};
pub(super) const PLASMA: Caution = Caution {
    about: "plasma cutting",
    words: "The arc burns eyes and skin in seconds, bystanders' too: shade it. Ventilate against fume and nitrogen oxides, wear ear defenders. Hot \
            slag sets fire to rags, fuel and dust far off: clear them away and keep watch afterwards. Never cut zinc-coated sheet without exhaust \
            at the source, its fume poisons; clear a water table of light-metal dross, which can make hydrogen. The machine's manual and the \
            local rules go before all of this.",
};
const HAMMER: Caution = Caution {
    about: "hammering",
    words: "Sheet work is often above 90 dB(A): ear protection from the start. Eye protection against chips, padded handles, short sessions.",
};
const BUCK: Caution = Caution {
    about: "making the buck",
    words: "Board dust harms the lungs: extraction and a mask. A router climbs on end grain: clamp the work. Keep a torch off wooden bucks, which \
            smoke and burn.",
};
const CHROMIUM: Caution = Caution {
    about: "chromium steel",
    words: "Fume and dust of cutting, grinding and welding hold chromium: exhaust at the source, respirator to the local rule. Grind the plasma \
            skin off edges that will be stretched, bent or welded: it cracks.",
};
const WELD: Caution = Caution {
    about: "welding 4130",
    words: "Clean to bright metal 25 mm each side, no zinc, cadmium or oil. Weld at room temperature or warmer, out of draughts, cool in still air, \
            never quench; look again the next day and dye-check main joints.",
};
const CAVITY: Caution = Caution {
    about: "closed cavities",
    words: "A closed cavity needs an open vent before any heat: pressure builds and the last tack spits. Never weld on anything that has held fuel or \
            oil until it is proved free of vapour.",
};
const BRAKE: Caution = Caution {
    about: "the brake",
    words: "Hands out of the throat and away from the side that whips up; hold small parts with a tool; mind the pinch at the back gauge and \
            the swing of a leaf's counterweight.",
};

/// The cautions that a part calls for.
#[must_use]
pub fn cautions_of(part: &Part) -> Vec<Caution> {
    let mut all = vec![STRUCTURE, EDGES];
    let chromium = part.material.name.contains("4130") || part.material.name.contains("304");
    if chromium || part.material.description.contains("hromium") {
        all.push(CHROMIUM);
    }
    match &part.kind {
        Kind::HalfShell(shell) => {
            all.extend([HAMMER, BUCK]);
            if shell.paired {
                all.push(CAVITY);
                if part.material.name.contains("4130") || part.material.description.contains("hromium-molybdenum") {
                    all.push(WELD);
                }
            }
        }
        Kind::Bent(_) | Kind::Folded(_) => all.push(BRAKE),
        Kind::Plate(_) => {}
    }
    all
}

/// The cautions of a whole job: those of its parts, each once, and those of cutting.
#[must_use]
pub fn job_cautions<'a>(parts: impl Iterator<Item = &'a Part>) -> Vec<Caution> {
    let mut all = Vec::new();
    for caution in parts.flat_map(cautions_of).chain([PLASMA]) {
        if !all.contains(&caution) {
            all.push(caution);
        }
    }
    all
}
