//! What a board says that its sheet says otherwise: numbers that it holds, and signals that come or stay away.
//!
//! Promises: nothing is guessed: each is a reading beside a line of the sheet. Must not be here: speaking to a board.

use crate::board::binding;
use crate::board::sheet::{BindingLayout, Form, SettingEntry, Settings, Sheet};
use crate::board::value::{Number, SettingName};
use crate::seam::sheet_trial::Contradiction;
use std::ops::RangeInclusive;

/// What was heard of a board with its battery out.
#[derive(Debug, Clone, Copy, Default)]
pub struct HeardAtRest {
    /// Channels that its receiver carries; `None`: nothing was told of them.
    pub channels: Option<u8>,
    /// Outputs that it drives.
    pub outputs: Option<usize>,
    /// Motors of which speeds were told.
    pub speeds: Option<usize>,
    /// A pulse that no receiver and no board makes, by its signal and its place from 1.
    pub odd: Option<(&'static str, usize, u16)>,
}

/// Pulses that there can be, us: what lies outside is no pulse width, or in no us.
pub const PULSES: RangeInclusive<u16> = 500..=2500;

/// See the module.
#[must_use]
pub fn contradictions(sheet: &Sheet, settings: &Settings, heard: HeardAtRest) -> Vec<Contradiction> {
    let mut all = Vec::new();
    for (word, entry) in &sheet.settings {
        all.extend(held(&format!("settings.{word}"), entry, settings));
    }
    for (name, entry) in &sheet.raw {
        all.extend(held(&format!("raw.{name}"), entry, settings));
    }
    all.extend(bands(sheet, settings));
    all.extend(told(sheet, heard));
    all
}

/// What is read otherwise a moment later, though nobody set it.
#[must_use]
pub fn counting(before: &Settings, after: &Settings) -> Vec<Contradiction> {
    let changed =
        before.iter().filter_map(|(name, was)| Some((name, was, after.get(name).filter(|is| !is.same(*was))?)));
    let told = changed.map(|(name, was, is)| Contradiction {
        line: name.to_string(),
        sheet: "it is a setting".to_owned(),
        board: format!("it was {was}, and {is} when it was read again: it counts by itself"),
    });
    told.collect()
}

/// A number that the sheet says the board would never take.
fn held(line: &str, entry: &SettingEntry, settings: &Settings) -> Option<Contradiction> {
    let number = *settings.get(&entry.name)?;
    let listed = |one: &i64| Number::Whole(*one).same(number);
    let sheet = match (&entry.form, entry.range) {
        (Form::Words(words), _) if !words.values().any(listed) => {
            let all: Vec<String> = words.iter().map(|(word, number)| format!("{word} = {number}")).collect();
            format!("it holds one of {}", all.join(", "))
        }
        (Form::Whole { only, .. }, _) if !only.is_empty() && !only.iter().any(listed) => {
            let all: Vec<String> = only.iter().map(ToString::to_string).collect();
            format!("it takes {} alone", all.join(", "))
        }
        (Form::Whole { .. } | Form::Words(_), _) if matches!(number, Number::Real(real) if real.fract() != 0.0) => {
            "it holds whole numbers".to_owned()
        }
        (_, Some((least, most))) if !(least..=most).contains(&number.real()) => format!("it takes {least} to {most}"),
        _ => return None,
    };
    Some(Contradiction { line: line.to_owned(), sheet, board: format!("{} is {number}", entry.name) })
}

/// Ends that lie where the sheet says that none can.
fn bands(sheet: &Sheet, settings: &Settings) -> Vec<Contradiction> {
    let binding = &sheet.binding;
    let names: Vec<(&SettingName, &SettingName)> = match &binding.way {
        BindingLayout::Direct(bands) => bands.values().map(|band| (&band.from, &band.to)).collect(),
        BindingLayout::Rows { rows, .. } => rows.iter().map(|row| (&row.from, &row.to)).collect(),
    };
    let mut all = Vec::new();
    for (from, to) in names {
        let [Some(low), Some(high)] = [from, to].map(|name| settings.get(name).and_then(|end| end.whole())) else {
            continue;
        };
        if (low, high) == binding.closed {
            continue;
        }
        for (name, end) in [(from, low), (to, high)] {
            let (least, most) = (i64::from(binding.least.0), i64::from(binding.most.0));
            let board = format!("{name} is {end}");
            if !binding.is_end(end) {
                let sheet = format!("ends go from {least} to {most}");
                all.push(Contradiction { line: "binding.least, binding.most".to_owned(), sheet, board });
            } else if (end - least).rem_euclid(i64::from(binding.granularity)) != 0 {
                let sheet = format!("ends are {least} and steps of {} more", binding.granularity);
                all.push(Contradiction { line: "binding.granularity".to_owned(), sheet, board });
            }
        }
    }
    for function in binding::functions(sheet) {
        if let Err(error @ binding::BindingError::Strange { .. }) = binding::bound_now(sheet, settings, function) {
            let (line, sheet) = (format!("binding.functions.{}", function.0), "its settings hold a band".to_owned());
            all.push(Contradiction { line, sheet, board: error.to_string() });
        }
    }
    all
}

/// Signals with the battery out, beside what the sheet says of USB, motors and speeds.
fn told(sheet: &Sheet, heard: HeardAtRest) -> Vec<Contradiction> {
    let mut all = Vec::new();
    let mut found = |line: &str, sheet: String, board: String| {
        all.push(Contradiction { line: line.to_owned(), sheet, board });
    };
    if let Some((signal, place, pulse)) = heard.odd {
        let board = format!("{signal} {place} is {pulse} us");
        let sheet = format!("pulses in us, which go from {} to {}", PULSES.start(), PULSES.end());
        found(if signal == "channel" { "channels" } else { "outputs" }, sheet, board);
    }
    if let Some(channels) = heard.channels.filter(|channels| *channels > 0 && !sheet.usb_feeds_receiver) {
        let board = format!("{channels} channels are heard with the battery out");
        found("usb.receiver", "USB feeds no receiver".to_owned(), board);
    }
    if let Some(driven) = heard.outputs.filter(|driven| *driven != sheet.corners.len()) {
        found("motors.count", format!("it has {} motors", sheet.corners.len()), format!("{driven} outputs are driven"));
    }
    if let Some(speeds) = heard.speeds.filter(|_| !sheet.speed_telemetry) {
        found("motors.speed-telemetry", "it tells no speeds".to_owned(), format!("speeds of {speeds} motors came"));
    }
    all
}
