//! Bytes put together to lines, with a bound.

/// Longest line that is taken, bytes; more is thrown away up to its end.
const LONGEST: usize = 4096;

/// What has come of a line so far.
#[derive(Default)]
pub struct Lines {
    begun: Vec<u8>,
}

impl Lines {
    /// Takes bytes and gives the lines that are complete; at the end of input, what is left as well.
    pub fn take(&mut self, bytes: &[u8], ended: bool) -> Vec<String> {
        let mut lines = Vec::new();
        for byte in bytes {
            if *byte == b'\n' {
                lines.push(self.finish());
            } else if self.begun.len() < LONGEST {
                self.begun.push(*byte);
            }
        }
        if ended && !self.begun.is_empty() {
            lines.push(self.finish());
        }
        lines
    }

    fn finish(&mut self) -> String {
        let line = String::from_utf8_lossy(&std::mem::take(&mut self.begun)).into_owned();
        line.trim_end_matches('\r').to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_come_together_from_pieces() {
        let mut lines = Lines::default();
        assert!(lines.take(b"fli", false).is_empty());
        assert_eq!(lines.take(b"p B 2\r\ntru", false), ["flip B 2"]);
        assert_eq!(lines.take(b"th", true), ["truth"]);
        assert!(lines.take(&vec![b'x'; 9000], false).is_empty());
        assert_eq!(lines.take(b"\n", false)[0].len(), LONGEST);
    }
}
