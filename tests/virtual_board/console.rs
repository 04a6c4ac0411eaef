//! The console of the Finch C: whole answers, lines that are typed, pages, texts that come unasked, cut lines.

use super::typist::{PROMPT, Typist};
use quadjig::virtual_board::{ConsoleConfig, WireConfig, WorldConfig};
use std::time::Duration;

const BREAK: &str = "\u{3}";

#[test]
fn every_verb_has_its_answer() {
    let mut typist = Typist::plain();
    typist.line("stick throttle 1000");
    typist.wait(100);
    for (line, answer) in [
        ("show IDLE_US", "1050 for IDLE_US"),
        ("show VOLT_RATIO", "10.9 for VOLT_RATIO"),
        ("show AMP_SCALE", "25.0 for AMP_SCALE"),
        ("show GYRO_OFF_Y", "-7 for GYRO_OFF_Y"),
        ("put 1120 into IDLE_US", "1120 for IDLE_US"),
        ("put 1755 into ROW1_FROM", "1754 for ROW1_FROM"),
        ("put -0.35 into LEVEL_ROLL", "-0.35 for LEVEL_ROLL"),
        ("put 3 into LEVEL_ROLL", "3.0 for LEVEL_ROLL"),
        ("  who ", "7669727400000001, Finch C, 2.4.1"),
        ("armed", "armed: no"),
        ("outputs", "outputs 1000 1000 1000 1000"),
        ("speeds", "speeds 0 0 0 0"),
        ("pack", "pack 0.00 V 0.00 A"),
        ("rest", "resting"),
        ("keep", "kept"),
        ("", ""),
    ] {
        assert_eq!(typist.ask(line), answer, "{line}");
    }
    // What the help lists is what there is.
    let help = typist.ask("help");
    assert_eq!(help.lines().count(), 16);
    for line in help.lines() {
        let verb = line.split(' ').next().unwrap();
        assert!(!typist.ask(&format!("{verb} too many words by far")).contains("unknown word"), "{verb}");
    }
}

#[test]
fn live_values_are_the_worlds() {
    let mut typist = Typist::plain();
    let channels = typist.ask("channels");
    let numbers: Vec<u16> =
        channels.strip_prefix("channels ").unwrap().split(' ').map(|n| n.parse().unwrap()).collect();
    assert_eq!(serde_json::json!(numbers), typist.truth("/receiver/channels"));
    typist.line("radio off");
    typist.wait(500);
    assert_eq!(typist.ask("channels"), "channels none");

    typist.line("tilt 4.5 -1");
    let tilt = typist.ask("tilt");
    let words: Vec<&str> = tilt.split(' ').collect();
    let ["tilt", "roll", roll, "pitch", pitch, "yaw", yaw] = words[..] else { panic!("{tilt}") };
    for (shown, really) in [(roll, 4.5), (pitch, -1.0), (yaw, 40.0)] {
        let shown: f64 = shown.parse().unwrap();
        assert!((shown - really).abs() < 0.2, "{tilt}");
    }

    typist.line("battery in");
    let pack = typist.ask("pack");
    // The default pack without load, by a divider ratio that is off by 10.9 to 11.05.
    let volts: f64 = pack.strip_prefix("pack ").unwrap().split(' ').next().unwrap().parse().unwrap();
    assert!((volts - 7.9 * 10.9 / 11.05).abs() < 0.1, "{pack}");
    assert!(pack.ends_with(" V 0.22 A"), "{pack}");
    assert_eq!(typist.ask("spin 2 1150 500"), "spinning 2 at 1150 us for 500 ms");
    typist.wait(300);
    assert_eq!(typist.ask("outputs"), "outputs 1000 1150 1000 1000");
    let speeds = typist.ask("speeds");
    let speeds: Vec<i32> = speeds.split(' ').skip(1).map(|rpm| rpm.parse().unwrap()).collect();
    assert!(speeds[1] > 5000 && [speeds[0], speeds[2], speeds[3]] == [0, 0, 0], "{speeds:?}");
    assert_eq!(typist.wait(250), "");
    assert_eq!(typist.ask("outputs"), "outputs 1000 1000 1000 1000", "its time is over");
    typist.ask("put 0 into SPEED_TELEM");
    assert_eq!(typist.ask("speeds"), "no: no speeds are sent");
}

#[test]
fn what_is_refused_changes_nothing_and_says_why() {
    let mut typist = Typist::plain();
    let before = typist.truth("/settings");
    for (line, why) in [
        ("show NO_SUCH", "nothing is called NO_SUCH"),
        ("show idle_us", "nothing is called idle_us"),
        ("put 1 into NO_SUCH", "nothing is called NO_SUCH"),
        ("put 1251 into IDLE_US", "IDLE_US takes 1000 to 1250"),
        ("put 1100.5 into IDLE_US", "IDLE_US takes whole numbers only"),
        ("put 3000 into LOOP_HZ", "LOOP_HZ takes 1000, 2000, 4000, 8000"),
        ("put 11 into LEVEL_ROLL", "LEVEL_ROLL takes -10 to 10"),
        ("put 1e3 into IDLE_US", "1e3 is not a number"),
        ("put NaN into IDLE_US", "NaN is not a number"),
        ("put IDLE_US 1100", "say put VALUE into NAME"),
        ("put 1100 in IDLE_US", "say put VALUE into NAME"),
        ("list all", "say list"),
        ("spin 1 1100 500", "battery is out"),
        ("Show IDLE_US", "unknown word"),
        ("arm", "unknown word"),
        ("7", "unknown word"),
    ] {
        assert_eq!(typist.ask(line), format!("no: {why}"), "{line}");
    }
    typist.line("battery in");
    for (line, why) in [
        ("spin 5 1100 500", "motors are 1 to 4"),
        ("spin 0 1100 500", "motors are 1 to 4"),
        ("spin 1 999 500", "pulses are 1000 to 2000"),
        ("spin 1 2001 500", "pulses are 1000 to 2000"),
        ("spin 1 1100 3001", "times are 1 to 3000"),
        ("spin 1 1100 0", "times are 1 to 3000"),
        ("spin 1 1100 1e3", "1e3 is not a number"),
        ("spin 1 70000 10", "70000 is not a number"),
        ("spin 1 1100", "say spin MOTOR PULSE MS"),
    ] {
        assert_eq!(typist.ask(line), format!("no: {why}"), "{line}");
    }
    assert_eq!(typist.truth("/settings"), before);
    assert_eq!(typist.world.outputs(), [1000; 4]);
}

#[test]
fn a_line_is_echoed_taken_back_thrown_away_and_bounded() {
    let mut typist = Typist::plain();
    assert_eq!(typist.types("who"), "who");
    assert_eq!(typist.types("\u{8}\u{7f}"), "\u{8} \u{8}\u{8} \u{8}");
    assert_eq!(typist.types("hx\u{8}o"), "hx\u{8} \u{8}o");
    assert_eq!(typist.types("\n"), format!("\r\n7669727400000001, Finch C, 2.4.1\r\n{PROMPT}"));
    assert_eq!(typist.types("\u{8}"), "", "nothing to take back");
    // CR LF is one end, LF LF two; an empty line is only a prompt.
    assert_eq!(typist.types("armed\r\n"), format!("armed\r\narmed: no\r\n{PROMPT}"));
    assert_eq!(typist.types("\n\n"), format!("\r\n{PROMPT}\r\n{PROMPT}"));

    assert_eq!(typist.types(format!("put 1200 into IDLE{BREAK}")), format!("put 1200 into IDLE\r\n{PROMPT}"));
    assert_eq!(typist.ask("show IDLE_US"), "1050 for IDLE_US");

    // A byte that is no character of a line is not dropped: 1100 with one that was hit must not become 110.
    assert_eq!(typist.types(b"put 11\xff0 into IDLE_US\r"), {
        format!("put 11?0 into IDLE_US\r\nno: 11?0 is not a number\r\n{PROMPT}")
    });

    let long = "x".repeat(100_000);
    let echoed = "x".repeat(120);
    assert_eq!(typist.types(&long), echoed);
    assert_eq!(typist.types("\r"), format!("\r\nno: line too long\r\n{PROMPT}"));
    assert_eq!(typist.types("y".repeat(120) + "\r"), format!("{}\r\nno: unknown word\r\n{PROMPT}", "y".repeat(120)));
}

#[test]
fn a_list_comes_in_pages() {
    let mut typist = Typist::plain();
    let more = "-- more: space --";
    let rubbed = format!("\r{}\r", " ".repeat(more.len()));
    let mut page = typist.types("list\r").strip_prefix("list\r\n").unwrap().to_owned();
    let mut lines = Vec::new();
    while let Some(full) = page.strip_suffix(more) {
        lines.extend(full.lines().map(str::to_owned));
        assert_eq!(lines.len() % 20, 0);
        assert_eq!(typist.types("x\rarmed\r"), "", "only a space turns the page");
        page = typist.types(" ").strip_prefix(&rubbed).unwrap().to_owned();
    }
    let last = page.strip_suffix(PROMPT).unwrap();
    lines.extend(last.lines().map(str::to_owned));
    let truth = typist.truth("/settings");
    let truth = truth.as_object().unwrap();
    assert_eq!(lines.pop().unwrap(), format!("{} settings", truth.len()));
    assert_eq!(lines.len(), truth.len());
    for line in &lines {
        let (value, name) = line.split_once(" for ").unwrap();
        let value: f64 = value.parse().unwrap();
        assert!((value - truth[name]["working"].as_f64().unwrap()).abs() < 1e-6, "{line}");
    }

    typist.types("list\r ");
    assert_eq!(typist.types(BREAK), format!("\r\n{PROMPT}"), "a page is left by a break");
    assert_eq!(typist.ask("armed"), "armed: no");
}

#[test]
fn a_text_never_breaks_into_a_line_and_what_stood_there_comes_again() {
    let mut typist = Typist::plain();
    assert_eq!(typist.line("say hello"), format!("\r\n* hello\r\n{PROMPT}"));
    typist.types("show IDL");
    assert_eq!(typist.line("say low battery"), format!("\r\n* low battery\r\n{PROMPT}show IDL"));
    assert_eq!(typist.types("E_US\r"), format!("E_US\r\n1050 for IDLE_US\r\n{PROMPT}"));
    typist.types("list\r");
    assert_eq!(typist.line("say page"), "\r\n* page\r\n-- more: space --");
    typist.types(BREAK);
    // A board that is broken or means harm says what it likes.
    assert_eq!(
        typist.line(r"say \e[2J\r\nfinch> armed: no\\"),
        format!("\r\n* \u{1b}[2J\r\nfinch> armed: no\\\r\n{PROMPT}")
    );
    assert!(typist.world.line(typist.now, r"say \q").is_err() && typist.world.line(typist.now, "say").is_err());
    let mut slow = Typist::new(ConsoleConfig { answers_after: Duration::from_millis(200), ..ConsoleConfig::default() });
    assert_eq!(slow.types("armed\r"), "armed\r\n");
    assert_eq!(slow.line("say wait"), "* wait\r\n", "between a line and its answer");
    assert_eq!(slow.wait(200), format!("armed: no\r\n{PROMPT}"));
}

#[test]
fn a_slow_board_does_at_once_and_answers_late() {
    let mut typist =
        Typist::new(ConsoleConfig { answers_after: Duration::from_millis(300), ..ConsoleConfig::default() });
    assert_eq!(typist.types("put 1100 into IDLE_US\rshow IDLE_US\r"), "put 1100 into IDLE_US\r\n");
    assert_eq!(typist.truth("/settings/IDLE_US/working"), 1100);
    assert_eq!(typist.wait(299), "");
    assert_eq!(typist.wait(1), format!("1100 for IDLE_US\r\n{PROMPT}show IDLE_US\r\n"), "what waited comes next");
    assert_eq!(typist.wait(300), format!("1100 for IDLE_US\r\n{PROMPT}"));

    // A break overtakes: the answer and what waits are thrown away, what was done is done.
    typist.types("put 1110 into IDLE_US\rput 1200 into IDLE_US\r");
    assert_eq!(typist.types(BREAK), format!("\r\n{PROMPT}"));
    assert_eq!(typist.wait(1000), "");
    assert_eq!(typist.truth("/settings/IDLE_US/working"), 1110);
    // What waits is bounded.
    typist.types("armed\r");
    typist.types("x".repeat(10_000));
    assert_eq!(typist.wait(300), format!("armed: no\r\n{PROMPT}{}", "x".repeat(120)));
}

#[test]
fn a_restart_forgets_and_cuts_what_is_half_said() {
    let mut typist = Typist::plain();
    typist.ask("put 1111 into IDLE_US");
    typist.ask("keep");
    typist.ask("put -3 into ROTOR_TRIM");
    assert_eq!(typist.types("again\r"), "again\r\ngoing down\r\n");
    assert_eq!(typist.types("armed\r"), "", "it goes down already");
    assert!(typist.world.link_present(), "the answer gets out first");
    assert_eq!(typist.wait(100), "");
    assert!(!typist.world.link_present());
    typist.types("put 1200 into IDLE_US\r");
    assert_eq!(typist.wait(1300), format!("Finch C 2.4.1\r\n{PROMPT}"));
    assert_eq!(typist.truth("/board/starts"), 2);
    assert_eq!(typist.ask("show IDLE_US"), "1111 for IDLE_US");
    assert_eq!(typist.ask("show ROTOR_TRIM"), "0 for ROTOR_TRIM");

    // A half-typed line is gone as well.
    typist.types("put 1200 into IDLE_US");
    typist.line("restart");
    typist.wait(1400);
    assert_eq!(typist.types("\r"), format!("\r\n{PROMPT}"));
    assert_eq!(typist.truth("/settings/IDLE_US/working"), 1111);

    // 10,000 bits a second, ten a byte: a byte takes a millisecond.
    let wire = WireConfig { baud: Some(10_000), ..WireConfig::default() };
    let mut paced = Typist::with(WorldConfig { wire, ..WorldConfig::default() });
    assert_eq!(paced.types("who\r"), "", "bytes take their time, each way");
    assert_eq!(paced.wait(5), "who\r");
    assert_eq!(paced.wait(30), "\n7669727400000001, Finch C, 2.");
    paced.line("restart");
    assert_eq!(paced.wait(1199), "", "the rest is cut off");
    assert_eq!(paced.wait(100), format!("Finch C 2.4.1\r\n{PROMPT}"));
    assert_eq!((paced.types("x"), paced.wait(2)), (String::new(), "x".to_owned()), "no haste is saved up");
}

#[test]
fn a_cable_that_comes_and_goes_opens_the_console_anew() {
    let mut typist = Typist::plain();
    assert_eq!(typist.line("battery in"), "", "the port was there before");
    typist.types("half a li");
    assert_eq!(typist.line("usb out"), "");
    assert_eq!(typist.line("say unheard"), "");
    assert_eq!(typist.line("usb in"), format!("Finch C 2.4.1\r\n{PROMPT}"));
    assert_eq!(typist.truth("/board/starts"), 1, "the battery kept it up");
    assert_eq!(typist.ask("armed"), "armed: no");
}
