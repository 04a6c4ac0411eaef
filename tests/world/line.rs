//! The typed line at a terminal: what a person sees while typing, and what comes of each key.
//!
//! The screen is compared, as vt100 draws it, never bytes.

use super::kit::{Master, next, setup, world_at};
use quadjig::language::known::Known;
use quadjig::report::screen::{Screen, Style};
use quadjig::seam::ui::{About, Question, Reply, Tone, UiEvent};
use quadjig::seam::{Effect, Event, Key, LineAsked, LineRead, SystemSignal, World};
use quadjig::world::real::{RealWorld, Setup};
use quadjig::world::terminal::Terminal;
use rustix::termios::{LocalModes, Winsize, tcgetattr, tcsetwinsize};
use std::num::NonZero;
use std::path::Path;
use std::time::{Duration, Instant};

/// Where the screen's own lines begin.
const INDENT: &str = "             ";

/// A person at a terminal, who reads the screen.
struct Person {
    terminal: Master,
    screen: vt100::Parser,
    world: RealWorld,
}

fn without_hint(screen: &str) -> &str {
    match screen.rsplit_once('\n') {
        Some((above, last)) if last.starts_with("  ") && !last.trim_start().starts_with('|') => above,
        _ => screen,
    }
}

impl Person {
    fn sits(columns: u16, style: Style, history: Option<&Path>) -> Self {
        let terminal = Master::new();
        let rows = 24;
        let size = Winsize { ws_row: rows, ws_col: columns, ws_xpixel: 0, ws_ypixel: 0 };
        tcsetwinsize(terminal.slave(), size).unwrap();
        let setup = Setup {
            terminal: Some(Terminal::from_file(terminal.slave()).unwrap()),
            history: history.map(Path::to_owned),
            ..setup(Path::new("/nonexistent"))
        };
        let world = RealWorld::new(setup, Box::new(Screen::new(style))).unwrap();
        let screen = vt100::Parser::new(NonZero::new(rows).unwrap(), NonZero::new(columns).unwrap(), 0);
        let mut person = Self { terminal, screen, world };
        person.asked();
        person
    }

    fn new() -> Self {
        Self::sits(60, Style::default(), None)
    }

    fn asked(&mut self) {
        let known = Known { functions: vec!["arm".to_owned()], ..Known::default() };
        self.world.act(Effect::ReadLine(Box::new(LineAsked {
            prompt: "wren> ".to_owned(),
            typed: String::new(),
            known,
        })));
    }

    fn types(&mut self, keys: &str) {
        self.terminal.write(keys.as_bytes());
    }

    /// The screen without blank rows at its end, once it is as the test says.
    fn sees(&mut self, what: impl Fn(&str) -> bool) -> String {
        let until = Instant::now() + super::kit::SOON;
        loop {
            self.screen.process(&self.terminal.read_for(Duration::from_millis(20)));
            // What is shown is indented; a line that is typed begins at the margin or has its blanks within.
            let row = |row: &str| row.strip_prefix(INDENT).unwrap_or(row).trim_end().to_owned();
            let rows: Vec<String> = self.screen.screen().contents().lines().map(row).collect();
            let contents = rows.join("\n").trim_end().to_owned();
            if what(&contents) {
                return contents;
            }
            assert!(Instant::now() < until, "the screen is\n{contents}");
        }
    }

    /// The screen, a hint under the line left out.
    fn sees_exactly(&mut self, text: &str) {
        self.sees(|screen| without_hint(screen) == text.trim_end());
    }

    fn cursor_is(&mut self, place: (u16, u16)) {
        let until = Instant::now() + super::kit::SOON;
        while self.screen.screen().cursor_position() != place {
            assert!(Instant::now() < until, "the cursor is at {:?}", self.screen.screen().cursor_position());
            self.screen.process(&self.terminal.read_for(Duration::from_millis(20)));
        }
    }

    fn line(&mut self) -> LineRead {
        match next(&mut self.world) {
            Event::Line(read) => read,
            other => panic!("{other:?}"),
        }
    }

    fn typed(&mut self) -> String {
        match self.line() {
            LineRead::Typed(text) => text,
            other => panic!("{other:?}"),
        }
    }

    fn says(&mut self, text: &str) {
        self.world.act(Effect::Show(UiEvent::Line(Tone::Plain, text.to_owned())));
    }
}

#[test]
fn a_line_is_typed_edited_and_read() {
    let mut person = Person::new();
    person.types("idle att 1120");
    person.sees_exactly("wren> idle att 1120");
    // Back over ` 1120`, the second `t` away, to the end.
    person.types("\x1b[D\x1b[D\x1b[D\x1b[D\x1b[D\x7f");
    person.sees_exactly("wren> idle at 1120");
    person.cursor_is((0, 13));
    person.types("\x05 us\x01x\x7f");
    person.sees_exactly("wren> idle at 1120 us");
    person.types("\r");
    assert_eq!(person.typed(), "idle at 1120 us");
    person.says("so be it");
    person.sees_exactly("wren> idle at 1120 us\nso be it");
}

#[test]
fn words_are_cut_put_back_and_taken_back() {
    let mut person = Person::new();
    person.types("unbind lights\x17\x17");
    person.sees_exactly("wren>");
    person.types("\x19");
    person.sees_exactly("wren> unbind");
    person.types("\x1f");
    person.sees_exactly("wren>");
    person.types("\x1f");
    person.sees_exactly("wren> unbind");
    person.types("\x1f");
    person.sees_exactly("wren> unbind lights");
    person.types("\x1bb\x0b\r");
    assert_eq!(person.typed(), "unbind ");
}

#[test]
fn ctrl_c_throws_a_line_away_and_ctrl_d_leaves_only_an_empty_one() {
    let mut person = Person::new();
    person.types("keep\x04\x04");
    person.sees_exactly("wren> keep");
    person.types("\x03");
    assert_eq!(person.line(), LineRead::Abandoned);
    person.asked();
    person.sees_exactly("wren> keep\nwren>");
    person.types("\x04");
    assert_eq!(person.line(), LineRead::End);
}

#[test]
fn signals_reach_the_core_while_a_line_is_open() {
    let mut person = Person::new();
    person.types("ke\x1a\x1c");
    assert!(matches!(next(&mut person.world), Event::Signal(SystemSignal::TerminalStop)));
    assert!(matches!(next(&mut person.world), Event::Signal(SystemSignal::Quit)));
    person.types("ep\r");
    assert_eq!(person.typed(), "keep");
}

#[test]
fn what_is_shown_stands_above_the_line_whatever_is_done_in_it() {
    let mut person = Person::new();
    person.types("idle at 1120\x1b[D\x1b[D");
    person.sees_exactly("wren> idle at 1120");
    person.says("the board says something");
    person.sees_exactly("the board says something\nwren> idle at 1120");
    person.cursor_is((1, 16));
    person.world.act(Effect::Show(UiEvent::Passing("4.10 V".to_owned())));
    // Nothing may wait for a key, not even in the middle of a search.
    person.types("\x12");
    person.sees(|screen| screen.contains("typed before"));
    person.world.act(Effect::Show(UiEvent::PullTheBattery));
    let seen = person.sees(|screen| screen.contains("PULL THE BATTERY"));
    assert!(!seen.contains("4.10 V"), "{seen}");
    person.types("\x1b");
    let seen = person.sees(|screen| screen.lines().last() == Some("wren> idle at 1120"));
    assert!(seen.contains("PULL THE BATTERY"), "{seen}");
    person.types("\x05 us\r");
    assert_eq!(person.typed(), "idle at 1120 us");
}

#[test]
fn a_long_line_fits_a_narrow_terminal_and_one_that_changes() {
    let mut person = Person::sits(20, Style::default(), None);
    person.types("idle start at 1100 step 25 until all spin");
    person.sees_exactly("wren> idle start at\n 1100 step 25 until\n all spin");
    person.says("ok");
    person.sees_exactly("ok\nwren> idle start at\n 1100 step 25 until\n all spin");
    person.types("\x01");
    person.sees(|_| true);
    person.says("again");
    person.sees_exactly("ok\nagain\nwren> idle start at\n 1100 step 25 until\n all spin");
    person.cursor_is((2, 6));
    let size = Winsize { ws_row: 24, ws_col: 40, ws_xpixel: 0, ws_ypixel: 0 };
    tcsetwinsize(person.terminal.slave(), size).unwrap();
    person.screen.screen_mut().set_size(NonZero::new(24).unwrap(), NonZero::new(40).unwrap());
    person.sees(|screen| screen.ends_with("wren> idle start at 1100 step 25 until\nall spin"));
    person.types("\r");
    assert_eq!(person.typed(), "idle start at 1100 step 25 until all spin");
    person.sees_exactly("ok\nagain\nwren> idle start at 1100 step 25 until\nall spin");
    person.asked();
    // More than the screen holds: what is around the cursor is seen, and at the end all of it is written.
    let long: Vec<String> = (10..60).map(|number| format!("channel {number},")).collect();
    person.types(&format!("\x1b[200~{}\x1b[201~", long.join("\r")));
    let seen = person.sees(|screen| screen.ends_with("| channel 59,"));
    assert_eq!(seen.lines().count(), 24, "{seen}");
    assert!(!seen.contains("again"), "{seen}");
    person.types(&"\x1b[A".repeat(49));
    person.sees(|screen| screen.starts_with("wren> channel 10,") && screen.ends_with("| channel 33,"));
    person.cursor_is((0, 17));
    person.types("\x03");
    assert_eq!(person.line(), LineRead::Abandoned);
    person.says("gone");
    person.sees(|screen| screen.ends_with("| channel 59,\ngone"));
}

#[test]
fn a_comma_at_the_end_goes_on_in_the_next_line() {
    let mut person = Person::new();
    person.types("channels roll, pitch, # the sticks\rthrottle, yaw\r");
    assert_eq!(person.typed(), "channels roll, pitch, # the sticks\nthrottle, yaw");
    person.sees_exactly("wren> channels roll, pitch, # the sticks\n    | throttle, yaw");
    person.asked();
    person.types("note \"a,\"\r");
    assert_eq!(person.typed(), "note \"a,\"", "a comma inside a string ends no line");
    person.asked();
    person.types("keep,\r");
    person.sees(|screen| screen.ends_with("wren> keep,\n    |"));
    person.types("\r");
    assert_eq!(person.typed(), "keep,\n", "an empty line ends it all the same");
}

#[test]
fn a_paste_is_one_piece_of_text_and_ends_no_line() {
    let mut person = Person::new();
    person.types("\x1b[200~bind arm to\tswitch B\u{202e} position 2\r\x1b[201~");
    person.sees_exactly("wren> bind arm to switch B position 2");
    person.types("\r");
    assert_eq!(person.typed(), "bind arm to switch B position 2");
}

#[test]
fn what_was_typed_behind_a_line_answers_nothing_but_ctrl_c_counts() {
    let mut person = Person::new();
    person.types("keep\ryes\x03\r");
    assert_eq!(person.typed(), "keep");
    assert!(matches!(next(&mut person.world), Event::Key(Key::Interrupt)));
    person.asked();
    person.sees_exactly("wren> keep\nwren>");
}

#[test]
fn lines_come_back_over_sessions() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("state/quadjig/typed-lines");
    let mut first = Person::sits(60, Style::default(), Some(&file));
    for line in ["idle at 1120", "test buzzer", "test buzzer", " set \"SECRET\" to 1", "keep"] {
        first.types(&format!("{line} \r"));
        assert_eq!(first.typed(), format!("{line} "));
        first.asked();
    }
    drop(first);
    assert_eq!(std::fs::metadata(&file).unwrap().permissions().mode() & 0o777, 0o600);
    let kept = std::fs::read_to_string(&file).unwrap();
    assert_eq!(kept.lines().skip(1).collect::<Vec<_>>(), ["idle at 1120", "test buzzer", "keep"]);

    let mut second = Person::sits(60, Style::default(), Some(&file));
    second.types("half\x1b[A\x1b[A");
    second.sees_exactly("wren> test buzzer");
    second.types("\x1b[B\x1b[B");
    second.sees_exactly("wren> half");
    second.types("\x12idle");
    second.sees(|screen| screen.starts_with("typed before with \"idle\"> idle at 1120\n"));
    // Taken first, then looked at, then sent.
    second.types("\r");
    second.sees_exactly("wren> idle at 1120");
    second.types("\r");
    assert_eq!(second.typed(), "idle at 1120");
    second.asked();
    second.types("\x12buz\x12");
    second.sees(|screen| screen.contains("test buzzer"));
    second.types("zz");
    second.sees(|screen| screen.contains("there is none"));
    second.types("\x1b");
    second.sees(|screen| screen.ends_with("\nwren>"));
}

#[test]
fn a_history_that_cannot_be_had_is_told_once() {
    let folder = tempfile::tempdir().unwrap();
    let mut person = Person::sits(100, Style::default(), Some(folder.path()));
    let seen = person.sees(|screen| screen.ends_with("wren>"));
    assert!(seen.contains("the lines typed before could not be read"), "{seen}");
    person.types("keep\r");
    assert_eq!(person.typed(), "keep");
    person.asked();
    person.types("\x1b[A");
    let seen = person.sees(|screen| screen.ends_with("wren> keep\nwren> keep"));
    assert_eq!(seen.matches("could not be").count(), 1, "{seen}");
    // A file where the folder should be: written, it fails, and that is told before the next line.
    let blocked = folder.path().join("blocked");
    std::fs::write(&blocked, "").unwrap();
    let mut person = Person::sits(100, Style::default(), Some(&blocked.join("typed-lines")));
    let seen = person.sees(|screen| screen.ends_with("wren>"));
    assert!(seen.contains("could not be read"), "{seen}");
}

/// Somebody else wrote the file: what would not show as it is never comes back.
#[test]
fn no_hidden_character_comes_out_of_the_history() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("typed-lines");
    std::fs::write(&file, "#V2\nkeep\nnote \"\u{1b}[2J\"\nnote \"\u{202e}\"\n").unwrap();
    let mut person = Person::sits(60, Style::default(), Some(&file));
    person.types("\x1b[A");
    person.sees_exactly("wren> keep");
    person.types("\x15\x12note");
    person.sees(|screen| screen.contains("there is none"));
}

#[test]
fn tab_completes_words_lists_several_and_finds_files() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("wren 95.jig"), "").unwrap();
    std::fs::create_dir(folder.path().join("old")).unwrap();
    let mut person = Person::sits(120, Style::default(), None);
    person.types("loo\t");
    person.sees(|screen| screen.starts_with("wren> look"));
    person.types("s\t");
    let seen = person.sees(|screen| screen.contains("  switches  "));
    assert!(seen.starts_with("wren> look s\n  settings  "), "{seen}");
    person.types("w\t");
    person.sees_exactly("wren> look switches");
    person.types(&format!("\x15write {}/wr\t", folder.path().display()));
    person.sees(|screen| screen.ends_with("/wren 95.jig"));
    person.types(&format!("\x15write {}/o\t", folder.path().display()));
    person.sees(|screen| screen.ends_with("/old/"));
}

/// A hint stands below, where it can't be taken for typed; what is typed goes with it, and it leaves with the line.
#[test]
fn a_hint_stands_under_the_line() {
    let mut person = Person::sits(60, Style { colour: true, ..Style::default() }, None);
    person.types("idle start at 1100 ");
    let long = "  step PULSE (by hand | until all spin) [at most PULSE] [fo";
    person.sees(|screen| screen == format!("wren> idle start at 1100\n{}", long[..59].trim_end()));
    let colour = person.screen.screen().cell(1, 5).unwrap().fgcolor();
    assert_eq!(colour, vt100::Color::Idx(243), "it stands back where there is colour");
    person.cursor_is((0, 25));
    person.types("step 25\x1b[D");
    person.sees(|screen| screen == "wren> idle start at 1100 step 25");
    person.types("\x05 until\t");
    person.sees(|screen| screen.starts_with("wren> idle start at 1100 step 25 until\n  all spin"));
    person.types("\r");
    assert_eq!(person.typed(), "idle start at 1100 step 25 until ");
    person.sees(|screen| screen == "wren> idle start at 1100 step 25 until");

    let mut person = Person::sits(60, Style::default(), None);
    person.types("bind ");
    person.sees(|screen| screen == "wren> bind\n  FUNCTION to switch SWITCH positions POSITION, …");
    assert!(!person.screen.screen().cell(1, 5).unwrap().dim());
    person.types("\t\t");
    person.sees(|screen| screen == "wren> bind arm to\n  switch SWITCH positions POSITION, …");
}

/// A key of a question never lands in a line, even if the core asks while one is open.
#[test]
fn a_question_throws_an_open_line_away() {
    let mut person = Person::new();
    person.types("kee");
    person.sees_exactly("wren> kee");
    person.world.act(Effect::Ask(Box::new(Question {
        about: About::Props,
        craft: "Wren 95".to_owned(),
        is_virtual: false,
        title: "Are the propellers off?".to_owned(),
        lines: vec![],
        reply: Reply::Word("off".to_owned()),
        before: None,
    })));
    assert_eq!(person.line(), LineRead::Abandoned);
    person.types("o");
    assert!(matches!(next(&mut person.world), Event::Key(Key::Char('o'))));
}

#[test]
fn a_terminal_that_closes_with_a_line_open_is_the_end_of_input() {
    for plain in [false, true] {
        let style = Style { plain, ..Style::default() };
        let Person { terminal, mut world, .. } = Person::sits(60, style, None);
        drop(terminal);
        assert!(matches!(next(&mut world), Event::EndOfInput), "plain: {plain}");
    }
}

#[test]
fn the_terminal_is_as_it_was_although_a_line_is_open() {
    for plain in [false, true] {
        let terminal = Master::new();
        let slave = terminal.slave();
        let before = tcgetattr(&slave).unwrap();
        let setup = Setup {
            terminal: Some(Terminal::from_file(terminal.slave()).unwrap()),
            ..setup(Path::new("/nonexistent"))
        };
        let style = Style { plain, ..Style::default() };
        let mut world = RealWorld::new(setup, Box::new(Screen::new(style))).unwrap();
        let asked = LineAsked { prompt: "wren> ".to_owned(), typed: String::new(), known: Known::default() };
        world.act(Effect::ReadLine(Box::new(asked)));
        drop(world);
        let after = tcgetattr(&slave).unwrap();
        assert_eq!((after.local_modes, after.input_modes), (before.local_modes, before.input_modes));
    }
}

#[test]
fn without_a_terminal_a_line_is_the_wish_to_leave() {
    let mut world = super::kit::world();
    let asked = LineAsked { prompt: "wren> ".to_owned(), typed: String::new(), known: Known::default() };
    world.act(Effect::ReadLine(Box::new(asked)));
    assert!(matches!(next(&mut world), Event::Line(LineRead::End)));
    // Between lines keys are keys, as before.
    let mut terminal = Master::new();
    let mut world = world_at(&terminal);
    terminal.write(b"\x04");
    assert!(matches!(next(&mut world), Event::Key(Key::Interrupt)));
}

/// Where nothing may move the terminal edits, and no byte moves the cursor but the terminal's own echo.
#[test]
fn plain_lines_are_the_terminals_own() {
    let plain = Style { plain: true, ..Style::default() };
    let mut person = Person::sits(60, plain, None);
    person.sees_exactly("wren>");
    person.types("keeq\x7fp\nyes\n");
    assert_eq!(person.typed(), "keep");
    // What was typed behind it answers nothing.
    let now = person.world.next(quadjig::measure::time::Time(0)).0;
    assert!(matches!(person.world.next(now + Duration::from_millis(200)).1, Event::Tick));
    assert!(!tcgetattr(person.terminal.slave()).unwrap().local_modes.contains(LocalModes::ICANON));
    person.says("kept");
    person.sees_exactly("wren> keep\nyes\nkept");
    person.asked();
    person.sees(|screen| screen.ends_with("wren>"));
    person.types("idle");
    person.sees_exactly("wren> keep\nyes\nkept\nwren> idle");
    // Above a line that the terminal edits nothing can be put: it stands behind, and the prompt comes again.
    person.says("the board says something");
    person.sees_exactly("wren> keep\nyes\nkept\nwren> idle\nthe board says something\nwren>");
    person.types(" at 1120\n");
    assert_eq!(person.typed(), "idle at 1120");
    person.asked();
    person.sees(|screen| screen.ends_with("wren>"));
    person.types("half\x03");
    assert_eq!(person.line(), LineRead::Abandoned);
    person.asked();
    person.sees(|screen| screen.ends_with("wren>"));
    person.types("channels roll, pitch,\n");
    person.sees(|screen| screen.ends_with("wren> channels roll, pitch,\n    |"));
    person.types("throttle, yaw\n");
    assert_eq!(person.typed(), "channels roll, pitch,\nthrottle, yaw");
    person.sees(|screen| screen.ends_with("wren> channels roll, pitch,\n    | throttle, yaw"));
    person.asked();
    person.sees(|screen| screen.ends_with("wren>"));
    person.types("\x04");
    assert_eq!(person.line(), LineRead::End);
}

/// Another program may hold the file for ever: neither the start nor a key waits for it.
#[test]
fn a_history_that_is_held_by_another_holds_nobody_up() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("typed-lines");
    std::fs::write(&file, "#V2\nkeep\n").unwrap();
    let holder = std::fs::File::open(&file).unwrap();
    holder.lock().unwrap();
    let began = Instant::now();
    let mut person = Person::sits(120, Style::default(), Some(&file));
    assert!(began.elapsed() < Duration::from_secs(2), "{:?}", began.elapsed());
    person.sees(|screen| screen.contains("it is held") && screen.ends_with("wren>"));
    drop((person, holder));

    let mut person = Person::sits(60, Style::default(), Some(&file));
    let holder = std::fs::File::open(&file).unwrap();
    holder.lock().unwrap();
    for line in ["test buzzer", "order motors"] {
        person.types(&format!("{line}\r"));
        assert_eq!(person.typed(), line);
        person.asked();
    }
    person.types("\x1b[A\x1b[A\x1b[A");
    person.sees(|screen| without_hint(screen).ends_with("\nwren> keep"));
    let ending = Instant::now();
    drop(person);
    assert!(ending.elapsed() < Duration::from_secs(3), "{:?}", ending.elapsed());
}

#[test]
fn the_file_of_typed_lines_lies_where_the_standard_says() {
    let file = |state: &'static str, home: &'static str| {
        let value = move |name: &str| match name {
            "XDG_STATE_HOME" => Some(state.into()),
            "HOME" => Some(home.into()),
            _ => None,
        };
        quadjig::world::line::history_file(value).map(|path| path.to_string_lossy().into_owned())
    };
    assert_eq!(file("/state", "/home").unwrap(), "/state/quadjig/typed-lines");
    assert_eq!(file("state", "/home").unwrap(), "/home/.local/state/quadjig/typed-lines");
    assert_eq!(file("", ""), None);
}

/// In a process of its own: signals and panics concern a whole process.
#[test]
fn signals_and_panics_find_their_way_although_a_line_is_open() {
    super::kit::alone("world::line::hears_signals");
    super::kit::breaks_down("world::line::breaks_down_while_edited");
    super::kit::breaks_down("world::line::breaks_down_while_plain");
}

#[test]
#[ignore = "run by the test above, in a process of its own"]
fn hears_signals() {
    use rustix::process::{Signal, getpid, kill_process};
    for plain in [false, true] {
        let mut person = Person::sits(60, Style { plain, ..Style::default() }, None);
        person.types("ke");
        for (signal, heard) in [
            (Signal::TERM, SystemSignal::Terminate),
            (Signal::INT, SystemSignal::Interrupt),
            (Signal::HUP, SystemSignal::HangUp),
        ] {
            kill_process(getpid(), signal).unwrap();
            assert!(matches!(next(&mut person.world), Event::Signal(came) if came == heard), "{heard:?}");
        }
    }
}

#[test]
#[ignore = "run by the test above, in a process of its own"]
fn breaks_down_while_edited() {
    gives_the_terminal_back(false);
}

#[test]
#[ignore = "run by the test above, in a process of its own"]
fn breaks_down_while_plain() {
    gives_the_terminal_back(true);
}

fn gives_the_terminal_back(plain: bool) {
    let terminal = Master::new();
    let slave = terminal.slave();
    let before = tcgetattr(&slave).unwrap();
    drop(terminal);
    let mut person = Person::sits(60, Style { plain, ..Style::default() }, None);
    person.types("ke");
    let slave = person.terminal.slave();
    assert_ne!(tcgetattr(&slave).unwrap().local_modes, before.local_modes);
    super::kit::break_down(move || {
        let after = tcgetattr(&slave).unwrap();
        (after.local_modes, after.input_modes) == (before.local_modes, before.input_modes)
    });
}

#[test]
fn what_was_typed_before_stands_in_the_line_and_waits_for_enter() {
    let mut person = Person::new();
    person.types("look\r");
    assert_eq!(person.typed(), "look");
    let asked = LineAsked { prompt: "wren> ".to_owned(), typed: "kee".to_owned(), known: Known::default() };
    person.world.act(Effect::ReadLine(Box::new(asked)));
    person.sees(|screen| screen.contains("wren> kee"));
    person.types("p\r");
    assert_eq!(person.typed(), "keep");
}
