//! Sheets and radio cards that come with the tool, compiled in.
//!
//! Found by the name that a recipe gives or by the file's stem, matched exactly. That each reads
//! without a fault is tested. Must not be here: documents of the user's.

use super::document::DocumentError;
use super::radio_card::RadioCard;
use super::radio_card_file;
use super::sheet::Sheet;
use super::sheet_file;

/// One document as shipped.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shipped {
    /// Stem of its file, such as `finch-r`.
    pub stem: &'static str,
    /// Name that it gives itself: the board's or the radio's.
    pub name: &'static str,
    /// Its text.
    pub text: &'static str,
}

/// All sheets, by stem.
pub const SHEETS: &[Shipped] = &[
    Shipped { stem: "finch", name: "Finch", text: include_str!("../../recipes/boards/finch.toml") },
    Shipped { stem: "finch-6", name: "Finch 6", text: include_str!("../../recipes/boards/finch-6.toml") },
    Shipped { stem: "finch-c", name: "Finch C", text: include_str!("../../recipes/boards/finch-c.toml") },
    Shipped { stem: "finch-c6", name: "Finch C6", text: include_str!("../../recipes/boards/finch-c6.toml") },
    Shipped { stem: "finch-p", name: "Finch P", text: include_str!("../../recipes/boards/finch-p.toml") },
    Shipped { stem: "finch-plus", name: "Finch Plus", text: include_str!("../../recipes/boards/finch-plus.toml") },
    Shipped { stem: "finch-q", name: "Finch Q", text: include_str!("../../recipes/boards/finch-q.toml") },
    Shipped { stem: "finch-r", name: "Finch R", text: include_str!("../../recipes/boards/finch-r.toml") },
    Shipped { stem: "finch-r8", name: "Finch R8", text: include_str!("../../recipes/boards/finch-r8.toml") },
];

/// All radio cards, by stem.
pub const RADIOS: &[Shipped] =
    &[Shipped { stem: "bench", name: "Bench transmitter", text: include_str!("../../recipes/radios/bench.toml") }];

fn find(all: &'static [Shipped], name: &str) -> Option<&'static Shipped> {
    all.iter().find(|shipped| shipped.name == name || shipped.stem == name)
}

/// The sheet of a board's name or a file's stem; `None` if none is shipped under that name.
#[must_use]
pub fn sheet(name: &str) -> Option<Result<Sheet, DocumentError>> {
    find(SHEETS, name).map(|found| sheet_file::read(&format!("{}.toml", found.stem), found.text))
}

/// The text of a shipped radio card, by its name or stem.
#[must_use]
pub fn radio_text(name: &str) -> Option<&'static str> {
    find(RADIOS, name).map(|found| found.text)
}

/// The radio card of a radio's name or a file's stem; `None` if none is shipped under that name.
#[must_use]
pub fn radio_card(name: &str) -> Option<Result<RadioCard, DocumentError>> {
    find(RADIOS, name).map(|found| radio_card_file::read(&format!("{}.toml", found.stem), found.text))
}
