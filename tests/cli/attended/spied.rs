//! The real program with a spy on its wire: how soon a stop leaves whatever happens to the program, and that another
//! craft at the end of the same wire gets none.

use super::super::Sandbox;
use super::super::desk::board::Board;
use super::super::desk::seen::{Asked, Reply, Seen};
use super::super::desk::{Attended, Deed, willing};
use super::{CUT, run_arguments};
use crate::spy::{Class, Craft, Kept, Proxy};
use rustix::process::Signal;
use std::cell::RefCell;
use std::time::{Duration, Instant};

/// A key and a signal within 20 ms (`interlock.md`, law 2); the rest is what a machine adds that runs all tests at once.
const AT_ONCE: Duration = Duration::from_millis(20 + 60);
/// A kill within 50 ms.
const KILLED: Duration = Duration::from_millis(50 + 60);
/// A process that is stopped or hangs within 250 ms.
const HUNG: Duration = Duration::from_millis(250 + 60);
/// Longer than any of these is never.
const NEVER: Duration = Duration::from_secs(3);
/// Switches are worked with the battery out, says whoever types.
const FIND: &str = "recipe \"Wren 95, switches\"\nedition 1\ncraft quad x\nboard \"Finch\"\n\
                    require battery out\nfind switch B with 3 positions\n";

/// A board on TCP on which [`CUT`] has nothing to write, with the battery in.
fn ready(more: &[&str]) -> Board {
    let mut board = Board::on_tcp_with(more);
    for setting in ["ARM_CHANNEL 6", "ARM_FROM 1754", "ARM_TO 2146", "SPIN_AT_ZERO 1", "IDLE_US 1150"] {
        board.line(&format!("set {setting}"));
    }
    board.line("battery in");
    board
}

/// Once motors turn, something happens to the program; how long until a stop was read on the wire.
fn stop_after(terminal: bool, happens: impl FnOnce(&mut Attended<'_>)) -> Option<Duration> {
    let sandbox = Sandbox::new();
    sandbox.write("cut.jig", CUT);
    let mut board = ready(&[]);
    let proxy = if terminal { Proxy::on_a_terminal(&[&board]) } else { Proxy::on_tcp(&[&board]) };
    let mut run = Attended::start(&sandbox, &mut board, &run_arguments("cut.jig", &proxy.port));
    assert!(run.until(willing, |_, board| board.turns()), "no motor turned:\n{}", run.screen());
    let from = Instant::now();
    happens(&mut run);
    proxy.stop_after(from, NEVER)
}

#[track_caller]
fn within(bound: Duration, took: Option<Duration>) {
    assert!(took.is_some_and(|took| took <= bound), "a stop left after {took:?}, {bound:?} allowed");
}

#[test]
fn a_key_has_a_stop_leave() {
    within(AT_ONCE, stop_after(true, |run| run.type_now(b" ")));
}

#[test]
fn control_c_has_a_stop_leave_over_tcp() {
    within(AT_ONCE, stop_after(false, |run| run.type_now(b"\x03")));
}

/// On the line of the prompt, with everything at rest and the battery in; the session goes on, and leaving ends it.
#[test]
fn control_c_on_the_line_of_the_prompt_has_a_stop_leave() {
    let sandbox = Sandbox::new();
    let mut board = ready(&[]);
    let proxy = Proxy::on_a_terminal(&[&board]);
    let arguments = ["bench", "--port", &proxy.port, "--records", "crafts", "--title", "Wren 95"];
    let mut run = Attended::start(&sandbox, &mut board, &arguments);
    let prompt = "Wren 95 VIRTUAL>";
    assert!(run.until(willing, |screen, _| screen.contains(prompt)), "{}", run.screen());
    run.type_now(b"look");
    assert!(run.until(willing, |screen, _| screen.contains("VIRTUAL> look")), "{}", run.screen());
    let from = Instant::now();
    run.type_now(b"\x03");
    within(AT_ONCE, proxy.stop_after(from, NEVER));
    let goes_on = |screen: &str, _: &mut Board| screen.contains("Wren 95 VIRTUAL, writes nothing>");
    assert!(run.until(willing, goes_on), "{}", run.screen());
    std::thread::sleep(Duration::from_millis(400));
    run.type_now(b"leave\r");
    let ended = run.end(willing);
    assert!(ended.screen.contains("every motor was seen at rest for 1 s"), "{}", ended.screen);
    assert!(ended.screen.contains("Ctrl-C was pressed"), "{}", ended.screen);
    let forced = proxy.kept(|kept| kept.class == Class::ForcedStop);
    assert!(forced.is_empty(), "{forced:?}");
}

#[test]
fn being_told_to_end_has_a_stop_leave() {
    within(AT_ONCE, stop_after(true, |run| run.signal(Signal::TERM)));
}

#[test]
fn a_hang_up_has_a_stop_leave() {
    within(AT_ONCE, stop_after(true, |run| run.signal(Signal::HUP)));
}

#[test]
fn a_closed_terminal_has_a_stop_leave() {
    within(
        AT_ONCE,
        stop_after(true, |run| {
            run.close_terminal();
        }),
    );
}

#[test]
fn a_kill_has_a_stop_leave() {
    within(KILLED, stop_after(true, |run| run.signal(Signal::KILL)));
}

#[test]
fn a_kill_has_a_stop_leave_over_tcp() {
    within(KILLED, stop_after(false, |run| run.signal(Signal::KILL)));
}

#[test]
fn a_stopped_process_has_a_stop_leave() {
    within(HUNG, stop_after(true, |run| run.signal(Signal::STOP)));
}

/// The first craft falls silent while its motors turn; then another one, armed by its own pilot, is on the wire.
#[test]
fn another_craft_that_is_heard_after_the_silence_gets_no_stop() {
    let sandbox = Sandbox::new();
    sandbox.write("cut.jig", CUT);
    let (mut board, mut other) = (ready(&[]), ready(&["--seed", "11"]));
    other.line("props on");
    other.line("flip B 2");
    other.until(|other| other.truth()["armed"] == true);
    let proxy = Proxy::on_a_terminal(&[&board, &other]);
    let mut run = Attended::start(&sandbox, &mut board, &run_arguments("cut.jig", &proxy.port));
    assert!(run.until(willing, |_, board| board.turns()), "no motor turned:\n{}", run.screen());
    proxy.silence(true);
    let began = Instant::now();
    run.until(|_| Vec::new(), |_, _| began.elapsed() > Duration::from_millis(1500));
    proxy.swap();
    proxy.silence(false);
    run.until(|_| Vec::new(), |_, _| began.elapsed() > Duration::from_secs(5));
    // The kernel, the program and the spy have bytes under way as the first frame goes out.
    let first = proxy.first_of_b().expect("the other craft was heard") + Duration::from_millis(150);
    let stops = proxy.kept(|kept: &Kept| kept.to == Craft::B && kept.at > first && kept.class.stops());
    let armed = other.truth()["armed"] == true;
    // Into the silence a stop may leave (`interlock.md`, 2), and one that was under way as it ended disarms whoever is there.
    let under_way = !proxy.kept(|kept: &Kept| kept.to == Craft::B && kept.at <= first && kept.class.stops()).is_empty();
    assert!(
        stops.is_empty() && (armed || under_way),
        "{} stops reached it, the last {:?} after its first frame; still armed: {armed}\n{}",
        stops.len(),
        stops.last().map(|stop| stop.at - first),
        run.screen()
    );
}

/// At the question for a motor run by command the first craft falls silent; then another one, propellers on, is on the wire that
/// never closed. The word that is typed then runs nothing of its.
#[test]
fn the_word_of_a_motor_question_runs_nothing_on_a_craft_that_came_meanwhile() {
    let sandbox = Sandbox::new();
    let (head, _) = CUT.split_once("test cut").unwrap();
    sandbox.write("motors.jig", &format!("{head}test motors\n"));
    let (mut board, mut other) = (ready(&[]), ready(&["--seed", "11"]));
    other.line("props on");
    let proxy = Proxy::on_a_terminal(&[&board, &other]);
    let mut run = Attended::start(&sandbox, &mut board, &run_arguments("motors.jig", &proxy.port));
    let asked = RefCell::new(None);
    let person = |seen: &Seen| match seen {
        Seen::Asked(Asked { title, reply: Reply::Word(_), .. }) if title.contains("Motors will turn") => {
            *asked.borrow_mut() = Some(willing(seen));
            Vec::new()
        }
        seen => willing(seen),
    };
    assert!(run.until(person, |_, _| asked.borrow().is_some()), "no motor question:\n{}", run.screen());
    proxy.silence(true);
    let began = Instant::now();
    run.until(|_| Vec::new(), |_, _| began.elapsed() > Duration::from_millis(1500));
    proxy.swap();
    proxy.silence(false);
    for (after, deed) in asked.take().unwrap() {
        run.until(|_| Vec::new(), |_, _| began.elapsed() > Duration::from_millis(1500) + after);
        if let Deed::Type(keys) = deed {
            run.type_now(&keys);
        }
    }
    let ended = run.end(willing);
    assert!(proxy.first_of_b().is_some() && ended.code != Some(0), "{}", ended.screen);
    let acted = proxy.kept(|kept: &Kept| kept.to == Craft::B && kept.class.acts());
    assert!(acted.is_empty(), "{acted:?}\n{}", ended.screen);
}

/// Another hand opens a page of a console right before the stop comes to it: an open page takes no line but its answer.
#[test]
fn a_stop_throws_an_open_page_away_before_it_disarms() {
    let sandbox = Sandbox::new();
    sandbox.write("cut.jig", &CUT.replace("board \"Finch\"", "board \"Finch C\""));
    let mut board = Board::on_tcp_as("finch-c");
    for setting in ["ROW1_FUNC 1", "ROW1_CHANNEL 6", "ROW1_FROM 1754", "ROW1_TO 2146", "SPIN_AT_ZERO 1", "IDLE_US 1150"]
    {
        board.line(&format!("set {setting}"));
    }
    board.line("battery in");
    let proxy = Proxy::on_a_terminal(&[&board]);
    let mut run = Attended::start(&sandbox, &mut board, &run_arguments("cut.jig", &proxy.port));
    assert!(run.until(willing, |_, board| board.turns()), "no motor turned:\n{}", run.screen());
    proxy.types_before(b"list\r", b"rest\r");
    run.type_now(b" ");
    let began = Instant::now();
    run.board.until(|board| !board.drives());
    assert!(began.elapsed() < Duration::from_millis(500), "{:?}", began.elapsed());
    assert!(proxy.has_typed(), "no page was open as the stop came");
    run.board.until(Board::rests);
    run.board.line("flip B 0");
    let ended = run.end(|_| Vec::new());
    assert!(ended.screen.contains("sent to the board: a key was pressed"), "{}", ended.screen);
}

/// No sensor, the battery in, `battery out` typed all the same, and arm bound to the very switch that is worked.
#[test]
fn after_a_false_word_a_key_has_a_stop_leave() {
    let sandbox = Sandbox::new();
    sandbox.write("find.jig", FIND);
    let mut board = ready(&[]);
    board.line("sensor off");
    board.line("speeds off");
    let proxy = Proxy::on_a_terminal(&[&board]);
    let mut run = Attended::start(&sandbox, &mut board, &run_arguments("find.jig", &proxy.port));
    // The hand goes to position 2 and stays there.
    let person = |seen: &Seen| match seen {
        Seen::Invited(sentence) if sentence.starts_with("Work switch B") => {
            vec![(Duration::from_millis(400), Deed::World("flip B 2".to_owned()))]
        }
        seen => willing(seen),
    };
    assert!(run.until(person, |_, board| board.turns()), "no motor turned:\n{}", run.screen());
    let from = Instant::now();
    run.type_now(b" ");
    within(AT_ONCE, proxy.stop_after(from, NEVER));
}
