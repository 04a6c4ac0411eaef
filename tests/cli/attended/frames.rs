//! A hex and an octo as a person meets them: the idle, the signal of each motor and the cut, at a real terminal.

use super::super::Sandbox;
use super::super::desk::board::Board;
use super::super::desk::{Attended, willing};
use super::{run_arguments, whole};

fn one(frame: &str, name: &str, kind: &str, corners: &[&str]) {
    let sandbox = Sandbox::new();
    let head = (format!("craft {frame} turning inward"), format!("board \"{name}\""));
    let recipe = whole().replace("craft quad x turning inward", &head.0).replace("board \"Finch\"", &head.1);
    let recipe = recipe.replace("step 20 until all spin, at most 1200", "step 50 until all spin, at most 1225");
    sandbox.write(
        "big.jig",
        &recipe.replace("\nkeep\ntest arm", "\nsignal dshot300 at 4 kHz\nkeep\ntest arm\npower cycle"),
    );
    let mut board = Board::with(&["--sheet", kind]);
    board.line(&format!("threshold {} 1180", corners[corners.len() - 1]));
    let port = board.port.clone();
    let ended = Attended::start(&sandbox, &mut board, &run_arguments("big.jig", &port)).end(willing);
    assert_eq!(ended.code, Some(0), "{name}: {}", ended.screen);
    assert!(board.rests(), "{name}");
    // The last motor needs clearly more than the first value of the search and less than the next: that is kept, with what
    // is added.
    assert_eq!(board.settings()["IDLE_US"]["stored"], 1220, "{name}: {}", ended.screen);
    let flat = ended.screen.split_whitespace().filter(|word| *word != "┃").collect::<Vec<_>>().join(" ");
    for (output, corner) in (1..).zip(corners) {
        assert!(flat.contains(&format!("Type output {output} and press Enter")), "{name}: {}", ended.screen);
        assert!(flat.contains(&format!("{corner}, by the sheet")), "{name}, {corner}: {}", ended.screen);
    }
}

#[test]
fn a_hex_and_an_octo_are_set_up_over_mavlink_and_a_console() {
    const HEX: [&str; 6] = ["front left", "front right", "right", "rear right", "rear left", "left"];
    const OCTO: [&str; 8] = [
        "front left",
        "front right",
        "right front",
        "right rear",
        "rear right",
        "rear left",
        "left rear",
        "left front",
    ];
    std::thread::scope(|scope| {
        scope.spawn(|| one("hex x", "Finch 6", "finch-6", &HEX));
        scope.spawn(|| one("hex x", "Finch C6", "finch-c6", &HEX));
        scope.spawn(|| one("octo x", "Finch R8", "finch-r8", &OCTO));
    });
}
