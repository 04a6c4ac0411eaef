//! The strip below what is typed, as a terminal shows it: in its place, never scrolling, never in the way.
//!
//! The screen is compared as vt100 draws it, never bytes.

use super::kit::{Master, SOON, next, setup};
use quadjig::language::recipe::Switch;
use quadjig::language::units::Pulse;
use quadjig::report::screen::{Screen, Style};
use quadjig::seam::strip::{Now, Strip, TimeLeft};
use quadjig::seam::ui::{About, Question, Reply, Tone, UiEvent};
use quadjig::seam::{Effect, Event, Key, World};
use quadjig::world::real::{RealWorld, Setup};
use quadjig::world::terminal::Terminal;
use rustix::termios::{Winsize, tcsetwinsize};
use std::num::NonZero;
use std::path::Path;
use std::time::{Duration, Instant};

/// Somebody who looks at a screen.
struct Looks {
    terminal: Master,
    screen: vt100::Parser,
    world: RealWorld,
}

fn parser(columns: u16, rows: u16) -> vt100::Parser {
    vt100::Parser::new(NonZero::new(rows).unwrap(), NonZero::new(columns).unwrap(), 500)
}

impl Looks {
    fn new(columns: u16, rows: u16, style: Style) -> Self {
        let terminal = Master::new();
        let size = Winsize { ws_row: rows, ws_col: columns, ws_xpixel: 0, ws_ypixel: 0 };
        tcsetwinsize(terminal.slave(), size).unwrap();
        let terminals = Some(Terminal::from_file(terminal.slave()).unwrap());
        let setup = Setup { terminal: terminals, ..setup(Path::new("/nonexistent")) };
        let world = RealWorld::new(setup, Box::new(Screen::new(style))).unwrap();
        let mut looks = Self { terminal, screen: parser(columns, rows), world };
        // The reader of keys has learnt the size once it has looked at it.
        looks.wait(Duration::from_millis(250));
        looks
    }

    fn wait(&mut self, wait: Duration) {
        let until = Instant::now() + wait;
        while Instant::now() < until {
            self.screen.process(&self.terminal.read_for(Duration::from_millis(20)));
        }
    }

    fn rows(&self) -> Vec<String> {
        self.screen.screen().contents().lines().map(|row| row.trim_end().to_owned()).collect()
    }

    /// The rows once the last of them has this in it.
    fn sees_last(&mut self, what: &str) -> Vec<String> {
        let until = Instant::now() + SOON;
        loop {
            self.wait(Duration::from_millis(20));
            let rows = self.rows();
            if rows.iter().rfind(|row| !row.is_empty()).is_some_and(|row| row.contains(what)) {
                return rows;
            }
            assert!(Instant::now() < until, "{what:?} is not in the last row of\n{}", rows.join("\n"));
        }
    }

    fn resizes(&mut self, columns: u16, rows: u16) {
        tcsetwinsize(self.terminal.slave(), Winsize { ws_row: rows, ws_col: columns, ws_xpixel: 0, ws_ypixel: 0 })
            .unwrap();
        self.screen.screen_mut().set_size(NonZero::new(rows).unwrap(), NonZero::new(columns).unwrap());
        self.wait(Duration::from_millis(250));
    }

    fn strip(&mut self, pulse: i32) {
        self.world.act(strip(pulse));
    }
}

fn strip(pulse: i32) -> Effect {
    let (switch, position) = (Switch("B".to_owned()), u32::try_from(pulse / 500 - 2).ok());
    let now = vec![Now::Switch { switch, pulse: Some(Pulse(pulse)), position, asked: Some(2) }];
    let time = Some(TimeLeft { left: Duration::from_secs(30), whole: Duration::from_secs(60) });
    Effect::Show(UiEvent::Strip(Some(Strip { now, time })))
}

fn line(text: &str) -> Effect {
    Effect::Show(UiEvent::Line(Tone::Plain, text.to_owned()))
}

fn question() -> Effect {
    Effect::Ask(Box::new(Question {
        about: About::Props,
        craft: "Wren 95".to_owned(),
        is_virtual: false,
        title: "Are the propellers off?".to_owned(),
        lines: vec![],
        reply: Reply::Word("props off".to_owned()),
        before: None,
    }))
}

/// What does not fit on a small window is never answered unseen: that there is more above stands right above the prompt.
#[test]
fn a_question_taller_than_the_window_says_that_there_is_more_above() {
    for (rows, told) in [(10, true), (24, false)] {
        let mut looks = Looks::new(40, rows, Style::default());
        let Effect::Ask(mut question) = question() else { unreachable!() };
        question.lines = (1..=9).map(|line| format!("Line {line} of what is asked.")).collect();
        looks.world.act(Effect::Ask(question));
        let seen = looks.sees_last("┗━ >").join("\n");
        assert_eq!(seen.contains("MORE ABOVE: "), told, "{seen}");
    }
}

#[test]
fn it_stands_below_what_is_typed_and_the_cursor_in_that() {
    let mut looks = Looks::new(80, 24, Style::default());
    looks.world.act(question());
    looks.world.act(Effect::Echo("props".to_owned()));
    looks.strip(1000);
    let rows = looks.sees_last("B is at 0, 2 is asked, 1000 us");
    let typed = rows.iter().position(|row| row.ends_with("> props")).unwrap();
    assert!(rows[typed + 1].ends_with("30 s left [█████·····]"), "{}", rows.join("\n"));
    let (row, column) = looks.screen.screen().cursor_position();
    assert_eq!((usize::from(row), usize::from(column)), (typed, rows[typed].chars().count()));
    // What is typed on goes where it belongs.
    looks.world.act(Effect::Echo("props off".to_owned()));
    looks.strip(2000);
    let rows = looks.sees_last("B is at 2, 2000 us");
    assert!(rows.iter().any(|row| row.ends_with("> props off")), "{}", rows.join("\n"));
    looks.world.act(Effect::Asked(true));
    looks.world.act(Effect::Show(UiEvent::Strip(None)));
    looks.world.act(line("and on"));
    let rows = looks.sees_last("and on");
    assert!(!rows.iter().any(|row| row.contains("B is at")), "{}", rows.join("\n"));
}

/// What is to be typed and what was stay in sight in a window that has become narrow, and the cursor behind it.
#[test]
fn a_window_that_becomes_narrow_hides_neither_the_word_nor_what_is_typed() {
    let mut looks = Looks::new(80, 24, Style::default());
    looks.world.act(question());
    looks.world.act(Effect::Echo("props".to_owned()));
    looks.strip(1000);
    looks.sees_last("B is at 0");
    looks.resizes(40, 24);
    looks.world.act(Effect::Echo("props o".to_owned()));
    looks.strip(2000);
    let rows = looks.sees_last("B is at 2");
    let at = rows.iter().rposition(|row| row.contains("Type props off")).unwrap();
    let typed = rows[at..].join("").trim_end().to_owned();
    assert!(typed.contains("ends it > props o"), "{}", rows.join("\n"));
    let (row, column) = looks.screen.screen().cursor_position();
    assert!(rows[usize::from(row)][..usize::from(column)].ends_with("props o"), "{}", rows.join("\n"));
}

#[test]
fn it_never_scrolls_and_lines_go_above_it() {
    let mut looks = Looks::new(80, 12, Style::default());
    for number in 0..30 {
        looks.world.act(line(&format!("line {number}")));
    }
    looks.strip(1000);
    let before = looks.sees_last("B is at 0");
    for number in 0..200 {
        looks.strip(1000 + number % 9);
        looks.wait(Duration::from_millis(2));
    }
    looks.strip(1500);
    let after = looks.sees_last("B is at 1");
    assert_eq!(before[..before.len() - 1], after[..after.len() - 1], "nothing moved above it");
    looks.world.act(line("line 30"));
    let rows = looks.sees_last("B is at 1");
    assert!(rows[rows.len() - 2].ends_with("line 30"), "{}", rows.join("\n"));
    looks.screen.screen_mut().set_scrollback(500);
    let all = looks.screen.screen().contents();
    assert!(!all.contains("B is at"), "none of it went up the screen\n{all}");
}

#[test]
fn it_survives_another_size_and_is_whole_at_60_and_at_40_by_10() {
    for (columns, rows) in [(60, 20), (40, 10), (100, 30)] {
        let mut looks = Looks::new(80, 24, Style::default());
        looks.world.act(question());
        looks.world.act(Effect::Echo("props".to_owned()));
        looks.strip(1000);
        looks.sees_last("B is at 0");
        looks.resizes(columns, rows);
        looks.strip(1500);
        let seen = looks.sees_last("B is at 1, 2 is asked");
        assert!(seen.iter().any(|row| row.contains("> props")), "{}", seen.join("\n"));
        assert_eq!(seen.iter().filter(|row| row.contains("B is at 1")).count(), 1, "{}", seen.join("\n"));
        // What was printed before stays as it was; what is redrawn fits.
        let redrawn = seen.iter().filter(|row| row.contains("> props") || row.contains("B is at"));
        assert!(redrawn.into_iter().all(|row| row.chars().count() < usize::from(columns)), "{}", seen.join("\n"));
    }
}

#[test]
fn in_the_linear_style_a_change_is_a_line_every_two_seconds_at_most() {
    let mut looks = Looks::new(80, 24, Style { plain: true, ..Style::default() });
    let began = Instant::now();
    while began.elapsed() < Duration::from_secs(5) {
        let pulse = if began.elapsed().as_secs().is_multiple_of(2) { 1000 } else { 1500 };
        looks.strip(pulse);
        looks.wait(Duration::from_millis(50));
    }
    let rows = looks.rows();
    let said: Vec<&String> = rows.iter().filter(|row| row.contains("B is at")).collect();
    assert!((2..=3).contains(&said.len()), "{rows:?}");
    assert!(said.windows(2).all(|pair| pair[0] != pair[1]), "what did not change is not said again: {said:?}");
    assert!(!rows.iter().any(|row| row.contains('[') || row.contains("left")), "no bar, and no seconds: {rows:?}");
}

/// Law: who looks can be as slow as can be; a key still comes at once, and nothing piles up.
#[test]
fn a_frozen_screen_keeps_no_key_and_only_the_newest_is_drawn_once_it_thaws() {
    let mut looks = Looks::new(80, 24, Style::default());
    looks.world.act(line(&"word ".repeat(4000)));
    let began = Instant::now();
    for number in 0..20_000 {
        looks.world.act(strip(1000 + number % 1000));
    }
    looks.world.act(strip(2000));
    assert!(began.elapsed() < Duration::from_secs(4), "{:?}", began.elapsed());
    looks.terminal.write(b"s");
    let pressed = Instant::now();
    assert!(matches!(next(&mut looks.world), Event::Key(Key::Char('s'))));
    assert!(pressed.elapsed() < Duration::from_millis(500), "{:?}", pressed.elapsed());
    let rows = looks.sees_last("B is at 2, 2000 us");
    assert_eq!(rows.iter().filter(|row| row.contains("B is ")).count(), 1, "{}", rows.join("\n"));
}

#[test]
fn without_more_than_ascii_and_without_colour_it_is_the_same() {
    let mut looks = Looks::new(80, 24, Style { ascii: true, ..Style::default() });
    looks.world.act(question());
    looks.strip(1000);
    let rows = looks.sees_last("30 s left [#####.....]");
    assert!(rows.iter().any(|row| row.starts_with("  +-- Wren 95 ")), "{}", rows.join("\n"));
    assert!(rows.iter().all(|row| row.is_ascii()), "{}", rows.join("\n"));
}
