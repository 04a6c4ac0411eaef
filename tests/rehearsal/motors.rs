//! `test motors` on virtual craft: wired as they should be, otherwise, and with people who err.

use super::kit::{HEAD, Play, play, play_with, script};
use quadjig::board::{shipped, vocabulary};
use quadjig::language::sources::Memory;
use quadjig::rehearsal::operator::{Deed, Operator, Willing};
use quadjig::rehearsal::played::make_for;
use quadjig::rehearsal::rehearse::{Script, willing};
use quadjig::rehearsal::simulated::Disk;
use quadjig::seam::Key;
use quadjig::seam::fault::Fault;
use quadjig::seam::ui::{About, Gesture, Question, Turned};
use quadjig::virtual_board::{World, WorldConfig};
use std::path::Path;
use std::time::Duration;

/// The recipe for another board.
pub fn script_for(board: &str, lines: &str) -> Script {
    let text = format!("{HEAD}{lines}").replace("board \"Finch\"", &format!("board \"{board}\""));
    let files = Memory::of([("wren.jig", text)]);
    let reading = vocabulary::read(&files, Path::new("wren.jig"), &[]);
    assert!(reading.findings.is_empty(), "{:#?}", reading.findings);
    Script { recipe: reading.recipe.unwrap(), sheets: vec![shipped::sheet(board).unwrap().unwrap()], card: None }
}

/// Two motors exchanged at their plugs, and one that turns the wrong way.
pub fn crossed() -> WorldConfig {
    let mut config = WorldConfig::default();
    config.wiring.swap(0, 2);
    config.motors[3].clockwise ^= true;
    config
}

fn unproved(play: &Play) -> &str {
    match &play.rehearsed.result {
        Err(Fault::Unproved(what)) => what,
        other => panic!("{other:?}: {:#?}", play.lines),
    }
}

#[test]
fn a_craft_that_is_wired_as_it_should_be_is_shown_so_on_every_board() {
    for board in super::kit::BOARDS {
        let script = script_for(board, "test motors\n");
        let config = WorldConfig { make: Some(make_for(&script.sheets).unwrap()), ..WorldConfig::default() };
        let play = play(&script, config);
        assert_eq!(play.rehearsed.result, Ok(()), "{board}: {:#?}", play.lines);
        assert!(play.told("Every motor sits and turns as it should, as you said twice."), "{board}");
        assert!(play.told("Motor 3 sits rear right and turns clockwise."), "{board}");
        assert_eq!(play.lines.iter().filter(|line| line.contains("Line(Attested, \"Motor ")).count(), 4, "{board}");
    }
}

#[test]
fn what_is_wrong_is_told_with_what_would_put_it_right() {
    let play = play(&script("test motors\n"), crossed());
    let what = unproved(&play);
    assert!(what.contains("exchange motors 1 and 3 by plugs"), "{what}");
    assert!(what.contains("swap any two of the rear left motor's three wires"), "{what}");
    assert!(play.told("Motor 1 sits rear right"), "{:#?}", play.lines);
    // As the sheet would say it, were the plugs right: by the world's own wiring.
    let line = r#"corners = [\"rear right\", \"front right\", \"front left\", \"rear left\"]"#;
    assert!(play.told(line), "{:#?}", play.lines);
    for round in 1..=5 {
        assert!(play.told(&format!("(round {round} of 5)")), "round {round}: {:#?}", play.lines);
    }
    assert!(play.rehearsed.changed.is_empty() || !play.rehearsed.changed.contains_key("MOTOR1_OUT"));
}

/// Nothing follows motors that are not where later words have them.
#[test]
fn nothing_follows_motors_that_are_wrong() {
    let play = play(&script("test motors\nbind buzzer to switch B position 1\nkeep\n"), crossed());
    unproved(&play);
    assert!(!play.rehearsed.changed.contains_key("BUZZ_CHANNEL"), "{:?}", play.rehearsed.changed);
}

/// Which question.
type Of = fn(&Turned) -> bool;

/// Answers a question about what turned otherwise than it was, so many times.
struct Errs {
    willing: Willing,
    about: Of,
    key: char,
    times: u32,
}

impl Operator for Errs {
    fn asked(&mut self, question: &Question) -> Vec<(Duration, Deed)> {
        match &question.about {
            About::Turned(what) if self.times > 0 && (self.about)(what) => {
                self.times -= 1;
                vec![(Duration::from_millis(900), Deed::Key(Key::Char(self.key)))]
            }
            _ => self.willing.asked(question),
        }
    }

    fn sees(&mut self, turned: &[(&'static str, bool)]) {
        self.willing.sees(turned);
    }

    fn invited(&mut self, gesture: &Gesture) -> Vec<(Duration, Deed)> {
        self.willing.invited(gesture)
    }
}

#[test]
fn a_mistake_is_asked_about_again() {
    let config = WorldConfig::default();
    let cases: [(Of, char, u32); 5] = [
        (|what| matches!(what, Turned::Corner(_)), '2', 1),
        (|what| matches!(what, Turned::Corner(_)), 'a', 2),
        (|what| matches!(what, Turned::Corner(_)), 'n', 1),
        (|what| matches!(what, Turned::Clock), 'o', 1),
        (|what| matches!(what, Turned::Edge(_)), 't', 1),
    ];
    for (about, key, times) in cases {
        let mut operator = Errs { willing: willing(&config), about, key, times };
        let board = World::new(config.clone());
        let play = play_with(&script("test motors\n"), board, &mut operator, Disk::default());
        assert_eq!(play.rehearsed.result, Ok(()), "{key}: {:#?}", play.lines);
    }
}

#[test]
fn who_always_says_one_way_is_refused() {
    let config = WorldConfig::default();
    let about: Of = |what| matches!(what, Turned::Clock);
    let mut operator = Errs { willing: willing(&config), about, key: 'c', times: u32::MAX };
    let play = play_with(&script("test motors\n"), World::new(config), &mut operator, Disk::default());
    assert!(unproved(&play).contains("does not agree"), "{}", unproved(&play));
}

/// A motor that stays still at the first pulse is run once more at the highest; one that stays still there is told.
#[test]
fn a_motor_that_starts_late_is_run_higher_and_a_dead_one_is_told() {
    let late = WorldConfig::default().late(1, 1170.0);
    let shown = play(&script("test motors\n"), late);
    assert_eq!(shown.rehearsed.result, Ok(()), "{:#?}", shown.lines);
    assert!(shown.told("still at 1150 us; next at 1200 us"), "{:#?}", shown.lines);
    for telemetry in [true, false] {
        let dead = WorldConfig { speed_telemetry: telemetry, ..WorldConfig::default().late(1, 1300.0) };
        let play = play(&script("test motors\n"), dead);
        assert!(unproved(&play).contains("motor 2 does not turn, not even at 1200 us"), "{}", unproved(&play));
    }
}

/// Every start is one that was asked about by its own word, and only that motor turned.
#[test]
fn each_start_has_its_word_and_turns_one_motor() {
    let play = play(&script("test motors\n"), WorldConfig::default());
    let words = play.lines.iter().filter(|line| line.contains("Word(\"motor ")).count();
    assert_eq!(words, 20, "two starts of each motor, then three");
}

/// What each of the board's numbers is in the end: the corner, and whether it turns clockwise.
fn numbers(board: &World) -> Vec<(u64, String, bool)> {
    let truth = board.truth();
    let motors = truth["motors"].as_array().unwrap();
    let one = |motor: &serde_json::Value| {
        let corner = motor["corner"].as_str().unwrap().to_owned();
        (motor["number"].as_u64().unwrap(), corner, motor["clockwise"] == true)
    };
    let mut all: Vec<_> = motors.iter().map(one).collect();
    all.sort();
    all
}

fn right() -> Vec<(u64, String, bool)> {
    let all = [("front left", true), ("front right", false), ("rear right", true), ("rear left", false)];
    (1..).zip(all).map(|(number, (corner, clockwise))| (number, corner.to_owned(), clockwise)).collect()
}

#[test]
fn order_motors_puts_right_by_setting_and_shows_it_on_every_board() {
    for board in super::kit::BOARDS {
        let script = script_for(board, "order motors\n");
        let config = WorldConfig { make: Some(make_for(&script.sheets).unwrap()), ..crossed() };
        let first = play(&script, config.clone());
        assert_eq!(first.rehearsed.result, Ok(()), "{board}: {:#?}", first.lines);
        assert_eq!(numbers(&first.rehearsed.board), right(), "{board}");
        let changed: Vec<&str> =
            first.rehearsed.changed.keys().map(String::as_str).filter(|name| name.contains("OUT")).collect();
        assert_eq!(changed, ["MOTOR1_OUT", "MOTOR3_OUT", "OUT4_REVERSED"], "{board}: the smallest change");
        // The third run of any recipe writes nothing, and this one runs no motor again.
        let mut operator = willing(&config);
        let again = play_with(&script, first.rehearsed.board, &mut operator, first.rehearsed.disk);
        assert_eq!(again.rehearsed.result, Ok(()), "{board}: {:#?}", again.lines);
        assert!(again.told("the motors stand as they were shown right"), "{board}: {:#?}", again.lines);
        assert!(again.rehearsed.changed.is_empty(), "{board}: {:?}", again.rehearsed.changed);
    }
}

/// The sheet of a board that can put nothing of it right by setting.
fn by_hand_alone() -> Script {
    by_hand_from("[motors.order]")
}

/// The sheet of a board that knows neither this table nor what of the motors follows it.
fn by_hand_from(table: &str) -> Script {
    let mut script = script("order motors\n");
    let text = shipped::SHEETS.iter().find(|sheet| sheet.stem == "finch").unwrap().text;
    let (from, to) = (text.find(table).unwrap(), text.find("[settings.idle]").unwrap());
    let text = text[..from].to_owned() + &text[to..];
    script.sheets = vec![quadjig::board::sheet_file::read("finch.toml", &text).unwrap()];
    script
}

#[test]
fn what_no_setting_puts_right_is_done_by_hand() {
    let play = play(&by_hand_alone(), crossed());
    assert_eq!(play.rehearsed.result, Ok(()), "{:#?}", play.lines);
    assert_eq!(numbers(&play.rehearsed.board), right());
    assert!(play.told("Plug the front left motor onto output 1"), "{:#?}", play.lines);
    assert!(play.told("Swap any two of the rear left motor's three wires"), "{:#?}", play.lines);
    assert!(!play.rehearsed.changed.keys().any(|name| name.contains("OUT")), "{:?}", play.rehearsed.changed);
}

/// Where settings do the one and hands the other, the hands are not told to do what was written.
#[test]
fn what_is_left_for_later_by_hand_is_told_alone() {
    let config = crossed();
    let mut operator = Later(willing(&config));
    let play = play_with(&by_hand_from("[motors.reversal]"), World::new(config), &mut operator, Disk::default());
    let what = unproved(&play);
    assert!(what.contains("still to do by hand: Swap any two of the rear left motor's three wires"), "{what}");
    assert!(!what.contains("exchange"), "{what}");
    assert!(play.rehearsed.changed.contains_key("MOTOR1_OUT"), "{:?}", play.rehearsed.changed);
}

/// Leaves for later what is to be done by hand.
struct Later(Willing);

impl Operator for Later {
    fn asked(&mut self, question: &Question) -> Vec<(Duration, Deed)> {
        match &question.about {
            About::Rewire(_) => vec![(Duration::from_secs(1), Deed::Key(Key::Char('l')))],
            _ => self.0.asked(question),
        }
    }

    fn sees(&mut self, turned: &[(&'static str, bool)]) {
        self.0.sees(turned);
    }

    fn invited(&mut self, gesture: &Gesture) -> Vec<(Duration, Deed)> {
        self.0.invited(gesture)
    }
}

/// Whoever swaps the wires of another motor, or of none, is not believed: it is shown anew.
#[test]
fn what_was_done_otherwise_is_seen() {
    let config = crossed();
    let mut operator = Sloppy(willing(&config));
    let play = play_with(&by_hand_alone(), World::new(config), &mut operator, Disk::default());
    let what = unproved(&play);
    assert!(what.contains("otherwise again") && what.contains("rear left"), "{what}");
}

/// Says that it is done, and has swapped no wires.
struct Sloppy(Willing);

impl Operator for Sloppy {
    fn asked(&mut self, question: &Question) -> Vec<(Duration, Deed)> {
        let mut deeds = self.0.asked(question);
        deeds.retain(|(_, deed)| !matches!(deed, Deed::World(line) if line.starts_with("swap")));
        deeds
    }

    fn sees(&mut self, turned: &[(&'static str, bool)]) {
        self.0.sees(turned);
    }

    fn invited(&mut self, gesture: &Gesture) -> Vec<(Duration, Deed)> {
        self.0.invited(gesture)
    }
}

/// Every wiring of a quad through the whole run: a share in the suite, all 384 with
/// `QUADJIG_WIRINGS=384 cargo test --release --test all rehearsal::motors::every`.
#[test]
fn every_wiring_ends_right() {
    let count: usize = std::env::var("QUADJIG_WIRINGS").ok().and_then(|count| count.parse().ok()).unwrap_or(6);
    let script = script("order motors\n");
    let mut wirings = Vec::new();
    for code in 0..256_usize {
        let order = [code % 4, code / 4 % 4, code / 16 % 4, code / 64];
        if (0..4).all(|corner| order.contains(&corner)) {
            wirings.extend((0..16_u32).map(|ways| (order, ways)));
        }
    }
    assert_eq!(wirings.len(), 384);
    for (order, ways) in wirings.iter().step_by(384 / count.clamp(1, 384)) {
        let mut config = WorldConfig { wiring: order.to_vec(), ..WorldConfig::default() };
        for (at, motor) in config.motors.iter_mut().enumerate() {
            motor.clockwise = ways >> at & 1 == 1;
        }
        let play = play(&script, config);
        assert_eq!(play.rehearsed.result, Ok(()), "{order:?} {ways:b}: {:#?}", play.lines);
        assert_eq!(numbers(&play.rehearsed.board), right(), "{order:?} {ways:b}");
    }
}
