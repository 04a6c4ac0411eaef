//! Cuts and lost links on a time line: how long each lasted, as an interval, and the signals that it was measured from.

use super::svg::{Scale, Svg};
use crate::record::run_log::Samples;

/// A pulse's room above and below, in microseconds.
const TREMBLES: f64 = 20.0;

/// A measured time to rest: what is said of it, and its samples.
pub(super) type Measured<'l> = (&'l str, &'l Samples);

/// All intervals below each other, from the same moment on.
pub(super) fn intervals(all: &[Measured<'_>]) -> Option<(Svg, String)> {
    let ends: Vec<(&str, f64, f64)> =
        all.iter().filter_map(|(text, it)| Some((*text, it.least_ms?, it.most_ms?))).collect();
    if ends.is_empty() {
        return None;
    }
    let across = Scale::new(ends.iter().map(|(_, _, most)| *most).chain([0.0]), (10.0, 610.0));
    let high = 40.0 * f64::from(u32::try_from(ends.len()).unwrap_or(u32::MAX)) + 40.0;
    let told: Vec<String> =
        ends.iter().map(|(text, least, most)| format!("{text} (from {least:.0} to {most:.0} ms)")).collect();
    let mut svg = Svg::new("Times to rest", &told.join(" "), (640.0, high));
    let mut y = 16.0;
    for (text, least, most) in &ends {
        svg.text("", "start", (10.0, y), &shortened(text));
        svg.rect("sure", (across.at(0.0), y + 5.0), (across.at(*least) - across.at(0.0), 12.0));
        svg.rect("band", (across.at(*least), y + 5.0), (across.at(*most) - across.at(*least), 12.0));
        y += 40.0;
    }
    svg.line("axis", (10.0, y - 6.0), (610.0, y - 6.0));
    svg.text("", "start", (10.0, y + 10.0), "0");
    svg.text("", "end", (610.0, y + 10.0), &format!("{:.0} ms", across.figures.1));
    Some((svg, "Filled: surely still driven. Outlined: at rest at some moment in it; the end of it counts.".to_owned()))
}

fn shortened(text: &str) -> String {
    let mut letters: String = text.chars().take(96).collect();
    if letters.len() < text.len() {
        letters.push_str(" ...");
    }
    letters
}

/// The signals of one.
pub(super) fn signals((text, samples): Measured<'_>) -> (Svg, String) {
    #[expect(clippy::cast_precision_loss, reason = "milliseconds of a few seconds")]
    let ms = |at: &i64| *at as f64;
    let lines: Vec<_> = samples.lines.iter().filter(|line| line.values.len() > 1).collect();
    let across = Scale::new(lines.iter().flat_map(|line| line.at_ms.iter().map(ms)), (10.0, 310.0));
    let rows = f64::from(u32::try_from(lines.len()).unwrap_or(u32::MAX));
    let told: Vec<String> = lines
        .iter()
        .map(|line| {
            let (first, last) = (line.values.first().copied(), line.values.last().copied());
            let value = |value: Option<f64>| value.map_or_else(String::new, |value| format!("{value:.0}"));
            format!("{} from {} to {} {}", line.name, value(first), value(last), line.unit)
        })
        .collect();
    let mut svg =
        Svg::new(&format!("What it was measured from: {text}"), &told.join("; "), (320.0, 66.0 * rows + 28.0));
    let mut y = 8.0;
    for line in lines {
        let (least, most) =
            line.values.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), it| (a.min(*it), b.max(*it)));
        // A pulse that only trembles is drawn as one that stands.
        let around = if line.unit == "us" { [least - TREMBLES, most + TREMBLES] } else { [least, most] };
        let up = Scale::new(around.into_iter(), (y + 54.0, y + 18.0));
        svg.text("", "start", (10.0, y + 10.0), &format!("{}, {}", line.name, line.unit));
        svg.text("quiet", "end", (310.0, y + 10.0), &format!("{least:.0} to {most:.0}"));
        let mut points: Vec<(f64, f64)> = Vec::new();
        for (at, value) in line.at_ms.iter().zip(&line.values) {
            // A value stands until the next one.
            if let Some((_, before)) = points.last().copied() {
                points.push((across.at(ms(at)), before));
            }
            points.push((across.at(ms(at)), up.at(*value)));
        }
        svg.path("", &points);
        y += 66.0;
    }
    let zero = across.at(0.0);
    svg.line("limit", (zero, 8.0), (zero, y));
    svg.text("", "middle", (zero, y + 12.0), "0");
    svg.text("", "end", (310.0, y + 12.0), &format!("{:.0} ms", across.figures.1));
    (svg, format!("{text} 0: {}.", samples.zero))
}
