//! Killed anywhere in a whole run: `recover` finishes, or puts back, and the board's own truth says so.
//!
//! The truth is the virtual board's: what each setting holds, and what it has stored. Points are every step of the disk
//! and every effect of a run; the suite plays a few, and `QUADJIG_CRASHES=300` so many, each finished and put back.

use crate::bench::stand::{Did, Hands, Log, Played, Plot, Stand, Then, keys};
use crate::faults::disk::{Disk, DiskFault};
use quadjig::board::{sheet_file, shipped};
use quadjig::seam::Key;
use quadjig::seam::ui::{About, Question, UiEvent};
use quadjig::virtual_board::{World, WorldConfig};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// All that a run does: settings, a search, tests.
pub(super) const WHOLE: &str = concat!(
    "recipe \"Wren 95, stand\"\nedition 1\ncraft quad x turning inward\nboard \"Finch\"\n",
    "require props off\nrequire throttle low\nrequire battery out\nchannels roll, pitch, throttle, yaw\n",
    "switch B on channel 6 rests at 1000, 1500, 2000 on link loss flagged\n",
    "bind arm to switch B position 2\nat zero throttle spin\nkeep\ntest arm\n",
    "require battery in\nrequire level within 2 deg\nidle start at 1075 step 25 until all spin\nkeep\n",
    "test idle in 2 starts\ntest cut within 250 ms\n",
);

type Files = BTreeMap<PathBuf, Vec<u8>>;
type Truth = BTreeMap<String, (f64, f64)>;

/// Every setting: what it holds and what is stored.
fn truth(board: &World) -> Truth {
    let truth = board.truth();
    let settings = truth["settings"].as_object().unwrap();
    let number = |value: &serde_json::Value| value.as_f64().unwrap();
    settings.iter().map(|(name, s)| (name.clone(), (number(&s["working"]), number(&s["stored"])))).collect()
}

fn is_the_choice(question: &Question) -> bool {
    matches!(question.about, About::Choice) && question.title.starts_with("Finish what was cut off")
}

fn chooses(key: char) -> Hands<'static> {
    Hands::willing(&WorldConfig::default())
        .who_answers(move |question| is_the_choice(question).then(|| keys(900, 60, [Key::Char(key)])))
}

/// The next program on the same craft and disk, so many seconds into the day, once what was going on has come to rest.
pub(super) fn later<'a>(board: World, disk: Disk, key: char, seconds: i64) -> Stand<'a> {
    let mut stand = Stand::new(WHOLE);
    (stand.board, stand.disk) = (board, disk);
    stand.disk.again();
    stand.clock = jiff::Timestamp::from_second(seconds).unwrap();
    stand.recovers = true;
    stand.hands = chooses(key);
    let now = stand.board.now();
    // A hand takes the switch off, as every motor question says.
    stand.board.line(now, "flip B 0").unwrap();
    stand.board.advance(now + Duration::from_secs(8));
    stand
}

fn next(board: World, disk: Disk, key: char) -> Played {
    later(board, disk, key, 600).play()
}

/// A whole run, and all settings before and after it.
fn ends() -> (Played, Truth, Truth) {
    let before = truth(&World::new(WorldConfig::default()));
    let whole = Stand::new(WHOLE).play();
    assert_eq!(whole.result, Some(Ok(())), "{}", whole.log.tail());
    let after = truth(&whole.board);
    assert_ne!(before, after);
    (whole, before, after)
}

#[track_caller]
fn nothing_is_left(board: World, disk: Disk, what: &str) {
    let last = next(board, disk, 'f');
    assert!(last.log.says("nothing to recover"), "{what}: {:#?}", last.log.lines());
    assert_eq!(last.result, Some(Ok(())), "{what}");
}

/// The first look is declined; the one after it still says what was cut off, and settles it. `false`: nothing was open.
fn recovers(killed: Played, key: char, wanted: &Truth, what: &str) -> bool {
    assert_eq!(killed.result, None, "{what}");
    let declined = next(killed.board, killed.disk, 'n');
    assert_eq!(declined.log.writes().len(), 0, "{what}");
    if declined.log.says("nothing to recover") {
        assert_eq!(declined.result, Some(Ok(())), "{what}");
        return false;
    }
    assert_eq!(declined.code(), 4, "{what}\n{}", declined.log.tail());
    let done = next(declined.board, declined.disk, key);
    assert_eq!(done.result, Some(Ok(())), "{what}\n{}", done.log.tail());
    assert_eq!(truth(&done.board), *wanted, "{what}\n{}", done.log.tail());
    nothing_is_left(done.board, done.disk, what);
    true
}

/// Where a run is killed.
#[derive(Debug, Clone, Copy)]
enum Point {
    Disk(usize, DiskFault),
    Effect(usize),
}

impl Point {
    fn killed(self) -> Played {
        let mut stand = Stand::new(WHOLE);
        match self {
            Self::Disk(step, fault) => stand.disk = Disk::that(step, fault),
            Self::Effect(effect) => stand.dies_at = Some(effect),
        }
        stand.play()
    }
}

#[test]
fn killed_anywhere_it_is_finished_and_put_back() {
    let (whole, before, after) = ends();
    let mut all: Vec<Point> = Vec::new();
    for step in 0..whole.disk.steps() {
        all.extend([DiskFault::KilledBefore, DiskFault::KilledIn].map(|fault| Point::Disk(step, fault)));
    }
    all.extend((0..whole.effects).map(Point::Effect));
    let count = std::env::var("QUADJIG_CRASHES").map_or(12, |text| text.parse().unwrap());
    let count = all.len().min(count);
    let mut open = 0;
    for at in 0..count {
        let point = all[(at * all.len() + all.len() / 2) / count];
        for (key, wanted) in [('f', &after), ('b', &before)] {
            open += usize::from(recovers(point.killed(), key, wanted, &format!("{point:?}, {key}")));
        }
    }
    assert!(open > count, "nearly all of {} points are within a run: {open} of {count} twice", all.len());
}

/// A run that is killed in its last test, when all else was shown.
fn in_the_last_test() -> Played {
    let in_cut = |_: &World, log: &Log| has(&steps(log), "test that switch");
    let killed = Stand::new(WHOLE).plot(Plot::when(in_cut, 3000, vec![Then::Die])).play();
    assert_eq!(killed.result, None, "{}", killed.log.tail());
    killed
}

/// Titles of the steps that were begun.
fn steps(log: &Log) -> Vec<String> {
    let begins = log.entries.iter().filter_map(|entry| match &entry.did {
        Did::UiEvent(UiEvent::StepBegins { title, .. }) => Some(title.clone()),
        _ => None,
    });
    begins.collect()
}

fn has(steps: &[String], word: &str) -> bool {
    steps.iter().any(|step| step.to_lowercase().contains(word))
}

/// safety.md and the promise of `recover`: idle is taken over within two hours, arm and cut are always shown again.
#[test]
fn what_was_shown_is_taken_over_for_two_hours_but_never_arm_and_cut() {
    let all = steps(&Stand::new(WHOLE).play().log);
    let tests = |steps: &[String]| ["test the idle", "test arm", "test that switch"].map(|title| has(steps, title));
    assert_eq!(tests(&all), [true; 3], "{all:#?}");
    let after = |seconds: i64| {
        let killed = in_the_last_test();
        later(killed.board, killed.disk, 'f', seconds).play()
    };
    let soon = after(600);
    assert_eq!(soon.result, Some(Ok(())), "{}", soon.log.tail());
    assert_eq!(tests(&steps(&soon.log)), [false, true, true], "{:#?}", steps(&soon.log));
    assert!(soon.log.says("by the run that is finished here, and is not asked for again"));
    assert_eq!(tests(&steps(&after(3 * 3600).log)), [true; 3]);
    // Put back, nothing is shown at all.
    let killed = in_the_last_test();
    let back = next(killed.board, killed.disk, 'b');
    assert_eq!(tests(&steps(&back.log)), [false; 3], "{:#?}", steps(&back.log));
}

/// Filled by another sheet it is another recipe.
#[test]
fn nothing_is_taken_over_under_another_sheet() {
    let killed = in_the_last_test();
    let mut stand = later(killed.board, killed.disk, 'f', 600);
    let text = shipped::SHEETS.iter().find(|sheet| sheet.stem == "finch").unwrap().text;
    stand.sheet = sheet_file::read("finch.toml", &format!("{text}\n# Another one.\n")).unwrap();
    let done = stand.play();
    assert_eq!(done.result, Some(Ok(())), "{}", done.log.tail());
    assert!(done.log.says("nothing that it had shown is taken over"), "{:#?}", done.log.lines());
    assert!(has(&steps(&done.log), "test the idle"), "{:#?}", steps(&done.log));
}

/// Arm was bound, and not kept: its band is closed before the recipe goes on, and bound anew at its place.
#[test]
fn an_armed_possibility_is_closed_first() {
    let bound = |board: &World, _: &Log| {
        let now = truth(board);
        (now["ARM_CHANNEL"].0 - 6.0).abs() < 0.1 && now["ARM_TO"].0 > now["ARM_FROM"].0
    };
    let killed = Stand::new(WHOLE).plot(Plot::when(bound, 0, vec![Then::Die])).play();
    let now = truth(&killed.board);
    assert_ne!((now["ARM_FROM"].0, now["ARM_TO"].0), (now["ARM_FROM"].1, now["ARM_TO"].1), "{now:?}");
    let done = next(killed.board, killed.disk, 'f');
    assert_eq!(done.result, Some(Ok(())), "{}", done.log.tail());
    let writes: Vec<(String, i32)> = done.log.writes().into_iter().map(|(_, name, to)| (name, to)).collect();
    let (name, to) = writes.first().unwrap();
    assert!(name == "ARM_TO" && f64::from(*to) < now["ARM_FROM"].0, "{writes:?}");
    let opened = writes.iter().filter(|(name, to)| name == "ARM_TO" && f64::from(*to) > now["ARM_FROM"].0);
    assert_eq!(opened.count(), 1, "{writes:?}");
}

/// What is gone or changed in the record takes one way away, or says so, and locks nobody out.
#[test]
fn a_damaged_record_leaves_a_way() {
    let (_, before, after) = ends();
    let killed = || {
        let kept = |_: &World, log: &Log| log.says("still there");
        Stand::new(WHOLE).plot(Plot::when(kept, 0, vec![Then::Die])).play()
    };
    let spoilt = |spoil: &dyn Fn(&mut Files), key: char| {
        let mut killed = killed();
        spoil(&mut killed.disk.craft);
        next(killed.board, killed.disk, key)
    };
    let at = |path: &Path, folder: &str| path.starts_with(folder);
    let no_copy = |files: &mut Files| files.retain(|path, _| !at(path, "snapshots"));
    let done = spoilt(&no_copy, 'b');
    assert_eq!(done.result, Some(Ok(())), "{}", done.log.tail());
    assert!(done.log.says("is gone or damaged: what was there is told by the journal"));
    assert_eq!(truth(&done.board), before);

    let other_recipe = |files: &mut Files| {
        files.iter_mut().filter(|(path, _)| at(path, "inputs")).for_each(|(_, bytes)| bytes.push(b'\n'));
    };
    let refused = spoilt(&other_recipe, 'f');
    assert_eq!(refused.code(), 4, "{}", refused.log.tail());
    assert!(refused.log.says("Its recipe is not in the record any more as it was"), "{:#?}", refused.log.lines());
    assert_eq!(refused.log.writes().len(), 0);
    let done = spoilt(&other_recipe, 'b');
    assert_eq!(truth(&done.board), before);

    // A journal that was torn anywhere behind the beginning of the run.
    let length = killed().disk.craft[Path::new("journal.jsonl")].len();
    let first = killed().disk.craft[Path::new("journal.jsonl")].iter().position(|byte| *byte == b'\n').unwrap() + 1;
    for cut in (first..length).step_by((length - first) / 6) {
        for (key, wanted) in [('f', &after), ('b', &before)] {
            let torn = |files: &mut Files| {
                files.get_mut(Path::new("journal.jsonl")).unwrap().truncate(cut);
            };
            let done = spoilt(&torn, key);
            assert_eq!(done.result, Some(Ok(())), "{cut} {key}\n{}", done.log.tail());
            if key == 'f' {
                assert_eq!(truth(&done.board), *wanted, "{cut}");
            }
            nothing_is_left(done.board, done.disk, &format!("{cut} {key}"));
        }
    }
}
