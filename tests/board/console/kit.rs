//! What the tests of this folder share: a link to a wire that a test speaks for by hand, or to the virtual board.

use quadjig::board::console::ConsoleLink;
use quadjig::board::sheet::Sheet;
use quadjig::board::sheet_file;
use quadjig::board::shipped::SHEETS;
use quadjig::board::signals::{Done, Link, LinkEvent, Request, Stream, Ticket};
use quadjig::board::value::SettingName;
use quadjig::measure::time::Time;
use quadjig::virtual_board::{BoardKind, World, WorldConfig};
use std::time::Duration;

pub fn text() -> &'static str {
    SHEETS.iter().find(|sheet| sheet.stem == "finch-c").unwrap().text
}

pub fn read(text: &str) -> Sheet {
    sheet_file::read("try.toml", text).unwrap_or_else(|error| panic!("{error}"))
}

pub fn name(text: &str) -> SettingName {
    SettingName::new(text).unwrap()
}

pub fn link_of(text: &str) -> ConsoleLink {
    ConsoleLink::new(read(text).console().unwrap().clone())
}

pub fn done(heard: &[LinkEvent], ticket: u32) -> Option<Done> {
    heard.iter().find_map(|heard| match heard {
        LinkEvent::Done { ticket: ended, result } if ended.0 == ticket => Some(result.clone()),
        _ => None,
    })
}

/// A wire whose board's side a test speaks by hand.
pub struct ByHand {
    pub link: ConsoleLink,
    pub now: Time,
    pub heard: Vec<LinkEvent>,
    /// What was sent, as text.
    pub sent: Vec<String>,
}

impl ByHand {
    /// A link that has found its prompt and asks for nothing by itself.
    pub fn new(text: &str) -> Self {
        let stays = text.replace("leave = \"leave\" ", "# ");
        let mut hand = Self { link: link_of(&stays), now: Time(1_000_000), heard: Vec::new(), sent: Vec::new() };
        // The armed flag is asked for from the beginning; with no signal asked for any more, nothing is.
        hand.work();
        assert_eq!(hand.take(), "\u{3}\r\rarmed\r");
        let echo = if text.contains("echo = false") { "" } else { "armed\r\n" };
        hand.says(&format!("\r\nfinch> \r\nfinch> \r\nfinch> {echo}armed: no\r\nfinch> "));
        hand.asks(99, Request::Stream(Stream::Alive, None));
        hand.work();
        hand.heard.clear();
        hand
    }

    pub fn work(&mut self) {
        let mut out = Vec::new();
        self.link.work(self.now, &mut out, &mut self.heard);
        self.keep(out);
    }

    pub fn keep(&mut self, out: Vec<u8>) {
        if !out.is_empty() {
            self.sent.push(String::from_utf8(out).unwrap());
        }
    }

    pub fn asks(&mut self, ticket: u32, request: Request) {
        let mut out = Vec::new();
        self.link.send(self.now, Ticket(ticket), request, &mut out);
        self.keep(out);
    }

    pub fn says(&mut self, text: &str) {
        self.link.receive(self.now, text.as_bytes(), &mut self.heard);
        self.work();
    }

    pub fn wait(&mut self, time: Duration) {
        let end = self.now + time;
        while self.now < end {
            self.now = self.link.wake().min(end).max(self.now + Duration::from_micros(1));
            self.work();
        }
    }

    /// The one thing that was sent since the last look.
    pub fn take(&mut self) -> String {
        assert_eq!(self.sent.len(), 1, "{:?}", self.sent);
        self.sent.remove(0)
    }

    pub fn done(&self, ticket: u32) -> Option<Done> {
        done(&self.heard, ticket)
    }

    /// Reads all settings of a board that has two.
    pub fn lists(&mut self) {
        self.asks(90, Request::ListSettings);
        self.says("list\r\n1100 for IDLE_US\r\n10.9 for VOLT_RATIO\r\n2 settings\r\nfinch> ");
        assert_eq!(self.done(90), Some(Done::Ok));
        self.sent.clear();
        self.heard.clear();
    }
}

/// The link and the virtual board on one wire.
pub struct OnBoard {
    pub world: World,
    pub link: ConsoleLink,
    pub now: Time,
    /// Every byte that was sent.
    pub sent: Vec<u8>,
    tickets: u32,
    there: bool,
}

impl OnBoard {
    pub fn new(config: WorldConfig) -> Self {
        let world = World::new(WorldConfig { board: BoardKind::FinchC, ..config });
        Self { world, link: link_of(text()), now: Time(0), sent: Vec::new(), tickets: 0, there: true }
    }

    pub fn wait(&mut self, milliseconds: u64) -> Vec<LinkEvent> {
        let end = Time(self.now.0 + milliseconds * 1000);
        let mut heard = Vec::new();
        let mut talked = false;
        while self.now < end {
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
            self.link.receive(self.now, &self.world.take_output(), &mut heard);
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

    pub fn ask(&mut self, request: Request, milliseconds: u64) -> (Done, Vec<LinkEvent>) {
        self.tickets += 1;
        let ticket = self.tickets;
        let mut out = Vec::new();
        self.link.send(self.now, Ticket(ticket), request, &mut out);
        self.put(&out);
        let heard = self.wait(milliseconds);
        (done(&heard, ticket).expect("the request ends"), heard)
    }
}
