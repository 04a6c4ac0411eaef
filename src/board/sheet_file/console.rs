//! The `[console]` table of a sheet: prompt, lines and patterns, all compiled and checked as they are read.
//!
//! Must not be here: speaking to a board (see `board::console`).

use super::super::console::sheet::{Capability, ConsoleSheet, Exchange};
use super::super::console::template::{self, Pattern, Template, is_line};
use super::super::document::Problem;
use super::super::document::reader::{Node, Reader, Table, escaped};
use super::super::value::SettingName;
use crate::language::units::Quantity;
use std::collections::{BTreeMap, BTreeSet};
use std::time::Duration;

const PROMPT_RULE: &str = "1 to 40 printable ASCII characters, as they stand on the line, blanks at the end included";
const BREAK_RULE: &str = "1 to 4 control characters, such as \"\\u0003\"; no line end";
const END_RULE: &str = "what ends a typed line: \"\\r\", \"\\n\" or \"\\r\\n\"";
const LINE_RULE: &str = "1 to 120 printable ASCII characters, no blank at either end";
/// Longest prompt and page mark.
const LONGEST_MARK: usize = 40;
/// Without these nothing can be done over the link at all.
const NEEDED: [(Capability, &str); 4] = [
    (Capability::Identity, "without it nobody knows which board this is"),
    (Capability::List, "without it the settings cannot be read"),
    (Capability::Read, "without it nothing that was written can be read back"),
    (Capability::Armed, "without it nobody knows whether the board is armed, and nothing is done"),
];

/// Reads the table, whose header stands at `node`.
pub fn console(r: &mut Reader<'_>, node: &Node<'_>) -> Option<ConsoleSheet> {
    let mut t = r.table(node)?;
    let prompt = t.need(r, "prompt", PROMPT_RULE).and_then(|n| r.name(&n, "a prompt", is_mark, PROMPT_RULE));
    let echo = t.need(r, "echo", "whether what is typed comes back").and_then(|n| r.boolean(&n));
    let line_end = t.need(r, "line-end", END_RULE).and_then(|n| r.name(&n, "the end of a line", is_end, END_RULE));
    let interrupt = t.take("break").map(|n| r.name(&n, "a break", is_break, BREAK_RULE));
    let more = more(r, &mut t, interrupt.is_some());
    let banner = t.take("banner").map(|n| pattern(r, &n, &[], &[]));
    let unasked = t.take("note").map(|n| pattern(r, &n, &["text"], &[]));
    let refusal = t.need(r, "refusal", "an answer that means no").and_then(|n| pattern(r, &n, &["why"], &[]));
    let arms = t.need(r, "arms-while-open", "whether the board arms while its console is open");
    let arms_while_open = arms.and_then(|n| r.boolean(&n));
    let leave = t.take("leave").map(|n| r.name(&n, "a line to send", is_line, LINE_RULE));
    let answer_within = t.need(r, "answer-within", "the longest that an answer takes").and_then(|n| within(r, &n));
    let exchanges = exchanges(r, &mut t, |_| true, exchange);
    t.done(r);
    Some(ConsoleSheet {
        prompt: prompt?,
        echo: echo?,
        line_end: line_end?,
        interrupt: some(interrupt)?,
        more: more?,
        banner: some(banner)?,
        note: some(unasked)?,
        refusal: refusal?,
        arms_while_open: arms_while_open?,
        leave: some(leave)?,
        answer_within: answer_within?,
        exchanges: exchanges?,
        names: BTreeSet::new(),
    })
}

/// A key that may be left out, but not be wrong.
#[expect(clippy::option_option, reason = "left out, wrong, or read")]
pub(super) fn some<T>(read: Option<Option<T>>) -> Option<Option<T>> {
    read.map_or(Some(None), |inner| inner.map(Some))
}

#[expect(clippy::option_option, reason = "wrong, left out, or read")]
fn more(r: &mut Reader<'_>, t: &mut Table<'_>, breaks: bool) -> Option<Option<(String, String)>> {
    let mark = t.take("more").map(|n| (r.name(&n, "a page mark", is_mark, PROMPT_RULE), n));
    let answer = t.take("more-answer").map(|n| (r.name(&n, "an answer to a page", is_key, "1 to 4 characters"), n));
    if let Some((_, n)) = mark.as_ref().or(answer.as_ref())
        && !breaks
    {
        let why = "an open page swallows every line, a stop too, unless something throws the page away: name what does, \
                   or have the board send its answers whole and leave the pages out";
        r.note(n.key_span.start, Problem::MissingKey { key: "console.break".to_owned(), why });
    }
    match (mark, answer) {
        (None, None) => Some(None),
        (Some((mark, _)), Some((answer, _))) => Some(Some((mark?, answer?))),
        (Some((_, n)), None) | (None, Some((_, n))) => {
            let other = if n.path.ends_with("more") { "more-answer" } else { "more" };
            let why = "a page's mark and the answer to it belong together";
            r.note(n.key_span.start, Problem::MissingKey { key: format!("console.{other}"), why });
            None
        }
    }
}

/// What this board can be asked for, of what a board `has` to be asked for over such a link.
pub(super) fn exchanges<T>(
    r: &mut Reader<'_>,
    t: &mut Table<'_>,
    has: fn(Capability) -> bool,
    read: impl Fn(&mut Reader<'_>, &Node<'_>, Capability) -> Option<T>,
) -> Option<BTreeMap<Capability, T>> {
    let mut all = BTreeMap::new();
    let mut good = true;
    for need in Capability::ALL.into_iter().filter(|need| has(*need)) {
        let why = NEEDED.iter().find(|(needed, _)| *needed == need).map(|(_, why)| *why);
        let node = match why {
            Some(why) => {
                let node = t.need(r, need.key(), why);
                good &= node.is_some();
                node
            }
            None => t.take(need.key()),
        };
        let Some(node) = node else { continue };
        match read(r, &node, need) {
            Some(exchange) => drop(all.insert(need, exchange)),
            None => good = false,
        }
    }
    good.then_some(all)
}

fn exchange(r: &mut Reader<'_>, node: &Node<'_>, need: Capability) -> Option<Exchange> {
    let mut t = r.table(node)?;
    let send = t.need(r, "send", "the line to send").and_then(|n| {
        let text = r.text(&n)?;
        let read = Template::read(text, need.places());
        read.map_err(|error| r.note(n.span().start, bad(&n, text, &error))).ok()
    });
    let (needed, allowed) = need.groups();
    let answer = t.need(r, "answer", "the line of the answer").and_then(|n| pattern(r, &n, needed, allowed));
    let total = if need == Capability::List { t.take("total").map(|n| pattern(r, &n, &["count"], &[])) } else { None };
    t.done(r);
    Some(Exchange { send: send?, answer: answer?, total: some(total)? })
}

fn bad(node: &Node<'_>, found: &str, cause: &dyn std::fmt::Display) -> Problem {
    Problem::BadConsole { key: node.path.clone(), found: escaped(found), cause: cause.to_string() }
}

fn pattern(r: &mut Reader<'_>, node: &Node<'_>, needed: &[&'static str], allowed: &[&'static str]) -> Option<Pattern> {
    let text = r.text(node)?;
    let read = Pattern::read(text, needed, allowed);
    read.map_err(|error| r.note(node.span().start, bad(node, text, &error))).ok()
}

fn is_mark(text: &str) -> bool {
    let printable = text.bytes().all(|byte| byte.is_ascii_graphic() || byte == b' ');
    (1..=LONGEST_MARK).contains(&text.len()) && printable && !text.trim().is_empty()
}

fn is_end(text: &str) -> bool {
    matches!(text, "\r" | "\n" | "\r\n")
}

fn is_break(text: &str) -> bool {
    (1..=4).contains(&text.len()) && text.bytes().all(|byte| byte.is_ascii_control() && !matches!(byte, b'\r' | b'\n'))
}

fn is_key(text: &str) -> bool {
    (1..=4).contains(&text.len()) && text.bytes().all(|b| b.is_ascii_graphic() || matches!(b, b' ' | b'\r' | b'\n'))
}

pub(super) fn within(r: &mut Reader<'_>, node: &Node<'_>) -> Option<Duration> {
    let time = r.quantity(node, Quantity::duration)?;
    if time < Duration::from_millis(10) || time > Duration::from_secs(5) {
        r.out_of_range(node, &format!("{} ms", time.as_micros() / 1000), &"10 ms", &"5 s");
        return None;
    }
    Some(time)
}

/// Holds the settings that a sheet names against what can stand in a line.
pub fn agree(r: &mut Reader<'_>, names: &BTreeMap<SettingName, usize>) {
    for (name, at) in names {
        if let Err(error) = template::name(name) {
            let problem =
                Problem::BadConsole { key: "name".to_owned(), found: name.to_string(), cause: error.to_string() };
            r.note(*at, problem);
        }
    }
}
