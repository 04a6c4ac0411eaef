//! A scripted operator: works the switches when invited, answers questions, or walks away.
//!
//! It sees only what a person would see: questions, invitations, and which motor turned. Must not be here: the board.

use crate::language::recipe::Stick;
use crate::measure::motor_survey::{Towards, edges};
use crate::seam::ui::{About, Gesture, Question, Reply, Rewire, Stands, Turned};
use crate::seam::{Key, LineAsked, LineRead};
use std::time::Duration;

/// Something an operator does, after a while.
#[derive(Debug, Clone, PartialEq)]
pub enum Deed {
    /// Presses a key.
    Key(Key),
    /// Pastes at the terminal.
    Paste,
    /// Moves the world, as a world line.
    World(String),
    /// Enters a line at the bench prompt.
    Line(LineRead),
    /// Closes the terminal.
    Leave,
}

/// What an operator does about what is asked and shown.
pub trait Operator {
    /// Answers a question: deeds with their delay from now.
    fn asked(&mut self, question: &Question) -> Vec<(Duration, Deed)>;
    /// Types a line at the bench prompt, after a while.
    fn line(&mut self, _asked: &LineAsked) -> (Duration, LineRead) {
        (READS, LineRead::End)
    }
    /// What the operator does while the line above is not typed yet, after a while.
    fn meanwhile(&mut self) -> Vec<(Duration, Deed)> {
        Vec::new()
    }
    /// What turned since the operator looked last: where, and whether clockwise, seen from above.
    fn sees(&mut self, _turned: &[(&'static str, bool)]) {}
    /// Follows an invitation.
    fn invited(&mut self, gesture: &Gesture) -> Vec<(Duration, Deed)>;
}

/// How fast a hand types.
const KEY: Duration = Duration::from_millis(70);
/// How long reading a question takes.
const READS: Duration = Duration::from_millis(900);
/// How long a hand takes to a switch.
const REACHES: Duration = Duration::from_millis(350);

/// What a scripted operator calls a craft.
const CRAFT: &str = "Wren 95";

/// Types a text and Enter, after reading.
#[must_use]
pub fn typed(text: &str) -> Vec<(Duration, Deed)> {
    let mut at = READS;
    let mut deeds: Vec<_> = text
        .chars()
        .map(|c| {
            at += KEY;
            (at, Deed::Key(Key::Char(c)))
        })
        .collect();
    deeds.push((at + KEY, Deed::Key(Key::Enter)));
    deeds
}

/// An operator who does what is asked, and sees no reason to decline.
#[derive(Debug, Clone)]
pub struct Willing {
    /// Number of positions of each switch of the radio.
    pub switches: Vec<(String, usize)>,
    /// How the craft stands when it is left alone: roll and pitch in degrees.
    pub stands: (f64, f64),
    /// What turned last.
    pub turned: Vec<(&'static str, bool)>,
    /// Where it heads, degrees.
    pub heads: f64,
    /// What a multimeter at the pack's leads shows, volts.
    pub meter: f64,
}

impl Willing {
    fn positions(&self, name: &str) -> usize {
        self.switches.iter().find(|(known, _)| known.eq_ignore_ascii_case(name)).map_or(2, |(_, count)| *count)
    }

    /// What it saw of the one motor that turned.
    fn tells(&self, what: &Turned) -> char {
        let [(corner, clockwise)] = self.turned[..] else { return if self.turned.is_empty() { 'n' } else { 'a' } };
        match what {
            Turned::Corner(corners) => {
                let at = corners.iter().position(|name| *name == corner);
                at.and_then(|at| char::from_digit(u32::try_from(at).ok()? + 1, 10)).unwrap_or('a')
            }
            Turned::Clock => {
                if clockwise {
                    'c'
                } else {
                    'o'
                }
            }
            Turned::Edge(place) => {
                let [first, other] = edges(place.bearing);
                match if clockwise { first } else { other } {
                    Towards::Nose => 'n',
                    Towards::Tail => 't',
                    Towards::Left => 'l',
                    Towards::Right => 'r',
                }
            }
        }
    }

    fn work(&self, name: &str) -> Vec<(Duration, Deed)> {
        let last = self.positions(name).saturating_sub(1);
        let round = (0..=last).chain((0..last).rev());
        let mut at = REACHES;
        let mut deeds = Vec::new();
        for position in round.clone().chain(round.skip(1)) {
            deeds.push((at, Deed::World(format!("flip {name} {position}"))));
            at += Duration::from_millis(600);
        }
        deeds
    }
}

impl Operator for Willing {
    fn asked(&mut self, question: &Question) -> Vec<(Duration, Deed)> {
        match (&question.reply, &question.about) {
            (Reply::Word(word), _) => typed(word),
            (Reply::Name, _) => typed(CRAFT),
            (Reply::Volts, _) => typed(&format!("{:.2}", self.meter)),
            (Reply::Enter, _) => vec![(READS, Deed::Key(Key::Enter))],
            (Reply::Choice(_), About::Rewire(all)) => {
                let mut deeds: Vec<_> = all.iter().map(|one| (REACHES, Deed::World(rewired(one)))).collect();
                deeds.push((READS, Deed::Key(Key::Char('d'))));
                deeds
            }
            (Reply::Choice(choices), About::Told(corners)) => {
                let turned = |corner: &String| self.turned.iter().any(|(at, _)| at == corner);
                let still = corners.iter().position(|corner| !turned(corner));
                let digit = still.and_then(|at| char::from_digit(u32::try_from(at).ok()? + 1, 10));
                let one = corners.len() == 1 && choices.iter().any(|(key, _)| *key == 't');
                let key = match (digit, one) {
                    (_, true) => {
                        if self.turned.is_empty() {
                            's'
                        } else {
                            't'
                        }
                    }
                    (Some(digit), false) => digit,
                    (None, false) => 'e',
                };
                vec![(READS, Deed::Key(Key::Char(key)))]
            }
            (Reply::Choice(choices), about) => {
                let wanted = match about {
                    About::Smooth { .. } => 's',
                    About::Buzzer => 'h',
                    About::Heat => 'c',
                    About::Again => 'g',
                    About::Turned(what) => self.tells(what),
                    _ => choices.first().map_or('y', |(key, _)| *key),
                };
                vec![(READS, Deed::Key(Key::Char(wanted)))]
            }
        }
    }

    fn sees(&mut self, turned: &[(&'static str, bool)]) {
        self.turned = turned.to_vec();
    }

    fn invited(&mut self, gesture: &Gesture) -> Vec<(Duration, Deed)> {
        let one = |line: &str| vec![(REACHES, Deed::World(line.to_owned()))];
        match gesture {
            Gesture::SwitchTo { switch, position } => one(&format!("flip {} {position}", switch.0)),
            Gesture::WorkSwitch(switch) => self.work(&switch.0),
            Gesture::AllSwitches { last } => {
                let all = self.switches.clone();
                let place = |count: usize| if *last { count.saturating_sub(1) } else { 0 };
                all.iter()
                    .map(|(name, count)| (REACHES, Deed::World(format!("flip {name} {}", place(*count)))))
                    .collect()
            }
            Gesture::Radio { on } => one(if *on { "radio on" } else { "radio off" }),
            Gesture::PullCable => one("usb out"),
            Gesture::Battery { inside } => one(if *inside { "battery in" } else { "battery out" }),
            Gesture::Level { .. } => {
                self.stands = (0.2, -0.3);
                one("tilt 0.2 -0.3")
            }
            Gesture::ThrottleDown => one("stick throttle -100%"),
            Gesture::ThrottleUp => one("stick throttle -50%"),
            Gesture::HoldStick { stick, high } => {
                one(&format!("stick {} {}100%", stick.word(), if *high { "" } else { "-" }))
            }
            Gesture::LetGo => Stick::ALL
                .into_iter()
                .map(|stick| {
                    let rest = if stick == Stick::Throttle { "-100%" } else { "0%" };
                    (REACHES, Deed::World(format!("stick {} {rest}", stick.word())))
                })
                .collect(),
            Gesture::HoldCraft(stands) => {
                let (roll, pitch) = self.stands;
                match stands {
                    Stands::Level => one(&format!("tilt {roll} {pitch}")),
                    Stands::NoseDown => one(&format!("tilt {roll} {}", pitch - 30.0)),
                    Stands::RightDown => one(&format!("tilt {} {pitch}", roll + 30.0)),
                    Stands::TurnedClockwise => {
                        self.heads = (self.heads + 90.0).rem_euclid(360.0);
                        one(&format!("turn {}", self.heads))
                    }
                }
            }
            Gesture::WiggleRoll => one("wiggle roll"),
            Gesture::TiltCraft => {
                let (roll, pitch) = self.stands;
                vec![
                    (REACHES, Deed::World("tilt 25 5".to_owned())),
                    (REACHES + Duration::from_millis(700), Deed::World(format!("tilt {roll} {pitch}"))),
                ]
            }
            Gesture::HandsOff => Vec::new(),
        }
    }
}

fn rewired(what: &Rewire) -> String {
    match what {
        Rewire::Plug { output, corner } => format!("plug {output} {corner}"),
        Rewire::SwapWires(corner) => format!("swap {corner}"),
    }
}
