//! How large a recipe may be, in one place. Each limit is a clear finding, tested at it and one past it.

/// Most bytes of one file: 1 MiB.
pub const FILE_BYTES: usize = 1024 * 1024;
/// Most bytes of one logical line, from the first byte of its first line to the last of its last: 4 KiB.
pub const LINE_BYTES: usize = 4 * 1024;
/// Most files of a recipe, the named one among them.
pub const FILES: usize = 64;
/// Most levels of `use`: a file that the named recipe uses is at level 1.
pub const USE_LEVELS: usize = 16;
/// Most statements in all files, header lines among them.
pub const STATEMENTS: usize = 10_000;
/// Most findings of one recipe; one more says how many are left out.
pub const FINDINGS: usize = 1000;
/// Most commas of one logical line that are taken for stray: each costs a parse of what follows.
pub const STRAY_COMMAS: usize = 16;
/// Most findings about hidden characters in one file; the rest would say the same.
pub const HIDDEN_CHARACTERS: usize = 100;
/// Lines of one file that are mended where they do not parse: every mend tries the line many times.
pub const MENDED: usize = 100;
