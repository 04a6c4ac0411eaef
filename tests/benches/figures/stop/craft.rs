//! The virtual craft: brought to turn on simulated time, then paced by the real clock on a wire.

use super::wires::{Pty, forward};
use crate::rehearsal::session;
use quadjig::bench::session::Session;
use quadjig::measure::time::Time;
use quadjig::rehearsal::rehearse::{Script, willing};
use quadjig::rehearsal::simulated::{Disk, SimulatedWorld};
use quadjig::seam::{Effect, World};
use quadjig::virtual_board::{World as Board, WorldConfig};
use std::io::Write;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::time::{Duration, Instant};

/// How often the board's world is moved on.
const PACE: Duration = Duration::from_millis(1);

/// A session in a confirmed start, its craft armed with the battery in.
pub fn turning(script: &Script) -> (Session, Board) {
    let config = WorldConfig::default();
    let mut operator = willing(&config);
    let mut ignore = |_, _: quadjig::rehearsal::simulated::Seen<'_>| {};
    let mut world = SimulatedWorld::new(Board::new(config), &mut operator, Disk::default(), &mut ignore);
    let mut session = session(script);
    let mut holding = false;
    while !(holding && world.board().armed() && world.board().pack_volts() > 1.0) {
        let (now, event) = world.next(session.wake());
        session.handle(now, event, &mut |effect| {
            match effect {
                Effect::Hold(..) => holding = true,
                Effect::Release(_) => holding = false,
                _ => {}
            }
            world.act(effect);
        });
        assert!(session.ended().is_none(), "{:?}", session.ended());
    }
    (session, world.into_parts().0)
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
                        let highest = board.outputs().into_iter().max().unwrap_or(0);
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
            self.port.same_end().write_all(&out).unwrap();
        }
    }
}
