//! Hands that err so many times, each time in one way, and else do what is asked at their own pace.
//!
//! Must not be here: what is right.

use crate::bench::stand::Deeds;
use crate::measure::dice::Dice;
use quadjig::rehearsal::operator::{Deed, Operator as _, Willing, typed};
use quadjig::rehearsal::rehearse::willing;
use quadjig::seam::Key;
use quadjig::seam::ui::{About, Gesture, Question, Reply};
use quadjig::virtual_board::WorldConfig;
use std::collections::BTreeMap;
use std::time::Duration;

/// A way to err.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// The arm switch goes off before its start is over.
    EarlyOff,
    /// It goes off long after it was asked to.
    LateOff,
    /// Walks away: nothing is done about an invitation.
    Away,
    /// Comes back to the switch long after.
    Late,
    /// Another switch first.
    WrongSwitch,
    /// Another position first.
    WrongPlace,
    /// Half of what was asked, the rest later.
    Half,
    /// Another word, or Enter alone.
    WrongWord,
    /// A key that is not offered.
    WrongKey,
    /// "Again" where that is offered.
    Again,
    /// A stick or the craft is touched while a question stands.
    Touched,
    /// The arm switch goes on while the question of a start stands.
    OnBefore,
    /// The throttle is touched while a start is invited.
    Nudged,
    /// It goes off as asked, and on again.
    Bounced,
    /// The battery goes in before it was asked for.
    BatteryEarly,
}

/// See the module.
pub struct Erring {
    willing: Willing,
    dice: Dice,
    /// How much slower or quicker than the willing, in hundredths.
    pace: i64,
    /// One deed in so many goes wrong.
    one_in: u64,
    /// So many more times.
    left: u32,
    /// Wrong words in a row: the third is a no.
    wrong: u32,
    pub erred: BTreeMap<Kind, u64>,
}

fn at(ms: i64, line: impl Into<String>) -> (Duration, Deed) {
    (Duration::from_millis(ms.unsigned_abs()), Deed::World(line.into()))
}

impl Erring {
    pub fn new(config: &WorldConfig, mut dice: Dice, most: u32) -> Self {
        let pace = *[40, 80, 150, 250, 400, 550].get(usize::try_from(dice.between(0, 5)).unwrap()).unwrap();
        let one_in = dice.between(4, 16).unsigned_abs();
        let left = u32::try_from(dice.between(1, i64::from(most))).unwrap();
        Self { willing: willing(config), dice, pace, one_in, left, wrong: 0, erred: BTreeMap::new() }
    }

    /// How often hands did what nobody had asked for with something that could start.
    pub fn unasked(&self) -> u64 {
        [Kind::OnBefore, Kind::Late, Kind::Bounced].iter().filter_map(|kind| self.erred.get(kind)).sum()
    }

    /// Which of these ways it goes wrong now, if any.
    fn errs<const N: usize>(&mut self, ways: [Kind; N]) -> Option<Kind> {
        self.errs_once_in(self.one_in, ways)
    }

    fn errs_once_in<const N: usize>(&mut self, one_in: u64, ways: [Kind; N]) -> Option<Kind> {
        if self.left == 0 || !self.dice.once_in(one_in) {
            return None;
        }
        self.left -= 1;
        let kind = ways[self.one_of(N)];
        *self.erred.entry(kind).or_default() += 1;
        Some(kind)
    }

    fn one_of(&mut self, count: usize) -> usize {
        usize::try_from(self.dice.next() % count as u64).unwrap()
    }

    fn paced(&self, deeds: Deeds) -> Deeds {
        let paced = |after: Duration| after * u32::try_from(self.pace).unwrap() / 100;
        deeds.into_iter().map(|(after, deed)| (paced(after), deed)).collect()
    }

    /// What is done about a question.
    pub fn answers(&mut self, question: &Question) -> Deeds {
        let asked = self.willing.asked(question);
        match &question.reply {
            Reply::Word(_) => self.types(question, asked),
            Reply::Choice(choices) => self.chooses(question, choices, asked),
            _ => asked,
        }
    }

    fn types(&mut self, question: &Question, asked: Deeds) -> Deeds {
        let start = matches!(&question.about, About::Motor(step) if step.word().split(' ').any(|part| part.parse::<u32>().is_ok()));
        let ways = if start {
            [Kind::WrongWord, Kind::Touched, Kind::OnBefore, Kind::OnBefore]
        } else {
            [Kind::WrongWord, Kind::WrongWord, Kind::WrongWord, Kind::Touched]
        };
        let asked = if self.pace > 250 { self.paced(asked) } else { asked };
        if self.wrong == 2 {
            self.wrong = 0;
            return asked;
        }
        match self.errs(ways) {
            Some(Kind::WrongWord) => {
                self.wrong += 1;
                let words = ["", "yes", "1130", "props", "off", "on", "swithces"];
                typed(words[self.one_of(words.len())])
            }
            Some(Kind::Touched) => {
                let ms = self.dice.between(50, 800);
                let moves = [("stick throttle -40%", "stick throttle -100%"), ("tilt 9 3", "tilt 0.2 -0.3")];
                let (there, back) = moves[self.one_of(2)];
                // Back before the word is typed, or not until after it.
                let held = [300, 2600][self.one_of(2)];
                [vec![at(ms, there), at(ms + held, back)], asked].concat()
            }
            Some(Kind::OnBefore) => {
                let (on, off) = (self.dice.between(50, 2000), self.dice.between(2500, 6000));
                [vec![at(on, "flip B 2"), at(off, "flip B 0")], asked].concat()
            }
            _ => {
                self.wrong = 0;
                asked
            }
        }
    }

    fn chooses(&mut self, question: &Question, choices: &[(char, String)], asked: Deeds) -> Deeds {
        if question.about == About::Again {
            // Whoever comes back goes on.
            return vec![(Duration::from_millis(900), Deed::Key(Key::Char('a')))];
        }
        // Only a radio that was never off looks like one that was; and whoever answers knows.
        if choices.iter().any(|(key, words)| *key == 'n' && words.contains("not sure")) {
            return vec![(Duration::from_millis(900), Deed::Key(Key::Char('n')))];
        }
        let again = choices.iter().any(|(key, _)| *key == 'a');
        let ways = if again { [Kind::WrongKey, Kind::Again] } else { [Kind::WrongKey, Kind::WrongKey] };
        let pressed = |key: char, ms: u64| (Duration::from_millis(ms), Deed::Key(Key::Char(key)));
        match self.errs(ways) {
            Some(Kind::WrongKey) => {
                let later = |(after, deed): (Duration, Deed)| (after + Duration::from_millis(1500), deed);
                [vec![pressed('z', 700)], asked.into_iter().map(later).collect()].concat()
            }
            Some(Kind::Again) => vec![pressed('a', 900)],
            _ => self.paced(asked),
        }
    }

    /// What is done about an invitation.
    pub fn follows(&mut self, gesture: &Gesture) -> Deeds {
        let asked = self.willing.invited(gesture);
        match gesture {
            Gesture::SwitchTo { switch, position: 2, .. } if switch.0 == "B" => self.switches_on(asked),
            Gesture::SwitchTo { switch, position } => {
                let (switch, position) = (switch.0.clone(), *position);
                self.switches(&switch, position, asked)
            }
            Gesture::Radio { .. } | Gesture::Battery { .. } | Gesture::ThrottleDown | Gesture::ThrottleUp => {
                match self.errs([Kind::Away, Kind::LateOff]) {
                    Some(Kind::Away) => Vec::new(),
                    Some(_) => self.late(asked),
                    None => self.paced(asked),
                }
            }
            Gesture::WiggleRoll => match self.errs([Kind::Half, Kind::BatteryEarly]) {
                Some(Kind::Half) => {
                    let first = [at(400, "stick roll 80%"), at(900, "stick roll 0%")];
                    let then = [at(3000, "stick roll 80%"), at(3400, "stick roll -80%"), at(3800, "stick roll 0%")];
                    [first.to_vec(), then.to_vec()].concat()
                }
                Some(_) => vec![at(200, "battery in")],
                None => self.paced(asked),
            },
            Gesture::AllSwitches { last } => {
                let places =
                    if *last { ["flip B 2", "flip C 1", "flip D 2"] } else { ["flip B 0", "flip C 0", "flip D 0"] };
                match self.errs([Kind::Half, Kind::Away]) {
                    Some(Kind::Half) => vec![at(400, places[0]), at(900, places[2]), at(6000, places[1])],
                    Some(_) => Vec::new(),
                    None => self.paced(asked),
                }
            }
            Gesture::WorkSwitch(_) => match self.errs([Kind::WrongSwitch, Kind::Away]) {
                Some(Kind::WrongSwitch) => {
                    let later = |(after, deed): (Duration, Deed)| (after + Duration::from_millis(2500), deed);
                    [vec![at(300, "flip C 1"), at(1300, "flip C 0")], asked.into_iter().map(later).collect()].concat()
                }
                Some(_) => Vec::new(),
                None => asked,
            },
            _ => self.paced(asked),
        }
    }

    /// To the position that arms.
    fn switches_on(&mut self, asked: Deeds) -> Deeds {
        use Kind::{Away, EarlyOff, Late, Nudged, WrongPlace, WrongSwitch};
        let ways = [EarlyOff, EarlyOff, Away, Late, WrongSwitch, WrongPlace, Nudged];
        match self.errs_once_in(2, ways) {
            Some(Kind::EarlyOff) => {
                let held = self.dice.between(120, 2900);
                vec![at(350, "flip B 2"), at(350 + held, "flip B 0")]
            }
            Some(Kind::Away) => Vec::new(),
            Some(Kind::Late) => {
                // In time, or when nobody waits for it any more.
                let on = self.dice.between(15_000, 30_000);
                vec![at(on, "flip B 2"), at(on + 4800, "flip B 0")]
            }
            Some(Kind::WrongSwitch) => vec![at(400, "flip C 1"), at(1400, "flip C 0"), at(2200, "flip B 2")],
            Some(Kind::Nudged) => {
                vec![at(300, "stick throttle -40%"), at(1800, "stick throttle -100%")]
            }
            Some(_) => vec![at(400, "flip B 1"), at(2400, "flip B 2")],
            None => self.paced(asked),
        }
    }

    fn switches(&mut self, switch: &str, position: u32, asked: Deeds) -> Deeds {
        let fifth = if (switch, position) == ("B", 0) { Kind::Bounced } else { Kind::LateOff };
        match self.errs([Kind::LateOff, Kind::Away, Kind::WrongSwitch, Kind::WrongPlace, fifth]) {
            Some(Kind::LateOff) => self.late(asked),
            Some(Kind::Bounced) => {
                vec![at(400, "flip B 0"), at(self.dice.between(600, 2500), "flip B 2"), at(5500, "flip B 0")]
            }
            Some(Kind::WrongSwitch) => {
                let other = if switch == "C" { "B" } else { "C" };
                let back = format!("flip {other} 0");
                vec![at(400, format!("flip {other} 1")), at(1500, back), at(2300, format!("flip {switch} {position}"))]
            }
            Some(Kind::WrongPlace) => {
                let places = if switch == "C" { 2 } else { 3 };
                let wrong = format!("flip {switch} {}", (position + 1) % places);
                vec![at(400, wrong), at(self.dice.between(1500, 7000), format!("flip {switch} {position}"))]
            }
            Some(_) => Vec::new(),
            None => self.paced(asked),
        }
    }

    fn late(&mut self, deeds: Deeds) -> Deeds {
        let later = Duration::from_millis(self.dice.between(2500, 14_000).unsigned_abs());
        deeds.into_iter().map(|(after, deed)| (after + later, deed)).collect()
    }
}
