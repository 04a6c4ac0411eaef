//! A console whose sheet leaves a signal out: what needs it is refused by name, and no motor turns.

use super::kit::{play, script};
use quadjig::board::console::Capability;
use quadjig::board::sheet::Sheet;
use quadjig::board::sheet_file;
use quadjig::board::shipped::SHEETS;
use quadjig::seam::fault::Fault;
use quadjig::virtual_board::{BoardKind, WorldConfig};

/// The Finch C's sheet without some tables, and without what needs them.
fn without(needs: &[Capability]) -> Sheet {
    let mut text = SHEETS
        .iter()
        .find(|sheet| sheet.stem == "finch-c")
        .unwrap()
        .text
        .replace("board = \"Finch C\"", "board = \"Finch\"");
    let mut cut = |header: &str| {
        let from = text.find(header).unwrap();
        let to = from + 1 + text[from + 1..].find("\n[").unwrap();
        text.replace_range(from..to, "");
    };
    for need in needs {
        cut(&format!("[console.{}]", need.key()));
        if *need == Capability::Stop {
            cut("[motor-run]");
        }
    }
    sheet_file::read("lacking.toml", &text).unwrap_or_else(|error| panic!("{error}"))
}

#[test]
fn what_a_sheet_does_not_give_is_refused_by_name() {
    for (need, words) in [
        (Capability::Outputs, "motor outputs"),
        (Capability::Channels, "receiver channels"),
        (Capability::Attitude, "attitude"),
        (Capability::Power, "pack voltage"),
        (Capability::Stop, "stop over the link"),
    ] {
        let mut script = script("require battery in\ntest cut within 800 ms\n");
        script.sheets = vec![without(&[need])];
        let play = play(&script, WorldConfig { board: BoardKind::FinchC, ..WorldConfig::default() });
        let Err(fault) = &play.rehearsed.result else { panic!("{words}: it went on: {:#?}", play.lines) };
        let said = fault.to_string();
        assert!(said.contains("sheet lacking.toml gives no") && said.contains(words), "{words}: {said}");
        assert!(matches!(fault, Fault::Refused { .. }), "{said}");
        assert!(!play.told("text: \"Armed\""), "nothing was started: {:#?}", play.lines);
    }
}
