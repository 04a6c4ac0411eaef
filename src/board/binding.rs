//! Functions on switches: where one is bound now, and which settings would bind it elsewhere.
//!
//! Both ways of binding, direct and by rows, come out as [`BandChange`]s with a role for each
//! setting, so that a plan can order the writes safely. Must not be here: that order (see
//! `measure::band_order`), and where a band's ends belong (see `measure::bands`).

use super::sheet::{BandNames, BandPart, Binding, BindingLayout, Settings, Sheet};
use super::value::{Number, SettingName};
use crate::language::recipe::Function;
use crate::language::units::Pulse;
use crate::measure::frame::CHANNEL_NUMBERS;
use thiserror::Error;

/// A band in which a function is on: `from <= pulse < to` on a channel, however the board counts its ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct BoundNow {
    /// Channel from 1.
    pub channel: u32,
    /// Lower end, inside.
    pub from: Pulse,
    /// Upper end, outside.
    pub to: Pulse,
}

/// Board numbers of one band; `function` is 0 and means nothing where bands are direct.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "see `BandPart`")]
pub struct BandNumbers {
    pub function: i64,
    pub channel: i64,
    pub from: i64,
    pub to: i64,
}

impl BandNumbers {
    /// The number of one of its settings.
    #[must_use]
    pub fn of(&self, part: BandPart) -> i64 {
        match part {
            BandPart::Function => self.function,
            BandPart::Channel => self.channel,
            BandPart::From => self.from,
            BandPart::To => self.to,
        }
    }
}

/// One band: what its settings hold and what they are to hold.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BandChange {
    /// Its settings.
    pub names: BandNames,
    /// As read.
    pub now: BandNumbers,
    /// As wanted.
    pub then: BandNumbers,
}

impl BandChange {
    /// All settings of the band with the numbers that they are to hold, changed or not.
    pub fn settings(&self) -> impl Iterator<Item = (BandPart, &SettingName, Number)> {
        self.names.parts().map(|(part, name)| (part, name, Number::Whole(self.then.of(part))))
    }

    /// Whether nothing needs to be written.
    #[must_use]
    pub fn satisfied(&self) -> bool {
        self.now == self.then
    }
}

/// Why a function cannot be bound or its binding not be told.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[expect(missing_docs, reason = "the fields are the parts of the sentence above them")]
pub enum BindingError {
    /// The sheet has no such function.
    #[error("this board has no function `{function}`; it has {}", known.join(", "))]
    NoFunction { function: String, known: Vec<String> },
    /// A setting of the sheet's is not on the board.
    #[error(
        "the board does not have the setting {name}, which its sheet names for a switch: the sheet is for another board"
    )]
    Missing { name: SettingName },
    /// A number that cannot be what the sheet says.
    #[error("the setting {name} holds {found}, which cannot be a channel, a function or the end of a band")]
    Strange { name: SettingName, found: String },
    /// Nothing to bind to.
    #[error("`{function}` is to be bound to no position: unbind it instead")]
    NoBand { function: String },
    /// Several bands on a board with one for each function.
    #[error(
        "`{function}` would need {wanted} bands, but this board has one for each function: bind it to neighbouring positions"
    )]
    OneBand { function: String, wanted: usize },
    /// No row is left.
    #[error(
        "`{function}` needs {wanted} rows, but only {left} of this board's {all} are free or its own: unbind another function"
    )]
    NoRow { function: String, wanted: usize, left: usize, all: usize },
    /// A channel that no receiver has.
    #[error("channel {channel} is not a channel from 1 to 18")]
    NoChannel { channel: u32 },
    /// Ends upside down, out of the board's limits or off its steps.
    #[error("a band from {from} to {to} cannot be set: ends are {least} to {most} in steps of {granularity} us")]
    BadEnds { from: Pulse, to: Pulse, least: Pulse, most: Pulse, granularity: i32 },
    /// Two bands of one function that meet.
    #[error("the bands {first} to {first_end} and {second} to {second_end} of one function overlap")]
    Overlap { first: Pulse, first_end: Pulse, second: Pulse, second_end: Pulse },
}

fn whole(settings: &Settings, name: &SettingName) -> Result<i64, BindingError> {
    let number = settings.get(name).ok_or_else(|| BindingError::Missing { name: name.clone() })?;
    number.whole().ok_or_else(|| BindingError::Strange { name: name.clone(), found: number.to_string() })
}

impl BandNames {
    fn read(&self, settings: &Settings) -> Result<BandNumbers, BindingError> {
        Ok(BandNumbers {
            function: self.function.as_ref().map_or(Ok(0), |name| whole(settings, name))?,
            channel: whole(settings, &self.channel)?,
            from: whole(settings, &self.from)?,
            to: whole(settings, &self.to)?,
        })
    }

    /// The band in which this is on; `None` where it is on nowhere.
    fn band(&self, binding: &Binding, now: BandNumbers) -> Result<Option<BoundNow>, BindingError> {
        let (from, to) = binding.half_open((now.from, now.to));
        if now.channel == binding.channel_unbound || (now.from, now.to) == binding.closed {
            return Ok(None);
        }
        let strange =
            |name: &SettingName, found: i64| BindingError::Strange { name: name.clone(), found: found.to_string() };
        if from >= to {
            let ends = [(&self.from, now.from), (&self.to, now.to)];
            return match ends.into_iter().find(|(_, end)| !binding.is_end(*end)) {
                Some((name, end)) => Err(strange(name, end)),
                None => Ok(None),
            };
        }
        let channel = u32::try_from(now.channel).ok().filter(|channel| *channel > 0);
        let channel = channel.ok_or_else(|| strange(&self.channel, now.channel))?;
        let from = i32::try_from(from).map_err(|_| strange(&self.from, now.from))?;
        let to = i32::try_from(to).map_err(|_| strange(&self.to, now.to))?;
        Ok(Some(BoundNow { channel, from: Pulse(from), to: Pulse(to) }))
    }
}

/// A function's number, and all rows as read.
type Rows = (i64, Vec<(BandNames, BandNumbers)>);

fn rows_of(
    function: &Function,
    (functions, rows): (&std::collections::BTreeMap<Function, i64>, &[BandNames]),
    settings: &Settings,
) -> Result<Rows, BindingError> {
    let number = functions.get(function).copied().ok_or_else(|| no_function(function, functions.keys()))?;
    let read = |row: &BandNames| Ok((row.clone(), row.read(settings)?));
    Ok((number, rows.iter().map(read).collect::<Result<_, _>>()?))
}

fn no_function<'f>(function: &Function, known: impl Iterator<Item = &'f Function>) -> BindingError {
    BindingError::NoFunction { function: function.0.clone(), known: known.map(|f| f.0.clone()).collect() }
}

/// Functions that the sheet knows, sorted.
#[must_use]
pub fn functions(sheet: &Sheet) -> Vec<&Function> {
    match &sheet.binding.way {
        BindingLayout::Direct(bands) => bands.keys().collect(),
        BindingLayout::Rows { functions, .. } => functions.keys().collect(),
    }
}

/// Every setting in which a function's bands can stand; with rows, all of them.
#[must_use]
pub fn settings_of(sheet: &Sheet, function: &Function) -> Vec<SettingName> {
    match &sheet.binding.way {
        BindingLayout::Direct(bands) => bands.get(function).into_iter().flat_map(BandNames::names).cloned().collect(),
        BindingLayout::Rows { rows, .. } => rows.iter().flat_map(BandNames::names).cloned().collect(),
    }
}

/// The settings of the bands that are a function's own now.
#[must_use]
pub fn own_settings(sheet: &Sheet, settings: &Settings, function: &Function) -> Vec<SettingName> {
    let BindingLayout::Rows { functions, rows, .. } = &sheet.binding.way else { return settings_of(sheet, function) };
    let Ok((number, rows)) = rows_of(function, (functions, rows), settings) else { return Vec::new() };
    let own = rows.iter().filter(|(_, now)| now.function == number);
    own.flat_map(|(band, _)| band.names()).cloned().collect()
}

/// Whether a setting is part of a band, of whichever function.
#[must_use]
pub fn is_band_setting(sheet: &Sheet, name: &SettingName) -> bool {
    sheet.binding.way.bands().any(|band| band.part_of(name).is_some())
}

/// The bands in which a function is on now, ascending; empty where it is bound nowhere.
///
/// # Errors
/// A function that the sheet does not have, or settings that are missing or hold what cannot be.
pub fn bound_now(sheet: &Sheet, settings: &Settings, function: &Function) -> Result<Vec<BoundNow>, BindingError> {
    let held = held(sheet, settings, function)?;
    let mut bands = Vec::new();
    for (names, now) in held {
        bands.extend(names.band(&sheet.binding, now)?);
    }
    bands.sort_unstable();
    Ok(bands)
}

/// The settings that belong to a function now: its own three, or the rows that name it.
fn held(
    sheet: &Sheet,
    settings: &Settings,
    function: &Function,
) -> Result<Vec<(BandNames, BandNumbers)>, BindingError> {
    match &sheet.binding.way {
        BindingLayout::Direct(bands) => {
            let band = bands.get(function).ok_or_else(|| no_function(function, bands.keys()))?;
            Ok(vec![(band.clone(), band.read(settings)?)])
        }
        BindingLayout::Rows { functions, rows, .. } => {
            let (number, rows) = rows_of(function, (functions, rows), settings)?;
            Ok(rows.into_iter().filter(|(_, now)| now.function == number).collect())
        }
    }
}

/// What would bind a function to a channel's bands, and nowhere else.
///
/// With rows, those already in use by the function are used first (one that holds a wanted band
/// keeps it), then free ones; rows that are no longer needed are freed.
///
/// # Errors
/// Bands that the board cannot hold, a full table, or what [`bound_now`] says.
pub fn bind(
    sheet: &Sheet,
    settings: &Settings,
    function: &Function,
    channel: u32,
    bands: &[(Pulse, Pulse)],
) -> Result<Vec<BandChange>, BindingError> {
    let binding = &sheet.binding;
    let mut wanted = judged(binding, function, channel, bands)?;
    let numbers = |number: i64, (from, to): (Pulse, Pulse)| BandNumbers {
        function: number,
        channel: channel.into(),
        from: from.0.into(),
        to: to.0.into(),
    };
    match &binding.way {
        BindingLayout::Direct(_) => {
            let &[band] = wanted.as_slice() else {
                return Err(BindingError::OneBand { function: function.0.clone(), wanted: wanted.len() });
            };
            let held = held(sheet, settings, function)?;
            Ok(held.into_iter().map(|(names, now)| BandChange { names, now, then: numbers(0, band) }).collect())
        }
        BindingLayout::Rows { functions, free, rows } => {
            let (number, all) = rows_of(function, (functions, rows), settings)?;
            let count = all.len();
            let (own, others): (Vec<_>, Vec<_>) = all.into_iter().partition(|(_, now)| now.function == number);
            let open: Vec<_> = others.into_iter().filter(|(_, now)| now.function == *free).collect();
            let left = own.len() + open.len();
            if wanted.len() > left {
                let function = function.0.clone();
                return Err(BindingError::NoRow { function, wanted: wanted.len(), left, all: count });
            }
            let mut changes = Vec::new();
            let mut spare = Vec::new();
            for (names, now) in own {
                match wanted.iter().position(|band| numbers(number, *band) == now) {
                    Some(at) => {
                        wanted.remove(at);
                        changes.push(BandChange { names, now, then: now });
                    }
                    None => spare.push((names, now)),
                }
            }
            let mut wanted = wanted.into_iter();
            for (names, now) in spare {
                let then = wanted.next().map_or_else(|| off(binding, *free), |band| numbers(number, band));
                changes.push(BandChange { names, now, then });
            }
            let fresh = open.into_iter().zip(wanted);
            changes.extend(fresh.map(|((names, now), band)| BandChange { names, now, then: numbers(number, band) }));
            Ok(changes)
        }
    }
}

/// What would bind a function nowhere: channel unbound and ends closed, rows freed.
///
/// # Errors
/// As for [`bound_now`].
pub fn unbind(sheet: &Sheet, settings: &Settings, function: &Function) -> Result<Vec<BandChange>, BindingError> {
    let free = match sheet.binding.way {
        BindingLayout::Direct(_) => 0,
        BindingLayout::Rows { free, .. } => free,
    };
    let then = off(&sheet.binding, free);
    Ok(held(sheet, settings, function)?.into_iter().map(|(names, now)| BandChange { names, now, then }).collect())
}

fn off(binding: &Binding, free: i64) -> BandNumbers {
    BandNumbers { function: free, channel: binding.channel_unbound, from: binding.closed.0, to: binding.closed.1 }
}

/// The bands in ascending order, each of them one that the board can hold.
fn judged(
    binding: &Binding,
    function: &Function,
    channel: u32,
    bands: &[(Pulse, Pulse)],
) -> Result<Vec<(Pulse, Pulse)>, BindingError> {
    if !CHANNEL_NUMBERS.contains(&channel.into()) {
        return Err(BindingError::NoChannel { channel });
    }
    if bands.is_empty() {
        return Err(BindingError::NoBand { function: function.0.clone() });
    }
    let Binding { least, most, granularity, .. } = *binding;
    let fits = |end: Pulse| (least..=most).contains(&end) && (end.0 - least.0) % granularity == 0;
    for &(from, to) in bands {
        if from >= to || !fits(from) || !fits(to) {
            return Err(BindingError::BadEnds { from, to, least, most, granularity });
        }
    }
    let mut bands = bands.to_vec();
    bands.sort_unstable();
    for pair in bands.windows(2) {
        if let &[(first, first_end), (second, second_end)] = pair
            && second < first_end
        {
            return Err(BindingError::Overlap { first, first_end, second, second_end });
        }
    }
    Ok(bands)
}
