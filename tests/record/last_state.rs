//! What a record says of its craft's last state and its last run, whatever the clock did and whatever is damaged.

use super::files::board;
use quadjig::board::value::{Number, SettingName};
use quadjig::record::crafts::glance::glance;
use quadjig::record::crafts::runs::runs;
use quadjig::record::crafts::state::{self, LastState};
use quadjig::record::provenance::{Input, Provenance};
use quadjig::record::run_log::{self, LogEntry, LogEvent};
use quadjig::record::{Intent, JournalLine, Snapshot, StoreJob, StorePlace, WriteState, journal};
use std::io::Write;
use std::path::Path;

/// The idle in every copy, and what is written.
fn idle() -> SettingName {
    SettingName::new("OUT_IDLE").unwrap()
}

/// Puts into a craft's folder what a run would have stored.
fn put(craft: &Path, job: &StoreJob) {
    let StorePlace::Craft(file) = &job.place else { panic!("{:?}", job.place) };
    let path = craft.join(file);
    std::fs::create_dir_all(path.parent().unwrap()).unwrap();
    let mut file = std::fs::OpenOptions::new().create(true).append(job.append).write(true).open(path).unwrap();
    file.write_all(&job.bytes).unwrap();
}

/// A copy of that moment with this idle; its file.
fn copied(craft: &Path, at: &str, value: i64) -> String {
    let copy = Snapshot::new(at.to_owned(), board(), [(idle(), Number::Whole(value))].into());
    put(craft, &copy.store().unwrap());
    copy.file()
}

fn begin(at: &str, snapshot: &str) -> JournalLine {
    let sheet = Input { name: "finch.toml".to_owned(), sha256: "0".repeat(64) };
    let provenance = Provenance {
        program: "0.1.0".to_owned(),
        operator: None,
        recipe_hash: None,
        filled_hash: None,
        files: Vec::new(),
        sheet,
        radio_card: None,
        radio: None,
        with: Vec::new(),
        series: None,
        log: run_log::file(at),
    };
    JournalLine::Begin {
        schema: journal::SCHEMA.to_owned(),
        run: at.to_owned(),
        at: at.to_owned(),
        recipe: "Wren 95".to_owned(),
        fingerprint: "f".to_owned(),
        snapshot: snapshot.to_owned(),
        board: board(),
        provenance: Some(Box::new(provenance)),
    }
}

fn end(at: &str, outcome: &str, snapshot: Option<String>) -> JournalLine {
    JournalLine::End { at: at.to_owned(), outcome: outcome.to_owned(), snapshot }
}

fn intent(to: i64) -> JournalLine {
    let writes = vec![Intent { name: idle().to_string(), from: Some(Number::Whole(1050)), to: Number::Whole(to) }];
    JournalLine::Intent { at: "t".to_owned(), step: 1, writes }
}

fn noted(craft: &Path, lines: &[JournalLine]) {
    for line in lines {
        put(craft, &line.store().unwrap());
    }
}

/// The craft's last state by a journal of these lines.
fn last(craft: &Path, lines: &[JournalLine]) -> LastState {
    let run = runs(lines).pop().unwrap();
    let begins = lines.iter().rposition(|line| matches!(line, JournalLine::Begin { .. })).unwrap();
    state::last(craft, Some((&run, &lines[begins..]))).unwrap().unwrap()
}

const WRONG: [&str; 2] = ["2031-03-01T10:00:00Z", "2031-03-01T10:10:00Z"];
const RIGHT: [&str; 2] = ["2026-03-01T10:00:00Z", "2026-03-01T10:10:00Z"];

/// Two runs, the first one by a clock that stood in 2031.
fn clock_set_back(craft: &Path) -> Vec<JournalLine> {
    let mut lines = Vec::new();
    for ([begun, ended], value) in [(WRONG, 1100), (RIGHT, 1200)] {
        let (before, after) = (copied(craft, begun, value - 50), copied(craft, ended, value));
        lines.extend([begin(begun, &before), end(ended, "done", Some(after))]);
    }
    noted(craft, &lines);
    lines
}

/// Copies of an earlier run that a later clock named stay of that run: the last run is the last.
#[test]
fn a_clock_that_was_set_back_does_not_freeze_the_last_state() {
    let craft = tempfile::tempdir().unwrap();
    let craft = craft.path();
    let lines = clock_set_back(craft);
    let seen = last(craft, &lines);
    assert_eq!((seen.at.as_str(), seen.settings[&idle()]), (RIGHT[1], Number::Whole(1200)));
    // A copy that no run took, and that is later than the last run, is what was seen last.
    copied(craft, "2026-03-02T09:00:00Z", 1300);
    assert_eq!(last(craft, &lines).settings[&idle()], Number::Whole(1300));
    // Nor does one from before it hide the run.
    std::fs::remove_file(craft.join("snapshots/20260302T090000Z.json")).unwrap();
    copied(craft, "2026-02-02T09:00:00Z", 1400);
    assert_eq!(last(craft, &lines).settings[&idle()], Number::Whole(1200));
}

#[test]
fn the_last_starts_are_those_of_the_last_run_whatever_its_clock_said() {
    let craft = tempfile::tempdir().unwrap();
    let craft = craft.path();
    clock_set_back(craft);
    for ([begun, _], pulse) in [(WRONG, 1100), (RIGHT, 1200)] {
        let seen = LogEvent::Start { pulse, start: 1, motors: Vec::new(), samples: None };
        let entry = LogEntry { schema: run_log::SCHEMA.to_owned(), at: begun.to_owned(), seen };
        put(craft, &run_log::store(&run_log::file(begun), &[entry]).unwrap());
    }
    let log = run_log::of_last_starts(craft).unwrap();
    assert!(matches!(log[0].seen, LogEvent::Start { pulse: 1200, .. }), "{log:?}");
}

/// Whatever a damaged line announced may have been written: no value from before it is known any more.
#[test]
fn behind_a_damaged_line_only_what_was_read_is_known() {
    let craft = tempfile::tempdir().unwrap();
    let craft = craft.path();
    let before = copied(craft, RIGHT[0], 1050);
    let mut lines = vec![begin(RIGHT[0], &before), JournalLine::Damaged { line: 2 }];
    assert_eq!(last(craft, &lines).settings, [].into());
    let read = |step| JournalLine::Outcome {
        at: "t".to_owned(),
        step,
        state: WriteState::ReadBack,
        read: None,
        by_silence: false,
    };
    lines.extend([intent(1200), read(1)]);
    assert_eq!(last(craft, &lines).settings, [(idle(), Number::Whole(1200))].into());
}

/// A session that does nothing and is left settles nothing of what the run before it left.
#[test]
fn a_run_that_was_cut_off_is_open_at_a_glance_until_what_it_wrote_is_settled() {
    let crafts = tempfile::tempdir().unwrap();
    let craft = crafts.path().join(board().id);
    let copy = copied(&craft, RIGHT[0], 1050);
    let left = [begin(RIGHT[1], &copy), end("2026-03-01T10:20:00Z", "left", None)];
    noted(&craft, &[begin(RIGHT[0], &copy), intent(1200)]);
    noted(&craft, &left);
    let open = |craft: &Path| glance(craft).unwrap().cut_off.into_iter().map(|run| run.at).collect::<Vec<_>>();
    assert_eq!(open(&craft), [RIGHT[0]]);
    noted(&craft, &left);
    assert_eq!(open(&craft), [RIGHT[0]]);
    // Read after a restart: nothing is open.
    let read = Some([(idle(), Number::Whole(1050))].into());
    let seen = JournalLine::Outcome {
        at: "t".to_owned(),
        step: 1,
        state: WriteState::KeptOverRestart,
        read,
        by_silence: false,
    };
    noted(&craft, &[begin(RIGHT[1], &copy), seen, end(RIGHT[1], "done", None)]);
    assert_eq!(open(&craft), [""; 0]);
    // The end behind a damaged line may be that of a run whose beginning cannot be read.
    noted(&craft, &[begin(RIGHT[1], &copy), intent(1300)]);
    let mut journal = std::fs::OpenOptions::new().append(true).open(craft.join(journal::FILE)).unwrap();
    journal.write_all(b"{\"event\":\"beg\n").unwrap();
    noted(&craft, &[end(RIGHT[1], "done", None)]);
    assert_eq!(open(&craft), [RIGHT[1]]);
}

/// What a journal says may be all that tells what a run left half written: nobody is told to move it away.
#[test]
fn a_journal_that_is_too_long_is_not_to_be_moved_away() {
    let crafts = tempfile::tempdir().unwrap();
    let craft = crafts.path().join(board().id);
    std::fs::create_dir_all(&craft).unwrap();
    let journal = std::fs::File::create(craft.join(journal::FILE)).unwrap();
    journal.set_len((64 << 20) + 1).unwrap();
    let said = glance(&craft).unwrap_err().to_string();
    assert!(said.contains("longer than 64 MiB") && !said.contains("move it away"), "{said}");
}
