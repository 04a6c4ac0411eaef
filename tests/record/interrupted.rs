//! After a cut at any byte of the journal, the next start knows what is open.

use super::files::board;
use quadjig::board::value::Number;
use quadjig::board::value::SettingName;
use quadjig::record::crafts::glance::Glance;
use quadjig::record::crafts::runs::runs;
use quadjig::record::crafts::unsettled;
use quadjig::record::journal::Journal;
use quadjig::record::ledger::{Keeping, Ledger, Stands};
use quadjig::record::recovery::{Left, Written};
use quadjig::record::{CraftRecord, Intent, JournalLine, Snapshot, WriteState};
use quadjig::report::crafts::story::{self, Story};
use std::path::Path;

fn begin(run: &str) -> JournalLine {
    JournalLine::Begin {
        schema: "quadjig.journal/2".to_owned(),
        run: run.to_owned(),
        at: "2026-03-01T10:15:00Z".to_owned(),
        recipe: "wren95.jig".to_owned(),
        fingerprint: "f".to_owned(),
        snapshot: "snapshots/20260301T101500Z.json".to_owned(),
        board: board(),
        provenance: None,
    }
}

fn intent(step: usize, to: i64) -> JournalLine {
    let writes = vec![Intent { name: "OUT_IDLE".to_owned(), from: Some(Number::Whole(1050)), to: Number::Whole(to) }];
    JournalLine::Intent { at: "t".to_owned(), step, writes }
}

fn outcome(step: usize, state: WriteState) -> JournalLine {
    JournalLine::Outcome { at: "t".to_owned(), step, state, read: None, by_silence: false }
}

/// After a restart that was shown, the idle read as this.
fn seen(value: i64) -> JournalLine {
    let read = Some([(idle(), Number::Whole(value))].into());
    JournalLine::Outcome { at: "t".to_owned(), step: 9, state: WriteState::KeptOverRestart, read, by_silence: false }
}

fn store() -> JournalLine {
    JournalLine::Intent { at: "t".to_owned(), step: 2, writes: Vec::new() }
}

fn idle() -> SettingName {
    SettingName::new("OUT_IDLE").unwrap()
}

fn end() -> JournalLine {
    JournalLine::End { at: "t".to_owned(), outcome: "done".to_owned(), snapshot: None }
}

fn ledger(parts: &[&[JournalLine]]) -> Ledger {
    Ledger::of(&CraftRecord { journal: parts.concat(), ..CraftRecord::default() })
}

/// What is known of the idle: read or not, and what a restart brings.
fn known(parts: &[&[JournalLine]]) -> Option<(Option<Number>, Keeping)> {
    ledger(parts).open().next().map(|(_, entry)| (entry.read(), entry.keeping()))
}

#[test]
fn a_run_with_an_end_is_not_cut_off() {
    let cut = |parts: &[&[JournalLine]]| ledger(parts).cut_off().len();
    assert_eq!(cut(&[]), 0);
    assert_eq!(cut(&[&[begin("a"), intent(3, 1120), end()]]), 0);
    assert_eq!(cut(&[&[begin("a"), begin("b"), end()]]), 0);
    // Both: nothing has settled the first.
    assert_eq!(cut(&[&[begin("a"), begin("b")]]), 2);
    let ended = |outcome: &str| JournalLine::End { at: "t".to_owned(), outcome: outcome.to_owned(), snapshot: None };
    assert_eq!(cut(&[&[begin("a"), begin("b"), ended("ended: declined")]]), 1);
    assert_eq!(cut(&[&[begin("a"), begin("b"), ended("ended: declined"), begin("c"), ended("done")]]), 0);
}

/// The second value of a search was not read when its board restarted: it is as it was stored before the first.
#[test]
fn what_is_old_is_said_with_the_value_that_is_there() {
    let writes = vec![Intent { name: "OUT_IDLE".to_owned(), from: Some(Number::Whole(1090)), to: Number::Whole(1110) }];
    let second = JournalLine::Intent { at: "t".to_owned(), step: 2, writes };
    let ledger = ledger(&[&[begin("a"), intent(1, 1090), outcome(1, WriteState::ReadBack), second]]);
    for old in [1050, 1090] {
        let now = [(idle(), Number::Whole(old))].into();
        let lines = unsettled::open(&ledger, Some(&now), &ToString::to_string);
        let line = format!("OUT_IDLE was to go from {old} to 1110; it is old.");
        assert!(lines.contains(&line), "{lines:#?}");
    }
}

/// Cut off in the middle of a batch, then declined once, then declined again: still said.
#[test]
fn what_is_open_stays_until_it_is_settled() {
    let cut = [begin("a"), intent(1, 1120)];
    let declined =
        [begin("b"), JournalLine::End { at: "t".to_owned(), outcome: "ended: declined".to_owned(), snapshot: None }];
    for later in 0..3 {
        let parts: Vec<&[JournalLine]> =
            std::iter::once(&cut[..]).chain(std::iter::repeat_n(&declined[..], later)).collect();
        let ledger = ledger(&parts);
        let (name, entry) = ledger.open().next().unwrap();
        assert_eq!((name, entry.read(), entry.old()), (&idle(), None, Some(Number::Whole(1050))), "{later}");
        let stands = |now: i64| entry.stands(Some(Number::Whole(now)));
        assert_eq!([stands(1050), stands(1120), stands(1130)], [Stands::Old, Stands::New, Stands::Neither]);
        assert_eq!(ledger.cut_off().len(), 1, "{later}");
    }
    // Finished or put back, and read after a restart: nothing more is said of it.
    for value in [1050, 1120] {
        let ledger = ledger(&[&cut, &declined, &[begin("c"), seen(value), end()]]);
        assert!(ledger.names().is_empty() && ledger.cut_off().is_empty(), "{value}");
    }
    // Accepted is not seen.
    let accepted = [begin("c"), outcome(9, WriteState::Accepted), end()];
    assert_eq!(ledger(&[&cut, &accepted]).cut_off().len(), 1);
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
        let ledger = ledger(&[&journal.lines]);
        assert_eq!(ledger.cut_off().len(), usize::from((1..4).contains(&whole)), "cut at {cut}");
        // Nothing was written before the intent was on the disk, and all is unread until its outcome is.
        assert_eq!(ledger.has_unread(), whole == 2, "cut at {cut}");
    }
}

#[test]
fn what_was_written_is_not_settled_until_it_was_read_after_a_restart() {
    let new = Some(Number::Whole(1100));
    let about_to = [begin("a"), intent(1, 1100)];
    let read = [outcome(1, WriteState::ReadBack)];
    let stored = [store(), outcome(2, WriteState::Stored)];
    assert_eq!(known(&[&about_to]), Some((None, Keeping::Old)));
    assert_eq!(known(&[&about_to, &[outcome(1, WriteState::Failed)]]), Some((None, Keeping::Old)));
    assert_eq!(known(&[&about_to, &read, &[end()]]), Some((new, Keeping::Old)));
    assert_eq!(known(&[&about_to, &read, &stored[..1]]), Some((new, Keeping::Unknown)), "a store with no end");
    assert_eq!(known(&[&about_to, &read, &stored]), Some((new, Keeping::BoardSays)));
    assert_eq!(known(&[&about_to, &read, &stored, &[seen(1100), end()]]), None);
    // A line of the version before meant all that was written.
    assert_eq!(known(&[&about_to, &read, &stored, &[outcome(9, WriteState::KeptOverRestart)]]), None);
    // A restart after which something else was read says nothing of this.
    let other = JournalLine::Outcome {
        at: "t".to_owned(),
        step: 9,
        state: WriteState::KeptOverRestart,
        read: Some([(SettingName::new("CELLS").unwrap(), Number::Whole(1))].into()),
        by_silence: false,
    };
    assert_eq!(known(&[&about_to, &read, &stored, &[other]]), Some((new, Keeping::BoardSays)));
    // Put back to what it was before anything was stored, and read so: the board has it after a restart as well.
    let back = [intent(3, 1050), outcome(3, WriteState::ReadBack)];
    assert_eq!(known(&[&about_to, &read, &back]), None);
    assert_eq!(known(&[&about_to, &read, &back[..1]]), Some((None, Keeping::Old)), "written back, and not read");
    // A store that may have been carried out keeps the other value.
    let old = Some(Number::Whole(1050));
    assert_eq!(known(&[&about_to, &read, &stored[..1], &back]), Some((old, Keeping::Unknown)));
    assert_eq!(known(&[&about_to, &read, &stored, &back]), Some((old, Keeping::Unknown)));
}

#[test]
fn behind_a_damaged_line_no_outcome_is_trusted_and_no_intent_forgotten() {
    let damaged = [JournalLine::Damaged { line: 3 }];
    let about_to = [begin("a"), intent(1, 1100)];
    // It may have been another intent of the same step: whose outcome this is, nobody knows.
    let after = [outcome(1, WriteState::ReadBack), outcome(2, WriteState::KeptOverRestart)];
    assert_eq!(known(&[&about_to, &damaged, &after]), Some((None, Keeping::Unknown)));
    let two = [intent(1, 1110)];
    assert!(ledger(&[&about_to, &damaged, &two]).has_unread());
    // The end may be of a run whose beginning is the damaged line.
    assert_eq!(ledger(&[&about_to, &damaged, &[end()]]).cut_off().len(), 1);
    // A run that comes to its end has nothing more to say of it.
    assert_eq!(ledger(&[&about_to, &damaged]).damaged(), [3]);
    let settled = ledger(&[&about_to, &damaged, &[begin("b"), seen(1100), end()]]);
    assert!(settled.damaged().is_empty() && settled.cut_off().is_empty());
}

/// A run that was cut off stays open until one finished it, or put it back; then that one is named.
#[test]
fn the_story_of_a_craft_names_the_run_that_saw_to_one_that_was_cut_off() {
    let titled = |run: &str, title: &str| match begin(run) {
        JournalLine::Begin { schema, run, fingerprint, snapshot, board, provenance, .. } => {
            let (at, recipe) = (format!("2026-03-01T10:1{run}:00Z"), title.to_owned());
            JournalLine::Begin { schema, run, at, recipe, fingerprint, snapshot, board, provenance }
        }
        other => other,
    };
    let told = |journal: Vec<JournalLine>| {
        let record = CraftRecord { journal, ..CraftRecord::default() };
        let runs = runs(&record.journal);
        let cut_off = Ledger::of(&record).cut_off().into_iter().cloned().collect();
        let (last, board) = (runs.last().cloned(), Some(board()));
        let craft = Glance {
            folder: "crafts/x".into(),
            label: None,
            board,
            last,
            cut_off,
            shown: Vec::new(),
            damage: Vec::new(),
        };
        story::text(Story { craft: &craft, record: &record, runs: &runs }, true)
    };
    let cut = || vec![titled("1", "wren"), intent(3, 1120)];
    let open = told(cut());
    assert!(open.contains("run 1: ") && open.contains("OPEN"), "{open}");
    for (title, words) in [
        ("wren", "cut off; finished by run 2"),
        ("put back: settings of 2026-03-01T10:11:00Z", "cut off; put back by run 2"),
        ("other", "cut off; nothing of it is open since run 2"),
    ] {
        let text = told([cut(), vec![titled("2", title), seen(1120), end()]].concat());
        assert!(text.contains(words) && !text.contains("OPEN"), "{text}");
    }
    // Who declined settled nothing.
    let declined = JournalLine::End { at: "t".to_owned(), outcome: "ended: declined".to_owned(), snapshot: None };
    let text = told([cut(), vec![titled("2", "wren"), declined]].concat());
    assert!(text.contains("OPEN") && !text.contains("finished by"), "{text}");
}

fn wrote(from: i64, to: i64) -> [JournalLine; 2] {
    let writes = vec![Intent { name: "OUT_IDLE".to_owned(), from: Some(Number::Whole(from)), to: Number::Whole(to) }];
    [JournalLine::Intent { at: "t".to_owned(), step: 1, writes }, outcome(1, WriteState::ReadBack)]
}

/// What `recover` has of the idle, where the copy at the beginning of the first run that is not settled has it so.
fn written(parts: &[&[JournalLine]], copied: i64) -> Option<Written> {
    let settings = [(idle(), Number::Whole(copied))].into();
    let copy = Snapshot::new("2026-03-01T10:15:00Z".to_owned(), board(), settings);
    let at_hand = [(copy.file().into(), copy.store().unwrap().bytes)].into();
    let record = CraftRecord { journal: parts.concat(), at_hand, ..CraftRecord::default() };
    Left::of(&record).and_then(|left| left.written.get(&idle()).copied())
}

/// What was there before is what was there before the first of the writes that are not settled, whichever run ends last.
#[test]
fn what_was_there_before_is_what_was_stored_before_the_first_unsettled_write() {
    let left = JournalLine::End { at: "t".to_owned(), outcome: "left".to_owned(), snapshot: None };
    let written_as =
        |before: i64, wanted: i64| Some(Written { before: Some(Number::Whole(before)), wanted: Number::Whole(wanted) });
    let killed = [begin("a"), wrote(1050, 1100)[0].clone()];
    assert_eq!(written(&[&killed], 1050), written_as(1050, 1100));
    // The next session writes another value and is left: its own copy has what the killed run wrote.
    let other = [&[begin("b")][..], &wrote(1100, 1150), std::slice::from_ref(&left)].concat();
    assert_eq!(written(&[&killed, &other], 1100), written_as(1050, 1150));
    // It stores, and its restart is not shown: it wrote nothing itself.
    let kept = [begin("b"), store(), outcome(2, WriteState::Stored), outcome(3, WriteState::Accepted), left];
    assert_eq!(written(&[&killed, &kept], 1100), written_as(1050, 1100));
    // What was kept by the way and written again: before the run it was as its copy has it.
    let again = [&[begin("a")][..], &wrote(1050, 1100), &[store(), seen(1100)], &wrote(1100, 1150)].concat();
    assert_eq!(written(&[&again], 1050), written_as(1050, 1150));
}

/// What a run settles by reading alone was read after no restart of its own, and changed nothing.
#[test]
fn what_was_only_read_is_not_called_seen_after_a_restart() {
    let read = JournalLine::Outcome {
        at: "t".to_owned(),
        step: 0,
        state: WriteState::ReadBack,
        read: Some([(idle(), Number::Whole(1050))].into()),
        by_silence: false,
    };
    let mut ledger = ledger(&[&[begin("a"), intent(1, 1100)]]);
    for line in [begin("b"), read] {
        ledger.apply(&line);
    }
    assert!(ledger.names().is_empty());
    assert_eq!((ledger.seen(), ledger.way_back()), (&[].into(), None));
    ledger.apply(&seen(1050));
    assert_eq!(ledger.seen().len(), 1);
}
