//! A scene: a recipe run on a craft over a wire with the spy on it, by an operator who may do anything.

use super::log::Log;
use super::script::{Act, Weather};
use super::wire::{Made, Speaks, Spy};
use crate::bench::stand::{Hands, job};
use crate::pace::gives_way;
use mavlink::dialects::common::{COMMAND_LONG_DATA, MavCmd, MavMessage};
use mavlink::{MavHeader, write_v2_msg};
use quadjig::bench::attended::{AskedJob, RunJob, SheetTried, Task, WallClock, close, run};
use quadjig::bench::interactive::{InteractiveJob, InteractiveSession, begin, go_on};
use quadjig::bench::session::Session;
use quadjig::bench::session::context::SessionContext;
use quadjig::board::console::Capability;
use quadjig::board::packets::framing::Packet;
use quadjig::board::sheet::Sheet;
use quadjig::board::{link_detector, sheet_file, shipped};
use quadjig::measure::time::Time;
use quadjig::plan::trial::{SheetTrial, distrusted};
use quadjig::rehearsal::operator::{Deed, Operator};
use quadjig::rehearsal::simulated::{Disk, SimulatedWorld, TranscriptEvent};
use quadjig::report::screen::Style;
use quadjig::report::transcript::Transcript;
use quadjig::seam::fault::Fault;
use quadjig::seam::ui::{Gesture, Question};
use quadjig::seam::{LineAsked, LineRead, PortName, World as _};
use quadjig::virtual_board::{BoardKind, World, WorldConfig};
use std::cell::Cell;
use std::collections::VecDeque;
use std::rc::Rc;
use std::time::Duration;

/// Longest simulated time of a scene, where it says no other.
const LONGEST: Duration = Duration::from_secs(45 * 60);

/// See the module.
pub struct Scene<'a> {
    pub recipe: String,
    pub sheet: Sheet,
    pub config: WorldConfig,
    pub board: World,
    /// The other craft.
    pub other: Option<World>,
    pub disk: Disk,
    pub hands: Hands<'a>,
    pub acts: Vec<Act<'a>>,
    /// Typed at the bench prompt, one after another, each after so many milliseconds; then it is left. `None`: the
    /// recipe is run instead.
    pub typed: Option<Vec<(u64, &'static str)>>,
    /// A claim of the sheet is tried instead.
    pub trial: Option<SheetTrial>,
    pub lag: Duration,
    pub weather: Weather,
    /// The port stays open while the board restarts.
    pub stays: bool,
    /// How long the crafts are watched after the program's end.
    pub after: Duration,
    /// After so long it counts as one that does not end.
    pub limit: Duration,
}

/// How it went.
pub struct Played {
    pub result: Result<(), Fault>,
    pub log: Log,
    /// What the crafts were made of.
    pub config: WorldConfig,
    /// The whole screen, as text.
    pub screen: String,
    /// The craft on the wire at the end.
    pub board: World,
    pub disk: Disk,
    /// When the program ended.
    pub ended: Time,
}

impl Played {
    /// The journal as it was left.
    pub fn journal(&self) -> String {
        let file = self.disk.craft.iter().find(|(path, _)| path.ends_with(quadjig::record::journal::FILE));
        file.map(|(_, bytes)| String::from_utf8_lossy(bytes).into_owned()).unwrap_or_default()
    }

    /// The screen with its lines joined, so that a sentence is found however it was broken.
    pub fn flat(&self) -> String {
        self.screen.split_whitespace().filter(|word| *word != "┃" && *word != "│").collect::<Vec<_>>().join(" ")
    }

    /// The value that the board truly holds, or stores.
    pub fn setting(&self, name: &str, stored: bool) -> serde_json::Value {
        self.board.truth()["settings"][name][if stored { "stored" } else { "working" }].clone()
    }
}

/// A recipe on the default craft with everything that these scenes share, then these lines.
pub fn recipe_with(board: BoardKind, lines: &str) -> String {
    format!(
        "recipe \"Wren 95, scene\"\nedition 1\ncraft quad x turning inward\nboard \"{}\"\n\
         require props off\nrequire throttle low\nchannels roll, pitch, throttle, yaw\n\
         switch B on channel 6 rests at 1000, 1500, 2000 on link loss flagged\n\
         bind arm to switch B position 2\nat zero throttle spin\nidle at 1150\n{lines}",
        board.name()
    )
}

/// The frame that has a board store.
fn store() -> Vec<u8> {
    let mut bytes = Vec::new();
    let data = COMMAND_LONG_DATA {
        param1: 1.0,
        command: MavCmd::MAV_CMD_PREFLIGHT_STORAGE,
        target_system: 1,
        target_component: 1,
        ..COMMAND_LONG_DATA::default()
    };
    write_v2_msg(&mut bytes, MavHeader::default(), &MavMessage::COMMAND_LONG(data)).unwrap();
    bytes
}

/// A craft on which arm is bound to switch B already, with motors that spin at idle.
pub fn bound(config: &WorldConfig) -> World {
    let mut board = World::new(config.clone());
    let arm = if matches!(config.board, BoardKind::Finch | BoardKind::FinchP) { "ARM" } else { "ROW1" };
    for setting in [
        format!("{arm}_CHANNEL 6"),
        format!("{arm}_FROM 1754"),
        format!("{arm}_TO 2146"),
        "SPIN_AT_ZERO 1".to_owned(),
        "IDLE_US 1150".to_owned(),
    ] {
        board.line(Time(0), &format!("set {setting}")).unwrap();
    }
    let store = match shipped_sheet(config.board).packets() {
        Some(packets) => packets.framing.encode(&Packet {
            id: packets.exchange(Capability::Store).and_then(|store| store.ask.as_ref()).unwrap().id,
            sequence: 1,
            payload: Vec::new(),
        }),
        None if config.board.has_console() => b"\rkeep\r".to_vec(),
        None => store(),
    };
    board.receive(Time(0), &store);
    let _answered = board.take_output();
    board
}

fn shipped_sheet(board: BoardKind) -> Sheet {
    shipped::sheet(board.name()).unwrap().unwrap()
}

/// The sheet of a console that says nothing when its board starts.
pub fn without_banner(sheet: &str) -> String {
    let rest: Vec<&str> = sheet.lines().filter(|line| !line.starts_with("banner = ")).collect();
    assert_eq!(rest.len() + 1, sheet.lines().count());
    rest.join("\n") + "\n"
}

/// The Finch C's, read.
pub fn finch_c_without_banner() -> Sheet {
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/recipes/boards/finch-c.toml");
    sheet_file::read("finch-c.toml", &without_banner(&std::fs::read_to_string(file).unwrap())).unwrap()
}

impl<'a> Scene<'a> {
    pub fn new(config: &WorldConfig, lines: &str) -> Self {
        Self {
            recipe: recipe_with(config.board, lines),
            sheet: match config.board {
                BoardKind::FinchC if config.console.no_banner => finch_c_without_banner(),
                board => shipped_sheet(board),
            },
            board: World::new(config.clone()),
            hands: Hands::willing(config),
            config: config.clone(),
            other: None,
            disk: Disk::default(),
            acts: Vec::new(),
            typed: None,
            trial: None,
            lag: Duration::ZERO,
            weather: Weather::default(),
            stays: false,
            after: Duration::ZERO,
            limit: LONGEST,
        }
    }

    /// On a craft that is set up already.
    pub fn on_bound(config: &WorldConfig, lines: &str) -> Self {
        Self { board: bound(config), ..Self::new(config, lines) }
    }

    pub fn act(mut self, act: Act<'a>) -> Self {
        self.acts.push(act);
        self
    }

    pub fn play(mut self) -> Played {
        gives_way();
        for board in [Some(&mut self.board), self.other.as_mut()].into_iter().flatten().filter(|_| self.stays) {
            board.line(board.now(), "port stays").unwrap();
        }
        let sheets = vec![self.sheet];
        let mut session = match (&self.typed, self.trial) {
            (Some(_), _) => sitting(&sheets),
            (None, Some(what)) => trying(&self.recipe, what, &sheets),
            (None, None) => running(job(&self.recipe, None, None, sheets.clone())),
        };
        let mut operator = Sits { hands: self.hands, lines: self.typed.unwrap_or_default().into() };
        let mut transcript = Transcript::new(Style { plain: true, ..Style::default() });
        let mut screen = String::new();
        let mut seen = |_: Time, seen: TranscriptEvent<'_>| screen.push_str(&transcript.seen(&seen));
        let began = self.board.now();
        let inner = SimulatedWorld::new(self.board, &mut operator, self.disk, &mut seen);
        let made = Made {
            aside: self.other,
            speaks: Speaks::of(self.config.board),
            lag: self.lag,
            weather: self.weather,
            acts: self.acts,
        };
        let mut spy = Spy::new(inner, made);
        let (result, ended) = loop {
            let (now, event) = spy.next(session.wake());
            if now.since(began) > self.limit {
                let what = "the scene did not end".to_owned();
                break (Err(Fault::TimedOut { what, seconds: self.limit.as_secs() }), now);
            }
            session.handle(now, event, &mut |effect| spy.act(effect));
            if let Some(result) = session.ended() {
                break (result.clone(), now);
            }
        };
        drop(session);
        spy.let_pass(self.after);
        let (log, board, disk) = spy.into_parts();
        Played { result, config: self.config, log, screen, board, disk, ended }
    }
}

/// A session that tries a claim of the sheet.
fn trying(recipe: &str, what: SheetTrial, sheets: &[Sheet]) -> Session {
    let tried = SheetTried { what, sheet: sheets[0].clone(), began: Cell::new(None) };
    let believed = sheets.iter().map(distrusted).collect();
    running(RunJob { task: Task::Trial(Box::new(tried)), ..job(recipe, None, None, believed) })
}

/// A session that runs a job.
fn running(job: RunJob) -> Session {
    let sheets = job.sheets.clone();
    let job = Rc::new(AskedJob::new(job));
    let bench = Rc::new(SessionContext::default());
    let script = Box::pin(run(Rc::clone(&bench), Rc::clone(&job)));
    let closing = (Rc::clone(&bench), Rc::clone(&job));
    Session::new(link_detector::link(&sheets, None), bench, script, false)
        .closing_or_going_on(move |fault| Box::pin(close(Rc::clone(&closing.0), closing.1.job(), fault)))
}

/// A session at the bench prompt.
fn sitting(sheets: &[Sheet]) -> Session {
    let bench = Rc::new(SessionContext::default());
    let job = InteractiveJob {
        title: Some("Wren 95".to_owned()),
        sheets: sheets.to_vec(),
        card: None,
        port: PortName::Virtual(None),
        clock: WallClock { started: jiff::Timestamp::UNIX_EPOCH },
        name: "by hand".to_owned(),
        operator: None,
        beside: None,
    };
    let hand = Rc::new(InteractiveSession::new(Rc::clone(&bench), job));
    let script = Box::pin(begin(Rc::clone(&hand)));
    Session::new(link_detector::link(sheets, None), bench, script, false)
        .going_on_with(move |fault| Box::pin(go_on(Rc::clone(&hand), fault)))
}

/// Somebody at the prompt, or at a run.
struct Sits<'a> {
    hands: Hands<'a>,
    lines: VecDeque<(u64, &'static str)>,
}

impl Operator for Sits<'_> {
    fn asked(&mut self, question: &Question) -> Vec<(Duration, Deed)> {
        self.hands.asked(question)
    }

    fn invited(&mut self, gesture: &Gesture) -> Vec<(Duration, Deed)> {
        self.hands.invited(gesture)
    }

    fn line(&mut self, _: &LineAsked) -> (Duration, LineRead) {
        let (after, line) = self.lines.pop_front().unwrap_or((2000, "leave"));
        (Duration::from_millis(after), LineRead::Typed(line.to_owned()))
    }
}
