//! What more than one test holds.

/// Holds a value against the one that it must have.
#[track_caller]
pub(crate) fn assert_near(what: &str, value: f64, wanted: f64, tolerance: f64) {
    // The comparison is this way round so that a NaN fails.
    assert!(
        (value - wanted).abs() <= tolerance,
        "{what}: {value}, wanted {wanted}, may differ by {tolerance}"
    );
}

/// The floor under a loop that passes over what cannot be made: so many of those that it went
/// through were held, or the test says nothing.
#[track_caller]
pub(crate) fn assert_held(least: usize, held: usize, of: usize) {
    assert!(least > 0 && held >= least, "{held} of {of} were held, at least {least} must be");
}
