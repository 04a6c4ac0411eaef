//! How a board departs from one that means well: what it cannot sense, how its clock runs, and whether what it
//! acknowledges is what it did.
//!
//! Promises: without a departure everything is as it would be without this file. Each departure can be asked for when
//! the world is made and by a world line. Must not be here: what a deed does, once it is done.

use super::config::ArmBy;
use super::lines::{WorldLineError, number, one_of, unknown_word, within};
use super::telemetry::GOES_AFTER;
use super::world::World;
use crate::measure::time::Time;
use std::time::Duration;

/// What becomes of something that the board is told to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Deed {
    /// Done, and acknowledged.
    #[default]
    Done,
    /// Acknowledged, and not done.
    Hollow,
    /// Acknowledged at once, and done so much later.
    Late(Duration),
    /// Done, and never acknowledged.
    Silent,
}

/// The id that a board gives.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum GivenId {
    /// Its own.
    #[default]
    Own,
    /// All zeros.
    Zero,
    /// None: it refuses to say who it is.
    Refused,
    /// None: it says nothing to the question.
    Silent,
}

/// See the module.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Conduct {
    /// Whether it has a sensor for voltage and current.
    pub voltage_sensor: bool,
    /// The shortest interval at which it tells its armed flag, whatever was asked for.
    pub flag_every: Duration,
    /// How fast its clock runs: 0.98 is slow by 2 %, 1.0001 fast by 100 ppm.
    pub clock_rate: f64,
    /// What becomes of a write. One that is not done is answered with the value that was asked for.
    pub writes: Deed,
    /// What becomes of storing.
    pub stores: Deed,
    /// What becomes of a restart.
    pub restarts: Deed,
    /// What becomes of a disarm.
    pub disarms: Deed,
    /// What becomes of a motor run by command.
    pub runs: Deed,
    /// The next so many disarms that it does not hear at all.
    pub swallows: u32,
    /// The id that it gives.
    pub id: GivenId,
    /// Whether USB feeds the motors while the battery is out. A diode keeps that from the voltage sensor, which
    /// shows 0 then.
    pub usb_feeds_motors: bool,
}

impl Default for Conduct {
    fn default() -> Self {
        Self {
            voltage_sensor: true,
            flag_every: Duration::from_millis(50),
            clock_rate: 1.0,
            writes: Deed::Done,
            stores: Deed::Done,
            restarts: Deed::Done,
            disarms: Deed::Done,
            runs: Deed::Done,
            swallows: 0,
            id: GivenId::Own,
            usb_feeds_motors: false,
        }
    }
}

/// What USB gives to motors that it feeds, volts (USB 2.0, 7.2.2: 4.4 V at least at the end of a cable).
pub const USB_VOLTS: f64 = 4.6;

/// Something acknowledged that is still to be done.
#[derive(Debug, Clone, Copy)]
pub enum Owed {
    /// A setting, by place, and its value.
    Write(usize, f64),
    Store,
    Restart,
    Disarm,
    Run {
        output: usize,
        pulse: u16,
        lasts: Duration,
    },
}

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
                Owed::Run { output, pulse, lasts } => self.board.run(output, pulse, now + lasts),
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

    /// The board's clock since its start.
    pub(super) fn board_clock(&self, now: Time, since: Time) -> Duration {
        now.since(since).mul_f64(self.config.conduct.clock_rate)
    }

    /// A world line about the board's conduct; `None` where the verb is another.
    pub(super) fn conduct_line(&mut self, verb: &str, words: &[&str]) -> Result<Option<String>, WorldLineError> {
        let conduct = &mut self.config.conduct;
        let answer = match verb {
            "sensor" => {
                conduct.voltage_sensor = one_of(words, "sensor on|off", ["off", "on"])?;
                format!("the voltage sensor is {}", words[0])
            }
            "speeds" => {
                self.config.speed_telemetry = one_of(words, "speeds on|off", ["off", "on"])?;
                format!("motor speeds are {}", words[0])
            }
            "flag" => {
                let slow = one_of(words, "flag usual|slow", ["usual", "slow"])?;
                conduct.flag_every = if slow { Duration::from_secs(1) } else { Conduct::default().flag_every };
                self.streams.flag_every(conduct.flag_every);
                format!("the armed flag comes {}", if slow { "once a second" } else { "as often as asked for" })
            }
            "clock" => {
                const FORM: &str = "clock RATE";
                let [rate] = words else { return Err(WorldLineError::Form { form: FORM }) };
                conduct.clock_rate = within("a clock's rate", number(rate, FORM)?, 0.5, 2.0)?;
                format!("the board's clock runs at {rate}")
            }
            "deed" => self.deed_line(words)?,
            "id" => {
                let ids = [
                    ("own", GivenId::Own),
                    ("zero", GivenId::Zero),
                    ("refused", GivenId::Refused),
                    ("silent", GivenId::Silent),
                ];
                conduct.id = among(words, "id own|zero|refused|silent", "id", &ids)?;
                format!("the board's id is {}", words[0])
            }
            "switch" => {
                let change = one_of(words, "switch level|change", ["level", "change"])?;
                self.config.arm_by = if change { ArmBy::Change } else { ArmBy::Level };
                self.board.arming.arms_by(self.config.arm_by);
                format!("the arm switch arms by {}", if change { "its change" } else { "its level" })
            }
            "rearms" => {
                self.config.rearms = one_of(words, "rearms on|off", ["off", "on"])?;
                self.board.arming.rearms(self.config.rearms);
                format!("arming again by itself is {}", words[0])
            }
            "feed" => {
                conduct.usb_feeds_motors = one_of(words, "feed battery|usb", ["battery", "usb"])?;
                self.feed_motors();
                format!("the motors are fed by {}", if words[0] == "usb" { "usb too" } else { "the battery alone" })
            }
            "swallow" => {
                const FORM: &str = "swallow COUNT";
                let [count] = words else { return Err(WorldLineError::Form { form: FORM }) };
                let not_a_number = |_| WorldLineError::NotANumber { word: (*count).to_owned(), form: FORM };
                conduct.swallows = count.parse::<u32>().map_err(not_a_number)?;
                format!("the board does not hear the next {count} stops")
            }
            _ => return Ok(None),
        };
        Ok(Some(answer))
    }

    fn deed_line(&mut self, words: &[&str]) -> Result<String, WorldLineError> {
        const FORM: &str = "deed write|store|restart|disarm|run done|hollow|silent|MS";
        let [what, how] = <[&str; 2]>::try_from(words).map_err(|_| WorldLineError::Form { form: FORM })?;
        let deed = match how {
            "done" => Deed::Done,
            "hollow" => Deed::Hollow,
            "silent" => Deed::Silent,
            late => {
                let late = within("a delay in ms", number(late, FORM)?, 1.0, 60_000.0)?;
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

fn among<T: Copy>(
    words: &[&str],
    form: &'static str,
    what: &'static str,
    all: &[(&str, T)],
) -> Result<T, WorldLineError> {
    let [word] = words else { return Err(WorldLineError::Form { form }) };
    all.iter().find(|(name, _)| name == word).map(|(_, value)| *value).ok_or_else(|| {
        let names: Vec<&str> = all.iter().map(|(name, _)| *name).collect();
        unknown_word(word, what, &names)
    })
}
