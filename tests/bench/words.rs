//! What the closing words and the next start say of each setting, against what the virtual board really holds and has
//! stored: old, new, or unknown, and never kept what was not read after a restart.

use super::stand::{ARM_ONLY, IDLE, Played, Plot, START, Stand, Then, keys};
use quadjig::bench::attended::after_restart;
use quadjig::board::mavlink::FrameClass;
use quadjig::board::value::Number;
use quadjig::record::ledger::RestartEvidence;
use quadjig::record::{Intent, JournalLine, Snapshot, WriteState, journal};
use quadjig::seam::fault::Fault;
use quadjig::seam::ui::Tone;
use quadjig::seam::{Event, Key, OpenError};
use quadjig::virtual_board::{Deed, World, WorldConfig};
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::time::Duration;

/// Sheet word, board name, old and new value as they are shown, of all that [`START`] writes.
const WRITTEN: [(&str, &str, &str, &str); 5] = [
    ("arm: channel", "ARM_CHANNEL", "5", "6"),
    ("arm: from", "ARM_FROM", "1698 us", "1754 us"),
    ("arm: to", "ARM_TO", "2098 us", "2146 us"),
    ("zero-throttle", "SPIN_AT_ZERO", "rest", "spin"),
    ("idle", "IDLE_US", "1050 us", "1150 us"),
];

fn value(board: &World, name: &str, which: &str) -> f64 {
    board.truth()["settings"][name][which].as_f64().unwrap()
}

/// Names that were written, from the frames that left.
fn written(played: &Played) -> BTreeSet<String> {
    played.log.writes().into_iter().map(|(_, name, _)| name).collect()
}

/// The line that begins with these words.
#[track_caller]
fn line<'p>(lines: &'p [String], begins: &str) -> &'p str {
    lines.iter().find(|line| line.starts_with(begins)).unwrap_or_else(|| panic!("no `{begins}` in {lines:#?}"))
}

/// Whether a line that begins with these words names a setting.
fn named(lines: &[String], begins: &str, word: &str) -> bool {
    let names = |line: &String| line.split([':', ';']).any(|part| part.trim().starts_with(word));
    lines.iter().any(|line| line.starts_with(begins) && (names(line) || line.contains(&format!("{word} "))))
}

const NEW: &str = "Broken off; on the board now as it was to be written";
const OLD: &str = "Broken off; on the board now as it was before";
const ON_ITS_WAY: &str = "Broken off on its way";
const UNKNOWN: &str = "Not read since it was to be written, so unknown";
const GONE: &str = "Written and not kept, so gone after a restart";
const HALF_STORED: &str = "A store of these did not come to an end";

#[test]
fn a_batch_broken_off_names_each_setting_by_old_or_new_as_the_board_has_it() {
    let whole = Stand::new(START).play();
    let mut split = 0;
    for after in 1..5 {
        let broken = |_: &World, log: &super::stand::Log| log.writes().len() >= after;
        let played =
            Stand::new(START).plot(Plot::when(broken, 0, vec![Then::Event(Event::Key(Key::Interrupt))])).play();
        assert!(played.result.as_ref().is_some_and(Result::is_err), "{}", played.log.tail());
        let lines = played.log.lines();
        let (mut new, mut old) = (0, 0);
        for (word, name, ..) in WRITTEN {
            let now = value(&played.board, name, "working");
            let is = |board: &World| (now - value(board, name, "stored")).abs() < 0.1;
            let (is_new, is_old) = (is(&whole.board), is(&World::new(WorldConfig::default())));
            assert!(!(is_new && is_old), "{name} says nothing");
            let said = [NEW, OLD, ON_ITS_WAY, UNKNOWN].map(|begins| named(&lines, begins, word));
            assert_eq!(said, [is_new, is_old, !is_new && !is_old, false], "{after} {word} = {now}: {lines:#?}");
            // What is not as before and not stored is gone after a restart, and is said to be.
            assert_eq!(named(&lines, GONE, word), !is_old, "{after}: {lines:#?}");
            new += usize::from(is_new);
            old += usize::from(is_old);
        }
        split += usize::from(new > 0 && old > 0);
    }
    assert!(split > 0, "no batch was broken off in its middle");
}

#[test]
fn a_batch_whose_wire_is_lost_names_each_setting_as_unknown() {
    let broken = |_: &World, log: &super::stand::Log| log.writes().len() >= 3;
    let played = Stand::new(START).plot(Plot::when(broken, 0, vec![Then::Line("usb out")])).play();
    let lines = played.log.lines();
    for (word, _, old, new) in WRITTEN {
        let words = line(&lines, UNKNOWN);
        assert!(words.contains(&format!("{word} (was {old}")) && words.contains(&format!(" {new})")), "{words}");
    }
    let arm = line(&lines, "An arm band may be open");
    assert!(arm.contains("keep the battery out") && arm.contains("`unbind arm`"), "{arm}");
    assert!(!lines.iter().any(|line| line.contains("gone after a restart")), "{lines:#?}");
}

#[test]
fn a_store_that_is_broken_off_leaves_unknown_what_a_restart_brings() {
    let mut config = WorldConfig::default();
    // Storing takes a while, and the board does it although nobody waits for it.
    config.speech.store_takes = 3;
    let storing = |_: &World, log: &super::stand::Log| !log.sent(FrameClass::Stores).is_empty();
    let mut stand =
        Stand::on(START, config).plot(Plot::when(storing, 100, vec![Then::Event(Event::Key(Key::Interrupt))]));
    stand.after = Duration::from_secs(5);
    let played = stand.play();
    assert!(played.result.as_ref().is_some_and(Result::is_err), "{}", played.log.tail());
    // The truth: after a restart the new idle is there.
    assert!((value(&played.board, "IDLE_US", "stored") - 1150.0).abs() < 1.0);
    let lines = played.log.lines();
    let words = line(&lines, HALF_STORED);
    assert!(words.contains("idle = 1150 us now, or 1050 us"), "{words}");
    assert!(!lines.iter().any(|line| line.contains("gone after a restart")), "{lines:#?}");
    // The next start does not call it gone either, and what it keeps is read after its own restart.
    let mut again = Stand::new(ARM_ONLY);
    again.board = played.board;
    again.disk = played.disk;
    let next = again.play();
    assert!(next.log.says("was cut off before its end"), "{:#?}", next.log.lines());
}

#[test]
fn what_the_board_says_that_it_stored_and_did_not_is_not_called_stored() {
    let mut config = WorldConfig::default();
    config.conduct.stores = Deed::Hollow;
    let played = Stand::on(START, config).play();
    assert_eq!(played.code(), 6, "{}", played.log.tail());
    let lines = played.log.lines();
    assert!(!lines.iter().any(|line| line.contains("stored as the board says")), "{lines:#?}");
    let words = line(&lines, "Read after the restart, and not as it was written");
    for (word, name, old, _) in WRITTEN {
        let stored = value(&played.board, name, "stored");
        assert!((stored - value(&World::new(WorldConfig::default()), name, "stored")).abs() < 0.1);
        assert!(words.contains(&format!("{word} = {old}")), "{word}: {words}");
    }
}

/// Names that were asked for one by one after a frame of a restart, before the outcome of it was noted.
fn read_after(played: &Played) -> Vec<(BTreeSet<String>, BTreeSet<String>)> {
    use super::stand::Did;
    let mut all = Vec::new();
    let mut asked: Option<BTreeSet<String>> = None;
    for entry in &played.log.entries {
        match &entry.did {
            Did::Frame { class: Some(FrameClass::Restarts), .. } => asked = Some(BTreeSet::new()),
            Did::Frame { bytes, .. } => {
                // PARAM_REQUEST_READ (common.xml, message 20): index, target system and component, name of 16.
                let frame = quadjig::board::mavlink::decode(bytes).filter(|frame| frame.id == 20);
                if let (Some(asked), Some(frame)) = (&mut asked, frame) {
                    let mut payload = frame.payload.to_vec();
                    payload.resize(20, 0);
                    let name: Vec<u8> = payload[4..].iter().copied().take_while(|byte| *byte != 0).collect();
                    asked.insert(String::from_utf8(name).unwrap());
                }
            }
            Did::Store { text, .. } if text.contains("kept-over-restart") => {
                let read = journal::Journal::parse(Path::new("j"), text.as_bytes()).unwrap().lines;
                let [JournalLine::Outcome { state: WriteState::KeptOverRestart, read: Some(read), .. }] = &read[..]
                else {
                    panic!("{read:?}")
                };
                let names = read.keys().map(ToString::to_string).collect();
                all.push((names, asked.take().unwrap_or_default()));
            }
            _ => {}
        }
    }
    all
}

/// On this board an idle takes a restart to be in force, so the search stores and restarts at every value.
#[test]
fn a_search_with_restarts_calls_kept_what_it_read_after_a_restart_and_nothing_else() {
    let unkept = IDLE.replacen("at zero throttle spin\nkeep\n", "at zero throttle spin\n", 1);
    let mut stand = Stand::new(&unkept);
    stand.sheet.settings.get_mut("idle").unwrap().restart = true;
    let played = stand.play();
    assert_eq!(played.result, Some(Ok(())), "{}", played.log.tail());
    let all = read_after(&played);
    assert!(all.len() >= 3, "{all:?}");
    let mut open: BTreeSet<String> = written(&played);
    for (said, asked) in &all {
        assert!(said.is_subset(asked), "{said:?} was called kept, and {asked:?} read");
        open.retain(|name| !said.contains(name));
    }
    assert!(open.is_empty(), "{open:?} was never read after a restart");
    // The binding was not kept before the search: its first restart is the first that shows it.
    assert!(all[0].0.contains("ARM_CHANNEL"), "{all:?}");
    assert!(played.log.says("settings were changed, read back, and kept over a restart"), "{:#?}", played.log.lines());
}

#[test]
fn without_evidence_of_a_restart_nothing_is_called_restarted_or_kept() {
    let (tone, words) = after_restart(RestartEvidence::Shown, 3, true);
    assert_eq!((tone, words.as_str()), (Tone::Good, "Restarted; the same board is back, 3 settings still there."));
    let (_, words) = after_restart(RestartEvidence::Silence, 3, true);
    assert!(words.starts_with("Restarted, as far as silence shows"), "{words}");
    let (tone, words) = after_restart(RestartEvidence::Accepted, 1, true);
    assert_eq!(tone, Tone::Warning);
    assert!(words.starts_with("The restart was accepted, not shown: 1 setting"), "{words}");
    for false_word in ["Restarted", "still there", "kept", "is back"] {
        assert!(!words.contains(false_word), "{words}");
    }
}

/// The snapshot that was taken before a craft was set up, brought back and broken off at its last write.
#[test]
fn a_restore_that_breaks_off_says_what_stands_and_how_to_close_the_arm_band() {
    // Bound first, then a copy, then unbound: bringing the copy back opens the band by its last write.
    let bound = Stand::new(ARM_ONLY).play();
    assert_eq!(bound.result, Some(Ok(())), "{}", bound.log.tail());
    let again = {
        let mut stand = Stand::new(ARM_ONLY);
        (stand.board, stand.disk) = (bound.board, bound.disk);
        stand.play()
    };
    let copy = again.disk.craft.iter().rfind(|(path, _)| path.starts_with("snapshots")).unwrap().1;
    let copy = Snapshot::parse(Path::new("s"), copy).unwrap();
    let restore = |happens: Vec<Plot<'static>>| {
        let mut stand = Stand::new(ARM_ONLY);
        stand.copy = Some(copy.clone());
        stand.plots = happens;
        stand.play()
    };
    let whole = restore(Vec::new());
    assert_eq!(whole.result, Some(Ok(())), "{}", whole.log.tail());
    let writes = whole.log.writes().len();
    assert!(writes > 4);
    // How it arms now is the last that is said, with what to do about it.
    let lines = whole.log.lines();
    assert!(line(&lines, "Arm is on with channel 6 from").contains("`test arm`"), "{lines:#?}");
    let last = move |_: &World, log: &super::stand::Log| log.writes().len() >= writes;
    let interrupted = restore(vec![Plot::when(last, 0, vec![Then::Event(Event::Key(Key::Interrupt))])]);
    let lines = interrupted.log.lines();
    assert!((value(&interrupted.board, "ARM_CHANNEL", "working") - 6.0).abs() < 0.1, "{lines:#?}");
    assert!(named(&lines, NEW, "arm: channel"), "{lines:#?}");
    assert!(line(&lines, "An arm band is open").contains("`unbind arm`"), "{lines:#?}");
    let unplugged = restore(vec![Plot::when(last, 0, vec![Then::Line("usb out")])]);
    let lines = unplugged.log.lines();
    assert!(named(&lines, UNKNOWN, "arm: channel"), "{lines:#?}");
    assert!(line(&lines, "An arm band may be open").contains("`unbind arm`"), "{lines:#?}");
}

/// Killed in the middle of a batch, then declined at the first question: the third start still says what is open, and
/// one that runs to its end settles it.
#[test]
fn what_was_cut_off_is_said_until_it_is_settled() {
    let whole = Stand::new(START).play();
    let killed = Stand::new(START).plot(Plot::when(|_, log| log.writes().len() >= 3, 0, vec![Then::Die])).play();
    assert_eq!(killed.result, None);
    let (mut board, mut disk) = (killed.board, killed.disk);
    for start in 0..3 {
        let then = board.truth()["settings"].clone();
        let mut stand = Stand::new(START);
        (stand.board, stand.disk) = (board, disk);
        if start < 2 {
            stand.hands = super::stand::Hands::willing(&WorldConfig::default())
                .who_answers(|_| Some(keys(900, 60, [Key::Escape])));
        }
        let played = stand.play();
        let lines = played.log.lines();
        assert!(line(&lines, "The run of ").contains("was cut off before its end"), "{start}");
        let stands: BTreeMap<&str, &str> =
            lines.iter().filter_map(|line| line.split_once(" was to go from ")).collect();
        // What was read to be as before, and nothing was stored since, is settled and said once.
        let open = |name: &str| then[name]["working"] != then[name]["stored"];
        for (_, name, ..) in WRITTEN {
            assert_eq!(stands.contains_key(name), start == 0 || open(name), "{start} {name}: {lines:#?}");
        }
        if start == 2 {
            assert_eq!(played.result, Some(Ok(())), "{}", played.log.tail());
        } else {
            assert_eq!(played.code(), 4, "{}", played.log.tail());
            for (name, said) in stands {
                let now = value(&played.board, name, "working");
                let is = |board: &World| (now - value(board, name, "stored")).abs() < 0.1;
                let truth = match (is(&whole.board), is(&played.board)) {
                    (true, _) => "it is new.".to_owned(),
                    (_, true) => "it is old.".to_owned(),
                    _ => format!("it is on its way: {now}."),
                };
                assert!(said.ends_with(&truth), "{name} is {now}, and said is {said}");
            }
        }
        (board, disk) = (played.board, played.disk);
    }
    let mut stand = Stand::new(START);
    (stand.board, stand.disk) = (board, disk);
    let settled = stand.play();
    assert_eq!(settled.result, Some(Ok(())), "{}", settled.log.tail());
    assert!(!settled.log.says("was cut off") && !settled.log.says("was to go from"), "{:#?}", settled.log.lines());
}

/// A damaged line in the middle of the journal: the run goes on, says so, and names what was announced before it.
#[test]
fn a_damaged_journal_is_said_and_locks_no_craft_out() {
    let mut killed = Stand::new(START).plot(Plot::when(|_, log| log.writes().len() >= 3, 0, vec![Then::Die])).play();
    let file = killed.disk.craft.get_mut(Path::new(journal::FILE)).unwrap();
    file.extend(b"{\"event\":\"outcome\",\"at\":\"t\",\"step\":3,\"sta\0\0\0\0\n");
    let mut stand = Stand::new(START);
    (stand.board, stand.disk) = (killed.board, killed.disk);
    let next = stand.play();
    assert_eq!(next.result, Some(Ok(())), "{}", next.log.tail());
    let lines = next.log.lines();
    assert!(lines.iter().any(|line| line.contains("of journal.jsonl is damaged")), "{lines:#?}");
    for (_, name, ..) in WRITTEN {
        assert!(lines.iter().any(|line| line.starts_with(&format!("{name} was to go from"))), "{name}: {lines:#?}");
    }
    let mut stand = Stand::new(START);
    (stand.board, stand.disk) = (next.board, next.disk);
    assert!(!stand.play().log.says("damaged"));
}

/// A store was broken off, the board did it all the same, and the person put back by hand what stood before: on the
/// board all is as in the copy, in its store it is not. Bringing the copy back settles it.
#[test]
fn a_restore_settles_what_may_be_stored_otherwise() {
    let mut config = WorldConfig::default();
    config.speech.store_takes = 3;
    let storing = |_: &World, log: &super::stand::Log| !log.sent(FrameClass::Stores).is_empty();
    let mut stand =
        Stand::on(START, config).plot(Plot::when(storing, 100, vec![Then::Event(Event::Key(Key::Interrupt))]));
    stand.after = Duration::from_secs(5);
    let mut broken = stand.play();
    let now = broken.board.now();
    let factory = World::new(WorldConfig::default());
    for (_, name, ..) in WRITTEN {
        broken.board.line(now, &format!("set {name} {}", value(&factory, name, "working"))).unwrap();
        assert!((value(&broken.board, name, "stored") - value(&factory, name, "stored")).abs() > 0.1, "{name}");
    }
    let copy = broken.disk.craft.iter().rfind(|(path, _)| path.starts_with("snapshots")).unwrap().1;
    let mut stand = Stand::new(START);
    stand.copy = Some(Snapshot::parse(Path::new("s"), copy).unwrap());
    (stand.board, stand.disk) = (broken.board, broken.disk);
    let restored = stand.play();
    assert_eq!(restored.result, Some(Ok(())), "{}", restored.log.tail());
    assert!(restored.log.writes().is_empty());
    for (_, name, ..) in WRITTEN {
        assert!((value(&restored.board, name, "stored") - value(&factory, name, "stored")).abs() < 0.1, "{name}");
    }
    let mut stand = Stand::new(ARM_ONLY);
    (stand.board, stand.disk) = (restored.board, restored.disk);
    let next = stand.play();
    assert!(!next.log.says("cut off") && !next.log.says("was to go from"), "{:#?}", next.log.lines());
}

/// The port can't be opened any more behind a restart: much was written, whatever the port says.
#[test]
fn a_port_that_is_gone_behind_a_restart_is_not_called_a_board_that_was_never_reached() {
    let denied = || OpenError::Denied { port: "virtual".to_owned(), hint: String::new() };
    let restarts =
        |board: &World, log: &super::stand::Log| !log.sent(FrameClass::Restarts).is_empty() && !board.link_present();
    let played =
        Stand::new(START).plot(Plot::when(restarts, 50, vec![Then::Event(Event::Opened(Err(denied())))])).play();
    assert!(matches!(played.fault(), Fault::Open(_)), "{:?}", played.result);
    let lines = played.log.lines();
    assert!(!lines.iter().any(|line| line.contains("nothing was written")), "{lines:#?}");
    assert!(line(&lines, "Written, and stored as the board says, but not seen again").contains("idle = 1150 us"));
}

/// A run that was cut off wrote a setting that the board has no more, as after a change of its firmware: it is said to
/// be unknown, and holds nothing up.
#[test]
fn a_setting_that_the_board_has_no_more_holds_nothing_up() {
    let mut killed = Stand::new(START).plot(Plot::when(|_, log| log.writes().len() >= 3, 0, vec![Then::Die])).play();
    let writes = vec![Intent { name: "GONE".to_owned(), from: None, to: Number::Whole(7) }];
    let gone = JournalLine::Intent { at: "t".to_owned(), step: 1, writes }.store().unwrap();
    killed.disk.craft.get_mut(Path::new(journal::FILE)).unwrap().extend(gone.bytes);
    let (mut board, mut disk) = (killed.board, killed.disk);
    for restarts in [true, false] {
        let mut stand = Stand::new(ARM_ONLY);
        (stand.board, stand.disk) = (board, disk);
        let played = stand.play();
        assert_eq!(played.result, Some(Ok(())), "{}", played.log.tail());
        assert!(played.log.says("GONE was to go from unknown to 7; it is unknown."), "{:#?}", played.log.lines());
        assert_eq!(!played.log.sent(FrameClass::Restarts).is_empty(), restarts);
        (board, disk) = (played.board, played.disk);
    }
}
