//! Step 3: takes a `Part`, gives its `Flat`, the blank that is cut; `check` verifies it.
