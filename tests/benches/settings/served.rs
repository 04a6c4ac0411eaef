//! The virtual board in a process of its own, served at a pseudo-terminal as `quadjig virtual` serves it.

use super::{Case, reading};
use quadjig::world::serve::{Port, Said, Serving};
use std::io::{BufRead, BufReader, Write};
use std::process::{Child, Command, Stdio};

/// The word that makes this program serve.
pub const WORD: &str = "serve-a-board";

/// A board that is served until this is dropped.
pub struct Served {
    process: Child,
    pub port: String,
}

impl Served {
    pub fn start(case: Case, seed: u64) -> Self {
        let words = [case.baud.to_string(), case.settings.to_string(), case.loss.to_string(), seed.to_string()];
        let mut process = Command::new(std::env::current_exe().unwrap())
            .arg(WORD)
            .args(words)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut port = String::new();
        BufReader::new(process.stdout.take().unwrap()).read_line(&mut port).unwrap();
        Self { process, port: port.trim().to_owned() }
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        // One that has ended already needs no more.
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

/// Serves, until killed.
pub fn serve(words: &[String]) {
    let [baud, settings, loss, seed] = words else { panic!("baud, settings, loss, seed") };
    let world =
        reading::config(baud.parse().unwrap(), settings.parse().unwrap(), loss.parse().unwrap(), seed.parse().unwrap());
    let serving = Serving { world, port: Port::Terminal { link: None }, control: None, baud: None };
    quadjig::world::serve::serve(serving, &mut |said| {
        if let Said::Port { name, .. } = said {
            println!("{name}");
            std::io::stdout().flush().unwrap();
        }
    })
    .unwrap();
}
