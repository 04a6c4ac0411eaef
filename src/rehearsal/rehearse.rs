//! One recipe played through on one virtual craft, unattended, from beginning to end.

use super::operator::{Operator, Willing};
use super::simulated::{Disk, SimulatedWorld, TranscriptEvent};
use crate::bench::attended::{AskedJob, NamedCard, RunJob, RunOptions, Task, WallClock, close, run};
use crate::bench::session::Session;
use crate::bench::session::context::SessionContext;
use crate::bench::session::event_loop::drive;
use crate::board::link_detector;
use crate::board::sheet::{Settings, Sheet};
use crate::language::recipe::Recipe;
use crate::measure::time::Time;
use crate::seam::PortName;
use crate::seam::fault::Fault;
use crate::seam::ui::{IdleFound, UiEvent};
use crate::virtual_board::{World as VirtualWorld, WorldConfig};
use std::cell::Cell;
use std::collections::BTreeMap;
use std::rc::Rc;

/// What a rehearsal is made from.
#[derive(Debug, Clone)]
pub struct Script {
    /// The recipe, without errors.
    pub recipe: Recipe,
    /// Sheets to choose from.
    pub sheets: Vec<Sheet>,
    /// The radio card that was named; `None`: the craft's own, in its record.
    pub card: Option<NamedCard>,
}

/// How a rehearsal went.
pub struct Rehearsed {
    /// How it ended.
    pub result: Result<(), Fault>,
    /// Questions asked.
    pub questions: u32,
    /// How often the board came up anew, by the world's own truth.
    pub restarts: u32,
    /// Simulated time on the bench.
    pub took: Time,
    /// What the board holds at the end, as the run knows it.
    pub settings: Settings,
    /// Settings that the board stores otherwise than before, with what it stores now, by the world's own truth.
    pub changed: BTreeMap<String, serde_json::Value>,
    /// What the last idle search found.
    pub idle: Option<IdleFound>,
    /// The board as it was left.
    pub board: VirtualWorld,
    /// What was written.
    pub disk: Disk,
    /// Every byte that left for the board.
    pub sent: Vec<(Time, Vec<u8>)>,
}

/// The operator who goes with a world.
#[must_use]
pub fn willing(config: &WorldConfig) -> Willing {
    Willing {
        switches: config.radio.switches.iter().map(|switch| (switch.name.clone(), switch.rests.len())).collect(),
        stands: (config.attitude[0], config.attitude[1]),
        turned: Vec::new(),
        heads: config.attitude[2],
        meter: config.pack.at_rest(),
    }
}

/// Plays a recipe through.
pub fn rehearse(
    script: &Script,
    board: VirtualWorld,
    operator: &mut dyn Operator,
    disk: Disk,
    mut watch: impl FnMut(Time, &TranscriptEvent<'_>),
) -> Rehearsed {
    let (mut questions, mut idle) = (0, None);
    let mut seen = |now: Time, seen: TranscriptEvent<'_>| {
        match &seen {
            TranscriptEvent::Asked(_) => questions += 1,
            TranscriptEvent::Shown(UiEvent::Idle(found)) => idle = Some((*found).clone()),
            _ => {}
        }
        watch(now, &seen);
    };
    let job = Rc::new(AskedJob::new(RunJob {
        title: script.recipe.title.value.clone(),
        task: Task::Recipe(Box::new(script.recipe.clone())),
        sheets: script.sheets.clone(),
        card: script.card.clone(),
        port: PortName::Virtual(None),
        clock: WallClock { started: jiff::Timestamp::UNIX_EPOCH },
        options: RunOptions::default(),
        name: "rehearsal".to_owned(),
        begun: Cell::new(false),
        closed: Cell::new(false),
    }));
    let bench = Rc::new(SessionContext::default());
    let link = link_detector::link(&script.sheets, None);
    let script = Box::pin(run(Rc::clone(&bench), Rc::clone(&job)));
    let closing = (Rc::clone(&bench), Rc::clone(&job));
    let mut session = Session::new(link, Rc::clone(&bench), script, false)
        .closing_or_going_on(move |fault| Box::pin(close(Rc::clone(&closing.0), closing.1.job(), fault)));
    let (began, stored, starts) = (board.now(), stored(&board), board.starts());
    let mut world = SimulatedWorld::new(board, operator, disk, &mut seen);
    world.spied = Some(Vec::new());
    let result = drive(&mut session, &mut world);
    let took = Time(world.now().0 - began.0);
    let settings = bench.look(|live| live.settings.clone());
    let sent = world.spied.take().unwrap_or_default();
    let (board, disk) = world.into_parts();
    let restarts = board.starts() - starts;
    let mut changed = self::stored(&board);
    changed.retain(|name, value| stored.get(name) != Some(value));
    Rehearsed { result, questions, restarts, took, settings, changed, idle, board, disk, sent }
}

/// What the board stores of each setting.
fn stored(board: &VirtualWorld) -> BTreeMap<String, serde_json::Value> {
    let truth = board.truth();
    let settings = truth["settings"].as_object();
    settings.into_iter().flatten().map(|(name, value)| (name.clone(), value["stored"].clone())).collect()
}
