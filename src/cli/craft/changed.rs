//! `quadjig craft changed`.

use super::super::options::{RecordsOption, Reporting};
use super::super::output::{Format, Output};
use super::{craft, crafts, say_open, told};
use crate::record::crafts::glance::glance;
use crate::record::crafts::repair::{Part, ProofKind, Repair};
use crate::record::crafts::shown::Void;
use crate::record::link_loss::LinkLoss;
use crate::record::{RecordError, folder, lines, proof};
use crate::seam::exit::Exit;
use crate::world::files;
use serde::Serialize;

/// Note that a part of a craft was repaired or exchanged: what was shown with the old one no longer counts.
///
/// Parts: `motor CORNER`, `speed controller`, `speed controller CORNER`, `receiver`, `radio`, `board`.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  quadjig craft changed wren-1 motor rear left\n  quadjig craft changed wren-1 receiver"
)]
pub(super) struct Changed {
    /// The craft: its name, or its board's id.
    #[arg(value_name = "NAME")]
    name: String,
    /// What was repaired or exchanged.
    #[arg(value_name = "PART", required = true, num_args = 1..=4)]
    part: Vec<String>,
    #[command(flatten)]
    records: RecordsOption,
    #[command(flatten)]
    reporting: Reporting,
}

#[derive(Serialize)]
struct ChangedJson {
    schema: &'static str,
    craft: String,
    part: String,
    void: Vec<&'static str>,
    link_loss_void: bool,
}

impl Changed {
    pub(super) fn run(self, out: &mut Output) -> Result<Exit, Exit> {
        let part = Part::read(&self.part).map_err(|error| {
            out.error(&error.to_string(), None);
            Exit::Usage
        })?;
        let folder = craft(&crafts(&self.records, out)?, &self.name, out)?;
        let at = jiff::Timestamp::now().to_string();
        let store = |record: &crate::record::CraftRecord| {
            let bytes = folder::bytes(&record.folder.join(proof::FILE))?.unwrap_or_default();
            let proofs = lines::count(&bytes);
            let mut jobs = Vec::new();
            // What is not known any more goes first: killed in between, too much is void.
            if part.voids_link_loss() && !record.link_loss.is_empty() {
                jobs.push(LinkLoss::new(at.clone(), Vec::new()).store()?);
            }
            jobs.push(Repair::new(at.clone(), part.clone(), proofs).store()?);
            Ok::<_, RecordError>(jobs)
        };
        files::keep(&folder, store).map_err(|error| told(&error, out))?;
        let craft = glance(&folder).map_err(|error| told(&error, out))?;
        say_open(&craft, out);
        let repaired = |void: &Void| matches!(void, Void::Repair(_));
        let void: Vec<ProofKind> = craft
            .shown
            .iter()
            .filter(|shown| part.voids(shown.kind) && shown.void.iter().any(repaired))
            .map(|shown| shown.kind)
            .collect();
        let words: Vec<&str> = void.iter().map(|kind| kind.word()).collect();
        match self.reporting.format {
            Format::Json => out.json(&ChangedJson {
                schema: "quadjig.craft-changed/1",
                craft: craft.called(),
                part: part.words(),
                void: words,
                link_loss_void: part.voids_link_loss(),
            }),
            Format::Text => {
                let void = if words.is_empty() {
                    "Nothing had been shown that depends on it.".to_owned()
                } else {
                    format!("No longer shown, to be tested again: {}.", words.join(", "))
                };
                let loss = if part.voids_link_loss() {
                    "What each channel does without the radio has to be found again: `find link loss`.\n"
                } else {
                    ""
                };
                let text = format!("Noted: {} of {} was changed.\n{void}\n{loss}", part.words(), craft.called());
                out.report(&crate::report::gate::lines(&text));
            }
        }
        Ok(Exit::Done)
    }
}
