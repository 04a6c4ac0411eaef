//! Whatever reads bytes from elsewhere, over bytes that are kept for it and over what accidents make of them: a few in the
//! suite; `QUADJIG_ACCIDENTS=100000` (or `keys:100000`) has so many.
//!
//! Promises: what was once found is never found again. Must not be here: what a target promises (see `targets`).

mod targets;

use crate::docs::project;
use std::path::PathBuf;

#[cfg(fuzzing)]
libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    static TARGET: std::sync::LazyLock<targets::Target> =
        std::sync::LazyLock::new(|| targets::named(&std::env::var("QUADJIG_FUZZ").unwrap_or_default()));
    TARGET(bytes);
});

/// Accidents of each target in the suite; a world takes as long as hundreds of the others.
const FEW: u64 = 60;
const FEW_WORLDS: u64 = 3;

/// `splitmix64` (Steele, Lea, Flood 2014), by its place in the stream.
fn number(at: u64) -> u64 {
    let mut z = at.wrapping_mul(0x9E37_79B9_7F4A_7C15);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

/// Bytes after one accident to four: a bit, a byte, a piece lost, doubled or moved, a tail of others.
fn after_accidents(bytes: &[u8], other: &[u8], seed: u64) -> Vec<u8> {
    let mut bytes = bytes.to_vec();
    let mut drawn = seed * 1000;
    let mut below = |most: usize| {
        drawn += 1;
        usize::try_from(number(drawn) % (most.max(1) as u64)).unwrap()
    };
    for _ in 0..=below(4) {
        let (from, kind) = (below(bytes.len() + 1), below(6));
        let to = (from + below(24)).min(bytes.len());
        let piece = bytes[from..to].to_vec();
        match (kind, bytes.get_mut(from)) {
            (0, Some(byte)) => *byte ^= 1 << below(8),
            (1, Some(byte)) => *byte = u8::try_from(below(256)).unwrap(),
            (2, _) => drop(bytes.splice(from..to, [])),
            (3, _) => drop(bytes.splice(to..to, piece)),
            (4, _) => bytes.truncate(from),
            _ => bytes.extend(&other[below(other.len() + 1)..]),
        }
        bytes.truncate(4096);
    }
    bytes
}

fn kept(name: &str) -> Vec<PathBuf> {
    let folder = project().join("tests/fuzz/corpus").join(name);
    let mut kept: Vec<_> = std::fs::read_dir(&folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    kept.sort();
    kept
}

#[test]
fn the_kept_bytes_of_each_target_pass() {
    for (name, target) in targets::ALL {
        let kept = kept(name);
        assert!(!kept.is_empty(), "no bytes are kept for {name}");
        for path in kept {
            let bytes = std::fs::read(&path).unwrap();
            assert!(bytes.len() <= 16_384, "{} is long", path.display());
            let passed = std::panic::catch_unwind(|| target(&bytes));
            assert!(passed.is_ok(), "{name}: {}", path.display());
        }
        assert_eq!(targets::named(name) as usize, target as usize);
    }
}

#[test]
fn what_accidents_make_of_them_passes() {
    let said = std::env::var("QUADJIG_ACCIDENTS").ok();
    let (only, count) = match said.as_deref().map(|said| said.split_once(':').unwrap_or(("", said))) {
        Some((only, count)) => (only, Some(count.parse().unwrap())),
        None => ("", None),
    };
    for (name, target) in targets::ALL.into_iter().filter(|(name, _)| name.contains(only)) {
        let all: Vec<_> = kept(name).iter().map(|path| std::fs::read(path).unwrap()).collect();
        for seed in 0..count.unwrap_or(if name == "world" { FEW_WORLDS } else { FEW }) {
            let [one, other] =
                [number(seed), number(!seed)].map(|drawn| &all[usize::try_from(drawn % all.len() as u64).unwrap()]);
            let bytes = after_accidents(one, other, seed + 1);
            let passed = std::panic::catch_unwind(|| target(&bytes));
            assert!(passed.is_ok(), "{name}, accident {seed}: {}", bytes.escape_ascii());
        }
    }
}
