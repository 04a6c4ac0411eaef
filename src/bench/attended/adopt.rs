//! From a board that answers to all that is known of it: its sheet, its stillness, its record, its radio.
//!
//! Must not be here: plans.

use crate::bench::attended::connect::Connected;
use crate::bench::attended::interrupted::say_interrupted;
use crate::bench::attended::job::{NamedCard, RunJob};
use crate::bench::attended::run_state::{RunState, with_declared};
use crate::bench::session::context::SessionContext;
use crate::board::document::DocumentError;
use crate::board::radio_card::RadioCard;
use crate::board::radio_card_file;
use crate::plan::inputs::Progress;
use crate::record::ledger::Ledger;
use crate::record::{CraftRecord, folder};
use crate::seam::fault::Fault;
use crate::seam::ui::Tone;

/// Takes a board that was connected to in: nothing is written to it.
///
/// # Errors
/// No sheet fits, it is armed or not still, its record is held, or its radio card is none for it.
pub async fn adopt_board(bench: &SessionContext, job: &RunJob, known: &Connected) -> Result<RunState, Fault> {
    let sheet = bench.choose_sheet(&job.sheets, known, &job.title)?;
    bench.show_board(&job.port, known);
    if let Some(why) = bench.copy_of(String::new(), &known.identity, known.settings.clone()).not_whole() {
        let text = format!(
            "The copy of all settings from before will not be whole: {why}. `quadjig restore` will not bring it back; what \
             is written here is taken back by `undo` and `quadjig recover` all the same."
        );
        bench.line(Tone::Warning, text);
    }
    bench.watch_it().await?;
    let record = bench.open_record(&known.identity).await?;
    if let Some(name) = known.identity.name.as_ref().filter(|_| record.journal.is_empty()) {
        let text = format!(
            "Nothing is kept yet of a craft called {name}. If this one was worked on before, leave now, and type the \
             name that it had."
        );
        bench.line(Tone::Warning, text);
    }
    let card = named_card(job, &record)?;
    if card.is_virtual && !known.identity.is_virtual() {
        return Err(Fault::Plan(
            "The radio card was made on a virtual board. On a real one, find the switches with a card of its own."
                .to_owned(),
        ));
    }
    *bench.ledger.borrow_mut() = Ledger::of(&record);
    say_interrupted(bench, &record, &sheet);
    *bench.settled.borrow_mut() = bench.ledger.borrow_mut().saw(&known.settings);
    Ok(RunState {
        card: with_declared(&card, job.task.recipe()),
        sheet,
        identity: known.identity.clone(),
        progress: Progress::below(&bench.ledger.borrow()),
        record,
        approved: Vec::new(),
        unproved: Vec::new(),
        contradicted: Vec::new(),
        measured: Vec::new(),
    })
}

/// The card that was named, else the craft's own.
///
/// # Errors
/// The craft's own is none.
pub fn card_of(named: Option<&NamedCard>, record: &CraftRecord) -> Result<RadioCard, DocumentError> {
    match (named, &record.radio_card) {
        (Some(named), _) => Ok(named.card.clone()),
        (None, Some(text)) => {
            radio_card_file::read(&record.folder.join(folder::RADIO_CARD).display().to_string(), text)
        }
        (None, None) => Ok(RadioCard::default()),
    }
}

/// The same for a job.
///
/// # Errors
/// As [`card_of`].
pub(super) fn named_card(job: &RunJob, record: &CraftRecord) -> Result<RadioCard, Fault> {
    card_of(job.card.as_ref(), record).map_err(|error| Fault::Plan(error.to_string()))
}
