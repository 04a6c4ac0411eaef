//! The codec itself: what is sent when, and what a stop takes away.

use super::super::motor_run::BoundedRun;
use super::super::outbox::Outbox;
use super::super::polled;
use super::super::polls::{Polls, Wait};
use super::super::refusal::Common;
use super::super::signals::{Done, Identity, Link, LinkEvent, Outgoing, Request, Stream, Ticket};
use super::super::value::{Number, SettingName};
use super::ConsoleSheet;
use super::lines::{Lines, Piece};
use super::question::{self, Open, Purpose, Question};
use super::refusal::Refusal;
use super::sheet::Capability;
use super::template::{self, Place};
use crate::measure::time::Time;
use std::collections::{BTreeMap, VecDeque};

/// Settings that are remembered at most; no list is longer.
pub(super) const MOST_NAMES: u32 = 65_535;

/// So many lines may be on their way back.
const ECHOES: usize = 8;

/// The link. One per wire.
#[derive(Debug)]
pub struct ConsoleLink {
    pub(super) sheet: ConsoleSheet,
    lines: Lines,
    /// Kept empty between receptions, so that its room is used again.
    pieces: Vec<Piece>,
    pub(super) polls: Polls,
    pub(super) wait: Wait,
    pub(super) queue: VecDeque<Question>,
    pub(super) open: Option<Open>,
    /// The last lines that left, of which a wire may send each back.
    pub(super) typed: VecDeque<String>,
    /// The prompt that stands open was told.
    pub(super) prompted: bool,
    /// The board may stand in a half-typed line, a page, or outside of its console.
    pub(super) adrift: bool,
    /// The last question sent was a request, so a signal that is due goes before the next.
    asked: bool,
    /// The console was left, and is opened again by the next request.
    left: bool,
    /// Answers to a page's mark that are still to be sent.
    pub(super) turns: u32,
    /// A prompt or an answer of the sheet's was heard since the wire was opened.
    pub(super) heard_it: bool,
    pub(super) identity: Option<Identity>,
    /// Whether each setting holds whole numbers, as it was heard.
    pub(super) whole: BTreeMap<SettingName, bool>,
    pub(super) listed: bool,
    pub(super) outbox: Outbox,
}

impl ConsoleLink {
    /// A link that speaks as a sheet says.
    #[must_use]
    pub fn new(sheet: ConsoleSheet) -> Self {
        let lines = Lines::new(sheet.prompt.clone(), sheet.more.as_ref().map(|(mark, _)| mark.clone()));
        Self {
            sheet,
            lines,
            pieces: Vec::new(),
            polls: Polls::default(),
            wait: Wait::default(),
            queue: VecDeque::new(),
            open: None,
            typed: VecDeque::new(),
            prompted: false,
            adrift: true,
            asked: false,
            left: false,
            turns: 0,
            heard_it: false,
            identity: None,
            whole: BTreeMap::new(),
            listed: false,
            outbox: Outbox::default(),
        }
    }

    fn request(&mut self, ticket: Ticket, request: &Request) -> Result<(), Refusal> {
        match request {
            // The flag is asked for all along.
            Request::Heartbeat | Request::ArmedFlag => self.outbox.end(ticket, Done::Ok),
            Request::Stream(stream, hertz) => {
                let idle = self.polls.request((*stream, *hertz), self.sheet.gives(*stream), question::LINK)?;
                if !(idle && self.leave(ticket)) {
                    self.outbox.end(ticket, Done::Ok);
                }
            }
            _ => {
                if let Some(question) = self.question(ticket, request)? {
                    if question.what.urgent() {
                        self.queue.push_front(question);
                    } else {
                        self.queue.push_back(question);
                    }
                }
            }
        }
        Ok(())
    }

    /// Nothing is asked for any more: the console is left, where the sheet says how.
    fn leave(&mut self, ticket: Ticket) -> bool {
        let Some(line) = self.sheet.leave.clone() else { return false };
        self.queue.push_back(Question { what: Purpose::Leave(ticket), line, does: Outgoing::Ask, sent: 0 });
        true
    }

    /// What a request asks, with its line; `None` where it is no question of its own.
    fn question(&self, ticket: Ticket, request: &Request) -> Result<Option<Question>, Refusal> {
        let (what, does, values) = match request {
            Request::Identify => (Purpose::Identify(ticket), Outgoing::Identify, Vec::new()),
            Request::ListSettings if self.listing() => return Err(Common::ListBusy.into()),
            Request::ListSettings => (Purpose::List(ticket), Outgoing::Ask, Vec::new()),
            Request::ReadSetting(name) => {
                (Purpose::Read(ticket, name.clone()), Outgoing::Ask, vec![(Place::Name, self.known(name)?)])
            }
            Request::WriteSetting(name, value) | Request::WriteUnordered(name, value) => {
                let held = template::number(self.as_held(name, *value)?)?;
                let values = vec![(Place::Name, self.known(name)?), (Place::Value, held)];
                let does = Outgoing::Write { name: name.clone(), value: Some(*value) };
                (Purpose::Write(ticket, name.clone(), *value), does, values)
            }
            Request::Store => (Purpose::Store(ticket), Outgoing::Store, Vec::new()),
            Request::Restart => (Purpose::Restart(ticket), Outgoing::Restart, Vec::new()),
            Request::Disarm { force } => (Purpose::Disarm(ticket), Outgoing::Disarm { force: *force }, Vec::new()),
            Request::RunMotor { motor, pulse, lease_ms } => {
                let run = BoundedRun::new(*motor, *pulse, *lease_ms).map_err(Common::from)?;
                let does = Outgoing::Motor { motor: run.motor(), pulse: run.pulse(), lease: run.lease() };
                (Purpose::Run(ticket), does, question::run(run))
            }
            Request::Stream(..) | Request::ArmedFlag | Request::Heartbeat => return Ok(None),
        };
        let Some(need) = what.need() else { return Ok(None) };
        let line = question::line(&self.sheet, need, &values)?;
        Ok(Some(Question { what, line, does, sent: 0 }))
    }

    fn listing(&self) -> bool {
        let list = |question: &Question| matches!(question.what, Purpose::List(_));
        self.queue.iter().any(list) || self.open.as_ref().is_some_and(|open| list(&open.question))
    }

    /// A name that the board or the sheet has given.
    fn known(&self, name: &SettingName) -> Result<String, Refusal> {
        if !self.whole.contains_key(name) && !self.sheet.names.contains(name) {
            return Err(Refusal::Unknown(name.clone()));
        }
        Ok(template::name(name)?)
    }

    /// A value in the form in which the board holds it.
    fn as_held(&self, name: &SettingName, value: Number) -> Result<Number, Refusal> {
        if !self.listed {
            return Err(Common::NotListed.into());
        }
        let whole = *self.whole.get(name).ok_or_else(|| Refusal::Unknown(name.clone()))?;
        polled::as_held(value, whole).ok_or_else(|| Common::NotWhole { name: name.clone(), value }.into())
    }

    /// The question to send now, if any.
    fn next(&mut self, now: Time) -> Option<Question> {
        let urgent = self.queue.front().is_some_and(|question| question.what.urgent());
        // Alternating, so that neither waits for the other; nothing is asked for once the console is being left.
        if !urgent
            && (self.asked || self.queue.is_empty())
            && let Some(stream) = self.polls.next(now)
            && let Ok(line) = question::line(&self.sheet, Capability::of(stream), &[])
        {
            self.asked = false;
            self.polls.asked(stream, now);
            // A console says nothing by itself: whether anybody is there is seen by asking whether it is armed.
            let does = if stream == Stream::Alive { Outgoing::Presence } else { Outgoing::Ask };
            return Some(Question { what: Purpose::Poll(stream), line, does, sent: 0 });
        }
        self.asked = true;
        self.queue.pop_front()
    }

    /// Bytes that bring the board to its prompt from wherever it stands.
    fn bring_back(&self, out: &mut Vec<u8>) {
        out.extend(self.sheet.interrupt.iter().flat_map(|text| text.bytes()));
        // Two ends of a line: an open console shows its prompt, one that was left opens.
        out.extend(self.sheet.line_end.bytes());
        out.extend(self.sheet.line_end.bytes());
    }

    fn put(&mut self, now: Time, mut question: Question, out: &mut Vec<u8>) {
        let before = out.len();
        if std::mem::take(&mut self.adrift) {
            self.bring_back(out);
        }
        out.extend(question.line.bytes());
        out.extend(self.sheet.line_end.bytes());
        self.outbox.made(out.len() - before, question.does.clone());
        question.sent += 1;
        self.left = matches!(question.what, Purpose::Leave(_));
        let most = self.sheet.answer_within;
        let wait = if matches!(question.what, Purpose::Poll(_)) { self.wait.time(most) } else { most };
        self.types(&question.line);
        self.open = Some(Open::new(question, self.sheet.echo, now, now + wait));
    }

    fn types(&mut self, line: &str) {
        self.typed.truncate(ECHOES - 1);
        self.typed.push_front(line.to_owned());
    }

    /// The stop's own bytes, in every state of the console.
    fn stop_line(&self) -> Option<(String, Vec<u8>)> {
        let line = question::line(&self.sheet, Capability::Stop, &[]).ok()?;
        let mut out = Vec::new();
        self.bring_back(&mut out);
        out.extend(line.bytes());
        out.extend(self.sheet.line_end.bytes());
        Some((line, out))
    }

    pub(super) fn end(&mut self, what: &Purpose, done: Done) {
        self.outbox.end(what.ticket(), done);
    }

    /// Takes away what a stop overtakes; what only reads is asked again after it.
    fn overtake(&mut self) {
        let open = self.open.take().map(|open| open.question);
        let waiting: Vec<Question> = open.into_iter().chain(self.queue.drain(..)).collect();
        for mut question in waiting {
            match question.what {
                Purpose::Poll(_) | Purpose::Stop => {}
                Purpose::Leave(_) => self.end(&question.what, Done::Ok),
                ref what if what.overtaken() => {
                    let what = what.clone();
                    self.end(&what, Done::Refused(Common::Overtaken.to_string()));
                }
                _ => {
                    question.sent = 0;
                    self.queue.push_back(question);
                }
            }
        }
        self.turns = 0;
    }
}

impl Link for ConsoleLink {
    fn receive(&mut self, now: Time, bytes: &[u8], heard: &mut Vec<LinkEvent>) {
        let mut pieces = std::mem::take(&mut self.pieces);
        self.lines.feed(bytes, &mut pieces);
        for piece in pieces.drain(..) {
            self.piece(now, piece, heard);
        }
        self.pieces = pieces;
        self.outbox.tell(heard);
    }

    fn send(&mut self, now: Time, ticket: Ticket, request: Request, out: &mut Vec<u8>) {
        if let Err(refusal) = self.request(ticket, &request) {
            self.outbox.end(ticket, Done::Refused(refusal.to_string()));
        }
        self.go_on(now, out);
    }

    fn wake(&self) -> Time {
        if self.outbox.waits() || self.turns > 0 {
            return Time(0);
        }
        match &self.open {
            Some(open) => open.due,
            None if !self.queue.is_empty() => Time(0),
            None => self.polls.wake(),
        }
    }

    fn work(&mut self, now: Time, out: &mut Vec<u8>, heard: &mut Vec<LinkEvent>) {
        self.go_on(now, out);
        self.outbox.tell(heard);
    }

    /// A break, two ends of a line, and the line that stops. What was about to write, store, restart or turn a motor is
    /// given up.
    fn stop_bytes(&mut self, _force: bool) -> Option<Vec<u8>> {
        let (line, out) = self.stop_line()?;
        self.overtake();
        self.adrift = false;
        self.left = false;
        self.types(&line);
        let question = Question { what: Purpose::Stop, line, does: Outgoing::Disarm { force: false }, sent: 1 };
        // Without a moment of its own, it waits as long as any answer from the next one on.
        self.open = Some(Open::new(question, self.sheet.echo, Time(0), Time(0)));
        Some(out)
    }

    fn preview(&self, request: &Request) -> Result<Vec<u8>, String> {
        let question = self.question(Ticket(0), request).map_err(|refusal| refusal.to_string())?;
        let Some(question) = question.filter(|question| question.what.changes()) else {
            return Err("only what changes a board is shown beforehand".to_owned());
        };
        Ok(question.line.bytes().chain(self.sheet.line_end.bytes()).collect())
    }

    fn frames_made(&mut self, bytes: &[u8]) -> Vec<(Vec<u8>, Outgoing)> {
        self.outbox.frames(bytes)
    }

    fn refuse(&mut self, frame: &Outgoing, why: &str) {
        // Its line never left: what was asked ends, and the next may be asked.
        if let Some(open) = self.open.take_if(|open| open.question.does == *frame) {
            self.end(&open.question.what, Done::Refused(Common::NotNow(why.to_owned()).to_string()));
        }
    }

    fn held_stop_bytes(&mut self) -> Option<Vec<u8>> {
        self.stop_line().map(|(_, bytes)| bytes)
    }

    fn reset(&mut self) {
        let whole = std::mem::take(&mut self.whole);
        *self = Self { whole, listed: self.listed, ..Self::new(self.sheet.clone()) };
    }

    /// A console writes numbers as they are: nothing is left open once the board's settings were listed.
    fn encoding_proved(&self) -> bool {
        self.listed
    }

    fn answered(&self) -> bool {
        self.heard_it
    }
}

impl ConsoleLink {
    /// Timeouts, pages, and the next question.
    fn go_on(&mut self, now: Time, out: &mut Vec<u8>) {
        if let Some(open) = &mut self.open
            && open.question.what == Purpose::Stop
            && open.due == Time(0)
        {
            open.sent_at = now;
            open.due = now + self.sheet.answer_within;
        }
        if self.open.as_ref().is_some_and(|open| open.due <= now) {
            self.silent(now);
        }
        if let Some((_, answer)) = &self.sheet.more {
            for _ in 0..std::mem::take(&mut self.turns) {
                out.extend(answer.bytes());
                self.outbox.made(answer.len(), Outgoing::Ask);
            }
        }
        if self.open.is_none() && !(self.left && self.queue.is_empty()) {
            if std::mem::take(&mut self.left) {
                self.adrift = true;
            }
            if let Some(question) = self.next(now) {
                self.put(now, question, out);
            }
        }
    }
}
