//! Cuts of two parts that run along one line: the second time the torch burns where the metal is
//! gone on one side.

use super::edges::Edges;
use super::{Cut, Torch};
use crate::tolerance::TORCH_CHORD;

/// How near two torch paths are one, in kerfs.
const SAME_LINE: f64 = 0.1;
/// The shortest stretch to speak of, in kerfs; shorter ones are parts that touch.
const SHORTEST: f64 = 10.0;
/// Steps along a path, mm: however narrow the kerf, there are no more of them.
const STEP: f64 = 0.5;

/// Blank, edge and mm of the path of each cut that runs along one of another blank.
pub(super) fn coinciding(cuts: &[Cut], torch: Torch) -> Vec<(usize, usize, f64)> {
    let reach = SAME_LINE * torch.kerf;
    let followed = |cut: &&Cut| !cut.too_narrow;
    let bounds: Vec<kurbo::Rect> =
        cuts.iter().map(|cut| cut.path.bounds().inflate(reach, reach)).collect();
    let length = |(index, cut): (usize, &Cut)| {
        let near = cuts
            .iter()
            .zip(&bounds)
            .filter(|(other, about)| other.blank != cut.blank && about.overlaps(bounds[index]));
        let near: Vec<&Cut> = near.map(|(other, _)| other).filter(followed).collect();
        if near.is_empty() {
            return 0.0;
        }
        let others = Edges::new(near.iter().map(|other| &other.path), torch);
        let points = cut.path.flatten(TORCH_CHORD);
        let lines = points.iter().zip(points.iter().cycle().skip(1));
        lines.map(|(from, to)| others.length_within(*from, *to, reach, STEP)).sum::<f64>()
    };
    let all = cuts
        .iter()
        .enumerate()
        .filter(|(_, cut)| followed(cut))
        .map(|(i, cut)| (cut.blank, cut.edge, length((i, cut))));
    all.filter(|(_, _, length)| *length > SHORTEST * torch.kerf).collect()
}
