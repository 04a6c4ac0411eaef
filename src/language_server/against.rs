//! What a statement would change on a craft as its last snapshot has it: the dry run of `--against`, a statement at a
//! time.
//!
//! The craft is the one that `--craft` names, else one that goes by the words before the first comma of the recipe's
//! title. Promises: craft and moment of the snapshot are always named; nothing is written. Must not be here: how a plan
//! is made.

use super::markdown::{code, plain};
use super::workspace::{Judged, Workspace};
use crate::board::radio_card::RadioCard;
use crate::board::{identity, radio_card_file};
use crate::language::recipe::{Recipe, Statement, StatementKind};
use crate::language::span::Place;
use crate::language::turning::{Does, does};
use crate::plan::compile::compile;
use crate::plan::inputs::{Inputs, Progress};
use crate::plan::step::Plan;
use crate::record::crafts::find::{NotFound, find};
use crate::record::crafts::runs::runs;
use crate::record::crafts::state;
use crate::record::ledger::Ledger;
use crate::record::{CraftRecord, Snapshot, folder};
use std::path::PathBuf;

/// What is told about a statement; nothing where no craft is named, or none has a snapshot.
pub fn told(workspace: &Workspace, judged: &Judged, statement: &Statement) -> Option<String> {
    // What is a part of another recipe is planned there.
    let recipe = judged.reading.recipe.as_ref().filter(|recipe| !recipe.is_part)?;
    let folder = match craft_folder(workspace, recipe)? {
        Ok(folder) => folder,
        Err(error) => return Some(format!("Against no snapshot: {}.", plain(&error.to_string()))),
    };
    let record = match CraftRecord::read(&folder) {
        Ok(record) => record,
        Err(error) => return Some(format!("Against no snapshot: {}.", plain(&error.to_string()))),
    };
    let (file, snapshot) = last_snapshot(&record)?;
    let called = snapshot.board.told();
    let mark = if snapshot.board.is_virtual() { " (VIRTUAL)" } else { "" };
    let head = format!("Against {} of {}{mark}", code(&file), code(&called));
    if judged.reading.has_errors() {
        return Some(format!("{head}: nothing can be told while the recipe has errors."));
    }
    Some(match planned(judged, recipe, &record, &snapshot) {
        Err(why) => format!("{head}: {}", plain(&why)),
        Ok(Err(refused)) => {
            let at = recipe.place(&statement.span);
            let here: Vec<String> =
                refused.iter().filter(|(place, _)| holds(&at, place)).map(|(_, why)| why.clone()).collect();
            if here.is_empty() {
                format!("{head}: the recipe as a whole can't be carried out on it; see its other lines.")
            } else {
                format!("{head}: this can't be carried out: {}", plain(&here.join("; ")))
            }
        }
        Ok(Ok(plan)) => format!("{head}: {}", changes(&plan, recipe, statement)?),
    })
}

/// The folder of the craft that is named; by a title, where there is one.
fn craft_folder(workspace: &Workspace, recipe: &Recipe) -> Option<Result<PathBuf, NotFound>> {
    let crafts = workspace.setup.crafts.as_deref()?;
    match &workspace.setup.craft {
        Some(named) => Some(find(crafts, named)),
        None => find(crafts, recipe.title.value.split(',').next()?.trim()).ok().map(Ok),
    }
}

/// The snapshot by which a craft is known last, and the name of its file, which begins with the moment.
fn last_snapshot(record: &CraftRecord) -> Option<(String, Snapshot)> {
    let file = state::newest(&record.folder, runs(&record.journal).last()).ok()??;
    let snapshot = state::snapshot(&record.folder, &file).ok()?;
    Some((file, snapshot))
}

type Refused = Vec<(Place, String)>;

/// The plan of the recipe for the craft as it was; inside, what keeps it from being carried out.
fn planned(
    judged: &Judged,
    recipe: &Recipe,
    record: &CraftRecord,
    snapshot: &Snapshot,
) -> Result<Result<Plan, Refused>, String> {
    let sheet = identity::choose(&judged.sheets, &snapshot.board, &snapshot.settings).map_err(|why| why.to_string())?;
    let card = match (&judged.card, &record.radio_card) {
        (Some(card), _) => card.clone(),
        (None, Some(text)) => {
            let file = record.folder.join(folder::RADIO_CARD).display().to_string();
            radio_card_file::read(&file, text).map_err(|why| why.to_string())?
        }
        (None, None) => RadioCard::default(),
    };
    let inputs = Inputs {
        recipe,
        sheet,
        card: &card,
        record,
        identity: &snapshot.board,
        settings: &snapshot.settings,
        progress: Progress::below(&Ledger::of(record)),
        by_hand: false,
    };
    Ok(compile(&inputs)
        .map_err(|errors| errors.iter().map(|error| (error.at.clone(), error.problem.to_string())).collect()))
}

/// Whether a place lies in a statement's.
fn holds(statement: &Place, place: &Place) -> bool {
    let begins = |place: &Place| (place.line, place.column);
    statement.file == place.file
        && begins(statement) <= begins(place)
        && begins(place) <= (statement.end_line, statement.end_column)
}

/// What the statement changes, a line each.
fn changes(plan: &Plan, recipe: &Recipe, statement: &Statement) -> Option<String> {
    let at = recipe.place(&statement.span);
    let mut lines: Vec<String> = Vec::new();
    for change in plan.changes.iter().filter(|change| holds(&at, &change.at)) {
        let (from, to) = (&change.shown_from, &change.shown_to);
        lines.push(format!(
            "{} ({}): {} → {}",
            code(&change.setting),
            code(change.on_board.as_str()),
            code(from),
            code(to)
        ));
    }
    for unknown in plan.unknown.iter().filter(|unknown| holds(&at, &unknown.at)) {
        let range = format!("{} to {} {}", unknown.least, unknown.most, unknown.unit);
        lines.push(format!("{}: only the bench can tell, {}", code(&unknown.setting), range.trim_end()));
    }
    if !lines.is_empty() {
        return Some(format!("it would change\n\n- {}", lines.join("\n- ")));
    }
    let sets = matches!(does(&statement.what), Does::Writes) || matches!(statement.what, StatementKind::IdleSearch(_));
    sets.then(|| "it has this already; nothing would be written.".to_owned())
}
