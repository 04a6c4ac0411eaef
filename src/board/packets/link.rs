//! The codec itself: what is sent when, and what a stop takes away.

use super::super::console::Capability;
use super::super::outbox::Outbox;
use super::super::polls::{Polls, Wait};
use super::super::refusal::Common;
use super::super::signals::{Done, Identity, Link, LinkEvent, Outgoing, Request, Stream, Ticket};
use super::super::value::SettingName;
use super::PacketSheet;
use super::framing::Packet;
use super::gate;
use super::question::{Open, Purpose, Question};
use super::refusal::Refusal;
use super::splitter::{Found, Splitter};
use crate::measure::time::Time;
use std::collections::{BTreeMap, VecDeque};
use std::rc::Rc;
use std::time::Duration;

/// How long something that nothing answers is taken to be under way.
const UNANSWERED: Duration = Duration::from_millis(5);

/// The link. One per wire.
#[derive(Debug)]
pub struct PacketLink {
    pub(super) sheet: Rc<PacketSheet>,
    splitter: Splitter,
    pub(super) polls: Polls,
    pub(super) wait: Wait,
    pub(super) queue: VecDeque<Question>,
    pub(super) open: VecDeque<Open>,
    /// The last question sent was a request, so a signal that is due goes before the next.
    asked: bool,
    sequence: u16,
    /// What each packet of settings held as it was told last.
    pub(super) held: BTreeMap<usize, Vec<u8>>,
    /// What the packet held that is being written, just before, and the setting that is meant.
    pub(super) base: Option<(usize, Vec<u8>, SettingName)>,
    /// A reading of all settings, and how many packets of it are still to come.
    pub(super) listing: Option<(Ticket, usize)>,
    pub(super) listed: bool,
    pub(super) identity: Option<Identity>,
    /// An answer of the sheet's was heard since the wire was opened.
    pub(super) heard_it: bool,
    pub(super) outbox: Outbox,
}

impl PacketLink {
    /// A link that speaks as a sheet says.
    #[must_use]
    pub fn new(sheet: PacketSheet) -> Self {
        Self {
            splitter: Splitter::new(sheet.framing.clone()),
            sheet: Rc::new(sheet),
            polls: Polls::default(),
            wait: Wait::default(),
            queue: VecDeque::new(),
            open: VecDeque::new(),
            asked: false,
            sequence: 0,
            held: BTreeMap::new(),
            base: None,
            listing: None,
            listed: false,
            identity: None,
            heard_it: false,
            outbox: Outbox::default(),
        }
    }

    /// Whether a question may leave beside those that wait for their answers.
    fn may_join(&self, what: &Purpose) -> bool {
        let reads = |open: &Open| open.question.what.reads();
        self.open.is_empty() || what.reads() && self.open.len() < self.sheet.at_once && self.open.iter().all(reads)
    }

    /// The signal to ask for now, where none goes before it.
    fn poll(&mut self, now: Time) -> Option<Question> {
        let urgent = self.queue.front().is_some_and(|question| question.what.urgent());
        // Alternating, so that neither waits for the other.
        if urgent || !(self.asked || self.queue.is_empty()) {
            return None;
        }
        let stream = self.polls.next(now)?;
        let Ok((id, payload)) = self.packet_of(Capability::of(stream)) else {
            // The board gives it by itself.
            self.polls.skips(stream, now);
            return None;
        };
        let what = Purpose::Poll(stream);
        if !self.may_join(&what) {
            return None;
        }
        if self.open.iter().any(|open| open.question.what == what) {
            // The one before is still on its way.
            self.polls.skips(stream, now);
            return None;
        }
        self.asked = false;
        for (stream, _) in self.sheet.told_with(stream) {
            self.polls.asked(stream, now);
        }
        Some(Question::new(what, id, payload))
    }

    /// The question to send now, if any.
    fn next(&mut self, now: Time) -> Option<Question> {
        if let Some(poll) = self.poll(now) {
            return Some(poll);
        }
        let front = self.queue.front()?;
        if !self.may_join(&front.what) {
            return None;
        }
        self.asked = true;
        self.queue.pop_front()
    }

    fn put(&mut self, now: Time, mut question: Question, out: &mut Vec<u8>) {
        let sequence = self.sheet.framing.sequences().map_or(0, |most| {
            self.sequence = if self.sequence >= most { 1 } else { self.sequence + 1 };
            self.sequence
        });
        let packet = Packet { id: question.id, sequence, payload: question.payload.clone() };
        let does = gate::outgoing(&self.sheet, self.base.as_ref(), &packet);
        let bytes = self.sheet.framing.encode(&packet);
        self.outbox.made(bytes.len(), does.clone());
        out.extend(bytes);
        question.sent += 1;
        let wait = match &question.what {
            what if what.answer(&self.sheet).is_none() => UNANSWERED,
            Purpose::Poll(_) => self.wait.time(self.sheet.answer_within),
            _ => self.sheet.answer_within,
        };
        self.open.push_back(Open { question, sequence, does, due: now + wait, sent_at: now });
    }

    pub(super) fn end(&mut self, what: &Purpose, done: Done) {
        self.outbox.end(what.ticket(), done);
    }

    /// Ends a question with a reason; where it was part of a reading of all settings, all of that.
    pub(super) fn fail(&mut self, what: &Purpose, why: &Refusal) {
        self.end(what, Done::Refused(why.to_string()));
        self.leave_listing(what);
    }

    fn leave_listing(&mut self, what: &Purpose) {
        let Purpose::Part(ticket, _) = *what else { return };
        if self.listing.take_if(|(of, _)| *of == ticket).is_some() {
            let part = |what: &Purpose| matches!(what, Purpose::Part(of, _) if *of == ticket);
            self.queue.retain(|question| !part(&question.what));
            self.open.retain(|open| !part(&open.question.what));
        }
    }

    /// Takes away what a stop overtakes; what only reads is asked again after it.
    fn overtake(&mut self) {
        let open: Vec<Question> = self.open.drain(..).map(|open| open.question).collect();
        let waiting: Vec<Question> = open.into_iter().chain(self.queue.drain(..)).collect();
        for mut question in waiting {
            match question.what {
                Purpose::Poll(_) => {}
                ref what if what.overtaken() => self.end(&what.clone(), Done::Refused(Common::Overtaken.to_string())),
                _ => {
                    question.sent = 0;
                    self.queue.push_back(question);
                }
            }
        }
        self.base = None;
    }

    /// Something came that is no answer to any question that waits.
    pub(super) fn came_instead(&mut self, what: &Refusal) {
        for open in &mut self.open {
            open.question.instead = Some(what.clone());
        }
    }

    fn take(&mut self, now: Time, found: Vec<Found>, heard: &mut Vec<LinkEvent>) {
        for found in found {
            match found {
                Found::Packet(packet, _) => self.packet(now, &packet, heard),
                Found::Fault(fault) => self.came_instead(&Refusal::Damaged(fault)),
                Found::Skipped(_) => {}
            }
        }
    }

    /// Timeouts, and the next questions.
    fn go_on(&mut self, now: Time, out: &mut Vec<u8>, heard: &mut Vec<LinkEvent>) {
        if self.open.iter().any(|open| open.due <= now) {
            // What stands half received belongs to nobody any more; what stands behind its beginning may.
            let mut found = Vec::new();
            if self.splitter.waiting() > 0 {
                self.splitter.give_up(&mut found);
            }
            self.take(now, found, heard);
        }
        while let Some(open) = self.open.iter().position(|open| open.due <= now).and_then(|at| self.open.remove(at)) {
            self.silent(now, open);
        }
        while let Some(question) = self.next(now) {
            self.put(now, question, out);
        }
    }
}

impl Link for PacketLink {
    fn receive(&mut self, now: Time, bytes: &[u8], heard: &mut Vec<LinkEvent>) {
        let mut found = Vec::new();
        self.splitter.feed(bytes, &mut found);
        self.take(now, found, heard);
        self.outbox.tell(heard);
    }

    fn send(&mut self, now: Time, ticket: Ticket, request: Request, out: &mut Vec<u8>) {
        if let Err(refusal) = self.request(ticket, &request) {
            self.outbox.end(ticket, Done::Refused(refusal.to_string()));
        }
        while let Some(question) = self.next(now) {
            self.put(now, question, out);
        }
    }

    fn wake(&self) -> Time {
        if self.outbox.waits() {
            return Time(0);
        }
        let due = self.open.iter().map(|open| open.due).min().unwrap_or(Time::NEVER);
        if self.queue.front().is_some_and(|question| self.may_join(&question.what)) {
            return Time(0);
        }
        let room = self.may_join(&Purpose::Poll(Stream::Alive)) && (self.asked || self.queue.is_empty());
        if room { due.min(self.polls.wake()) } else { due }
    }

    fn work(&mut self, now: Time, out: &mut Vec<u8>, heard: &mut Vec<LinkEvent>) {
        self.go_on(now, out, heard);
        self.outbox.tell(heard);
    }

    /// The packet that stops. What was about to write, store, restart or turn a motor is given up.
    fn stop_bytes(&mut self, _force: bool) -> Option<Vec<u8>> {
        let out = self.sheet.stop_row()?;
        self.overtake();
        Some(out)
    }

    fn preview(&self, request: &Request) -> Result<Vec<u8>, String> {
        let need = match request {
            Request::Store => Capability::Store,
            Request::Restart => Capability::Restart,
            Request::WriteSetting(..) | Request::WriteUnordered(..) => return Err(Refusal::NotForeseen.to_string()),
            _ => return Err("only what changes a board is shown beforehand".to_owned()),
        };
        let (id, payload) = self.packet_of(need).map_err(|refusal| refusal.to_string())?;
        Ok(self.sheet.framing.encode(&Packet { id, sequence: 1, payload }))
    }

    fn frames_made(&mut self, bytes: &[u8]) -> Vec<(Vec<u8>, Outgoing)> {
        self.outbox.frames(bytes)
    }

    fn refuse(&mut self, frame: &Outgoing, why: &str) {
        // Its packet never left: what was asked ends, and the next may be asked.
        if let Some(open) = self.open.iter().position(|open| open.does == *frame).and_then(|at| self.open.remove(at)) {
            self.fail(&open.question.what, &Common::NotNow(why.to_owned()).into());
        }
    }

    fn held_stop_bytes(&mut self) -> Option<Vec<u8>> {
        self.sheet.stop_row()
    }

    fn reset(&mut self) {
        *self = Self { held: std::mem::take(&mut self.held), listed: self.listed, ..Self::new((*self.sheet).clone()) };
    }

    /// A field writes its number in one way alone: nothing is left open once the board's settings were read.
    fn encoding_proved(&self) -> bool {
        self.listed
    }

    fn answered(&self) -> bool {
        self.heard_it
    }
}
