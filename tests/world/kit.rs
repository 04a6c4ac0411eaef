//! A real world on pseudo-terminals: the test holds the other ends.

use quadjig::measure::time::Time;
use quadjig::report::screen::{Screen, Style};
use quadjig::seam::{Effect, Event, PortName, World};
use quadjig::world::real::{BAUD, RealWorld, Setup};
use quadjig::world::terminal::Terminal;
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::fd::OwnedFd;
use rustix::fs::{Mode, OFlags};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use std::fs::File;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

pub const SOON: Duration = Duration::from_secs(5);

/// The board's end of a pseudo-terminal.
pub struct Master {
    file: File,
    pub path: PathBuf,
}

impl Master {
    pub fn new() -> Self {
        let fd: OwnedFd = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).unwrap();
        grantpt(&fd).unwrap();
        unlockpt(&fd).unwrap();
        let path = ptsname(&fd, Vec::new()).unwrap().into_string().unwrap().into();
        Self { file: File::from(fd), path }
    }

    /// The other end, opened as a terminal is.
    pub fn slave(&self) -> File {
        // Never as the controlling terminal of the tests: its end would be theirs.
        let flags = OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC;
        File::from(rustix::fs::open(&self.path, flags, Mode::empty()).unwrap())
    }

    pub fn write(&mut self, bytes: &[u8]) {
        self.file.write_all(bytes).unwrap();
    }

    /// What comes within this time; nothing where nothing does.
    pub fn read_for(&mut self, longest: Duration) -> Vec<u8> {
        let wait = Timespec { tv_sec: 0, tv_nsec: i64::try_from(longest.as_nanos()).unwrap() };
        let mut polled = [PollFd::new(&self.file, PollFlags::IN)];
        if poll(&mut polled, Some(&wait)).unwrap() == 0 || !polled[0].revents().contains(PollFlags::IN) {
            return Vec::new();
        }
        let mut bytes = vec![0; 65536];
        let count = self.file.read(&mut bytes).unwrap();
        bytes[..count].to_vec()
    }

    /// Reads until what has come satisfies the test.
    pub fn read_until(&mut self, enough: impl Fn(&[u8]) -> bool) -> Vec<u8> {
        let (mut all, until) = (Vec::new(), Instant::now() + SOON);
        while !enough(&all) {
            assert!(Instant::now() < until, "only {:?} came", String::from_utf8_lossy(&all));
            all.extend(self.read_for(Duration::from_millis(50)));
        }
        all
    }
}

pub fn setup(crafts: &Path) -> Setup {
    Setup {
        crafts: crafts.to_owned(),
        radio_card: None,
        recipe: "wren95.jig".to_owned(),
        baud: BAUD,
        history: None,
        terminal: None,
        to_output: false,
        guardian: None,
    }
}

/// A world without a terminal.
pub fn world() -> RealWorld {
    RealWorld::new(setup(Path::new("/nonexistent")), Box::new(Screen::new(Style::default()))).unwrap()
}

pub fn world_at(terminal: &Master) -> RealWorld {
    let terminal = Some(Terminal::from_file(terminal.slave()).unwrap());
    let setup = Setup { terminal, ..setup(Path::new("/nonexistent")) };
    RealWorld::new(setup, Box::new(Screen::new(Style::default()))).unwrap()
}

/// Bytes that may leave at any time.
pub fn sent(bytes: impl Into<Vec<u8>>) -> Effect {
    Effect::Send { bytes: bytes.into(), by: Time::NEVER }
}

/// The next event that is none of time alone.
pub fn next(world: &mut RealWorld) -> Event {
    let (now, event) = world.next(Time(0));
    if !matches!(event, Event::Tick) {
        return event;
    }
    match world.next(now + SOON).1 {
        Event::Tick => panic!("nothing came"),
        event => event,
    }
}

pub fn now(world: &mut RealWorld) -> Time {
    let (now, event) = world.next(Time(0));
    assert!(matches!(event, Event::Tick), "{event:?}");
    now
}

/// A world with this path open.
pub fn opened(path: &Path) -> RealWorld {
    let mut world = world();
    world.act(Effect::Open(PortName::Serial(path.to_owned())));
    match next(&mut world) {
        Event::Opened(Ok(info)) => assert_eq!(info.name, path.display().to_string()),
        other => panic!("{other:?}"),
    }
    world
}

/// Runs one ignored test in a process of its own: signals and panics concern a whole process.
pub fn alone(test: &str) {
    let mut process = std::process::Command::new(std::env::current_exe().unwrap());
    let output = process.args(["--exact", test, "--ignored"]).output().unwrap();
    let said = String::from_utf8_lossy(&output.stdout);
    assert!(output.status.success() && said.contains("1 passed"), "{said}");
}

/// Runs one ignored test that ends in [`break_down`], in a process of its own.
pub fn breaks_down(test: &str) {
    let mut process = std::process::Command::new(std::env::current_exe().unwrap());
    // A trace takes so long that what is held would leave again meanwhile.
    let output = process.args(["--exact", test, "--ignored"]).env("RUST_BACKTRACE", "0").output().unwrap();
    assert_eq!(output.status.code(), Some(70), "{}", String::from_utf8_lossy(&output.stderr));
}

/// Breaks down in a thread, as the program does; the process ends as it should if this is so once all was done.
pub fn break_down(is_so: impl FnMut() -> bool + Send + 'static) {
    let is_so = std::sync::Mutex::new(is_so);
    quadjig::world::panic::install(move || if (is_so.lock().unwrap())() { 70 } else { 1 });
    let _never = std::thread::spawn(|| std::panic::panic_any("on purpose")).join();
    panic!("the program goes on after a panic");
}
