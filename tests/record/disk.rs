//! The machine that writes a craft's files: killed, out of power or failing at every single step.

use super::files::board;
use crate::faults::disk::{Disk, DiskFault};
use quadjig::board::signals::Identity;
use quadjig::record::files::{FileStep, FileSystem, Files, Places, StepOutcome};
use quadjig::record::{JournalLine, RecordError, StoreJob, StorePlace};
use std::path::Path;

/// Journal lines and whole files, in the order in which they are stored.
fn jobs() -> Vec<StoreJob> {
    let line = |outcome: &str| {
        JournalLine::End { at: "t".to_owned(), outcome: outcome.to_owned(), snapshot: None }.store().unwrap()
    };
    let whole = |bytes: &[u8]| StoreJob {
        place: StorePlace::Craft("measurements/link-loss.json".into()),
        bytes: bytes.to_vec(),
        append: false,
    };
    vec![line("one"), whole(b"old"), line("two"), whole(b"new and longer"), line("three")]
}

fn files() -> Files {
    Files::new(Places { crafts: "crafts".into(), radio_card: None, holder: "a test".to_owned() })
}

/// Stores all jobs; how many were answered as stored.
fn store_all(disk: &mut Disk) -> usize {
    let mut files = files();
    if files.open_record(disk, &board()).is_err() {
        return 0;
    }
    jobs().iter().take_while(|job| files.store(disk, job).is_ok()).count()
}

/// Outcomes of the journal's lines, and the file's content, after another start.
fn found(disk: &mut Disk) -> (Vec<String>, Option<Vec<u8>>) {
    disk.again();
    let content = disk.craft.get(Path::new("measurements/link-loss.json")).cloned();
    // The content is none of the schema: what is asked here is only that it is whole.
    let held = disk.craft.remove(Path::new("measurements/link-loss.json"));
    let record = files().open_record(disk, &board()).unwrap();
    disk.craft.extend(held.map(|held| ("measurements/link-loss.json".into(), held)));
    let outcomes = record.journal.into_iter().map(|line| match line {
        JournalLine::End { outcome, .. } => outcome,
        other => panic!("{other:?}"),
    });
    (outcomes.collect(), content)
}

#[track_caller]
fn is_whole(answered: usize, disk: &mut Disk, what: &str) {
    let (lines, content) = found(disk);
    let all = ["one", "two", "three"];
    // Jobs 0, 2 and 4 are lines; 1 and 3 replace the file.
    let least = answered.div_ceil(2);
    assert!((least..=(least + 1).min(3)).contains(&lines.len()), "{what}: {answered} answered, {lines:?}");
    assert_eq!(lines, all[..lines.len()], "{what}");
    let contents: [Option<&[u8]>; 3] = [None, Some(b"old"), Some(b"new and longer")];
    let least = answered / 2;
    let at = contents.iter().position(|one| *one == content.as_deref());
    assert!(
        at.is_some_and(|at| (least..=(least + 1).min(2)).contains(&at)),
        "{what}: {answered} answered, {content:?}"
    );
}

fn steps() -> usize {
    let mut disk = Disk::default();
    assert_eq!(store_all(&mut disk), 5);
    disk.steps()
}

#[test]
fn killed_at_any_step_all_that_was_answered_is_there_and_nothing_is_half() {
    let all = steps();
    assert!(all > 25, "{all}");
    for at in 0..all {
        for fault in [DiskFault::KilledBefore, DiskFault::KilledIn] {
            let mut disk = Disk::that(at, fault);
            let answered = store_all(&mut disk);
            assert!(answered < 5);
            is_whole(answered, &mut disk, &format!("{fault:?} {at}"));
            // The next program goes on with the same files.
            assert_eq!(store_all(&mut disk), 5, "{fault:?} {at}");
        }
    }
}

#[test]
fn without_power_at_any_step_all_that_was_answered_is_there_and_nothing_is_half() {
    let all = steps();
    for at in 0..=all {
        for more in [0, 1, 7, 40, usize::MAX] {
            let mut disk = Disk::that(at, DiskFault::KilledIn);
            let answered = store_all(&mut disk);
            disk.lose_power(more);
            is_whole(answered, &mut disk, &format!("{at}, {more} more"));
        }
    }
}

/// A program is killed between making a folder and syncing it; the next one finds the folder there, and stores into
/// it; then the power goes.
#[test]
fn a_folder_that_a_killed_program_made_is_synced_by_the_next() {
    for at in 0..steps() {
        for fault in [DiskFault::KilledBefore, DiskFault::KilledIn] {
            let mut disk = Disk::that(at, fault);
            store_all(&mut disk);
            let (before, _) = found(&mut disk);
            disk.again();
            assert_eq!(store_all(&mut disk), 5);
            disk.lose_power(0);
            let (lines, content) = found(&mut disk);
            assert_eq!(lines[before.len()..], ["one", "two", "three"], "{fault:?} {at}");
            assert_eq!(content.as_deref(), Some(&b"new and longer"[..]), "{fault:?} {at}");
        }
    }
}

#[test]
fn a_step_that_fails_leaves_no_half_line_and_a_sync_that_fails_ends_all_writing() {
    for at in 0..steps() {
        let mut disk = Disk::that(at, DiskFault::FailsOnce);
        let mut last = Last { disk: &mut disk, failed: None };
        let mut files = files();
        let opened = files.open_record(&mut last, &board()).is_ok();
        let answers: Vec<bool> = jobs().iter().map(|job| opened && files.store(&mut last, job).is_ok()).collect();
        let failed = last.failed.clone().unwrap();
        let ends = matches!(failed, FileStep::Sync(_) | FileStep::SyncBeside(_) | FileStep::SyncFolder(_));
        if opened && ends {
            let first = answers.iter().position(|ok| !ok);
            assert!(first.is_none_or(|first| answers[first..].iter().all(|ok| !ok)), "{at}: {failed:?} {answers:?}");
        }
        let (lines, _) = found(&mut disk);
        let stored = answers.iter().step_by(2).filter(|ok| **ok).count();
        // A line whose sync failed may be there; none is half, and none stands in another.
        assert!(lines.len() == stored || (ends && lines.len() == stored + 1), "{at}: {failed:?} {answers:?} {lines:?}");
    }
}

/// Remembers the step that failed.
struct Last<'d> {
    disk: &'d mut Disk,
    failed: Option<FileStep>,
}

impl FileSystem for Last<'_> {
    fn act(&mut self, step: FileStep) -> Result<StepOutcome, RecordError> {
        let done = self.disk.act(step.clone());
        if done.is_err() {
            self.failed.get_or_insert(step);
        }
        done
    }
}

/// A text that is kept under its hash is answered as stored once it is there as it should be, and its name with it.
#[test]
fn a_text_that_is_kept_once_is_whole_and_outlives_a_loss_of_power() {
    let text = StoreJob { place: StorePlace::Once("inputs/abc".into()), bytes: b"recipe".to_vec(), append: false };
    let stored = |disk: &mut Disk| {
        let mut files = files();
        files.open_record(disk, &board()).is_ok() && files.store(disk, &text).is_ok()
    };
    let kept = |disk: &Disk| disk.craft.get(Path::new("inputs/abc")).cloned();
    let mut whole = Disk::default();
    assert!(stored(&mut whole));
    for at in 0..whole.steps() {
        for fault in [DiskFault::KilledBefore, DiskFault::KilledIn] {
            let mut disk = Disk::that(at, fault);
            assert!(!stored(&mut disk));
            disk.again();
            assert!(stored(&mut disk), "{fault:?} {at}");
            disk.lose_power(0);
            assert_eq!(kept(&disk).as_deref(), Some(&b"recipe"[..]), "{fault:?} {at}");
        }
    }
    // As long, and another text.
    whole.craft.insert("inputs/abc".into(), b"recepi".to_vec());
    whole.again();
    assert!(stored(&mut whole));
    assert_eq!(kept(&whole).as_deref(), Some(&b"recipe"[..]));
    // Once it is there and synced, it is only looked at.
    let mut files = files();
    files.open_record(&mut whole, &board()).unwrap();
    let steps = [(); 2].map(|()| {
        let before = whole.steps();
        files.store(&mut whole, &text).unwrap();
        whole.steps() - before
    });
    assert_eq!(steps[1], 1, "{steps:?}");
}

/// A folder that was copied or renamed: what another board's journal says of a setting is said of no craft but its own.
#[test]
fn the_journal_of_another_board_is_taken_up_for_none() {
    let begin = |id: &str| JournalLine::Begin {
        schema: "quadjig.journal/2".to_owned(),
        run: "r".to_owned(),
        at: "t".to_owned(),
        recipe: "Wren 95".to_owned(),
        fingerprint: "f".to_owned(),
        snapshot: "s".to_owned(),
        board: Identity { id: id.to_owned(), ..board() },
        provenance: None,
    };
    let opened = |ids: &[&str]| {
        let mut disk = Disk::default();
        let mut bytes: Vec<u8> = ids.iter().flat_map(|id| begin(id).store().unwrap().bytes).collect();
        bytes.extend_from_slice(b"{\"event\":");
        files().open_record(&mut disk, &board()).unwrap();
        disk.craft.insert("journal.jsonl".into(), bytes.clone());
        let record = files().open_record(&mut disk, &board());
        let whole = disk.craft[Path::new("journal.jsonl")] == bytes;
        (record.map(|record| record.journal.len()).map_err(|error| (error.to_string(), error.hint())), whole)
    };
    let (own, other) = (board().id, "00000000000000b8");
    assert_eq!(opened(&[&own]), (Ok(1), false));
    // What a craft's board was once is told by the last run alone.
    assert_eq!(opened(&[other, &own]), (Ok(2), false));
    let (refused, whole) = opened(&[&own, other]);
    let (said, hint) = refused.unwrap_err();
    assert!(said.contains(other) && said.contains(&own), "{said}");
    assert!(hint.is_some_and(|hint| hint.contains("its own name")), "{hint:?}");
    assert!(whole, "nothing of it is touched");
}
