//! Marks by which a bend is set under the tool by eye.

use super::{Bending, Held};
use crate::flat::{Flat, FoldMark};
use crate::part::BrakeKind;

/// Longest tick at the end of a press brake's bend line, mm.
const TICK: f64 = 10.0;

/// The marks of a part on its blank.
///
/// A press brake's punch stands on the middle of the zone: ticks at the ends of that line. A leaf
/// or pan brake's nose edge stands over the sight line, one inside radius inside the tangent line
/// on the side that is held (naval aviation mechanic's manual, and a page of questions and answers
/// on press against pan brakes); the held side is that of the bend's step, or the parent's where
/// there is no order.
#[must_use]
pub fn fold_marks(flat: &Flat, bending: &Bending) -> Vec<FoldMark> {
    let Some(tree) = &flat.tree else { return Vec::new() };
    if !bending.setup.is_own {
        return Vec::new();
    }
    let mut marks = Vec::new();
    for (i, bend) in flat.bends.iter().enumerate() {
        let [from, to] = bend.line;
        let along = to - from;
        if bending.setup.kind == BrakeKind::Press {
            let tick = TICK.min(along.hypot() / 4.0);
            let step = along.normalize() * tick;
            marks.push(FoldMark {
                bend: i,
                lines: vec![[from, from + step], [to - step, to]],
                held: None,
            });
            continue;
        }
        let held = bending
            .steps()
            .iter()
            .find(|step| bending.strokes[step.stroke].bends.contains(&i))
            .map_or(Held::Parent, |step| step.held);
        let toward = tree.bends[i].toward;
        // From the middle of the zone back to the held tangent line, then one radius in again.
        let shift = bend.inside_radius.mm() - bend.developed.allowance.mm() / 2.0;
        let (shift, back) = if held == Held::Parent {
            (toward * shift, -toward)
        } else {
            (toward * -shift, toward)
        };
        marks.push(FoldMark { bend: i, lines: vec![[from + shift, to + shift]], held: Some(back) });
    }
    marks
}
