//! What each statement gives which value, so that two values for one thing are seen.
//!
//! Promises: equal values compare equal however they were written (`4 kHz`, `4000 Hz`).
//! Must not be here: whether a value is allowed.

use crate::language::recipe::{Idle, OnLoss, Part, Setting, Statement, StatementKind, Stick, Value, ZeroThrottle};
use crate::language::span::Span;
use crate::language::units::{Quantity, Unit, time};

/// One thing with a value.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Assigned<'r> {
    /// Which thing, in words; equal for the same thing.
    pub thing: String,
    /// Its value, in one spelling.
    pub value: String,
    /// Where the value stands.
    pub place: &'r Span,
}

/// Everything that a statement gives a value.
#[must_use]
pub fn assigned(statement: &Statement) -> Vec<Assigned<'_>> {
    let one = |thing: String, value: String, part: Part| Assigned { thing, value, place: statement.part(part) };
    let word = |name: &str, value: String| vec![one(name.to_owned(), value, Part::Value)];
    match &statement.what {
        StatementKind::Receiver { protocol, port } => vec![
            one("receiver-protocol".to_owned(), protocol.clone(), Part::Subject),
            one("receiver-port".to_owned(), port.to_string(), Part::Value),
        ],
        StatementKind::Channels(order) => {
            let words: Vec<&str> = order.iter().map(|stick| stick_word(*stick)).collect();
            word("the order of the channels", words.join(", "))
        }
        StatementKind::DeclareSwitch { switch, channel, rests, on_loss } => {
            let name = &switch.0;
            let pulses: Vec<String> = rests.iter().map(|rest| rest.0.to_string()).collect();
            let mut all = vec![
                one(format!("the channel of switch {name}"), channel.to_string(), Part::Channel),
                one(format!("the rest pulses of switch {name}"), pulses.join(", "), Part::Rests),
                one(format!("the count of positions of switch {name}"), rests.len().to_string(), Part::Rests),
            ];
            if let Some(loss) = on_loss {
                all.push(one(format!("what switch {name} does on link loss"), loss_words(*loss), Part::Loss));
            }
            all
        }
        StatementKind::FindSwitch { switch, positions: Some(count), .. } => {
            vec![one(format!("the count of positions of switch {}", switch.0), count.to_string(), Part::Positions)]
        }
        StatementKind::Bind { function, switch, positions } => {
            let list: Vec<String> = positions.iter().map(u32::to_string).collect();
            let value = format!("on switch {} in {}", switch.0, list.join(", "));
            vec![one(format!("the place of {}", function.0), value, Part::Function)]
        }
        StatementKind::Unbind(function) => {
            vec![one(format!("the place of {}", function.0), "on no switch".to_owned(), Part::Function)]
        }
        StatementKind::AtZeroThrottle(ZeroThrottle::Spin) => word("zero-throttle", "spin".to_owned()),
        StatementKind::AtZeroThrottle(ZeroThrottle::Rest) => word("zero-throttle", "rest".to_owned()),
        StatementKind::IdleAt(Idle::Pulse(pulse)) => word("idle", pulse.to_string()),
        StatementKind::IdleAt(Idle::Percent(share)) => word("idle", share.to_string()),
        StatementKind::IdleSearch(search) => {
            let (limit, margin) = (search.limit(), search.margin());
            let value = format!(
                "searched from {} in steps of {} up to {limit}, {} starts of {}, then {margin}",
                search.start,
                search.step,
                search.start_count(),
                time(search.dwell_time())
            );
            vec![one("idle".to_owned(), value, Part::Subject)]
        }
        StatementKind::Signal { signal, rate } => {
            let mut all = word("signal", signal.word().to_owned());
            all.extend(rate.map(|rate| one("loop-rate".to_owned(), rate.to_string(), Part::Rate)));
            all
        }
        StatementKind::BoardTurned(angle) => word("board-turn", angle.to_string()),
        StatementKind::Failsafe(wait) => word("link-loss-wait", time(*wait)),
        StatementKind::Battery { cells, warn, land, .. } => vec![
            one("battery-cells".to_owned(), cells.to_string(), Part::Cells),
            one("battery-warn".to_owned(), warn.to_string(), Part::Warn),
            one("battery-land".to_owned(), land.to_string(), Part::Land),
        ],
        StatementKind::Set { setting, value } => word(&setting_words(setting), value_words(setting, value)),
        _ => Vec::new(),
    }
}

/// A setting's name as [`Assigned::thing`] has it.
#[must_use]
pub fn setting_words(setting: &Setting) -> String {
    match setting {
        Setting::Word(word) => word.clone(),
        Setting::Raw(name) => format!("\"{name}\""),
    }
}

/// A value in one spelling; a bare number for `idle` is a pulse width.
#[must_use]
pub fn value_words(setting: &Setting, value: &Value) -> String {
    match value {
        Value::Word(word) => word.clone(),
        Value::Number(number) if matches!(setting, Setting::Word(word) if word == "idle") => format!("{number} us"),
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

/// The word of a stick.
#[must_use]
pub fn stick_word(stick: Stick) -> &'static str {
    match stick {
        Stick::Roll => "roll",
        Stick::Pitch => "pitch",
        Stick::Throttle => "throttle",
        Stick::Yaw => "yaw",
    }
}
