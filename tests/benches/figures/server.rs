//! The language server while somebody types: from a keystroke's message to the findings, and to answers right behind it.

use crate::check::recipe;
use crate::spread::{Spread, ms};
use serde_json::{Value, json};
use std::io::{BufRead, BufReader, Read, Write};
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::time::{Duration, Instant};

const URI: &str = "file:///figures/figures.jig";
const GOAL: Duration = Duration::from_millis(20);
/// What is typed, letter by letter: most of its states do not parse.
const TYPED: &str = "bind buzzer to switch C position 1\n";

/// The program, with one client.
struct Served {
    child: Child,
    input: ChildStdin,
    output: BufReader<ChildStdout>,
}

impl Served {
    fn begin(text: &str) -> Self {
        let mut command = Command::new(env!("CARGO_BIN_EXE_quadjig"));
        let mut child = command.arg("language-server").stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().unwrap();
        let (input, output) = (child.stdin.take().unwrap(), BufReader::new(child.stdout.take().unwrap()));
        let mut served = Self { child, input, output };
        served.send(&json!({ "id": 0, "method": "initialize", "params": { "capabilities": {} } }));
        served.wait(|said| said["id"] == 0);
        let document = json!({ "uri": URI, "languageId": "jig", "version": 1, "text": text });
        served.send(&json!({ "method": "textDocument/didOpen", "params": { "textDocument": document } }));
        served.wait(|said| said["method"] == "textDocument/publishDiagnostics");
        served
    }

    fn send(&mut self, message: &Value) {
        let text = message.to_string();
        write!(self.input, "Content-Length: {}\r\n\r\n{text}", text.len()).unwrap();
        self.input.flush().unwrap();
    }

    fn wait(&mut self, wanted: impl Fn(&Value) -> bool) {
        loop {
            let mut length = 0;
            loop {
                let mut line = String::new();
                self.output.read_line(&mut line).unwrap();
                match line.trim_end().strip_prefix("Content-Length: ") {
                    Some(number) => length = number.parse().unwrap(),
                    None => break,
                }
            }
            let mut body = vec![0; length];
            self.output.read_exact(&mut body).unwrap();
            if wanted(&serde_json::from_slice(&body).unwrap()) {
                return;
            }
        }
    }

    /// How long the program has been on a core; nothing where the system does not tell.
    /// Source: Linux kernel documentation, `scheduler/sched-stats`.
    fn busy(&self) -> Option<Duration> {
        let told = std::fs::read_to_string(format!("/proc/{}/schedstat", self.child.id())).ok()?;
        told.split(' ').next()?.parse().ok().map(Duration::from_nanos)
    }

    /// Types a letter; how long it is to the findings.
    fn type_letter(&mut self, version: usize, line: usize, column: usize, letter: char) -> Duration {
        let place = json!({ "line": line, "character": column });
        let change = json!({ "range": { "start": place, "end": place }, "text": letter.to_string() });
        let document = json!({ "uri": URI, "version": version });
        let params = json!({ "textDocument": document, "contentChanges": [change] });
        let begun = Instant::now();
        self.send(&json!({ "method": "textDocument/didChange", "params": params }));
        self.wait(|said| said["method"] == "textDocument/publishDiagnostics");
        begun.elapsed()
    }

    fn ask(&mut self, id: usize, method: &str, line: usize, column: usize) -> Duration {
        let place = json!({ "line": line, "character": column });
        let params =
            json!({ "textDocument": { "uri": URI }, "position": place, "context": { "includeDeclaration": true } });
        let begun = Instant::now();
        self.send(&json!({ "id": id, "method": method, "params": params }));
        self.wait(|said| said["id"] == id);
        begun.elapsed()
    }
}

pub fn figures(keys: usize) {
    println!("\nquadjig language-server, keystroke to answer over two pipes; the goal is {}", ms(GOAL));
    let good = recipe(500);
    // Every fifth line with a mistake that is mended and told.
    let bad: String = good
        .lines()
        .enumerate()
        .map(|(number, line)| {
            let line = if number > 6 && number % 5 == 0 { line.replacen('e', "", 1) } else { line.to_owned() };
            line + "\n"
        })
        .collect();
    for (what, text) in [("500 lines", good), ("500 lines, 100 of them wrong", bad)] {
        let mut served = Served::begin(&text);
        let (mut findings, mut completion, mut hover) = (Vec::new(), Vec::new(), Vec::new());
        let mut busy = Vec::new();
        let (mut line, mut column) = (250, 0);
        for (number, letter) in TYPED.chars().cycle().take(keys).enumerate() {
            let before = served.busy();
            findings.push(served.type_letter(number + 2, line, column, letter));
            busy.extend(served.busy().zip(before).map(|(after, before)| after.saturating_sub(before)));
            (line, column) = if letter == '\n' { (line + 1, 0) } else { (line, column + 1) };
            completion.push(served.ask(3 * number + 1, "textDocument/completion", line, column));
            hover.push(served.ask(3 * number + 2, "textDocument/hover", line, column));
        }
        println!("  {what}");
        if !busy.is_empty() {
            println!("    on a core  {}, from a keystroke to its findings", Spread::of(busy));
        }
        for (what, times) in [("findings", findings), ("completion", completion), ("hover", hover)] {
            let within = times.iter().filter(|time| **time <= GOAL).count();
            println!("    {what:<10} {}; {within} of {keys} within", Spread::of(times));
        }
        drop(served.input);
        served.child.wait().unwrap();
    }
}
