//! A turn of a thread: where one may break down on purpose, in builds for tests.

/// In builds for tests a thread breaks down at its next turn once its name stands in the file that this variable names:
/// only so can a test show, on the real program at a real wire, what the breakdown of each thread leads to.
#[cfg(debug_assertions)]
pub(super) fn turn() {
    use std::path::PathBuf;
    use std::sync::OnceLock;
    static BREAKS: OnceLock<Option<PathBuf>> = OnceLock::new();
    let breaks = BREAKS.get_or_init(|| std::env::var_os("QUADJIG_TEST_BREAKS").map(PathBuf::from));
    let Some(name) = breaks.as_ref().and_then(|file| std::fs::read_to_string(file).ok()) else { return };
    assert!(std::thread::current().name() != Some(name.as_str()), "on purpose, by a test");
}

/// A turn of a thread.
#[cfg(not(debug_assertions))]
pub(super) fn turn() {}
