//! Runs the machine in the guardian's own process: standard input is the program, standard output the wire.
//!
//! Promises: nothing here waits for the wire, the program or a terminal; signals that end or stop a program do not end
//! or stop this one; once the program is gone, the wire is locked against the next one until this one has left, and
//! what the board sends is thrown away, so that its own sender does not get stuck. Must not be here: when to fire.

use super::boot;
use super::machine::{Guardian, GuardianInput, GuardianOutput};
use super::orders::{self, Order};
use crate::measure::time::Time;
use crate::seam::guardian::GuardianEvent;
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::fs::{FlockOperation, flock};
use rustix::io::{Errno, read, write};
use rustix::net::{RecvFlags, SendFlags, SocketType, recv, send, sendto, sockopt};
use rustix::stdio::{stdin, stdout};
use rustix::termios::{QueueSelector, tcflush};
use signal_hook::consts::{SIGHUP, SIGINT, SIGPIPE, SIGQUIT, SIGTERM, SIGTSTP, SIGTTIN, SIGTTOU};
use std::collections::VecDeque;
use std::io;
use std::net::SocketAddr;
use std::sync::Arc;

/// What a guardian sleeps through.
const SIGNALS: [i32; 8] = [SIGTERM, SIGINT, SIGHUP, SIGQUIT, SIGTSTP, SIGTTIN, SIGTTOU, SIGPIPE];

/// Priority, from −20 for the first to 19 for the last (setpriority(2)).
const FIRST: i32 = -15;

/// Guards until the program lets go of the wire, or is gone and the stop has had its time. `say` gives the person the
/// words for that, and must not wait.
///
/// # Errors
/// What the system refuses before anything is guarded: standard input is no program's.
pub fn run(say: &dyn Fn()) -> io::Result<()> {
    sockopt::socket_type(stdin())?;
    for signal in SIGNALS {
        signal_hook::flag::register(signal, Arc::default())?;
    }
    // Leading a session already, it is out of reach of the terminal's signals as well.
    let _ = rustix::process::setsid();
    // Before other work, where that is allowed: it has little to do, and that at once.
    let _ = rustix::process::setpriority_process(None, FIRST);
    #[cfg(target_os = "linux")]
    let _ = std::ffi::CString::new(super::NAME).map(|name| rustix::thread::set_name(&name));
    let mut pump = Pump::new(say);
    tell(orders::READY);
    while !pump.left {
        pump.hear();
        let due = pump.machine.work(boot(), pump.leaving.is_empty());
        pump.carry_out(due);
        pump.write();
        if !pump.left {
            pump.lock();
            pump.wait();
        }
    }
    Ok(())
}

/// What standard output is.
enum Wire {
    /// A terminal's device.
    Port,
    Stream,
    Datagrams(Option<SocketAddr>),
}

struct Pump<'s> {
    say: &'s dyn Fn(),
    machine: Guardian,
    wire: Wire,
    came: Vec<u8>,
    /// Stops on their way, the first perhaps in part.
    leaving: VecDeque<Vec<u8>>,
    begun: bool,
    /// To be told once nothing is on its way any more.
    released: bool,
    /// The program is gone.
    alone: bool,
    locked: bool,
    left: bool,
}

impl<'s> Pump<'s> {
    fn new(say: &'s dyn Fn()) -> Self {
        let wire = match sockopt::socket_type(stdout()) {
            Ok(SocketType::DGRAM) => Wire::Datagrams(None),
            Ok(_) => Wire::Stream,
            Err(_) => Wire::Port,
        };
        Self {
            say,
            machine: Guardian::default(),
            wire,
            came: Vec::new(),
            leaving: VecDeque::new(),
            begun: false,
            released: false,
            alone: false,
            locked: false,
            left: false,
        }
    }

    /// Takes every order that has come.
    fn hear(&mut self) {
        let mut bytes = [0; 4096];
        while !self.alone {
            let end = match recv(stdin(), &mut bytes[..], RecvFlags::DONTWAIT) {
                Ok((0, _)) => true,
                Ok((count, _)) => {
                    self.came.extend(&bytes[..count]);
                    self.take_orders().is_err()
                }
                Err(Errno::WOULDBLOCK) => return,
                Err(Errno::INTR) => false,
                Err(_) => true,
            };
            if end {
                self.alone = true;
                let deeds = self.machine.hear(boot(), GuardianInput::End);
                self.carry_out(deeds);
            }
        }
    }

    fn take_orders(&mut self) -> Result<(), orders::Garbled> {
        while let Some(order) = orders::take(&mut self.came)? {
            match order {
                Order::Heard(heard) => {
                    let deeds = self.machine.hear(boot(), heard);
                    self.carry_out(deeds);
                }
                Order::Peer(peer) => {
                    if let Wire::Datagrams(to) = &mut self.wire {
                        *to = Some(peer);
                    }
                }
            }
        }
        Ok(())
    }

    fn carry_out(&mut self, deeds: Vec<GuardianOutput>) {
        for deed in deeds {
            match deed {
                GuardianOutput::Tell(GuardianEvent::Released) => {
                    let keep = usize::from(self.begun);
                    self.leaving.truncate(keep);
                    self.released = true;
                }
                GuardianOutput::Tell(event) => tell(orders::answer(event)),
                GuardianOutput::Discard => {
                    self.leaving.clear();
                    self.begun = false;
                    if matches!(self.wire, Wire::Port) {
                        let _ = tcflush(stdout(), QueueSelector::OFlush);
                    }
                }
                GuardianOutput::Write(stop) => self.leaving.push_back(stop),
                GuardianOutput::Say => (self.say)(),
                GuardianOutput::Leave => self.left = true,
            }
        }
    }

    /// Writes as much as the wire takes now.
    fn write(&mut self) {
        while let Some(stop) = self.leaving.front_mut() {
            let written = match self.wire {
                Wire::Port => write(stdout(), stop),
                Wire::Stream => send(stdout(), stop, SendFlags::DONTWAIT),
                // Datagrams go whole or not at all, and nobody who hears them is no end of the wire.
                Wire::Datagrams(to) => {
                    let flags = SendFlags::DONTWAIT;
                    let _ = to.map(|to| sendto(stdout(), stop, flags, &to));
                    Ok(stop.len())
                }
            };
            match written {
                Ok(count) if count < stop.len() => {
                    stop.drain(..count);
                    self.begun |= count > 0;
                    break;
                }
                Ok(_) => {
                    self.leaving.pop_front();
                    self.begun = false;
                }
                Err(Errno::INTR) => {}
                Err(Errno::WOULDBLOCK) => break,
                Err(_) => return self.hang_up(),
            }
        }
        if self.leaving.is_empty() && std::mem::take(&mut self.released) {
            tell(orders::answer(GuardianEvent::Released));
        }
    }

    /// As the library locks a port (flock(2)): the next program finds it in use, and says by whom. The program's own
    /// lock may outlive its end of the pipe by a little.
    fn lock(&mut self) {
        if self.alone && !self.locked && matches!(self.wire, Wire::Port) {
            self.locked = flock(stdout(), FlockOperation::NonBlockingLockExclusive).is_ok();
        }
    }

    fn hang_up(&mut self) {
        let deeds = self.machine.hear(boot(), GuardianInput::HungUp);
        self.carry_out(deeds);
    }

    /// Sleeps until something comes, something is due, or the wire takes bytes again.
    fn wait(&mut self) {
        let mut wanted = PollFlags::empty();
        wanted.set(PollFlags::OUT, !self.leaving.is_empty());
        wanted.set(PollFlags::IN, self.alone);
        let (program, wire) =
            (PollFd::from_borrowed_fd(stdin(), PollFlags::IN), PollFd::from_borrowed_fd(stdout(), wanted));
        // Nobody hangs up on datagrams; and once the program is gone its end says so without end.
        let datagrams = matches!(self.wire, Wire::Datagrams(_));
        let mut watched: Vec<PollFd<'_>> =
            [(!datagrams).then_some(wire), (!self.alone).then_some(program)].into_iter().flatten().collect();
        let ready = poll(&mut watched, timeout(self.machine.due()).as_ref());
        if datagrams || ready.is_err() {
            return;
        }
        let wire = watched[0].revents();
        if wire.intersects(PollFlags::HUP | PollFlags::ERR | PollFlags::NVAL)
            || wire.contains(PollFlags::IN) && self.over()
        {
            self.hang_up();
        }
    }

    /// Throws away what the board sends; whether its end is closed.
    fn over(&self) -> bool {
        let mut bytes = [0; 4096];
        let read = match self.wire {
            Wire::Port => read(stdout(), &mut bytes[..]),
            _ => recv(stdout(), &mut bytes[..], RecvFlags::DONTWAIT).map(|(count, _)| count),
        };
        !matches!(read, Ok(1..) | Err(Errno::WOULDBLOCK | Errno::INTR))
    }
}

fn tell(answer: [u8; orders::ANSWER]) {
    // A program that is gone or hears nothing is told nothing.
    let _ = send(stdin(), &answer, SendFlags::DONTWAIT);
}

/// How long until then; `None`: for ever.
fn timeout(due: Time) -> Option<Timespec> {
    (due != Time::NEVER).then(|| due.since(boot()).try_into().ok()).flatten()
}
