//! What the radio says: each channel with its pulse on a track, what works it, and the bands bound to it.
//!
//! The positions of a switch stand on the track where they rest, a band as a shaded piece; the words behind it say
//! whether the pulse is inside.

use super::canvas::{Canvas, Ink};
use super::labels;
use crate::report::gate;
use crate::seam::page::{Band, Channel, Page, Radio, WorkedBy};

/// The track reaches from here to there, µs.
const FROM: i32 = 900;
const TO: i32 = 2100;
/// Columns before the name, and of the name.
const NAME: u16 = 9;
const NAMED: u16 = 14;

/// Draws the channels; gives the rows that they take.
pub(super) fn channels(canvas: &mut Canvas<'_>, page: &Page, roomy: bool) -> u16 {
    let (heading, ink) = match page.radio {
        Radio::Heard => ("radio heard", Ink::Quiet),
        Radio::Lost => (" RADIO LOST ", Ink::Alarm),
        Radio::NotKnown => (" NOT HEARD ", Ink::Alarm),
    };
    let start = NAME + NAMED;
    let track = track_width(canvas.width());
    canvas.put_right(8, 0, "us", Ink::Quiet);
    canvas.put(NAME, 0, heading, ink);
    if track >= 13 {
        canvas.put(start, 0, "900", Ink::Quiet);
        canvas.put_right(start + track, 0, "2100", Ink::Quiet);
    }
    let rows = canvas.height().saturating_sub(1);
    let count = u16::try_from(page.channels.len()).unwrap_or(u16::MAX);
    let apart = if roomy && count.saturating_mul(2) <= rows { 2 } else { 1 };
    let shown = usize::from(rows / apart);
    for (at, channel) in (0_u16..).zip(page.channels.iter().take(shown)) {
        row(canvas, 1 + at * apart, channel, page.radio, track);
    }
    if page.channels.len() > shown {
        let more = page.channels.len() - shown;
        canvas.put_right(canvas.width().saturating_sub(1), 0, &format!("{more} more below"), Ink::Warning);
    }
    1 + count.min(rows / apart) * apart
}

fn track_width(width: u16) -> u16 {
    // An odd number, so that the middle is a column.
    ((width.saturating_sub(NAME + NAMED) / 2).clamp(13, 33) - 1) | 1
}

fn row(canvas: &mut Canvas<'_>, y: u16, channel: &Channel, radio: Radio, track: u16) {
    canvas.put_right(3, y, &channel.number.to_string(), Ink::Quiet);
    let pulse = channel.pulse.map_or_else(|| "-".to_owned(), |pulse| pulse.to_string());
    // What a board goes on giving without its radio is nobody's hand.
    let ink = if radio == Radio::Heard { Ink::Strong } else { Ink::Quiet };
    canvas.put_right(8, y, &pulse, ink);
    canvas.part(NAME, y, NAMED - 1, 1).put(0, 0, &labels::worked_by(channel), Ink::Text);
    let start = NAME + NAMED;
    for column in 0..track {
        let (mark, ink) = mark(channel, column, track);
        canvas.put(start + column, y, &mark, ink);
    }
    bands(canvas, start + track + 1, y, &channel.bands);
}

/// The middle of a column of the track, µs.
fn at(column: u16, track: u16) -> i32 {
    FROM + (TO - FROM) * (2 * i32::from(column) + 1) / (2 * i32::from(track))
}

fn mark(channel: &Channel, column: u16, track: u16) -> (String, Ink) {
    let here = channel.pulse.map(|pulse| place(i32::from(pulse), track));
    if here == Some(i32::from(column)) {
        return station(channel, column, track).map_or(("█".to_owned(), Ink::Strong), |at| (at, Ink::Mark));
    }
    if let Some(station) = station(channel, column, track) {
        return (station, Ink::Strong);
    }
    let middle = at(column, track);
    let (mark, ink) = match channel.bands.iter().find(|band| middle >= band.from && middle < band.to) {
        Some(band) if band.inside == Some(true) => ("▒", Ink::Good),
        Some(_) => ("▒", Ink::Text),
        None if column == track / 2 => (":", Ink::Quiet),
        None => ("·", Ink::Quiet),
    };
    (mark.to_owned(), ink)
}

/// The position that rests in this column of the track, as its digit.
fn station(channel: &Channel, column: u16, track: u16) -> Option<String> {
    let Some(WorkedBy::Switch { rests, .. }) = &channel.worked_by else { return None };
    rests.iter().position(|rest| place(*rest, track) == i32::from(column)).map(|at| at.to_string())
}

/// The column of the track in which a pulse stands.
fn place(pulse: i32, track: u16) -> i32 {
    (pulse.clamp(FROM, TO - 1) - FROM) * i32::from(track) / (TO - FROM)
}

/// Whether the pulse is inside each band, those inside first; what has no room is counted.
fn bands(canvas: &mut Canvas<'_>, x: u16, y: u16, bands: &[Band]) {
    let mut bands: Vec<&Band> = bands.iter().collect();
    bands.sort_by_key(|band| band.inside != Some(true));
    let mut x = x;
    for (at, band) in bands.iter().enumerate() {
        let (word, ink) = match band.inside {
            Some(true) => ("in", Ink::Good),
            Some(false) => ("not", Ink::Quiet),
            None => ("?", Ink::Quiet),
        };
        let text = format!("{word} {}", gate::line(&band.function));
        let length = u16::try_from(text.chars().count()).unwrap_or(u16::MAX);
        if at > 0 && x.saturating_add(length) > canvas.width() {
            canvas.put(x, y, &format!("+{}", bands.len() - at), Ink::Quiet);
            return;
        }
        x = canvas.put(x, y, &text, ink) + 1;
    }
}
