//! Questions: in a frame of their own, unlike every other output.
//!
//! Promises: the facts of a motor question come from the very value that is executed, and each of them stands there also
//! where it is asked again; the recipe's own words, which the core shows before it asks, never stand inside the frame, and
//! its title can't pass for the mark of a virtual board. Must not be here: what counts as an answer.

use super::Style;
use super::again::{self, again};
use super::line::{Ink, ink};
use crate::language::characters::named;
use crate::plan::titles::count;
use crate::report::gate;
use crate::report::words::{at_most, columns, fit, wrap};
use crate::seam::ui::{About, MotorStep, Motors, Question, Reply, StartedBy};

const BAR: &str = "  ┃";
const FOOT: &str = "  ┗━";
/// Behind it stands what is typed.
const AT: &str = " > ";
const NAME: usize = 14;
/// Said in every motor question.
const HANDS_CLEAR: &str = "keep hands clear of the motors";

/// The facts of a motor step, as name and value, in the order in which they matter.
#[must_use]
pub fn motor_facts(step: &MotorStep) -> Vec<(&'static str, String)> {
    let motors = match &step.motors {
        Motors::All if matches!(step.by, StartedBy::Sound { .. }) => {
            "all of them sound, and may twitch; none is meant to turn".to_owned()
        }
        Motors::All => "all of them turn".to_owned(),
        Motors::None if matches!(step.by, StartedBy::Change { .. } | StartedBy::WorkedSwitch) => {
            "none is meant to turn, but they could".to_owned()
        }
        Motors::None if step.on_usb => "none as the battery is out, or all, if USB turns them".to_owned(),
        Motors::None => "none while the battery is out; were it in, all could".to_owned(),
        Motors::One(corner, _) => format!("only {} turns", gate::line(corner)),
    };
    let (plug, only) = if step.cable_out() {
        ("the battery plug, and nothing else: one hand is at it", "the plug")
    } else if step.on_usb {
        ("the USB cable, and the battery plug if it is in", "the USB cable and the plug")
    } else {
        ("the battery plug", "the plug")
    };
    let (by, stops) = match &step.by {
        StartedBy::Switch { switch, on, off } => {
            let switch = gate::line(&switch.0);
            if step.radio_off() {
                (
                    format!("your switch {switch}: position {on} starts"),
                    format!(
                        "any key: a disarm over the link; computer off, cable out or all programs killed while the radio \
                         is off: only {only}"
                    ),
                )
            } else if step.on_usb {
                (
                    format!("your switch {switch}: position {on} starts, position {off} stops"),
                    format!(
                        "any key, or switch {switch} to {off}; computer off or all programs killed at once: only the switch, \
                         the USB cable and the plug stop them"
                    ),
                )
            } else {
                (
                    format!("your switch {switch}: position {on} starts, position {off} stops"),
                    format!(
                        "any key, or switch {switch} to {off}; computer off, cable out or all programs killed at once: \
                         only switch and plug stop them"
                    ),
                )
            }
        }
        StartedBy::Sound { switch, on, off } => {
            let switch = gate::line(&switch.0);
            (
                format!("your switch {switch}: in position {on} they sound, in position {off} they do not"),
                format!("switch {switch} to {off}; a key disarms, which ends what turns and may not end a sound"),
            )
        }
        StartedBy::Change { .. } => (
            "nobody: the board is changed while its motors may have power, and nothing should start".to_owned(),
            format!("Ctrl-C; then {only}"),
        ),
        StartedBy::WorkedSwitch => (
            "a switch that you work: it may arm the craft, and only your word says that the battery is out".to_owned(),
            format!("any key; then {only}"),
        ),
        StartedBy::Command => {
            let ends = match step.test {
                Some(_) => "the board is to end the start by itself; that is what is tried",
                None => "the board ends each start by itself",
            };
            let key = if step.cable_out() { "any key, while the cable is in; then only the plug" } else { "any key" };
            (format!("this computer; {ends}"), key.to_owned())
        }
    };
    let mut facts = vec![
        ("what for", gate::line(&step.purpose).into_owned()),
        ("highest pulse", step.pulse.to_string()),
        ("motors", motors),
        ("started by", by),
        ("look at", gate::line(&step.look_at).into_owned()),
        ("to stop", stops),
        ("emergency stop", format!("{plug}; {HANDS_CLEAR}")),
    ];
    if step.radio_off() {
        let what = "switched off while the motors turn: YOUR SWITCH WILL NOT STOP THEM while it is off";
        facts.insert(4, ("the radio", what.to_owned()));
    }
    if step.cable_out() {
        let what = "pulled out by you while it turns, of a board that the battery feeds as well: FROM THEN ON NOTHING CAN STOP \
                    THE MOTOR but its own end and the battery plug";
        facts.insert(4, ("the cable", what.to_owned()));
    }
    if !matches!(step.by, StartedBy::Change { .. } | StartedBy::WorkedSwitch) {
        let starts = count(step.starts, "start");
        let to_end = step.bound().saturating_sub(step.longest);
        let of_it = if to_end.is_zero() { String::new() } else { format!(", {} of it to end it", at_most(to_end)) };
        let longest = format!("{} a start{of_it}; {starts} by this answer", at_most(step.bound()));
        facts.insert(2, ("longest time", longest));
    }
    facts
}

/// What is done with the keyboard, as one sentence, where it is one.
fn sentence(style: Style, reply: &Reply) -> Option<String> {
    match reply {
        Reply::Word(word) => Some(type_it(&ink(style, Ink::Asked, &gate::line(word)))),
        Reply::Choice(choices) => {
            let one = |(key, what): &(char, String)| {
                format!("{}  {}", ink(style, Ink::Asked, &key.escape_default().to_string()), gate::line(what))
            };
            let row = choices.iter().map(one).collect::<Vec<_>>().join("    ");
            (!style.plain).then(|| format!("Press one key:  {row}"))
        }
        Reply::Volts => Some("Type the volts, such as 7.92, and press Enter. Escape means no".to_owned()),
        Reply::Name => Some("Type the name and press Enter. Escape means no".to_owned()),
        Reply::Enter => Some("Press Enter to go on. Escape means no".to_owned()),
    }
}

fn type_it(word: &str) -> String {
    format!("Type {word} and press Enter. No, or Escape, ends it")
}

/// Columns of what is typed as an answer, as far as that is known.
fn typed(reply: &Reply) -> usize {
    match reply {
        Reply::Word(word) => columns(&gate::line(word)),
        Reply::Choice(_) => 1,
        Reply::Volts | Reply::Name => NAME,
        Reply::Enter => 0,
    }
}

/// The same sentence, where it and what is typed have room in the frame's last row.
fn in_last_row(style: Style, reply: &Reply, width: usize) -> Option<String> {
    let bare = sentence(Style { colour: false, ..style }, reply).filter(|_| !style.plain)?;
    let needs = columns(FOOT) + 1 + columns(&bare) + columns(AT) + typed(reply);
    // The last column stays free, so that no terminal breaks the row.
    if needs < width { sentence(style, reply) } else { None }
}

/// What stands before the typed answer: the frame's last row.
pub(super) fn prompt(style: Style, question: &Question, width: usize) -> String {
    if style.plain {
        return "your answer: ".to_owned();
    }
    let said = in_last_row(style, &question.reply, clamped(width)).map(|said| format!(" {said}"));
    format!("{FOOT}{}{AT}", said.unwrap_or_default())
}

/// What is done with the keyboard, in rows of this width, where the last row has no room for it.
fn reply(style: Style, reply: &Reply, width: usize) -> Vec<String> {
    match reply {
        Reply::Word(word) => word_rows(style, &gate::line(word), width),
        Reply::Choice(choices) => {
            let below = |(key, what): &(char, String)| {
                let key = ink(style, Ink::Asked, &key.escape_default().to_string());
                let rows = wrap(&gate::line(what), width.saturating_sub(5)).into_iter().enumerate();
                let rows =
                    rows.map(|(at, row)| if at == 0 { format!("  {key}  {row}") } else { format!("     {row}") });
                rows.collect::<Vec<String>>()
            };
            std::iter::once("Press one key:".to_owned()).chain(choices.iter().flat_map(below)).collect()
        }
        Reply::Volts | Reply::Name | Reply::Enter => {
            sentence(style, reply).map_or_else(Vec::new, |said| wrap(&format!("{said}."), width))
        }
    }
}

/// A word that is to be typed, which stands out and is never broken.
fn word_rows(style: Style, word: &str, width: usize) -> Vec<String> {
    const HELD: char = '\u{0}';
    let held = word.replace(' ', &HELD.to_string());
    let rows = wrap(&format!("{}.", type_it(&held)), width);
    rows.into_iter().map(|row| row.replacen(&held, &ink(style, Ink::Asked, word), 1)).collect()
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
    if style.plain { linear(style, question) } else { framed(style, question, width) }
}

fn linear(style: Style, question: &Question) -> Vec<String> {
    let mut lines = vec![format!("question about: {}", named(&question.craft))];
    if question.is_virtual {
        lines.push("VIRTUAL: this board is a virtual one".to_owned());
    }
    lines.push(format!("question: {}", gate::line(&question.title)));
    for (name, value) in facts(question) {
        lines.push(if name.is_empty() { value } else { format!("{name}: {value}") });
    }
    lines.extend(reply(style, &question.reply, usize::MAX));
    lines
}

fn framed(style: Style, question: &Question, width: usize) -> Vec<String> {
    let width = clamped(width);
    let mut lines = Vec::new();
    let marked = if question.is_virtual { "━━ VIRTUAL " } else { "" };
    let head = format!("  ┏━━ {} {marked}", fit(&named(&question.craft), width / 2));
    let rest = "━".repeat(width.saturating_sub(columns(&head)));
    lines.push(ink(style, Ink::Strong, &format!("{head}{rest}")));
    let bar = ink(style, Ink::Strong, BAR);
    let mut inside = |text: &str| lines.push(format!("{bar}  {text}").trim_end().to_owned());
    let room = width - columns(BAR) - 2;
    let step = if let About::Motor(step) = &question.about { Some(step) } else { None };
    let purpose = step.map_or_else(String::new, |step| format!(": {}", gate::line(&step.purpose)));
    let title = format!("{}{purpose}", gate::line(&question.title));
    let rows = |text: &str| wrap(text, room);
    let facts = if let Some((step, before)) = step.zip(question.before.as_deref()) {
        let (changed, rest) = again(step, before);
        for row in rows(&format!("{changed} {}; else as before:", gate::line(&question.title))) {
            inside(&ink(style, Ink::Strong, &row));
        }
        for row in rows(&rest) {
            inside(&clear(style, &row));
        }
        question.lines.iter().map(|line| ("", gate::line(line).into_owned())).collect()
    } else {
        for row in rows(&title) {
            inside(&ink(style, Ink::Strong, &row));
        }
        facts(question)
    };
    // The title of a motor step says what it is for.
    for (name, value) in facts.iter().filter(|(name, _)| *name != "what for") {
        let column = if name.is_empty() { 0 } else { NAME + 1 };
        for (at, line) in wrap(value, room - column).into_iter().enumerate() {
            let name = if at == 0 { *name } else { "" };
            let padded = format!("{name:<column$}");
            inside(&format!("{}{}", ink(style, Ink::Quiet, &padded), clear(style, &line)));
        }
    }
    if in_last_row(style, &question.reply, width).is_none() {
        for line in reply(style, &question.reply, room) {
            inside(&line);
        }
    }
    lines
}

/// Columns of a frame.
fn clamped(width: usize) -> usize {
    width.clamp(40, 96)
}

/// The words that keep hands whole look like nothing else.
fn clear(style: Style, row: &str) -> String {
    [HANDS_CLEAR, again::HANDS_CLEAR]
        .into_iter()
        .fold(row.to_owned(), |row, words| row.replace(words, &ink(style, Ink::Danger, words)))
}

/// The end of a question's frame: its last row holds what was answered.
pub(super) fn closed(style: Style, answered: bool) -> Vec<String> {
    match (style.plain, answered) {
        (true, true) => vec!["answer: answered".to_owned()],
        (true, false) => vec!["answer: no".to_owned()],
        (false, true) => Vec::new(),
        (false, false) => vec![ink(style, Ink::Strong, "      no")],
    }
}
