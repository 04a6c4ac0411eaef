//! The console of the Finch C: verbs and words of its own.

use super::dialect::{Dialect, Exchange, Form, IdForm, Verb};
use crate::virtual_board::kind::{FIRMWARE, version};

/// How each line is said, and what it is for.
const HELP: [(&str, &str); 16] = [
    ("show NAME", "the value of a setting"),
    ("put VALUE into NAME", "change a setting"),
    ("list", "all settings, a page at a time"),
    ("keep", "keep the settings over a restart"),
    ("again", "restart the board"),
    ("who", "id, kind and firmware"),
    ("armed", "whether it is armed"),
    ("channels", "what the receiver gives, us"),
    ("outputs", "what the motors are told, us"),
    ("tilt", "how it stands, degrees"),
    ("pack", "the battery"),
    ("speeds", "motor speeds, rpm"),
    ("spin MOTOR PULSE MS", "run one motor for a while"),
    ("rest", "stop such a run and disarm"),
    ("leave", "close the console; two ends of line open it"),
    ("help", "this list"),
];

/// For what, the line, its answer, the other answer, and places behind a point.
type Line = (Verb, &'static str, &'static str, Option<&'static str>, usize);

const LINES: [Line; 14] = [
    (Verb::Read, "show {name}", "{value} for {name}", None, 0),
    (Verb::Write, "put {value} into {name}", "{value} for {name}", None, 0),
    (Verb::List, "list", "{value} for {name}", Some("{count} settings"), 0),
    (Verb::Store, "keep", "kept", None, 0),
    (Verb::Restart, "again", "going down", None, 0),
    (Verb::Identity, "who", "{id}, {kind}, {firmware}", None, 0),
    (Verb::Armed, "armed", "armed: yes", Some("armed: no"), 0),
    (Verb::Channels, "channels", "channels {pulses}", Some("channels none"), 0),
    (Verb::Outputs, "outputs", "outputs {pulses}", None, 0),
    (Verb::Attitude, "tilt", "tilt roll {roll} pitch {pitch} yaw {yaw}", None, 2),
    (Verb::Power, "pack", "pack {volts} V {amps} A", None, 2),
    (Verb::Speeds, "speeds", "speeds {rpm}", None, 0),
    (Verb::RunMotor, "spin {motor} {pulse} {ms}", "spinning {motor} at {pulse} us for {ms} ms", None, 0),
    (Verb::Stop, "rest", "resting", None, 0),
];

/// See the module.
pub fn finch_c(name: &str) -> Dialect {
    let exchange = |(verb, asks, says, other, decimals): Line| Exchange {
        verb,
        asks: Form::of(asks),
        says: Form::of(says),
        other: other.map(Form::of),
        decimals,
    };
    Dialect {
        prompt: "finch> ".to_owned(),
        echo: true,
        interrupt: Some(3),
        more: Some(("-- more: space --".to_owned(), b' ')),
        banner: Some(format!("{name} {}", version(FIRMWARE))),
        note: Some(Form::of("* {text}")),
        refusal: Form::of("no: {why}"),
        leave: Some("leave".to_owned()),
        exchanges: LINES.into_iter().map(exchange).collect(),
        id: IdForm { digits: 16, capitals: false },
        help: &HELP,
    }
}
