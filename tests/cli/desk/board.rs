//! A virtual board in a process of its own, and a hand on its world.
//!
//! Promises: the process is killed when dropped; what it answers is what really is.

use crate::pace::comes_first;
use serde_json::Value;
use std::io::{BufRead, BufReader, Write};
use std::net::TcpStream;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

/// How long the server may take to say or to answer something.
const PATIENCE: Duration = Duration::from_secs(20);

/// A running `quadjig virtual`.
pub struct Board {
    process: Child,
    hand: BufReader<TcpStream>,
    /// What `--port` is to be.
    pub port: String,
    _link: tempfile::TempDir,
}

impl Board {
    /// A board on a pseudo-terminal with a link to it.
    pub fn new() -> Self {
        Self::with(&[])
    }

    /// The same with more options.
    pub fn with(more: &[&str]) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let link = folder.path().join("finch");
        let port = link.display().to_string();
        let mut arguments = vec!["--control", "0", "--link", &port];
        arguments.extend(more);
        Self::by(virtual_board(&arguments), port.clone(), folder)
    }

    /// A board of any program that says `control ADDRESS` and then `port …`, and takes world lines there; `port` is a
    /// link to it in this folder.
    pub fn by(command: Command, port: String, folder: tempfile::TempDir) -> Self {
        let (process, said) = start(command);
        let control = after(&said, "control ");
        after(&said, "port ");
        Self::held(process, &control, port, folder)
    }

    /// A board on TCP.
    pub fn on_tcp() -> Self {
        Self::on_tcp_with(&[])
    }

    /// A board of a kind on TCP.
    pub fn on_tcp_as(kind: &str) -> Self {
        Self::on_tcp_with(&["--board", kind])
    }

    /// The same with more options.
    pub fn on_tcp_with(more: &[&str]) -> Self {
        let (process, said) = start(virtual_board(&[&["--control", "0", "--tcp", "0"], more].concat()));
        let control = after(&said, "control ");
        let port = after(&said, "port ");
        Self::held(process, &control, port, tempfile::tempdir().unwrap())
    }

    fn held(process: Child, control: &str, port: String, folder: tempfile::TempDir) -> Self {
        let hand = TcpStream::connect(control).unwrap();
        hand.set_read_timeout(Some(PATIENCE)).unwrap();
        Self { process, hand: BufReader::new(hand), port, _link: folder }
    }

    /// Moves the world.
    pub fn line(&mut self, line: &str) -> String {
        let answer = self.ask(line);
        assert!(!answer.starts_with("error"), "{line}: {answer}");
        answer
    }

    fn ask(&mut self, line: &str) -> String {
        self.hand.get_mut().write_all(format!("{line}\n").as_bytes()).unwrap();
        let mut answer = String::new();
        self.hand.read_line(&mut answer).unwrap();
        answer.trim_end().to_owned()
    }

    /// What really is.
    pub fn truth(&mut self) -> Value {
        serde_json::from_str(&self.ask("truth")).unwrap()
    }

    /// All settings: in use, and stored.
    pub fn settings(&mut self) -> Value {
        self.truth()["settings"].take()
    }

    /// Whether it is armed, or drives a motor.
    pub fn drives(&mut self) -> bool {
        let truth = self.truth();
        let raised = truth["outputs"].as_array().unwrap().iter().any(|pulse| pulse.as_f64().unwrap() > 1000.0);
        truth["armed"] == true || raised
    }

    /// Whether it is disarmed, every output is at rest and every motor stands.
    pub fn rests(&mut self) -> bool {
        let truth = self.truth();
        let outputs = truth["outputs"].as_array().unwrap().iter().all(|pulse| pulse.as_f64().unwrap() <= 1000.0);
        let still = truth["speeds"].as_array().unwrap().iter().all(|rpm| rpm.as_f64().unwrap() < 1.0);
        truth["armed"] == false && outputs && still
    }

    /// Whether some motor turns.
    pub fn turns(&mut self) -> bool {
        self.truth()["speeds"].as_array().unwrap().iter().any(|rpm| rpm.as_f64().unwrap() > 100.0)
    }

    /// How long it takes until this is so.
    pub fn until(&mut self, so: impl Fn(&mut Self) -> bool) -> Duration {
        let began = Instant::now();
        while !so(self) {
            assert!(began.elapsed() < PATIENCE, "it never is so: {}", self.truth());
            std::thread::sleep(Duration::from_millis(5));
        }
        began.elapsed()
    }
}

impl Drop for Board {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

fn virtual_board(arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_quadjig"));
    command.arg("virtual").args(arguments).env_clear();
    command
}

fn start(mut command: Command) -> (Child, Receiver<String>) {
    comes_first();
    let mut process = command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::inherit()).spawn().unwrap();
    let output = process.stdout.take().unwrap();
    let (send, said) = channel();
    // Goes on reading after nobody listens, so that the server never meets a full pipe.
    std::thread::spawn(move || {
        BufReader::new(output).lines().map_while(Result::ok).for_each(|line| {
            let _ = send.send(line);
        });
    });
    (process, said)
}

/// What the server says after these words.
fn after(said: &Receiver<String>, words: &str) -> String {
    loop {
        let line = said.recv_timeout(PATIENCE).expect("the server says where it is");
        if let Some(rest) = line.strip_prefix(words) {
            return rest.to_owned();
        }
    }
}
