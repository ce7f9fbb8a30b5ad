//! Ctrl-C: while a nest runs it ends the search, and the best layout so far is written; at any
//! other time, and the second time, it ends the program at once.

use std::sync::Once;
use std::sync::atomic::{AtomicU8, Ordering};

/// Nothing to be saved.
const IDLE: u8 = 0;
/// A nest runs.
const NESTING: u8 = 1;
/// A nest runs or has run, and was asked to stop.
const ASKED: u8 = 2;

/// The exit status of a program that Ctrl-C has ended: 128 and the signal's number, as shells have
/// it.
const ENDED: i32 = 130;

static STATE: AtomicU8 = AtomicU8::new(IDLE);
static LISTENING: Once = Once::new();

/// From now on Ctrl-C asks the nest to stop.
pub(super) fn nest_begins() {
    LISTENING.call_once(|| {
        // Where no handler can be set, Ctrl-C ends the program as ever.
        let _ = ctrlc::set_handler(|| {
            if STATE.compare_exchange(NESTING, ASKED, Ordering::SeqCst, Ordering::SeqCst).is_err() {
                std::process::exit(ENDED);
            }
        });
    });
    let _ = STATE.compare_exchange(IDLE, NESTING, Ordering::SeqCst, Ordering::SeqCst);
}

/// Whether the nest was asked to stop.
pub(super) fn asked() -> bool {
    STATE.load(Ordering::SeqCst) == ASKED
}

/// From now on Ctrl-C ends the program.
pub(super) fn nest_ends() {
    let _ = STATE.compare_exchange(NESTING, IDLE, Ordering::SeqCst, Ordering::SeqCst);
}
