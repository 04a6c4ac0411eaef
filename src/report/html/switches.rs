//! Switches with their pulses, and the bands in which functions are on: as a table, and along the pulse.

use super::doc::Doc;
use super::svg::{Scale, Svg};
use crate::board::binding::BoundNow;
use crate::board::bound;
use crate::board::radio_card::RadioCard;
use crate::board::sheet::{Settings, Sheet};
use crate::language::recipe::Function;
use crate::language::units::Pulse;
use crate::plan::titles;

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

/// A function's band.
type Band<'s> = (&'s Function, BoundNow);

/// A section of a page.
pub(super) fn section(doc: &mut Doc, bound: Bound<'_>) {
    doc.heading(2, "Switches and bands");
    let bands = bound::all_bound(bound.sheet, bound.settings);
    let known = bound.card.map(|card| &card.switches);
    let rests = |channel: u32| {
        let switches = known.into_iter().flatten().filter(move |(_, entry)| entry.channel == channel);
        switches.map(|(switch, entry)| (switch.0.as_str(), entry.rests.as_slice()))
    };
    let mut channels: Vec<u32> = bands.iter().map(|(_, band)| band.channel).collect();
    channels.extend(known.into_iter().flatten().map(|(_, entry)| entry.channel));
    channels.sort_unstable();
    channels.dedup();
    if channels.is_empty() {
        return doc.para("", "Nothing is bound to a switch, and no switch is known.");
    }
    let mut rows = Vec::new();
    for channel in &channels {
        let switches: Vec<(&str, &[Pulse])> = rests(*channel).collect();
        let unknown = || "not known".to_owned();
        let named = switches.first().map_or_else(unknown, |(name, _)| (*name).to_owned());
        let pulses = switches.first().map_or_else(unknown, |(_, rests)| {
            let all = rests.iter().enumerate().map(|(place, rest)| format!("{place}: {}", rest.0));
            all.collect::<Vec<_>>().join(", ")
        });
        let here = bands.iter().filter(|(_, band)| band.channel == *channel);
        let on: Vec<String> = here
            .map(|(function, band)| {
                let places = switches.iter().flat_map(|(_, rests)| bound::positions_on(&[*band], *channel, rests));
                let places: Vec<u32> = places.collect();
                let inside =
                    if places.is_empty() { "no position known".to_owned() } else { titles::positions(&places) };
                format!("{} from {} to {}: {inside}", function.0, band.from.0, band.to)
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
        let here = bands.iter().filter(|(_, band)| band.channel == *channel);
        (
            drawn(row, &rests(*channel).flat_map(|(_, rests)| rests).collect::<Vec<_>>(), here),
            format!("{}, switch {}", row[0], row[1]),
        )
    });
    doc.figures(figures.collect());
}

fn drawn<'b>(row: &[String], rests: &[&Pulse], bands: impl Iterator<Item = &'b Band<'b>>) -> Svg {
    let across = Scale { figures: PULSES, places: (10.0, 310.0) };
    let description = format!("Pulses by position: {}. On: {}.", row[2], row[3]);
    let mut svg = Svg::new(&format!("Pulses and bands of {}", row[0]), &description, (320.0, 108.0));
    let mut y = 8.0;
    for (function, band) in bands {
        let (from, to) = (across.at(f64::from(band.from.0)), across.at(f64::from(band.to.0)));
        svg.rect("band", (from, y), (to - from, 16.0));
        svg.text("", "middle", (f64::midpoint(from, to), y + 12.0), &function.0);
        y += 20.0;
    }
    svg.line("axis", (10.0, 76.0), (310.0, 76.0));
    for pulse in [1000.0, 1500.0, 2000.0] {
        svg.line("axis", (across.at(pulse), 76.0), (across.at(pulse), 80.0));
        svg.text("quiet", "middle", (across.at(pulse), 104.0), &format!("{pulse:.0}"));
    }
    for (place, rest) in rests.iter().enumerate() {
        let x = across.at(f64::from(rest.0));
        svg.line("ink", (x, 8.0), (x, 76.0));
        svg.circle("dot", (x, 76.0), 3.5);
        svg.text("", "middle", (x, 92.0), &place.to_string());
    }
    svg
}
