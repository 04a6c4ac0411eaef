//! Where a port is: which places are tried, in which order, and for how long.
//!
//! Promises: what is found again after a restart is the same device where it has a serial number, else what stands under
//! the same name or is another USB port of its kind; another board's place is left alone as long as it stays plugged in;
//! a search always ends. Must not be here: what is found at a place, and so whether it is the same board.

use crate::measure::time::Time;
use crate::seam::{OpenError, PortInfo};
use std::collections::VecDeque;
use std::time::Duration;

/// Between two looks for a port that left.
const LOOK: Duration = Duration::from_millis(100);
/// How long it is looked for.
const LOOK_AT_MOST: Duration = Duration::from_secs(30);
/// How long our own earlier use of a port may keep it busy.
const OWN_USE: Duration = Duration::from_millis(600);

/// What is known of a port over all its openings.
#[derive(Debug, Clone, Default)]
pub struct KnownPort {
    /// What the system told of it when it was last open.
    pub info: Option<PortInfo>,
    tried: Vec<Tried>,
    used: bool,
}

/// A place that was opened and was not, or not yet, what is looked for.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Tried {
    /// The device's own name, links followed.
    device: String,
    /// Whether another board answered there.
    other: bool,
}

impl KnownPort {
    /// What gave no sign of life may do so in a new search.
    pub fn forget_silent(&mut self) {
        self.tried.retain(|tried| tried.other);
    }

    /// What was opened last, at this device, is not it; `other`: another board answered there.
    pub fn not_this(&mut self, device: String, other: bool) {
        self.tried.retain(|tried| tried.device != device);
        self.tried.push(Tried { device, other });
    }
}

/// What to do next.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Doing {
    /// Look around, and say by [`Search::looked`] what there is; also which of these devices are gone.
    Look(Vec<String>),
    /// Open this place; [`Search::found`] or [`Search::refused`] says what came of it.
    Open(Place),
    /// Nothing before this moment.
    Wait(Time),
    /// It is not to be had.
    GiveUp(OpenError),
}

/// A place to open.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Place {
    /// By the name that the operator gave.
    AsNamed,
    /// This path.
    Path(String),
}

/// What was seen when looking around.
#[derive(Debug, Clone, Default)]
pub struct PortsSeen {
    /// Every port that the system lists.
    pub ports: Vec<PortInfo>,
    /// The device to which the path leads now, links followed; the path itself where it leads nowhere.
    pub device: String,
    /// Devices asked about that are gone.
    pub gone: Vec<String>,
}

/// A search under way.
#[derive(Debug)]
pub struct Search {
    /// How the operator named it.
    name: String,
    known: KnownPort,
    /// Only what may be the device of before counts.
    again: bool,
    /// Errors are borne with until then.
    until: Time,
    next: Next,
}

#[derive(Debug)]
enum Next {
    Look,
    Try(VecDeque<Place>),
    Wait(Time),
    GiveUp(OpenError),
}

impl Search {
    /// Opens a port by its name. Only our own earlier use of it is waited for.
    pub fn first(now: Time, name: String, known: &mut KnownPort) -> Self {
        let longest = if std::mem::replace(&mut known.used, true) { OWN_USE } else { Duration::ZERO };
        let next = Next::Try([Place::AsNamed].into());
        Self { name, known: known.clone(), again: false, until: now + longest, next }
    }

    /// Looks for a port that left, until it is there again.
    pub fn again(now: Time, name: String, known: &mut KnownPort) -> Self {
        known.used = true;
        Self { name, known: known.clone(), again: true, until: now + LOOK_AT_MOST, next: Next::Look }
    }

    /// What to do at this moment.
    pub fn next(&mut self, now: Time) -> Doing {
        if matches!(self.next, Next::Wait(until) if until <= now) {
            self.next = if self.again { Next::Look } else { Next::Try([Place::AsNamed].into()) };
        }
        match &self.next {
            Next::Look => Doing::Look(self.known.tried.iter().map(|tried| tried.device.clone()).collect()),
            Next::Try(places) => Doing::Open(places.front().cloned().unwrap_or(Place::AsNamed)),
            Next::Wait(until) => Doing::Wait(*until),
            Next::GiveUp(error) => Doing::GiveUp(error.clone()),
        }
    }

    /// What there is now.
    pub fn looked(&mut self, now: Time, seen: &PortsSeen) {
        // What was unplugged may be another device when its name comes again.
        self.known.tried.retain(|tried| !seen.gone.contains(&tried.device));
        let places = self.places(seen);
        if places.is_empty() {
            self.round_over(now, OpenError::Missing(self.name.clone()));
        } else {
            self.next = Next::Try(places);
        }
    }

    /// The place could not be opened.
    pub fn refused(&mut self, now: Time, error: OpenError) {
        if let Next::Try(places) = &mut self.next {
            places.pop_front();
            if !places.is_empty() {
                return;
            }
        }
        self.round_over(now, error);
    }

    /// The place was opened; gives back what is known now.
    #[must_use]
    pub fn found(self, info: PortInfo) -> KnownPort {
        KnownPort { info: Some(info), ..self.known }
    }

    fn round_over(&mut self, now: Time, error: OpenError) {
        let patient = self.again || matches!(error, OpenError::Busy { .. });
        self.next = if patient && now < self.until { Next::Wait(now + LOOK) } else { Next::GiveUp(error) };
    }

    /// Where the device may be now, in the order in which to try.
    ///
    /// With a USB serial number only the device that has it, by the old path first. Without one, first what stands behind the old path, then
    /// every other port with the same USB numbers and no serial number; what was tried already comes last, and what is
    /// another board's not at all. What is no USB device stays where it was.
    fn places(&self, seen: &PortsSeen) -> VecDeque<Place> {
        let Some(before) = &self.known.info else { return [Place::AsNamed].into() };
        let kin = || seen.ports.iter().filter(|now| now.usb == before.usb);
        let path = |now: &PortInfo| Place::Path(now.name.clone());
        if before.serial.is_some() {
            // One device may have two ports: the one that was named comes first.
            let its = || kin().filter(|now| now.serial == before.serial);
            let (named, others): (Vec<_>, Vec<_>) = its().partition(|now| now.name == seen.device);
            return named.into_iter().chain(others).map(path).collect();
        }
        if before.usb.is_none() {
            return [Place::AsNamed].into();
        }
        let tried = |device: &str| self.known.tried.iter().position(|tried| tried.device == device);
        // Another kind of device behind the old name is not it.
        let old = kin().find(|now| now.name == seen.device).map(|now| (Place::AsNamed, tried(&now.name)));
        let others = kin().filter(|now| now.serial.is_none() && now.name != seen.device);
        let others = others.map(|now| (path(now), tried(&now.name)));
        let other_boards = |at: &Option<usize>| at.is_some_and(|at| self.known.tried[at].other);
        let mut all: Vec<(Place, Option<usize>)> = old.into_iter().chain(others).collect();
        all.retain(|(_, at)| !other_boards(at));
        // Untried ones first; a stable order keeps the old path before the others.
        all.sort_by_key(|(_, at)| at.map_or(0, |at| at + 1));
        all.into_iter().map(|(place, _)| place).collect()
    }
}
