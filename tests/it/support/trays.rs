//! Trays that a brake can make, with as many bends as asked for.

use indoc::indoc;
use std::fmt::Write as _;

/// A shallow tray of 4 to 16 bends that is ordered: walls, their returns, then beside shorter walls
/// lugs that turn less far, each a stroke of its own.
pub(crate) fn lugged(bends: usize) -> String {
    let mut text = String::from(indoc!(
        "
        part: tray
        units: mm
        material: 1020
        thickness: 1
        folded:
          radius: 2
          panel: {profile: {rectangle: {size: [400, 300]}}}
          flanges:
        "
    ));
    for (i, edge) in ["bottom", "top", "right", "left"].into_iter().enumerate() {
        let own = (0..4).filter(|level| level * 4 + i < bends).count();
        let long = if i < 2 { 400 } else { 300 };
        let lugs = own.saturating_sub(2);
        let back = if lugs > 0 { 60 * lugs + 20 } else { 0 };
        let outer = if own > 1 {
            ", flanges: [{edge: outer, bend: 90, height: 10, cut_back: [15, 15]}]"
        } else {
            ""
        };
        let mut add = |bend: usize, height: u32, cut_back: [usize; 2], more: &str| {
            let [start, end] = cut_back;
            writeln!(text, "    - {{edge: {edge}, bend: {bend}, height: {height}, cut_back: [{start}, {end}]{more}}}")
                .expect("a string takes all");
        };
        add(90, 40, [2, back + 2], outer);
        for lug in 0..lugs {
            let start = long - back + 60 * lug + 10;
            add(60 - 15 * lug, 25, [start, long - start - 45], "");
        }
    }
    text
}
