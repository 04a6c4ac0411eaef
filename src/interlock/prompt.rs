//! The one prompt: an open question, fed key by key until it is answered or declined.
//!
//! Enter alone, end of input, a paste, a wrong word or keys from before the question was read never
//! confirm, and no word counts that was not typed here. Must not be here: what a word is worth (see `tokens` and `steps`).

use crate::board::craft_name::CraftName;
use crate::measure::time::Time;
use crate::seam::Key;
use crate::seam::ui::{About, Declined, Question, Reply};
use std::time::Duration;

/// Keys are deaf until the question has stood this long.
pub const DEAF: Duration = Duration::from_millis(300);
/// Two characters closer than this come from no hand.
pub const PASTE: Duration = Duration::from_millis(20);
/// What a pack may have, volts.
const VOLTS: std::ops::RangeInclusive<f64> = 1.0..=100.0;
/// The word that attests that the propellers are off.
pub const PROPS_OFF: &str = "props off";
/// That the video antenna is on.
pub const ANTENNA_ON: &str = "antenna on";
/// That the battery is out.
pub const BATTERY_OUT: &str = "battery out";
/// That it is in.
pub const BATTERY_IN: &str = "battery in";
/// That the motors are cool.
pub const COOL: &str = "cool";
/// Longest answer that is kept.
const LONGEST: usize = 64;

/// How a question ended.
#[derive(Debug, PartialEq, Eq)]
pub enum Answer {
    /// The word that was asked for.
    Typed(TypedWord),
    /// Enter, where Enter goes on.
    Entered,
    /// One of the choices.
    Chosen(char),
    /// The name that was asked for.
    Named(CraftName),
    /// The voltage that was asked for, in mV.
    Volts(u32),
    /// Not answered with yes.
    Declined(Declined),
}

/// A word that was typed to the question that was shown: what an attestation and a confirmation are made of.
///
/// ```compile_fail,E0451
/// # fn made(about: quadjig::seam::ui::About, at: quadjig::measure::time::Time) {
/// let forged = quadjig::interlock::TypedWord { about, word: "props off".to_owned(), at };
/// # }
/// ```
/// ```compile_fail,E0308
/// fn twice(one: &quadjig::interlock::TypedWord) -> quadjig::interlock::TypedWord {
///     one.clone()
/// }
/// ```
#[derive(Debug, PartialEq, Eq)]
pub struct TypedWord {
    pub(super) about: About,
    pub(super) word: String,
    /// The moment of the last key.
    pub(super) at: Time,
}

/// An open question.
#[derive(Debug)]
pub struct Prompt {
    question: Question,
    opened: Time,
    typed: String,
    last: Option<Time>,
    pasted: bool,
    chosen: Option<(char, Time)>,
}

impl Prompt {
    /// Opens a question now.
    #[must_use]
    pub fn open(question: Question, now: Time) -> Self {
        Self { question, opened: now, typed: String::new(), last: None, pasted: false, chosen: None }
    }

    /// The question that is open.
    #[must_use]
    pub fn question(&self) -> &Question {
        &self.question
    }

    /// What stands at the prompt.
    #[must_use]
    pub fn typed(&self) -> &str {
        &self.typed
    }

    /// Takes a key; `Some` once the question has ended.
    pub fn key(&mut self, now: Time, key: Key) -> Option<Answer> {
        if now.since(self.opened) < DEAF {
            return None;
        }
        if let Key::Char(c) = key {
            if self.last.is_some_and(|last| now.since(last) < PASTE) {
                self.pasted = true;
            }
            self.last = Some(now);
            self.character(now, c);
            return None;
        }
        match key {
            Key::Backspace => {
                self.typed.pop();
                None
            }
            Key::Escape => Some(Answer::Declined(Declined::Refused)),
            Key::Enter => self.entered(now),
            _ => None,
        }
    }

    /// A paste that the terminal marked.
    pub fn paste(&mut self) {
        self.pasted = true;
    }

    /// When [`Prompt::due`] has something to say.
    #[must_use]
    pub fn wake(&self) -> Time {
        self.chosen.map_or(Time::NEVER, |(_, at)| at + PASTE)
    }

    /// A single key counts only once nothing followed it as fast as a paste does.
    pub fn due(&mut self, now: Time) -> Option<Answer> {
        let (key, at) = self.chosen?;
        if now < at + PASTE {
            return None;
        }
        self.chosen = None;
        if std::mem::take(&mut self.pasted) {
            return None;
        }
        Some(Answer::Chosen(key))
    }

    fn character(&mut self, now: Time, c: char) {
        if let Reply::Choice(choices) = &self.question.reply {
            self.chosen = choices.iter().find(|(key, _)| key.eq_ignore_ascii_case(&c)).map(|(key, _)| (*key, now));
        } else if self.typed.chars().count() < LONGEST && !c.is_control() {
            self.typed.push(c);
        }
    }

    fn entered(&mut self, now: Time) -> Option<Answer> {
        let typed = std::mem::take(&mut self.typed);
        let typed = typed.trim();
        if std::mem::take(&mut self.pasted) {
            return Some(Answer::Declined(Declined::Pasted));
        }
        match &self.question.reply {
            Reply::Choice(_) => None,
            Reply::Enter => Some(Answer::Entered),
            // In any case of letters: which word it is tells the steps apart, not how it is typed.
            Reply::Word(word) if typed.to_lowercase() == word.to_lowercase() => {
                Some(Answer::Typed(TypedWord { about: self.question.about.clone(), word: word.clone(), at: now }))
            }
            Reply::Word(_) | Reply::Name | Reply::Volts if typed.is_empty() => {
                Some(Answer::Declined(Declined::EnterAlone))
            }
            Reply::Word(_) if typed.eq_ignore_ascii_case("no") => Some(Answer::Declined(Declined::Refused)),
            Reply::Word(_) => Some(Answer::Declined(Declined::WrongWord(typed.to_owned()))),
            Reply::Volts => Some(match volts(typed) {
                Some(millivolts) => Answer::Volts(millivolts),
                None => Answer::Declined(Declined::NotVolts(typed.to_owned())),
            }),
            Reply::Name => Some(match CraftName::read(typed) {
                Ok(name) => Answer::Named(name),
                Err(why) => Answer::Declined(Declined::NotAName(why)),
            }),
        }
    }
}

/// A voltage as it is typed, in mV: with a point or a comma, with or without its unit.
fn volts(typed: &str) -> Option<u32> {
    let number = typed.trim_end_matches(['v', 'V']).trim_end().replace(',', ".");
    let volts = number.parse::<f64>().ok().filter(|volts| VOLTS.contains(volts))?;
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "within what a pack may have")]
    let millivolts = (volts * 1000.0).round() as u32;
    Some(millivolts)
}
