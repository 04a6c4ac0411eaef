//! From a terminal's bytes to keys.
//!
//! Promises: every byte sequence ends in a key or a paste, never in a wait without end; what was
//! pasted is never taken for typing. Must not be here: what a key does.
//!
//! Source of the sequences: ECMA-48 (CSI, SS3); bracketed paste as xterm defines it (`?2004`).

use crate::seam::Key;

/// What was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pressed {
    /// A key.
    Key(Key),
    /// The Tab key.
    Tab,
    /// A paste begins; its text is left out.
    Paste,
    /// Ctrl-Z.
    Suspend,
    /// Ctrl-\.
    Quit,
}

/// Longest sequence that is waited for.
const LONGEST: usize = 32;

/// Reads keys byte by byte.
#[derive(Debug, Default)]
pub struct Keys {
    state: KeyState,
}

#[derive(Debug, Default)]
enum KeyState {
    #[default]
    Plain,
    /// After an escape.
    Escape,
    /// In a control sequence: its bytes so far.
    Sequence(Vec<u8>),
    /// In a paste: how much of its end was seen.
    Pasted(usize),
    /// In a character of several bytes.
    Character(Vec<u8>),
}

const PASTE_END: &[u8] = b"\x1b[201~";

impl Keys {
    /// Takes one byte.
    pub fn take(&mut self, byte: u8) -> Option<Pressed> {
        match std::mem::take(&mut self.state) {
            KeyState::Plain => self.plain(byte),
            KeyState::Escape => match byte {
                b'[' | b'O' => {
                    self.state = KeyState::Sequence(vec![byte]);
                    None
                }
                0x1b => {
                    self.state = KeyState::Escape;
                    Some(Pressed::Key(Key::Escape))
                }
                _ => Some(Pressed::Key(Key::Other)),
            },
            KeyState::Sequence(bytes) => self.sequence(bytes, byte),
            KeyState::Pasted(seen) => {
                let seen = match byte {
                    byte if PASTE_END[seen] == byte => seen + 1,
                    0x1b => 1,
                    _ => 0,
                };
                if seen < PASTE_END.len() {
                    self.state = KeyState::Pasted(seen);
                }
                None
            }
            KeyState::Character(bytes) => self.character(bytes, byte),
        }
    }

    /// Nothing came for a while: an escape that nothing follows was the key itself.
    pub fn pause(&mut self) -> Option<Pressed> {
        match std::mem::take(&mut self.state) {
            KeyState::Plain => None,
            KeyState::Escape => Some(Pressed::Key(Key::Escape)),
            KeyState::Sequence(_) | KeyState::Character(_) => Some(Pressed::Key(Key::Other)),
            pasted @ KeyState::Pasted(_) => {
                self.state = pasted;
                None
            }
        }
    }

    /// Whether something has begun that the next byte or a pause ends.
    #[must_use]
    pub fn begun(&self) -> bool {
        matches!(self.state, KeyState::Escape | KeyState::Sequence(_) | KeyState::Character(_))
    }

    /// Whether a paste has begun whose end has not come.
    #[must_use]
    pub fn in_paste(&self) -> bool {
        matches!(self.state, KeyState::Pasted(_))
    }

    fn plain(&mut self, byte: u8) -> Option<Pressed> {
        Some(match byte {
            b'\r' | b'\n' => Pressed::Key(Key::Enter),
            0x7f | 0x08 => Pressed::Key(Key::Backspace),
            // Ctrl-D ends like Ctrl-C: end of input means no.
            0x03 | 0x04 => Pressed::Key(Key::Interrupt),
            b'\t' => Pressed::Tab,
            0x1a => Pressed::Suspend,
            0x1c => Pressed::Quit,
            0x1b => {
                self.state = KeyState::Escape;
                return None;
            }
            0x20..=0x7e => Pressed::Key(Key::Char(char::from(byte))),
            0x80.. => {
                self.state = KeyState::Character(vec![byte]);
                return self.character_done();
            }
            _ => Pressed::Key(Key::Other),
        })
    }

    fn sequence(&mut self, mut bytes: Vec<u8>, byte: u8) -> Option<Pressed> {
        bytes.push(byte);
        let single = bytes[0] == b'O' && bytes.len() == 2;
        let last = bytes.len() > 1 && matches!(byte, 0x40..=0x7e);
        if bytes == b"[200~" {
            self.state = KeyState::Pasted(0);
            return Some(Pressed::Paste);
        }
        if single || last || bytes.len() >= LONGEST {
            return Some(Pressed::Key(Key::Other));
        }
        self.state = KeyState::Sequence(bytes);
        None
    }

    fn character(&mut self, mut bytes: Vec<u8>, byte: u8) -> Option<Pressed> {
        bytes.push(byte);
        self.state = KeyState::Character(bytes);
        self.character_done()
    }

    /// Ends the character where it is whole or can't become one.
    fn character_done(&mut self) -> Option<Pressed> {
        let KeyState::Character(bytes) = std::mem::take(&mut self.state) else { return None };
        match std::str::from_utf8(&bytes) {
            Ok(text) => Some(Pressed::Key(text.chars().next().map_or(Key::Other, Key::Char))),
            Err(error) if error.error_len().is_none() => {
                self.state = KeyState::Character(bytes);
                None
            }
            Err(_) => Some(Pressed::Key(Key::Other)),
        }
    }
}
