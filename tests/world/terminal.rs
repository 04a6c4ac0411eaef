//! A terminal on a pseudo-terminal: keys come at once, the screen is what a person sees, and all is as before at the end.

use super::kit::{Master, alone, next, world, world_at};
use quadjig::measure::time::Time;
use quadjig::seam::ui::{About, Question, Reply, Tone, UiEvent};
use quadjig::seam::{Effect, Event, Key, SystemSignal, World};
use rustix::termios::tcgetattr;
use std::num::NonZero;
use std::time::{Duration, Instant};

fn line(text: &str) -> Effect {
    Effect::Show(UiEvent::Line(Tone::Plain, text.to_owned()))
}

fn screen() -> vt100::Parser {
    vt100::Parser::new(NonZero::new(30).unwrap(), NonZero::new(80).unwrap(), 0)
}

fn question() -> Effect {
    Effect::Ask(Box::new(Question {
        about: About::Props,
        craft: "Wren 95".to_owned(),
        is_virtual: false,
        title: "Are the propellers off?".to_owned(),
        lines: vec![],
        reply: Reply::Word("off".to_owned()),
        before: None,
    }))
}

/// What stands on the screen once this text does.
fn screen_with(terminal: &mut Master, parser: &mut vt100::Parser, text: &str) -> String {
    let until = Instant::now() + super::kit::SOON;
    loop {
        parser.process(&terminal.read_for(Duration::from_millis(50)));
        let contents = parser.screen().contents();
        if contents.contains(text) {
            return contents;
        }
        assert!(Instant::now() < until, "{text:?} is not on\n{contents}");
    }
}

#[test]
fn keys_pastes_and_control_keys_come_as_they_are() {
    let mut terminal = Master::new();
    let mut world = world_at(&terminal);
    terminal.write(b"a\r\x03\x1b[200~yes\x1b[201~\x1a\t");
    assert!(matches!(next(&mut world), Event::Key(Key::Char('a'))));
    assert!(matches!(next(&mut world), Event::Key(Key::Enter)));
    assert!(matches!(next(&mut world), Event::Key(Key::Interrupt)));
    assert!(matches!(next(&mut world), Event::Paste));
    // A paste that is read in pieces is told again with each, where the one before was taken already.
    let after = std::iter::repeat_with(|| next(&mut world)).find(|event| !matches!(event, Event::Paste));
    assert!(matches!(after, Some(Event::Signal(SystemSignal::TerminalStop))));
    assert!(matches!(next(&mut world), Event::Key(Key::Other)), "Tab is a key like others on a real wire");
    terminal.write(b"\x1b");
    assert!(matches!(next(&mut world), Event::Key(Key::Escape)));
}

#[test]
fn a_terminal_that_closes_is_the_end_of_input_once() {
    let terminal = Master::new();
    let mut world = world_at(&terminal);
    drop(terminal);
    assert!(matches!(next(&mut world), Event::EndOfInput));
    let now = world.next(Time(0)).0;
    assert!(matches!(world.next(now + Duration::from_millis(300)).1, Event::Tick));
}

#[test]
fn without_a_terminal_every_question_meets_the_end_of_input() {
    let mut world = world();
    world.act(question());
    assert!(matches!(next(&mut world), Event::EndOfInput));
}

#[test]
fn nothing_prints_while_a_question_is_open() {
    let mut terminal = Master::new();
    let mut world = world_at(&terminal);
    let mut parser = screen();
    world.act(line("before"));
    world.act(question());
    world.act(line("held back"));
    world.act(Effect::Echo("of".to_owned()));
    let open = screen_with(&mut terminal, &mut parser, "> of");
    assert!(open.contains("before") && !open.contains("held back"), "{open}");
    world.act(Effect::Echo("off\u{1b}".to_owned()));
    world.act(Effect::Asked(true));
    let closed = screen_with(&mut terminal, &mut parser, "held back");
    assert!(closed.contains("> off\\u{1b}\n") && closed.find("> off") < closed.find("held back"), "{closed}");
    assert_eq!(closed.matches("> of").count(), 1, "the answer is redrawn in its place\n{closed}");
}

#[test]
fn the_large_words_are_not_held_back() {
    let mut terminal = Master::new();
    let mut world = world_at(&terminal);
    let mut parser = screen();
    world.act(question());
    world.act(Effect::Show(UiEvent::PullTheBattery));
    screen_with(&mut terminal, &mut parser, "SWITCH OFF. PULL THE BATTERY. Keep hands clear of the motors.");
}

#[test]
fn a_passing_line_replaces_the_one_before_it() {
    let mut terminal = Master::new();
    let mut world = world_at(&terminal);
    let mut parser = screen();
    for volts in ["4.10 V", "4.09 V", "4.08 V"] {
        world.act(Effect::Show(UiEvent::Passing(volts.to_owned())));
    }
    let contents = screen_with(&mut terminal, &mut parser, "4.08 V");
    assert!(!contents.contains("4.10") && !contents.contains("4.09"), "{contents}");
    world.act(line("done"));
    let contents = screen_with(&mut terminal, &mut parser, "done");
    assert!(!contents.contains("4.08"), "{contents}");
}

/// Nobody reads the screen: the core goes on, and a key still comes at once.
#[test]
fn a_frozen_screen_freezes_nothing() {
    let mut terminal = Master::new();
    let mut world = world_at(&terminal);
    let long = "word ".repeat(400);
    let began = Instant::now();
    for _ in 0..200 {
        world.act(line(&long));
    }
    assert!(began.elapsed() < Duration::from_secs(2), "{:?}", began.elapsed());
    terminal.write(b"s");
    assert!(matches!(next(&mut world), Event::Key(Key::Char('s'))));
    let ending = Instant::now();
    drop(world);
    assert!(ending.elapsed() < Duration::from_secs(3), "{:?}", ending.elapsed());
}

#[test]
fn the_terminal_is_as_it_was() {
    let terminal = Master::new();
    let slave = terminal.slave();
    let before = tcgetattr(&slave).unwrap();
    let world = world_at(&terminal);
    assert_ne!(tcgetattr(&slave).unwrap().local_modes, before.local_modes);
    drop(world);
    let after = tcgetattr(&slave).unwrap();
    assert_eq!((after.local_modes, after.input_modes), (before.local_modes, before.input_modes));
}

/// In a process of its own: every world of a process hears its signals.
#[test]
fn signals_are_events_and_end_nothing() {
    alone("world::terminal::hears_signals");
}

#[test]
#[ignore = "run by the test above, in a process of its own"]
fn hears_signals() {
    use rustix::process::{Signal, getpid, kill_process};
    let mut world = world();
    let signals = [
        (Signal::TERM, SystemSignal::Terminate),
        (Signal::TERM, SystemSignal::Terminate),
        (Signal::INT, SystemSignal::Interrupt),
        (Signal::HUP, SystemSignal::HangUp),
        (Signal::QUIT, SystemSignal::Quit),
        (Signal::TSTP, SystemSignal::TerminalStop),
    ];
    for (signal, heard) in signals {
        kill_process(getpid(), signal).unwrap();
        assert!(matches!(next(&mut world), Event::Signal(came) if came == heard), "{heard:?}");
    }
}
