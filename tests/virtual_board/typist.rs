//! A person, or a program, that types at the console of a virtual Finch C and keeps what it shows.

use quadjig::measure::time::Time;
use quadjig::virtual_board::{BoardKind, ConsoleConfig, World, WorldConfig};
use std::time::Duration;

/// What the board shows where a line can be typed.
pub const PROMPT: &str = "finch> ";

pub struct Typist {
    pub world: World,
    pub now: Time,
}

impl Typist {
    /// At a board whose banner was read.
    pub fn new(console: ConsoleConfig) -> Self {
        Self::with(WorldConfig { console, ..WorldConfig::default() })
    }

    /// At the Finch C of another world.
    pub fn with(config: WorldConfig) -> Self {
        let config = WorldConfig { board: BoardKind::FinchC, ..config };
        let mut typist = Self { world: World::new(config), now: Time(0) };
        assert_eq!(typist.wait(50), format!("Finch C 2.4.1\r\n{PROMPT}"));
        typist
    }

    pub fn plain() -> Self {
        Self::new(ConsoleConfig::default())
    }

    /// What the board has shown up to now.
    pub fn shown(&mut self) -> String {
        String::from_utf8(self.world.take_output()).expect("a console sends text")
    }

    /// What the board shows in a while.
    pub fn wait(&mut self, milliseconds: u64) -> String {
        let end = self.now + Duration::from_millis(milliseconds);
        let mut shown = String::new();
        while self.now < end {
            self.now = self.world.wake().min(end).max(Time(self.now.0 + 1));
            self.world.advance(self.now);
            shown += &self.shown();
        }
        shown
    }

    /// What the board shows at once to some bytes.
    pub fn types(&mut self, bytes: impl AsRef<[u8]>) -> String {
        self.world.receive(self.now, bytes.as_ref());
        self.shown()
    }

    /// The answer to a line, between its echo and the next prompt.
    pub fn ask(&mut self, line: &str) -> String {
        let shown = self.types(format!("{line}\r"));
        let answer = shown.strip_prefix(&format!("{line}\r\n")).unwrap_or_else(|| panic!("no echo: {shown:?}"));
        let answer = answer.strip_suffix(PROMPT).unwrap_or_else(|| panic!("no prompt: {shown:?}"));
        answer.strip_suffix("\r\n").unwrap_or(answer).replace("\r\n", "\n")
    }

    /// Moves the world; what the board shows of it.
    pub fn line(&mut self, line: &str) -> String {
        self.world.line(self.now, line).unwrap_or_else(|error| panic!("{line}: {error}"));
        self.shown()
    }

    pub fn truth(&self, path: &str) -> serde_json::Value {
        self.world.truth().pointer(path).unwrap_or_else(|| panic!("no {path} in the truth")).clone()
    }

    /// Binds arm to switch B in its last position by row 1, and motors to spin at idle.
    pub fn bind_arm(&mut self) {
        for line in ["set ROW1_CHANNEL 6", "set ROW1_FROM 1800", "set ROW1_TO 2146", "set SPIN_AT_ZERO 1"] {
            self.line(line);
        }
        self.line("stick throttle 1000");
        self.wait(100);
    }
}
