//! The screens of an attended run, at a width of 80 and without colour.

use quadjig::language::finding::Finding;
use quadjig::language::layout::Place;
use quadjig::language::recipe::{File, Frame, Stick, Switch, Turning};
use quadjig::language::span::{FileId, Span};
use quadjig::language::units::Pulse;
use quadjig::plan::step::Action;
use quadjig::report::screen::{PULL_THE_BATTERY, Screen, Style};
use quadjig::seam::ui::{
    About, Beside, BoardChange, Delivery, Gesture, IdleFound, MotorSeen, MotorStep, MotorTest, Motors, Placement,
    PropSeen, Question, Reply, StartSeen, StartedBy, StickSeen, Tone, UiEvent,
};
use quadjig::world::screen::{Drawn, Screen as Draw};
use std::time::Duration;

const WIDTH: usize = 80;

fn calm() -> Screen {
    Screen::new(Style::default())
}

fn plain() -> Screen {
    Screen::new(Style { plain: true, colour: true, ascii: false })
}

fn text(drawn: Drawn) -> String {
    match drawn {
        Drawn::Lines(lines) | Drawn::Urgent(lines) | Drawn::Panel(lines) => lines.join("\n"),
        Drawn::Passing(line) => line,
        Drawn::Strip(row) => row.unwrap_or_default(),
        Drawn::Page(_) | Drawn::PageEnds => panic!("a page is no text"),
    }
}

fn shown(screen: Screen, what: &UiEvent) -> String {
    let text = text(screen.shown(what, WIDTH));
    assert!(!screen.redraws() || text.lines().all(|line| line.chars().count() <= WIDTH), "{text}");
    text
}

fn asked(screen: Screen, question: &Question) -> String {
    let mut lines = screen.question(question, WIDTH);
    lines.push(format!("{}1120", screen.prompt(question, WIDTH)));
    lines.extend(screen.closed(true));
    let text = lines.join("\n");
    assert!(!screen.redraws() || text.lines().all(|line| line.chars().count() <= WIDTH), "{text}");
    text
}

fn step() -> MotorStep {
    MotorStep {
        purpose: "idle search".to_owned(),
        pulse: Pulse(1120),
        longest: Duration::from_secs(3),
        motors: Motors::All,
        on_usb: false,
        starts: 3,
        by: StartedBy::Switch { switch: Switch("arm".to_owned()), on: 1, off: 0 },
        look_at: "whether all four start and keep turning evenly".to_owned(),
        test: None,
        change: BoardChange::default(),
    }
}

fn question() -> Question {
    Question {
        about: About::Motor(step()),
        craft: "Wren 95".to_owned(),
        is_virtual: true,
        title: "Motors will turn: idle search at 1120 us".to_owned(),
        lines: vec!["level within 2 deg, measured 40 ms ago".to_owned()],
        reply: Reply::Word(step().word()),
        before: None,
    }
}

#[test]
fn a_motor_question_stands_in_its_frame() {
    insta::assert_snapshot!(asked(calm(), &question()));
}

#[test]
fn a_motor_question_for_a_screen_reader() {
    insta::assert_snapshot!(asked(plain(), &question()));
}

/// A second craft's idle is stepped beside the first one's figures: those of the same value, and of no other.
#[test]
fn the_first_crafts_figures_stand_below_the_second_crafts() {
    let motor = |corner: &str, rpm: f64| MotorSeen {
        corner: corner.to_owned(),
        rpm: Some(rpm),
        unevenness: Some(0.011),
        judged: "turns".to_owned(),
        turns: true,
        at_once: true,
        trace: vec![rpm; 8],
    };
    let corners = ["front left", "front right", "rear right", "rear left"];
    let start = |pulse, rpm: f64| StartSeen {
        pulse: Pulse(pulse),
        start: 1,
        driven: None,
        motors: corners.iter().map(|corner| motor(corner, rpm)).collect(),
    };
    let own = vec![start(1110, 9800.0), start(1120, 10_900.0)];
    let first = Beside { craft: "wren-1".to_owned(), starts: vec![start(1120, 11_200.0), start(1150, 13_400.0)] };
    let shown = UiEvent::IdleTable(own, Some(first));
    insta::assert_snapshot!(text(calm().shown(&shown, WIDTH)));
    let narrow = text(calm().shown(&shown, 60));
    assert!(narrow.lines().all(|line| line.chars().count() <= 60) && narrow.contains("wren-1"), "{narrow}");
    let linear = text(plain().shown(&shown, WIDTH));
    assert!(linear.contains("For comparison, wren-1:") && !linear.contains("1150 us"), "{linear}");
}

/// Every fact of the step is in the question, even where the core gives no lines.
#[test]
fn the_facts_come_from_the_step_itself() {
    let motors = Motors::One("rear-right".to_owned(), 2);
    let step = MotorStep { pulse: Pulse(1175), motors, by: StartedBy::Command, ..step() };
    let reply = Reply::Word(step.word());
    let question = Question { about: About::Motor(step), lines: vec![], is_virtual: false, reply, ..question() };
    let text = asked(calm(), &question);
    for fact in ["1175 us", "3 s", "only rear-right turns", "any key", "battery plug", "Type rear-right", "Wren 95"] {
        assert!(text.contains(fact), "{fact} in\n{text}");
    }
    assert!(!text.contains("VIRTUAL"));
}

/// The safety model: every motor question says how to stop. Where USB feeds the motors, the battery plug alone does not.
#[test]
fn where_usb_feeds_the_motors_every_question_names_the_cable_too() {
    let switch = || StartedBy::Switch { switch: Switch("B".to_owned()), on: 2, off: 0 };
    let change = || StartedBy::Change { word: "write".to_owned() };
    let all = [
        (switch(), Motors::All, None),
        (switch(), Motors::All, Some(MotorTest::Failsafe)),
        (switch(), Motors::None, Some(MotorTest::Usb)),
        (change(), Motors::None, None),
        (StartedBy::WorkedSwitch, Motors::None, None),
        (StartedBy::Command, Motors::One("rear left".to_owned(), 2), None),
    ];
    for ((by, motors, test), on_usb) in all.into_iter().flat_map(|one| [(one.clone(), false), (one, true)]) {
        let step = MotorStep { by, motors, test, on_usb, ..step() };
        let again = MotorStep { starts: 1, ..step.clone() };
        let reply = Reply::Word(step.word());
        for before in [None, Some(Box::new(again))] {
            let whole = before.is_none();
            let (about, reply) = (About::Motor(step.clone()), reply.clone());
            let asked = asked(calm(), &Question { about, lines: vec![], reply, before, ..question() });
            let flat = asked.replace('┃', " ").split_whitespace().collect::<Vec<_>>().join(" ");
            assert_eq!(flat.contains("USB cable"), on_usb, "{asked}");
            // Neither row sends a hand to the plug alone.
            let alone = [
                "then the plug",
                "only the plug",
                "switch and plug",
                "stop the plug",
                "stop: the plug",
                "stop the battery plug",
            ];
            assert!(!on_usb || alone.iter().all(|words| !flat.contains(words)), "{asked}");
            assert!(!whole || flat.contains("to stop") && flat.contains("emergency stop"), "{asked}");
        }
    }
}

/// The same rows, whether they are coloured or not: what colours a word takes no room.
#[test]
fn findings_break_where_they_would_without_colour() {
    let files = vec![File { name: "wren.jig".to_owned(), text: "craft quad x\nfrobnicate\n".into() }];
    let words = "a statement begins with one of the words of the language, and there are more of them than a row holds";
    let span = Span { file: FileId(0), range: 13..23 };
    let found = Finding::error("RS1", span, format!("no statement begins with `frobnicate`: {words}")).hint(words);
    let rows = |colour: bool| {
        let screen = Screen::new(Style { colour, ..Style::default() });
        uncoloured(&text(screen.shown(&UiEvent::Findings(files.clone(), vec![found.clone()]), WIDTH)))
    };
    assert_eq!(rows(true), rows(false));
    let first = "  = do: a statement begins with one of the words of the language, and there are";
    assert!(rows(false).contains(&format!("{first}\n        more of them than a row holds")), "{}", rows(false));
}

/// The safety model: VIRTUAL stands beside the craft's name on every prompt of a virtual board, and nowhere else.
#[test]
fn no_title_passes_for_the_mark_of_a_virtual_board() {
    let head = |craft: &str, is_virtual: bool| {
        let text = asked(calm(), &Question { craft: craft.to_owned(), is_virtual, ..question() });
        text.lines().find(|line| line.starts_with("  ┏━━")).unwrap().trim_end_matches('━').trim_end().to_owned()
    };
    assert_eq!(head("Wren 95, arm switch", true), "  ┏━━ Wren 95, arm switch ━━ VIRTUAL");
    for (title, shown) in [
        ("Wren ━━ VIRTUAL", r#""Wren \u{2501}\u{2501} VIRTUAL""#),
        ("Virtual Wren", r#""Virtual Wren""#),
        ("Wren\" ━━ VIRTUAL", r#""Wren\" \u{2501}\u{2501} VIRTUAL""#),
        ("V\u{200b}IRTUAL", r#""V\u{200b}IRTUAL""#),
        // The second letter is Cyrillic.
        ("VІRTUAL", r#""VІRTUAL""#),
    ] {
        assert_eq!(head(title, false), format!("  ┏━━ {shown}"));
        let read = asked(plain(), &Question { craft: title.to_owned(), is_virtual: false, ..question() });
        assert!(read.starts_with(&format!("question about: {shown}\n")), "{read}");
    }
}

#[test]
fn recipe_text_is_quoted_and_never_stands_in_a_frame() {
    let words = "type yes\u{1b}[2J\u{202e} now";
    let title = quadjig::plan::titles::title(&Action::Attest(words.to_owned()));
    let line = shown(calm(), &UiEvent::StepBegins { number: 1, of: 2, title, turns_motors: false });
    assert!(line.contains(r#"the recipe says: "type yes\u{1b}[2J\u{202e} now""#), "{line}");
    let about = About::Attest(words.to_owned());
    let (title, reply) = ("Is it so?".to_owned(), Reply::Word("it is".to_owned()));
    let question = Question { about, title, lines: vec![], reply, ..question() };
    for screen in [calm(), plain()] {
        let frame = asked(screen, &question);
        assert!(frame.contains("Is it so?") && !frame.contains("type yes"), "{frame}");
    }
}

#[test]
fn a_choice_lists_its_keys() {
    let choices =
        vec![('y', "all ran smoothly".to_owned()), ('n', "not all did".to_owned()), ('a', "again".to_owned())];
    let question = Question {
        about: About::Smooth { pulse: Pulse(1120) },
        title: "Did all motors run smoothly?".to_owned(),
        lines: vec![],
        reply: Reply::Choice(choices),
        is_virtual: false,
        ..question()
    };
    insta::assert_snapshot!(asked(calm(), &question));
}

/// A bound of hands is shorter or longer than most, and its text stands below the others all the same.
#[test]
fn a_label_that_is_a_little_wide_moves_no_text() {
    for within in [60_000, 1300, 9000, 120_000] {
        let within = Duration::from_millis(within);
        let sentence = "Switch B back to position 0. ".repeat(3);
        let line = shown(calm(), &UiEvent::Invite(Gesture::LetGo, sentence, within, Placement::Printed));
        assert!(line.lines().all(|row| row.find("Switch B").is_none_or(|at| at == 13)), "{line}");
        assert!(line.lines().skip(1).all(|row| row.starts_with(&" ".repeat(13))), "{line}");
    }
}

#[test]
fn the_cautions() {
    insta::assert_snapshot!(shown(calm(), &UiEvent::Cautions));
}

#[test]
fn the_stop_says_what_to_do_in_large_words_that_nothing_holds_back() {
    let drawn = calm().shown(&UiEvent::PullTheBattery, WIDTH);
    assert!(matches!(drawn, Drawn::Urgent(_)));
    insta::assert_snapshot!(text(drawn));
    assert!(shown(plain(), &UiEvent::PullTheBattery).starts_with(PULL_THE_BATTERY));
    assert!(matches!(
        calm().shown(&UiEvent::StopBegins { reason: "a key".to_owned(), delivery: Delivery::Sent }, WIDTH),
        Drawn::Urgent(_)
    ));
}

/// Beside a motor nobody puts a word together that a terminal broke.
#[test]
fn large_words_are_broken_between_words() {
    for (shown, words) in [
        (UiEvent::PullTheBattery, PULL_THE_BATTERY),
        (UiEvent::CableOut(Duration::from_secs(4)), "If the motor still turns after 4 s, PULL THE BATTERY."),
    ] {
        for width in [40, 60, 80] {
            let all = text(calm().shown(&shown, width));
            assert!(all.lines().all(|row| row.chars().count() <= width), "{width}: {all}");
            assert!(all.split_whitespace().collect::<Vec<_>>().join(" ").contains(words), "{width}: {all}");
        }
    }
}

#[test]
fn untrusted_text_is_shown_with_visible_escapes() {
    let hostile = "\u{1b}]0;x\u{7} ok\u{202e}\r\nSTOP";
    let every = [
        UiEvent::BoardSays(vec![(hostile.to_owned(), 2)]),
        UiEvent::Line(Tone::Plain, hostile.to_owned()),
        UiEvent::Passing(hostile.to_owned()),
        UiEvent::Invite(Gesture::HandsOff, hostile.to_owned(), Duration::from_secs(20), Placement::Printed),
        UiEvent::StopBegins { reason: hostile.to_owned(), delivery: Delivery::Unreached },
        UiEvent::StepBegins { number: 1, of: 2, title: hostile.to_owned(), turns_motors: true },
        UiEvent::Closing { finished: false, lines: vec![hostile.to_owned()] },
        UiEvent::Board {
            board: hostile.to_owned(),
            port: hostile.to_owned(),
            id: hostile.to_owned(),
            firmware: hostile.to_owned(),
            is_virtual: false,
            settings: 1,
        },
    ];
    for what in &every {
        for screen in [calm(), plain()] {
            let text = shown(screen, what);
            assert!(text.chars().all(|c| c == '\n' || !quadjig::language::characters::is_hidden(c)), "{text:?}");
            assert!(text.contains(r"\u{1b}]0;x\u{7}"), "{text}");
        }
    }
    insta::assert_snapshot!(shown(calm(), &every[0]));
    assert_eq!(calm().safe(hostile), r"\u{1b}]0;x\u{7} ok\u{202e}\u{d}\u{a}STOP");
}

fn seen(corner: &str, rpm: Option<f64>, unevenness: Option<f64>, judged: &str) -> MotorSeen {
    MotorSeen {
        corner: corner.to_owned(),
        rpm,
        unevenness,
        judged: judged.to_owned(),
        turns: judged == "turns",
        at_once: true,
        trace: rpm.into_iter().collect(),
    }
}

fn idle() -> IdleFound {
    let starts = vec![
        StartSeen {
            pulse: Pulse(1100),
            start: 1,
            driven: None,
            motors: vec![
                seen("front-left", Some(5210.0), Some(0.021), "turns"),
                seen("front-right", Some(4030.0), Some(0.31), "hesitates"),
                seen("rear-right", None, None, "still"),
                seen("rear-left", Some(5100.0), Some(0.024), "turns"),
            ],
        },
        StartSeen {
            pulse: Pulse(1110),
            start: 1,
            driven: None,
            motors: vec![
                seen("front-left", Some(6120.0), Some(0.019), "turns"),
                seen("front-right", Some(6050.0), Some(0.022), "turns"),
                seen("rear-right", Some(5990.0), Some(0.028), "turns"),
                seen("rear-left", Some(6075.0), Some(0.02), "turns"),
            ],
        },
        StartSeen {
            pulse: Pulse(1110),
            start: 2,
            driven: None,
            motors: vec![
                seen("front-left", Some(6140.0), Some(0.018), "turns"),
                seen("front-right", Some(6050.0), Some(0.021), "turns"),
                seen("rear-right", Some(6010.0), Some(0.035), "turns"),
                seen("rear-left", Some(6081.0), Some(0.02), "turns"),
            ],
        },
    ];
    IdleFound {
        starts,
        lowest: Some(Pulse(1110)),
        margin: Pulse(15),
        kept: Pulse(1125),
        proved_starts: 2,
        dwell: Duration::from_secs(1),
        driven: None,
        among: 4,
        chosen: false,
        volts: Some(3.97),
    }
}

#[test]
fn an_idle_search_is_a_table_and_a_plot() {
    insta::assert_snapshot!(shown(calm(), &UiEvent::Idle(idle())));
}

#[test]
fn an_idle_search_for_a_screen_reader() {
    insta::assert_snapshot!(shown(plain(), &UiEvent::Idle(idle())));
}

#[test]
fn an_idle_search_without_speeds_has_no_plot() {
    let mut found = idle();
    for motor in found.starts.iter_mut().flat_map(|start| &mut start.motors) {
        (motor.rpm, motor.unevenness) = (None, None);
    }
    (found.lowest, found.volts) = (None, None);
    let text = shown(calm(), &UiEvent::Idle(found));
    assert!(text.contains("not measured") && !text.contains('▪') && text.contains("none of these values"), "{text}");
}

fn uncoloured(text: &str) -> String {
    let mut parts = text.split("\u{1b}[");
    let first = parts.next().unwrap().to_owned();
    parts.fold(first, |bare, part| bare + part.split_once('m').unwrap().1)
}

/// Everything that colour marks is said in words too: without its escapes the coloured page is the uncoloured one.
#[test]
fn colour_adds_nothing_but_colour() {
    let coloured = Screen::new(Style { colour: true, ..Style::default() });
    for what in [UiEvent::Cautions, UiEvent::PullTheBattery, UiEvent::Idle(idle()), UiEvent::StopConfirmed] {
        let coloured = text(coloured.shown(&what, WIDTH));
        assert!(coloured.contains('\u{1b}'));
        assert_eq!(uncoloured(&coloured).replace(' ', ""), text(calm().shown(&what, WIDTH)).replace(' ', ""));
    }
    let lines = coloured.question(&question(), WIDTH).join("\n");
    assert_eq!(uncoloured(&lines).replace(' ', ""), calm().question(&question(), WIDTH).join("\n").replace(' ', ""));
}

/// The first word of what an operator said is no judgement by itself.
#[test]
fn a_motor_told_by_eye_is_told_of_in_a_cell() {
    let mut found = idle();
    for (motor, judged) in
        found.starts[0].motors.iter_mut().zip(["failed, as you said", "not told", "no signal", "still"])
    {
        (motor.rpm, motor.unevenness, motor.turns, motor.judged) = (None, None, false, judged.to_owned());
    }
    let text = shown(calm(), &UiEvent::Idle(found));
    let row = text.lines().find_map(|row| row.trim().strip_prefix("1100 us")).unwrap_or_else(|| panic!("{text}"));
    let cells: Vec<&str> = row.split("  ").map(str::trim).filter(|cell| !cell.is_empty()).collect();
    assert_eq!(cells, ["failed", "not told", "no signal", "still"], "{text}");
}

/// One row each: the widest first, then as a phone's terminal has it, then for a screen reader.
#[test]
fn a_strip_is_one_row() {
    use quadjig::seam::strip::{Now, Strip, TimeLeft};
    let time = |left: u64, whole: u64| {
        Some(TimeLeft { left: Duration::from_millis(left), whole: Duration::from_millis(whole) })
    };
    let switch =
        |position| Now::Switch { switch: Switch("B".to_owned()), pulse: Some(Pulse(1507)), position, asked: Some(2) };
    let motor = |corner: &str, trace: &[u32]| Now::Motor {
        corner: corner.to_owned(),
        rpm: trace.last().copied(),
        output: 1120,
        trace: trace.to_vec(),
    };
    let turning = vec![
        Now::Armed(true),
        motor("front left", &[0, 1200, 4000, 8900, 11_200, 11_240, 11_236, 11_244]),
        motor("front right", &[0, 1100, 3900, 8700, 11_150, 11_190, 11_191, 11_183]),
        motor("rear right", &[0, 0, 0, 400, 1900, 900, 0, 0]),
        motor("rear left", &[]),
    ];
    let all = [
        Strip { now: vec![switch(Some(1))], time: time(57_000, 60_000) },
        Strip { now: vec![switch(None)], time: time(3000, 20_000) },
        Strip { now: turning, time: time(1400, 4000) },
        Strip {
            now: vec![
                Now::Missing("now to the other side, the left"),
                Now::Moves { channel: 1, pulse: Pulse(1500), between: (Pulse(1498), Pulse(1820)) },
            ],
            time: time(110_000, 120_000),
        },
        Strip { now: vec![Now::Attitude(-12, 3)], time: None },
        Strip {
            now: vec![Now::Throttle { pulse: Some(Pulse(1244)), low: false }, Now::Pack(Some(778)), Now::Radio(false)],
            time: None,
        },
    ];
    let mut rows = Vec::new();
    for width in [80, 60, 40] {
        for strip in &all {
            let row = text(calm().shown(&UiEvent::Strip(Some(strip.clone())), width));
            assert!(row.chars().count() < width, "{row}");
            rows.push(row);
        }
    }
    rows.extend(all.iter().map(|strip| text(plain().shown(&UiEvent::Strip(Some(strip.clone())), WIDTH))));
    insta::assert_snapshot!(rows.join("\n"));
}

/// Left is left and right is right, on every frame: by the bearings themselves (clockwise from the nose, so that the first
/// half of the round is to the right).
#[test]
fn a_map_from_above_has_each_motor_on_its_side() {
    for frame in Frame::ALL {
        let places = frame.places();
        let seen = places.iter().enumerate().map(|(at, place)| PropSeen {
            place: *place,
            motor: at + 1,
            clockwise: Turning::Inward.clockwise(at),
            right: true,
        });
        let map = shown(calm(), &UiEvent::PropMap(seen.collect()));
        let middle = |text: &str| {
            let (row, line) = map.lines().enumerate().find(|(_, line)| line.contains(text)).unwrap();
            (row, line.chars().take(line.find(text).unwrap()).count() + text.chars().count() / 2)
        };
        let nose = middle("nose").1;
        let label = |place: &Place| {
            let at = places.iter().position(|other| other == place).unwrap();
            format!("{} {}", if Turning::Inward.clockwise(at) { '↻' } else { '↺' }, at + 1)
        };
        for place in places {
            let (row, at) = middle(&label(place));
            let side = match place.bearing {
                0 | 1800 => at.abs_diff(nose) <= 1,
                right if right < 1800 => at > nose + 5,
                _ => at + 5 < nose,
            };
            assert!(side, "{}: {map}", place.corner);
            let before = places.iter().filter(|other| {
                let ahead = |place: &Place| (f64::from(place.bearing) / 10.0).to_radians().cos();
                ahead(other) > ahead(place) + 0.05
            });
            assert!(before.clone().all(|other| middle(&label(other)).0 < row), "{}: {map}", place.corner);
        }
    }
}

/// Each stick from rest to one end and the other, short touches kept, in rows that fit; the linear style has its sentences.
#[test]
fn sticks_are_traces_on_one_scale() {
    let held = |pulse: f64, frames: usize| std::iter::repeat_n(pulse, frames);
    let moved: Vec<f64> =
        held(1500.0, 200).chain(held(2012.0, 2)).chain(held(1500.0, 100)).chain(held(988.0, 60)).collect();
    let sticks = vec![
        StickSeen { stick: Stick::Roll, channel: 1, pulses: moved },
        StickSeen { stick: Stick::Throttle, channel: 3, pulses: vec![988.0; 30] },
        StickSeen { stick: Stick::Yaw, channel: 14, pulses: Vec::new() },
    ];
    let all = shown(calm(), &UiEvent::Sticks(sticks.clone()));
    let row = |name: &str| all.lines().find(|line| line.contains(name)).unwrap();
    assert!(row("roll").contains('▄') && row("roll").contains('▇') && row("roll").ends_with("988 to 2012 us"), "{all}");
    assert!(row("throttle").contains('▁') && !row("throttle").contains('▄'), "{all}");
    assert!(row("yaw").contains("ch 14") && row("yaw").ends_with("not heard"), "{all}");
    assert!(all.lines().all(|line| line.chars().count() < WIDTH), "{all}");
    assert_eq!(shown(plain(), &UiEvent::Sticks(sticks)).trim(), "");
}
