//! What each packet that a board sends does to the questions that are open.
//!
//! Promises: an answer is taken by the question that it belongs to and by no other; what is said unasked belongs to nobody;
//! a packet of settings that changed in what was not meant is never written.

use super::super::console::Capability;
use super::super::polled::{self, TRIES, said};
use super::super::refusal::Common;
use super::super::signals::{Done, LinkEvent, Stream};
use super::super::value::NoValue;
use super::decode::AnswerPayload;
use super::framing::Packet;
use super::gate;
use super::link::PacketLink;
use super::question::{Change, Open, Purpose, Question};
use super::refusal::Refusal;
use super::sheet::Shape;
use crate::measure::time::Time;

impl PacketLink {
    pub(super) fn packet(&mut self, now: Time, packet: &Packet, heard: &mut Vec<LinkEvent>) {
        let sheet = self.sheet.clone();
        let of = |shape: &Option<Shape>| shape.clone().filter(|shape| shape.is(packet.id, &packet.payload));
        if let Some(shape) = of(&sheet.note) {
            let text = self.answer(&shape, packet).words("text");
            heard.push(said(text));
            return;
        }
        if of(&sheet.banner).is_some() {
            heard.push(LinkEvent::Banner);
            self.restarted();
            return;
        }
        if let Some(shape) = of(&sheet.refusal) {
            self.refused(now, &shape, packet, heard);
            return;
        }
        let numbered = sheet.framing.sequences().is_some();
        let waits = |open: &Open| {
            let answer = open.question.what.answer(&sheet);
            answer.is_some_and(|shape| shape.is(packet.id, &packet.payload))
                && (!numbered || open.sequence == packet.sequence)
        };
        if let Some(open) = self.open.iter().position(waits).and_then(|at| self.open.remove(at)) {
            self.heard_it = true;
            self.wait.took(now.since(open.sent_at));
            self.take_answer(now, open, packet, heard);
            return;
        }
        let unasked = self.unasked(packet);
        if unasked.is_empty() {
            return self.came_instead(&Refusal::Other(packet.id));
        }
        self.heard_it = true;
        for (stream, shape) in unasked {
            let _ = self.answer(&shape, packet).signal(stream, heard);
        }
    }

    fn answer<'a>(&self, shape: &'a Shape, packet: &'a Packet) -> AnswerPayload<'a> {
        AnswerPayload { shape, order: self.sheet.framing.order, payload: &packet.payload }
    }

    /// The signals that a packet tells by itself.
    fn unasked(&self, packet: &Packet) -> Vec<(Stream, Shape)> {
        let given = self.sheet.exchanges.iter().filter(|(_, exchange)| exchange.unasked);
        given
            .filter_map(|(need, exchange)| {
                let shape = exchange.answer.as_ref()?;
                let told = shape.is(packet.id, &packet.payload) && shape.fits(&packet.payload);
                told.then_some((need.stream()?, shape.clone()))
            })
            .collect()
    }

    /// The board says no: to the question that it names, or to the first that waits.
    fn refused(&mut self, now: Time, shape: &Shape, packet: &Packet, heard: &mut Vec<LinkEvent>) {
        let said = self.answer(shape, packet);
        let asked = said.whole("asked");
        let at = self.open.iter().position(|open| asked.is_none_or(|asked| i64::from(open.question.id) == asked));
        let Some(open) = at.and_then(|at| self.open.remove(at)) else { return };
        self.heard_it = true;
        let why = said.words("why");
        match &open.question.what {
            Purpose::Poll(stream) => {
                heard.extend(polled::refused(*stream));
                self.polls.refused(*stream, now);
            }
            what => self.fail(&what.clone(), &Refusal::Board(why)),
        }
    }

    fn take_answer(&mut self, now: Time, open: Open, packet: &Packet, heard: &mut Vec<LinkEvent>) {
        let Some(shape) = open.question.what.answer(&self.sheet).cloned() else { return };
        if !shape.fits(&packet.payload) {
            let table = open.question.what.table(&self.sheet);
            let why = Refusal::Length { table, found: packet.payload.len(), wanted: shape.length };
            return self.unfit(now, open, &why);
        }
        let said = self.answer(&shape, packet);
        let unreadable = || Refusal::Unreadable(open.question.what.table(&self.sheet));
        match open.question.what.clone() {
            Purpose::Poll(stream) => {
                let sheet = self.sheet.clone();
                for (told, shape) in sheet.told_with(stream) {
                    let said = self.answer(shape, packet);
                    if shape.fits(&packet.payload) && said.signal(told, heard).is_some() {
                        self.polls.answered(told);
                    } else {
                        self.polls.failed(told, now);
                        let table = format!("[packets.{}]", Capability::of(told).key());
                        self.outbox.misread(told, &Refusal::Unreadable(table));
                    }
                }
            }
            Purpose::Identify(_) => {
                let Some(identity) = said.identity() else {
                    let why = unreadable();
                    return self.unfit(now, open, &why);
                };
                if self.identity.as_ref().is_some_and(|known| known.id != identity.id) {
                    heard.push(polled::another());
                    self.held.clear();
                    self.listed = false;
                }
                self.identity = Some(identity.clone());
                heard.push(LinkEvent::Identity(identity));
                self.end(&open.question.what, Done::Ok);
            }
            Purpose::Part(ticket, place) => {
                self.tell(place, &packet.payload, heard);
                if let Some((of, left)) = &mut self.listing
                    && *of == ticket
                {
                    *left = left.saturating_sub(1);
                    if *left == 0 {
                        self.listing = None;
                        self.listed = true;
                        let all = self.sheet.settings.iter().flat_map(|packet| &packet.fields);
                        heard.push(LinkEvent::Listed(all.map(|(name, _)| name.clone()).collect()));
                        self.end(&open.question.what, Done::Ok);
                    }
                }
            }
            Purpose::Read(_, place) => {
                self.tell(place, &packet.payload, heard);
                self.end(&open.question.what, Done::Ok);
            }
            Purpose::Before(change) => self.before(change, &packet.payload),
            Purpose::Write(change) => {
                if said.refuses() {
                    self.fail(&open.question.what, &Refusal::Board(said.words("why")));
                } else {
                    self.read_back(change, true);
                }
            }
            Purpose::Back(change, _) => self.back(open, change, &packet.payload, heard),
            Purpose::Store(_) | Purpose::Restart(_) | Purpose::Run(_) | Purpose::Disarm(_) => {
                if said.refuses() {
                    self.fail(&open.question.what, &Refusal::Board(said.words("why")));
                } else {
                    self.end(&open.question.what, Done::Ok);
                }
            }
        }
    }

    /// Tells what a packet of settings holds, and keeps it as what was told.
    fn tell(&mut self, place: usize, payload: &[u8], heard: &mut Vec<LinkEvent>) {
        let first: usize = self.sheet.settings.iter().take(place).map(|packet| packet.fields.len()).sum();
        let Some(packet) = self.sheet.settings.get(place) else { return };
        for (at, (name, field)) in packet.fields.iter().enumerate() {
            let (name, index) = (name.clone(), u16::try_from(first + at).ok());
            heard.push(match field.number(payload, self.sheet.framing.order, 0) {
                Some(value) => LinkEvent::Setting { name, value, index },
                None => LinkEvent::NoValue { name, why: NoValue::NoNumber },
            });
        }
        self.held.insert(place, payload.to_vec());
    }

    /// The packet as it stands just before it is written: written only if everything but the setting is as it was told.
    fn before(&mut self, change: Change, payload: &[u8]) {
        let what = Purpose::Before(change.clone());
        let Some(packet) = self.sheet.settings.get(change.packet) else { return };
        let known = self.held.get(&change.packet).filter(|known| known.len() == payload.len());
        let differs = match known {
            Some(known) => gate::stranger(&self.sheet, packet, gate::differing(known, payload), &change.name),
            None => Some(format!("[packets.settings.{}]", packet.key)),
        };
        if let Some(differs) = differs {
            let name = change.name;
            return self.fail(&what, &Refusal::NeighbourDiffers { what: differs, name });
        }
        let field = packet.fields.iter().find(|(name, _)| *name == change.name).map(|(_, field)| field);
        let mut whole = payload.to_vec();
        let (Some(field), Some(id)) = (field, packet.write) else { return };
        if !field.put(&mut whole, self.sheet.framing.order, change.value) {
            let Change { name, value, .. } = change;
            return self.fail(&what, &Refusal::DoesNotFit { name, value });
        }
        self.base = Some((change.packet, payload.to_vec(), change.name.clone()));
        self.queue.push_front(Question::new(Purpose::Write(change), id, whole));
    }

    pub(super) fn read_back(&mut self, change: Change, acknowledged: bool) {
        let Some(packet) = self.sheet.settings.get(change.packet) else { return };
        let (id, payload) = (packet.ask.id, packet.ask.payload.clone());
        self.queue.push_front(Question::new(Purpose::Back(change, acknowledged), id, payload));
    }

    /// The packet as it stands after it was written.
    fn back(&mut self, open: Open, change: Change, payload: &[u8], heard: &mut Vec<LinkEvent>) {
        let Some(packet) = self.sheet.settings.get(change.packet) else { return };
        let field = packet.fields.iter().find(|(name, _)| *name == change.name).map(|(_, field)| field);
        let value = field.and_then(|field| field.number(payload, self.sheet.framing.order, 0));
        let written = value.is_some_and(|value| value.same(change.value));
        // A late answer to the reading before the write looks just so: asked once more before it is believed.
        if !written && open.question.sent < TRIES {
            self.queue.push_front(open.question);
            return;
        }
        let base = self.base.take().filter(|(place, held, _)| *place == change.packet && held.len() == payload.len());
        let moved = base.and_then(|(_, held, _)| {
            gate::stranger(&self.sheet, packet, gate::differing(&held, payload), &change.name)
        });
        self.tell(change.packet, payload, heard);
        let acknowledged = matches!(open.question.what, Purpose::Back(_, true));
        match (moved, value) {
            (Some(what), _) => {
                let name = change.name;
                self.fail(&open.question.what, &Refusal::NeighbourChanged { what, name });
            }
            (None, _) if written => self.end(&open.question.what, Done::Ok),
            (None, Some(value)) if acknowledged => self.end(&open.question.what, Done::Differs(value)),
            (None, Some(_)) => self.end(&open.question.what, Done::Silent),
            (None, None) => {
                let why = Refusal::Unreadable(open.question.what.table(&self.sheet));
                self.fail(&open.question.what, &why);
            }
        }
    }

    /// An answer that is none: asked again where that does no harm.
    fn unfit(&mut self, now: Time, open: Open, why: &Refusal) {
        match open.question.what {
            Purpose::Poll(stream) => {
                self.polls.failed(stream, now);
                self.outbox.misread(stream, why);
            }
            ref what if what.repeats() && open.question.sent < TRIES => self.queue.push_front(open.question),
            what => self.fail(&what, why),
        }
    }

    /// No answer in time.
    pub(super) fn silent(&mut self, now: Time, open: Open) {
        let why = open.question.instead.clone();
        match open.question.what.clone() {
            Purpose::Poll(stream) => {
                self.polls.failed(stream, now);
                if let Some(why) = why {
                    self.outbox.misread(stream, &why);
                }
            }
            what if what.answer(&self.sheet).is_none() => match what {
                Purpose::Write(change) => self.read_back(change, false),
                // Nothing answers it: what it did is seen elsewhere.
                what => self.end(&what, Done::Ok),
            },
            what if what.repeats() && open.question.sent < TRIES => self.queue.push_front(open.question),
            Purpose::Write(change) => self.read_back(change, false),
            what => match why {
                Some(why) => self.fail(&what, &why),
                None => self.end(&what, Done::Silent),
            },
        }
    }

    /// The board says that it starts.
    fn restarted(&mut self) {
        let open: Vec<Open> = self.open.drain(..).collect();
        for open in open {
            match open.question.what.clone() {
                Purpose::Poll(_) => {}
                what @ Purpose::Restart(_) => self.end(&what, Done::Ok),
                what if what.reads() && open.question.sent < TRIES => self.queue.push_back(open.question),
                what => self.fail(&what, &Common::Restarted.into()),
            }
        }
    }
}
