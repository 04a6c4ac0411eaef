//! Switches with their pulses, and the bands in which functions are on: as a table, and along the pulse.

use super::doc::Doc;
use super::svg::{Scale, Svg};
use crate::board::binding;
use crate::board::radio_card::RadioCard;
use crate::board::sheet::{Settings, Sheet};

/// From the shortest to the longest pulse that is drawn, in microseconds.
const PULSES: (f64, f64) = (850.0, 2150.0);

/// What is known of the radio and of what the board binds to it.
#[derive(Debug, Clone, Copy)]
pub struct Bound<'a> {
    /// The sheet.
    pub sheet: &'a Sheet,
    /// All settings.
    pub settings: &'a Settings,
    /// The radio card; `None`: nothing is known of it.
    pub card: Option<&'a RadioCard>,
}

/// A function's band: its name, its channel, its ends.
struct Band {
    function: String,
    channel: u32,
    from: i32,
    to: i32,
}

fn bands(bound: Bound<'_>) -> Vec<Band> {
    let mut all = Vec::new();
    for function in binding::functions(bound.sheet) {
        for now in binding::bound_now(bound.sheet, bound.settings, function).unwrap_or_default() {
            all.push(Band { function: function.0.clone(), channel: now.channel, from: now.from.0, to: now.to.0 });
        }
    }
    all
}

/// A section of a page.
pub(super) fn section(doc: &mut Doc, bound: Bound<'_>) {
    doc.heading(2, "Switches and bands");
    let bands = bands(bound);
    let known = bound.card.map(|card| &card.switches);
    let rests = |channel: u32| {
        let switches = known.into_iter().flatten().filter(move |(_, entry)| entry.channel == channel);
        switches.map(|(switch, entry)| (switch.0.clone(), entry.rests.iter().map(|rest| rest.0).collect::<Vec<_>>()))
    };
    let mut channels: Vec<u32> = bands.iter().map(|band| band.channel).collect();
    channels.extend(known.into_iter().flatten().map(|(_, entry)| entry.channel));
    channels.sort_unstable();
    channels.dedup();
    if channels.is_empty() {
        return doc.para("", "Nothing is bound to a switch, and no switch is known.");
    }
    let mut rows = Vec::new();
    for channel in &channels {
        let switches: Vec<(String, Vec<i32>)> = rests(*channel).collect();
        let named = switches.first().map_or_else(|| "not known".to_owned(), |(name, _)| name.clone());
        let pulses = switches.first().map_or_else(
            || "not known".to_owned(),
            |(_, rests)| {
                let all = rests.iter().enumerate().map(|(place, rest)| format!("{place}: {rest}"));
                all.collect::<Vec<_>>().join(", ")
            },
        );
        let on: Vec<String> = bands
            .iter()
            .filter(|band| band.channel == *channel)
            .map(|band| {
                let places = switches.iter().flat_map(|(_, rests)| rests.iter().enumerate());
                let inside = places.filter(|(_, rest)| (band.from..band.to).contains(*rest));
                let inside: Vec<String> = inside.map(|(place, _)| place.to_string()).collect();
                let inside = if inside.is_empty() {
                    "no position known".to_owned()
                } else {
                    format!("position {}", inside.join(", "))
                };
                format!("{} from {} to {} us: {inside}", band.function, band.from, band.to)
            })
            .collect();
        let on = if on.is_empty() { "nothing".to_owned() } else { on.join("; ") };
        rows.push(vec![format!("channel {channel}"), named, pulses, on]);
    }
    doc.table(
        "Channels, the switch on each, its pulse in each position in microseconds, and what is on in which of them",
        &["channel", "switch", "pulse by position", "on"],
        &rows,
    );
    let figures = channels.iter().zip(&rows).map(|(channel, row)| {
        let here = bands.iter().filter(|band| band.channel == *channel);
        (
            drawn(row, &rests(*channel).flat_map(|(_, rests)| rests).collect::<Vec<_>>(), here),
            format!("{}, switch {}", row[0], row[1]),
        )
    });
    doc.figures(figures.collect());
}

fn drawn<'b>(row: &[String], rests: &[i32], bands: impl Iterator<Item = &'b Band>) -> Svg {
    let across = Scale { figures: PULSES, places: (10.0, 310.0) };
    let description = format!("Pulses by position: {}. On: {}.", row[2], row[3]);
    let mut svg = Svg::new(&format!("Pulses and bands of {}", row[0]), &description, (320.0, 108.0));
    let mut y = 8.0;
    for band in bands {
        let (from, to) = (across.at(f64::from(band.from)), across.at(f64::from(band.to)));
        svg.rect("band", (from, y), (to - from, 16.0));
        svg.text("", "middle", (f64::midpoint(from, to), y + 12.0), &band.function);
        y += 20.0;
    }
    svg.line("axis", (10.0, 76.0), (310.0, 76.0));
    for pulse in [1000.0, 1500.0, 2000.0] {
        svg.line("axis", (across.at(pulse), 76.0), (across.at(pulse), 80.0));
        svg.text("quiet", "middle", (across.at(pulse), 104.0), &format!("{pulse:.0}"));
    }
    for (place, rest) in rests.iter().enumerate() {
        let x = across.at(f64::from(*rest));
        svg.line("ink", (x, 8.0), (x, 76.0));
        svg.circle("dot", (x, 76.0), 3.5);
        svg.text("", "middle", (x, 92.0), &place.to_string());
    }
    svg
}
