//! What each statement gives which value, so that two values for one thing are seen.
//!
//! Promises: equal values compare equal however they were written (`4 kHz`, `4000 Hz`).
//! Must not be here: whether a value is allowed.

use crate::language::recipe::{Function, OnLoss, Part, Setting, Statement, StatementKind, Switch, Value};
use crate::language::sets::sets;
use crate::language::setting_word::SettingWord;
use crate::language::span::Span;
use crate::language::units::{Quantity, Unit, time};
use std::fmt;

/// A thing that has one value in a whole recipe.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Thing {
    /// A setting, by its word or the board's own name.
    Setting(Setting),
    /// Which channel is which stick.
    ChannelOrder,
    /// A switch's channel.
    Channel(Switch),
    /// Where a switch rests.
    Rests(Switch),
    /// How many positions a switch has.
    Positions(Switch),
    /// Whether a switch springs back to position 0.
    SpringsBack(Switch),
    /// What a switch's channel does on link loss.
    OnLoss(Switch),
    /// Where a function is bound.
    Place(Function),
}

impl Thing {
    fn word(word: SettingWord) -> Self {
        Self::Setting(Setting::Word(word.to_string()))
    }
}

impl fmt::Display for Thing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Setting(Setting::Word(word)) => f.write_str(word),
            Self::Setting(Setting::Raw(name)) => write!(f, "\"{name}\""),
            Self::ChannelOrder => f.write_str("the order of the channels"),
            Self::Channel(switch) => write!(f, "the channel of switch {}", switch.0),
            Self::Rests(switch) => write!(f, "the rest pulses of switch {}", switch.0),
            Self::Positions(switch) => write!(f, "the count of positions of switch {}", switch.0),
            Self::SpringsBack(switch) => write!(f, "whether switch {} springs back", switch.0),
            Self::OnLoss(switch) => write!(f, "what switch {} does on link loss", switch.0),
            Self::Place(function) => write!(f, "the place of {}", function.0),
        }
    }
}

/// One thing with a value.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Assigned<'r> {
    /// Which thing.
    pub thing: Thing,
    /// Its value, in one spelling.
    pub value: String,
    /// Whether the bench finds the value, and `value` says how.
    pub searched: bool,
    /// Where the value stands.
    pub place: &'r Span,
}

/// Everything that a statement gives a value.
#[must_use]
pub fn assigned(statement: &Statement) -> Vec<Assigned<'_>> {
    let one = |thing: Thing, value: String, part: Part| Assigned {
        thing,
        value,
        searched: matches!(statement.what, StatementKind::IdleSearch(_)),
        place: statement.part(part),
    };
    let springs_back = |switch: &Switch, momentary: bool| {
        let value = if momentary { "springs back" } else { "stays where it is put" };
        one(Thing::SpringsBack(switch.clone()), value.to_owned(), Part::Switch)
    };
    match &statement.what {
        StatementKind::Channels(order) => {
            let words: Vec<&str> = order.iter().map(|stick| stick.word()).collect();
            vec![one(Thing::ChannelOrder, words.join(", "), Part::Value)]
        }
        StatementKind::DeclareSwitch { switch, channel, rests, on_loss, momentary } => {
            let pulses: Vec<String> = rests.iter().map(|rest| rest.0.to_string()).collect();
            let mut all = vec![
                one(Thing::Channel(switch.clone()), channel.to_string(), Part::Channel),
                one(Thing::Rests(switch.clone()), pulses.join(", "), Part::Rests),
                one(Thing::Positions(switch.clone()), rests.len().to_string(), Part::Rests),
            ];
            all.push(springs_back(switch, *momentary));
            if let Some(loss) = on_loss {
                all.push(one(Thing::OnLoss(switch.clone()), loss_words(*loss), Part::Loss));
            }
            all
        }
        StatementKind::FindSwitch { switch, positions, momentary, .. } => {
            let counted =
                positions.map(|count| one(Thing::Positions(switch.clone()), count.to_string(), Part::Positions));
            counted.into_iter().chain(momentary.then(|| springs_back(switch, true))).collect()
        }
        StatementKind::Bind { function, switch, positions } => {
            let list: Vec<String> = positions.iter().map(u32::to_string).collect();
            let value = format!("on switch {} in {}", switch.0, list.join(", "));
            vec![one(Thing::Place(function.clone()), value, Part::Function)]
        }
        StatementKind::Unbind(function) => {
            vec![one(Thing::Place(function.clone()), "on no switch".to_owned(), Part::Function)]
        }
        StatementKind::IdleSearch(search) => {
            let (limit, margin) = (search.limit(), search.margin());
            let value = format!(
                "searched from {} in steps of {} up to {limit}, {} starts of {}, then {margin}",
                search.start,
                search.step,
                search.start_count(),
                time(search.dwell_time())
            );
            vec![one(Thing::word(SettingWord::Idle), value, Part::Subject)]
        }
        StatementKind::Set { setting, value } => {
            vec![one(Thing::Setting(setting.clone()), value_words(setting, value), Part::Value)]
        }
        what => sets(what).into_iter().map(|set| one(Thing::word(set.word), set.to.to_string(), set.part)).collect(),
    }
}

/// A value in one spelling; a bare number for `idle` is a pulse width.
#[must_use]
pub fn value_words(setting: &Setting, value: &Value) -> String {
    match value {
        Value::Word(word) => word.clone(),
        Value::Number(number) if matches!(setting, Setting::Word(word) if word == SettingWord::Idle.word()) => {
            format!("{number} us")
        }
        Value::Number(number) => number.to_string(),
        Value::Quantity(quantity) => quantity_words(*quantity),
    }
}

fn quantity_words(quantity: Quantity) -> String {
    let typed = match quantity.unit {
        Some(Unit::Us | Unit::Ms) => quantity.pulse().map(|pulse| pulse.to_string()),
        Some(Unit::S | Unit::Min) => quantity.duration().map(time),
        Some(Unit::Hz | Unit::KHz) => quantity.frequency().map(|rate| rate.to_string()),
        Some(Unit::V | Unit::MilliV) => quantity.voltage().map(|volts| volts.to_string()),
        Some(Unit::VPerCell | Unit::MilliVPerCell) => quantity.voltage_per_cell().map(|volts| volts.to_string()),
        Some(Unit::A | Unit::MilliA) => quantity.current().map(|current| current.to_string()),
        _ => Ok(quantity.to_string()),
    };
    typed.unwrap_or_else(|_| quantity.to_string())
}

fn loss_words(loss: OnLoss) -> String {
    match loss {
        OnLoss::Rests(pulse) => pulse.to_string(),
        OnLoss::Holds => "hold".to_owned(),
        OnLoss::Flagged => "flagged".to_owned(),
    }
}
