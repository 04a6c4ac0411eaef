//! From a terminal's bytes to the keys of an open line: what they do to it is decided in `edit`.
//!
//! Promises: every byte sequence ends in a key, never in a wait without end; a paste comes whole, whatever
//! stands in it. Must not be here: the keys of questions, where a paste and an arrow say no (see `world::keys`).
//!
//! Source of the sequences: ECMA-48 (CSI, SS3); bracketed paste and the modifiers of arrows as xterm defines
//! them. Control keys move and cut as the Emacs bindings of POSIX shells do; *common practice*.

/// A key of the line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum LineKey {
    Char(char),
    Paste(String),
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
    Leave,
    Suspend,
    Quit,
    Other,
}

/// Longest sequence that is waited for.
const LONGEST: usize = 32;
/// Longest paste that is kept; a line is refused far below it.
const LONGEST_PASTE: usize = 1 << 16;
const PASTE_BEGIN: &[u8] = b"[200~";
const PASTE_END: &[u8] = b"\x1b[201~";

/// Reads keys byte by byte.
#[derive(Debug, Default)]
pub(super) struct LineKeys(LineKeyState);

#[derive(Debug, Default)]
enum LineKeyState {
    #[default]
    Plain,
    Escape,
    /// In a control sequence: its bytes so far.
    Sequence(Vec<u8>),
    Pasted(Vec<u8>),
    /// In a character of several bytes.
    Character(Vec<u8>),
}

impl LineKeys {
    /// Takes one byte.
    pub(super) fn take(&mut self, byte: u8) -> Option<LineKey> {
        match std::mem::take(&mut self.0) {
            LineKeyState::Plain => self.plain(byte),
            LineKeyState::Escape => self.escaped(byte),
            LineKeyState::Sequence(mut bytes) => {
                bytes.push(byte);
                self.sequence(bytes, byte)
            }
            LineKeyState::Pasted(mut bytes) => {
                // The end has to fit behind what is left out.
                if bytes.len() == LONGEST_PASTE {
                    bytes.remove(LONGEST_PASTE - PASTE_END.len());
                }
                bytes.push(byte);
                if let Some(text) = bytes.strip_suffix(PASTE_END) {
                    return Some(LineKey::Paste(String::from_utf8_lossy(text).into_owned()));
                }
                self.0 = LineKeyState::Pasted(bytes);
                None
            }
            LineKeyState::Character(mut bytes) => {
                bytes.push(byte);
                self.character(bytes)
            }
        }
    }

    /// Nothing came for a while: an escape that nothing follows was the key itself.
    pub(super) fn pause(&mut self) -> Option<LineKey> {
        match std::mem::take(&mut self.0) {
            LineKeyState::Plain => None,
            LineKeyState::Escape => Some(LineKey::Escape),
            LineKeyState::Sequence(_) | LineKeyState::Character(_) => Some(LineKey::Other),
            pasted @ LineKeyState::Pasted(_) => {
                self.0 = pasted;
                None
            }
        }
    }

    /// Whether something has begun that the next byte or a pause ends.
    pub(super) fn begun(&self) -> bool {
        matches!(self.0, LineKeyState::Escape | LineKeyState::Sequence(_) | LineKeyState::Character(_))
    }

    fn plain(&mut self, byte: u8) -> Option<LineKey> {
        Some(match byte {
            b'\r' | b'\n' => LineKey::Enter,
            0x7f | 0x08 => LineKey::Backspace,
            b'\t' => LineKey::Tab,
            0x01 => LineKey::Home,
            0x02 => LineKey::Left,
            0x03 => LineKey::Interrupt,
            0x04 => LineKey::Leave,
            0x05 => LineKey::End,
            0x06 => LineKey::Right,
            // Ctrl-G leaves a search, as Escape does.
            0x07 => LineKey::Escape,
            0x0b => LineKey::CutToEnd,
            0x0e => LineKey::Down,
            0x10 => LineKey::Up,
            0x12 => LineKey::Search,
            0x15 => LineKey::CutToStart,
            0x17 => LineKey::CutWordLeft,
            0x19 => LineKey::PutBack,
            0x1a => LineKey::Suspend,
            0x1c => LineKey::Quit,
            0x1f => LineKey::Undo,
            0x1b => {
                self.0 = LineKeyState::Escape;
                return None;
            }
            0x20..=0x7e => LineKey::Char(char::from(byte)),
            0x80.. => return self.character(vec![byte]),
            _ => LineKey::Other,
        })
    }

    fn escaped(&mut self, byte: u8) -> Option<LineKey> {
        Some(match byte {
            b'[' | b'O' => {
                self.0 = LineKeyState::Sequence(vec![byte]);
                return None;
            }
            0x1b => {
                self.0 = LineKeyState::Escape;
                LineKey::Escape
            }
            b'b' => LineKey::WordLeft,
            b'f' => LineKey::WordRight,
            b'd' => LineKey::CutWordRight,
            0x7f | 0x08 => LineKey::CutWordLeft,
            _ => LineKey::Other,
        })
    }

    fn sequence(&mut self, bytes: Vec<u8>, byte: u8) -> Option<LineKey> {
        if bytes == PASTE_BEGIN {
            self.0 = LineKeyState::Pasted(Vec::new());
            return None;
        }
        let single = bytes[0] == b'O' && bytes.len() == 2;
        let last = bytes.len() > 1 && matches!(byte, 0x40..=0x7e);
        if !(single || last || bytes.len() >= LONGEST) {
            self.0 = LineKeyState::Sequence(bytes);
            return None;
        }
        Some(match bytes.as_slice() {
            b"[A" | b"OA" => LineKey::Up,
            b"[B" | b"OB" => LineKey::Down,
            b"[C" | b"OC" => LineKey::Right,
            b"[D" | b"OD" => LineKey::Left,
            b"[1;5C" | b"[1;3C" => LineKey::WordRight,
            b"[1;5D" | b"[1;3D" => LineKey::WordLeft,
            b"[H" | b"OH" | b"[1~" | b"[7~" => LineKey::Home,
            b"[F" | b"OF" | b"[4~" | b"[8~" => LineKey::End,
            b"[3~" => LineKey::Delete,
            b"OM" => LineKey::Enter,
            _ => LineKey::Other,
        })
    }

    fn character(&mut self, bytes: Vec<u8>) -> Option<LineKey> {
        match std::str::from_utf8(&bytes) {
            Ok(text) => Some(text.chars().next().map_or(LineKey::Other, LineKey::Char)),
            Err(error) if error.error_len().is_none() => {
                self.0 = LineKeyState::Character(bytes);
                None
            }
            Err(_) => Some(LineKey::Other),
        }
    }
}
