//! A board sheet that is new here: shown line by line, or as what changed since one was accepted; then accepted by its hash.
//!
//! Promises: no port is opened before every line that nobody accepted was shown and the beginning of the hash was typed; a sheet
//! that says what is sent to a board is then tried with the propellers and the battery off, and refused where an answer
//! is not understood. Must not be here: where it is kept that a sheet was accepted.

use crate::bench::monitor::sheet_trial::try_sheet;
use crate::bench::session::context::SessionContext;
use crate::board::document::changed_lines::changed;
use crate::board::sheet::Sheet;
use crate::seam::PortName;
use crate::seam::fault::Fault;
use crate::seam::ui::{About, Question, Reply, Tone};

/// Digits of a hash that are typed: enough that two sheets at hand differ in them.
const TYPED: usize = 8;

/// A sheet that nobody has accepted here.
#[derive(Debug, Clone)]
pub struct NewSheet {
    /// What it says.
    pub sheet: Sheet,
    /// Its text.
    pub text: String,
    /// The sheet of this board that was accepted here last.
    pub before: Option<Before>,
}

/// A sheet that was accepted before.
#[derive(Debug, Clone)]
pub struct Before {
    /// When, RFC 3339.
    pub at: String,
    /// What it said, where that is known to be so.
    pub text: Option<String>,
}

/// Lines that are shown around one that changed.
const AROUND: usize = 2;

/// No craft was met yet: it is the sheet that is asked about.
fn of_sheet(question: Question, sheet: &Sheet) -> Question {
    Question { craft: format!("the board sheet of {}", sheet.board), ..question }
}

/// Shows a sheet, and has it accepted.
///
/// # Errors
/// Declined; for a sheet that says what is sent also what keeps it from being tried, or an answer that is not understood.
pub async fn accept(bench: &SessionContext, port: &PortName, new: &NewSheet) -> Result<(), Fault> {
    let NewSheet { sheet, text, before } = new;
    let known = match before {
        Some(Before { at, .. }) => {
            format!("Another sheet of this board was accepted here at {at}; this one differs from it.")
        }
        None => "No sheet of this board was accepted here before.".to_owned(),
    };
    bench.line(Tone::Warning, format!("The board sheet of {} in {} is new here. {known}", sheet.board, sheet.origin));
    let whole = match before.as_ref().and_then(|before| before.text.as_ref()) {
        Some(old) => {
            bench.line(Tone::Plain, "What changed since then: - went, + came; the other lines are as they were.");
            for line in changed(old, text, AROUND) {
                bench.line(Tone::Plain, line);
            }
            let choices = vec![('g', "go on".to_owned()), ('w', "the whole sheet first".to_owned())];
            let reply = Reply::Choice(choices);
            let title = "Go on with what changed, or see the whole sheet?";
            let question = of_sheet(bench.question(About::Choice, title, Vec::new(), reply), sheet);
            bench.ask_choice(question, title).await? == 'w'
        }
        None => true,
    };
    if whole {
        let width = text.lines().count().to_string().len();
        for (number, line) in (1..).zip(text.lines()) {
            bench.line(Tone::Plain, format!("{number:>width$}  {line}"));
        }
    }
    let mut lines = vec![
        format!("It says of {} which setting is which, what a switch does, and what stops a motor.", sheet.board),
        "Whoever wrote it could have a motor turn by it. Its lines stand above.".to_owned(),
        format!("From: {}", sheet.origin),
        format!("SHA-256: {}", sheet.hash),
    ];
    if sheet.says_what_is_sent() {
        lines.push("It also says what is sent: it is tried first, propellers off and battery out.".to_owned());
    }
    let word = sheet.hash.chars().take(TYPED).collect();
    let question = bench.question(About::Choice, "Accept this board sheet?", lines, Reply::Word(word));
    bench.ask_word(of_sheet(question, sheet)).await?;
    if !sheet.says_what_is_sent() {
        return Ok(());
    }
    let trial = try_sheet(bench, port, sheet).await?;
    let odd = trial.readings.iter().find_map(|reading| {
        let why = reading.understood.as_ref().err()?;
        Some(format!("{}: {why}", reading.need.key()))
    });
    if let Some(why) = trial.mismatch.or(odd) {
        return Err(Fault::refused(
            format!("The sheet was tried on the board and is not accepted: {why}."),
            "`quadjig check-sheet` with --port tells what was understood of each answer.",
        ));
    }
    bench.line(Tone::Measured, "Tried on the board: every answer was understood.");
    Ok(())
}
