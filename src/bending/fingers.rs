//! Which of a pan brake's fingers make up a bend.

/// Steps in which widths are added up, mm.
const STEP: f64 = 0.1;

/// The fingers, each used once, whose widths add up to at least `needed` and at most `room`: of
/// such sets the one nearest above `wanted`, or else the widest. None where no set fits. All in mm.
pub(super) fn choose_fingers(
    widths: &[f64],
    needed: f64,
    wanted: f64,
    room: f64,
) -> Option<Vec<f64>> {
    /// More than any brake is long, mm.
    const LONGEST: f64 = 20_000.0;
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "below 200,000")]
    let steps = |mm: f64| (mm / STEP).round().clamp(0.0, LONGEST / STEP) as usize;
    let most = steps(room.min(LONGEST));
    // For each total the finger last added; 0 stands for the empty set.
    let mut last: Vec<Option<usize>> = vec![None; most + 1];
    let mut reached = vec![0];
    for (finger, width) in widths.iter().enumerate() {
        let width = steps(*width).max(1);
        let new: Vec<usize> =
            reached.iter().map(|total| total + width).filter(|total| *total <= most).collect();
        for total in new {
            if total > 0 && last[total].is_none() {
                last[total] = Some(finger);
                reached.push(total);
            }
        }
    }
    let (needed, wanted) = (steps(needed.max(0.0)), steps(wanted));
    let fitting = reached.iter().copied().filter(|total| *total >= needed && *total > 0);
    let best = fitting.min_by_key(|total| {
        if *total >= wanted { (0, total - wanted) } else { (1, wanted - total) }
    })?;
    let mut chosen = Vec::new();
    let mut total = best;
    while let Some(finger) = last[total] {
        chosen.push(widths[finger]);
        total -= steps(widths[finger]).max(1);
    }
    chosen.sort_by(|a, b| b.total_cmp(a));
    Some(chosen)
}

#[cfg(test)]
mod tests {
    use super::*;

    const OWN: [f64; 6] = [25.0, 25.0, 50.0, 75.0, 100.0, 100.0];

    #[test]
    fn fingers_fill_the_room_and_no_more() {
        let chosen = choose_fingers(&OWN, 220.0, 238.0, 238.0).expect("a set");
        assert_eq!(chosen.iter().sum::<f64>(), 225.0);
        let free = choose_fingers(&OWN, 238.0, 238.0, f64::INFINITY).expect("a set");
        assert_eq!(free.iter().sum::<f64>(), 250.0);
        assert_eq!(choose_fingers(&OWN, 226.0, 238.0, 238.0), None);
        assert_eq!(choose_fingers(&OWN, 400.0, 400.0, f64::INFINITY), None);
    }

    /// Each finger is used once, whatever the sums: against all subsets.
    #[test]
    fn no_finger_is_used_twice() {
        for room in [30.0, 60.0, 110.0, 180.0, 300.0] {
            let best = (0..1_u32 << OWN.len())
                .map(|set| {
                    (0..OWN.len()).filter(|i| set & (1 << i) != 0).map(|i| OWN[i]).sum::<f64>()
                })
                .filter(|total| *total <= room)
                .fold(0.0, f64::max);
            let chosen = choose_fingers(&OWN, 1.0, room, room).expect("a set");
            assert_eq!(chosen.iter().sum::<f64>(), best, "{room}");
            for width in &chosen {
                let count = |all: &[f64]| all.iter().filter(|w| *w == width).count();
                assert!(count(&chosen) <= count(&OWN), "{chosen:?}");
            }
        }
    }
}
