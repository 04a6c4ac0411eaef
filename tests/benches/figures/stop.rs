//! From a key at the terminal to the stop frame on the wire, over two pseudo-terminals.
//!
//! A session is brought into a start with turning motors on simulated time, then goes on in the real
//! world: the real threads for terminal, wire and disk, and the virtual board paced by the real clock
//! at the other end. Timed from before the key's byte is written until the stop frame's first byte
//! has been read.

pub mod craft;
mod load;
pub mod wires;

use crate::spread::{Spread, beside};
use craft::Craft;
use quadjig::measure::time::Time;
use quadjig::report::screen::{Screen, Style};
use quadjig::seam::ui::UiEvent;
use quadjig::seam::{Effect, Event, PortName, World};
use quadjig::world::real::{BAUD, RealWorld, Setup};
use quadjig::world::terminal::Terminal;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::{Duration, Instant};
use wires::{Pty, forward};

pub use load::{SPIN, spin};

/// The least and the most that a key comes after the session has gone over to the real world.
const KEY: (u64, u64) = (4_000, 20_000);
/// A stop frame that has not come by then never will.
const LONGEST: Duration = Duration::from_secs(20);

pub fn figures(count: usize) {
    println!("\nkey to stop bytes, over two pseudo-terminals, motors turning");
    let mut stops = Stops::new();
    tell("idle, but for what else the machine does", &mut stops, count, Duration::from_millis(2));
    let load = load::Load::on_every_core();
    tell("every core busy with another process", &mut stops, count, Duration::from_millis(5));
    drop(load);
}

fn tell(what: &str, stops: &mut Stops, count: usize, goal: Duration) {
    println!("  {what}");
    let (stops, spoiled) = stops.many(count);
    if stops.is_empty() {
        println!("    no key came in time: the watch stopped first, as nothing was heard for too long");
        return;
    }
    let whole = Spread::of(stops.iter().map(|stop| stop.whole).collect());
    let core = Spread::of(stops.iter().map(|stop| stop.core).collect());
    println!("    {whole}\n    p99.9 {}", beside(whole.quantile(0.999), goal));
    println!("    of it until the core has decided: {core}");
    println!("    for comparison, one byte over one pseudo-terminal: {}", wires::bare(count));
    if spoiled > 0 {
        println!(
            "    ({spoiled} more not counted: the watch stopped before the key, as nothing was heard for too long)"
        );
    }
}

/// One stop: until its first byte was read, and until the core had handed it out.
struct Stop {
    whole: Duration,
    core: Duration,
}

/// The two wires and the real world between them.
struct Stops {
    world: RealWorld,
    craft: Sender<craft::To>,
    /// Whatever has left for the board, with the moment at which it was read.
    wire: Receiver<(Instant, Vec<u8>)>,
    /// Asks for a key after a while.
    hand: Sender<Duration>,
    pressed: Receiver<Instant>,
    dice: u64,
    /// The wire took nothing for so long that it was given up: a new one is needed.
    lost: bool,
}

impl Stops {
    fn new() -> Self {
        let (terminal, port) = (Pty::open(), Pty::open());
        let setup = Setup {
            crafts: std::env::temp_dir(),
            radio_card: None,
            recipe: "figures".to_owned(),
            baud: BAUD,
            history: None,
            terminal: Some(Terminal::from_file(terminal.other_end()).unwrap()),
            to_output: false,
            guardian: None,
        };
        let mut world = RealWorld::new(setup, Box::new(Screen::new(Style::default()))).unwrap();
        world.act(Effect::Open(PortName::Serial(port.path.clone())));
        let (_, event) = world.next(Time(u64::MAX));
        assert!(matches!(event, Event::Opened(Ok(_))), "{event:?}");

        let (craft, wire) = Craft::start(port);
        let (hand, asked) = channel::<Duration>();
        let (press, pressed) = channel();
        let mut key = terminal.same_end();
        std::thread::spawn(move || {
            for wait in asked {
                std::thread::sleep(wait);
                let now = Instant::now();
                std::io::Write::write_all(&mut key, b" ").unwrap();
                if press.send(now).is_err() {
                    return;
                }
            }
        });
        // Somebody has to look at the screen, or it would stand still.
        forward(terminal.same_end(), |_, _| true);
        Self { world, craft, wire, hand, pressed, dice: 1, lost: false }
    }

    /// So many stops by a key, and how many others there were meanwhile.
    fn many(&mut self, count: usize) -> (Vec<Stop>, usize) {
        let script = crate::rehearsal::script();
        let (mut stops, mut spoiled) = (Vec::with_capacity(count), 0);
        while stops.len() < count && spoiled < count {
            match self.one(craft::turning(&script, false, false)) {
                Ok(stop) => stops.push(stop),
                Err(_) => spoiled += 1,
            }
            self.quiet();
            if self.lost {
                *self = Self { dice: self.dice, ..Self::new() };
            }
        }
        (stops, spoiled)
    }

    /// Goes on with a turning session in the real world, presses a key and waits for the stop; `Err` is
    /// another reason for which it was stopped.
    fn one(&mut self, turning: craft::Turning) -> Result<Stop, String> {
        let craft::Turning { mut session, board, .. } = turning;
        let began = board.now();
        let real = self.world.next(Time(0)).0;
        let ahead = Ahead::of(began, real);
        self.craft.send(craft::To::Begin(Box::new(board), Instant::now())).unwrap();
        let wait = self.wait();
        self.hand.send(wait).unwrap();

        let (mut decided, mut needle, mut why) = (None, Vec::new(), String::new());
        let (mut heard, mut pressed, mut last) = (Vec::new(), None, real);
        loop {
            // While the stop is on its way, what was read is looked at often.
            let wake = ahead.in_world(session.wake());
            let wake = if decided.is_some() { wake.min(last + Duration::from_micros(300)) } else { wake };
            let (at, event) = self.world.next(wake);
            last = at;
            self.lost |= matches!(event, Event::Lost);
            session.handle(ahead.in_core(at), event, &mut |effect| {
                let effect = match effect {
                    Effect::Hold(bytes, through) => {
                        Effect::Hold(bytes, ahead.in_world(through.start)..ahead.in_world(through.end))
                    }
                    Effect::Stop(bytes) if decided.is_none() => {
                        decided = Some(Instant::now());
                        needle.clone_from(&bytes);
                        Effect::Stop(bytes)
                    }
                    Effect::Show(UiEvent::StopBegins { reason, delivery }) => {
                        why.clone_from(&reason);
                        Effect::Show(UiEvent::StopBegins { reason, delivery })
                    }
                    other => other,
                };
                self.world.act(effect);
            });
            heard.extend(self.wire.try_iter());
            pressed = pressed.or_else(|| self.pressed.try_recv().ok());
            if let (Some(decided), Some(pressed)) = (decided, pressed) {
                if let Some(read) = first_read(&heard, &needle) {
                    let ours = why == "a key was pressed";
                    return ours.then(|| Stop { whole: read - pressed, core: decided - pressed }).ok_or(why);
                }
                assert!(pressed.elapsed() < LONGEST, "no stop after a key");
            }
            assert!(
                at.since(real) < wait + LONGEST,
                "no stop: key {:?}, decision {:?}, {why:?}",
                pressed.map(|at| at.elapsed()),
                decided.map(|at| at.elapsed())
            );
        }
    }

    /// A moment for the next key, spread evenly so that keys meet telemetry in every phase.
    fn wait(&mut self) -> Duration {
        self.dice = self.dice.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        Duration::from_micros(KEY.0 + (self.dice >> 33) % (KEY.1 - KEY.0))
    }

    /// Until nothing of the last session is under way any more.
    fn quiet(&mut self) {
        self.world.act(Effect::Release);
        let (ended, is_over) = channel();
        self.craft.send(craft::To::End(ended)).unwrap();
        is_over.recv().unwrap();
        loop {
            let (now, event) = self.world.next(Time(0));
            if matches!(event, Event::Tick) {
                let (_, event) = self.world.next(now + Duration::from_millis(2));
                if matches!(event, Event::Tick) {
                    break;
                }
            }
        }
        self.wire.try_iter().for_each(drop);
    }
}

/// How far the session's clock, which began on simulated time, is ahead of the real world's; µs, negative: behind.
#[derive(Clone, Copy)]
pub struct Ahead(i64);

impl Ahead {
    pub fn of(core: Time, world: Time) -> Self {
        Self(micros(core) - micros(world))
    }

    pub fn in_core(self, at: Time) -> Time {
        moment(micros(at).saturating_add(self.0))
    }

    pub fn in_world(self, at: Time) -> Time {
        moment(micros(at).saturating_sub(self.0))
    }
}

fn micros(at: Time) -> i64 {
    i64::try_from(at.0).unwrap_or(i64::MAX)
}

fn moment(micros: i64) -> Time {
    Time(u64::try_from(micros).unwrap_or(0))
}

/// When the first byte of the needle was read.
fn first_read(heard: &[(Instant, Vec<u8>)], needle: &[u8]) -> Option<Instant> {
    let all: Vec<u8> = heard.iter().flat_map(|(_, bytes)| bytes).copied().collect();
    let place = all.windows(needle.len()).position(|window| window == needle)?;
    let mut before = 0;
    heard.iter().find_map(|(at, bytes)| {
        before += bytes.len();
        (before > place).then_some(*at)
    })
}
