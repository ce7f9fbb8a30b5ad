//! Step 3: takes `Formed`, gives `Flat`; `check` verifies it by folding the flat back.

pub mod bend_rule;
pub mod measured_strip;
