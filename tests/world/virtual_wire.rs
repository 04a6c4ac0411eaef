//! The virtual board in this process: bytes, loss on its restart, return, and its world's own line.

use super::kit::{Master, next, sent, world, world_at};
use quadjig::language::known::Known;
use quadjig::seam::{Effect, Event, Key, LineAsked, LineRead, OpenError, PortName, World};
use quadjig::world::real::RealWorld;
use std::num::NonZero;
use std::time::{Duration, Instant};

fn open(world: &mut RealWorld, name: Option<&str>) -> Result<String, OpenError> {
    world.act(Effect::Open(PortName::Virtual(name.map(str::to_owned))));
    loop {
        match next(world) {
            Event::Opened(opened) => return opened.map(|info| info.name),
            Event::Bytes(..) => {}
            other => panic!("{other:?}"),
        }
    }
}

/// The next event that is no bytes.
fn next_but_bytes(world: &mut RealWorld) -> Event {
    let until = Instant::now() + Duration::from_secs(10);
    while Instant::now() < until {
        match next(world) {
            Event::Bytes(..) => {}
            event => return event,
        }
    }
    panic!("only bytes came")
}

/// MAVLink 2 begins every frame with 0xFD: <https://mavlink.io/en/guide/serialization.html>.
#[test]
fn the_board_speaks_on_its_wire() {
    let mut world = world();
    assert_eq!(open(&mut world, None).unwrap(), "virtual");
    match next(&mut world) {
        Event::Bytes(bytes) => assert_eq!(bytes[0], 0xfd),
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_board_with_a_console_answers_what_is_typed() {
    let mut world = world();
    assert_eq!(open(&mut world, Some("finch-c")).unwrap(), "virtual:finch-c");
    world.act(sent(b"\x03who\r".to_vec()));
    let (mut shown, until) = (String::new(), Instant::now() + super::kit::SOON);
    while !shown.ends_with("\r\nfinch> who\r\n7669727400000001, Finch C, 2.4.1\r\nfinch> ") {
        assert!(Instant::now() < until, "{shown:?}");
        let Event::Bytes(bytes) = next(&mut world) else { panic!("{shown:?}") };
        shown += std::str::from_utf8(&bytes).unwrap();
    }
}

#[test]
fn a_name_that_is_none_is_said() {
    let mut world = world();
    let refused = open(&mut world, Some("sparrow")).unwrap_err();
    assert!(refused.to_string().contains("finch-r"), "{refused}");
    assert_eq!(open(&mut world, Some("finch-r")).unwrap(), "virtual:finch-r");
}

#[test]
fn the_worlds_line_moves_the_world_and_only_it() {
    let mut terminal = Master::new();
    let mut world = world_at(&terminal);
    open(&mut world, None).unwrap();
    let mut parser = vt100::Parser::new(NonZero::new(30).unwrap(), NonZero::new(80).unwrap(), 0);
    terminal.write(b"\tnonsense\r");
    let until = Instant::now() + super::kit::SOON;
    while !parser.screen().contents().contains("there is no `nonsense` here") {
        assert!(Instant::now() < until, "{}", parser.screen().contents());
        parser.process(&terminal.read_for(Duration::from_millis(50)));
    }
    // Left by Escape, nothing of it is done; Ctrl-C goes to the core at once.
    terminal.write(b"\trestart\x1b");
    std::thread::sleep(Duration::from_millis(100));
    terminal.write(b"\tfl\x03");
    assert!(matches!(next_but_bytes(&mut world), Event::Key(Key::Interrupt)));
    terminal.write(b"k");
    assert!(matches!(next_but_bytes(&mut world), Event::Key(Key::Char('k'))));
    // A restart takes the port away; it is found again as the same world.
    terminal.write(b"\tradio off; restart\r");
    assert!(matches!(next_but_bytes(&mut world), Event::Lost));
    world.act(Effect::Reopen);
    assert!(matches!(next_but_bytes(&mut world), Event::Opened(Ok(_))));
    assert!(matches!(next(&mut world), Event::Bytes(_)));
}

/// While a line is typed Tab completes it; a line that begins with `world` goes where Tab leads otherwise.
#[test]
fn a_typed_line_for_the_world_reaches_it_and_not_the_core() {
    let mut terminal = Master::new();
    let mut world = world_at(&terminal);
    open(&mut world, None).unwrap();
    let asked = LineAsked { prompt: "wren> ".to_owned(), typed: String::new(), known: Known::default() };
    world.act(Effect::ReadLine(Box::new(asked)));
    let mut parser = vt100::Parser::new(NonZero::new(30).unwrap(), NonZero::new(80).unwrap(), 0);
    terminal.write(b"world nonsense\rke");
    let until = Instant::now() + super::kit::SOON;
    let answered = |screen: &str| {
        let (asked, answer) = (screen.find("wren> world nonsense"), screen.find("there is no `nonsense` here"));
        asked.is_some() && asked < answer && screen.contains("\nwren> ke\n")
    };
    while !answered(&parser.screen().contents()) {
        assert!(Instant::now() < until, "{}", parser.screen().contents());
        parser.process(&terminal.read_for(Duration::from_millis(50)));
    }
    // Tab completes what the world takes, and its form stands below.
    terminal.write(b"\x15wor\tfli\t");
    while !parser.screen().contents().contains("\nwren> world flip \n  flip SWITCH POSITION") {
        assert!(Instant::now() < until, "{}", parser.screen().contents());
        parser.process(&terminal.read_for(Duration::from_millis(50)));
    }
    terminal.write(b"\x15keep\r");
    assert!(matches!(next_but_bytes(&mut world), Event::Line(LineRead::Typed(text)) if text == "keep"));
}
