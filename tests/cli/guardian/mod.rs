//! The program dies, is stopped or hangs while motors turn: its guardian stops them.
//!
//! Everything is real: the program at a terminal, its guardian, a virtual board in a third process, a spy on the wire.
//! The bounds are those of the guardian with what a machine that runs all tests at once needs beside them; the figures
//! themselves are measured by `cargo bench --bench guardian`.

mod spy;

use super::Sandbox;
use super::attended::{CUT, run_arguments};
use super::desk::board::Board;
use super::desk::{Attended, willing};
use quadjig::board::mavlink::{FrameClass, classify};
use rustix::process::{Pid, Signal, kill_process};
use spy::Spy;
use std::time::{Duration, Instant};

/// From the death of the program to the first stop on the wire: 50 ms, and as much again and more for a busy machine.
const KILLED: Duration = Duration::from_millis(50 + 100);
/// From the moment at which it is stopped.
const STOPPED: Duration = Duration::from_millis(250 + 100);
/// Motors coast for half a second and more.
const AT_REST: Duration = Duration::from_millis(1500);
/// A firing on these wires, from the last renewal.
const FIRES: Duration = Duration::from_secs(3);
const KEY: &str = "00112233445566778899aabbccddeeff00112233445566778899aabbccddeeff\n";

#[derive(Clone, Copy, PartialEq)]
enum Over {
    Tcp,
    Terminal,
}

/// A run whose motors turn, with the switch on, and a spy on its wire.
fn turning(over: Over, signed: bool, work: impl FnOnce(Attended<'_>, &Spy)) {
    let sandbox = Sandbox::new();
    sandbox.write("cut.jig", CUT).write("ours.key", KEY);
    let key = sandbox.path("ours.key").display().to_string();
    let signing: &[&str] = if signed { &["--signing-key", &key] } else { &[] };
    let mut board = Board::on_tcp_with(signing);
    for setting in ["ARM_CHANNEL 6", "ARM_FROM 1754", "ARM_TO 2146", "SPIN_AT_ZERO 1", "IDLE_US 1150"] {
        board.line(&format!("set {setting}"));
    }
    board.line("battery in");
    let spy = match over {
        Over::Tcp => Spy::on_tcp(&board.port),
        Over::Terminal => Spy::on_terminal(&board.port),
    };
    let arguments = [&run_arguments("cut.jig", &spy.port)[..], signing].concat();
    let mut run = Attended::start(&sandbox, &mut board, &arguments);
    assert!(run.until(willing, |_, board| board.turns()), "no motor turned:\n{}", run.screen());
    work(run, &spy);
}

/// The number of the guardian that this program has started.
pub fn guardian_of(program: &str) -> Option<Pid> {
    let folders = std::fs::read_dir("/proc").unwrap().flatten();
    let found = folders.filter_map(|folder| {
        let number: i32 = folder.file_name().to_str()?.parse().ok()?;
        let status = std::fs::read_to_string(folder.path().join("status")).ok()?;
        let line = |name: &str| status.lines().find_map(|line| Some(line.strip_prefix(name)?.trim().to_owned()));
        (line("Name:")? == "quadjig-guard" && line("PPid:")? == program).then_some(number)
    });
    found.map(|number| Pid::from_raw(number).unwrap()).next()
}

/// The motors stand, though the switch stays on.
fn stand_still(run: &mut Attended<'_>, since: Instant) {
    run.board.until(Board::rests);
    let took = since.elapsed();
    assert!(took <= AT_REST, "{took:?}");
    assert_eq!(run.board.truth()["radio"]["switches"]["B"]["position"], 2, "the switch is still on");
}

fn killed(over: Over, signed: bool) {
    turning(over, signed, |mut run, spy| {
        let at = Instant::now();
        run.signal(Signal::KILL);
        let first = spy.first_stop(at);
        assert!(first <= KILLED, "{first:?}");
        stand_still(&mut run, at);
        assert_eq!(run.end(willing).code, None);
        // After its time nothing leaves any more, and the wire is free.
        std::thread::sleep((FIRES + Duration::from_millis(300)).saturating_sub(at.elapsed()));
        let late = spy.frames_since(at + FIRES + Duration::from_millis(100));
        assert!(late.is_empty(), "{late:?}");
        let sent = spy.frames_since(at);
        assert!(sent.iter().all(|(_, frame)| classify(frame) == Some(FrameClass::Stop)), "stops and nothing else");
        run.until(|_| Vec::new(), |_, _| false);
        let words: String = run.screen().split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(words.contains("Its guardian sent the stop") && words.contains("PULL THE BATTERY"), "{words}");
    });
}

#[test]
fn a_killed_program_over_a_pseudo_terminal() {
    killed(Over::Terminal, false);
}

#[test]
fn a_killed_program_over_tcp() {
    killed(Over::Tcp, false);
}

#[test]
fn a_killed_program_on_a_signed_link() {
    killed(Over::Terminal, true);
}

/// Stopped for so long, then it goes on.
fn stopped(over: Over, signed: bool, pause: Duration) {
    turning(over, signed, |mut run, spy| {
        let at = Instant::now();
        run.signal(Signal::STOP);
        let fires = pause > STOPPED;
        if fires {
            let first = spy.first_stop(at);
            assert!(first <= STOPPED, "{first:?}");
            stand_still(&mut run, at);
        }
        std::thread::sleep(pause.saturating_sub(at.elapsed()));
        let woken = Instant::now();
        run.signal(Signal::CONT);
        run.until(|_| Vec::new(), |_, _| woken.elapsed() > Duration::from_millis(700));
        run.board.line("flip B 0");
        let ended = run.end(|_| Vec::new());
        // What it had begun before it was stopped is not on the wire any more, whatever became of the run.
        for (_, frame) in spy.frames_since(woken) {
            let class = classify(&frame);
            assert!(
                matches!(class, Some(FrameClass::Stop | FrameClass::Looks | FrameClass::Heartbeat)),
                "{class:?} after it went on: {frame:?}"
            );
        }
        run.board.until(Board::rests);
        if fires {
            assert_eq!(ended.code, Some(4), "{}", ended.screen);
            let words: String = ended.screen.split_whitespace().collect::<Vec<_>>().join(" ");
            assert!(
                words.contains(
                    "This program stood still while motors could turn. Its guardian process took over the stop."
                ),
                "{words}"
            );
        }
    });
}

#[test]
fn a_program_that_was_stopped_for_a_moment() {
    stopped(Over::Terminal, false, Duration::from_millis(150));
}

#[test]
fn a_program_that_was_stopped_for_a_second() {
    stopped(Over::Tcp, true, Duration::from_secs(1));
}

#[test]
fn a_program_that_was_stopped_for_long() {
    stopped(Over::Terminal, false, Duration::from_secs(15));
}

/// Without its guardian nothing goes on turning.
#[test]
fn a_guardian_that_is_killed_or_stopped_stops_the_start() {
    for (signal, words) in [
        (Signal::KILL, "the guardian process of this program is gone"),
        (Signal::STOP, "the guardian process of this program did not answer"),
    ] {
        turning(Over::Terminal, false, |mut run, spy| {
            let guardian = guardian_of(&run.process_id()).expect("it has one");
            let at = Instant::now();
            kill_process(guardian, signal).unwrap();
            let first = spy.first_stop(at);
            assert!(first <= STOPPED, "{first:?}");
            stand_still(&mut run, at);
            run.board.line("flip B 0");
            let ended = run.end(|_| Vec::new());
            let _ = kill_process(guardian, Signal::KILL);
            assert_eq!(ended.code, Some(4), "{}", ended.screen);
            let screen: String = ended.screen.split_whitespace().collect::<Vec<_>>().join(" ");
            assert!(screen.contains(words), "{screen}");
        });
    }
}

/// A stop that nobody saw work, left by a second Ctrl-C: the program ends, and its guardian goes on for its time. Only
/// then does this board hear a stop.
#[test]
fn a_stop_that_is_left_unconfirmed_is_gone_on_with() {
    turning(Over::Terminal, false, |mut run, spy| {
        run.board.line("swallow 1000000");
        let began = Instant::now();
        run.type_now(b"\x03");
        run.until(|_| Vec::new(), |_, _| began.elapsed() > Duration::from_millis(3500));
        let left = Instant::now();
        run.type_now(b"\x03");
        let ended = run.end(|_| Vec::new());
        let over = Instant::now();
        assert_eq!(ended.code, Some(4), "{}", ended.screen);
        let words: String = ended.screen.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(words.contains("the guardian process goes on sending the stop for 3 s"), "{words}");
        assert!(words.contains("PULL THE BATTERY"), "{words}");
        assert!(run.board.turns(), "it turns no more: this shows nothing");
        run.board.line("swallow 0");
        stand_still(&mut run, over);
        std::thread::sleep((FIRES + Duration::from_millis(300)).saturating_sub(left.elapsed()));
        let sent = spy.frames_since(over);
        assert!(sent.iter().all(|(_, frame)| classify(frame) == Some(FrameClass::Stop)), "stops and nothing else");
        let last = sent.last().expect("none left").0;
        assert!(last - left + Duration::from_millis(500) >= FIRES, "it ended after {:?}", last - left);
        let late = spy.frames_since(left + FIRES + Duration::from_millis(100));
        assert!(late.is_empty(), "{late:?}");
    });
}

/// What ends or stops a program from its terminal does not reach it.
#[test]
fn signals_do_not_end_a_guardian() {
    turning(Over::Terminal, false, |mut run, spy| {
        let guardian = guardian_of(&run.process_id()).expect("it has one");
        for signal in [Signal::TERM, Signal::INT, Signal::HUP, Signal::QUIT, Signal::TSTP, Signal::TTOU, Signal::PIPE] {
            kill_process(guardian, signal).unwrap();
        }
        let at = Instant::now();
        run.signal(Signal::KILL);
        let first = spy.first_stop(at);
        assert!(first <= KILLED, "{first:?}");
        stand_still(&mut run, at);
        assert_eq!(run.end(willing).code, None);
    });
}

/// Nobody else starts one: without a program at its input it guards nothing.
#[test]
fn started_by_hand_it_ends() {
    let said = Sandbox::new().run(&["guardian"]);
    assert!(said.starts_with("exit code: 2\n") && said.contains("only a run starts a guardian"), "{said}");
    assert!(!Sandbox::new().run(&["--help"]).contains("guardian"));
}

/// Commands that only look start none.
#[test]
fn looking_has_no_guardian() {
    let sandbox = Sandbox::new();
    let board = Board::on_tcp();
    let mut looking = sandbox.command(&["snapshot", "--port", &board.port, "--records", "crafts"]).spawn().unwrap();
    let mut looks = 0;
    while looking.try_wait().unwrap().is_none() {
        assert_eq!(guardian_of(&looking.id().to_string()), None, "a guardian of a program that only looks");
        looks += 1;
        std::thread::sleep(Duration::from_millis(5));
    }
    assert!(looks > 10, "{looks} looks");
}
