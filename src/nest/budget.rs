//! How long the search may go on, and what it tells the caller meanwhile.

use super::{Doing, Progress, Watch};

/// Counts trial poses, asks the caller now and then, and stays stopped once stopped.
pub(super) struct Budget<'a> {
    watch: &'a mut dyn Watch,
    limit: Option<u64>,
    /// Stop here for now, whatever the limit.
    lap: Option<u64>,
    stopped: bool,
    pub(super) progress: Progress,
}

impl<'a> Budget<'a> {
    pub(super) fn new(watch: &'a mut dyn Watch, limit: Option<u64>) -> Self {
        let progress = Progress {
            doing: Doing::FillingSheets,
            poses_tried: 0,
            best_yield: 0.0,
            sheets: 0,
            roll_length: None,
            unplaced: 0,
        };
        Self { watch, limit, lap: None, stopped: false, progress }
    }

    /// Books `poses` trials; false when it is time to stop.
    pub(super) fn spend(&mut self, poses: u64) -> bool {
        self.progress.poses_tried += poses;
        if self.limit.is_some_and(|l| self.progress.poses_tried >= l)
            || !self.watch.keep_going(&self.progress)
        {
            self.stopped = true;
        }
        self.goes_on()
    }

    /// False once stopped or past the present lap.
    pub(super) fn goes_on(&self) -> bool {
        !self.stopped && self.lap.is_none_or(|l| self.progress.poses_tried < l)
    }

    /// Poses left until the limit or the end of the lap, if there is either.
    pub(super) fn left(&self) -> Option<u64> {
        let end = self.limit.into_iter().chain(self.lap).min();
        end.map(|e| e.saturating_sub(self.progress.poses_tried))
    }

    /// True once the limit is reached or the caller said stop.
    pub(super) fn stopped(&self) -> bool {
        self.stopped
    }

    /// True when the caller wants even the first filling left as it is.
    pub(super) fn broken_off(&mut self) -> bool {
        self.watch.break_off()
    }

    /// Allows at most `poses` more trials until the lap is lifted by `None`.
    pub(super) fn lap(&mut self, poses: Option<u64>) {
        self.lap = poses.map(|p| self.progress.poses_tried + p);
    }

    /// The share of the allowance that is gone, as far as anyone knows: 0 to 1.
    pub(super) fn share(&self) -> f64 {
        let by_count =
            self.limit.map_or(0.0, |l| self.progress.poses_tried as f64 / l.max(1) as f64);
        by_count.max(self.watch.spent().unwrap_or(0.0)).clamp(0.0, 1.0)
    }

    /// Whether any limit is known in advance.
    pub(super) fn has_end(&self) -> bool {
        self.limit.is_some() || self.watch.spent().is_some()
    }
}
