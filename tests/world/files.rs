//! The disk: what is answered as stored is there; a lock names its holder; a full disk is said.

use super::kit::{next, setup};
use quadjig::board::signals::Identity;
use quadjig::record::{CraftRecord, Damage, JournalLine, RecordError, StoreJob, StorePlace};
use quadjig::report::screen::Screen;
use quadjig::seam::{Effect, Event, StoreTicket, World};
use quadjig::world::real::{RealWorld, Setup};
use std::os::unix::fs::PermissionsExt;
use std::path::Path;

const ID: &str = "76697274000000a1";

fn board(id: &str) -> Identity {
    Identity { id: id.to_owned(), firmware: "2.4.1".to_owned(), kind: String::new(), name: None }
}

fn start(setup: Setup) -> RealWorld {
    RealWorld::new(setup, Box::new(Screen::default())).unwrap()
}

fn open(world: &mut RealWorld, id: &str) -> Result<CraftRecord, RecordError> {
    world.act(Effect::OpenRecord(board(id)));
    match next(world) {
        Event::Record(record) => *record,
        other => panic!("{other:?}"),
    }
}

fn store(world: &mut RealWorld, job: StoreJob) -> Result<(), RecordError> {
    world.act(Effect::Store(StoreTicket(7), job));
    match next(world) {
        Event::Stored(StoreTicket(7), result) => result,
        other => panic!("{other:?}"),
    }
}

fn job(file: &str, bytes: &[u8], append: bool) -> StoreJob {
    StoreJob { place: StorePlace::Craft(file.into()), bytes: bytes.to_vec(), append }
}

fn end(outcome: &str) -> JournalLine {
    JournalLine::End { at: "t".to_owned(), outcome: outcome.to_owned(), snapshot: None }
}

#[test]
fn a_record_is_made_stored_into_and_read_again() {
    let crafts = tempfile::tempdir().unwrap();
    let folder = crafts.path().join("deep/crafts").join(ID);
    {
        let mut world = start(setup(folder.parent().unwrap()));
        assert_eq!(open(&mut world, ID).unwrap(), CraftRecord { folder: folder.clone(), ..CraftRecord::default() });
        for outcome in ["one", "two"] {
            assert_eq!(store(&mut world, end(outcome).store().unwrap()), Ok(()));
        }
        assert_eq!(store(&mut world, job("snapshots/s.json", b"old and longer", false)), Ok(()));
        assert_eq!(store(&mut world, job("snapshots/s.json", b"new", false)), Ok(()));
        assert_eq!(std::fs::read(folder.join("snapshots/s.json")).unwrap(), b"new");
        assert_eq!(std::fs::read_dir(folder.join("snapshots")).unwrap().count(), 1, "nothing else is left behind");
    }
    let mut world = start(setup(folder.parent().unwrap()));
    assert_eq!(open(&mut world, ID).unwrap().journal, [end("one"), end("two")]);
}

#[test]
fn a_torn_last_line_is_taken_away_before_the_next_is_added() {
    let crafts = tempfile::tempdir().unwrap();
    let folder = crafts.path().join(ID);
    std::fs::create_dir(&folder).unwrap();
    let mut bytes = end("one").store().unwrap().bytes;
    bytes.extend(b"{\"event\":\"en");
    std::fs::write(folder.join("journal.jsonl"), bytes).unwrap();
    let mut world = start(setup(crafts.path()));
    let record = open(&mut world, ID).unwrap();
    assert_eq!((record.journal, record.damage), (vec![end("one")], vec![Damage::Torn("journal.jsonl")]));
    assert_eq!(store(&mut world, end("two").store().unwrap()), Ok(()));
    let record = open(&mut world, ID).unwrap();
    assert_eq!((record.journal, record.damage), (vec![end("one"), end("two")], vec![]));
}

#[test]
fn a_second_run_on_a_craft_is_refused_with_the_holders_name() {
    let crafts = tempfile::tempdir().unwrap();
    let mut first = start(setup(crafts.path()));
    open(&mut first, ID).unwrap();
    let mut second = start(setup(crafts.path()));
    // The machine too, as the system calls it: a folder may be shared by several.
    let machine = std::fs::read_to_string("/proc/sys/kernel/hostname").unwrap();
    let holder = format!("process {} on {} with wren95.jig", std::process::id(), machine.trim());
    assert_eq!(open(&mut second, ID), Err(RecordError::Held(holder)));
    // Another craft is free, and the lock ends with its holder.
    assert!(open(&mut second, "76697274000000a2").is_ok());
    drop(first);
    // A child that another test starts just now may hold the lock until it has become its own program.
    let opened = (0..100).any(|_| {
        std::thread::sleep(std::time::Duration::from_millis(20));
        open(&mut second, ID).is_ok()
    });
    assert!(opened);
}

/// A lock that is a link, or a second name of another file: what it leads to is left as it is.
#[test]
fn a_lock_that_leads_elsewhere_is_refused_and_changes_nothing() {
    for link in
        [|to: &Path, at: &Path| std::os::unix::fs::symlink(to, at), |to: &Path, at: &Path| std::fs::hard_link(to, at)]
    {
        let crafts = tempfile::tempdir().unwrap();
        let other = crafts.path().join("letter");
        std::fs::write(&other, "dear all").unwrap();
        let folder = crafts.path().join(ID);
        std::fs::create_dir(&folder).unwrap();
        link(&other, &folder.join("lock")).unwrap();
        let mut world = start(setup(crafts.path()));
        assert!(matches!(open(&mut world, ID), Err(RecordError::Other { file, .. }) if file == folder.join("lock")));
        assert_eq!(std::fs::read(&other).unwrap(), b"dear all");
    }
}

#[test]
fn a_board_without_an_id_has_no_record() {
    let crafts = tempfile::tempdir().unwrap();
    let mut world = start(setup(crafts.path()));
    assert_eq!(open(&mut world, "0000000000000000"), Err(RecordError::Unnamed));
    assert!(matches!(open(&mut world, "../../etc"), Err(RecordError::BadId(_))));
}

#[test]
fn nothing_leads_out_of_the_crafts_folder() {
    let crafts = tempfile::tempdir().unwrap();
    let mut world = start(setup(crafts.path()));
    assert!(
        matches!(store(&mut world, job("journal.jsonl", b"x\n", true)), Err(RecordError::Other { .. })),
        "no record is open"
    );
    open(&mut world, ID).unwrap();
    for file in ["../out", "/tmp/out", "a/../../out", ""] {
        assert!(matches!(store(&mut world, job(file, b"x", false)), Err(RecordError::Other { .. })), "{file}");
    }
    assert!(!crafts.path().join("out").exists());
}

#[test]
fn a_radio_card_is_replaced_behind_its_link_with_its_rights() {
    let folder = tempfile::tempdir().unwrap();
    let (card, link) = (folder.path().join("card.toml"), folder.path().join("link.toml"));
    std::fs::write(&card, "old").unwrap();
    std::fs::set_permissions(&card, std::fs::Permissions::from_mode(0o640)).unwrap();
    std::os::unix::fs::symlink(&card, &link).unwrap();
    let mut world = start(Setup { radio_card: Some(link.clone()), ..setup(folder.path()) });
    let job = StoreJob { place: StorePlace::RadioCard, bytes: b"new".to_vec(), append: false };
    assert_eq!(store(&mut world, job), Ok(()));
    assert_eq!(std::fs::read(&card).unwrap(), b"new");
    assert_eq!(card.metadata().unwrap().permissions().mode() & 0o777, 0o640);
    assert!(link.symlink_metadata().unwrap().is_symlink());
}

/// Linux `full(4)`: a write to `/dev/full` fails with ENOSPC.
#[test]
fn a_full_disk_is_said_with_the_file() {
    let crafts = tempfile::tempdir().unwrap();
    let mut world = start(setup(crafts.path()));
    let folder = open(&mut world, ID).unwrap().folder;
    let file = folder.join("full");
    std::os::unix::fs::symlink("/dev/full", &file).unwrap();
    assert_eq!(store(&mut world, job("full", b"x\n", true)), Err(RecordError::Full(file)));
}

/// A tiny file system of its own, where this machine lets us have one: the journal that does not fit
/// ends where it ended before.
#[test]
fn a_line_that_does_not_fit_leaves_no_half_of_itself() {
    let mount = tempfile::tempdir().unwrap();
    let mounted = std::process::Command::new("mount")
        .args(["-t", "tmpfs", "-o", "size=64k", "none"])
        .arg(mount.path())
        .output()
        .is_ok_and(|output| output.status.success());
    if !mounted {
        return;
    }
    let outcome = fill(mount.path());
    // Lazily: a child that another test starts just now may hold a file of it until it has become its own program.
    let unmounted = std::process::Command::new("umount").arg("-l").arg(mount.path()).status().unwrap();
    assert!(unmounted.success());
    let (result, length, after) = outcome;
    assert!(matches!(result, Err(RecordError::Full(_))), "{result:?}");
    assert_eq!(after, length);
}

fn fill(crafts: &Path) -> (Result<(), RecordError>, u64, u64) {
    let mut world = start(setup(crafts));
    let journal = open(&mut world, ID).unwrap().folder.join("journal.jsonl");
    store(&mut world, end("one").store().unwrap()).unwrap();
    let length = journal.metadata().unwrap().len();
    let result = store(&mut world, end(&"x".repeat(100_000)).store().unwrap());
    (result, length, journal.metadata().unwrap().len())
}
