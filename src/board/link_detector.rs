//! Which link a wire carries: as the sheets say, else by listening.
//!
//! Where the sheets at hand are all for one link, that is it. Else nothing is sent before the wire was listened to:
//! an autopilot's sign of life makes it MAVLink; without one, each console that a sheet describes is asked for its
//! prompt in turn. Once chosen, a link stays. Must not be here: which sheet fits the board (see `identity`).

use super::console::{ConsoleLink, ConsoleSheet};
use super::mavlink::MavlinkLink;
use super::sheet::{LinkKind, Sheet};
use super::signals::{Done, Link, LinkEvent, Outgoing, Request, Ticket};
use crate::measure::time::Time;
use std::time::Duration;

/// How long a sign of life is listened for: the standard's heartbeat comes once a second.
pub const LISTEN: Duration = Duration::from_millis(2500);
/// How long one console is asked for its prompt.
pub const ASK: Duration = Duration::from_millis(1200);

/// The link for the sheets at hand; `vehicle` is the one that the user chose.
#[must_use]
pub fn link(sheets: &[Sheet], vehicle: Option<u8>) -> Box<dyn Link> {
    let mut consoles: Vec<&ConsoleSheet> = Vec::new();
    for console in sheets.iter().filter_map(Sheet::console) {
        if !consoles.iter().any(|known| same_console(known, console)) {
            consoles.push(console);
        }
    }
    let mavlink = sheets.is_empty() || sheets.iter().any(|sheet| sheet.link == LinkKind::Mavlink);
    match (mavlink, consoles.as_slice()) {
        (true, []) => Box::new(MavlinkLink::new(vehicle)),
        (false, [one]) => Box::new(ConsoleLink::new((*one).clone())),
        _ => Box::new(LinkDetector::new(vehicle, consoles.into_iter().cloned().map(ConsoleLink::new).collect())),
    }
}

/// Whether two sheets describe one console, whatever settings they name.
fn same_console(one: &ConsoleSheet, other: &ConsoleSheet) -> bool {
    let bare = |sheet: &ConsoleSheet| ConsoleSheet { names: std::collections::BTreeSet::new(), ..sheet.clone() };
    bare(one) == bare(other)
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum DetectorState {
    /// The wire was not open yet.
    Shut,
    /// Nothing is sent until then.
    Listens(Time),
    /// The console of this place is asked until then.
    Asks(usize, Time),
    /// MAVLink was heard.
    Mavlink,
    /// The console of this place answered.
    Console(usize),
}

/// A wire of which it is not known yet what it carries.
#[derive(Debug)]
struct LinkDetector {
    state: DetectorState,
    mavlink: MavlinkLink,
    consoles: Vec<ConsoleLink>,
    ended: Vec<(Ticket, Done)>,
}

impl LinkDetector {
    fn new(vehicle: Option<u8>, consoles: Vec<ConsoleLink>) -> Self {
        Self { state: DetectorState::Shut, mavlink: MavlinkLink::new(vehicle), consoles, ended: Vec::new() }
    }

    fn chosen(&self) -> Option<&dyn Link> {
        match self.state {
            DetectorState::Mavlink => Some(&self.mavlink),
            DetectorState::Console(place) => self.consoles.get(place).map(|link| link as &dyn Link),
            _ => None,
        }
    }

    fn chosen_mut(&mut self) -> Option<&mut dyn Link> {
        match self.state {
            DetectorState::Mavlink => Some(&mut self.mavlink),
            DetectorState::Console(place) => self.consoles.get_mut(place).map(|link| link as &mut dyn Link),
            _ => None,
        }
    }

    fn tell(&mut self, heard: &mut Vec<LinkEvent>) {
        heard.extend(self.ended.drain(..).map(|(ticket, result)| LinkEvent::Done { ticket, result }));
    }
}

impl Link for LinkDetector {
    fn receive(&mut self, now: Time, bytes: &[u8], heard: &mut Vec<LinkEvent>) {
        if let Some(link) = self.chosen_mut() {
            return link.receive(now, bytes, heard);
        }
        // Strangers and the like of a wire that carries something else are not told before it is chosen.
        let mut first = Vec::new();
        self.mavlink.receive(now, bytes, &mut first);
        if self.mavlink.bound().is_some() {
            self.state = DetectorState::Mavlink;
            heard.append(&mut first);
            return;
        }
        if let DetectorState::Asks(place, _) = self.state
            && let Some(console) = self.consoles.get_mut(place)
        {
            console.receive(now, bytes, heard);
            if console.answered() {
                self.state = DetectorState::Console(place);
            }
        }
    }

    fn send(&mut self, now: Time, ticket: Ticket, request: Request, out: &mut Vec<u8>) {
        match self.chosen_mut() {
            Some(link) => link.send(now, ticket, request, out),
            None if request == Request::Heartbeat => self.ended.push((ticket, Done::Ok)),
            None => {
                let why = "no board has been heard on this wire yet: wait for its first sign of life";
                self.ended.push((ticket, Done::Refused(why.to_owned())));
            }
        }
    }

    fn wake(&self) -> Time {
        if !self.ended.is_empty() {
            return Time(0);
        }
        match self.state {
            DetectorState::Shut => Time(0),
            DetectorState::Listens(until) => until,
            DetectorState::Asks(place, until) => self.consoles.get(place).map_or(until, |link| link.wake().min(until)),
            DetectorState::Mavlink | DetectorState::Console(_) => self.chosen().map_or(Time::NEVER, Link::wake),
        }
    }

    fn work(&mut self, now: Time, out: &mut Vec<u8>, heard: &mut Vec<LinkEvent>) {
        self.tell(heard);
        if let Some(link) = self.chosen_mut() {
            return link.work(now, out, heard);
        }
        let next = match self.state {
            DetectorState::Shut => DetectorState::Listens(now + LISTEN),
            DetectorState::Listens(until) if until <= now => DetectorState::Asks(0, now + ASK),
            DetectorState::Asks(place, until) if until <= now && place + 1 < self.consoles.len() => {
                DetectorState::Asks(place + 1, now + ASK)
            }
            // Nobody answered: listened to again, in case the board only starts now.
            DetectorState::Asks(_, until) if until <= now => DetectorState::Listens(now + LISTEN),
            state => state,
        };
        if let DetectorState::Asks(place, _) = next
            && let Some(console) = self.consoles.get_mut(place)
        {
            if next != self.state {
                console.reset();
            }
            console.work(now, out, heard);
        }
        self.state = next;
    }

    fn stop_bytes(&mut self, force: bool) -> Option<Vec<u8>> {
        self.chosen_mut()?.stop_bytes(force)
    }

    fn preview(&self, request: &Request) -> Result<Vec<u8>, String> {
        self.chosen().map_or_else(|| Err("no board has been heard on this wire yet".to_owned()), |l| l.preview(request))
    }

    fn frames_made(&mut self, bytes: &[u8]) -> Vec<(Vec<u8>, Outgoing)> {
        if let Some(link) = self.chosen_mut() {
            return link.frames_made(bytes);
        }
        match self.state {
            DetectorState::Asks(place, _) => {
                self.consoles.get_mut(place).map(|link| link.frames_made(bytes)).unwrap_or_default()
            }
            _ => Vec::new(),
        }
    }

    fn refuse(&mut self, frame: &Outgoing, why: &str) {
        if let Some(link) = self.chosen_mut() {
            link.refuse(frame, why);
        }
    }

    fn held_stop_bytes(&mut self) -> Option<Vec<u8>> {
        self.chosen_mut()?.held_stop_bytes()
    }

    fn guardian_stops(&mut self, count: usize) -> Option<Vec<Vec<u8>>> {
        self.chosen_mut()?.guardian_stops(count)
    }

    fn reset(&mut self) {
        self.ended.clear();
        if let Some(link) = self.chosen_mut() {
            return link.reset();
        }
        self.state = DetectorState::Shut;
        self.mavlink.reset();
    }

    fn encoding_proved(&self) -> bool {
        self.chosen().is_some_and(Link::encoding_proved)
    }
}
