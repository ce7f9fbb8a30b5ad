//! What benches and reference tests print of their memory. It is the whole process's: a test that
//! prints it is run alone to read it.

/// The most memory that this process has had, MB, as Linux counts it; 0 elsewhere.
pub(crate) fn most_memory() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.and_then(|line| line.split_whitespace().next()?.parse::<u64>().ok()).unwrap_or_default()
        / 1024
}
