//! A whole rehearsal of the shipped first recipe, in process, and where its time goes.

use crate::spread::{Spread, beside, ms};
use quadjig::bench::attended::{AskedJob, RunJob, RunOptions, Task, WallClock, run};
use quadjig::bench::session::Session;
use quadjig::bench::session::context::SessionContext;
use quadjig::board::mavlink::MavlinkLink;
use quadjig::board::{shipped, vocabulary};
use quadjig::language::read;
use quadjig::language::sources::Disk;
use quadjig::measure::time::Time;
use quadjig::rehearsal::rehearse::{Script, rehearse, willing};
use quadjig::rehearsal::simulated::{Disk as Files, SimulatedWorld};
use quadjig::seam::{Event, PortName, World};
use quadjig::virtual_board::{World as Board, WorldConfig};
use std::cell::Cell;
use std::path::Path;
use std::rc::Rc;
use std::time::{Duration, Instant};

const GOAL: Duration = Duration::from_millis(10);

/// The shipped first recipe, as a rehearsal takes it.
pub fn script() -> Script {
    let words: Vec<&str> = vocabulary::WORDS.iter().map(|word| word.word).collect();
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("recipes/first-craft.jig");
    let reading = read(&Disk, &file, &[], &words);
    assert!(!reading.has_errors(), "{:?}", reading.findings);
    Script { recipe: reading.recipe.unwrap(), sheets: vec![shipped::sheet("finch").unwrap().unwrap()], card: None }
}

/// A session that runs the script from its beginning.
pub fn session(script: &Script, link: MavlinkLink) -> Session {
    let job = Rc::new(AskedJob::new(RunJob {
        title: script.recipe.title.value.clone(),
        task: Task::Recipe(Box::new(script.recipe.clone())),
        sheets: script.sheets.clone(),
        card: script.card.clone(),
        port: PortName::Virtual(None),
        clock: WallClock { started: jiff::Timestamp::UNIX_EPOCH },
        options: RunOptions::default(),
        name: "figures".to_owned(),
        begun: Cell::new(false),
        closed: Cell::new(false),
    }));
    let bench = Rc::new(SessionContext::default());
    let course = Box::pin(run(Rc::clone(&bench), job));
    Session::new(Box::new(link), bench, course, false)
}

pub fn figures(runs: usize) {
    println!("\nrehearsal of recipes/first-craft.jig, in process: time on a core");
    let script = script();
    let times = Spread::busy(runs, || {
        let config = WorldConfig::default();
        let mut operator = willing(&config);
        let ended = rehearse(&script, Board::new(config), &mut operator, Files::default(), |_, _| {});
        assert_eq!(ended.result, Ok(()));
    });
    println!("  median {}", beside(times.median(), GOAL));
    println!("  least  {}", beside(times.least(), GOAL));
    parts(&script, runs / 4 + 1);
}

/// Time and number of what one side of the seam did.
#[derive(Default, Clone, Copy)]
struct Part {
    time: Duration,
    count: u32,
}

impl Part {
    fn add<T>(&mut self, work: impl FnOnce() -> T) -> T {
        let begun = Instant::now();
        let done = work();
        self.time += begun.elapsed();
        self.count += 1;
        done
    }
}

/// The sides of the seam in the quickest of some runs.
fn parts(script: &Script, runs: usize) {
    let one = |_| {
        let config = WorldConfig::default();
        let mut operator = willing(&config);
        let mut ignore = |_, _: quadjig::rehearsal::simulated::TranscriptEvent<'_>| {};
        let mut world = SimulatedWorld::new(Board::new(config), &mut operator, Files::default(), &mut ignore);
        let mut session = session(script, MavlinkLink::new(None));
        // Waiting for the world; carrying out effects; the session by kind of event.
        let mut parts = [Part::default(); 5];
        let mut slowest = Duration::ZERO;
        while session.ended().is_none() {
            let (now, event) = parts[0].add(|| world.next(session.wake()));
            let kind = match event {
                Event::Bytes(..) => 2,
                Event::Tick => 3,
                _ => 4,
            };
            let (mut effects, begun) = (Part::default(), Instant::now());
            session.handle(now, event, &mut |effect| effects.add(|| world.act(effect)));
            let own = begun.elapsed().saturating_sub(effects.time);
            slowest = slowest.max(own);
            parts[1].time += effects.time;
            parts[1].count += effects.count;
            parts[kind].time += own;
            parts[kind].count += 1;
        }
        assert_eq!(session.ended(), Some(&Ok(())));
        (parts, slowest, world.now())
    };
    let (parts, slowest, simulated) = (0..runs)
        .map(one)
        .min_by_key(|(parts, ..)| parts.iter().map(|part| part.time).sum::<Duration>())
        .expect("more than none");
    println!("  {} s of simulated time; the sides of the seam:", simulated.since(Time(0)).as_secs());
    let names = [
        "virtual board, operator",
        "effects, board receiving",
        "session: bytes",
        "session: ticks",
        "session: keys, stores",
    ];
    for (name, part) in names.iter().zip(parts) {
        println!("    {name:<25} {} in {} calls", ms(part.time), part.count);
    }
    println!("    {:<25} {}", "slowest single event", ms(slowest));
}
