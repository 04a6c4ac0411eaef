//! Questions: in a frame of their own, unlike every other output.
//!
//! Promises: the facts of a motor question come from the very value that is executed; the recipe's
//! own words, which the core shows before it asks, never stand inside the frame, and its title can't pass for the mark
//! of a virtual board. Must not be here: what counts as an answer.

use super::Style;
use super::line::{Ink, ink};
use crate::language::characters::named;
use crate::report::gate;
use crate::report::words::{counted, time, wrap};
use crate::seam::ui::{About, MotorStep, Motors, Question, Reply, StartedBy};

const BAR: &str = "  ┃";
const NAME: usize = 15;

/// The facts of a motor step, as name and value, in the order in which they matter.
#[must_use]
pub fn motor_facts(step: &MotorStep) -> Vec<(&'static str, String)> {
    let motors = match &step.motors {
        Motors::All => "all of them turn".to_owned(),
        Motors::None if matches!(step.by, StartedBy::Change { .. } | StartedBy::WorkedSwitch) => {
            "none is meant to turn, but they could".to_owned()
        }
        Motors::None => "none can turn while the battery is out; were it in, all could".to_owned(),
        Motors::One(corner, _) => format!("only {} turns", gate::line(corner)),
    };
    let (by, stops) = match &step.by {
        StartedBy::Switch { switch, on, off } => {
            let switch = gate::line(&switch.0);
            if step.radio_off {
                (
                    format!("your switch {switch}: position {on} starts"),
                    "any key, by a disarm over the link; if this computer fails, the cable comes out or all programs \
                     are killed at once while the radio is off, only the plug stops them"
                        .to_owned(),
                )
            } else {
                (
                    format!("your switch {switch}: position {on} starts, position {off} stops"),
                    format!(
                        "any key, or switch {switch} to {off}; if this computer fails, the cable comes out or all programs are \
                         killed at once, only the switch and the plug stop them"
                    ),
                )
            }
        }
        StartedBy::Change { .. } => (
            "nobody: the board is changed with the battery in, and nothing should start".to_owned(),
            "Ctrl-C; then the plug".to_owned(),
        ),
        StartedBy::WorkedSwitch => (
            "a switch that you work: it may arm the craft, and only your word says that the battery is out".to_owned(),
            "any key; then the plug".to_owned(),
        ),
        StartedBy::Command => ("this computer; the board ends each start by itself".to_owned(), "any key".to_owned()),
    };
    let mut facts = vec![
        ("what for", gate::line(&step.purpose).into_owned()),
        ("highest pulse", step.pulse.to_string()),
        ("motors", motors),
        ("started by", by),
        ("look at", gate::line(&step.look_at).into_owned()),
        ("to stop", stops),
        ("emergency stop", "the battery plug; keep hands clear of the motors".to_owned()),
    ];
    if step.radio_off {
        let what = "switched off while the motors turn: YOUR SWITCH WILL NOT STOP THEM while it is off";
        facts.insert(4, ("the radio", what.to_owned()));
    }
    if !matches!(step.by, StartedBy::Change { .. } | StartedBy::WorkedSwitch) {
        facts.insert(2, ("longest time", format!("{} for one start, at most", time(step.bound()))));
        facts.insert(4, ("starts", format!("{} by this one answer", counted(step.starts.into(), "start"))));
    }
    facts
}

/// What is done with the keyboard.
fn reply(reply: &Reply) -> Vec<String> {
    match reply {
        Reply::Word(word) => {
            vec![format!("Type {} and press Enter to go on. Anything else means no.", gate::line(word))]
        }
        Reply::Choice(choices) => std::iter::once("Press one key:".to_owned())
            .chain(choices.iter().map(|(key, what)| format!("  {}  {}", key.escape_default(), gate::line(what))))
            .collect(),
        Reply::Volts => vec!["Type the volts, such as 7.92, and press Enter. Escape means no.".to_owned()],
        Reply::Name => vec!["Type the name and press Enter. Escape means no.".to_owned()],
        Reply::Enter => vec!["Press Enter to go on. Escape means no.".to_owned()],
    }
}

/// The facts of a motor step, from the very step that will be executed; then what else the core says.
fn facts(question: &Question) -> Vec<(&'static str, String)> {
    let mut facts = match &question.about {
        About::Motor(step) => motor_facts(step),
        _ => Vec::new(),
    };
    facts.extend(question.lines.iter().map(|line| ("", gate::line(line).into_owned())));
    facts
}

/// A question as lines, without what is typed.
pub(super) fn question(style: Style, question: &Question, width: usize) -> Vec<String> {
    if style.plain { linear(question) } else { framed(style, question, width) }
}

fn linear(question: &Question) -> Vec<String> {
    let mut lines = vec![format!("question about: {}", named(&question.craft))];
    if question.is_virtual {
        lines.push("VIRTUAL: this board is a virtual one".to_owned());
    }
    lines.push(format!("question: {}", gate::line(&question.title)));
    for (name, value) in facts(question) {
        lines.push(if name.is_empty() { value } else { format!("{name}: {value}") });
    }
    lines.extend(reply(&question.reply));
    lines
}

fn framed(style: Style, question: &Question, width: usize) -> Vec<String> {
    let width = width.clamp(40, 96);
    let mut lines = vec![String::new()];
    let marked = if question.is_virtual { "━━ VIRTUAL " } else { "" };
    let head = format!("  ┏━━ {} {marked}", named(&question.craft));
    let rest = "━".repeat(width.saturating_sub(head.chars().count()));
    lines.push(ink(style, Ink::Strong, &format!("{head}{rest}")));
    let bar = ink(style, Ink::Strong, BAR);
    let mut inside = |text: &str| lines.push(format!("{bar}  {text}").trim_end().to_owned());
    inside("");
    for line in wrap(&gate::line(&question.title), width - 6) {
        inside(&ink(style, Ink::Strong, &line));
    }
    inside("");
    let facts = facts(question);
    let column = if facts.iter().any(|(name, _)| !name.is_empty()) { NAME + 2 } else { 0 };
    for (name, value) in &facts {
        let column = if name.is_empty() { 0 } else { column };
        for (at, line) in wrap(value, width - 8 - column).into_iter().enumerate() {
            let name = if at == 0 { *name } else { "" };
            let padded = format!("{name:<column$}");
            inside(&format!("  {}{line}", ink(style, Ink::Quiet, &padded)));
        }
    }
    if !facts.is_empty() {
        inside("");
    }
    for line in reply(&question.reply) {
        // Choices stand in a column of their own and are not wrapped.
        inside(&line);
    }
    inside("");
    lines
}

/// The end of a question's frame.
pub(super) fn closed(style: Style, answered: bool) -> Vec<String> {
    let what = if answered { "answered" } else { "no" };
    if style.plain {
        return vec![format!("answer: {what}")];
    }
    vec![ink(style, Ink::Strong, &format!("  ┗━━ {what}")), String::new()]
}
