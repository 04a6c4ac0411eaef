//! The world line that lets the board say a text, as a board may that is broken or means harm.
//!
//! Must not be here: how the text travels.

use super::lines::{Said, WorldLineError};
use super::world::World;
use mavlink::dialects::common::MavSeverity;

impl World {
    /// Says what comes after the verb: `\e`, `\r`, `\n` and `\\` are escape, return, line feed and backslash.
    pub(super) fn say_line(&mut self, said: Said<'_>, line: &str) -> Result<String, WorldLineError> {
        let rest = line.trim_start().strip_prefix("say").unwrap_or_default().trim();
        let text = unescaped(rest).filter(|text| !text.is_empty()).ok_or_else(|| said.wrong())?;
        if self.board.up_since().is_none() {
            return Err(WorldLineError::NoPower);
        }
        self.say(MavSeverity::MAV_SEVERITY_NOTICE, &text);
        Ok(format!("the board says {rest}"))
    }
}

fn unescaped(text: &str) -> Option<String> {
    let mut plain = String::with_capacity(text.len());
    let mut letters = text.chars();
    while let Some(letter) = letters.next() {
        plain.push(match letter {
            '\\' => match letters.next()? {
                'e' => '\u{1b}',
                'r' => '\r',
                'n' => '\n',
                '\\' => '\\',
                _ => return None,
            },
            letter => letter,
        });
    }
    Some(plain)
}
