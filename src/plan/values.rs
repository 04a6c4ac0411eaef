//! Settings statements: which of the board's settings each names, and to which number.
//!
//! Promises: a value that the board or the sheet does not take is refused, never bent. Must not be here: which statement
//! sets what (see `language::sets`), when it is written (see `batch`), and bands (see `bands`).

use super::compile::Planner;
use super::naming::Naming;
use super::problem::Problem;
use super::step::Write;
use super::wanted::Wanted;
use crate::board::convert::{self, ConvertError};
use crate::board::effect::Effect;
use crate::board::sheet::SettingEntry;
use crate::board::value::{Number, SettingName};
use crate::board::vocabulary;
use crate::language::ceilings;
use crate::language::recipe::{Part, Setting, StatementKind, Value};
use crate::language::sets::{Sets, sets};
use crate::language::setting_word::SettingWord;

impl<'a> Planner<'a> {
    /// Adds a settings statement to the open batch; `false` for any other statement.
    pub(super) fn setting(&mut self, index: usize, what: &StatementKind) -> bool {
        match what {
            StatementKind::Bind { function, switch, positions } => self.bind(index, function, switch, positions),
            StatementKind::Unbind(function) => self.unbind(index, function),
            StatementKind::Set { setting, value } => self.set(index, setting, value),
            StatementKind::Channels(order) if self.inputs.sheet.channel_order.is_some() => {
                if self.inputs.sheet.channel_order.as_ref() != Some(order) {
                    self.refuse(index, Problem::FixedChannels(self.inputs.sheet.told_order()));
                }
            }
            what => {
                let sets = sets(what);
                for Sets { word, to, part, plain } in &sets {
                    if !plain || self.inputs.sheet.entry(*word).is_some() {
                        self.want_by(index, *part, word.word(), |entry| convert::encode_set(*word, entry, *to));
                    }
                }
                return !sets.is_empty();
            }
        }
        true
    }

    fn want_by(
        &mut self,
        index: usize,
        part: Part,
        word: &str,
        encode: impl FnOnce(&SettingEntry) -> Result<Number, ConvertError>,
    ) {
        let Some(entry) = self.entry(index, word) else { return };
        let Some(number) = self.encoded(index, part, encode(entry)) else { return };
        match above_ceiling(word, entry, number) {
            Some(problem) => self.refuse_part(index, Some(part), problem),
            None => self.add(index, entry.name.clone(), number, entry.effect, false),
        }
    }

    /// A value as the board holds it, or a refusal.
    fn encoded(&mut self, index: usize, part: Part, number: Result<Number, ConvertError>) -> Option<Number> {
        number.map_err(|error| self.refuse_part(index, Some(part), Problem::Value(error))).ok()
    }

    fn add(&mut self, index: usize, name: SettingName, to: Number, effect: Effect, always: bool) {
        if !self.inputs.settings.contains_key(&name) {
            return self.refuse(index, Problem::NotOnBoard(name.to_string()));
        }
        self.batch.wanted.push(Wanted { statement: index, name, to, effect, always });
    }

    /// The sheet's entry of a word, or a refusal.
    fn entry(&mut self, index: usize, word: &str) -> Option<&'a SettingEntry> {
        let sheet = self.inputs.sheet;
        let found = sheet.settings.get(word);
        if found.is_none() {
            let problem = match vocabulary::word(word) {
                Some(_) => Problem::NoWord { word: word.to_owned(), sheet: sheet.board.clone() },
                None => Problem::UnknownWord(word.to_owned()),
            };
            self.refuse(index, problem);
        }
        found
    }

    fn set(&mut self, index: usize, setting: &Setting, value: &Value) {
        match setting {
            Setting::Word(word) => {
                if let Some(statement) = vocabulary::word(word).and_then(|known| known.statement) {
                    return self.refuse(index, Problem::HasStatement { word: word.clone(), statement });
                }
                self.want_by(index, Part::Value, word, |entry| convert::encode(word, entry, value));
            }
            Setting::Raw(raw) => {
                let Some((name, number, listed)) = self.raw(index, raw, value) else { return };
                // What no sheet lists may do anything, with the battery out as well.
                let effect = listed.map_or(Effect::TurnsMotors, |entry| entry.effect);
                self.add(index, name, number, effect, listed.is_none());
            }
        }
    }

    /// A setting in quotes: its name, the number for a value, and the sheet's entry if it lists it.
    fn raw(
        &mut self,
        index: usize,
        raw: &str,
        value: &Value,
    ) -> Option<(SettingName, Number, Option<&'a SettingEntry>)> {
        let sheet = self.inputs.sheet;
        let Some(name) = SettingName::new(raw) else {
            self.refuse_part(index, Some(Part::Subject), Problem::BadName(raw.to_owned()));
            return None;
        };
        let covered = sheet.word_of(&name).map(|(word, _)| word.to_owned());
        if let Some(word) = covered.or_else(|| self.naming().band_setting(&name).map(|_| "bind".to_owned())) {
            self.refuse_part(index, Some(Part::Subject), Problem::Covered { name: raw.to_owned(), word });
            return None;
        }
        let Some(now) = self.inputs.settings.get(&name) else {
            self.refuse_part(index, Some(Part::Subject), Problem::NotOnBoard(raw.to_owned()));
            return None;
        };
        let listed = sheet.raw.get(&name);
        let encoded = match listed {
            Some(entry) => convert::encode(raw, entry, value),
            None => convert::encode_unlisted(raw, value, *now),
        };
        self.encoded(index, Part::Value, encoded).map(|number| (name, number, listed))
    }

    /// `expect`: the name, the number and the words for a setting that must have a value.
    pub(super) fn expected(&mut self, index: usize, setting: &Setting, value: &Value) -> Option<(SettingName, Number)> {
        match setting {
            Setting::Word(word) => {
                let entry = self.entry(index, word)?;
                let number = self.encoded(index, Part::Value, convert::encode(word, entry, value))?;
                Some((entry.name.clone(), number))
            }
            Setting::Raw(raw) => self.raw(index, raw, value).map(|(name, number, _)| (name, number)),
        }
    }

    /// A write with its words.
    pub(super) fn write_of(&self, name: &SettingName, to: Number) -> Write {
        self.naming().write(name, to)
    }

    /// Settings in words, by what the board will hold at this place of the plan.
    pub(super) fn naming(&self) -> Naming<'_> {
        Naming { sheet: self.inputs.sheet, then: &self.ahead.settings, now: self.inputs.settings }
    }
}

/// What is wrong with a board's number by the built-in ceilings, whatever its sheet allows.
pub(super) fn above_ceiling(word: &str, entry: &SettingEntry, number: Number) -> Option<Problem> {
    match SettingWord::of(word)? {
        SettingWord::Idle => convert::idle_pulse(entry, number)
            .filter(|pulse| *pulse > ceilings::PULSE)
            .map(|value| Problem::AboveCeiling { value, ceiling: ceilings::PULSE }),
        SettingWord::LinkLossWait => {
            let Value::Quantity(wait) = convert::decode(entry, number)? else { return None };
            let (value, most) = (wait.duration().ok()?, ceilings::LINK_LOSS_WAIT);
            (value > most).then_some(Problem::TooLong { what: "the wait on link loss", value, most })
        }
        _ => None,
    }
}
