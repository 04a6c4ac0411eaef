//! The operator of a seed: does what is asked, but for what the dice say.
//!
//! Must not be here: the board, what is right.

use super::dice::{Dice, Kind};
use quadjig::rehearsal::operator::{Deed, Operator as _, Willing, typed};
use quadjig::seam::ui::{About, Gesture, Question, Reply};
use quadjig::seam::{Key, LineRead};
use std::collections::VecDeque;
use std::time::Duration;

/// How long a line takes.
const TYPES: Duration = Duration::from_secs(2);

type Deeds = Vec<(Duration, Deed)>;

/// See the module.
pub struct Hands {
    pub willing: Willing,
    /// Asked for a way, it takes the one back, where there is one; and whether it did.
    pub puts_back: bool,
    /// Types these at the prompt, one after another, and leaves.
    pub lines: VecDeque<&'static str>,
    pub put_back: bool,
}

impl Hands {
    /// What is done about a question.
    pub fn answer(&mut self, question: &Question, dice: &mut Dice) -> Deeds {
        if dice.hand(Kind::NoAnswer).is_some() {
            return Vec::new();
        }
        // The hand is at the switch while it is still asked.
        if matches!(question.about, About::Motor(_)) && dice.moment(Kind::TooSoon, 2).is_some() {
            let flip = |ms, to: &str| (Duration::from_millis(ms), Deed::World(to.to_owned()));
            return vec![flip(2_600, "flip B 2"), flip(6_000, "flip B 0")];
        }
        let mut deeds = self.willing.asked(question);
        // What nothing measures is done before it is said.
        if question.about == About::BatteryOut {
            deeds.insert(0, (Duration::from_millis(300), Deed::World("battery out".to_owned())));
        }
        if let (Reply::Choice(choices), About::Choice, true) = (&question.reply, &question.about, self.puts_back)
            && choices.iter().any(|(key, _)| *key == 'b')
        {
            self.put_back = true;
            deeds = vec![(Duration::from_millis(900), Deed::Key(Key::Char('b')))];
        }
        if let Some(mut how) = dice.hand(Kind::WrongWord) {
            let words =
                ["1000", "1150", "1200", "yes", "off", "out", "in", "output 1", "rear right", "", "Wren", "switches"];
            deeds = match &question.reply {
                Reply::Choice(choices) => {
                    let keys: Vec<char> = choices.iter().map(|(key, _)| *key).chain(['z']).collect();
                    vec![(Duration::from_millis(900), Deed::Key(Key::Char(how.of(&keys))))]
                }
                _ => typed(how.of(&words)),
            };
        }
        if dice.hand(Kind::FalseWord).is_some() {
            let lie = match question.about {
                About::BatteryOut => "battery in",
                About::PlugIn | About::Props => "flip B 2",
                About::BatteryIn => "battery out",
                _ => "props on",
            };
            deeds.insert(0, (Duration::from_millis(50), Deed::World(lie.to_owned())));
        }
        self.timed(deeds, dice)
    }

    /// What is typed at the prompt.
    pub fn line(&mut self, dice: &mut Dice) -> (Duration, LineRead) {
        let line = self.lines.pop_front().unwrap_or("leave");
        if let Some(mut how) = dice.hand(Kind::WrongWord) {
            let others = [
                "undo",
                "keep",
                "leave",
                "status",
                "test arm",
                "idle at 1200",
                "plan",
                "bind arm to switch B position 1",
                "go on",
            ];
            return (TYPES, LineRead::Typed(how.of(&others).to_owned()));
        }
        (TYPES, LineRead::Typed(line.to_owned()))
    }

    /// What is done about an invitation.
    pub fn follow(&mut self, gesture: &Gesture, dice: &mut Dice) -> Deeds {
        // The hand does not move, and whatever is asked about it is answered with yes.
        if dice.hand(Kind::FalseWord).is_some() {
            return Vec::new();
        }
        let deeds = self.willing.invited(gesture);
        self.timed(deeds, dice)
    }

    #[expect(clippy::unused_self, reason = "it is the hands that are early or late")]
    fn timed(&self, deeds: Deeds, dice: &mut Dice) -> Deeds {
        let share = if dice.hand(Kind::EarlyHand).is_some() {
            0.02
        } else if let Some(mut how) = dice.hand(Kind::LateHand) {
            how.of(&[2.0, 8.0, 25.0, 60.0])
        } else {
            1.0
        };
        deeds.into_iter().map(|(after, deed)| (after.mul_f64(share), deed)).collect()
    }
}
