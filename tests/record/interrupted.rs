//! After a cut at any byte of the journal, the next start knows what is open.

use super::files::board;
use quadjig::board::value::Number;
use quadjig::record::journal::{Interrupted, Journal, interrupted};
use quadjig::record::{CraftRecord, Intent, JournalLine, WriteState};
use std::path::Path;

fn begin(run: &str) -> JournalLine {
    JournalLine::Begin {
        schema: "quadjig.journal/1".to_owned(),
        run: run.to_owned(),
        at: "2026-03-01T10:15:00Z".to_owned(),
        recipe: "wren95.jig".to_owned(),
        fingerprint: "f".to_owned(),
        snapshot: "snapshots/20260301T101500Z.json".to_owned(),
        board: board(),
    }
}

fn intent(step: usize, to: i64) -> JournalLine {
    let writes = vec![Intent { name: "OUT_IDLE".to_owned(), from: Number::Whole(1050), to: Number::Whole(to) }];
    JournalLine::Intent { at: "t".to_owned(), step, writes }
}

fn outcome(step: usize, state: WriteState) -> JournalLine {
    JournalLine::Outcome { at: "t".to_owned(), step, state }
}

fn end() -> JournalLine {
    JournalLine::End { at: "t".to_owned(), outcome: "done".to_owned() }
}

fn found(lines: Vec<JournalLine>) -> Option<Interrupted> {
    interrupted(&CraftRecord { journal: lines, ..CraftRecord::default() })
}

#[test]
fn a_run_with_an_end_is_not_interrupted() {
    assert_eq!(found(vec![]), None);
    assert_eq!(found(vec![begin("a"), intent(3, 1120), end()]), None);
    assert_eq!(found(vec![begin("a"), begin("b"), end()]), None);
}

#[test]
fn the_last_run_without_an_end_is_found_with_what_is_open() {
    let lines = vec![
        begin("a"),
        end(),
        begin("b"),
        intent(3, 1120),
        outcome(3, WriteState::ReadBack),
        outcome(3, WriteState::Stored),
        intent(5, 1130),
        outcome(5, WriteState::ReadBack),
        intent(5, 1140),
        outcome(5, WriteState::Accepted),
        intent(6, 1150),
    ];
    let found = found(lines).unwrap();
    assert_eq!(found.run, "b");
    let states: Vec<_> = found.intents.iter().map(|intent| intent.state).collect();
    let (stored, read, accepted) = (WriteState::Stored, WriteState::ReadBack, WriteState::Accepted);
    assert_eq!(states, [Some(stored), Some(read), Some(accepted), None]);
    let open: Vec<_> = found.open().map(|intent| intent.writes[0].to).collect();
    assert_eq!(open, [Number::Whole(1140), Number::Whole(1150)]);
}

#[test]
fn a_cut_at_any_byte_leaves_a_journal_that_reads_as_its_whole_lines() {
    let lines = [begin("a"), intent(3, 1120), outcome(3, WriteState::ReadBack), end()];
    let bytes: Vec<u8> = lines.iter().flat_map(|line| line.store().unwrap().bytes).collect();
    let ends: Vec<usize> = (1..=bytes.len()).filter(|&at| bytes[at - 1] == b'\n').collect();
    for cut in 0..=bytes.len() {
        let journal = Journal::parse(Path::new("j"), &bytes[..cut]).unwrap();
        let whole = ends.iter().filter(|&&end| end <= cut).count();
        assert_eq!(journal.lines, lines[..whole], "cut at {cut}");
        assert_eq!(journal.torn, cut > 0 && !ends.contains(&cut), "cut at {cut}");
        let found = found(journal.lines);
        assert_eq!(found.is_some(), (1..4).contains(&whole), "cut at {cut}");
        // Nothing was written before the intent was on the disk, and all is open until its outcome is.
        let open = found.map_or(0, |found| found.open().count());
        assert_eq!(open, usize::from(whole == 2), "cut at {cut}");
    }
}

#[test]
fn what_was_written_is_unsaved_until_a_restart_showed_it() {
    let names = |lines: &[&[JournalLine]]| {
        let record = CraftRecord { journal: lines.concat(), ..CraftRecord::default() };
        quadjig::record::journal::unsaved(&record).iter().map(ToString::to_string).collect::<Vec<_>>()
    };
    let about_to = [begin("a"), intent(1, 1100)];
    let stored = [outcome(1, WriteState::ReadBack), outcome(2, WriteState::Stored)];
    assert_eq!(names(&[&about_to]), ["OUT_IDLE"]);
    assert_eq!(names(&[&about_to, &stored]), ["OUT_IDLE"]);
    assert_eq!(names(&[&about_to, &stored[..1], &[end()]]), ["OUT_IDLE"]);
    assert!(names(&[&about_to, &stored, &[outcome(3, WriteState::KeptOverRestart), end()]]).is_empty());
    // Put back to what it was before anything was written, and read so: the board has it after a restart as well.
    let back = [intent(3, 1050), outcome(3, WriteState::ReadBack)];
    assert!(names(&[&about_to, &stored, &back]).is_empty());
    assert_eq!(names(&[&about_to, &stored, &back[..1]]), ["OUT_IDLE"], "written back, and not read");
    // A store that may have been carried out keeps the other value.
    let store = [JournalLine::Intent { at: "t".to_owned(), step: 2, writes: Vec::new() }];
    assert_eq!(names(&[&about_to, &stored[..1], &store, &back]), ["OUT_IDLE"], "stored, and then put back");
}
