//! One seed played: which recipe on which craft, the run under its faults, and what the judge found.
//!
//! Must not be here: what is right.

use super::dice::{Decision, Dice, Kind, Moment, Part};
use super::disk::DiskFault;
use super::fates::FALSE_SPEEDS;
use super::hands::Hands;
use super::judge::{Broken, Judge, Planned};
use super::settled::{BrokenOff, runs_again};
use super::typed::Speech;
use super::world::FaultWorld;
use crate::bench::stand::job;
use crate::pace::gives_way;
use crate::spy::{bound, recipe_with};
use quadjig::bench::attended::{AskedJob, WallClock, close, run};
use quadjig::bench::interactive::{InteractiveJob, InteractiveSession, begin, go_on};
use quadjig::bench::monitor::live_page::{Looking, leave, look};
use quadjig::bench::session::Session;
use quadjig::bench::session::context::SessionContext;
use quadjig::board::sheet::Sheet;
use quadjig::board::{link_detector, shipped};
use quadjig::measure::time::Time;
use quadjig::rehearsal::rehearse::willing;
use quadjig::seam::fault::Fault;
use quadjig::seam::{Event, Key, PortName, World as _};
use quadjig::virtual_board::{BoardKind, Encoding, World as Craft, WorldConfig};
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::rc::Rc;
use std::time::Duration;

/// No run of three statements takes longer, whatever befalls it.
const LONGEST: Duration = Duration::from_secs(2400);

/// How long a world goes on after its program was killed: longer than a guardian.
const OUTLIVES: Duration = Duration::from_secs(5);

/// What no console can have, or has no means to tell from the truth: a line has neither checksum nor number.
const NOT_AT_A_CONSOLE: [Kind; 10] = [
    Kind::FalseSpeeds,
    Kind::BitFlip,
    Kind::Truncate,
    Kind::Garbage,
    Kind::LateAnswer,
    Kind::OtherVehicle,
    Kind::Beside,
    Kind::SlowFlag,
    Kind::Clock,
    Kind::ClockJump,
];

/// What is run: its lines, and whether the craft is set up before.
pub const RECIPES: [(&str, bool); 10] = [
    ("keep\n", false),
    ("keep\ntest arm\n", false),
    ("signal dshot300 at 4 kHz\nkeep\npower cycle\n", false),
    ("require battery in\ntest idle in 2 starts\n", true),
    ("require battery in\ntest cut within 900 ms\n", true),
    ("failsafe cut motors after 500 ms\nkeep\nrequire battery in\ntest failsafe within 3 s\n", true),
    ("search", true),
    ("look", true),
    ("prompt", false),
    ("prompt, set up", true),
];

/// What is typed at the prompt, on a new craft and on one that is set up.
const LINES: [&[&str]; 2] = [
    &[
        "require props off",
        "require battery out",
        "switch B on channel 6 rests at 1000, 1500, 2000",
        "find link loss",
        "bind arm to switch B position 2",
        "at zero throttle spin",
        "idle at 1120",
        "undo",
        "keep",
        "test arm",
        "idle at 1150",
        "keep",
        "undo",
        "leave",
    ],
    &[
        "require props off",
        "require antenna on",
        "switch B on channel 6 rests at 1000, 1500, 2000",
        "require battery in",
        "idle at 1160",
        "keep",
        "test idle in 2 starts",
        "test cut within 900 ms",
        "undo",
        "run \"seed.jig\"",
        "go on",
        "leave",
    ],
];
/// What `run` at the prompt finds in its file.
pub const RUN: &str = "recipe \"Wren 95, seed\"\nedition 1\ncraft quad x\nboard \"Finch\"\nrequire props off\n\
    channels roll, pitch, throttle, yaw\nrequire battery out\nfailsafe cut motors after 500 ms\nidle at 1140\nkeep\n";

const SEARCH: &str = "recipe \"Wren 95, seed\"\nedition 1\ncraft quad x turning inward\nboard \"Finch\"\n\
    require props off\nrequire throttle low\nchannels roll, pitch, throttle, yaw\n\
    switch B on channel 6 rests at 1000, 1500, 2000 on link loss flagged\nbind arm to switch B position 2\n\
    at zero throttle spin\nrequire battery in\nrequire level within 2 deg\nidle start at 1090 step 20 until all spin\nkeep\n";

/// How a seed went.
pub struct Played {
    pub broken: Vec<Broken>,
    pub met: BTreeMap<&'static str, u64>,
    /// What befell it, with the state that the program was in.
    pub fired: Vec<(Decision, String)>,
    pub recipe: &'static str,
    pub ended: String,
    pub took: Duration,
    /// Of everything that left and was handed over.
    pub trace: u64,
    /// How many frames there were, the numbers of those that were more than telemetry, and how many effects.
    pub frames: u64,
    pub talk: Vec<u64>,
    pub effects: u64,
    /// How many effects there had been when each frame left that acts, and how many steps of the disk there were.
    pub acts: Vec<u64>,
    pub disk_steps: usize,
    /// See `Judge::driven`.
    pub driven: Vec<(Duration, Option<Duration>)>,
    /// In words, for a message.
    pub told: Vec<(Time, String)>,
    /// For a judge of another hand.
    pub lines: Vec<String>,
}

/// The other craft: propellers on, battery in, arm bound; armed by its own pilot, or not. It was switched on with the first,
/// or so many ms later.
fn other(of: BoardKind, armed: bool, nameless: bool, on: u64) -> Craft {
    // On one wire both speak alike.
    let kind = if of.has_console() { of } else { BoardKind::Finch };
    let mut config = WorldConfig { seed: 0xB, board: kind, ..WorldConfig::default() };
    config.pack.plugged = true;
    if nameless {
        config.conduct.id = quadjig::virtual_board::GivenId::Zero;
    }
    let mut board = bound(&config);
    let later = Time(3_000_000);
    board.line(Time(0), "props on").unwrap();
    if on > 0 {
        board.line(Time(on * 1000), "restart").unwrap();
    }
    board.advance(later);
    // It tells as much and as often as the first: nothing else keeps its motors from being run.
    if !kind.has_console() {
        board.receive(later, &streams());
    }
    if armed {
        board.line(later, "flip B 2").unwrap();
    }
    board.advance(Time(3_100_000));
    let _before = board.take_output();
    board
}

/// Requests that have a board send all that a session watches.
fn streams() -> Vec<u8> {
    use mavlink::dialects::common::{COMMAND_LONG_DATA, MavCmd, MavMessage};
    let mut bytes = Vec::new();
    for (param1, hz) in [(0.0, 10.0), (65.0, 50.0), (36.0, 50.0), (30.0, 20.0), (1.0, 10.0), (291.0, 20.0)] {
        let command = MavCmd::MAV_CMD_SET_MESSAGE_INTERVAL;
        let data = COMMAND_LONG_DATA {
            param1,
            param2: 1e6 / hz,
            command,
            target_system: 1,
            target_component: 1,
            ..COMMAND_LONG_DATA::default()
        };
        mavlink::write_v2_msg(&mut bytes, mavlink::MavHeader::default(), &MavMessage::COMMAND_LONG(data)).unwrap();
    }
    bytes
}

/// A stop that arrives is obeyed, and nothing but the program decides what arrives.
fn obeys(dice: &Dice) -> bool {
    let harmless = [
        Kind::Key,
        Kind::Interrupt,
        Kind::WrongWord,
        Kind::NoAnswer,
        Kind::LateHand,
        Kind::SlowFlag,
        Kind::NoSensor,
        Kind::Split,
        Kind::Duplicate,
        Kind::Killed,
        Kind::Freeze,
        Kind::GuardianKilled,
        Kind::GuardianStopped,
    ];
    Kind::ALL.iter().all(|kind| !dice.has(*kind) || harmless.contains(kind))
}

/// Plays a seed.
pub fn play(seed: u64, part: Part) -> Played {
    let tells = part.tells;
    play_with(Dice::new(seed, part), seed, tells)
}

/// What is run, on which craft, and whether the program is killed at an effect, from 1, and its recovery once more.
#[derive(Debug, Clone, Copy)]
pub struct Scene {
    /// Of [`RECIPES`], or a whole recipe.
    pub recipe: &'static str,
    /// The craft is set up before.
    pub is_bound: bool,
    pub board: BoardKind,
    pub killed_at: Option<u64>,
    pub killed_again: Option<u64>,
    /// How a run that broke off is settled; `None`: by the dice.
    pub puts_back: Option<bool>,
    /// What befalls the disk at a step, from 0; `None`: by the dice.
    pub disk: Option<(usize, DiskFault)>,
    /// What the board is like from the beginning, as a line of its world, besides what the dice say.
    pub conduct: Option<&'static str>,
}

impl Scene {
    /// One that nothing befalls besides what the dice say.
    pub fn new(recipe: &'static str, is_bound: bool, board: BoardKind) -> Self {
        Self {
            recipe,
            is_bound,
            board,
            killed_at: None,
            killed_again: None,
            puts_back: None,
            disk: None,
            conduct: None,
        }
    }
}

/// Plays what these decisions say; `seed` is the crafts' own.
pub fn play_with(dice: Dice, seed: u64, tells: bool) -> Played {
    // An eye for motors that turn sees some.
    let recipes = if dice.eye() == Some(Moment::Turning) { &RECIPES[3..7] } else { &RECIPES[..] };
    let (recipe, is_bound) = recipes[usize::try_from(dice.choose("recipe", recipes.len() as u64)).unwrap()];
    let board = match (dice.choose("console", 5), dice.choose("rows", 4)) {
        _ if recipe == "search" || recipe.starts_with("prompt") => BoardKind::Finch,
        (0, _) => BoardKind::FinchC,
        (_, 0) => BoardKind::FinchR,
        _ => BoardKind::Finch,
    };
    let scene = Scene::new(recipe, is_bound, board);
    play_scene(scene, dice, seed, tells)
}

/// The world of a scene as it begins, and what its first craft is like.
fn prepared(scene: Scene, mut dice: Dice, seed: u64, tells: bool) -> (FaultWorld, Vec<String>) {
    let Scene { recipe, is_bound, board, .. } = scene;
    let speech = if board.has_console() { Speech::Lines } else { Speech::Frames };
    if speech == Speech::Lines {
        dice.without(&NOT_AT_A_CONSOLE);
    }
    let mut config = WorldConfig { seed: seed << 8 | 1, board, ..WorldConfig::default() };
    if dice.choose("cast", 3) == 0 {
        config.encoding = Encoding::Cast;
    }
    config.conduct.port_stays = dice.choose("stays", 3) == 0;
    if dice.choose("flag", 4) == 0 {
        config.conduct.flag_every = Duration::from_secs(1);
    }
    let mut before = before(&mut dice);
    before.extend(scene.conduct.map(str::to_owned));
    let mut craft = if is_bound { bound(&config) } else { Craft::new(config.clone()) };
    for line in &before {
        craft.line(Time(0), line).unwrap();
    }
    let nameless = dice.has(Kind::NoId);
    let on = [0, 1, 300, 1700][usize::try_from(dice.choose("on", 4)).unwrap()];
    let crafts = [craft, other(board, dice.choose("armed", 2) == 0, nameless, on)];
    let mut judge = Judge::default();
    (judge.looks, judge.senses, judge.calm) = (recipe == "look", true, !dice.has_any());
    // It comes up 1.2 s after it was switched on, and the first was up at once.
    // A console tells no clock at all.
    judge.alike = on == 0 || speech == Speech::Lines;
    judge.tells = tells;
    judge.obeys = obeys(&dice);
    judge.repeats = dice.has(Kind::LateAnswer) || dice.has(Kind::Duplicate);
    judge.meets(&crafts);
    let disk = [
        (Kind::DiskOnce, DiskFault::FailsOnce),
        (Kind::DiskFull, DiskFault::Full),
        (Kind::DiskKills, DiskFault::KilledIn),
    ];
    let disk = disk.into_iter().find_map(|(kind, fault)| Some((dice.made(kind)?.below(160), fault)));
    let lag = dice.made(Kind::Lag).map_or(Duration::ZERO, |mut how| how.ms(5, 400));
    let lines = LINES[usize::from(is_bound)].iter().copied().collect();
    let hands = Hands { willing: willing(&config), puts_back: false, put_back: false, lines };
    judge.prompt = recipe.starts_with("prompt");
    judge.planned = Planned::on(&crafts, speech);
    text(recipe, board).lines().for_each(|line| judge.planned.line(line));
    let mut world = FaultWorld::new(crafts, dice, hands, judge);
    world.speaks(speech);
    world.is_traced(seed, recipe);
    world.lag(lag);
    world.guarded = recipe != "look";
    world.killed_at = scene.killed_at;
    world.disk.named.insert("seed.jig".into(), RUN.as_bytes().to_vec());
    world.disk.fault = scene.disk.or(disk.map(|(step, fault)| (usize::try_from(step).unwrap(), fault)));
    (world, before)
}

/// With these a search of the idle may find none, however often.
const FINDS_NOTHING: [Kind; 4] = [Kind::MotorStuck, Kind::NoSpeeds, Kind::FalseSpeeds, Kind::WindsUp];

/// Plays a scene.
pub fn play_scene(scene: Scene, dice: Dice, seed: u64, tells: bool) -> Played {
    gives_way();
    let Scene { recipe, board, .. } = scene;
    let speech = if board.has_console() { Speech::Lines } else { Speech::Frames };
    let (mut world, before) = prepared(scene, dice, seed, tells);
    let settings = world.crafts[0].truth()["settings"].clone();
    let bench = Rc::new(SessionContext::default());
    let mut session = session(recipe, board, &bench);
    let (result, trace) = drive(&mut world, &mut session, &bench, recipe == "look");
    let at = world.now();
    if matches!(result, Some(Ok(()))) && recipe != "look" {
        world.ends_well(recipe);
    }
    let mut broken = std::mem::take(&mut world.judge.broken);
    let mut breaks = |property, what: String| broken.push(Broken { property, at, what });
    match &result {
        None if world.dead => {}
        None => breaks("L3", "it did not end".to_owned()),
        Some(Err(fault)) if world.judge.calm => breaks("L1", format!("without any fault it ended in: {fault}")),
        Some(_) => {}
    }
    *world.judge.met.entry("L1, L4").or_default() += u64::from(world.judge.calm);
    if recipe == "look" {
        *world.judge.met.entry("S10").or_default() += 1;
        if world.crafts[0].truth()["settings"] != settings {
            breaks("S10", "a command that only looks changed a setting".to_owned());
        }
    }
    // What no search gets past is found out whenever it is finished.
    let back = scene.puts_back.unwrap_or(world.dice.choose("back", 2) == 0)
        || FINDS_NOTHING.iter().any(|kind| world.dice.has(*kind));
    let meddled = scene.killed_at.map_or(world.dice.choose("meddled", 3) == 0, |at| at % 2 == 0);
    let broken_off =
        BrokenOff { world: &world, before: &settings, speech, back, killed_at: scene.killed_again, meddled };
    let is_honest = scene.conduct.is_none() && broken_off.is_honest();
    if recipe != "look" && !matches!(result, Some(Ok(()))) && broken.is_empty() && is_honest {
        broken.extend(broken_off.settles());
        *world.judge.met.entry("L2").or_default() += 1;
    }
    if world.judge.calm && text(recipe, board).contains("\nkeep\n") && world.dice.choose("again", 2) == 0 {
        *world.judge.met.entry("L6").or_default() += 1;
        broken.extend(runs_again(&world, speech, recipe));
    }
    let mut told = std::mem::take(&mut world.did);
    told.append(&mut world.judge.log);
    told.extend(before.iter().map(|line| (Time(0), line.clone())));
    told.sort_by_key(|(at, _)| *at);
    Played {
        broken,
        met: std::mem::take(&mut world.judge.met),
        fired: std::mem::take(&mut world.dice.fired),
        recipe,
        ended: result.map_or(if world.dead { "it was killed" } else { "it did not end" }.to_owned(), |result| {
            result.map_or_else(|fault| fault.to_string(), |()| "well".to_owned())
        }),
        took: at.since(Time(0)),
        trace,
        frames: world.dice.frames,
        talk: std::mem::take(&mut world.dice.talk),
        effects: world.effects,
        acts: std::mem::take(&mut world.acts),
        disk_steps: world.disk.steps(),
        driven: std::mem::take(&mut world.judge.driven),
        told,
        lines: std::mem::take(&mut world.trace.lines),
    }
}

/// What the craft is like from the beginning.
fn before(dice: &mut Dice) -> Vec<String> {
    let mut lines = Vec::new();
    for (kind, words) in [
        (Kind::NoSensor, &["sensor off"][..]),
        (Kind::SlowFlag, &["flag slow"]),
        (Kind::NoId, &["id zero", "id refused", "id silent"]),
        (Kind::Clock, &["clock 0.98", "clock 1.02", "clock 0.999"]),
        (
            Kind::Hollow,
            &["deed write hollow", "deed store hollow", "deed restart hollow", "deed disarm hollow", "deed run hollow"],
        ),
        (
            Kind::Unanswered,
            &["deed write silent", "deed store silent", "deed restart silent", "deed disarm silent", "deed run silent"],
        ),
        (Kind::Late, &["deed store 900", "deed restart 6000", "deed disarm 250", "deed write 300"]),
        (Kind::StoresNot, &["deed store hollow"]),
        (Kind::Rearms, &["rearms on"]),
        (Kind::ByChange, &["switch change"]),
        (Kind::MotorStuck, &["threshold rear left 2000"]),
        (Kind::NoSpeeds, &["speeds off"]),
        (Kind::FalseSpeeds, &FALSE_SPEEDS),
        (Kind::Leases, &["lease ignored", "lease unplugged"]),
        (Kind::WindsUp, &["windup 3 1 0", "windup 12 6 4"]),
    ] {
        if let Some(mut how) = dice.made(kind) {
            lines.push(how.of(words).to_owned());
        }
    }
    lines
}

thread_local! {
    /// Each is read once: its patterns take longer to build than many a seed to play.
    static SHEETS: RefCell<BTreeMap<&'static str, Sheet>> = RefCell::default();
}

pub fn sheet(board: BoardKind) -> Sheet {
    SHEETS.with_borrow_mut(|sheets| {
        sheets.entry(board.name()).or_insert_with(|| shipped::sheet(board.name()).unwrap().unwrap()).clone()
    })
}

/// A session with a board that may start motors.
pub fn session_of(board: BoardKind, bench: &Rc<SessionContext>, script: quadjig::bench::session::Script) -> Session {
    Session::new(link_detector::link(&[sheet(board)], None), Rc::clone(bench), script, false)
}

/// The whole recipe that is run; nothing where none is.
fn text(recipe: &str, board: BoardKind) -> String {
    match recipe {
        "search" => SEARCH.to_owned(),
        "look" | "prompt" | "prompt, set up" => String::new(),
        whole if whole.starts_with("recipe ") => whole.to_owned(),
        lines => recipe_with(board, lines),
    }
}

pub fn session(recipe: &str, board: BoardKind, bench: &Rc<SessionContext>) -> Session {
    if recipe == "look" {
        let (looks, leaves) = (Rc::clone(bench), Rc::clone(bench));
        let script = Box::pin(async move { look(&looks, &PortName::Virtual(None), &Looking::default()).await });
        let link = link_detector::link(&[sheet(board)], None);
        return Session::new(link, Rc::clone(bench), script, true).closing_with(move |_| {
            Box::pin(async move {
                leave(&leaves).await;
                Ok(())
            })
        });
    }
    if recipe.starts_with("prompt") {
        let job = InteractiveJob {
            title: Some("Wren 95".to_owned()),
            sheets: vec![sheet(board)],
            card: None,
            port: PortName::Virtual(None),
            clock: WallClock { started: jiff::Timestamp::UNIX_EPOCH },
            name: "by hand".to_owned(),
            operator: None,
            beside: None,
        };
        let hand = Rc::new(InteractiveSession::new(Rc::clone(bench), job));
        let script = Box::pin(begin(Rc::clone(&hand)));
        return session_of(board, bench, script).going_on_with(move |fault| Box::pin(go_on(Rc::clone(&hand), fault)));
    }
    let job = Rc::new(AskedJob::new(job(&text(recipe, board), None, None, vec![sheet(board)])));
    let script = Box::pin(run(Rc::clone(bench), Rc::clone(&job)));
    let closing = (Rc::clone(bench), Rc::clone(&job));
    session_of(board, bench, script)
        .closing_or_going_on(move |fault| Box::pin(close(Rc::clone(&closing.0), closing.1.job(), fault)))
}

/// Runs it to its end; `None`: it has none.
pub fn drive(
    world: &mut FaultWorld,
    session: &mut Session,
    bench: &SessionContext,
    looks: bool,
) -> (Option<Result<(), Fault>>, u64) {
    let began = world.now();
    let mut trace = DefaultHasher::new();
    let mut left = false;
    loop {
        let (now, mut event) = world.next(session.wake());
        if world.dead {
            world.outlives(OUTLIVES);
            return (None, trace.finish());
        }
        if looks && !left && now.since(began) > Duration::from_secs(9) {
            left = true;
            event = Event::Key(Key::Char('q'));
        }
        if let Event::Bytes(bytes) = &event {
            (now.0, bytes).hash(&mut trace);
        }
        session.handle(now, event, &mut |effect| {
            if let quadjig::seam::Effect::Send { bytes, .. } = &effect {
                (now.0, bytes).hash(&mut trace);
            }
            world.act(effect);
        });
        world.is_in(bench.phase());
        if let Some(result) = session.ended() {
            return (Some(result.clone()), trace.finish());
        }
        if world.stuck || now.since(began) > LONGEST {
            return (None, trace.finish());
        }
    }
}
