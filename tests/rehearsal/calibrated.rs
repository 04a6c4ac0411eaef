//! Attitude, level and the pack's voltage in a whole run, on three kinds of board: told, written, and put back where it does
//! not help.

use super::kit::{BOARDS, Play, plain, play_moved, play_with, script, script_for};
use quadjig::rehearsal::operator::{Deed, Operator, Willing, typed};
use quadjig::rehearsal::played::make_for;
use quadjig::rehearsal::rehearse::{Script, willing};
use quadjig::rehearsal::simulated::Disk;
use quadjig::seam::fault::Fault;
use quadjig::seam::ui::{Gesture, Question, Reply};
use quadjig::virtual_board::{Mounted, World, WorldConfig};
use std::time::Duration;

fn unproved(play: &Play) -> &str {
    match &play.rehearsed.result {
        Err(Fault::Unproved(why)) => why,
        other => panic!("{other:?}: {:#?}", play.lines),
    }
}

fn stored(play: &Play, name: &str) -> f64 {
    play.rehearsed.board.truth()["settings"][name]["stored"].as_f64().unwrap()
}

/// The board sits turned, is told so by the test, and passes once it was told.
#[test]
fn a_board_that_sits_turned_is_told_and_put_right_on_every_board() {
    for board in BOARDS {
        let right = plain(board, "test attitude\n", &[]);
        assert_eq!(right.rehearsed.result, Ok(()), "{board}: {:#?}", right.lines);
        let turned = plain(board, "test attitude\n", &["mount 90"]);
        assert!(unproved(&turned).contains("write `board turned 90 deg`"), "{board}: {}", unproved(&turned));
        let told = plain(board, "board turned 90 deg\nkeep\ntest attitude\n", &["mount 90"]);
        assert_eq!(told.rehearsed.result, Ok(()), "{board}: {:#?}", told.lines);
        assert!((stored(&told, "BOARD_TURN") - 90.0).abs() < 0.1, "{board}");
        // Told something else before: what is to be written is counted from there.
        let other = plain(board, "board turned 45 deg\nkeep\ntest attitude\n", &["mount 270"]);
        assert!(unproved(&other).contains("write `board turned 270 deg`"), "{board}: {}", unproved(&other));
    }
}

#[test]
fn a_board_that_sits_out_of_level_is_trimmed_and_the_second_run_writes_nothing() {
    for board in BOARDS {
        let lines = "calibrate level\nkeep\n";
        let world = ["seat 3.2 -1.7", "tilt 0 0"];
        let first = play_moved(&script_for(board, lines), &world, Disk::default(), WorldConfig::default());
        assert_eq!(first.rehearsed.result, Ok(()), "{board}: {:#?}", first.lines);
        for (name, wanted) in [("LEVEL_ROLL", 3.2), ("LEVEL_PITCH", -1.7)] {
            assert!((stored(&first, name) - wanted).abs() < 0.1, "{board}: {name} {}", stored(&first, name));
        }
        let script = script_for(board, lines);
        let mut operator = willing(first.rehearsed.board.config());
        let second = play_with(&script, first.rehearsed.board.clone(), &mut operator, first.rehearsed.disk);
        assert_eq!(second.rehearsed.result, Ok(()), "{board}: {:#?}", second.lines);
        assert!(second.rehearsed.changed.is_empty() && !second.told("Is the craft level?"), "{board}");
    }
}

/// A board whose trims count the other way is tried the other way; what is too far is no matter of a trim.
#[test]
fn level_is_measured_again_after_it_was_written() {
    let far = plain("Finch", "calibrate level\n", &["seat 14 0"]);
    let Err(Fault::Refused { .. }) = &far.rehearsed.result else { panic!("{:#?}", far.lines) };
    assert!(far.told("too far from level for a trim") && far.rehearsed.changed.is_empty(), "{:#?}", far.lines);
    let level = plain("Finch", "calibrate level\n", &["tilt 0 0"]);
    assert_eq!(level.rehearsed.result, Ok(()), "{:#?}", level.lines);
    assert!(level.told("nothing was written") && level.rehearsed.changed.is_empty(), "{:#?}", level.lines);
    let mounted = Mounted { out_of_level: [2.5, -1.0], adds_trims: true, ..Mounted::default() };
    let config = WorldConfig { mounted, attitude: [0.0, 0.0, 40.0], ..WorldConfig::default() };
    let turned = play_moved(&script_for("Finch", "calibrate level\nkeep\n"), &[], Disk::default(), config);
    assert_eq!(turned.rehearsed.result, Ok(()), "{:#?}", turned.lines);
    assert!((stored(&turned, "LEVEL_ROLL") + 2.5).abs() < 0.1 && (stored(&turned, "LEVEL_PITCH") - 1.0).abs() < 0.1);
}

/// A meter that shows something else than the pack has, and a world that moves a while after it was asked for.
struct Misread(Willing, &'static str, Option<(u64, &'static str)>);

impl Operator for Misread {
    fn asked(&mut self, question: &Question) -> Vec<(Duration, Deed)> {
        if question.reply != Reply::Volts {
            return self.0.asked(question);
        }
        let moved = self.2.map(|(after, line)| (Duration::from_millis(after), Deed::World(line.to_owned())));
        typed(self.1).into_iter().chain(moved).collect()
    }

    fn invited(&mut self, gesture: &Gesture) -> Vec<(Duration, Deed)> {
        self.0.invited(gesture)
    }
}

const VOLTS: &str = "battery 2 cells warn at 3.6 V per cell land at 3.4 V per cell\nkeep\ncalibrate battery\nkeep\n";

fn metered(shows: &'static str, world: &[&str], moved: Option<(u64, &'static str)>) -> Play {
    let script = script_for("Finch", VOLTS);
    let mut craft = World::new(WorldConfig { make: Some(make_for(&script.sheets).unwrap()), ..WorldConfig::default() });
    for line in world {
        let now = craft.now();
        craft.line(now, line).unwrap();
    }
    let mut operator = Misread(willing(craft.config()), shows, moved);
    play_with(&script, craft, &mut operator, Disk::default())
}

#[test]
fn the_voltage_becomes_the_meters_on_every_board() {
    for board in BOARDS {
        let play = plain(board, VOLTS, &["divider 12.1"]);
        assert_eq!(play.rehearsed.result, Ok(()), "{board}: {:#?}", play.lines);
        // Read to a hundredth of a volt, of nearly eight.
        assert!((stored(&play, "VOLT_RATIO") - 12.1).abs() < 0.05, "{board}: {}", stored(&play, "VOLT_RATIO"));
        assert!(play.told("The multimeter shows 7.88 V."), "{board}: {:#?}", play.lines);
        let script = script_for(board, VOLTS);
        let mut again = play.rehearsed.board.clone();
        let now = again.now();
        again.line(now, "battery out").unwrap();
        let mut operator = willing(again.config());
        let second = play_with(&script, again, &mut operator, play.rehearsed.disk);
        assert_eq!(second.rehearsed.result, Ok(()), "{board}: {:#?}", second.lines);
        assert!(second.rehearsed.changed.is_empty() && !second.told("multimeter show?"), "{board}");
    }
}

#[test]
fn a_reading_that_no_pack_has_is_refused_with_its_cause() {
    for (shows, said) in [
        ("3.95", "which no pack has"),
        ("6.20", "too far apart for a ratio"),
        ("0.2", "is no voltage of a pack"),
        ("about eight", "is no voltage of a pack"),
    ] {
        let play = metered(shows, &[], None);
        assert!(play.rehearsed.result.is_err() && play.told(said), "{shows}: {:#?}", play.lines);
        assert!(!play.rehearsed.changed.contains_key("VOLT_RATIO"), "{shows}");
    }
    // A comma, a unit, and what agrees already.
    let play = metered("7,88 V", &["divider 10.9"], None);
    assert_eq!(play.rehearsed.result, Ok(()), "{:#?}", play.lines);
    assert!(play.told("nothing was written"), "{:#?}", play.lines);
}

/// What the board shows with the new ratio is measured again; where that is not the meter's, the old one is put back.
#[test]
fn a_ratio_that_does_not_help_is_put_back() {
    // The answer is typed after a second and a half, and what the board shows then is measured for three.
    let play = metered("7.88", &["divider 11.4"], Some((5200, "divider 13")));
    let Err(Fault::Refused { .. }) = &play.rehearsed.result else { panic!("{:#?}", play.lines) };
    assert!(play.told("the old one is back"), "{:#?}", play.lines);
    let truth = play.rehearsed.board.truth();
    assert!((truth["settings"]["VOLT_RATIO"]["working"].as_f64().unwrap() - 10.9).abs() < 1e-3, "{truth}");
}

/// Lithium-ion cells, which go down further than others.
#[test]
fn a_lithium_ion_pack_is_set_up_on_every_board() {
    for board in BOARDS {
        let lines = "battery 2 cells liion warn at 3.1 V per cell land at 2.9 V per cell\nkeep\n";
        let play = plain(board, lines, &[]);
        assert_eq!(play.rehearsed.result, Ok(()), "{board}: {:#?}", play.lines);
        for (name, wanted) in [("CELL_KIND", 2.0), ("WARN_CELL_MV", 3100.0), ("LAND_CELL_MV", 2900.0)] {
            assert!((stored(&play, name) - wanted).abs() < 0.1, "{board}: {name}");
        }
    }
}

/// What outlives a restart by itself is stored by nobody: such a board need not even have a way to be told to.
#[test]
fn a_board_that_stores_at_once_is_never_told_to_store() {
    let text = quadjig::board::shipped::SHEETS.iter().find(|sheet| sheet.stem == "finch").unwrap().text;
    let mut text = text.replace("at-once = false", "at-once = true");
    for name in ["name = \"IDLE_US\"\n", "name = \"LEVEL_ROLL\"\n", "name = \"LEVEL_PITCH\"\n"] {
        assert_eq!(text.matches(name).count(), 1, "{name}");
        text = text.replace(name, &format!("{name}restart = true\n"));
    }
    let sheet = quadjig::board::sheet_file::read("own.toml", &text).unwrap();
    assert!(sheet.stores_at_once);
    for (lines, world) in [
        ("calibrate level\n", &["seat 3.2 -1.7", "tilt 0 0"][..]),
        ("require battery in\nrequire level within 2 deg\nidle start at 1075 step 25 until all spin\n", &[]),
    ] {
        let script = Script { sheets: vec![sheet.clone()], ..script(lines) };
        let play = play_moved(&script, world, Disk::default(), WorldConfig::default());
        assert_eq!(play.rehearsed.result, Ok(()), "{lines}: {:#?}", play.lines);
        let journal = &play.rehearsed.disk.craft[std::path::Path::new("journal.jsonl")];
        let journal = String::from_utf8_lossy(journal);
        assert!(journal.contains("kept-over-restart"), "{lines}: {journal}");
        assert!(!journal.contains("\"writes\":[]"), "{lines}: {journal}");
    }
}
