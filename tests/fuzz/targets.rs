//! What the program reads from elsewhere, each as a function of bytes: it may refuse them, but never panic, hang, grow
//! without bound, or break what its layer promises.
//!
//! Must not be here: where the bytes come from.

use quadjig::board::sheet::Sheet;
use quadjig::board::signals::{LinkEvent, Outgoing, Request, Ticket};
use quadjig::board::{link_detector, radio_card_file, sheet_file, shipped};
use quadjig::language::format::format;
use quadjig::language::read;
use quadjig::language::sources::Memory;
use quadjig::machines::keys::{Keys, Pressed};
use quadjig::measure::time::Time;
use quadjig::plan::checks::reading;
use quadjig::record::Snapshot;
use quadjig::record::journal::Journal;
use quadjig::record::ledger::Ledger;
use quadjig::report::gate;
use std::path::Path;
use std::time::Duration;

/// See the module.
pub type Target = fn(&[u8]);

/// All of them, each with the name of its folder of bytes.
pub const ALL: [(&str, Target); 9] = [
    ("recipe", recipe),
    ("document", document),
    ("record", record),
    ("mavlink", mavlink),
    ("console", console),
    ("packets", packets),
    ("keys", keys),
    ("gate", shown),
    ("world", world),
];

/// The target of this name.
pub fn named(name: &str) -> Target {
    let found = ALL.iter().find(|(known, _)| *known == name);
    found.unwrap_or_else(|| panic!("QUADJIG_FUZZ names no target: {name:?}")).1
}

/// Words of settings, as a command that knows a board would hand them over.
const WORDS: &[&str] = &["idle", "loop-rate", "zero-throttle"];
/// The longest text that is worth reading here: limits of length have tests of their own.
const LONGEST: usize = 8192;

fn text(bytes: &[u8]) -> Option<&str> {
    std::str::from_utf8(bytes).ok().filter(|text| text.len() <= LONGEST)
}

/// A recipe is read and checked with every finding in its text; what can be laid out settles, and means what it meant.
fn recipe(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return };
    let whole = |text: &str| read(&Memory::of([("test.jig", text)]), Path::new("test.jig"), &[], WORDS);
    let before = whole(text);
    let finch = shipped::sheet("Finch").unwrap().unwrap();
    for finding in reading(&before, &[finch], None) {
        let places = finding.also.iter().map(|(span, _)| span).chain(finding.fixes.iter().map(|fix| &fix.span));
        for span in places.chain([&finding.span]) {
            assert!(before.files[span.file.0].text.get(span.range.clone()).is_some(), "{finding:?}");
        }
    }
    let Ok(once) = format(text) else { return };
    assert_eq!(format(&once).unwrap(), once, "the layout settles");
    let after = whole(&once);
    let meaning = |reading: &quadjig::language::Reading| {
        let statements = reading.recipe.iter().flat_map(|recipe| &recipe.statements);
        let codes = reading.findings.iter().map(|finding| finding.code);
        (statements.map(|statement| statement.what.clone()).collect::<Vec<_>>(), codes.collect::<Vec<_>>())
    };
    assert_eq!(meaning(&before), meaning(&after), "the meaning stays");
}

/// A board sheet and a radio card, as one text may be meant.
fn document(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return };
    let _refused = radio_card_file::read("card.toml", text);
    if let Ok(sheet) = sheet_file::read("sheet.toml", text) {
        let _link = link_detector::link(&[sheet], None);
    }
}

/// A snapshot and a journal: what was read comes to a ledger, and each line reads back as itself.
fn record(bytes: &[u8]) {
    let _refused = Snapshot::parse(Path::new("snapshot.json"), bytes);
    let Ok(journal) = Journal::parse(Path::new("journal.jsonl"), bytes) else { return };
    let mut ledger = Ledger::default();
    journal.lines.iter().for_each(|line| ledger.apply(line));
    let _told = (ledger.is_unfinished(), ledger.names().len(), ledger.way_back());
}

/// A link hears anything while it asks only questions: it never makes a frame that changes or drives anything.
fn hears(sheets: &[Sheet], bytes: &[u8]) {
    let mut link = link_detector::link(sheets, None);
    let (mut now, mut heard, mut out) = (Time(1_000_000), Vec::new(), Vec::new());
    for (ticket, request) in [(1, Request::Identify), (2, Request::ArmedFlag)] {
        link.send(now, Ticket(ticket), request, &mut out);
    }
    let mut rest = bytes;
    while let Some((length, after)) = rest.split_first() {
        let (piece, after) = after.split_at(usize::from(*length).min(after.len()));
        rest = after;
        now = now + Duration::from_millis(u64::from(*length) * 3);
        link.receive(now, piece, &mut heard);
        if now >= link.wake() {
            link.work(now, &mut out, &mut heard);
        }
        for (_, frame) in link.frames_made(&std::mem::take(&mut out)) {
            let asks = matches!(frame, Outgoing::Identify | Outgoing::Presence | Outgoing::Ask | Outgoing::Heartbeat);
            assert!(asks, "it was asked for nothing of the kind, and made {frame:?}");
        }
        assert!(heard.len() <= 4 * bytes.len() + 64, "more was heard than came");
        for event in heard.drain(..) {
            if let LinkEvent::Text { text, .. } = event {
                assert!(text.len() <= 4096, "a text without end");
            }
        }
    }
    let _stop = (link.held_stop_bytes(), link.stop_bytes(false));
}

fn mavlink(bytes: &[u8]) {
    hears(&[shipped::sheet("finch").unwrap().unwrap()], bytes);
}

fn console(bytes: &[u8]) {
    hears(&[shipped::sheet("finch-c").unwrap().unwrap()], bytes);
}

fn packets(bytes: &[u8]) {
    hears(&[shipped::sheet("finch-p").unwrap().unwrap()], bytes);
    hears(&[shipped::sheet("finch-q").unwrap().unwrap()], bytes);
}

/// Wherever they are cut: Ctrl-C is Ctrl-C, and after 50 ms of quiet nothing is waited for.
fn keys(bytes: &[u8]) {
    let (mut keys, mut now) = (Keys::default(), Time(1_000_000));
    for byte in bytes {
        if *byte >= 0xF0 {
            now = now + Duration::from_millis(u64::from(*byte & 0xF) * 5);
            let _quiet = keys.quiet(now);
            continue;
        }
        let pressed = keys.take(now, *byte);
        assert!(*byte != 3 || pressed == Some(Pressed::Interrupt), "Ctrl-C became {pressed:?}");
    }
    let _quiet = keys.quiet(now + Duration::from_millis(50));
    assert_eq!(keys.wake(), Time::NEVER);
}

/// Nothing that a terminal would obey passes, and what passed once passes as it is.
fn shown(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    let moves = |c: char| c.is_control() || ('\u{202a}'..='\u{202e}').contains(&c) || c == '\u{200b}';
    let line = gate::line(&text);
    assert!(!line.chars().any(moves), "{line:?}");
    assert_eq!(gate::line(&line), line);
    assert!(!gate::lines(&text).chars().any(|c| moves(c) && c != '\n' && c != '\t'));
    let json = serde_json::to_string(&text).unwrap();
    let safe = gate::json(&json);
    assert!(!safe.chars().any(moves), "{safe:?}");
    assert_eq!(serde_json::from_str::<String>(&safe).unwrap(), text);
}

/// The bytes decide what befalls a world, and a judge that shares nothing with the program looks on.
fn world(bytes: &[u8]) {
    let broken = crate::faults::plays(bytes);
    assert!(broken.is_empty(), "{broken:#?}");
}
