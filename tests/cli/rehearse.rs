//! `quadjig rehearse` from outside: whole transcripts, JSON, exit codes; the same bytes every time.

use super::desk::board::Board;
use super::{Sandbox, shown};
use crate::rehearsal::any_board::filled;
use serde_json::Value;

/// Short, and yet with a question, a search, a restart and a test.
const SHORT: &str = "recipe \"Wren 95, idle\"
edition 1
craft quad x
board \"Finch\"

require battery out
require props off
switch B on channel 6 rests at 1000, 1500, 2000
bind arm to switch B position 2
at zero throttle spin
keep
idle start at 1100 step 25 until all spin, for 1 s, in 2 starts
keep
test idle in 2 starts
";

fn json(sandbox: &Sandbox, arguments: &[&str]) -> (Option<i32>, Value) {
    let output = sandbox.command(arguments).output().unwrap();
    assert_eq!(String::from_utf8(output.stderr).unwrap(), "");
    (output.status.code(), serde_json::from_slice(&output.stdout).unwrap())
}

fn short() -> Sandbox {
    let sandbox = Sandbox::new();
    sandbox.write("wren.jig", SHORT);
    sandbox
}

#[test]
fn the_transcript_of_one_craft() {
    insta::assert_snapshot!(short().run(&["rehearse", "wren.jig"]));
}

#[test]
fn the_transcript_for_a_screen_reader() {
    let shown = short().run(&["--plain", "rehearse", "wren.jig"]);
    assert!(shown.contains("\nyour answer: (operator types 1125)\n"), "{shown}");
    assert!(shown.contains("\noperator: switch B is at 2\n"), "{shown}");
    assert!(!shown.contains('┃') && !shown.contains('▪'), "{shown}");
}

#[test]
fn a_fleet_is_summed_up() {
    insta::assert_snapshot!(short().run(&["rehearse", "wren.jig", "--fleet", "6", "--seed", "3"]));
}

/// The fields that the command reference names.
#[test]
fn json_has_the_fields_that_were_promised() {
    let (code, report) = json(&short(), &["rehearse", "wren.jig", "--fleet", "3", "--seed", "8", "--format", "json"]);
    assert_eq!(code, Some(0));
    assert_eq!(report["schema"], "quadjig.rehearse/1");
    assert_eq!(report["kind"], "rehearsal");
    assert_eq!(report["outcome"], "finished");
    let fleet = report["fleet"].as_array().unwrap();
    assert_eq!(fleet.iter().map(|craft| craft["seed"].as_u64().unwrap()).collect::<Vec<_>>(), [8, 9, 10]);
    for craft in fleet {
        let names: Vec<&String> = craft.as_object().unwrap().keys().collect();
        assert_eq!(names, ["outcome", "questions", "reason", "restarts", "seconds", "seed", "settings"]);
        assert_eq!(craft["outcome"], "finished");
        assert_eq!(craft["reason"], Value::Null);
        assert_eq!(craft["settings"]["ARM_CHANNEL"], 6);
        assert!(craft["settings"]["IDLE_US"].as_u64().unwrap() > 1100);
        assert_eq!(craft["restarts"], 2);
        assert!(craft["seconds"].as_f64().unwrap() > 10.0);
    }
}

/// One craft of a fleet can be rehearsed again by its seed.
#[test]
fn a_craft_of_a_fleet_is_the_same_by_itself() {
    let sandbox = short();
    let (_, fleet) = json(&sandbox, &["rehearse", "wren.jig", "--fleet", "2", "--seed", "4", "--format", "json"]);
    let (_, one) = json(&sandbox, &["rehearse", "wren.jig", "--seed", "5", "--format", "json"]);
    assert_eq!(one["fleet"][0], fleet["fleet"][1]);
}

#[test]
fn the_same_seed_gives_the_same_bytes() {
    let sandbox = short();
    for arguments in [&["rehearse", "wren.jig", "--seed", "7"][..], &["rehearse", "wren.jig", "--fleet", "5"]] {
        let [first, second] = [(); 2].map(|()| sandbox.command(arguments).output().unwrap().stdout);
        assert!(!first.is_empty() && first == second, "{arguments:?}");
    }
}

#[test]
fn other_seeds_give_other_craft() {
    let sandbox = short();
    assert_ne!(
        sandbox.run(&["rehearse", "wren.jig", "--seed", "7"]),
        sandbox.run(&["rehearse", "wren.jig", "--seed", "8"])
    );
}

/// Who rehearses must not come away with the feeling that something is shown of a real craft.
#[test]
fn a_rehearsal_never_says_that_anything_was_proved_or_passed() {
    let sandbox = short();
    let failing = SHORT.replace("test idle in 2 starts", "test idle in 2 starts\ntest cut within 10 ms");
    sandbox.write("failing.jig", &failing);
    for arguments in [
        &["rehearse", "wren.jig"][..],
        &["rehearse", "wren.jig", "--fleet", "4"],
        &["rehearse", "failing.jig"],
        &["rehearse", "failing.jig", "--fleet", "2"],
        &["rehearse", "failing.jig", "--format", "json"],
    ] {
        let told = sandbox.run(arguments).to_lowercase();
        let rest = told
            .replace("no craft was touched; this proves nothing about yours", "")
            .replace("nothing here proves anything about a craft", "");
        for word in ["prove", "proof", "passed"] {
            assert!(!rest.contains(word), "{word} in {told}");
        }
        assert!(arguments.contains(&"json") || told.contains("this proves nothing about yours"), "{told}");
    }
}

#[test]
fn it_ends_as_the_run_would() {
    let sandbox = short();
    let code = |name: &str, text: &str| {
        sandbox.write(name, text);
        let (code, report) = json(&sandbox, &["rehearse", name, "--format", "json"]);
        (code, report["outcome"].as_str().unwrap().to_owned())
    };
    let of = |code, outcome: &str| (Some(code), outcome.to_owned());
    assert_eq!(code("done.jig", SHORT), of(0, "finished"));
    // A recipe that is wrong, and one that no plan can be made of.
    assert_eq!(code("wrong.jig", &SHORT.replace("position 2", "position 7")), of(1, "refused"));
    // An idle that no motor of this craft starts at: searched in vain.
    let low =
        SHORT.replace("start at 1100 step 25 until all spin", "start at 1060 step 10 until all spin, at most 1090");
    assert_eq!(code("low.jig", &low), of(6, "fell-short"));
    // A pack that is not full enough: a guard.
    let full = SHORT.replace(
        "idle start",
        "battery 2 cells warn at 3.6 V per cell land at 3.4 V per cell\nrequire battery in\nrequire battery at least 4.1 V per cell\nidle start",
    );
    assert_eq!(code("full.jig", &full), of(4, "stopped"));
}

#[test]
fn a_recipe_that_is_wrong_is_told_as_by_check() {
    let sandbox = Sandbox::new();
    sandbox.write("wren.jig", &SHORT.replace("position 2", "position 7"));
    insta::assert_snapshot!("wrong", sandbox.run(&["rehearse", "wren.jig"]));
    let (code, report) = json(&sandbox, &["rehearse", "wren.jig", "--format", "json"]);
    let findings = report["findings"].as_array().unwrap();
    assert_eq!(code, Some(1));
    assert!(findings.iter().any(|finding| finding["code"] == "CS3" && finding["severity"] == "error"), "{report}");
    insta::assert_snapshot!("no-board", {
        sandbox.write("other.jig", &SHORT.replace("\"Finch\"", "\"Heron\""));
        sandbox.run(&["rehearse", "other.jig"])
    });
}

/// Cards and records live in memory.
#[test]
fn nothing_is_written() {
    let sandbox = Sandbox::new();
    let find = SHORT
        .replace("switch B on channel 6 rests at 1000, 1500, 2000", "find switch B with 3 positions\nfind link loss");
    sandbox.write("wren.jig", &find);
    let shown = sandbox.run(&["rehearse", "wren.jig"]);
    assert!(shown.starts_with("exit code: 0"), "{shown}");
    let left: Vec<_> = std::fs::read_dir(sandbox.path("")).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    assert_eq!(left, ["wren.jig"]);
}

/// Each of these crafts is another than the Wren 95: cells, radio, turning and signal are the recipe's and the card's.
#[test]
fn the_craft_is_as_recipe_and_card_tell_it() {
    let sandbox = Sandbox::new();
    let tells = |name: &str, text: &str, more: &[&str]| {
        sandbox.write(name, text);
        let shown = sandbox.run(&[&["rehearse", name][..], more].concat());
        assert!(shown.starts_with("exit code: 0\n"), "{shown}");
        shown.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let battery = |cells: &str| {
        let lines = format!("battery {cells} warn at 3.6 V per cell land at 3.4 V per cell\nrequire battery in\n");
        SHORT.replace("idle start", &format!("{lines}require battery at least 3.7 V per cell\nidle start"))
    };
    // A pack of two cells would be refused as an empty one of four, and as too full for one.
    assert!(tells("four.jig", &battery("4 cells"), &[]).contains("; 4 cells not told and played as a Wren 95 has it:"));
    assert!(tells("one.jig", &battery("1 cell"), &[]).contains("; 1 cell not told"));
    // Switches that the virtual radio does not have by itself are found, and work.
    let found = SHORT
        .replace("switch B on channel 6 rests at 1000, 1500, 2000", "find switch SF with 3 positions\nfind switch SA")
        .replace("switch B position 2", "switch SF position 2\nbind buzzer to switch SA position 1");
    let shown = tells("found.jig", &format!("{found}test buzzer\n"), &[]);
    assert!(shown.contains("a radio with SF, SA not told"), "{shown}");
    assert!(shown.contains("Switch SF drives channel 5: 1000"), "{shown}");
    // A card's switches, its reversed channel and its stick order: what a whole transmitter is set up like.
    let card = "edition = 1\nradio = \"Bench\"\n[sticks]\nthrottle = { channel = 1, reversed = false }\nroll = { channel = 2, reversed = false }\n\
        pitch = { channel = 3, reversed = false }\nyaw = { channel = 4, reversed = false }\n[switches.SG]\nchannel = 9\nrests = [1900, 1100]\n";
    sandbox.write("mine.toml", card);
    let carded = SHORT
        .replace(
            "switch B on channel 6 rests at 1000, 1500, 2000",
            "channels throttle, roll, pitch, yaw\nfind switch SG",
        )
        .replace("switch B position 2", "switch SG position 1");
    let shown = tells("carded.jig", &format!("{carded}test arm\n"), &["--radio", "mine.toml"]);
    assert!(shown.contains("a radio of Bench with SG not told"), "{shown}");
    assert!(shown.contains("Arm on switch SG tested in every position"), "{shown}");
    // Motors turn as the recipe says of its craft.
    let outward = SHORT.replace("quad x", "quad x turning outward") + "test motors\n";
    assert!(tells("outward.jig", &outward, &[]).contains("as told quad x turning outward; "));
}

/// Whatever corners and figures differ, one cause is one line, with the seeds of all of its craft.
/// Whoever asks for a firmware rehearses on a board that has it, over every link.
#[test]
fn the_firmware_is_the_one_that_the_recipe_asks_for() {
    let sandbox = Sandbox::new();
    for (board, sheet) in [("Finch", "finch"), ("Finch C", "finch-c"), ("Finch P", "finch-p")] {
        for (wanted, has) in [("2.4", "2.4.1"), ("3.2", "3.2.0"), ("11.0.7", "11.0.7")] {
            let head = format!("board \"{board}\"\nrequire firmware \"{wanted}\"\n");
            sandbox.write("own.jig", &SHORT.replace("board \"Finch\"\n", &head));
            let shown = sandbox.run(&["rehearse", "own.jig", "--sheet", sheet]);
            assert!(shown.starts_with("exit code: 0\n") && shown.contains(&format!("firmware {has}")), "{shown}");
        }
    }
}

#[test]
fn a_fleet_that_fails_says_each_cause_once_and_plots_what_was_kept() {
    let sandbox = Sandbox::new();
    let low = "start at 1060 step 25 until all spin, at most 1120";
    sandbox.write("low.jig", &SHORT.replace("start at 1100 step 25 until all spin", low));
    let shown = sandbox.run(&["rehearse", "low.jig", "--fleet", "8"]);
    assert_eq!(shown.lines().filter(|line| line.starts_with("        not")).count(), 1, "{shown}");
    sandbox.write("wren.jig", SHORT);
    insta::assert_snapshot!(sandbox.run(&["rehearse", "wren.jig", "--fleet", "12"]));
    let plain = sandbox.run(&["--plain", "rehearse", "wren.jig", "--fleet", "4"]);
    assert!(plain.contains("\nkept 11") && !plain.contains('▪'), "{plain}");
}

/// A card that knows the switches leaves less to be found.
#[test]
fn a_radio_card_can_be_named() {
    let sandbox = Sandbox::new();
    let find = SHORT.replace("switch B on channel 6 rests at 1000, 1500, 2000", "find switch B with 3 positions");
    sandbox.write("wren.jig", &find);
    let shown = sandbox.run(&["rehearse", "wren.jig", "--radio", "bench"]);
    assert!(shown.contains("Confirm switch B by a live reading"), "{shown}");
}

#[test]
fn a_pipe_gets_no_colour() {
    let sandbox = Sandbox::new();
    sandbox.write("wren.jig", SHORT);
    let mut output = sandbox.command(&["rehearse", "wren.jig"]);
    output.env_remove("NO_COLOR").env("TERM", "xterm-256color");
    let text = shown(&output.output().unwrap(), &sandbox.path(""));
    assert!(!text.contains('\u{1b}'), "{text}");
}

/// One's own board, before it is touched: by a sheet that was filled in from a template.
#[test]
fn a_recipe_is_rehearsed_on_the_board_of_ones_own_sheet() {
    let sandbox = Sandbox::new();
    sandbox.write("mine.toml", &filled("console"));
    sandbox.write("wren.jig", &SHORT.replace("\"Finch\"", "\"My board\""));
    let shown = sandbox.run(&["rehearse", "wren.jig", "--sheet", "mine.toml"]);
    assert!(shown.starts_with("exit code: 0\n"), "{shown}");
    assert!(shown.contains("My board craft, the Wren 95 on the bench, id 7669727400000001"), "{shown}");
    let (code, report) =
        json(&sandbox, &["rehearse", "wren.jig", "--sheet", "mine.toml", "--fleet", "2", "--format", "json"]);
    assert_eq!((code, &report["outcome"]), (Some(0), &Value::from("finished")), "{report}");
    assert_eq!(report["fleet"][1]["settings"]["MY_ARM_CHANNEL"], 6);
    // What cannot be played is said with its place in the sheet.
    sandbox.write("odd.toml", &filled("console").replace("(?<pulses>[0-9 ]+))'", "(?<pulses>[a-z ]+))'"));
    let shown = sandbox.run(&["rehearse", "wren.jig", "--sheet", "odd.toml"]);
    assert!(shown.starts_with("exit code: 1\n") && shown.contains("the pattern of channels"), "{shown}");
}

/// The same board on a port, as any program finds it.
#[test]
fn ones_own_board_is_served_on_a_port() {
    let sandbox = Sandbox::new();
    sandbox.write("mine.toml", &filled("mavlink"));
    let sheet = sandbox.path("mine.toml").display().to_string();
    let board = Board::on_tcp_with(&["--sheet", &sheet]);
    sandbox.write("wren.jig", &SHORT.replace("\"Finch\"", "\"My board\""));
    let shown = sandbox.run(&["dry-run", "wren.jig", "--sheet", "mine.toml", "--port", &board.port]);
    assert!(shown.starts_with("exit code: 0\n") && shown.contains("VIRTUAL"), "{shown}");
    assert!(shown.contains("MY_ARM_CHANNEL") || shown.contains("arm: channel"), "{shown}");
}
