//! The world as a whole: what belongs together, moved from event to event. Time is given from outside and never goes back.
//! Between two events everything follows in closed form.

use super::attitude::Attitude;
use super::battery::Pack;
use super::board::{Board, Power};
use super::conduct::{RunsOn, USB_VOLTS};
use super::config::WorldConfig;
use super::console::Console;
use super::controllers::Controllers;
use super::eye::Eye;
use super::frame::MOST;
use super::motor::{Motor, SOUND_DRAWS, TAKEN_FOR};
use super::noise::{Direction, Noise};
use super::numbers::low_u32;
use super::packets::{PacketSpeech, Speech};
use super::radio::Radio;
use super::receiver::Receiver;
use super::streams::{Late, Streams};
use super::under_way::{Listing, Longer, Owed};
use super::wire::Wire;
use crate::measure::time::Time;
use mavlink::dialects::common::MavSeverity;

/// A virtual board and everything around it.
///
/// The wire carries bytes only while [`World::link_present`]; what is sent to it meanwhile is lost, as with a
/// USB port that has vanished. A copy goes on by itself: what could become of a world is seen by letting one play.
#[derive(Clone)]
pub struct World {
    pub(super) config: WorldConfig,
    pub(super) now: Time,
    pub(super) radio: Radio,
    pub(super) receiver: Receiver,
    pub(super) board: Board,
    pub(super) motors: Vec<Motor>, // by place of the frame
    pub(super) controllers: Controllers,
    pub(super) pack: Pack,
    pub(super) attitude: Attitude,
    pub(super) props: bool,
    pub(super) usb: bool,
    /// Commanded, by motor as the board numbers them; 0 behind the last.
    outputs: [u16; MOST],
    eye: Eye,
    pub(super) wire: Wire,
    /// Where the board has one: the wire is its console then, or carries its packets, and no MAVLink.
    pub(super) console: Option<Console>,
    pub(super) packets: Option<Box<dyn PacketSpeech>>,
    /// Packets of settings that were told, as far as a byte counts.
    pub(super) packets_told: u8,
    /// What happens to bytes on their way out and in.
    noise: [Noise; 2],
    pub(super) streams: Streams,
    pub(super) late: Late,
    pub(super) listing: Option<Listing>,
    pub(super) longer: Longer,
    pub(super) restart_at: Time,
    /// Acknowledged and still to be done, with its time.
    pub(super) owed: Vec<(Time, Owed)>,
    texts: u16,
    starts: u32,
}

impl World {
    /// A world at moment 0. A board with power is up at once, as if it had been for a while.
    #[must_use]
    pub fn new(mut config: WorldConfig) -> Self {
        config.fit(config.make().frame);
        let seed = config.seed;
        let [roll, pitch, heading] = config.attitude;
        let mut world = Self {
            now: Time(0),
            radio: Radio::new(config.radio.clone(), seed),
            receiver: Receiver::new(config.receiver.clone(), seed),
            board: Board::new(&config),
            motors: config.its_motors(),
            controllers: Controllers::new(config.accepts.clone(), config.pack.plugged),
            pack: Pack::new(config.pack),
            attitude: Attitude { roll, pitch, heading },
            props: false,
            usb: config.usb,
            outputs: [0; MOST],
            eye: Eye::default(),
            wire: Wire::new(config.wire, config.speech.clone(), seed),
            console: config.make().dialect.clone().map(|dialect| Console::new(config.console, dialect)),
            packets: config.make().packets.as_ref().map(Speech::begin),
            packets_told: 0,
            noise: [Noise::new(config.hits_out, seed, Direction::Out), Noise::new(config.hits_in, seed, Direction::In)],
            streams: Streams::new(config.wire.quiet, config.conduct.flag_every, config.conduct.speeds_every),
            late: Late::default(),
            listing: None,
            longer: Longer::default(),
            restart_at: Time::NEVER,
            owed: Vec::new(),
            texts: 0,
            starts: 0,
            config,
        };
        world.feed_motors();
        world.feed_receiver(Time(0));
        if world.receiver_fed() {
            world.receiver.next = Time(0);
        }
        if world.powered() {
            world.come_up(Time(0));
            world.step(Time(0));
        }
        world
    }

    /// Lets time pass up to a moment; one in the past changes nothing.
    pub fn advance(&mut self, to: Time) {
        loop {
            let next = self.wake();
            if next > to {
                break;
            }
            self.now = self.now.max(next);
            self.step(self.now);
        }
        self.now = self.now.max(to);
        self.wire.pace.advance(self.now);
    }

    /// Takes bytes that reach the board at a moment.
    pub fn receive(&mut self, now: Time, bytes: &[u8]) {
        self.advance(now);
        if !self.link_present() {
            return;
        }
        let bytes = &*self.noise[1].pass(bytes);
        self.wire.pace.feed(bytes);
        self.take_input(self.now);
        self.settle(self.now);
    }

    /// Acts on what has come in over the wire.
    fn take_input(&mut self, now: Time) {
        if self.console.is_some() {
            let bytes = self.wire.pace.come();
            self.type_in(now, &bytes);
            return;
        }
        if self.packets.is_some() {
            let bytes = self.wire.pace.come();
            self.hear_packets(now, &bytes);
            return;
        }
        if !self.wire.take_in() {
            return;
        }
        while let Some((from, incoming)) = self.wire.next() {
            self.handle(now, from, incoming);
        }
    }

    /// Takes the bytes that have come from the board up to now.
    #[must_use]
    pub fn take_output(&mut self) -> Vec<u8> {
        self.noise[0].pass(self.wire.pace.take()).into_owned()
    }

    /// The next moment at which something will be sent or change.
    #[must_use]
    pub fn wake(&self) -> Time {
        let listing = self.listing.as_ref().map_or(Time::NEVER, |listing| listing.at);
        let console = self.console.as_ref().map_or(Time::NEVER, Console::wake);
        let wire = self
            .streams
            .wake()
            .min(self.late.wake())
            .min(listing)
            .min(console)
            .min(self.wire.pace.wake())
            .min(self.longer.wake());
        self.receiver.next.min(self.board.wake()).min(wire).min(self.restart_at).min(self.owed_at())
    }

    /// Whether the board's port is there: USB is in and the board runs.
    #[must_use]
    pub fn link_present(&self) -> bool {
        self.usb && self.board.up_since().is_some()
    }

    /// Whether a program can have the port open: it is there, or stays there without the board.
    #[must_use]
    pub fn port_present(&self) -> bool {
        self.link_present() || self.usb && self.config.conduct.port_stays
    }

    /// Whether the craft is armed.
    #[must_use]
    pub fn armed(&self) -> bool {
        self.board.armed()
    }

    /// What the board commands its motors, µs; 0: no pulse.
    #[must_use]
    pub fn outputs(&self) -> &[u16] {
        self.outputs.get(..self.motors.len()).unwrap_or(&self.outputs)
    }

    /// Speeds by place of the frame at the present moment, rpm.
    #[must_use]
    pub fn speeds(&self) -> Vec<f64> {
        self.motors.iter().map(|motor| motor.speed(self.now)).collect()
    }

    /// Corners whose motors turned since the last look, and whether clockwise, seen from above.
    pub fn look(&mut self) -> Vec<(&'static str, bool)> {
        self.look_well().into_iter().map(|(corner, clockwise, _)| (corner, clockwise)).collect()
    }

    /// The same, and whether each began late.
    pub fn look_well(&mut self) -> Vec<(&'static str, bool, bool)> {
        let (turned, late) = self.eye.looks();
        let places = self.board.make.frame.places().iter().enumerate();
        places.filter(|(at, _)| turned[*at]).map(|(at, place)| (place.corner, self.clockwise(at), late[at])).collect()
    }

    /// Volts at the battery's leads; 0 when it is out.
    #[must_use]
    pub fn pack_volts(&self) -> f64 {
        self.pack.volts()
    }

    /// The present moment.
    #[must_use]
    pub fn now(&self) -> Time {
        self.now
    }

    /// What the world was made of.
    #[must_use]
    pub fn config(&self) -> &WorldConfig {
        &self.config
    }

    fn step(&mut self, now: Time) {
        self.wire.pace.advance(now);
        self.work_owed(now);
        if self.restart_at <= now {
            self.begin_restart(now);
        }
        if matches!(self.board.power, Power::Starting(at) if at <= now) {
            self.come_up(now);
        }
        if self.receiver.next <= now {
            self.receiver.frame(now, &self.radio);
            if self.board.up_since().is_some() {
                self.board.battery = self.pack.plugged;
                self.board.console_blocks = self.console.as_ref().is_some_and(Console::blocks_arming);
                let started = self.board.started;
                let fits = started.hears(self.receiver.config.protocol, self.receiver.config.port);
                self.board.hear(now, self.receiver.heard().filter(|_| fits));
            }
        }
        self.board.work(now);
        self.settle(now);
        for telemetry in self.streams.due(now).into_iter().flatten() {
            if self.link_present() {
                self.tell(telemetry, now);
            }
        }
        self.late.send(now, &mut self.wire);
        self.work_console(now);
        self.work_longer(now);
        if self.link_present() {
            self.take_input(now);
            self.go_on_listing(now);
        } else {
            self.listing = None;
        }
    }

    /// Carries a change through: outputs, motors, battery, and what the board has to say about it.
    pub(super) fn settle(&mut self, now: Time) {
        self.board.battery = self.pack.plugged;
        self.board.refresh();
        let stands = (self.attitude, self.config.mounted);
        self.outputs = self.board.outputs(now, stands, self.config.stabiliser);
        let signal = self.board.up_since().map(|_| self.board.started.signal);
        let acted_on = self.controllers.act_on(signal);
        let volts = self.motor_volts();
        let (order, outputs) = (self.board.started.order, self.outputs);
        let sounds = self.motors_sound();
        let turned_by_sound = sounds && self.config.conduct.sound_turns;
        for (output, place) in self.config.wiring.iter().enumerate() {
            // An output that two motors share, or none has, carries what the first says, or nothing.
            let pulse = order.iter().position(|of| *of == output).map_or(0, |motor| outputs[motor]);
            let pulse = if turned_by_sound { TAKEN_FOR } else { f64::from(pulse) };
            let pulse = (acted_on && pulse > 0.0).then_some(pulse);
            let motor = &mut self.motors[*place];
            motor.drive(now, pulse, volts, self.props);
            self.eye.watches(now, *place, motor);
        }
        let sounding = if sounds { SOUND_DRAWS } else { 0.0 };
        self.pack.draw(now, self.motors.iter().map(|motor| motor.current(now) + sounding).sum());
        for note in std::mem::take(&mut self.board.notes) {
            self.say(MavSeverity::MAV_SEVERITY_NOTICE, &note.to_string());
        }
        self.send_shown();
    }

    /// The attitude as the board sees it.
    pub(super) fn seen(&self) -> Attitude {
        self.board.sees(self.attitude, self.config.mounted)
    }

    pub(super) fn next_text_id(&mut self) -> u16 {
        self.texts = self.texts.wrapping_add(1).max(1);
        self.texts
    }

    /// How often the board has come up.
    #[must_use]
    pub fn starts(&self) -> u32 {
        self.starts
    }

    /// Volts that the speed controllers are fed with.
    pub(super) fn motor_volts(&self) -> f64 {
        let by_usb = !self.pack.plugged && self.usb && self.config.conduct.usb_feeds_motors;
        if by_usb { USB_VOLTS } else { self.pack.volts() }
    }

    /// Acts on what feeds the speed controllers; losing it ends what they had chosen.
    pub(super) fn feed_motors(&mut self) {
        self.controllers.power(self.motor_volts() > 0.0);
    }

    pub(super) fn powered(&self) -> bool {
        self.pack.plugged || self.usb && self.config.conduct.runs_on == RunsOn::Either
    }

    /// Whether the receiver has power: the battery's, or that of USB where it is wired to it.
    fn receiver_fed(&self) -> bool {
        self.pack.plugged || self.powered() && self.board.make.usb_feeds_receiver
    }

    /// Acts on what feeds the receiver.
    fn feed_receiver(&mut self, now: Time) {
        if self.receiver_fed() != self.receiver.powered() {
            let fed = self.receiver_fed();
            self.receiver.power(fed, now);
            if !fed {
                self.board.hear(now, None);
            }
        }
    }

    pub(super) fn begin_restart(&mut self, now: Time) {
        self.restart_at = Time::NEVER;
        self.owed.clear();
        self.listing = None;
        self.longer.restart();
        self.streams.stop();
        self.late = Late::default();
        self.board.set_power(Power::Starting(now + self.config.restart));
        self.console_port();
    }

    fn come_up(&mut self, now: Time) {
        self.board.come_up(now);
        self.starts += 1;
        self.wire.restart();
        if self.console.is_some() {
            self.console_port();
            return;
        }
        if self.packets.is_some() {
            self.start_packets(now);
            return;
        }
        self.streams.start(now);
        let craft = low_u32(self.config.seed);
        let ready = format!("{} {} ready, craft {craft:08x}", self.board.make.name, self.config.firmware_name());
        self.say(MavSeverity::MAV_SEVERITY_INFO, &ready);
    }

    /// Acts on power that came or went; `was` is whether there was any before.
    pub(super) fn power_changed(&mut self, now: Time, was: bool) {
        self.feed_receiver(now);
        match (was, self.powered()) {
            (false, true) => {
                self.board.set_power(Power::Starting(now + self.config.restart));
            }
            (true, false) => {
                self.restart_at = Time::NEVER;
                self.owed.clear();
                self.listing = None;
                self.longer.restart();
                self.streams.stop();
                self.board.set_power(Power::Off);
            }
            _ => {}
        }
        self.console_port();
    }
}
