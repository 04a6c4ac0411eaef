//! Which link a wire carries: as the sheets say, else by listening.
//!
//! Where the sheets at hand are all for one link, that is it. Else nothing is sent before the wire was listened to:
//! an autopilot's sign of life makes it MAVLink; without one, each console and each kind of packets that a sheet describes
//! is asked in turn. Once chosen, a link stays. Must not be here: which sheet fits the board (see `identity`).

use super::console::{ConsoleLink, ConsoleSheet};
use super::mavlink::MavlinkLink;
use super::packets::PacketLink;
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
    let mut known: Vec<LinkKind> = Vec::new();
    for kind in sheets.iter().map(|sheet| bare(&sheet.link)) {
        if kind != LinkKind::Mavlink && !known.contains(&kind) {
            known.push(kind);
        }
    }
    let mavlink = sheets.is_empty() || sheets.iter().any(|sheet| sheet.link == LinkKind::Mavlink);
    // As its first sheet has it: what settings it names is no part of how it is spoken to.
    let mut described: Vec<Box<dyn Link>> = known
        .iter()
        .filter_map(|kind| sheets.iter().find(|sheet| bare(&sheet.link) == *kind))
        .filter_map(|sheet| match &sheet.link {
            LinkKind::Mavlink => None,
            LinkKind::Console(console) => Some(Box::new(ConsoleLink::new((**console).clone())) as Box<dyn Link>),
            LinkKind::Packets(packets) => Some(Box::new(PacketLink::new((**packets).clone()))),
        })
        .collect();
    match (mavlink, described.len()) {
        (true, 0) => Box::new(MavlinkLink::new(vehicle)),
        (false, 1) => described.remove(0),
        _ => Box::new(LinkDetector::new(vehicle, described)),
    }
}

/// A link without the settings that a sheet names, which are no part of how the board is spoken to.
fn bare(link: &LinkKind) -> LinkKind {
    match link {
        LinkKind::Console(console) => {
            let names = std::collections::BTreeSet::new();
            LinkKind::Console(Box::new(ConsoleSheet { names, ..(**console).clone() }))
        }
        other => other.clone(),
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum DetectorState {
    /// The wire was not open yet.
    Shut,
    /// Nothing is sent until then.
    Listens(Time),
    /// What this place describes is asked until then.
    Asks(usize, Time),
    /// MAVLink was heard.
    Mavlink,
    /// What this place describes answered.
    Described(usize),
}

/// A wire of which it is not known yet what it carries.
struct LinkDetector {
    state: DetectorState,
    mavlink: MavlinkLink,
    /// Those that a sheet describes.
    described: Vec<Box<dyn Link>>,
    ended: Vec<(Ticket, Done)>,
}

impl LinkDetector {
    fn new(vehicle: Option<u8>, described: Vec<Box<dyn Link>>) -> Self {
        Self { state: DetectorState::Shut, mavlink: MavlinkLink::new(vehicle), described, ended: Vec::new() }
    }

    fn chosen(&self) -> Option<&dyn Link> {
        match self.state {
            DetectorState::Mavlink => Some(&self.mavlink),
            DetectorState::Described(place) => Some(self.described.get(place)?.as_ref()),
            _ => None,
        }
    }

    fn chosen_mut(&mut self) -> Option<&mut dyn Link> {
        match self.state {
            DetectorState::Mavlink => Some(&mut self.mavlink),
            DetectorState::Described(place) => Some(self.described.get_mut(place)?.as_mut()),
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
        if self.mavlink.answered() {
            self.state = DetectorState::Mavlink;
            heard.append(&mut first);
            return;
        }
        if let DetectorState::Asks(place, _) = self.state
            && let Some(described) = self.described.get_mut(place)
        {
            described.receive(now, bytes, heard);
            if described.answered() {
                self.state = DetectorState::Described(place);
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
            DetectorState::Asks(place, until) => {
                self.described.get(place).map_or(until, |described| described.wake().min(until))
            }
            DetectorState::Mavlink | DetectorState::Described(_) => self.chosen().map_or(Time::NEVER, Link::wake),
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
            DetectorState::Asks(place, until) if until <= now && place + 1 < self.described.len() => {
                DetectorState::Asks(place + 1, now + ASK)
            }
            // Nobody answered: listened to again, in case the board only starts now.
            DetectorState::Asks(_, until) if until <= now => DetectorState::Listens(now + LISTEN),
            state => state,
        };
        if let DetectorState::Asks(place, _) = next
            && let Some(described) = self.described.get_mut(place)
        {
            if next != self.state {
                described.reset();
            }
            described.work(now, out, heard);
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
                self.described.get_mut(place).map(|one| one.frames_made(bytes)).unwrap_or_default()
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

    fn answered(&self) -> bool {
        self.chosen().is_some_and(Link::answered)
    }
}
