//! A board without a serial number that comes back from its restart under another name, over real pseudo-terminals:
//! beside an armed craft of the same kind, and after a bootloader that gives no sign of life.

use super::kit::{Master, world};
use crate::cli::desk::board::Board;
use crate::cli::hostile::between::{Alter, Between};
use crate::cli::hostile::changes;
use quadjig::bench::attended::connect;
use quadjig::bench::operations::settings::Door;
use quadjig::bench::session::context::SessionContext;
use quadjig::bench::session::event_loop::drive;
use quadjig::bench::session::{Script, Session};
use quadjig::board::mavlink::MavlinkLink;
use quadjig::board::shipped;
use quadjig::seam::ui::BoardChange;
use quadjig::seam::{PortInfo, PortName};
use quadjig::world::ports::{Listed, Lister};
use std::path::PathBuf;
use std::rc::Rc;
use std::sync::{Arc, Mutex};
use std::time::Duration;

/// Carries everything as it is.
struct Honest;

impl Alter for Honest {}

/// Where a link leads now, if it does.
fn now(link: &str) -> Option<PathBuf> {
    PathBuf::from(link).canonicalize().ok()
}

/// What a bootloader was sent, once it has left.
type Heard = Arc<Mutex<Option<Vec<u8>>>>;

/// The neighbour always, the bootloader while the board's port is away, and the board.
fn lister(neighbour: Option<String>, board: String, heard: &Heard) -> Lister {
    let (bootloader, heard) = (Mutex::new(None::<Master>), heard.clone());
    Arc::new(move || {
        let mut bootloader = bootloader.lock().unwrap();
        let board = now(&board);
        *bootloader = match (bootloader.take(), &board) {
            (None, None) => Some(Master::new()),
            (known, None) => known,
            (Some(mut left), Some(_)) => {
                *heard.lock().unwrap() = Some(left.read_for(Duration::ZERO));
                None
            }
            (None, Some(_)) => None,
        };
        let neighbour = neighbour.as_ref().and_then(|link| now(link));
        let paths = neighbour.into_iter().chain(bootloader.as_ref().map(|port| port.path.clone())).chain(board);
        let usb = Some((0x1209, 10));
        let listed = |path: PathBuf| Listed {
            info: PortInfo { name: path.display().to_string(), usb, ..PortInfo::default() },
            plausible: true,
            links: Vec::new(),
        };
        paths.map(listed).collect()
    })
}

/// A board is met, restarted and met again; where it may be is listed so.
fn restarts(between: &Between, list: Lister) {
    let bench = Rc::new(SessionContext::default());
    // By the device's own name, which it does not keep.
    let port = PortName::Serial(now(&between.port).unwrap());
    let course = bench.clone();
    let script: Script = Box::pin(async move {
        let known = connect(&course, &port).await?;
        let sheets = [shipped::sheet("finch").unwrap().unwrap()];
        course.choose_sheet(&sheets, &known, "Wren 95")?;
        course.watch_it().await?;
        let restart = BoardChange { restart: true, ..BoardChange::default() };
        let still = course.enter(&mut Door::default(), restart).await?;
        course.restart(still, &known.identity).await?;
        // What was learned of its numbers holds again.
        course.wait_still().await?;
        course.close();
        Ok(())
    });
    let mut session = Session::new(Box::new(MavlinkLink::new(None)), bench, script, false);
    let mut world = world().listing(list);
    assert_eq!(drive(&mut session, &mut world), Ok(()));
}

#[test]
fn it_is_found_by_its_id_and_an_armed_neighbour_is_left_alone() {
    let (mut board, mut neighbour) = (Board::on_tcp(), Board::on_tcp_with(&["--seed", "2"]));
    for line in ["set ARM_CHANNEL 6", "set ARM_FROM 1754", "set ARM_TO 2146", "battery in", "flip B 2"] {
        neighbour.line(line);
    }
    neighbour.until(Board::drives);
    let (between, beside) = (Between::new(&board, Honest), Between::new(&neighbour, Honest));
    let starts = board.truth()["board"]["starts"].clone();

    restarts(&between, lister(Some(beside.port.clone()), between.port.clone(), &Heard::default()));

    assert_ne!(board.truth()["board"]["starts"], starts);
    assert_eq!(changes(&between.sent()), ["MAV_CMD_PREFLIGHT_REBOOT_SHUTDOWN"]);
    let asked = beside.sent();
    assert!(!asked.is_empty(), "the neighbour was asked who it is");
    assert_eq!(changes(&asked), Vec::<String>::new(), "and nothing else, no stop among it");
    assert!(neighbour.drives());
}

/// A place that stays silent may be anything: it is listened to, and left.
#[test]
fn a_place_without_a_sign_of_life_is_asked_nothing() {
    let mut board = Board::on_tcp();
    let between = Between::new(&board, Honest);
    let (starts, heard) = (board.truth()["board"]["starts"].clone(), Heard::default());
    restarts(&between, lister(None, between.port.clone(), &heard));
    assert_ne!(board.truth()["board"]["starts"], starts);
    assert_eq!(*heard.lock().unwrap(), Some(Vec::new()), "what the bootloader was sent");
}
