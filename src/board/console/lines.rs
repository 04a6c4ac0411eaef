//! Bytes to lines, and what stands open at the end of them: a prompt, or the mark of a page.
//!
//! Promises: bounded memory however long a line is. Must not be here: what a line means.

/// A line longer than this is thrown away, bytes.
const LONGEST: usize = 1024;

/// What was found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Piece {
    /// A whole line, without its end.
    Line(String),
    /// A prompt stands open.
    Prompt,
    /// A page waits to be turned.
    More,
}

/// See the module.
#[derive(Debug)]
pub(super) struct Lines {
    prompt: String,
    more: Option<String>,
    open: Vec<u8>,
    /// A CR was heard; what follows says whether it ends the line or begins it anew.
    returned: bool,
    too_long: bool,
}

impl Lines {
    pub(super) fn new(prompt: String, more: Option<String>) -> Self {
        Self { prompt, more, open: Vec::new(), returned: false, too_long: false }
    }

    /// Forgets what was half received.
    pub(super) fn clear(&mut self) {
        self.open.clear();
        self.returned = false;
        self.too_long = false;
    }

    pub(super) fn feed(&mut self, bytes: &[u8], pieces: &mut Vec<Piece>) {
        for &byte in bytes {
            match byte {
                b'\n' => self.end(pieces),
                b'\r' => self.returned = true,
                _ => {
                    if self.returned {
                        self.anew(pieces);
                    }
                    if self.open.len() < LONGEST {
                        self.open.push(byte);
                    } else {
                        self.too_long = true;
                    }
                }
            }
        }
        if bytes.is_empty() || self.returned || self.too_long {
            return;
        }
        // Blanks that were typed at it leave it a prompt.
        let after = self.open.strip_prefix(self.prompt.as_bytes());
        if after.is_some_and(|rest| rest.iter().all(|byte| *byte == b' ')) {
            pieces.push(Piece::Prompt);
        } else if self.more.as_ref().is_some_and(|more| self.open == more.as_bytes()) {
            pieces.push(Piece::More);
        }
    }

    /// A CR that no LF followed: the mark of a page is rubbed out; anything else was a line.
    fn anew(&mut self, pieces: &mut Vec<Piece>) {
        let marked = self.more.as_ref().is_some_and(|more| self.open == more.as_bytes());
        if marked || self.open.iter().all(|byte| *byte == b' ') {
            self.clear();
        } else {
            self.end(pieces);
        }
    }

    fn end(&mut self, pieces: &mut Vec<Piece>) {
        if !self.too_long {
            pieces.push(Piece::Line(String::from_utf8_lossy(&self.open).into_owned()));
        }
        self.clear();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines() -> Lines {
        Lines::new("finch> ".to_owned(), Some("-- more --".to_owned()))
    }

    fn all(chunks: &[&[u8]]) -> Vec<Piece> {
        let (mut lines, mut pieces) = (lines(), Vec::new());
        for chunk in chunks {
            lines.feed(chunk, &mut pieces);
        }
        pieces
    }

    fn line(text: &str) -> Piece {
        Piece::Line(text.to_owned())
    }

    #[test]
    fn lines_may_be_cut_anywhere() {
        let text: &[u8] = b"finch> who\r\n1, a, 2\r\nfinch> ";
        let whole = [line("finch> who"), line("1, a, 2"), Piece::Prompt];
        for at in 0..text.len() {
            let found = all(&[&text[..at], &text[at..]]);
            let lines: Vec<_> = found.iter().filter(|piece| **piece != Piece::Prompt).collect();
            assert_eq!(lines, whole[..2].iter().collect::<Vec<_>>(), "{at}");
            assert_eq!(found.last(), Some(&Piece::Prompt), "{at}");
        }
    }

    #[test]
    fn a_page_is_rubbed_out_and_a_lone_return_ends_a_line() {
        let found = all(&[b"1 for A\r\n-- more --", b"\r          \r2 for B\r\n"]);
        assert_eq!(found, [line("1 for A"), Piece::More, line("2 for B")]);
        assert_eq!(all(&[b"kept\rfinch> "]), [line("kept"), Piece::Prompt]);
    }

    #[test]
    fn a_line_without_an_end_is_thrown_away() {
        let long = vec![b'x'; 1 << 20];
        assert_eq!(all(&[&long, &long, b"\r\nkept\r\n"]), [line("kept")]);
    }
}
