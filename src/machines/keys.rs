//! From a terminal's bytes to keys: one machine, whatever the keys are for.
//!
//! Promises: every byte sequence ends in a key, never in a wait without end; a paste ends with its mark or once
//! nothing came for 50 ms, each of its bytes is told, and none of it is ever taken for typing; Ctrl-C is Ctrl-C
//! wherever it stands. Must not be here: what a key does.
//!
//! Source of the sequences: ECMA-48 (CSI, SS3); bracketed paste (`?2004`) and the modifiers of arrows as xterm defines
//! them. Control keys move and cut as the Emacs bindings of POSIX shells do; *common practice*.

use crate::measure::time::Time;
use crate::seam::Key;
use std::time::Duration;

/// What was pressed.
#[derive(Debug, Clone, PartialEq, Eq)]
#[expect(missing_docs, reason = "named after the keys")]
pub enum Pressed {
    Char(char),
    Enter,
    Backspace,
    Delete,
    Left,
    Right,
    WordLeft,
    WordRight,
    Home,
    End,
    Up,
    Down,
    Tab,
    Escape,
    CutToEnd,
    CutToStart,
    CutWordLeft,
    CutWordRight,
    PutBack,
    Undo,
    Search,
    Interrupt,
    /// Ctrl-D.
    Leave,
    /// Ctrl-Z.
    Suspend,
    /// Ctrl-\.
    Quit,
    Other,
    /// A paste begins.
    PasteBegins,
    /// Another byte of it.
    PasteGoesOn,
    /// It has ended, and this was its text.
    Pasted(String),
}

impl Pressed {
    /// The key that it is where no line is edited; `None` for a paste.
    #[must_use]
    pub fn key(&self) -> Option<Key> {
        Some(match self {
            Self::PasteBegins | Self::PasteGoesOn | Self::Pasted(_) => return None,
            Self::Char(c) => Key::Char(*c),
            Self::Enter => Key::Enter,
            Self::Backspace => Key::Backspace,
            Self::Escape => Key::Escape,
            // Ctrl-D ends like Ctrl-C: end of input means no.
            Self::Interrupt | Self::Leave => Key::Interrupt,
            _ => Key::Other,
        })
    }
}

/// An escape, or what else has begun, that nothing follows for this long was the key.
const ESCAPE: Duration = Duration::from_millis(15);
/// A paste of which nothing came for this long has ended, its mark or not.
const PASTE: Duration = Duration::from_millis(50);
/// Longest sequence that is waited for.
const LONGEST: usize = 32;
/// Longest paste that is kept; a line is refused far below it.
const LONGEST_PASTE: usize = 1 << 16;
const PASTE_BEGIN: &[u8] = b"[200~";
const PASTE_END: &[u8] = b"\x1b[201~";
const CTRL_C: u8 = 0x03;

/// See the module.
#[derive(Debug, Default)]
pub struct Keys {
    state: KeyState,
    /// When the last byte came.
    last: Time,
}

#[derive(Debug, Default)]
enum KeyState {
    #[default]
    Plain,
    /// After an escape.
    Escape,
    /// In a control sequence: its bytes so far.
    Sequence(Vec<u8>),
    /// In a paste: its text so far.
    Pasted(Vec<u8>),
    /// In a character of several bytes.
    Character(Vec<u8>),
}

impl Keys {
    /// Takes one byte.
    pub fn take(&mut self, now: Time, byte: u8) -> Option<Pressed> {
        self.last = now;
        match std::mem::take(&mut self.state) {
            KeyState::Pasted(bytes) => Some(self.pasted(bytes, byte)),
            _ if byte == CTRL_C => Some(Pressed::Interrupt),
            KeyState::Plain => self.plain(byte),
            KeyState::Escape => self.escaped(byte),
            KeyState::Sequence(mut bytes) => {
                bytes.push(byte);
                self.sequence(bytes, byte)
            }
            KeyState::Character(mut bytes) => {
                bytes.push(byte);
                self.character(bytes)
            }
        }
    }

    /// When nothing more has to have come for [`Keys::quiet`] to have something to say.
    #[must_use]
    pub fn wake(&self) -> Time {
        match self.state {
            KeyState::Plain => Time::NEVER,
            KeyState::Escape | KeyState::Sequence(_) | KeyState::Character(_) => self.last + ESCAPE,
            KeyState::Pasted(_) => self.last + PASTE,
        }
    }

    /// Nothing has come until now. Whoever was asleep looks first whether something lies there.
    pub fn quiet(&mut self, now: Time) -> Option<Pressed> {
        if now < self.wake() {
            return None;
        }
        match std::mem::take(&mut self.state) {
            KeyState::Plain => None,
            KeyState::Escape => Some(Pressed::Escape),
            KeyState::Sequence(_) | KeyState::Character(_) => Some(Pressed::Other),
            KeyState::Pasted(bytes) => Some(text(&bytes)),
        }
    }

    fn plain(&mut self, byte: u8) -> Option<Pressed> {
        Some(match byte {
            b'\r' | b'\n' => Pressed::Enter,
            0x7f | 0x08 => Pressed::Backspace,
            b'\t' => Pressed::Tab,
            0x01 => Pressed::Home,
            0x02 => Pressed::Left,
            0x04 => Pressed::Leave,
            0x05 => Pressed::End,
            0x06 => Pressed::Right,
            // Ctrl-G leaves a search, as Escape does.
            0x07 => Pressed::Escape,
            0x0b => Pressed::CutToEnd,
            0x0e => Pressed::Down,
            0x10 => Pressed::Up,
            0x12 => Pressed::Search,
            0x15 => Pressed::CutToStart,
            0x17 => Pressed::CutWordLeft,
            0x19 => Pressed::PutBack,
            0x1a => Pressed::Suspend,
            0x1c => Pressed::Quit,
            0x1f => Pressed::Undo,
            0x1b => {
                self.state = KeyState::Escape;
                return None;
            }
            0x20..=0x7e => Pressed::Char(char::from(byte)),
            0x80.. => return self.character(vec![byte]),
            _ => Pressed::Other,
        })
    }

    fn escaped(&mut self, byte: u8) -> Option<Pressed> {
        Some(match byte {
            b'[' | b'O' => {
                self.state = KeyState::Sequence(vec![byte]);
                return None;
            }
            0x1b => {
                self.state = KeyState::Escape;
                Pressed::Escape
            }
            b'b' => Pressed::WordLeft,
            b'f' => Pressed::WordRight,
            b'd' => Pressed::CutWordRight,
            0x7f | 0x08 => Pressed::CutWordLeft,
            _ => Pressed::Other,
        })
    }

    fn sequence(&mut self, bytes: Vec<u8>, byte: u8) -> Option<Pressed> {
        if bytes == PASTE_BEGIN {
            self.state = KeyState::Pasted(Vec::new());
            return Some(Pressed::PasteBegins);
        }
        let single = bytes[0] == b'O' && bytes.len() == 2;
        let last = bytes.len() > 1 && matches!(byte, 0x40..=0x7e);
        if !(single || last || bytes.len() >= LONGEST) {
            self.state = KeyState::Sequence(bytes);
            return None;
        }
        Some(match bytes.as_slice() {
            b"[A" | b"OA" => Pressed::Up,
            b"[B" | b"OB" => Pressed::Down,
            b"[C" | b"OC" => Pressed::Right,
            b"[D" | b"OD" => Pressed::Left,
            b"[1;5C" | b"[1;3C" => Pressed::WordRight,
            b"[1;5D" | b"[1;3D" => Pressed::WordLeft,
            b"[H" | b"OH" | b"[1~" | b"[7~" => Pressed::Home,
            b"[F" | b"OF" | b"[4~" | b"[8~" => Pressed::End,
            b"[3~" => Pressed::Delete,
            b"OM" => Pressed::Enter,
            // The mark of a paste that was taken for ended already.
            bytes if bytes == &PASTE_END[1..] => Pressed::PasteGoesOn,
            _ => Pressed::Other,
        })
    }

    fn character(&mut self, bytes: Vec<u8>) -> Option<Pressed> {
        match std::str::from_utf8(&bytes) {
            Ok(text) => Some(text.chars().next().map_or(Pressed::Other, Pressed::Char)),
            Err(error) if error.error_len().is_none() => {
                self.state = KeyState::Character(bytes);
                None
            }
            Err(_) => Some(Pressed::Other),
        }
    }

    fn pasted(&mut self, mut bytes: Vec<u8>, byte: u8) -> Pressed {
        if byte == CTRL_C {
            self.state = KeyState::Pasted(bytes);
            return Pressed::Interrupt;
        }
        // The end has to fit behind what is left out.
        if bytes.len() == LONGEST_PASTE {
            bytes.remove(LONGEST_PASTE - PASTE_END.len());
        }
        bytes.push(byte);
        if let Some(whole) = bytes.strip_suffix(PASTE_END) {
            return text(whole);
        }
        self.state = KeyState::Pasted(bytes);
        Pressed::PasteGoesOn
    }
}

fn text(bytes: &[u8]) -> Pressed {
    Pressed::Pasted(String::from_utf8_lossy(bytes).into_owned())
}
