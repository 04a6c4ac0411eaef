//! The virtual craft: brought to turn on simulated time, then paced by the real clock on a wire.

use super::wires::{Pty, forward};
use crate::rehearsal::session;
use quadjig::bench::session::Session;
use quadjig::board::mavlink::MavlinkLink;
use quadjig::board::mavlink::signing::Key;
use quadjig::measure::time::Time;
use quadjig::rehearsal::rehearse::{Script, willing};
use quadjig::rehearsal::simulated::{Disk, SimulatedWorld};
use quadjig::seam::guardian::{GuardianEvent, GuardianOrder};
use quadjig::seam::{Effect, Event, World};
use quadjig::virtual_board::{Secret, World as Board, WorldConfig};
use std::io::Write;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::time::{Duration, Instant};

/// How often the board's world is moved on.
const PACE: Duration = Duration::from_millis(1);
/// Any key.
const KEY: [u8; 32] = [5; 32];
/// The timestamp at the beginning of simulated time: any, and the same wherever the same start is simulated.
const BEGAN: u64 = 1 << 40;

/// A session in a confirmed start, its craft armed with the battery in.
pub struct Turning {
    pub session: Session,
    pub board: Board,
    /// What the wire was told of hold and guardian, to be told to the real one that takes its place.
    pub standing: Vec<Effect>,
}

/// `signed`: both hold a key. `guarded`: the wire has a guardian, which acknowledges all that it is told.
pub fn turning(script: &Script, signed: bool, guarded: bool) -> Turning {
    let mut config = WorldConfig::default();
    let link = if signed {
        config.speech.key = Some(Secret(KEY));
        MavlinkLink::signed(None, Key::new(KEY), BEGAN)
    } else {
        MavlinkLink::new(None)
    };
    let mut operator = willing(&config);
    let mut ignore = |_, _: quadjig::rehearsal::simulated::TranscriptEvent<'_>| {};
    let mut world = SimulatedWorld::new(Board::new(config), &mut operator, Disk::default(), &mut ignore);
    let mut session = session(script, link);
    let (mut hold, mut stops, mut answers) = (None, None, Vec::new());
    while !(hold.is_some() && world.board().armed() && world.board().pack_volts() > 1.0) {
        let (now, mut event) = match answers.pop() {
            Some(answer) => (world.now(), answer),
            None => world.next(session.wake()),
        };
        if let Event::Opened(Ok(info)) = &mut event {
            info.guarded = guarded;
        }
        session.handle(now, event, &mut |effect| {
            match &effect {
                Effect::Hold(bytes, through) => hold = Some(Effect::Hold(bytes.clone(), through.clone())),
                Effect::Release => hold = None,
                Effect::Guard(GuardianOrder::Prepare(frames)) => {
                    stops = Some(Effect::Guard(GuardianOrder::Prepare(frames.clone())));
                }
                Effect::Guard(GuardianOrder::Renew(number)) => {
                    answers.push(Event::Guardian(GuardianEvent::Held(*number)));
                }
                Effect::Guard(GuardianOrder::Release) => {
                    answers.push(Event::Guardian(GuardianEvent::Released));
                }
                _ => {}
            }
            world.act(effect);
        });
        assert!(session.ended().is_none(), "{:?}", session.ended());
    }
    Turning { session, board: world.into_parts().0, standing: stops.into_iter().chain(hold).collect() }
}

/// What the craft is told.
pub enum To {
    /// A board whose present moment is now.
    Begin(Box<Board>, Instant),
    /// Bytes that have come for it.
    Bytes(Vec<u8>),
    /// How it is: armed, highest output, fastest motor.
    Look(Sender<(bool, u16, f64)>),
    /// It is gone; answered once nothing more will leave.
    End(Sender<()>),
}

/// The board's end of a wire.
pub struct Craft {
    port: Pty,
    /// With its moment at the beginning, and the real one.
    board: Option<(Box<Board>, Time, Instant)>,
}

impl Craft {
    /// Starts it; the answer hears of all that comes from the tool.
    pub fn start(port: Pty) -> (Sender<To>, Receiver<(Instant, Vec<u8>)>) {
        let (to, told) = channel();
        let (heard, wire) = channel();
        let bytes = to.clone();
        forward(port.same_end(), move |at, read| {
            bytes.send(To::Bytes(read.to_vec())).is_ok() && heard.send((at, read.to_vec())).is_ok()
        });
        let mut craft = Self { port, board: None };
        std::thread::spawn(move || craft.run(&told));
        (to, wire)
    }

    fn run(&mut self, told: &Receiver<To>) {
        loop {
            let mut came = Vec::new();
            match told.recv_timeout(PACE) {
                Ok(To::Begin(board, at)) => {
                    let began = board.now();
                    self.board = Some((board, began, at));
                }
                Ok(To::Bytes(bytes)) => came = bytes,
                Ok(To::Look(answer)) => {
                    if let Some((board, ..)) = &self.board {
                        let highest = board.outputs().iter().copied().max().unwrap_or(0);
                        let fastest = board.speeds().into_iter().fold(0.0, f64::max);
                        let _waited_for = answer.send((board.armed(), highest, fastest));
                    }
                }
                Ok(To::End(over)) => {
                    self.board = None;
                    let _waited_for = over.send(());
                }
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => return,
            }
            self.go_on(&came);
        }
    }

    fn go_on(&mut self, came: &[u8]) {
        let Some((board, began, at)) = &mut self.board else { return };
        board.receive(*began + at.elapsed(), came);
        let out = board.take_output();
        if !out.is_empty() {
            // What is struck ends, and with it its connection.
            let _nobody_there = self.port.same_end().write_all(&out);
        }
    }
}
