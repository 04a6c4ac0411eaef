//! One recipe played through on one virtual craft, unattended, from beginning to end.

use super::operator::{Operator, Willing};
use super::simulated::{Disk, Seen, SimulatedWorld};
use crate::bench::drive::drive;
use crate::bench::fault::Fault;
use crate::bench::handle::Bench;
use crate::bench::run::{NamedCard, RunJob, Task, WallClock, close, run};
use crate::bench::seam::PortName;
use crate::bench::session::Session;
use crate::bench::shown::Shown;
use crate::board::mavlink::MavlinkLink;
use crate::board::sheet::{Settings, Sheet};
use crate::language::recipe::Recipe;
use crate::measure::time::Time;
use crate::virtual_board::{BoardKind, World as VirtualWorld, WorldConfig};
use std::cell::Cell;
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
    /// Restarts of the board.
    pub restarts: u32,
    /// Simulated time on the bench.
    pub took: Time,
    /// What the board holds at the end, as the run knows it.
    pub settings: Settings,
    /// The board as it was left.
    pub board: VirtualWorld,
    /// What was written.
    pub disk: Disk,
}

/// The kind of virtual board that some sheets are for.
///
/// # Errors
/// None of them is for a board that can be rehearsed on.
pub fn kind_for(sheets: &[Sheet]) -> Result<BoardKind, Fault> {
    [BoardKind::Finch, BoardKind::FinchR]
        .into_iter()
        .find(|kind| sheets.iter().any(|sheet| sheet.board == kind.name()))
        .ok_or_else(|| {
            Fault::Plan(
                "A rehearsal plays on a virtual Finch or Finch R, and none of the recipe's boards is one of them."
                    .to_owned(),
            )
        })
}

/// The operator who goes with a world.
#[must_use]
pub fn willing(config: &WorldConfig) -> Willing {
    Willing {
        switches: config.radio.switches.iter().map(|switch| (switch.name.clone(), switch.rests.len())).collect(),
        stands: (config.attitude[0], config.attitude[1]),
    }
}

/// Plays a recipe through.
pub fn rehearse(
    script: &Script,
    board: VirtualWorld,
    operator: &mut dyn Operator,
    disk: Disk,
    mut watch: impl FnMut(Time, &Seen<'_>),
) -> Rehearsed {
    let (mut questions, mut restarts) = (0, 0);
    let mut seen = |now: Time, seen: Seen<'_>| {
        match &seen {
            Seen::Asked(_) => questions += 1,
            Seen::Shown(Shown::StepBegins { title, .. }) if title.starts_with("Restart") => restarts += 1,
            _ => {}
        }
        watch(now, &seen);
    };
    let job = Rc::new(RunJob {
        title: script.recipe.title.value.clone(),
        task: Task::Recipe(Box::new(script.recipe.clone())),
        sheets: script.sheets.clone(),
        card: script.card.clone(),
        port: PortName::Virtual(None),
        clock: WallClock { started: jiff::Timestamp::UNIX_EPOCH },
        name: "rehearsal".to_owned(),
        begun: Cell::new(false),
        closed: Cell::new(false),
    });
    let bench = Rc::new(Bench::default());
    let script = Box::pin(run(Rc::clone(&bench), Rc::clone(&job)));
    let closing = (Rc::clone(&bench), Rc::clone(&job));
    let mut session = Session::new(Box::new(MavlinkLink::new(None)), Rc::clone(&bench), script, false)
        .closing_with(move |fault| Box::pin(close(closing.0, closing.1, fault)));
    let began = board.now();
    let mut world = SimulatedWorld::new(board, operator, disk, &mut seen);
    let result = drive(&mut session, &mut world);
    let took = Time(world.now().0 - began.0);
    let settings = bench.look(|live| live.settings.clone());
    let (board, disk) = world.into_parts();
    Rehearsed { result, questions, restarts, took, settings, board, disk }
}
