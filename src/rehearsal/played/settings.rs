//! The settings of a board that a sheet describes: what it takes, what each holds at first, and what it is for.
//!
//! Must not be here: how they travel.

use crate::board::convert::{encode, encode_idle, encode_typed};
use crate::board::packets::PacketSheet;
use crate::board::sheet::{self, BindingLayout, Form, Measure, SettingEntry, Sheet};
use crate::board::value::SettingName;
use crate::language::recipe::{Idle, Value};
use crate::language::setting_word::SettingWord;
use crate::language::units::{Decimal, Pulse, Quantity, Unit};
use crate::measure::motor_permutation::ReversalOf;
use crate::measure::signal_timing::MotorSignal;
use crate::virtual_board::{Amount, BandNames, BandOf, Definition, Flag, Function, Roles, SettingType};
use std::collections::{BTreeMap, BTreeSet};

/// Idle at first, us.
const IDLE: Pulse = Pulse(1050);
/// Channel and ends of the factory's arm band, us.
const ARM: [i32; 3] = [5, 1698, 2098];
/// The voltage divider at first.
const RATIO: Decimal = Decimal { millionths: 10_900_000 };
/// What the receiver speaks, and the port that it hangs on, where the board takes those.
const SPEAKS: &str = "crsf";
const PORT: u32 = 2;

fn real(whole: i64) -> f64 {
    crate::board::value::Number::Whole(whole).real()
}

/// All settings in the order of the sheet's parts, and what the receiver speaks on which port.
pub fn settings(sheet: &Sheet) -> (Vec<Definition>, [u16; 2]) {
    let mut all: Vec<Definition> = Vec::new();
    for word in SettingWord::ALL {
        if let Some(entry) = sheet.entry(word) {
            all.push(definition(entry, first(word, entry)));
        }
    }
    all.extend(of_bands(sheet));
    for entry in sheet.raw.values() {
        let place = sheet.order.iter().position(|name| *name == entry.name);
        let number = place.map_or(0, |place| place + 1);
        all.push(definition(entry, number.to_string().parse().unwrap_or(0.0)));
    }
    if let Some(packets) = sheet.packets() {
        of_fields(packets, &mut all);
    }
    let known: BTreeSet<String> = all.iter().map(|definition| definition.name.clone()).collect();
    let more = sheet.must_have.iter().filter(|name| !known.contains(name.as_str()));
    all.extend(more.map(|name| Definition::new(name.as_str(), SettingType::U8, 0.0, 0.0, 255.0)));
    let at_first = |word| {
        let entry = sheet.entry(word)?;
        let definition = all.iter().find(|definition| definition.name == entry.name.as_str())?;
        // Out of range is what no receiver speaks: it is not heard.
        definition.factory.to_string().parse().ok()
    };
    let receiver = [SettingWord::ReceiverProtocol, SettingWord::ReceiverPort].map(|word| at_first(word).unwrap_or(0));
    (all, receiver)
}

/// What stands in packets: each holds no more than its field does, and what no other part of the sheet names is there too.
fn of_fields(packets: &PacketSheet, all: &mut Vec<Definition>) {
    for (name, field) in packets.settings.iter().flat_map(|packet| &packet.fields) {
        let Some(held) = super::packets::definition(name.as_str(), field) else { continue };
        match all.iter_mut().find(|definition| definition.name == held.name) {
            Some(definition) => {
                definition.kind = held.kind;
                definition.least = definition.least.max(held.least);
                definition.most = definition.most.min(held.most);
                definition.factory = definition.factory.max(held.least).min(held.most);
            }
            None => all.push(held),
        }
    }
}

/// One setting as the sheet limits it. What it holds at first is the nearest of what it takes.
fn definition(entry: &SettingEntry, at_first: f64) -> Definition {
    let (only, is_real) = match &entry.form {
        Form::Words(words) => (words.values().map(|number| real(*number)).collect(), false),
        Form::Whole { only, .. } => (only.iter().map(|number| real(*number)).collect::<Vec<_>>(), false),
        Form::Real { .. } => (Vec::new(), true),
    };
    let ends = |least: f64, most: f64| (least.min(most), most.max(least));
    let (least, most) = match (entry.range, only.as_slice()) {
        (Some(range), _) => range,
        (None, []) if is_real => (-1e6, 1e6),
        (None, []) => (f64::from(i32::MIN), f64::from(i32::MAX)),
        (None, only) => only.iter().fold((f64::MAX, f64::MIN), |(least, most), one| (one.min(least), one.max(most))),
    };
    let (least, most) = ends(least, most);
    let nearest = |at: f64| {
        let by_distance = |one: &&f64, other: &&f64| (**one - at).abs().total_cmp(&(**other - at).abs());
        only.iter().min_by(by_distance).copied().unwrap_or(at.clamp(least, most))
    };
    let kind = if is_real { SettingType::Real } else { kind(least, most) };
    let factory = nearest(at_first);
    let name = entry.name.as_str();
    Definition { only: only.clone(), at_start: entry.restart, ..Definition::new(name, kind, factory, least, most) }
}

/// The smallest kind that holds these.
fn kind(least: f64, most: f64) -> SettingType {
    let fits = |low: f64, high: f64| least >= low && most <= high;
    let kinds = [
        (SettingType::U8, 0.0, f64::from(u8::MAX)),
        (SettingType::I8, f64::from(i8::MIN), f64::from(i8::MAX)),
        (SettingType::U16, 0.0, f64::from(u16::MAX)),
        (SettingType::I16, f64::from(i16::MIN), f64::from(i16::MAX)),
        (SettingType::U32, 0.0, f64::from(u32::MAX)),
    ];
    kinds.into_iter().find(|(_, low, high)| fits(*low, *high)).map_or(SettingType::I32, |(kind, ..)| kind)
}

/// What a setting holds at first, in the board's number.
fn first(word: SettingWord, entry: &SettingEntry) -> f64 {
    let quantity = |number: i64, unit| {
        let number = Decimal { millionths: number * 1_000_000 };
        Value::Quantity(Quantity { number, unit: Some(unit) })
    };
    let name = word.word();
    let number = match word {
        SettingWord::Idle => encode_idle(entry, Idle::Pulse(IDLE)),
        SettingWord::ZeroThrottle => encode_typed(name, entry, "rest"),
        SettingWord::Signal => encode_typed(name, entry, "pwm"),
        SettingWord::LoopRate => encode(name, entry, &quantity(2, Unit::KHz)),
        SettingWord::ReceiverProtocol => encode_typed(name, entry, SPEAKS),
        SettingWord::ReceiverPort => encode_typed(name, entry, PORT),
        SettingWord::RollChannel | SettingWord::BatteryCells => encode_typed(name, entry, 1_u32),
        SettingWord::PitchChannel => encode_typed(name, entry, 2_u32),
        SettingWord::ThrottleChannel => encode_typed(name, entry, 3_u32),
        SettingWord::YawChannel => encode_typed(name, entry, 4_u32),
        SettingWord::LinkLossAction => encode_typed(name, entry, "hold"),
        SettingWord::LinkLossWait => encode(name, entry, &quantity(1, Unit::S)),
        SettingWord::BatteryChemistry => encode_typed(name, entry, "lipo"),
        SettingWord::BatteryWarn => encode(name, entry, &quantity(3500, Unit::MilliVPerCell)),
        SettingWord::BatteryLand => encode(name, entry, &quantity(3300, Unit::MilliVPerCell)),
        SettingWord::VoltageRatio => encode_typed(name, entry, RATIO),
        SettingWord::BoardTurn | SettingWord::LevelRoll | SettingWord::LevelPitch => {
            encode(name, entry, &quantity(0, Unit::Deg))
        }
    };
    number.map_or(0.0, crate::board::value::Number::real)
}

/// The settings of bands: one function a band or rows, of which the first holds the arm switch.
fn of_bands(sheet: &Sheet) -> Vec<Definition> {
    let binding = &sheet.binding;
    let unbound = real(binding.channel_unbound);
    let closed = [real(binding.closed.0), real(binding.closed.1)];
    let (least, most) = (f64::from(binding.least.0), f64::from(binding.most.0));
    let band = |[channel, from, to]: [&SettingName; 3], armed: bool| {
        let at_first = if armed { ARM.map(f64::from) } else { [unbound, closed[0], closed[1]] };
        let (low, high) = (unbound.min(0.0), unbound.max(18.0));
        let end = |name: &SettingName, at_first: f64| {
            let limits = Definition::new(name.as_str(), kind(least.min(closed[1]), most), 0.0, least, most);
            let factory = if armed { at_first.clamp(least, most) } else { at_first };
            Definition { factory, step: f64::from(binding.granularity), besides: closed.to_vec(), ..limits }
        };
        let channel = Definition::new(channel.as_str(), kind(low, high), at_first[0], low, high);
        [channel, end(from, at_first[1]), end(to, at_first[2])]
    };
    match &binding.way {
        BindingLayout::Direct(bands) => bands
            .iter()
            .flat_map(|(function, names)| band([&names.channel, &names.from, &names.to], function.is_arm()))
            .collect(),
        BindingLayout::Rows { functions, free, rows } => {
            let codes: Vec<f64> = functions.values().chain([free]).map(|code| real(*code)).collect();
            let least = codes.iter().copied().fold(f64::MAX, f64::min);
            let most = codes.iter().copied().fold(f64::MIN, f64::max);
            let arm =
                functions.iter().find(|(function, _)| function.is_arm()).map_or(real(*free), |(_, code)| real(*code));
            let row = |(place, row): (usize, &sheet::BandNames)| {
                let factory = if place == 0 { arm } else { real(*free) };
                let function = row.function.iter().map(|name| {
                    let limits = Definition::new(name.as_str(), kind(least, most), factory, least, most);
                    Definition { only: codes.clone(), ..limits }
                });
                function.chain(band([&row.channel, &row.from, &row.to], place == 0)).collect::<Vec<_>>()
            };
            rows.iter().enumerate().flat_map(row).collect()
        }
    }
}

/// Where the bands stand.
pub fn bands(sheet: &Sheet) -> Vec<BandNames> {
    let known = |word: &str| Function::ALL.into_iter().find(|function| function.word() == word);
    let text = |name: &SettingName| name.as_str().to_owned();
    match &sheet.binding.way {
        BindingLayout::Direct(bands) => bands
            .iter()
            .filter_map(|(function, names)| {
                let of = BandOf::Function(known(&function.0)?);
                Some(BandNames { of, channel: text(&names.channel), from: text(&names.from), to: text(&names.to) })
            })
            .collect(),
        BindingLayout::Rows { functions, rows, .. } => {
            let codes: Vec<(f64, Function)> =
                functions.iter().filter_map(|(function, code)| Some((real(*code), known(&function.0)?))).collect();
            let names = |row: &sheet::BandNames| {
                let of = BandOf::Setting(text(row.function.as_ref()?), codes.clone());
                Some(BandNames { of, channel: text(&row.channel), from: text(&row.from), to: text(&row.to) })
            };
            rows.iter().filter_map(names).collect()
        }
    }
}

/// What the board takes its settings for.
pub fn roles(sheet: &Sheet) -> Roles {
    let amount = |word, base: f64| sheet.entry(word).map_or(Amount::fixed(base), amount_of);
    let is = |word, yes: &str| match sheet.entry(word) {
        Some(entry) => flag(entry, yes),
        None => Flag::Fixed(false),
    };
    let signal = sheet.entry(SettingWord::Signal).and_then(|entry| {
        let Form::Words(words) = &entry.form else { return None };
        let code = |signal: MotorSignal| Some((real(*words.get(signal.word())?), signal));
        Some((entry.name.as_str().to_owned(), MotorSignal::ALL.into_iter().filter_map(code).collect()))
    });
    let number = |name: Option<&SettingName>, fixed: f64| {
        name.map_or(Amount::fixed(fixed), |name| Amount::number(name.as_str()))
    };
    let numbered = (1_u8..).zip(&sheet.corners).enumerate();
    let reversed = |place: usize| {
        let name = sheet.reversal.as_ref().and_then(|reversal| reversal.names.get(place));
        name.map_or(Flag::Fixed(false), |name| Flag::Is(name.as_str().to_owned(), 1.0))
    };
    let wait = amount(SettingWord::LinkLossWait, 1_000_000.0);
    Roles {
        idle: amount(SettingWord::Idle, f64::from(IDLE.0)),
        spin_at_zero: is(SettingWord::ZeroThrottle, "spin"),
        throttle: match crate::plan::facts::throttle_channel(sheet, &BTreeMap::new()) {
            Some(fixed) => Amount::fixed(f64::from(fixed)),
            None => amount(SettingWord::ThrottleChannel, 3.0),
        },
        loss_cuts: is(SettingWord::LinkLossAction, "cut"),
        // In us like all times here; the board's wait is in ms.
        loss_wait: Amount { scale: wait.scale / 1000.0, base: wait.base / 1000.0, ..wait },
        volt_ratio: amount(SettingWord::VoltageRatio, RATIO.to_f64()),
        level: [amount(SettingWord::LevelRoll, 0.0), amount(SettingWord::LevelPitch, 0.0)],
        speeds: Flag::Fixed(sheet.speed_telemetry),
        signal,
        protocol: sheet.entry(SettingWord::ReceiverProtocol).map(amount_of),
        port: sheet.entry(SettingWord::ReceiverPort).map(amount_of),
        turn: amount(SettingWord::BoardTurn, 0.0),
        order: numbered.map(|(place, (at, _))| number(sheet.order.get(place), f64::from(at))).collect(),
        reversed: (0..sheet.corners.len()).map(reversed).collect(),
        reversed_by_motor: sheet.reversal.as_ref().is_some_and(|reversal| reversal.of == ReversalOf::Motor),
    }
}

fn flag(entry: &SettingEntry, yes: &str) -> Flag {
    match &entry.form {
        Form::Words(words) => {
            words.get(yes).map_or(Flag::Fixed(false), |number| Flag::Is(entry.name.as_str().to_owned(), real(*number)))
        }
        _ => Flag::Fixed(false),
    }
}

/// A number in the unit of its kind: us for pulses and times; a share of idle in us from 1000 on.
fn amount_of(entry: &SettingEntry) -> Amount {
    let number = Amount::number(entry.name.as_str());
    let (Form::Whole { unit, .. } | Form::Real { unit }) = &entry.form else { return number };
    let Ok(measure) = Measure::read(unit) else { return number };
    let (base, factor) = match measure.unit {
        Some(Unit::Ms) => (0.0, 1e3),
        Some(Unit::S) => (0.0, 1e6),
        Some(Unit::Min) => (0.0, 60e6),
        Some(Unit::Percent) => (1000.0, 10.0),
        _ => (0.0, 1.0),
    };
    Amount { base, scale: measure.step.to_f64() * factor, ..number }
}
