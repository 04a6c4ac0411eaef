//! A picture being drawn: a few shapes, with a title and a description that say what it shows.
//!
//! Promises: nothing in it is told by colour alone; every text is escaped. Must not be here: what is drawn.

use super::escape::escaped;
use std::fmt::Write;

/// See the module.
pub(super) struct Svg {
    title: String,
    description: String,
    size: (f64, f64),
    shapes: String,
}

/// From figures to places along an axis.
#[derive(Debug, Clone, Copy)]
pub(super) struct Scale {
    pub(super) figures: (f64, f64),
    pub(super) places: (f64, f64),
}

impl Scale {
    /// From these figures, which may all be one, to these places.
    pub(super) fn new(figures: impl Iterator<Item = f64>, places: (f64, f64)) -> Self {
        let ends = figures.filter(|figure| figure.is_finite());
        let (least, most) = ends.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), it| (a.min(it), b.max(it)));
        let figures = if least < most { (least, most) } else { (least.min(0.0), least.max(0.0) + 1.0) };
        let figures = if figures.0.is_finite() && figures.1.is_finite() { figures } else { (0.0, 1.0) };
        Self { figures, places }
    }

    pub(super) fn at(&self, figure: f64) -> f64 {
        let (from, to) = self.figures;
        let share = ((figure - from) / (to - from)).clamp(0.0, 1.0);
        self.places.0 + share * (self.places.1 - self.places.0)
    }
}

impl Svg {
    pub(super) fn new(title: &str, description: &str, size: (f64, f64)) -> Self {
        Self { title: title.to_owned(), description: description.to_owned(), size, shapes: String::new() }
    }

    /// Whether it takes the width of a page.
    pub(super) fn is_wide(&self) -> bool {
        self.size.0 > 400.0
    }

    fn put(&mut self, args: std::fmt::Arguments<'_>) {
        // Writing into a string cannot fail.
        let _ = self.shapes.write_fmt(args);
    }

    pub(super) fn line(&mut self, class: &str, from: (f64, f64), to: (f64, f64)) {
        self.put(format_args!(
            "<line class=\"{class}\" x1=\"{:.1}\" y1=\"{:.1}\" x2=\"{:.1}\" y2=\"{:.1}\"/>",
            from.0, from.1, to.0, to.1
        ));
    }

    /// A line through points; `dashes`: empty for a whole one.
    pub(super) fn path(&mut self, dashes: &str, points: &[(f64, f64)]) {
        let mut all = String::new();
        for (x, y) in points {
            let _ = write!(all, "{x:.1},{y:.1} ");
        }
        let dashes = if dashes.is_empty() { String::new() } else { format!(" stroke-dasharray=\"{dashes}\"") };
        self.put(format_args!("<polyline class=\"ink\"{dashes} points=\"{}\"/>", all.trim_end()));
    }

    pub(super) fn circle(&mut self, class: &str, at: (f64, f64), radius: f64) {
        self.put(format_args!("<circle class=\"{class}\" cx=\"{:.1}\" cy=\"{:.1}\" r=\"{radius:.1}\"/>", at.0, at.1));
    }

    pub(super) fn cross(&mut self, (x, y): (f64, f64), half: f64) {
        self.line("ink", (x - half, y - half), (x + half, y + half));
        self.line("ink", (x - half, y + half), (x + half, y - half));
    }

    pub(super) fn rect(&mut self, class: &str, (x, y): (f64, f64), (wide, high): (f64, f64)) {
        self.put(format_args!(
            "<rect class=\"{class}\" x=\"{x:.1}\" y=\"{y:.1}\" width=\"{:.1}\" height=\"{high:.1}\"/>",
            wide.max(0.0)
        ));
    }

    /// Text; `anchor`: `start`, `middle` or `end`.
    pub(super) fn text(&mut self, class: &str, anchor: &str, (x, y): (f64, f64), text: &str) {
        let text = escaped(text);
        self.put(format_args!(
            "<text class=\"{class}\" text-anchor=\"{anchor}\" x=\"{x:.1}\" y=\"{y:.1}\">{text}</text>"
        ));
    }

    /// The way round a circle, with a head: clockwise or not, as seen.
    pub(super) fn turn(&mut self, (x, y): (f64, f64), radius: f64, clockwise: bool) {
        // From the left over the top to the right, or the other way round; the head stands at its end.
        let (from, to, sweep) = if clockwise { (x - radius, x + radius, 1) } else { (x + radius, x - radius, 0) };
        self.put(format_args!(
            "<path class=\"ink\" d=\"M{from:.1} {y:.1} A{radius:.1} {radius:.1} 0 0 {sweep} {to:.1} {y:.1}\"/>"
        ));
        let points = [(to - 5.0, y - 6.0), (to, y), (to + 5.0, y - 6.0)];
        self.path("", &points);
    }

    /// The picture; `number` tells it from the others of its page.
    pub(super) fn drawn(&self, number: usize) -> String {
        let (wide, high) = self.size;
        format!(
            "<svg viewBox=\"0 0 {wide:.0} {high:.0}\" role=\"img\" aria-labelledby=\"t{number} d{number}\">\
             <title id=\"t{number}\">{}</title><desc id=\"d{number}\">{}</desc>{}</svg>",
            escaped(&self.title),
            escaped(&self.description),
            self.shapes
        )
    }
}
