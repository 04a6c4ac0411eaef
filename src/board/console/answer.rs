//! What each line that a board says does to the question that is open.
//!
//! An answer begins after the echo of its line and ends at the prompt. A line that is said unasked belongs to nobody,
//! wherever it stands; a banner in the middle of an answer means that the board started anew.

use super::super::polled::{self, TRIES, said};
use super::super::refusal::Common;
use super::super::signals::{Done, LinkEvent};
use super::super::value::{NoValue, Number, SettingName};
use super::decode;
use super::lines::Piece;
use super::link::{ConsoleLink, MOST_NAMES};
use super::question::{Open, Purpose};
use super::refusal::Refusal;
use crate::measure::time::Time;
use regex::Captures;

/// How much of a line that nobody knows is shown, characters.
const SHOWN: usize = 60;

impl ConsoleLink {
    pub(super) fn piece(&mut self, now: Time, piece: Piece, heard: &mut Vec<LinkEvent>) {
        match piece {
            Piece::Prompt => {
                self.heard_it = true;
                self.prompted = true;
                heard.push(LinkEvent::Spoke);
                self.prompt(now);
            }
            Piece::More => match &mut self.open {
                Some(open) if open.echoed => {
                    open.due = now + self.sheet.answer_within;
                    self.turns += 1;
                }
                // Somebody else's page: what is typed there is thrown away.
                _ => self.adrift = true,
            },
            Piece::Line(line) => self.line_heard(now, &line, heard),
        }
    }

    fn line_heard(&mut self, now: Time, whole: &str, heard: &mut Vec<LinkEvent>) {
        // A prompt that was drawn anew belongs to no answer, even where no echo parts them.
        let mut line = whole;
        while let Some(rest) = line.strip_prefix(&self.sheet.prompt) {
            line = rest;
        }
        // Whoever speaks may be another after a silence; what a wire sends back of ours, at a prompt that stood there, is nobody.
        let told = std::mem::take(&mut self.prompted);
        let prompts = line.len() < whole.len() && !told;
        let text = line.trim_matches(|c: char| c.is_whitespace() || c.is_control());
        let ours = text.is_empty() || self.typed.iter().any(|typed| typed == text);
        if prompts || !ours {
            heard.push(if prompts { LinkEvent::Spoke } else { LinkEvent::Unplaced });
        }
        let line = line.trim();
        if let Some(note) = self.sheet.note.as_ref().and_then(|note| note.of(line)) {
            let text = note.name("text").map_or("", |text| text.as_str()).to_owned();
            heard.push(said(text));
            // What stands before it may be the first piece of a line that it cut.
            if let Some(open) = &mut self.open {
                open.torn |= open.stray;
            }
            return;
        }
        if self.sheet.banner.as_ref().is_some_and(|banner| banner.is(line)) {
            heard.push(LinkEvent::Banner);
            self.restarted();
            return;
        }
        let Some(mut open) = self.open.take() else { return };
        if !open.echoed {
            // What stood on the line before, prompts and all, is not part of the echo.
            let typed = whole.rfind(&self.sheet.prompt).map_or(line, |at| &whole[at + self.sheet.prompt.len()..]);
            open.echoed = typed.trim() == open.question.line;
        } else if !line.is_empty() {
            open.answered = true;
            self.answer(now, &mut open, line, heard);
            // A board that restarts, and a console that was left, show no prompt any more.
            if matches!(open.question.what, Purpose::Restart(_) | Purpose::Leave(_)) && open.end.is_some() {
                self.adrift = true;
                self.close(now, open);
                return;
            }
        }
        self.open = Some(open);
    }

    fn answer(&mut self, now: Time, open: &mut Open, line: &str, heard: &mut Vec<LinkEvent>) {
        if let Some(no) = self.sheet.refusal.of(line) {
            let why = no.name("why").map_or("", |why| why.as_str());
            open.end = Some(Done::Refused(Refusal::Board(why.to_owned()).to_string()));
            open.strange = None;
            if let Purpose::Poll(stream) = open.question.what {
                heard.extend(polled::refused(stream));
            }
            return;
        }
        // Cloned cheaply: a compiled pattern is shared.
        let exchange = open.question.what.need().and_then(|need| self.sheet.exchange(need)).cloned();
        let Some(exchange) = exchange else {
            open.end = Some(Done::Ok);
            return;
        };
        if let Some(total) = exchange.total.as_ref().and_then(|total| total.of(line)) {
            open.total = total.name("count").and_then(|count| count.as_str().parse().ok());
            return;
        }
        let found = exchange.answer.of(line).and_then(|found| self.understood(now, open, &found, heard));
        open.stray = found.is_none();
        if found.is_some() {
            self.heard_it = true;
        } else {
            open.strange.get_or_insert_with(|| line.chars().take(SHOWN).collect());
            // Above the first setting it is a heading.
            open.torn |= open.heard > 0;
        }
    }

    /// `None`: the line matches, but holds no value that could be one.
    fn understood(
        &mut self,
        now: Time,
        open: &mut Open,
        found: &Captures<'_>,
        heard: &mut Vec<LinkEvent>,
    ) -> Option<()> {
        match &open.question.what {
            Purpose::Poll(stream) => {
                decode::signal(*stream, found, &mut open.told)?;
                open.end = Some(Done::Ok);
            }
            Purpose::Identify(_) => {
                let identity = decode::identity(found)?;
                if self.identity.as_ref().is_some_and(|known| known.id != identity.id) {
                    heard.push(polled::another());
                    self.listed = false;
                    self.whole.clear();
                }
                self.identity = Some(identity.clone());
                heard.push(LinkEvent::Identity(identity));
                open.end = Some(Done::Ok);
            }
            Purpose::List(_) => {
                let (name, value) = decode::setting(found)?;
                open.heard += 1;
                if !open.names.insert(name.clone()) {
                    open.twice.insert(name.clone());
                }
                open.due = now + self.sheet.answer_within;
                if open.heard > MOST_NAMES {
                    open.end = Some(Done::Refused(Refusal::Endless(open.heard).to_string()));
                    open.due = now;
                } else if let Some(value) = value {
                    self.learn(&name, value);
                    let index = u16::try_from(open.heard - 1).ok();
                    heard.push(LinkEvent::Setting { name, value, index });
                } else {
                    heard.push(LinkEvent::NoValue { name, why: NoValue::NoNumber });
                }
            }
            what @ (Purpose::Read(_, asked) | Purpose::Write(_, asked, _)) => {
                let (name, value) = decode::setting(found)?;
                // Another setting's line is whole, and answers no reading.
                if name != *asked {
                    return matches!(what, Purpose::Read(..)).then_some(());
                }
                let Some(value) = value else {
                    open.end = Some(Done::Refused(Refusal::Unreadable(name).to_string()));
                    return Some(());
                };
                open.told.push(LinkEvent::Setting { name, value, index: None });
                let differs = matches!(what, Purpose::Write(.., wanted) if !value.same(*wanted));
                open.end = Some(if differs { Done::Differs(value) } else { Done::Ok });
            }
            Purpose::Store(_)
            | Purpose::Restart(_)
            | Purpose::Run(_)
            | Purpose::Disarm(_)
            | Purpose::Stop
            | Purpose::Leave(_) => {
                open.end = Some(Done::Ok);
            }
        }
        Some(())
    }

    /// Remembers whether a setting holds whole numbers, of as many as a board can have.
    fn learn(&mut self, name: &SettingName, value: Number) {
        let whole = matches!(value, Number::Whole(_));
        if self.whole.contains_key(name) || self.whole.len() < MOST_NAMES as usize {
            self.whole.insert(name.clone(), whole);
        }
    }

    /// A prompt stands open: the end of an answer, if one has begun.
    fn prompt(&mut self, now: Time) {
        // Without an echo a prompt may be the one before the answer.
        let ends = self.open.as_ref().is_some_and(|open| open.echoed && (self.sheet.echo || open.answered));
        if let Some(open) = self.open.take_if(|_| ends) {
            self.close(now, open);
        }
    }

    /// The answer is complete.
    fn close(&mut self, now: Time, mut open: Open) {
        if matches!(open.question.what, Purpose::List(_)) && open.end.is_none() {
            open.end = self.listed(&mut open);
        }
        self.wait.took(now.since(open.sent_at));
        let end = self.whole_end(&mut open);
        match (&open.question.what, end) {
            (Purpose::Poll(stream), Some(Done::Refused(_))) => self.polls.refused(*stream, now),
            (Purpose::Poll(stream), None) => {
                self.polls.failed(*stream, now);
                let said = open.strange.take().unwrap_or_else(|| "it said nothing".to_owned());
                self.outbox.misread(*stream, &Refusal::Strange(said));
            }
            (Purpose::Poll(stream), Some(_)) => self.polls.answered(*stream),
            (what, Some(done)) => self.end(&what.clone(), done),
            (what, None) if what.repeats() => self.again(open, false),
            (what, None) => {
                let said = open.strange.take().unwrap_or_else(|| "it said nothing".to_owned());
                self.end(&what.clone(), Done::Refused(Refusal::Strange(said).to_string()));
            }
        }
    }

    /// How it ends, with all that it tells. A line that the sheet does not know may be a piece of a value's own: what the
    /// other piece says is no value.
    fn whole_end(&mut self, open: &mut Open) -> Option<Done> {
        let valued = matches!(open.question.what, Purpose::Poll(_) | Purpose::Read(..) | Purpose::Write(..));
        let end = open.end.take().filter(|_| !valued || open.strange.is_none())?;
        self.outbox.tells(open.told.drain(..));
        Some(end)
    }

    /// How a list ends; `None`: with gaps, so that it is asked for again.
    fn listed(&mut self, open: &mut Open) -> Option<Done> {
        let counted = self.sheet.exchange(super::Capability::List).is_some_and(|list| list.total.is_some());
        let whole = if counted { open.total == Some(open.heard) && !open.torn } else { open.strange.is_none() };
        if whole && open.heard > 0 {
            self.listed = true;
            let twice = std::mem::take(&mut open.twice).into_iter();
            open.told.extend(twice.map(|name| LinkEvent::NoValue { name, why: NoValue::Twice }));
            open.told.push(LinkEvent::Listed(std::mem::take(&mut open.names)));
            return Some(Done::Ok);
        }
        if open.question.sent < TRIES {
            return None;
        }
        if let Some(said) = open.strange.clone().filter(|_| open.torn) {
            return Some(Done::Refused(Refusal::Strange(said).to_string()));
        }
        let of = open.total.unwrap_or(open.heard.saturating_add(1));
        Some(Done::Refused(Refusal::Gaps { have: open.heard, of }.to_string()))
    }

    /// No answer in time.
    pub(super) fn silent(&mut self, now: Time) {
        self.adrift = true;
        let Some(mut open) = self.open.take() else { return };
        if let Purpose::Poll(stream) = open.question.what {
            return self.polls.failed(stream, now);
        }
        match (open.question.what.clone(), self.whole_end(&mut open)) {
            // The answer came, and only its prompt was lost.
            (what, Some(done)) => self.end(&what, done),
            (what, None) if what.repeats() => self.again(open, true),
            (what, None) => self.end(&what, Done::Silent),
        }
    }

    /// A question that may be repeated is, unless it was sent often enough.
    fn again(&mut self, mut open: Open, silent: bool) {
        if open.question.sent < TRIES {
            self.adrift = true;
            self.queue.push_front(open.question);
        } else if silent {
            self.end(&open.question.what, Done::Silent);
        } else {
            let said = open.strange.take().unwrap_or_else(|| "it said nothing".to_owned());
            self.end(&open.question.what, Done::Refused(Refusal::Strange(said).to_string()));
        }
    }

    /// The board says that it starts.
    fn restarted(&mut self) {
        self.adrift = true;
        let Some(open) = self.open.take() else { return };
        match &open.question.what {
            Purpose::Poll(_) | Purpose::Stop => {}
            Purpose::Restart(_) | Purpose::Leave(_) => self.end(&open.question.what, Done::Ok),
            what if what.repeats() => self.again(open, true),
            what => self.end(&what.clone(), Done::Refused(Common::Restarted.to_string())),
        }
    }
}
