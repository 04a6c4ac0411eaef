//! A page being written: headings, paragraphs, lists, tables and figures, in order.
//!
//! Promises: whatever is handed in as text is shown as that text; a table has a caption, and says which cells are heads of
//! what. Must not be here: what is said.

use super::escape::escaped;
use super::svg::Svg;
use std::fmt::Write;

/// Nothing is loaded from anywhere, and no script runs, whatever a text says.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'";

/// See the module.
pub(super) struct Doc {
    text: String,
    figures: usize,
}

impl Doc {
    /// A page of this title, which is its first heading too.
    pub(super) fn new(title: &str) -> Self {
        let title = escaped(title);
        let style = include_str!("style.css");
        let text = format!(
            "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
             <meta http-equiv=\"Content-Security-Policy\" content=\"{POLICY}\">\n\
             <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
             <title>{title}</title>\n<style>\n{style}</style>\n</head>\n<body>\n<main>\n<h1>{title}</h1>\n"
        );
        Self { text, figures: 0 }
    }

    fn put(&mut self, args: std::fmt::Arguments<'_>) {
        // Writing into a string cannot fail.
        let _ = self.text.write_fmt(args);
    }

    pub(super) fn heading(&mut self, level: u8, text: &str) {
        self.put(format_args!("<h{level}>{}</h{level}>\n", escaped(text)));
    }

    /// `class`: how it is meant, one of the style's; empty: plain.
    pub(super) fn para(&mut self, class: &str, text: &str) {
        let class = if class.is_empty() { String::new() } else { format!(" class=\"{class}\"") };
        self.put(format_args!("<p{class}>{}</p>\n", escaped(text)));
    }

    pub(super) fn list(&mut self, items: &[String]) {
        self.items("<ul>", items);
    }

    /// A list with a box before each, to be ticked on paper.
    pub(super) fn checklist(&mut self, items: &[String]) {
        self.items("<ul class=\"check\">", items);
    }

    fn items(&mut self, opens: &str, items: &[String]) {
        self.put(format_args!("{opens}\n"));
        for item in items {
            self.put(format_args!("<li>{}</li>\n", escaped(item)));
        }
        self.put(format_args!("</ul>\n"));
    }

    /// A table; the first cell of each row is the row's head.
    pub(super) fn table(&mut self, caption: &str, heads: &[&str], rows: &[Vec<String>]) {
        self.put(format_args!("<table>\n<caption>{}</caption>\n<thead><tr>", escaped(caption)));
        for head in heads {
            self.put(format_args!("<th scope=\"col\">{}</th>", escaped(head)));
        }
        self.put(format_args!("</tr></thead>\n<tbody>\n"));
        for row in rows {
            self.put(format_args!("<tr>"));
            for (at, cell) in row.iter().enumerate() {
                let cell = escaped(cell);
                if at == 0 {
                    self.put(format_args!("<th scope=\"row\">{cell}</th>"));
                } else {
                    self.put(format_args!("<td>{cell}</td>"));
                }
            }
            self.put(format_args!("</tr>\n"));
        }
        self.put(format_args!("</tbody>\n</table>\n"));
    }

    /// Facts, each with its name.
    pub(super) fn facts(&mut self, caption: &str, facts: &[(&str, String)]) {
        let rows: Vec<Vec<String>> = facts.iter().map(|(name, fact)| vec![(*name).to_owned(), fact.clone()]).collect();
        self.table(caption, &["what", "as it is"], &rows);
    }

    /// Pictures side by side where there is room, each with a caption.
    pub(super) fn figures(&mut self, all: Vec<(Svg, String)>) {
        self.put(format_args!("<div class=\"row\">\n"));
        for (svg, caption) in all {
            self.figures += 1;
            let drawn = svg.drawn(self.figures);
            let class = if svg.is_wide() { " class=\"wide\"" } else { "" };
            self.put(format_args!(
                "<figure{class}>\n{drawn}\n<figcaption>{}</figcaption>\n</figure>\n",
                escaped(&caption)
            ));
        }
        self.put(format_args!("</div>\n"));
    }

    /// The page, whole.
    pub(super) fn end(mut self) -> String {
        self.put(format_args!("</main>\n</body>\n</html>\n"));
        self.text
    }
}

#[cfg(test)]
mod tests {
    use super::{Doc, escaped};

    #[test]
    fn text_is_shown_as_text() {
        let hostile = "</title><script>alert(1)</script>\" onload='x' &amp; \u{202e}\u{1b}[2J\n";
        let shown = escaped(hostile);
        assert!(!shown.contains(['<', '>', '"', '\'', '\n', '\u{1b}', '\u{202e}']), "{shown}");
        let mut doc = Doc::new(hostile);
        doc.heading(2, hostile);
        doc.para("", hostile);
        doc.list(&[hostile.to_owned()]);
        doc.table(hostile, &[hostile], &[vec![hostile.to_owned(), hostile.to_owned()]]);
        // Title and h1, heading, paragraph, item, caption, head of a column, of a row, and a cell.
        let page = doc.end();
        assert!(!page.contains("<script") && page.matches("</title>").count() == 1, "{page}");
        assert_eq!(page.matches("&lt;script&gt;").count(), 9, "{page}");
    }
}
