//! The answers of a console that a sheet describes, made backwards from the patterns that are to understand them.
//!
//! A pattern says which lines mean something; here stands one of those lines, with places for its values. Promises: each
//! was tried on its own pattern, with values as a board gives them, and is no refusal. Must not be here: which line asks
//! for what is done (see `virtual_board::console`).

use super::Unplayable;
use crate::board::console::template::{Pattern, Place, Template};
use crate::board::console::{Capability, ConsoleSheet};
use crate::virtual_board::{Dialect, Exchange, Form, IdForm, Part, Slot, Verb};
use regex_syntax::hir::{Class, Hir, HirKind};

/// What a board of this program says of its firmware.
const FIRMWARE: &str = "2.4.1";
/// An id of a virtual board, as it tells it.
const ID: &str = "7669727400000001";
/// What is said unasked, and why something is refused, at the longest and the strangest.
const SAID: [&str; 3] = ["Armed", "MY_NAME takes 1000 to 1250", "Arm refused: throttle at 1200 us"];
/// Most places behind a point that are tried.
const DECIMALS: [usize; 5] = [2, 1, 3, 0, 4];

/// The console of a sheet.
///
/// # Errors
/// A pattern for which no answer is found.
pub fn dialect(sheet: &ConsoleSheet, kind: &str) -> Result<Dialect, Unplayable> {
    let refused = |line: &str| sheet.refusal.is(line);
    let mut exchanges = Vec::new();
    let mut id = IdForm { digits: ID.len(), capitals: false };
    for (need, exchange) in &sheet.exchanges {
        let answer = Answer { need: *need, pattern: &exchange.answer, kind };
        let found =
            [ID.len(), 24, 32].into_iter().flat_map(|digits| [false, true].map(|capitals| IdForm { digits, capitals }));
        let found = found.flat_map(|form| DECIMALS.map(|decimals| (form, decimals)));
        let found = found.filter_map(|(form, decimals)| Some((form, decimals, answer.says(form, decimals)?)));
        let (form, decimals, says) =
            found.into_iter().find(|(_, _, says)| !refused(&says.said(&[]))).ok_or_else(|| answer.impossible())?;
        let other = match need {
            Capability::Armed => Some(answer.flag("disarmed").ok_or_else(|| answer.impossible())?),
            Capability::Channels => answer.flag(""),
            Capability::List => exchange.total.as_ref().and_then(|total| {
                let sample: &[(Slot, &str)] = &[(Slot::Count, "82")];
                made(total, &[], &["count"]).filter(|form| total.is(&form.said(sample)))
            }),
            _ => None,
        };
        if *need == Capability::Identity {
            id = form;
        }
        exchanges.push(Exchange { verb: verb(*need), asks: asks(&exchange.send), says, other, decimals });
    }
    Ok(Dialect {
        prompt: sheet.prompt.clone(),
        echo: sheet.echo,
        interrupt: sheet.interrupt.as_ref().and_then(|text| text.bytes().last()),
        more: sheet.more.as_ref().and_then(|(mark, turns)| Some((mark.clone(), turns.bytes().last()?))),
        banner: sheet.banner.as_ref().and_then(|pattern| Some(made(pattern, &[], &[])?.said(&[]))),
        note: sheet.note.as_ref().and_then(|pattern| saying(pattern, "text", Slot::Text)),
        refusal: saying(&sheet.refusal, "why", Slot::Why).unwrap_or_default(),
        leave: sheet.leave.clone(),
        exchanges,
        id,
        help: &[],
    })
}

/// A line that says anything: with the text in its place, if its pattern takes texts; else as it always stands.
fn saying(pattern: &Pattern, group: &'static str, slot: Slot) -> Option<Form> {
    let free = made(pattern, &[], &[group]);
    free.filter(|form| SAID.iter().all(|text| pattern.is(&form.said(&[(slot, text)]))))
        .or_else(|| made(pattern, &[], &[]))
}

/// The line that a board hears, as a form.
fn asks(send: &Template) -> Form {
    let places = Place::ALL.map(|place| (place, format!("{{{}}}", place.word())));
    Form::of(&send.fill(&places))
}

fn verb(need: Capability) -> Verb {
    match need {
        Capability::Identity => Verb::Identity,
        Capability::List => Verb::List,
        Capability::Read => Verb::Read,
        Capability::Write => Verb::Write,
        Capability::Store => Verb::Store,
        Capability::Restart => Verb::Restart,
        Capability::Armed => Verb::Armed,
        Capability::Channels => Verb::Channels,
        Capability::Outputs => Verb::Outputs,
        Capability::Attitude => Verb::Attitude,
        Capability::Power => Verb::Power,
        Capability::Speeds => Verb::Speeds,
        Capability::RunMotor => Verb::RunMotor,
        Capability::Stop => Verb::Stop,
    }
}

/// The answer to one need.
struct Answer<'s> {
    need: Capability,
    pattern: &'s Pattern,
    kind: &'s str,
}

impl Answer<'_> {
    fn impossible(&self) -> Unplayable {
        Unplayable::Answer { need: self.need.key(), pattern: self.pattern.text().to_owned() }
    }

    /// The answer with its values, if its pattern understands those that a board gives.
    fn says(&self, id: IdForm, decimals: usize) -> Option<Form> {
        if self.need == Capability::Armed {
            return self.flag("armed");
        }
        let (needed, allowed) = self.need.groups();
        // What may stand there besides is tried first with it, then without.
        [allowed, &[]].into_iter().find_map(|besides| {
            let groups: Vec<&str> = needed.iter().chain(besides).copied().collect();
            let form = made(self.pattern, &[], &groups)?;
            let fits = |values: &[(&str, String)]| self.understood(&form, values);
            samples(self.need, id, decimals, self.kind).iter().all(|sample| fits(sample)).then_some(form)
        })
    }

    /// Whether the pattern finds each value again where it was put in.
    fn understood(&self, form: &Form, values: &[(&str, String)]) -> bool {
        let given: Vec<(Slot, &str)> =
            values.iter().filter_map(|(group, value)| Some((Slot::of(group)?, value.as_str()))).collect();
        let line = form.said(&given);
        let Some(found) = self.pattern.of(&line) else { return false };
        values.iter().all(|(group, value)| found.name(group).is_none_or(|text| text.as_str().trim() == value))
    }

    /// The answer in which this group stands, and no other; none of them for an empty name.
    fn flag(&self, group: &str) -> Option<Form> {
        let all = self.need.groups().0;
        let others: Vec<&str> = all.iter().copied().filter(|other| *other != group).collect();
        let form = made(self.pattern, &others, &[])?;
        let line = form.said(&[]);
        let found = self.pattern.of(&line)?;
        let only = all.iter().all(|name| found.name(name).is_some() == (*name == group));
        only.then_some(form)
    }
}

/// Values as a board gives them, for each group that an answer can have.
fn samples(need: Capability, id: IdForm, decimals: usize, kind: &str) -> Vec<Vec<(&'static str, String)>> {
    let row = |numbers: &[i32]| numbers.iter().map(ToString::to_string).collect::<Vec<_>>().join(" ");
    let point = |number: f64| format!("{number:.decimals$}");
    let settings = ["1050", "0", "-3", "16777217", "10.9"]
        .map(|value| vec![("name", "MY_NAME_1".to_owned()), ("value", value.to_owned())]);
    match need {
        Capability::Identity => {
            vec![vec![("id", id.written(ID)), ("kind", kind.to_owned()), ("firmware", FIRMWARE.to_owned())]]
        }
        // Numbers below zero and with a point are for those that have such settings.
        Capability::List | Capability::Read | Capability::Write => settings.into_iter().take(2).collect(),
        Capability::Channels => vec![vec![("pulses", row(&[1000; 16]))]],
        Capability::Outputs => [0, 1000, 2000].map(|pulse| vec![("pulses", row(&[pulse; 4]))]).to_vec(),
        Capability::Attitude => [0.0, -12.25, 179.99]
            .map(|angle| ["roll", "pitch", "yaw"].map(|group| (group, point(angle))).to_vec())
            .to_vec(),
        Capability::Power => {
            [0.0, 7.9, 16.8].map(|volts| vec![("volts", point(volts)), ("amps", point(volts / 10.0))]).to_vec()
        }
        Capability::Speeds => [0, 12_000].map(|rpm| vec![("rpm", row(&[rpm; 4]))]).to_vec(),
        Capability::Armed | Capability::Store | Capability::Restart | Capability::RunMotor | Capability::Stop => {
            vec![Vec::new()]
        }
    }
}

/// A line that a pattern matches: with places for some of its groups, and without others.
fn made(pattern: &Pattern, without: &[&str], places: &[&str]) -> Option<Form> {
    let hir = regex_syntax::Parser::new().parse(pattern.text()).ok()?;
    // A blank at an end of a line is nothing to whoever reads it: what may stand there stands there then.
    [0, 1].into_iter().map(|least| Maker { without, places, least }.form(&hir)).find(|form| {
        let begins = matches!(form.0.first(), Some(Part::Text(text)) if text.starts_with(' '));
        let ends = matches!(form.0.last(), Some(Part::Text(text)) if text.ends_with(' '));
        !begins && !ends
    })
}

struct Maker<'m> {
    without: &'m [&'m str],
    places: &'m [&'m str],
    /// How often what may be left out stands there.
    least: u32,
}

impl Maker<'_> {
    fn form(&self, hir: &Hir) -> Form {
        let mut parts = Vec::new();
        self.put(hir, &mut parts);
        let mut form: Vec<Part> = Vec::new();
        for part in parts {
            match (form.last_mut(), part) {
                (Some(Part::Text(before)), Part::Text(text)) => before.push_str(&text),
                (_, part) => form.push(part),
            }
        }
        Form(form)
    }

    fn put(&self, hir: &Hir, parts: &mut Vec<Part>) {
        match hir.kind() {
            HirKind::Empty | HirKind::Look(_) => {}
            HirKind::Literal(text) => parts.push(Part::Text(String::from_utf8_lossy(&text.0).into_owned())),
            HirKind::Class(class) => parts.extend(one_of(class).map(|c| Part::Text(c.to_string()))),
            HirKind::Repetition(repeated) => {
                let wanted = self.wanted(&repeated.sub) > 0;
                for _ in 0..repeated.min.max(self.least).max(u32::from(wanted)) {
                    self.put(&repeated.sub, parts);
                }
            }
            HirKind::Capture(group) => {
                let name = group.name.as_deref().unwrap_or_default();
                match Slot::of(name).filter(|_| self.places.contains(&name)) {
                    Some(slot) => parts.push(Part::Slot(slot)),
                    None => self.put(&group.sub, parts),
                }
            }
            HirKind::Concat(all) => all.iter().for_each(|hir| self.put(hir, parts)),
            HirKind::Alternation(all) => {
                let free = |hir: &&Hir| !holds(hir, self.without);
                // Of those that hold as much, the first.
                let best = all.iter().filter(free).rev().max_by_key(|hir| self.wanted(hir));
                if let Some(hir) = best.or(all.first()) {
                    self.put(hir, parts);
                }
            }
        }
    }

    fn wanted(&self, hir: &Hir) -> usize {
        self.places.iter().filter(|place| holds(hir, &[place])).count()
    }
}

/// Whether one of these groups stands in it.
fn holds(hir: &Hir, names: &[&str]) -> bool {
    match hir.kind() {
        HirKind::Capture(group) => {
            group.name.as_deref().is_some_and(|name| names.contains(&name)) || holds(&group.sub, names)
        }
        HirKind::Repetition(repeated) => holds(&repeated.sub, names),
        HirKind::Concat(all) | HirKind::Alternation(all) => all.iter().any(|hir| holds(hir, names)),
        _ => false,
    }
}

/// A character of a class: a digit, a letter, a blank, or its first one.
fn one_of(class: &Class) -> Option<char> {
    let ranges: Vec<(char, char)> = match class {
        Class::Unicode(class) => class.iter().map(|range| (range.start(), range.end())).collect(),
        Class::Bytes(class) => class.iter().map(|range| (char::from(range.start()), char::from(range.end()))).collect(),
    };
    let holds = |c: &char| ranges.iter().any(|(first, last)| (first..=last).contains(&c));
    let plain = "0123456789abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ .-_";
    plain.chars().find(holds).or_else(|| ranges.first().map(|(first, _)| *first))
}
