//! The proof of the arm switch on a board whose flag is late.

use super::kit::{self, Play, play_with, script};
use super::motors::script_for;
use quadjig::board::sheet_file;
use quadjig::board::shipped::SHEETS;
use quadjig::rehearsal::operator::{Deed, Operator, Willing};
use quadjig::rehearsal::rehearse::willing;
use quadjig::rehearsal::simulated::Disk;
use quadjig::seam::ui::{About, Gesture, Question};
use quadjig::virtual_board::{BoardKind, World, WorldConfig};
use std::time::Duration;

/// Willing; and behind the back of the run the board's band is widened to position 1 as the test is asked for.
struct Widens {
    willing: Willing,
    line: Option<&'static str>,
}

impl Operator for Widens {
    fn asked(&mut self, question: &Question) -> Vec<(Duration, Deed)> {
        let mut deeds = self.willing.asked(question);
        if matches!(&question.about, About::Motor(step) if step.purpose == "test of the arm switch") {
            deeds.extend(self.line.map(|line| (Duration::from_millis(100), Deed::World(line.to_owned()))));
        }
        deeds
    }

    fn invited(&mut self, gesture: &Gesture) -> Vec<(Duration, Deed)> {
        self.willing.invited(gesture)
    }
}

fn play(late_ms: u64, every_ms: u64, line: Option<&'static str>, battery: &str) -> Play {
    let mut config = WorldConfig::default();
    config.conduct.tells_late[2] = Duration::from_millis(late_ms);
    config.conduct.flag_every = Duration::from_millis(every_ms);
    let mut operator = Widens { willing: willing(&config), line };
    play_with(&script(&format!("{battery}test arm\n")), World::new(config), &mut operator, Disk::default())
}

#[test]
fn a_board_that_arms_in_another_position_is_told_however_late_its_flag_is() {
    for (late, every) in [(0, 50), (300, 100), (800, 50), (800, 1000)] {
        for battery in ["", "require battery in\n"] {
            let good = play(late, every, None, battery);
            // With the battery in a flag so late is no flag to turn motors by, and the watch may say so.
            let may_refuse = late > 500 && !battery.is_empty();
            assert!(good.rehearsed.result.is_ok() || may_refuse, "flag {late} ms late, every {every} ms, {battery}");
            let widened = play(late, every, Some("set ARM_FROM 1400"), battery);
            assert!(widened.rehearsed.result.is_err(), "flag {late} ms late, every {every} ms, {battery}");
            assert!(!widened.told("and nowhere else"), "flag {late} ms late, every {every} ms, {battery}");
        }
    }
}

/// A sheet that reads another bit than the flag's: motors that are armed show it, and the switch is not called proved.
#[test]
fn a_flag_that_does_not_rise_with_the_outputs_proves_nothing() {
    let text = SHEETS.iter().find(|sheet| sheet.stem == "finch-p").unwrap().text;
    let flag = "fields.armed = { at = 0, type = \"u8\", bit = 0 }";
    assert!(text.contains(flag));
    for (sheet, good) in [(text.to_owned(), true), (text.replace(flag, &flag.replace("bit = 0", "bit = 5")), false)] {
        let mut script = script_for("Finch P", "test arm\n");
        script.sheets = vec![sheet_file::read("mine.toml", &sheet).unwrap()];
        let config = WorldConfig { make: Some(BoardKind::FinchP.make()), ..WorldConfig::default() };
        let played = kit::play(&script, config);
        assert_eq!(played.rehearsed.result.is_ok(), good, "{:#?}", played.lines);
        assert_eq!(played.told("arms in position 2 and nowhere else"), good, "{:#?}", played.lines);
        let why = played.rehearsed.result.err().map(|fault| fault.to_string()).unwrap_or_default();
        assert_eq!(why.contains("the armed flag says disarmed"), !good, "{why}");
    }
}
