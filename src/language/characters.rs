//! Characters that may not stand in a recipe, not even in a comment: what is shown must be what is meant.
//!
//! Control characters other than tab, line feed and a carriage return before it; and every character
//! that shows as nothing or turns the direction of the text: the `Default_Ignorable_Code_Point` and
//! `Bidi_Control` properties of the Unicode Character Database (`DerivedCoreProperties.txt`,
//! `PropList.txt`), its line and paragraph separators, and the interlinear annotation marks.

use std::ops::RangeInclusive;

/// Ranges of refused characters above ASCII, ascending.
const HIDDEN: &[RangeInclusive<u32>] = &[
    0x80..=0x9F,
    0xAD..=0xAD,
    0x34F..=0x34F,
    0x61C..=0x61C,
    0x115F..=0x1160,
    0x17B4..=0x17B5,
    0x180B..=0x180F,
    0x200B..=0x200F,
    0x2028..=0x202E,
    0x2060..=0x206F,
    0x3164..=0x3164,
    0xFE00..=0xFE0F,
    0xFEFF..=0xFEFF,
    0xFFA0..=0xFFA0,
    0xFFF0..=0xFFFB,
    0x1_BCA0..=0x1_BCA3,
    0x1_D173..=0x1_D17A,
    0xE_0000..=0xE_0FFF,
];

/// Whether a character may not stand in a recipe. Line ends are no part of what is asked here.
#[must_use]
pub fn is_hidden(character: char) -> bool {
    let code = u32::from(character);
    if code < 0x80 {
        return character.is_ascii_control() && character != '\t';
    }
    HIDDEN.iter().any(|range| range.contains(&code))
}

/// The hidden characters of a line with their byte offsets. Quick for plain text.
pub fn hidden(line: &str) -> impl Iterator<Item = (usize, char)> + '_ {
    line.char_indices().filter(|(_, character)| is_hidden(*character))
}
