//! Commands and their acknowledgements.
//!
//! Of each command one at a time is open, because an acknowledgement names only the command's number. Harmless ones
//! are sent again with the confirmation raised; what arms or runs a motor never, and never waits in a
//! queue. Source: MAVLink developer guide, `services/command`; it fixes no times, so these are ours. Must not be here:
//! answers to what has ended (see `late`).

use super::gate::{FORCE, Gate};
use super::late::{Ended, Late};
use super::make::{self, Target};
use super::refusal::{CommandResult, Refusal};
use crate::board::motor_run::BoundedRun;
use crate::board::refusal::Common;
use crate::board::signals::Ticket;
use crate::measure::time::Time;
use mavlink::dialects::common::MavCmd;
use std::collections::VecDeque;
use std::time::Duration;

/// First wait for an acknowledgement; doubled with every repeat.
pub const FIRST_WAIT: Duration = Duration::from_millis(300);
/// First wait where the board has slow work to do (storing, restarting), and the only one of a motor command.
pub const SLOW_WAIT: Duration = Duration::from_secs(1);
/// Wait for the next word after "in progress".
pub const PROGRESS_WAIT: Duration = Duration::from_secs(3);
/// Longest life of a command, however often it is "in progress".
pub const LONGEST: Duration = Duration::from_secs(60);

/// How a board is asked for an interval, from what is tried first on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub(super) enum IntervalQuery {
    /// `MAV_CMD_REQUEST_MESSAGE` of `MESSAGE_INTERVAL`.
    #[default]
    Request,
    /// `MAV_CMD_GET_MESSAGE_INTERVAL`.
    Get,
    /// Not at all: it does not tell.
    Untold,
}

impl IntervalQuery {
    /// What is left to try.
    pub(super) fn other(self) -> Self {
        if self == Self::Request { Self::Get } else { Self::Untold }
    }
}

/// How a command may be repeated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum RetryPolicy {
    /// Asking and streams.
    Harmless,
    /// Asking what is worth something now or never.
    Once,
    /// Storing settings.
    Store,
    /// Restarting: the bench lets no repeat leave once a restart was seen.
    Restart,
    /// Arming and running motors: never again by itself, never queued.
    Motor,
    /// Disarming: at once, and again.
    Stop,
}

impl RetryPolicy {
    /// How often it is sent at most, and the first wait.
    fn tries(self) -> (u8, Duration) {
        match self {
            Self::Harmless | Self::Stop => (4, FIRST_WAIT),
            Self::Once => (1, FIRST_WAIT),
            Self::Store | Self::Restart => (3, SLOW_WAIT),
            Self::Motor => (1, SLOW_WAIT),
        }
    }

    fn at_once(self) -> bool {
        matches!(self, Self::Motor | Self::Stop)
    }

    /// Whether a stop lets it go on.
    fn survives_stop(self) -> bool {
        matches!(self, Self::Harmless | Self::Once | Self::Stop)
    }
}

/// A command to send.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Command {
    pub(super) id: MavCmd,
    pub(super) params: [f32; 7],
    pub(super) manner: RetryPolicy,
}

impl Command {
    /// With the first parameters given and the others 0.
    fn new(id: MavCmd, manner: RetryPolicy, first: &[f32]) -> Self {
        let params = std::array::from_fn(|i| first.get(i).copied().unwrap_or(0.0));
        Self { id, params, manner }
    }

    pub(super) fn store() -> Self {
        Self::new(MavCmd::MAV_CMD_PREFLIGHT_STORAGE, RetryPolicy::Store, &[1.0])
    }

    pub(super) fn restart() -> Self {
        Self::new(MavCmd::MAV_CMD_PREFLIGHT_REBOOT_SHUTDOWN, RetryPolicy::Restart, &[1.0])
    }

    pub(super) fn disarm(force: bool) -> Self {
        let force = if force { FORCE } else { 0.0 };
        Self::new(MavCmd::MAV_CMD_COMPONENT_ARM_DISARM, RetryPolicy::Stop, &[0.0, force])
    }

    /// Asks for one message; `about` is its own parameter.
    #[expect(clippy::cast_precision_loss, reason = "message ids have 24 bits")]
    pub(super) fn request(message: u32, about: u32) -> Self {
        Self::new(MavCmd::MAV_CMD_REQUEST_MESSAGE, RetryPolicy::Harmless, &[message as f32, about as f32])
    }

    /// Asks for one message, and does not again.
    pub(super) fn request_once(message: u32) -> Self {
        Self { manner: RetryPolicy::Once, ..Self::request(message, 0) }
    }

    /// Asks for the interval of a stream in the older way.
    #[expect(deprecated, reason = "for boards that know no other way to tell")]
    #[expect(clippy::cast_precision_loss, reason = "message ids have 24 bits")]
    pub(super) fn get_interval(message: u32) -> Self {
        Self::new(MavCmd::MAV_CMD_GET_MESSAGE_INTERVAL, RetryPolicy::Harmless, &[message as f32])
    }

    /// Sets the interval of a stream in µs; −1 off, 0 the board's own default.
    #[expect(clippy::cast_precision_loss, reason = "message ids have 24 bits; a long interval may be rounded")]
    pub(super) fn interval(message: u32, microseconds: i32) -> Self {
        let params = [message as f32, microseconds as f32];
        Self::new(MavCmd::MAV_CMD_SET_MESSAGE_INTERVAL, RetryPolicy::Harmless, &params)
    }

    /// Runs one motor at a pulse width, bounded by the board.
    pub(super) fn motor(run: BoundedRun) -> Self {
        // Type 1 is a pulse width, and one motor is tested (common.xml, MAV_CMD_DO_MOTOR_TEST).
        let params = [run.motor().into(), 1.0, run.pulse().into(), run.lease().as_secs_f32(), 1.0];
        Self::new(MavCmd::MAV_CMD_DO_MOTOR_TEST, RetryPolicy::Motor, &params)
    }
}

/// What a command was sent for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Purpose {
    /// A request that ends with the acknowledgement.
    Plain(Ticket),
    /// A request that ends with the identity.
    Identity(Ticket),
    /// The present interval of a stream, before it is changed to `then` µs.
    Interval { ticket: Ticket, message: u32, then: i32, way: IntervalQuery },
}

/// How a command ended.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum End {
    Accepted,
    Refused(Refusal),
    Silent,
}

#[derive(Debug)]
struct Open {
    command: Command,
    purpose: Purpose,
    /// Who asked for the same before it left.
    joined: Vec<Purpose>,
    sent: u8,
    acknowledged: u8,
    /// When it was sent first, and when last.
    left: (Time, Time),
    wait: Duration,
    due: Time,
    last: Time,
    in_progress: bool,
}

/// All commands on their way.
#[derive(Debug, Default)]
pub(super) struct Commands {
    open: Vec<Open>,
    queue: VecDeque<(Command, Purpose)>,
    late: Late,
    ended: Vec<(Purpose, End)>,
}

impl Commands {
    /// Sends a command, or queues it behind an open one of its number.
    pub(super) fn ask(
        &mut self,
        now: Time,
        command: Command,
        purpose: Purpose,
        gate: &mut Gate,
        to: Target,
        out: &mut Vec<u8>,
    ) {
        if command.manner.at_once() {
            self.start(now, command, purpose, gate, to, out);
        } else {
            self.queue.push_back((command, purpose));
            self.start_queued(now, gate, to, out);
        }
    }

    fn start(&mut self, now: Time, command: Command, purpose: Purpose, gate: &mut Gate, to: Target, out: &mut Vec<u8>) {
        let (tries, wait) = command.manner.tries();
        let wait = if tries > 1 && !command.manner.at_once() { wait.max(self.late.patience()) } else { wait };
        if !gate.pass(&make::command(to, command.id, command.params, 0), out) {
            self.ended.push((purpose, End::Refused(Refusal::Gate)));
            return;
        }
        let (due, last) = (now + wait, now + LONGEST);
        let joined = self.join(command, purpose);
        self.open.push(Open {
            command,
            purpose,
            joined,
            sent: 1,
            acknowledged: 0,
            left: (now, now),
            wait,
            due,
            last,
            in_progress: false,
        });
    }

    /// Whoever asked who it is meanwhile has the answer to a question that leaves only now: on a slow link one is all
    /// that leaves between two answers.
    fn join(&mut self, command: Command, purpose: Purpose) -> Vec<Purpose> {
        let mut joined = Vec::new();
        self.queue.retain(|(other, theirs)| {
            let joins = *other == command && matches!((purpose, theirs), (Purpose::Identity(_), Purpose::Identity(_)));
            joined.extend(joins.then_some(*theirs));
            !joins
        });
        joined
    }

    fn start_queued(&mut self, now: Time, gate: &mut Gate, to: Target, out: &mut Vec<u8>) {
        let mut at = 0;
        while let Some((command, purpose)) = self.queue.get(at).copied() {
            if self.free_at(command.id) > now {
                at += 1;
                continue;
            }
            self.queue.remove(at);
            self.start(now, command, purpose, gate, to, out);
        }
    }

    /// Takes an acknowledgement. The request of a command that is "in progress", where it has one.
    pub(super) fn acknowledged(&mut self, now: Time, command: u16, result: u8) -> Option<Ticket> {
        if self.late.takes(now, command) {
            return None;
        }
        let at = self.open.iter().position(|open| open.command.id as u32 == u32::from(command))?;
        let open = &mut self.open[at];
        open.acknowledged = open.acknowledged.saturating_add(1);
        match (result, open.purpose) {
            (0, Purpose::Plain(_)) => self.end(now, at, End::Accepted),
            // The message itself ends these; till then a repeat may be due.
            (0, Purpose::Identity(_) | Purpose::Interval { .. }) => {}
            (5, _) => {
                open.in_progress = true;
                open.acknowledged -= 1;
                open.due = (now + PROGRESS_WAIT).min(open.last);
                let (Purpose::Plain(ticket) | Purpose::Identity(ticket) | Purpose::Interval { ticket, .. }) =
                    open.purpose;
                return Some(ticket);
            }
            (other, _) => self.end(now, at, End::Refused(Refusal::Result(CommandResult::of(other)))),
        }
        None
    }

    fn end(&mut self, now: Time, at: usize, end: End) {
        let open = self.open.remove(at);
        let Command { id, manner, .. } = open.command;
        let answered = end != End::Silent;
        // What was tried long enough is not answered any more. What is asked once makes way sooner.
        if answered || manner.at_once() || manner == RetryPolicy::Once {
            let owed = open.sent.saturating_sub(open.acknowledged);
            self.late.ends(now, &Ended { id, owed, left: open.left, answered, at_once: manner.at_once() });
        }
        self.ended.extend(open.joined.into_iter().map(|joined| (joined, end.clone())));
        self.ended.push((open.purpose, end));
    }

    /// A message came that some command may have asked for.
    pub(super) fn answered(&mut self, now: Time, wanted: impl Fn(Purpose) -> bool) {
        while let Some(at) = self.open.iter().position(|open| wanted(open.purpose)) {
            self.end(now, at, End::Accepted);
        }
    }

    /// Whether a command for this is on its way.
    pub(super) fn pending(&self, wanted: impl Fn(Purpose) -> bool) -> bool {
        self.open.iter().any(|open| wanted(open.purpose))
    }

    /// A stop leaves: what writes, stores, restarts or turns motors is given up.
    pub(super) fn overtake(&mut self) {
        let (kept, gone) = std::mem::take(&mut self.open).into_iter().partition(|o| o.command.manner.survives_stop());
        self.open = kept;
        let (kept, never) = std::mem::take(&mut self.queue).into_iter().partition(|(c, _)| c.manner.survives_stop());
        self.queue = kept;
        let gone = gone.into_iter().map(|open: Open| open.purpose);
        let never = never.into_iter().map(|(_, purpose): (Command, Purpose)| purpose);
        self.ended.extend(gone.chain(never).map(|purpose| (purpose, End::Refused(Common::Overtaken.into()))));
    }

    /// A frame of these may not leave: what was asked for with it ends with this reason.
    pub(super) fn refuse(&mut self, which: impl Fn(MavCmd) -> bool, why: &Refusal) {
        let (gone, kept) = std::mem::take(&mut self.open).into_iter().partition(|open| which(open.command.id));
        self.open = kept;
        self.ended.extend(Vec::into_iter(gone).map(|open: Open| (open.purpose, End::Refused(why.clone()))));
    }

    /// Repeats and timeouts, and what was queued.
    pub(super) fn work(&mut self, now: Time, gate: &mut Gate, to: Target, out: &mut Vec<u8>) {
        let mut at = 0;
        while at < self.open.len() {
            let open = &mut self.open[at];
            if open.due > now {
                at += 1;
                continue;
            }
            let (tries, _) = open.command.manner.tries();
            let again = open.sent < tries && !open.in_progress;
            if again && gate.pass(&make::command(to, open.command.id, open.command.params, open.sent), out) {
                open.sent += 1;
                open.left.1 = now;
                open.wait *= 2;
                open.due = now + open.wait;
                at += 1;
            } else {
                self.end(now, at, End::Silent);
            }
        }
        self.start_queued(now, gate, to, out);
    }

    /// When [`Commands::work`] has something to do.
    pub(super) fn wake(&self) -> Time {
        if !self.ended.is_empty() {
            return Time(0);
        }
        let due = self.open.iter().map(|open| open.due);
        due.chain(self.queue.iter().map(|(command, _)| self.free_at(command.id))).min().unwrap_or(Time::NEVER)
    }

    /// When a queued command of this number may leave, as things stand.
    fn free_at(&self, id: MavCmd) -> Time {
        if self.open.iter().any(|open| open.command.id == id) {
            return Time::NEVER;
        }
        self.late.free_at(id)
    }

    /// What has ended since the last call.
    pub(super) fn ended(&mut self) -> Vec<(Purpose, End)> {
        std::mem::take(&mut self.ended)
    }

    /// Forgets everything.
    pub(super) fn clear(&mut self) {
        *self = Self::default();
    }
}
