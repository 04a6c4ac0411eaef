//! The program dies: before each of its effects, and while motors turn. What the writer holds must stop them, and
//! the next start must know what was left open.

use super::stand::{Did, Log, Played, Plot, SIGNAL, START, Stand, Then};
use quadjig::board::mavlink::FrameClass;
use quadjig::record::{JournalLine, WriteState, journal};
use std::collections::BTreeSet;
use std::path::Path;
use std::time::Duration;

/// Settings, kept; nothing turns.
const SETTINGS: &str = concat!(
    "recipe \"Wren 95, stand\"\nedition 1\ncraft quad x turning inward\nboard \"Finch\"\n",
    "require props off\nrequire throttle low\nchannels roll, pitch, throttle, yaw\n",
    "switch B on channel 6 rests at 1000, 1500, 2000 on link loss flagged\n",
    "bind arm to switch B position 2\nat zero throttle spin\nidle at 1150\nkeep\n",
);

/// The writer sends its bytes 200 ms after the last renewal, which comes every 40 ms at the latest; the rest is for
/// the board.
const HELD: Duration = Duration::from_millis(300);

/// Effects of a whole run.
fn effects(log: &Log) -> Vec<&Did> {
    // Each frame is an entry of its own, so entries only bound the number of effects from above.
    log.entries.iter().filter(|entry| !matches!(entry.did, Did::Event(_))).map(|entry| &entry.did).collect()
}

fn journal_of(played: &Played) -> Vec<JournalLine> {
    let bytes = played.disk.craft.get(Path::new(journal::FILE)).cloned().unwrap_or_default();
    journal::Journal::parse(Path::new(journal::FILE), &bytes).unwrap().lines
}

/// Whether a run began and did not end, and the names that it may have left half written.
fn left_open(lines: &[JournalLine]) -> Option<BTreeSet<String>> {
    let began = lines.iter().rposition(|line| matches!(line, JournalLine::Begin { .. }))?;
    let mut open = BTreeSet::new();
    for line in &lines[began..] {
        match line {
            JournalLine::Intent { writes, .. } => open.extend(writes.iter().map(|write| write.name.clone())),
            JournalLine::Outcome {
                state: WriteState::ReadBack | WriteState::Stored | WriteState::KeptOverRestart,
                ..
            } => {
                open.clear();
            }
            JournalLine::End { .. } => return None,
            _ => {}
        }
    }
    Some(open)
}

#[test]
fn before_each_effect_of_a_run_that_writes() {
    let whole = Stand::new(SETTINGS).play();
    assert_eq!(whole.result, Some(Ok(())));
    let count = effects(&whole.log).len();
    let (mut begun, mut half) = (0, 0);
    for dies_at in 0..count {
        let mut stand = Stand::new(SETTINGS);
        stand.dies_at = Some(dies_at);
        let died = stand.play();
        if died.result.is_some() {
            break;
        }
        died.log.nothing_turned();
        let lines = journal_of(&died);
        let open = left_open(&lines);
        // Whatever is new on the board was announced on the disk.
        for (_, name, _) in died.log.writes() {
            let announced = lines.iter().any(|line| {
                matches!(line, JournalLine::Intent { writes, .. } if writes.iter().any(|write| write.name == name))
            });
            assert!(announced, "{name} was written and is in no intent, died at {dies_at}");
        }
        let mut again = Stand::new(SETTINGS);
        again.board = died.board;
        // A board that was on its way down comes back first.
        let now = again.board.now();
        again.board.advance(now + Duration::from_secs(3));
        again.disk = died.disk;
        let next = again.play();
        assert_eq!(
            next.log.says("was cut off before its end"),
            open.is_some(),
            "died at {dies_at}\n{:#?}",
            next.log.lines()
        );
        begun += usize::from(open.is_some());
        for name in open.iter().flatten() {
            half += 1;
            let line = next.log.lines().into_iter().find(|line| line.starts_with(&format!("{name} was to go from")));
            let line = line.unwrap_or_else(|| panic!("nothing is said of {name}, died at {dies_at}"));
            assert!(
                line.contains("; it is old.") || line.contains("; it is new.") || line.contains("; it is on its way: "),
                "{line}"
            );
            assert_eq!(next.log.lines().iter().filter(|other| **other == line).count(), 1);
        }
        assert_eq!(next.result, Some(Ok(())), "died at {dies_at}\n{}", next.log.tail());
        let settings = |played: &Played| played.board.truth()["settings"].clone();
        assert_eq!(settings(&next), settings(&whole), "died at {dies_at}");
        assert_eq!(left_open(&journal_of(&next)), None, "died at {dies_at}");
    }
    assert!(begun > 10 && half > 10, "{begun} runs begun, {half} settings half written");
}

/// Nothing is driven from the hold's firing on, and nothing turns at the end.
#[track_caller]
fn falls_still(played: &Played, death: quadjig::measure::time::Time, what: &str) {
    let log = &played.log;
    let late = log.truth.iter().filter(|truth| truth.at >= death + HELD && truth.highest > 1005);
    // What an arming after the death starts is stopped within two repetitions of the held bytes.
    let moments: Vec<_> = late.map(|truth| truth.at).collect();
    let driven = Duration::from_millis(5) * u32::try_from(moments.len()).unwrap();
    assert!(driven <= Duration::from_millis(60), "{what}: driven for {driven:?} after the hold\n{}", log.tail());
    let last = log.truth.last().unwrap();
    assert!(last.fastest < 1.0 && last.highest <= 1005, "{what}: {last:?}\n{}", log.tail());
}

#[test]
fn while_motors_turn_by_the_switch() {
    for after in [0, 5, 130, 400, 900, 1700] {
        let mut stand = Stand::new(START).plot(Plot::turning(after, vec![Then::Die]));
        stand.after = Duration::from_secs(6);
        let died = stand.play();
        assert!(died.result.is_none());
        died.log.motors_turned();
        let death = died.log.entries.last().unwrap().at;
        let death = died.log.truth.iter().find(|t| t.at >= death && t.fastest > 1000.0).map_or(death, |t| t.at);
        falls_still(&died, death + Duration::from_millis(after), &format!("{after} ms"));
        // By the writer's own bytes, and those are no forced ones.
        let held: Vec<_> = died.log.spied.iter().filter(|(at, _)| *at > death + Duration::from_millis(after)).collect();
        assert!(held.len() > 10, "{} sendings", held.len());
        for (_, bytes) in held {
            for (class, forced, _) in super::stand::classed(bytes) {
                assert_eq!((class, forced), (Some(FrameClass::Stop), false));
            }
        }
    }
}

#[test]
fn while_a_motor_turns_by_command() {
    for after in [0, 5, 130, 400, 1500] {
        let mut stand = Stand::new(SIGNAL).plot(Plot::turning(after, vec![Then::Die]));
        stand.after = Duration::from_secs(6);
        let died = stand.play();
        assert!(died.result.is_none());
        died.log.motors_turned();
        let death = died.log.truth.iter().find(|t| t.fastest > 1000.0).unwrap().at + Duration::from_millis(after);
        falls_still(&died, death, &format!("{after} ms"));
    }
}

#[test]
fn around_every_start_whatever_the_effect() {
    // From the answered motor question to the end of the start, every fifth effect.
    let whole = Stand::new(START).play();
    let all = effects(&whole.log);
    let asked = all.iter().position(|did| matches!(did, Did::Asked(q) if q.title == "Motors will turn")).unwrap();
    let mut died = 0;
    for dies_at in (0..70).map(|step| asked / 2 + step * 5) {
        let mut stand = Stand::new(START);
        stand.dies_at = Some(dies_at);
        stand.after = Duration::from_secs(4);
        let played = stand.play();
        if played.result.is_some() {
            break;
        }
        died += 1;
        let death = played.log.entries.last().unwrap().at + Duration::from_millis(100);
        falls_still(&played, death, &format!("effect {dies_at}"));
    }
    assert!(died > 50, "{died}");
}
