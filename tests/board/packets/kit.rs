//! What the tests of this folder share: a link to a wire that a test speaks for by hand, or to a virtual board.

use quadjig::board::packets::framing::Packet;
use quadjig::board::packets::splitter::{Found, Splitter};
use quadjig::board::packets::{PacketLink, PacketSheet};
use quadjig::board::sheet_file;
use quadjig::board::shipped::SHEETS;
use quadjig::board::signals::{Done, Link, LinkEvent, Outgoing, Request, Stream, Ticket};
use quadjig::board::value::{Number, SettingName};
use quadjig::measure::time::Time;
use quadjig::virtual_board::{BoardKind, World, WorldConfig};
use std::collections::BTreeMap;
use std::time::Duration;

pub fn text(stem: &str) -> &'static str {
    SHEETS.iter().find(|sheet| sheet.stem == stem).unwrap().text
}

pub fn packets(text: &str) -> PacketSheet {
    let sheet = sheet_file::read("try.toml", text).unwrap_or_else(|error| panic!("{error}"));
    sheet.packets().unwrap().clone()
}

pub fn name(text: &str) -> SettingName {
    SettingName::new(text).unwrap()
}

pub fn write(setting: &str, value: i64) -> Request {
    Request::WriteSetting(name(setting), Number::Whole(value))
}

pub fn done(heard: &[LinkEvent], ticket: u32) -> Option<Done> {
    heard.iter().find_map(|heard| match heard {
        LinkEvent::Done { ticket: ended, result } if ended.0 == ticket => Some(result.clone()),
        _ => None,
    })
}

pub fn settings(heard: &[LinkEvent]) -> BTreeMap<String, Number> {
    heard
        .iter()
        .filter_map(|heard| match heard {
            LinkEvent::Setting { name, value, .. } => Some((name.to_string(), *value)),
            _ => None,
        })
        .collect()
}

/// The packets in some bytes, which are nothing else.
pub fn split(sheet: &PacketSheet, bytes: &[u8]) -> Vec<Packet> {
    let (mut splitter, mut found) = (Splitter::new(sheet.framing.clone()), Vec::new());
    splitter.feed(bytes, &mut found);
    assert_eq!(splitter.waiting(), 0);
    found
        .into_iter()
        .map(|found| match found {
            Found::Packet(packet, _) => packet,
            other => panic!("{other:?}"),
        })
        .collect()
}

/// A wire whose board's side a test speaks by hand, of a Finch P.
pub struct ByHand {
    pub sheet: PacketSheet,
    pub link: PacketLink,
    pub now: Time,
    pub heard: Vec<LinkEvent>,
    /// The packets that were sent, with what each does.
    pub sent: Vec<(Packet, Outgoing)>,
    /// What the board says to a question that reads settings.
    pub holds: BTreeMap<u16, Vec<u8>>,
}

impl ByHand {
    /// A link that asks for nothing by itself.
    pub fn new(text: &str) -> Self {
        let sheet = packets(text);
        let link = PacketLink::new(sheet.clone());
        let holds = sheet.settings.iter().map(|packet| (packet.ask.id, vec![0; packet.answer.length])).collect();
        let (now, heard, sent) = (Time(1_000_000), Vec::new(), Vec::new());
        let mut hand = Self { sheet, link, now, heard, sent, holds };
        hand.asks(99, Request::Stream(Stream::Alive, None));
        hand.work();
        hand.heard.clear();
        hand
    }

    pub fn work(&mut self) {
        let mut out = Vec::new();
        self.link.work(self.now, &mut out, &mut self.heard);
        self.keep(&out);
    }

    pub fn keep(&mut self, out: &[u8]) {
        for (bytes, does) in self.link.frames_made(out) {
            let packet = split(&self.sheet, &bytes).remove(0);
            self.sent.push((packet, does));
        }
    }

    pub fn asks(&mut self, ticket: u32, request: Request) {
        let mut out = Vec::new();
        self.link.send(self.now, Ticket(ticket), request, &mut out);
        self.keep(&out);
    }

    pub fn says(&mut self, id: u16, payload: &[u8]) {
        let bytes = self.sheet.framing.encode(&Packet { id, sequence: 0, payload: payload.to_vec() });
        self.link.receive(self.now, &bytes, &mut self.heard);
        self.work();
    }

    pub fn wait(&mut self, time: Duration) {
        let end = self.now + time;
        while self.now < end {
            self.now = self.link.wake().min(end).max(self.now + Duration::from_micros(1));
            self.work();
        }
    }

    /// The one packet that was sent since the last look.
    pub fn take(&mut self) -> (Packet, Outgoing) {
        assert_eq!(self.sent.len(), 1, "{:?}", self.sent);
        self.sent.remove(0)
    }

    pub fn done(&self, ticket: u32) -> Option<Done> {
        done(&self.heard, ticket)
    }

    /// Answers every reading of settings that was asked by what the board holds, until another packet is sent.
    pub fn answers_readings(&mut self) {
        while let Some((packet, _)) = self.sent.first()
            && let Some(holds) = self.holds.get(&packet.id).cloned()
        {
            let id = packet.id | 0x80;
            self.sent.remove(0);
            self.says(id, &holds);
        }
    }

    /// Reads all settings.
    pub fn lists(&mut self) {
        self.asks(90, Request::ListSettings);
        self.answers_readings();
        assert_eq!(self.done(90), Some(Done::Ok));
        self.heard.clear();
    }
}

/// The link and a virtual board on one wire.
pub struct OnBoard {
    pub world: World,
    pub link: PacketLink,
    pub now: Time,
    /// Every byte that was sent.
    pub sent: Vec<u8>,
    /// How many bytes came.
    pub came: usize,
    tickets: u32,
    there: bool,
}

impl OnBoard {
    pub fn new(config: WorldConfig) -> Self {
        let stem = if config.board == BoardKind::FinchQ { "finch-q" } else { "finch-p" };
        Self::with(config, packets(text(stem)))
    }

    pub fn with(config: WorldConfig, sheet: PacketSheet) -> Self {
        let (world, link) = (World::new(config), PacketLink::new(sheet));
        Self { world, link, now: Time(0), sent: Vec::new(), came: 0, tickets: 0, there: true }
    }

    pub fn wait(&mut self, milliseconds: u64) -> Vec<LinkEvent> {
        self.wait_for(milliseconds, |_| false)
    }

    /// Up to so long, or until something was heard.
    pub fn wait_for(&mut self, milliseconds: u64, ends: impl Fn(&[LinkEvent]) -> bool) -> Vec<LinkEvent> {
        let end = Time(self.now.0 + milliseconds * 1000);
        let mut heard = Vec::new();
        let mut talked = false;
        while self.now < end && !ends(&heard) {
            let link = if self.there { self.link.wake() } else { Time::NEVER };
            let next = self.world.wake().min(link).min(end);
            // What was said just now is heard just after.
            self.now = if talked { self.now } else { next }.max(Time(self.now.0 + 1));
            self.world.advance(self.now);
            let there = self.world.link_present();
            if self.there && !there {
                self.link.reset();
            }
            self.there = there;
            let came = self.world.take_output();
            self.came += came.len();
            self.link.receive(self.now, &came, &mut heard);
            let mut out = Vec::new();
            if there {
                self.link.work(self.now, &mut out, &mut heard);
            }
            talked = !out.is_empty();
            self.put(&out);
        }
        heard
    }

    pub fn put(&mut self, bytes: &[u8]) {
        self.sent.extend(bytes);
        self.world.receive(self.now, bytes);
    }

    /// Asks, and waits for the end of it, up to so long.
    pub fn ask(&mut self, request: Request, milliseconds: u64) -> (Done, Vec<LinkEvent>) {
        self.tickets += 1;
        let ticket = self.tickets;
        let mut out = Vec::new();
        self.link.send(self.now, Ticket(ticket), request, &mut out);
        self.put(&out);
        let heard = self.wait_for(milliseconds, |heard| done(heard, ticket).is_some());
        (done(&heard, ticket).expect("the request ends"), heard)
    }
}
