//! What the board does of what it was told, at once, late or never; and the world lines about its conduct.
//!
//! Promises: each departure can be asked for by a world line. Must not be here: what a deed does, once it is done.

use super::conduct::{Conduct, Deed, GivenId, RunsOn};
use super::config::ArmBy;
use super::lines::{Said, WorldLineError, place_of, unknown_word, within};
use super::numbers::scaled;
use super::packets::{PacketFault, Signal};
use super::telemetry::GOES_AFTER;
use super::under_way::Owed;
use super::wire::Sender;
use super::world::World;
use crate::measure::time::Time;
use mavlink::dialects::common::{COMMAND_ACK_DATA, MavCmd, MavResult};
use std::time::Duration;

/// From one word on long work to the next (chosen).
const WORKS: Duration = Duration::from_millis(800);
/// From one sign of life of the others to the next: about 1 Hz (mavlink-devguide, services/heartbeat.md).
const BEAT: Duration = Duration::from_secs(1);

impl World {
    /// Does what is owed by now.
    pub(super) fn work_owed(&mut self, now: Time) {
        while let Some(place) = self.owed.iter().position(|(at, _)| *at <= now) {
            match self.owed.remove(place).1 {
                // It was judged when it was acknowledged.
                Owed::Write(index, value) => drop(self.board.memory.set(index, value)),
                Owed::Store => self.board.memory.store(),
                Owed::Restart => self.restart_at = now + GOES_AFTER,
                Owed::Disarm => self.disarm(now),
                Owed::Run { output, pulse, lasts } => {
                    let until = if self.config.conduct.runs_end { now + lasts } else { Time::NEVER };
                    self.board.run(output, pulse, until);
                }
            }
        }
    }

    /// Does it now, later or not at all, as the board's way with such a deed is; whether that is acknowledged.
    pub(super) fn does(&mut self, now: Time, how: Deed, owed: Owed) -> bool {
        match how {
            Deed::Hollow => return true,
            Deed::Late(after) => {
                self.owed.push((now + after, owed));
                return true;
            }
            Deed::Done | Deed::Silent => self.owed.push((now, owed)),
        }
        self.work_owed(now);
        how == Deed::Done
    }

    /// Ends a motor run and disarms.
    fn disarm(&mut self, now: Time) {
        self.board.test = None;
        let note = self.board.arming.disarm(now);
        self.board.notes.extend(note);
    }

    /// Whether a disarm is one that the board does not hear.
    pub(super) fn swallowed(&mut self) -> bool {
        let swallowed = self.config.conduct.swallows > 0;
        self.config.conduct.swallows = self.config.conduct.swallows.saturating_sub(1);
        swallowed
    }

    /// When something owed is due.
    pub(super) fn owed_at(&self) -> Time {
        self.owed.iter().map(|(at, _)| *at).min().unwrap_or(Time::NEVER)
    }

    /// The board's clock since its start, µs.
    pub(super) fn board_clock(&self, now: Time, since: Time) -> u64 {
        scaled(now.0.saturating_sub(since.0), self.config.conduct.clock_rate)
    }

    /// A world line about the board's conduct; `None` where the verb is another.
    pub(super) fn conduct_line(&mut self, verb: &str, said: Said<'_>) -> Result<Option<String>, WorldLineError> {
        let conduct = &mut self.config.conduct;
        let answer = match verb {
            "sensor" => {
                conduct.voltage_sensor = said.one_of(["off", "on"])?;
                format!("the voltage sensor is {}", said.words[0])
            }
            "speeds" => {
                self.config.speed_telemetry = said.one_of(["off", "on"])?;
                format!("motor speeds are {}", said.words[0])
            }
            "falsify" => self.falsify(said)?,
            "freeze" => self.freeze(said)?,
            "flag" => {
                let slow = said.one_of(["usual", "slow"])?;
                conduct.flag_every = if slow { Duration::from_secs(1) } else { Conduct::default().flag_every };
                self.streams.flag_every(conduct.flag_every);
                format!("the armed flag comes {}", if slow { "once a second" } else { "as often as asked for" })
            }
            "clock" => {
                let [rate] = said.all()?;
                conduct.clock_rate = within("a clock's rate", said.number(rate)?, 0.5, 2.0)?;
                format!("the board's clock runs at {rate}")
            }
            "deed" => self.deed_line(said)?,
            "id" => {
                let ids = [
                    ("own", GivenId::Own),
                    ("zero", GivenId::Zero),
                    ("refused", GivenId::Refused),
                    ("silent", GivenId::Silent),
                ];
                conduct.id = said.among("id", &ids)?;
                format!("the board's id is {}", said.words[0])
            }
            "switch" => {
                let change = said.one_of(["level", "change"])?;
                self.config.arm_by = if change { ArmBy::Change } else { ArmBy::Level };
                self.board.arming.arms_by(self.config.arm_by);
                format!("the arm switch arms by {}", if change { "its change" } else { "its level" })
            }
            "rearms" => {
                self.config.rearms = said.one_of(["off", "on"])?;
                self.board.arming.rearms(self.config.rearms);
                format!("arming again by itself is {}", said.words[0])
            }
            "feed" => {
                conduct.usb_feeds_motors = said.one_of(["battery", "usb"])?;
                self.feed_motors();
                format!(
                    "the motors are fed by {}",
                    if said.words[0] == "usb" { "usb too" } else { "the battery alone" }
                )
            }
            "lease" => {
                let ways = [("kept", (true, false)), ("ignored", (false, false)), ("unplugged", (true, true))];
                (conduct.runs_end, conduct.runs_on_unplugged) = said.among("lease", &ways)?;
                format!(
                    "the time of a motor run is {}",
                    if said.words[0] == "unplugged" { "lost with the cable" } else { said.words[0] }
                )
            }
            "power" => {
                let was = self.powered();
                let battery = said.one_of(["either", "battery"])?;
                self.config.conduct.runs_on = if battery { RunsOn::Battery } else { RunsOn::Either };
                self.power_changed(self.now, was);
                format!("the board runs on {}", if battery { "the battery alone" } else { "usb or the battery" })
            }
            "port" => {
                conduct.port_stays = said.one_of(["goes", "stays"])?;
                format!("the port {} while the board restarts", said.words[0])
            }
            "banner" => {
                let Some(console) = &mut self.console else { return Err(said.wrong()) };
                console.config.no_banner = !said.one_of(["off", "on"])?;
                format!("the console's banner is {}", said.words[0])
            }
            "packets" => {
                let said = Said { form: "packets sound|length|sum|endless|other|neighbour|counter", ..said };
                if self.packets.is_none() {
                    return Err(said.wrong());
                }
                self.config.packet_fault = said.among("fault of packets", &PacketFault::ALL)?;
                format!("packets of settings: {}", said.words[0])
            }
            "swallow" => {
                let [count] = said.all()?;
                let not_a_number = |_| WorldLineError::NotANumber { word: count.to_owned(), form: said.form };
                conduct.swallows = count.parse::<u32>().map_err(not_a_number)?;
                format!("the board does not hear the next {count} stops")
            }
            _ => return Ok(None),
        };
        Ok(Some(answer))
    }

    /// A world line: a share of speeds that is false in one way.
    fn falsify(&mut self, said: Said<'_>) -> Result<String, WorldLineError> {
        let said = Said { form: "falsify dropped|zeros|lies SHARE", ..said };
        let [what, percent] = said.all()?;
        let percent = said.number(percent.strip_suffix('%').unwrap_or(percent))?;
        let share = within("a share of readings", percent, 0.0, 100.0)? / 100.0;
        let told = self.console.is_none()
            && self.packets.as_ref().is_none_or(|speech| speech.unasked().contains(&Signal::Speeds));
        if what == "dropped" && !told {
            return Err(WorldLineError::Asked);
        }
        let speeds = &mut self.config.conduct.speeds;
        match what {
            "dropped" => speeds.dropped = share,
            "zeros" => speeds.zeros = share,
            "lies" => speeds.lies = share,
            word => return Err(unknown_word(word, "way to falsify", &["dropped", "zeros", "lies"])),
        }
        Ok(format!("of the speeds {percent} % are {what}"))
    }

    /// A world line: the reading of a motor stands while it is driven.
    fn freeze(&mut self, said: Said<'_>) -> Result<String, WorldLineError> {
        let Some((rpm, corner)) = said.words.split_last().filter(|(_, corner)| !corner.is_empty()) else {
            return Err(said.wrong());
        };
        let frame = self.board.make.frame;
        let place = place_of(frame, &corner.join(" "))?;
        let rpm = within("a speed", said.number(rpm)?, 0.0, 100_000.0)?;
        self.config.conduct.speeds.stands = Some((place, rpm));
        Ok(format!("while the {} motor is driven its speed reads {rpm} rpm", frame.places()[place].corner))
    }

    fn deed_line(&mut self, said: Said<'_>) -> Result<String, WorldLineError> {
        let said = Said { form: "deed write|store|restart|disarm|run done|hollow|silent|MS", ..said };
        let [what, how] = said.all()?;
        let deed = match how {
            "done" => Deed::Done,
            "hollow" => Deed::Hollow,
            "silent" => Deed::Silent,
            late => {
                let late = within("a delay in ms", said.number(late)?, 1.0, 60_000.0)?;
                Deed::Late(Duration::from_secs_f64(late / 1000.0))
            }
        };
        let conduct = &mut self.config.conduct;
        match what {
            "write" => conduct.writes = deed,
            "store" => conduct.stores = deed,
            "restart" => conduct.restarts = deed,
            "disarm" => conduct.disarms = deed,
            "run" => conduct.runs = deed,
            word => return Err(unknown_word(word, "deed", &["write", "store", "restart", "disarm", "run"])),
        }
        Ok(match deed {
            Deed::Done => format!("each {what} is done and acknowledged"),
            Deed::Hollow => format!("each {what} is acknowledged and not done"),
            Deed::Silent => format!("each {what} is done and not acknowledged"),
            Deed::Late(after) => format!("each {what} is acknowledged and done {} ms later", after.as_millis()),
        })
    }
}

impl World {
    /// What long work and others on the wire have to say by now.
    pub(super) fn work_longer(&mut self, now: Time) {
        if self.longer.beats.1 <= now {
            let sequence = self.longer.beats.0;
            let others = !self.config.speech.others.is_empty();
            self.longer.beats = (sequence.wrapping_add(1), if others { now + BEAT } else { Time::NEVER });
            if self.link_present() {
                for (system, component) in self.config.speech.others.clone() {
                    let beat = super::telemetry::heartbeat(self.board.make.frame, false);
                    self.wire.send_from(Sender { system, component }, sequence, &beat);
                }
            }
        }
        let Some((to, said, at)) = self.longer.storing.filter(|(_, _, at)| *at <= now) else { return };
        let of = self.config.speech.store_takes;
        if said < of {
            self.longer.storing = Some((to, said + 1, at + WORKS));
            self.say_progress(to, said, of);
        } else {
            self.longer.storing = None;
            if self.does(now, self.config.conduct.stores, Owed::Store) {
                self.acknowledge(to, MavCmd::MAV_CMD_PREFLIGHT_STORAGE, MavResult::MAV_RESULT_ACCEPTED);
            }
        }
    }

    /// Begins to store, at once or bit by bit; a second time meanwhile it is busy (developer guide). What it says to that.
    pub(super) fn begin_storing(&mut self, now: Time, from: Sender) -> Option<MavResult> {
        let of = self.config.speech.store_takes;
        if self.longer.storing.is_some() {
            return Some(MavResult::MAV_RESULT_TEMPORARILY_REJECTED);
        }
        if of == 0 {
            let said = self.does(now, self.config.conduct.stores, Owed::Store);
            return said.then_some(MavResult::MAV_RESULT_ACCEPTED);
        }
        self.longer.storing = Some((from, 1, now + WORKS));
        Some(MavResult::MAV_RESULT_IN_PROGRESS)
    }

    fn say_progress(&mut self, to: Sender, said: u8, of: u8) {
        let percent = u16::from(said) * 100 / u16::from(of.max(1));
        self.wire.send(&COMMAND_ACK_DATA {
            command: MavCmd::MAV_CMD_PREFLIGHT_STORAGE,
            result: MavResult::MAV_RESULT_IN_PROGRESS,
            progress: u8::try_from(percent).unwrap_or(u8::MAX),
            result_param2: 0,
            target_system: to.system,
            target_component: to.component,
        });
    }
}
