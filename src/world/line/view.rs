//! How an open line looks: rows of a terminal, and where its cursor stands.
//!
//! Promises: no row reaches the last column, so the terminal never breaks one by itself; what would not fit the
//! screen is left out around the cursor; a hint never stands in the line, where it could be taken for typed.
//! Must not be here: what is typed, and why.
//!
//! Source of the cursor's movements: ECMA-48 (CUU, CUF, ED).

use rustyline::GraphemeClusterMode;
use std::fmt::Write;

/// What is to be seen of a line.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(in crate::world) struct View {
    /// Before the first row of text.
    pub prompt: String,
    /// Before each further line of it.
    pub more: String,
    pub text: String,
    /// Byte in the text.
    pub cursor: usize,
    /// Under the line: a hint, or what could follow.
    pub below: Vec<String>,
    /// Whether what stands below may be dimmed.
    pub colour: bool,
    /// Rows of the terminal.
    pub height: usize,
}

/// Rows as they are written.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(in crate::world) struct Laid {
    pub rows: Vec<String>,
    /// Columns of each row.
    pub widths: Vec<usize>,
    /// Row of the cursor, from 0.
    pub row: usize,
    /// Column of the cursor, from 0.
    pub column: usize,
}

/// A grey that is read on dark and light grounds; number 243 of xterm's table.
const DIM: &str = "\u{1b}[38;5;243m";
const AS_BEFORE: &str = "\u{1b}[0m";

impl View {
    /// The same without what helps while it is typed: what stays on the screen.
    pub fn done(mut self) -> Self {
        self.below.clear();
        self.cursor = self.text.len();
        // Nothing moves back into it any more, so it may be longer than the screen.
        self.height = usize::MAX;
        self
    }

    /// The rows for a terminal of this many columns.
    pub fn lay(&self, width: usize) -> Laid {
        let columns = width.saturating_sub(1).max(1);
        let mut laid = Laid { rows: vec![String::new()], widths: vec![0], ..Laid::default() };
        for c in self.prompt.chars() {
            laid.push(c, columns);
        }
        for (at, c) in self.text.char_indices() {
            if c == '\n' {
                laid.mark(at == self.cursor);
                laid.next_row();
                for c in self.more.chars() {
                    laid.push(c, columns);
                }
            } else {
                laid.make_room(c, columns);
                laid.mark(at == self.cursor);
                laid.push(c, columns);
            }
        }
        laid.mark(self.cursor >= self.text.len());
        laid.fit(self.height.max(2));
        let room = self.height.max(2) - laid.rows.len();
        for text in self.below.iter().take(room) {
            laid.below(text, columns, self.colour);
        }
        laid
    }
}

/// Columns that a character takes.
pub(in crate::world) fn columns_of(c: char) -> usize {
    usize::from(GraphemeClusterMode::WcWidth.width(c.encode_utf8(&mut [0; 4])))
}

/// Columns that a row takes, colour left out of the count.
fn columns_shown(row: &str) -> usize {
    let mut escape = false;
    let shown = row.chars().filter(|c| {
        let coloured = escape || *c == '\u{1b}';
        escape = coloured && *c != 'm';
        !coloured
    });
    shown.map(columns_of).sum()
}

/// Text in rows of a number of columns, colour left out of the count.
pub(in crate::world) fn broken(text: &str, columns: usize) -> Vec<String> {
    let (mut rows, mut shown, mut escape) = (vec![String::new()], 0, false);
    for c in text.chars() {
        let coloured = escape || c == '\u{1b}';
        escape = coloured && c != 'm';
        if !coloured {
            if shown > 0 && shown + columns_of(c) > columns {
                rows.push(String::new());
                shown = 0;
            }
            shown += columns_of(c);
        }
        if let Some(row) = rows.last_mut() {
            row.push(c);
        }
    }
    rows
}

/// Text cut to a number of columns, colour left out of the count.
pub(in crate::world) fn cut(text: &str, columns: usize) -> String {
    let (mut out, mut shown, mut escape, mut coloured) = (String::new(), 0, false, false);
    for c in text.chars() {
        if escape || c == '\u{1b}' {
            escape = c != 'm';
            coloured = true;
            out.push(c);
        } else if shown + columns_of(c) <= columns {
            shown += columns_of(c);
            out.push(c);
        }
    }
    if coloured {
        out.push_str("\u{1b}[0m");
    }
    out
}

impl Laid {
    /// Rows that are no wider than the screen, the cursor behind the first so many of them, or before the first.
    pub fn bottom(rows: Vec<String>, input: usize) -> Option<Self> {
        let widths: Vec<usize> = rows.iter().map(|row| columns_shown(row)).collect();
        let row = input.saturating_sub(1);
        let column = if input > 0 { *widths.get(row)? } else { 0 };
        (!rows.is_empty()).then_some(Self { rows, widths, row, column })
    }

    /// Draws the rows from the start of an empty one, and puts the cursor into its place.
    pub fn draw(&self, out: &mut String) {
        out.push_str(&self.rows.join("\r\n"));
        // Writing into a string cannot fail.
        let _ = match self.rows.len() - 1 - self.row {
            0 => write!(out, "\r"),
            up => write!(out, "\u{1b}[{up}A\r"),
        };
        if self.column > 0 {
            let _ = write!(out, "\u{1b}[{}C", self.column);
        }
    }

    /// Takes the rows off a screen of this many columns, which may be fewer than they were laid for.
    pub fn clear(&self, out: &mut String, width: usize) {
        let width = width.max(1);
        let above = self.widths[..self.row].iter().map(|used| used.div_ceil(width).max(1)).sum::<usize>();
        let above = above + self.column / width;
        if above > 0 {
            // Writing into a string cannot fail.
            let _ = write!(out, "\u{1b}[{above}A");
        }
        out.push_str("\r\u{1b}[J");
    }

    fn next_row(&mut self) {
        self.rows.push(String::new());
        self.widths.push(0);
    }

    fn make_room(&mut self, c: char, columns: usize) {
        if self.widths.last().is_some_and(|used| *used > 0 && used + columns_of(c) > columns) {
            self.next_row();
        }
    }

    fn push(&mut self, c: char, columns: usize) {
        self.make_room(c, columns);
        if let (Some(row), Some(used)) = (self.rows.last_mut(), self.widths.last_mut()) {
            row.push(c);
            *used += columns_of(c);
        }
    }

    fn mark(&mut self, here: bool) {
        if here {
            self.row = self.rows.len() - 1;
            self.column = self.widths.last().copied().unwrap_or_default();
        }
    }

    /// Leaves out rows far from the cursor.
    fn fit(&mut self, height: usize) {
        let first = (self.row + 1).saturating_sub(height);
        self.rows.drain(..first);
        self.widths.drain(..first);
        self.rows.truncate(height);
        self.widths.truncate(height);
        self.row -= first;
    }

    fn below(&mut self, text: &str, columns: usize, colour: bool) {
        let mut used = 0;
        let fits = |c: &char| {
            used += columns_of(*c);
            used <= columns
        };
        let text: String = text.chars().take_while(fits).collect();
        self.widths.push(text.chars().map(columns_of).sum());
        self.rows.push(if colour { format!("{DIM}{text}{AS_BEFORE}") } else { text });
    }
}
