//! What happened in the world of a seed, as lines of JSON for a judge of another hand: bytes as they left and were read,
//! keys, questions and their answers, what was shown, and what both crafts truly did.
//!
//! Each line has its moment, `at`, µs. `QUADJIG_TRACES=folder` keeps those of every hundredth seed of many, and of one
//! that is replayed, for `second.py`. Must not be here: any reading of a frame, what is right.

use super::typed::Speech;
use quadjig::measure::time::Time;
use quadjig::seam::ui::{About, Motors, Question, Reply, StartedBy, UiEvent};
use quadjig::seam::{Effect, Event, Key};
use quadjig::virtual_board::World as Craft;
use serde_json::{Value, json};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// Of many seeds one in so many is traced.
pub const ONE_IN: u64 = 100;

/// Where the trace of a seed is to be kept, if anywhere.
pub fn kept(seed: u64, one_in: u64) -> Option<PathBuf> {
    let folder = std::env::var_os("QUADJIG_TRACES").filter(|_| seed.is_multiple_of(one_in))?;
    Some(Path::new(&folder).join(format!("{seed}.jsonl")))
}

/// See the module; keeps nothing until it was begun.
#[derive(Debug, Default)]
pub struct Trace {
    pub lines: Vec<String>,
    begun: bool,
    truth: Value,
    wire: Value,
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::new(), |mut text, byte| {
        let _never_fails = write!(text, "{byte:02x}");
        text
    })
}

/// Of a question, what has to be typed, and what its answer lets happen.
fn asked(question: &Question) -> Value {
    let word = if let Reply::Word(word) = &question.reply { Some(word) } else { None };
    let About::Motor(step) = &question.about else {
        return json!({"about": if question.about == About::Again { "again" } else { "other" }, "word": word});
    };
    let motor = if let Motors::One(_, at) = &step.motors { Some(at + 1) } else { None };
    let writes: Vec<String> = step.change.writes.iter().map(|(name, _)| name.to_string()).collect();
    json!({
        "about": "motor", "word": word, "by_command": step.by == StartedBy::Command, "motor": motor,
        "pulse": step.pulse.0, "starts": step.starts, "writes": writes, "store": step.change.store,
        "restart": step.change.restart,
    })
}

impl Trace {
    /// The first line: what an onlooker knows of the world.
    pub fn begin(&mut self, seed: u64, recipe: &str, speech: Speech, facts: &Value) {
        self.begun = true;
        let speech = if speech == Speech::Lines { "lines" } else { "frames" };
        self.lines.push(json!({"seed": seed, "recipe": recipe, "speech": speech, "facts": facts}).to_string());
    }

    fn add(&mut self, now: Time, line: impl FnOnce() -> Value) {
        if self.begun {
            let mut line = line();
            line["at"] = now.0.into();
            self.lines.push(line.to_string());
        }
    }

    /// Bytes began their way to the board; `runs`: so does the program; `hears`: the board is not dark.
    pub fn left(&mut self, now: Time, by: &str, runs: bool, hears: bool, bytes: &[u8]) {
        self.add(now, || json!({"left": hex(bytes), "by": by, "runs": runs, "hears": hears}));
    }

    pub fn handed(&mut self, now: Time, event: &Event) {
        if let Event::Bytes(bytes) = event {
            self.add(now, || json!({"read": hex(bytes)}));
        }
    }

    pub fn key(&mut self, now: Time, key: Key) {
        self.add(now, || match key {
            Key::Char(letter) => json!({"key": letter.to_string()}),
            other => json!({"key": format!("{other:?}")}),
        });
    }

    /// Another craft is at the wire, silent before for so long.
    pub fn swapped(&mut self, now: Time, which: usize, silent: std::time::Duration) {
        self.add(now, || json!({"swapped": which, "silent": silent.as_millis()}));
    }

    pub fn opened(&mut self, now: Time, opened: bool) {
        self.add(now, || json!({"opened": opened}));
    }

    /// What the program did besides sending.
    pub fn effect(&mut self, now: Time, effect: &Effect) {
        match effect {
            Effect::Ask(question) => self.add(now, || json!({"asked": asked(question)})),
            Effect::Asked(yes) => self.add(now, || json!({"answered": yes})),
            Effect::Show(UiEvent::StopBegins { .. }) => self.add(now, || json!({"shown": "stop sent"})),
            Effect::Show(UiEvent::StopConfirmed) => self.add(now, || json!({"shown": "stopped"})),
            Effect::Show(UiEvent::StepBegins { .. }) => self.add(now, || json!({"shown": "step"})),
            Effect::Show(UiEvent::Board { .. }) => self.add(now, || json!({"shown": "board"})),
            _ => {}
        }
    }

    /// Where it changed: what each craft's motors are told, whether it is armed, whether its battery is in; and who hears
    /// the wire.
    pub fn look(&mut self, now: Time, crafts: &[Craft; 2], at_wire: usize, beside: bool) {
        if !self.begun {
            return;
        }
        let of = |craft: &Craft| json!({"outputs": craft.outputs(), "armed": craft.armed(), "battery": craft.pack_volts() > 1.0});
        let truth = json!([of(&crafts[0]), of(&crafts[1])]);
        if truth != self.truth {
            self.truth = truth.clone();
            self.add(now, || json!({"truth": truth}));
        }
        let wire = json!({"wire": at_wire, "beside": beside});
        if wire != self.wire {
            self.wire = wire.clone();
            self.add(now, || wire);
        }
    }
}
