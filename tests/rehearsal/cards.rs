//! Radio cards in a whole run: what is found is written onto the card, with the user's comments kept; what the
//! card says is confirmed by a live reading; a shipped card is never written.

use super::first_craft::script;
use super::kit::{self, Play, play_with};
use quadjig::bench::attended::NamedCard;
use quadjig::board::{radio_card_file, shipped};
use quadjig::language::recipe::Switch;
use quadjig::rehearsal::operator::{Deed, Operator, Willing};
use quadjig::rehearsal::rehearse::{Script, willing};
use quadjig::rehearsal::simulated::Disk;
use quadjig::seam::fault::Fault;
use quadjig::seam::ui::{Gesture, Question};
use quadjig::virtual_board::{World, WorldConfig};
use std::time::Duration;

/// A card of ours that knows switch B only, with remarks of its owner.
const OURS: &str = "\
# The small transmitter, second shelf.
edition = 1
radio = \"Second shelf\"

[switches.B]
channel = 6   # left, at the back
rests = [1000, 1500, 2000]
";

fn with_card(text: &str, file: bool) -> Script {
    let card = radio_card_file::read("ours.toml", text).unwrap();
    let named = NamedCard { card, text: Some(text.to_owned()), file };
    Script { card: Some(named), ..script("recipes/first-craft.jig") }
}

fn play(script: &Script) -> Play {
    let board = World::new(WorldConfig::default());
    let mut operator = willing(board.config());
    play_with(script, board, &mut operator, Disk::default())
}

#[test]
fn what_is_found_joins_the_card_and_its_comments_stay() {
    let play = play(&with_card(OURS, true));
    assert_eq!(play.rehearsed.result, Ok(()));
    let written = String::from_utf8(play.rehearsed.disk.radio_card.unwrap()).unwrap();
    assert!(written.contains("# The small transmitter, second shelf."), "{written}");
    assert!(written.contains("channel = 6   # left, at the back"), "{written}");
    let card = radio_card_file::read("ours.toml", &written).unwrap();
    assert_eq!(card.switches.keys().map(|switch| switch.0.as_str()).collect::<Vec<_>>(), ["B", "C", "D"]);
    // As the world has them: C with two positions on channel 7, D with three on channel 8.
    let found = |name: &str| &card.switches[&Switch(name.to_owned())];
    assert_eq!((found("C").channel, found("C").rests.len()), (7, 2));
    assert_eq!((found("D").channel, found("D").rests.len()), (8, 3));
    assert!(card.is_virtual, "found on a virtual board, so refused on a real one");
}

#[test]
fn a_card_that_disagrees_stops_the_run() {
    let play = play(&with_card(&OURS.replace("[1000, 1500, 2000]", "[1150, 1400, 1800]"), true));
    assert!(matches!(play.rehearsed.result, Err(Fault::NotFound(_))), "{:?}", play.rehearsed.result);
    assert!(play.rehearsed.changed.is_empty(), "nothing was kept on the board");
}

#[test]
fn a_card_that_others_share_is_only_read() {
    let text = shipped::RADIOS[0].text;
    let known = play(&with_card(text, false));
    assert_eq!(known.rehearsed.result, Ok(()));
    assert_eq!(known.rehearsed.disk.radio_card, None);
    // What it does not know is found, and goes to the craft's own card.
    let play = play(&with_card(OURS, false));
    assert_eq!(play.rehearsed.result, Ok(()));
    assert_eq!(play.rehearsed.disk.radio_card, None);
    let own = play.rehearsed.disk.craft.iter().find(|(path, _)| path.ends_with("radio-card.toml"));
    let own = String::from_utf8(own.unwrap().1.clone()).unwrap();
    assert!(own.contains("[switches.C]") && own.contains("[switches.D]"), "{own}");
}

/// While it is worked, a hand that holds a momentary switch looks like one that lets a switch stand.
#[test]
fn a_switch_that_springs_back_unannounced_stops_the_run() {
    let mut config = WorldConfig::default();
    let switch = config.radio.switches.iter_mut().find(|switch| switch.name == "C").unwrap();
    switch.springs = true;
    let play = |find: &str| {
        let lines = format!("{find}\nbind buzzer to switch C position 1\nkeep\ntest buzzer\n");
        kit::play(&kit::script(&lines), config.clone())
    };
    let card = |play: &Play| {
        let own = play.rehearsed.disk.craft.iter().find(|(path, _)| path.ends_with("radio-card.toml"));
        own.map(|(_, bytes)| String::from_utf8(bytes.clone()).unwrap())
    };
    let unannounced = play("find switch C");
    let Err(Fault::NotFound(why)) = &unannounced.rehearsed.result else { panic!("{:#?}", unannounced.lines) };
    assert!(why.contains("springs back from position 1") && why.contains("`find switch C momentary`"), "{why}");
    assert_eq!(card(&unannounced), None, "a card of it would be wrong");
    let announced = play("find switch C momentary");
    assert!(card(&announced).unwrap().contains("momentary = true"), "{:#?}", announced.lines);
}

/// Who takes the hand to the wrong place, or back too soon, is asked again.
#[test]
fn a_switch_that_was_put_back_once_is_not_taken_for_a_momentary_one() {
    let mut config = WorldConfig::default();
    let mut operator = Hasty { willing: willing(&config), hurries: true };
    config.seed = 3;
    let lines = "find switch C\nbind buzzer to switch C position 1\nkeep\ntest buzzer\n";
    let play = play_with(&kit::script(lines), World::new(config), &mut operator, Disk::default());
    assert_eq!(play.rehearsed.result, Ok(()), "{:#?}", play.lines);
    assert!(!operator.hurries, "the hand was never too quick");
}

/// Puts switch C back at once, the first time.
struct Hasty {
    willing: Willing,
    hurries: bool,
}

impl Operator for Hasty {
    fn asked(&mut self, question: &Question) -> Vec<(Duration, Deed)> {
        self.willing.asked(question)
    }

    fn invited(&mut self, gesture: &Gesture) -> Vec<(Duration, Deed)> {
        let mut deeds = self.willing.invited(gesture);
        if self.hurries && matches!(gesture, Gesture::SwitchTo { switch, position: 1 } if switch.0 == "C") {
            self.hurries = false;
            deeds.push((Duration::from_millis(900), Deed::World("flip C 0".to_owned())));
        }
        deeds
    }
}
