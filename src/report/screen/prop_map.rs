//! The motors from above as they were found, the nose at the top, each with the way it turns.
//!
//! Promises: nothing stands only here; the sentences beside it say the same, and stand alone in the linear style.

use super::line::Page;
use crate::seam::ui::PropSeen;

/// Columns between the middle and the outermost label's middle.
const REACH: f64 = 21.0;
/// The middle.
const MIDDLE: u8 = 34;

pub(super) fn map(page: &mut Page, motors: &[PropSeen]) {
    if page.style().plain {
        return;
    }
    page.heading("From above, as you said");
    let mut rows: Vec<Vec<&PropSeen>> = Vec::new();
    let mut ordered: Vec<&PropSeen> = motors.iter().collect();
    // By whole steps: two that stand side by side differ by a breath in what a cosine gives.
    ordered.sort_by_key(|motor| (row_of(motor), column(place(motor).1)));
    for motor in ordered {
        match rows.last_mut().filter(|row| row_of(row[0]) == row_of(motor)) {
            Some(row) => row.push(motor),
            None => rows.push(vec![motor]),
        }
    }
    page.row(centred(&[("nose", usize::from(MIDDLE))]));
    for row in rows {
        page.gap();
        let at = |motor: &PropSeen| column(place(motor).1);
        let line = |words: &dyn Fn(&PropSeen) -> String| {
            let labels: Vec<(String, usize)> = row.iter().map(|motor| (words(motor), at(motor))).collect();
            centred(&labels.iter().map(|(text, at)| (text.as_str(), *at)).collect::<Vec<_>>())
        };
        page.row(line(&|motor| format!("{} {}", if motor.clockwise { '↻' } else { '↺' }, motor.motor)));
        page.row(line(&|motor| motor.place.corner.to_owned()));
        if row.iter().any(|motor| !motor.right) {
            page.row(line(&|motor| if motor.right { String::new() } else { "not as it should be".to_owned() }));
        }
    }
    page.gap();
}

/// How far to the tail and to the right, −1 … 1.
fn place(motor: &PropSeen) -> (f64, f64) {
    let bearing = (f64::from(motor.place.bearing) / 10.0).to_radians();
    (-bearing.cos(), bearing.sin())
}

/// Rows from nose to tail, ten to a side.
#[expect(clippy::cast_possible_truncation, reason = "between -10 and 10")]
fn row_of(motor: &PropSeen) -> i32 {
    (place(motor).0 * 10.0).round() as i32
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 13 and 55")]
fn column(right: f64) -> usize {
    (f64::from(MIDDLE) + REACH * right).round() as usize
}

/// A line of labels, each with its middle at a column.
fn centred(labels: &[(&str, usize)]) -> String {
    let mut line = String::new();
    for (text, middle) in labels {
        let from = middle.saturating_sub(text.chars().count() / 2);
        let pad = from.saturating_sub(line.chars().count()).max(usize::from(!line.is_empty()));
        line.push_str(&" ".repeat(pad));
        line.push_str(text);
    }
    line.trim_end().to_owned()
}
