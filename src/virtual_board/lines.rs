//! World lines: moving the world by hand, one line at a time.
//!
//! Every line gets at least one line of answer, all but `help` exactly one. A wrong line changes nothing and
//! says what would be right.

use super::frame::Frame;
use super::radio::STICKS;
use super::settings::Refusal;
use super::world::World;
use crate::measure::nearest::nearest;
use crate::measure::time::Time;

/// What the lines are and do, for `help`.
pub const HELP: [(&str, &str); 43] = [
    ("flip SWITCH POSITION", "put a switch at a position, counted from 0"),
    ("stick NAME VALUE", "put a stick at a pulse (1000) or a share of its travel (-100% … 100%)"),
    ("wiggle NAME", "move a stick right, left and back"),
    ("cross STICK STICK", "exchange the channels of two sticks in the radio"),
    ("reverse STICK", "turn a stick round in the radio"),
    ("trim STICK BY", "move a stick's centre in the radio by so many us"),
    ("mix FROM TO SHARE", "mix one stick onto another's channel, such as: mix roll yaw 30%"),
    ("radio on|off", "switch the transmitter"),
    ("battery in|out", "plug the battery"),
    ("usb in|out", "plug the cable"),
    ("tilt ROLL PITCH", "stand the craft so, degrees: right side down and nose up positive"),
    ("turn HEADING", "turn the craft to a heading, degrees"),
    ("mount TURNED", "how far the board sits turned in the frame, degrees clockwise"),
    ("seat ROLL PITCH", "how far the board sits out of level in the frame, degrees"),
    ("divider RATIO", "the ratio of the voltage divider as it really is"),
    ("props on|off", "fit or take off the propellers"),
    ("threshold CORNER PULSE", "let a motor need a pulse to start, such as: threshold rear right 1150"),
    ("plug OUTPUT CORNER", "plug a motor onto an output; the motor that was there takes its place"),
    ("swap CORNER", "swap two of a motor's three wires, so that it turns the other way"),
    ("windup ROLL PITCH YAW", "how fast the stabiliser winds up without propellers, us a second"),
    ("charge VOLTS", "charge the pack, or empty it, to so many volts without load"),
    ("set NAME VALUE", "change a setting of the board, as by another hand"),
    ("say TEXT", "let the board say a text; \\e, \\r, \\n and \\\\ stand for what cannot be typed"),
    ("restart", "restart the board, as by its button"),
    ("sensor on|off", "the board's sensor for voltage and current"),
    ("speeds on|off", "whether the speed controllers send speeds"),
    ("falsify KIND SHARE", "KIND dropped, zeros or lies: of so many per cent of the speeds; of 0 none"),
    ("freeze CORNER RPM", "let a motor's speed read so much as long as it is driven"),
    ("flag usual|slow", "tell the armed flag as often as asked for, or once a second"),
    ("clock RATE", "how fast the board's clock runs; 0.98 is slow by 2 %"),
    ("deed KIND HOW", "KIND write, store, restart, disarm or run; HOW done, hollow, silent, or late by so many ms"),
    ("id own|zero|refused|silent", "what the board says to who it is"),
    ("switch level|change", "whether the arm switch arms by its level or by its change"),
    ("rearms on|off", "whether the board arms again by itself after a disarm, the switch still being on"),
    ("feed battery|usb", "whether USB feeds the motors too"),
    (
        "lease kept|ignored|unplugged",
        "whether a motor that is run by command stops by itself after its time: it does, does not, or not once the cable is out",
    ),
    ("power either|battery", "whether the board runs on USB or the battery, or on the battery alone"),
    ("port goes|stays", "whether the port is gone while the board restarts"),
    ("banner on|off", "whether a board with a console says so when it starts"),
    ("packets HOW", "what is wrong with packets of settings: sound, length, sum, endless, other, neighbour, counter"),
    ("swallow COUNT", "let the board not hear the next so many stops"),
    ("truth", "what really is, as JSON"),
    ("help", "this list"),
];

/// Why a world line could not be done.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum WorldLineError {
    /// Nothing on it.
    #[error("the line is empty; `help` lists what can be said")]
    Empty,
    /// A verb that does not exist.
    #[error("there is no `{word}` here{}; `help` lists what can be said", meant(.nearest.as_deref()))]
    UnknownVerb {
        /// As written.
        word: String,
        /// The nearest that exists.
        nearest: Option<String>,
    },
    /// Too many or too few words.
    #[error("say it as: {form}")]
    Form {
        /// How the line is to be written.
        form: &'static str,
    },
    /// A word that is none of those possible.
    #[error("`{word}` is no {what}; there are: {known}{}", meant(.nearest.as_deref()))]
    UnknownWord {
        /// As written.
        word: String,
        /// What it should have been.
        what: &'static str,
        /// Those that exist.
        known: String,
        /// The nearest of them.
        nearest: Option<String>,
    },
    /// A word that should have been a number.
    #[error("`{word}` is not a number; say it as: {form}")]
    NotANumber {
        /// As written.
        word: String,
        /// How the line is to be written.
        form: &'static str,
    },
    /// A position that the switch does not have.
    #[error("switch {switch} has positions 0 to {last}, not `{word}`")]
    NoPosition {
        /// The switch.
        switch: String,
        /// Its last position.
        last: usize,
        /// As written.
        word: String,
    },
    /// A number too large or too small for what it is.
    #[error("{what} goes from {least} to {most}, not {value}")]
    OutOfRange {
        /// What was to be set.
        what: &'static str,
        /// Least that is possible.
        least: f64,
        /// Most that is possible.
        most: f64,
        /// As written.
        value: f64,
    },
    /// A setting that the board does not have.
    #[error("the board has no setting `{word}`{}", meant(.nearest.as_deref()))]
    NoSetting {
        /// As written.
        word: String,
        /// The nearest that exists.
        nearest: Option<String>,
    },
    /// The board does not take the value.
    #[error("the board would not: {0}")]
    Refused(String),
    /// Nothing of it leaves by itself, so nothing can be lost.
    #[error(
        "this board is asked for its speeds and tells none by itself, so none can be dropped; there are: zeros, lies"
    )]
    Asked,
    /// The board has no power.
    #[error("the board has no power: plug in USB or the battery first")]
    NoPower,
}

fn meant(nearest: Option<&str>) -> String {
    nearest.map(|word| format!("; did you mean `{word}`?")).unwrap_or_default()
}

impl World {
    /// Does what a line says at a moment, and answers it.
    ///
    /// # Errors
    ///
    /// [`WorldLineError`], when the line is not understood or cannot be done; nothing has changed then.
    pub fn line(&mut self, now: Time, line: &str) -> Result<Vec<String>, WorldLineError> {
        self.advance(now);
        let words: Vec<&str> = line.split_whitespace().collect();
        let (verb, words) = words.split_first().ok_or(WorldLineError::Empty)?;
        let form = HELP.iter().map(|(form, _)| *form).find(|form| form.split(' ').next() == Some(verb));
        let said = Said { form: form.ok_or_else(|| unknown_verb(verb))?, words };
        let answer = match *verb {
            "flip" => self.flip(said)?,
            "stick" => self.stick(said)?,
            "wiggle" => self.wiggle(said)?,
            "radio" => {
                self.radio.on = said.one_of(["off", "on"])?;
                format!("radio is {}", if self.radio.on { "on" } else { "off" })
            }
            "battery" => self.battery(said)?,
            "usb" => self.plug_usb(said)?,
            "tilt" => self.tilt(said)?,
            "turn" => self.turn(said)?,
            "props" => {
                self.props = said.one_of(["off", "on"])?;
                format!("propellers are {}", if self.props { "on" } else { "off" })
            }
            "threshold" => self.threshold(said)?,
            "plug" => self.plug(said)?,
            "swap" => self.swap_wires(said)?,
            "set" => self.set(said)?,
            "say" => self.say_line(said, line)?,
            "restart" => self.restart(said)?,
            "truth" => self.truth().to_string(),
            "help" => return Ok(HELP.iter().map(|(form, what)| format!("{form:<27} {what}")).collect()),
            word => match self.fitted_line(word, said)? {
                Some(answer) => answer,
                None => self.conduct_line(word, said)?.ok_or_else(|| unknown_verb(word))?,
            },
        };
        self.settle(self.now);
        Ok(vec![answer])
    }

    fn flip(&mut self, said: Said<'_>) -> Result<String, WorldLineError> {
        let [name, position] = said.all()?;
        let mut switches = self.radio.switches(self.now);
        let Some(switch) = switches.find(|switch| switch.name.eq_ignore_ascii_case(name)) else {
            let names: Vec<&str> = self.radio.switches(self.now).map(|switch| switch.name).collect();
            return Err(unknown_word(name, "switch", &names));
        };
        let name = switch.name.to_owned();
        let last = switch.positions.saturating_sub(1);
        match position.parse::<usize>() {
            Ok(position) if position <= last => {
                drop(switches);
                self.radio.flip(&name, position, self.now);
                Ok(format!("switch {name} is at {position}"))
            }
            _ => Err(WorldLineError::NoPosition { switch: name, last, word: position.to_owned() }),
        }
    }

    fn stick(&mut self, said: Said<'_>) -> Result<String, WorldLineError> {
        // A per cent sign may stand apart.
        let joined = said.words.get(1..).unwrap_or_default().concat();
        let (Some(name), false) = (said.words.first(), joined.is_empty()) else {
            return Err(said.wrong());
        };
        let stick = stick_of(name)?;
        if let Some(share) = joined.strip_suffix('%') {
            let share = within("a stick's share", said.number(share)?, -100.0, 100.0)?;
            self.radio.put_stick(stick, share / 100.0);
        } else {
            let pulse = said.number(joined.strip_suffix("us").unwrap_or(&joined))?;
            let pulse = within("a stick's pulse", pulse, 800.0, 2200.0)?;
            self.radio.put_stick_pulse(stick, pulse);
        }
        Ok(format!("stick {} is at {:.0} us", STICKS[stick], self.radio.stick_pulse(stick, self.now)))
    }

    fn wiggle(&mut self, said: Said<'_>) -> Result<String, WorldLineError> {
        let [name] = said.all()?;
        let stick = stick_of(name)?;
        self.radio.wiggle(stick, self.now);
        Ok(format!("stick {} moves right, left and back", STICKS[stick]))
    }

    fn battery(&mut self, said: Said<'_>) -> Result<String, WorldLineError> {
        let plugged = said.one_of(["out", "in"])?;
        if plugged != self.pack.plugged {
            let was = self.powered();
            self.pack.plugged = plugged;
            self.pack.draw(self.now, 0.0);
            self.feed_motors();
            self.power_changed(self.now, was);
        }
        Ok(format!("battery is {}", if plugged { "in" } else { "out" }))
    }

    fn plug_usb(&mut self, said: Said<'_>) -> Result<String, WorldLineError> {
        let plugged = said.one_of(["out", "in"])?;
        if plugged != self.usb {
            let was = self.powered();
            self.usb = plugged;
            if self.config.conduct.runs_on_unplugged && !plugged {
                self.board.test.iter_mut().for_each(|test| test.until = Time::NEVER);
            }
            self.feed_motors();
            self.power_changed(self.now, was);
        }
        Ok(format!("usb is {}", if plugged { "in" } else { "out" }))
    }

    fn tilt(&mut self, said: Said<'_>) -> Result<String, WorldLineError> {
        let [roll, pitch] = said.all()?;
        let roll = within("a tilt", said.number(roll)?, -180.0, 180.0)?;
        let pitch = within("a tilt", said.number(pitch)?, -180.0, 180.0)?;
        self.attitude.roll = roll;
        self.attitude.pitch = pitch;
        Ok(format!("the craft stands at roll {roll} deg, pitch {pitch} deg"))
    }

    fn turn(&mut self, said: Said<'_>) -> Result<String, WorldLineError> {
        let [heading] = said.all()?;
        let heading = within("a heading", said.number(heading)?, -360.0, 360.0)?;
        self.attitude.heading = heading;
        Ok(format!("the craft heads {heading} deg"))
    }

    fn threshold(&mut self, said: Said<'_>) -> Result<String, WorldLineError> {
        let Some((pulse, corner)) = said.words.split_last().filter(|(_, corner)| !corner.is_empty()) else {
            return Err(said.wrong());
        };
        let frame = self.board.make.frame;
        let place = place_of(frame, &corner.join(" "))?;
        let pulse = within("a starting pulse", said.number(pulse)?, 1010.0, 2000.0)?;
        let motor = &mut self.motors[place];
        motor.config.start = pulse;
        motor.config.keep = pulse - 22.0;
        Ok(format!("the {} motor now needs about {pulse} us to start", frame.places()[place].corner))
    }

    fn set(&mut self, said: Said<'_>) -> Result<String, WorldLineError> {
        let [name, value] = said.all()?;
        let value = said.number(value)?;
        if self.board.up_since().is_none() {
            return Err(WorldLineError::NoPower);
        }
        let Some(index) = self.board.memory.find(name) else {
            let nearest = nearest(name, self.board.memory.names()).map(str::to_owned);
            return Err(WorldLineError::NoSetting { word: name.to_owned(), nearest });
        };
        let value = self
            .board
            .memory
            .set(index, value)
            .map_err(|refusal: Refusal| WorldLineError::Refused(refusal.to_string()))?;
        Ok(format!("{name} is {value}"))
    }

    fn restart(&mut self, said: Said<'_>) -> Result<String, WorldLineError> {
        if !said.words.is_empty() {
            return Err(said.wrong());
        }
        if !self.powered() {
            return Err(WorldLineError::NoPower);
        }
        self.begin_restart(self.now);
        Ok("the board restarts".to_owned())
    }
}

/// What stands behind a verb, and how its line is to be written.
#[derive(Clone, Copy)]
pub(super) struct Said<'w> {
    pub(super) form: &'static str,
    pub(super) words: &'w [&'w str],
}

impl<'w> Said<'w> {
    pub(super) fn wrong(self) -> WorldLineError {
        WorldLineError::Form { form: self.form }
    }

    /// So many words.
    pub(super) fn all<const N: usize>(self) -> Result<[&'w str; N], WorldLineError> {
        self.words.try_into().map_err(|_| self.wrong())
    }

    /// Whether the one word is the second of two.
    pub(super) fn one_of(self, [no, yes]: [&str; 2]) -> Result<bool, WorldLineError> {
        match self.words {
            [word] if *word == no => Ok(false),
            [word] if *word == yes => Ok(true),
            _ => Err(self.wrong()),
        }
    }

    /// What the one word stands for.
    pub(super) fn among<T: Copy>(self, what: &'static str, all: &[(&str, T)]) -> Result<T, WorldLineError> {
        let [word] = self.all()?;
        all.iter().find(|(name, _)| *name == word).map(|(_, value)| *value).ok_or_else(|| {
            let names: Vec<&str> = all.iter().map(|(name, _)| *name).collect();
            unknown_word(word, what, &names)
        })
    }

    pub(super) fn number(self, word: &str) -> Result<f64, WorldLineError> {
        let number = word.parse().ok().filter(|number: &f64| number.is_finite());
        number.ok_or_else(|| WorldLineError::NotANumber { word: word.to_owned(), form: self.form })
    }
}

pub(super) fn within(what: &'static str, value: f64, least: f64, most: f64) -> Result<f64, WorldLineError> {
    if (least..=most).contains(&value) {
        Ok(value)
    } else {
        Err(WorldLineError::OutOfRange { what, least, most, value })
    }
}

pub(super) fn stick_of(word: &str) -> Result<usize, WorldLineError> {
    STICKS.iter().position(|name| name.eq_ignore_ascii_case(word)).ok_or_else(|| unknown_word(word, "stick", &STICKS))
}

/// "rear right", "rear-right" and "right rear" are all the same corner.
pub(super) fn place_of(frame: Frame, text: &str) -> Result<usize, WorldLineError> {
    let spaced = text.to_ascii_lowercase().replace(['-', '_'], " ");
    let turned = spaced.split_once(' ').map(|(first, second)| format!("{second} {first}")).unwrap_or_default();
    // On an octo "right front" and "front right" are two: as it is written comes first.
    frame.place(&spaced).or_else(|| frame.place(&turned)).ok_or_else(|| {
        let names: Vec<&str> = frame.places().iter().map(|place| place.corner).collect();
        unknown_word(text, "corner", &names)
    })
}

fn unknown_verb(word: &str) -> WorldLineError {
    let verbs = HELP.iter().filter_map(|(form, _)| form.split(' ').next());
    WorldLineError::UnknownVerb { word: word.to_owned(), nearest: nearest(word, verbs).map(str::to_owned) }
}

pub(super) fn unknown_word(word: &str, what: &'static str, known: &[&str]) -> WorldLineError {
    WorldLineError::UnknownWord {
        word: word.to_owned(),
        what,
        known: known.join(", "),
        nearest: nearest(word, known.iter().copied()).map(str::to_owned),
    }
}
