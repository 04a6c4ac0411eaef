//! The live page over a whole session: what is shown and when, what is sent meanwhile, and what ends it.

use super::stand::{Hands, classed};
use quadjig::bench::attended::connect;
use quadjig::bench::monitor::live_page::{Looking, leave, look, watch};
use quadjig::bench::session::context::SessionContext;
use quadjig::bench::session::{Script, Session};
use quadjig::board::mavlink::{FrameClass, MavlinkLink, decode};
use quadjig::board::shipped;
use quadjig::interlock::Phase;
use quadjig::measure::time::Time;
use quadjig::rehearsal::simulated::{Disk, SimulatedWorld, TranscriptEvent};
use quadjig::seam::fault::Fault;
use quadjig::seam::page::{Armed, Page, SheetSeen, Title, Wire, WorkedBy};
use quadjig::seam::ui::UiEvent;
use quadjig::seam::{Event, Key, PortName, SystemSignal, World as _};
use quadjig::virtual_board::{World, WorldConfig};
use std::cell::RefCell;
use std::rc::Rc;
use std::time::Duration;

/// What happens at a moment.
enum Do {
    Line(&'static str),
    Comes(Event),
    Another(Box<World>),
}

struct Played {
    result: Result<(), Fault>,
    shown: Vec<(Time, UiEvent)>,
    sent: Vec<(Time, Vec<u8>)>,
    ended: Time,
    board: World,
}

impl Played {
    fn pages(&self) -> Vec<(Time, &Page)> {
        self.shown
            .iter()
            .filter_map(|(at, shown)| match shown {
                UiEvent::Page(page) => Some((*at, &**page)),
                _ => None,
            })
            .collect()
    }

    /// The last page at a moment, in ms.
    #[track_caller]
    fn page_at(&self, ms: u64) -> &Page {
        let at = Time(ms * 1000);
        self.pages().into_iter().rfind(|(shown, _)| *shown <= at).expect("a page by then").1
    }

    fn classes(&self) -> Vec<FrameClass> {
        self.sent
            .iter()
            .flat_map(|(_, bytes)| classed(bytes))
            .map(|(class, ..)| class.expect("a known class"))
            .collect()
    }

    /// Nothing but looking: requests and signs of life.
    #[track_caller]
    fn only_looked(&self) {
        let classes = self.classes();
        assert!(classes.iter().all(|class| matches!(class, FrameClass::Heartbeat | FrameClass::Looks)), "{classes:?}");
    }

    fn left_page(&self) -> usize {
        self.shown.iter().filter(|(_, shown)| matches!(shown, UiEvent::PageEnds)).count()
    }
}

fn play(
    config: WorldConfig,
    before: &[&str],
    looks_only: bool,
    script: impl FnOnce(Rc<SessionContext>) -> Script,
    plan: Vec<(u64, Do)>,
) -> Played {
    let mut hands = Hands::willing(&config);
    let mut board = World::new(config);
    for line in before {
        let now = board.now();
        board.line(now, line).unwrap();
    }
    let began = board.now();
    let shown = RefCell::new(Vec::new());
    let mut seen = |at: Time, seen: TranscriptEvent<'_>| {
        if let TranscriptEvent::Shown(what) = seen {
            shown.borrow_mut().push((at, what.clone()));
        }
    };
    let mut world = SimulatedWorld::new(board, &mut hands, Disk::default(), &mut seen);
    world.spied = Some(Vec::new());
    let bench = Rc::new(SessionContext::default());
    let script = script(Rc::clone(&bench));
    let closing = Rc::clone(&bench);
    let mut session =
        Session::new(Box::new(MavlinkLink::new(None)), bench, script, looks_only).closing_with(move |_| {
            Box::pin(async move {
                leave(&closing).await;
                Ok(())
            })
        });
    let mut plan = plan.into_iter().map(|(ms, does)| (began + Duration::from_millis(ms), does)).peekable();
    let result = loop {
        let due = plan.peek().map_or(Time::NEVER, |(at, _)| *at);
        let (now, event) = if due <= world.now() {
            let now = world.now();
            match plan.next().unwrap().1 {
                Do::Line(line) => {
                    world.board_mut().line(now, line).unwrap();
                    (now, Event::Tick)
                }
                Do::Comes(event) => (now, event),
                Do::Another(mut board) => {
                    board.advance(now);
                    *world.board_mut() = *board;
                    (now, Event::Tick)
                }
            }
        } else {
            world.next(session.wake().min(due))
        };
        assert!(now.since(began) < Duration::from_secs(300), "it does not end");
        session.handle(now, event, &mut |effect| world.act(effect));
        if let Some(result) = session.ended() {
            break result.clone();
        }
    };
    let (ended, sent) = (world.now(), world.spied.take().unwrap());
    let (board, _) = world.into_parts();
    Played { result, shown: shown.into_inner(), sent, ended, board }
}

fn looking() -> Looking {
    let sheets = shipped::SHEETS.iter().map(|sheet| shipped::sheet(sheet.stem).unwrap().unwrap()).collect();
    Looking { card: Some(shipped::radio_card("bench").unwrap().unwrap()), sheets, named: false }
}

fn looks(looking: Looking) -> impl FnOnce(Rc<SessionContext>) -> Script {
    move |bench| Box::pin(async move { look(&bench, &PortName::Virtual(None), &looking).await })
}

/// As within a session at the bench prompt: a board that was seen still, and that may be written to.
fn within(bench: Rc<SessionContext>) -> Script {
    Box::pin(async move {
        let known = connect(&bench, &PortName::Virtual(None)).await?;
        bench.choose_sheet(&[shipped::sheet("finch").unwrap().unwrap()], &known, "Wren 95")?;
        bench.watch_it().await?;
        let title = Title { craft: Some("Wren 95".to_owned()), port: "virtual".to_owned() };
        watch(&bench, &title, None).await?;
        if bench.phase() == Phase::Still { Ok(()) } else { Err(Fault::refused("Nothing may be written.", "")) }
    })
}

fn key(ms: u64, key: Key) -> (u64, Do) {
    (ms, Do::Comes(Event::Key(key)))
}

#[test]
fn the_page_follows_the_board_until_any_key() {
    let before = ["battery in", "set ARM_CHANNEL 6", "set ARM_FROM 1754", "set ARM_TO 2146", "set CELLS 2"];
    for last in [Key::Char('x'), Key::Enter, Key::Escape, Key::Interrupt, Key::Other] {
        let plan = vec![(4000, Do::Line("tilt 6 -3")), (5000, Do::Line("flip C 1")), key(7000, last)];
        let played = play(WorldConfig::default(), &before, true, looks(looking()), plan);
        assert_eq!(played.result, Ok(()));
        played.only_looked();
        assert_eq!(played.left_page(), 1);
        let pages = played.pages();
        for pair in pages.windows(2) {
            let apart = pair[1].0.since(pair[0].0);
            assert!(apart <= Duration::from_millis(100), "{apart:?} from page to page");
        }
        let page = played.page_at(3900);
        assert_eq!((page.armed, page.is_virtual, page.craft.as_str()), (Armed::No, true, "Finch"));
        assert_eq!(page.sheet, SheetSeen::Known("Finch".to_owned()));
        assert_eq!(page.channels[2].worked_by, Some(WorkedBy::Stick("throttle".to_owned())));
        let arm = &page.channels[5].bands[0];
        assert_eq!((arm.function.as_str(), arm.inside), ("arm", Some(false)));
        assert!(page.battery.cell_millivolts().is_some_and(|mv| (3500..4300).contains(&mv)), "{:?}", page.battery);
        let later = played.page_at(6900);
        assert!(later.attitude.is_some_and(|(roll, pitch)| (58..=62).contains(&roll) && (-32..=-28).contains(&pitch)));
        let Some(WorkedBy::Switch { position, .. }) = &later.channels[6].worked_by else { panic!("{later:?}") };
        assert_eq!(*position, Some(1));
        assert!(matches!(later.wire, Wire::Heard(ago) if ago < Duration::from_millis(200)));
        assert_eq!(later.loss, Some(0));
    }
}

/// What was asked of the board's streams is put back, whatever ends the page.
#[test]
fn streams_are_put_back_however_it_ends() {
    // The intervals asked for, by message: `MAV_CMD_SET_MESSAGE_INTERVAL` (common.xml) is command 511.
    let asked = |sent: &[(Time, Vec<u8>)]| {
        let mut all: Vec<(u32, i64)> = Vec::new();
        for (_, bytes) in sent {
            for frame in quadjig::board::mavlink::frames(bytes) {
                let Some(frame) = decode(frame).filter(|frame| frame.id == 76) else { continue };
                // A version 2 payload loses its trailing zeros on the wire (MAVLink serialisation).
                let mut payload = frame.payload.to_vec();
                payload.resize(33, 0);
                let real = |at: usize| f32::from_le_bytes(payload[at..at + 4].try_into().unwrap());
                if u16::from_le_bytes([payload[28], payload[29]]) == 511 {
                    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "whole numbers")]
                    all.push((real(0) as u32, real(4) as i64));
                }
            }
        }
        all
    };
    for ends in [
        Event::Key(Key::Char(' ')),
        Event::Signal(SystemSignal::Interrupt),
        Event::Signal(SystemSignal::TerminalStop),
        Event::Signal(SystemSignal::Terminate),
        Event::EndOfInput,
        Event::Paste,
    ] {
        let name = format!("{ends:?}");
        let played = play(WorldConfig::default(), &[], true, looks(looking()), vec![(4000, Do::Comes(ends))]);
        let all = asked(&played.sent);
        for message in [0, 1, 30, 36, 65, 291] {
            let of: Vec<i64> = all.iter().filter(|(id, _)| *id == message).map(|(_, interval)| *interval).collect();
            assert!(of.len() >= 2, "{name}: message {message}: {of:?}");
            assert_ne!(of.first(), of.last(), "{name}: message {message} was not put back");
        }
        assert!(played.ended < Time(8_000_000), "{name}: {:?}", played.ended);
        assert_eq!(played.left_page(), 1, "{name}");
        played.only_looked();
    }
}

/// A board that is armed may be flying: it is looked at, and nothing is done to it.
#[test]
fn an_armed_craft_is_shown_armed_and_left_alone() {
    let before = [
        "battery in",
        "set ARM_CHANNEL 6",
        "set ARM_FROM 1754",
        "set ARM_TO 2146",
        "set SPIN_AT_ZERO 1",
        "set IDLE_US 1150",
        "flip B 2",
    ];
    let plan = vec![key(6000, Key::Interrupt)];
    let played = play(WorldConfig::default(), &before, true, looks(looking()), plan);
    assert_eq!(played.result, Ok(()));
    played.only_looked();
    let page = played.page_at(5900);
    assert_eq!(page.armed, Armed::Yes);
    assert!(page.motors.iter().all(|motor| motor.turning), "{:?}", page.motors);
    assert_eq!(page.channels[5].bands[0].inside, Some(true));
    assert!(played.board.armed(), "it went on as it was");
}

#[test]
fn a_lost_link_is_waited_for_and_found_again() {
    let plan = vec![(4000, Do::Line("usb out")), (9000, Do::Line("usb in")), key(16_000, Key::Enter)];
    let played = play(WorldConfig::default(), &[], true, looks(looking()), plan);
    assert_eq!(played.result, Ok(()));
    played.only_looked();
    let lost = played.page_at(8900);
    assert!(matches!(lost.wire, Wire::Lost(since) if since > Duration::from_secs(4)), "{:?}", lost.wire);
    assert_eq!((lost.armed, lost.attitude), (Armed::NotKnown, None));
    assert!(lost.channels.iter().all(|channel| channel.pulse.is_none()));
    let back = played.page_at(15_900);
    assert!(matches!(back.wire, Wire::Heard(_)), "{:?}", back.wire);
    assert_eq!(back.armed, Armed::No);
    // The streams were asked for again: a board that starts anew sends them at its own pace.
    let updates: Vec<_> = played.pages().iter().filter(|(at, _)| at.0 > 14_000_000).map(|(_, p)| p.attitude).collect();
    assert!(updates.iter().all(Option::is_some));
    let lost_at = played.pages().iter().position(|(_, page)| matches!(page.wire, Wire::Lost(_))).unwrap();
    assert!(lost_at > 10);
    assert_eq!(played.left_page(), 1, "the page stood all the time");
}

#[test]
fn another_board_ends_the_page() {
    let other = WorldConfig { seed: 2, ..WorldConfig::default() };
    let (was, now) = (WorldConfig::default().board_id(), other.board_id());
    let plan = vec![(4000, Do::Line("usb out")), (6000, Do::Another(Box::new(World::new(other))))];
    let played = play(WorldConfig::default(), &[], true, looks(looking()), plan);
    assert_eq!(played.result, Err(Fault::AnotherBoard { was, now }));
    played.only_looked();
}

#[test]
fn without_a_sheet_the_rest_is_shown_and_no_settings_are_read() {
    let played =
        play(WorldConfig::default(), &["battery in"], true, looks(Looking::default()), vec![key(4000, Key::Enter)]);
    assert_eq!(played.result, Ok(()));
    let page = played.page_at(3900);
    assert_eq!((&page.sheet, page.armed), (&SheetSeen::None, Armed::No));
    assert_eq!(page.motors.iter().map(|motor| motor.name.as_str()).collect::<Vec<_>>()[0], "output 1");
    assert!(page.channels.len() == 16 && page.channels.iter().all(|c| c.bands.is_empty() && c.worked_by.is_none()));
    // PARAM_REQUEST_LIST (common.xml) is message 21.
    let lists = played.sent.iter().flat_map(|(_, bytes)| quadjig::board::mavlink::frames(bytes));
    assert_eq!(lists.filter(|frame| decode(frame).is_some_and(|frame| frame.id == 21)).count(), 0);
}

#[test]
fn a_named_sheet_for_another_board_is_refused() {
    let sheets = vec![shipped::sheet("finch-r").unwrap().unwrap()];
    let looking = Looking { sheets, named: true, card: None };
    let played = play(WorldConfig::default(), &[], true, looks(looking), vec![]);
    assert!(matches!(&played.result, Err(Fault::Plan(why)) if why.contains("Finch R")), "{:?}", played.result);
    played.only_looked();
}

#[test]
fn the_boards_words_stand_on_the_page_and_are_told_after_it() {
    let before = ["set ARM_CHANNEL 6", "set ARM_FROM 1754", "set ARM_TO 2146"];
    let script = |bench: Rc<SessionContext>| -> Script {
        Box::pin(async move {
            look(&bench, &PortName::Virtual(None), &looking()).await?;
            bench.say_board_texts();
            Ok(())
        })
    };
    let plan = vec![(4000, Do::Line("flip B 2")), (5000, Do::Line("flip B 0")), key(7000, Key::Enter)];
    let played = play(WorldConfig::default(), &before, true, script, plan);
    let said = &played.page_at(6900).said;
    assert!(said.len() >= 2, "{said:?}");
    assert!(said.last().unwrap().ago > Duration::from_secs(1));
    let said = |shown: &UiEvent| if let UiEvent::BoardSays(said) = shown { said.len() } else { 0 };
    let after: usize = played.shown.iter().map(|(_, shown)| said(shown)).sum();
    assert!(after >= 2, "{after}");
}

#[test]
fn within_a_session_the_page_comes_and_goes_and_the_bench_is_as_before() {
    let measured_out = ["battery in"];
    for (before, last) in [(&[][..], Key::Char('q')), (&measured_out, Key::Interrupt)] {
        let plan = vec![(6000, Do::Line("battery out")), key(9000, last)];
        let played = play(WorldConfig::default(), before, false, within, plan);
        assert_eq!(played.result, Ok(()));
        assert_eq!(played.page_at(8900).craft, "Wren 95");
        assert!(!played.classes().contains(&FrameClass::Stop), "{last:?}: nothing could turn");
    }
}

/// What Ctrl-C, and the signals of keys, are while something could turn; elsewhere keys are text (`interlock.md`, 3).
#[test]
fn while_something_could_turn_ctrl_c_on_the_page_is_a_stop_and_a_key_is_none() {
    use SystemSignal::{Interrupt, Quit, TerminalStop};
    let signals = [Interrupt, Quit, TerminalStop].map(Event::Signal);
    for last in signals.into_iter().chain([Event::Key(Key::Interrupt)]) {
        let what = format!("{last:?}");
        let played = play(WorldConfig::default(), &["battery in"], false, within, vec![(9000, Do::Comes(last))]);
        let at = Time(9_000_000);
        let stop = |(moment, bytes): &&(Time, Vec<u8>)| {
            *moment == at && classed(bytes).any(|(class, ..)| class == Some(FrameClass::Stop))
        };
        assert!(played.sent.iter().any(|sent| stop(&sent)), "{what}: no stop left in its event");
        assert!(matches!(&played.result, Err(Fault::Stopped { confirmed: true, .. })), "{what}: {:?}", played.result);
        assert!(played.pages().iter().all(|(shown, _)| *shown <= at), "{what}: no page over a stop");
    }
    let played = play(WorldConfig::default(), &["battery in"], false, within, vec![key(9000, Key::Char('q'))]);
    assert_eq!(played.result, Ok(()));
    assert!(!played.classes().contains(&FrameClass::Stop), "a key that only closes the page");
}

/// The watch of the session goes on under the page.
#[test]
fn a_start_that_nobody_asked_for_is_a_stop() {
    let before = [
        "battery in",
        "set ARM_CHANNEL 6",
        "set ARM_FROM 1754",
        "set ARM_TO 2146",
        "set SPIN_AT_ZERO 1",
        "set IDLE_US 1150",
    ];
    let plan = vec![(9000, Do::Line("flip B 2")), (11_000, Do::Line("flip B 0"))];
    let played = play(WorldConfig::default(), &before, false, within, plan);
    assert!(matches!(&played.result, Err(Fault::Stopped { .. })), "{:?}", played.result);
    let stop = played.shown.iter().find(|(_, shown)| matches!(shown, UiEvent::StopBegins { .. })).expect("a stop");
    assert!(stop.0.since(Time(9_000_000)) < Duration::from_millis(400), "{:?}", stop.0);
    assert!(played.classes().contains(&FrameClass::Stop));
    assert!(played.pages().iter().all(|(at, _)| *at <= stop.0), "no page over a stop");
}

#[test]
fn within_a_session_a_link_lost_on_the_page_latches() {
    let plan = vec![(9000, Do::Line("usb out")), (11_000, Do::Line("usb in")), key(20_000, Key::Enter)];
    let played = play(WorldConfig::default(), &[], false, within, plan);
    assert_eq!(played.result, Err(Fault::LinkLost));
    assert!(matches!(played.page_at(10_900).wire, Wire::Lost(_)));
    assert!(matches!(played.page_at(19_900).wire, Wire::Heard(_)));
    played.only_looked();
}

#[test]
fn a_link_lost_before_the_page_opens_is_no_page() {
    let played = play(WorldConfig::default(), &[], true, looks(looking()), vec![(50, Do::Line("usb out"))]);
    assert_eq!(played.result, Err(Fault::LinkLost));
    assert!(played.pages().is_empty());
}
