//! A bench session played on a virtual craft: lines typed one after another by an operator who also answers.

use crate::bench::stand::classed;
use crate::faults::disk::Disk;
use quadjig::bench::attended::WallClock;
use quadjig::bench::interactive::{InteractiveJob, InteractiveSession, begin, go_on};
use quadjig::bench::session::Session;
use quadjig::bench::session::context::SessionContext;
use quadjig::board::mavlink::{FrameClass, MavlinkLink};
use quadjig::board::shipped;
use quadjig::measure::time::Time;
use quadjig::rehearsal::operator::{Deed, Operator, Willing};
use quadjig::rehearsal::rehearse::willing;
use quadjig::rehearsal::simulated::{SimulatedWorld, TranscriptEvent};
use quadjig::report::screen::Style;
use quadjig::report::transcript::Transcript;
use quadjig::seam::fault::Fault;
use quadjig::seam::ui::{About, Gesture, Question, Reply};
use quadjig::seam::{Key, LineAsked, LineRead, PortName, World as _};
use quadjig::virtual_board::{World, WorldConfig};
use std::collections::VecDeque;
use std::rc::Rc;
use std::time::Duration;

/// What the operator does about one prompt.
#[derive(Debug, Clone)]
pub enum Turn {
    /// Types a line.
    Line(&'static str),
    /// Something else with the line.
    Other(LineRead),
    /// Moves the world and types nothing for a while, then the line.
    Moves(Vec<(u64, &'static str)>, &'static str),
    /// Enters the line after two seconds, and presses a key so many milliseconds after that.
    Key(&'static str, u64, Key),
    /// Moves the world, and enters the line so many milliseconds after the prompt.
    Meanwhile(Vec<(u64, &'static str)>, u64, &'static str),
}

/// Types lines in order, then leaves; answers questions as [`Willing`] does, but for those it has an answer for.
pub struct Typist {
    willing: Willing,
    pub turns: VecDeque<Turn>,
    /// Keys for the questions in which each of these words stands, in order.
    pub answers: VecDeque<(&'static str, char)>,
    /// What happens a while after an invitation that has these words in it; once each.
    pub upsets: Vec<(Gesture, u64, Deed)>,
    /// What happens instead of an answer to a question with this word, once.
    pub unanswered: Option<(&'static str, Deed)>,
    /// The prompts that stood before each line.
    pub prompts: Vec<String>,
    pending: Vec<(Duration, Deed)>,
}

impl Operator for Typist {
    fn asked(&mut self, question: &Question) -> Vec<(Duration, Deed)> {
        if let (Reply::Word(word), Some((about, _))) = (&question.reply, &self.unanswered)
            && word == about
            && let Some((_, deed)) = self.unanswered.take()
        {
            return vec![(Duration::from_millis(900), deed)];
        }
        if let Reply::Choice(choices) = &question.reply {
            let found = self.answers.front().filter(|(about, _)| question.title.contains(about)).copied();
            let key = match (&question.about, found) {
                (_, Some((_, key))) => {
                    self.answers.pop_front();
                    Some(key)
                }
                (About::Step, None) => choices.iter().map(|(key, _)| *key).find(|key| *key == 't'),
                (About::Choice, None) => choices.iter().map(|(key, _)| *key).find(|key| *key == 'l'),
                _ => None,
            };
            if let Some(key) = key {
                return vec![(Duration::from_millis(900), Deed::Key(Key::Char(key)))];
            }
        }
        self.willing.asked(question)
    }

    fn line(&mut self, asked: &LineAsked) -> (Duration, LineRead) {
        self.prompts.push(format!("{}{}", asked.prompt, asked.typed));
        let mut later = |moves: Vec<(u64, &'static str)>| {
            let deed = |(at, line): (u64, &str)| (Duration::from_millis(at), Deed::World(line.to_owned()));
            self.pending.extend(moves.into_iter().map(deed));
        };
        let (after, read) = match self.turns.pop_front() {
            None => (2000, LineRead::Typed("leave".to_owned())),
            Some(Turn::Line(line)) => (2000, LineRead::Typed(line.to_owned())),
            Some(Turn::Other(read)) => (2000, read),
            Some(Turn::Key(line, after, key)) => {
                self.pending.push((Duration::from_millis(2000 + after), Deed::Key(key)));
                (2000, LineRead::Typed(line.to_owned()))
            }
            Some(Turn::Moves(moves, line)) => {
                let last = moves.iter().map(|(at, _)| *at).max().unwrap_or(0);
                later(moves);
                (last + 20_000, LineRead::Typed(line.to_owned()))
            }
            Some(Turn::Meanwhile(moves, after, line)) => {
                later(moves);
                (after, LineRead::Typed(line.to_owned()))
            }
        };
        (Duration::from_millis(after), read)
    }

    fn meanwhile(&mut self) -> Vec<(Duration, Deed)> {
        std::mem::take(&mut self.pending)
    }

    fn invited(&mut self, gesture: &Gesture) -> Vec<(Duration, Deed)> {
        if let Some(place) = self.upsets.iter().position(|(known, ..)| known == gesture) {
            let (_, after, deed) = self.upsets.remove(place);
            let mut deeds = self.willing.invited(gesture);
            deeds.push((Duration::from_millis(after), deed));
            return deeds;
        }
        self.willing.invited(gesture)
    }
}

/// How a session went.
pub struct Sat {
    pub result: Result<(), Fault>,
    pub text: String,
    pub board: World,
    pub disk: Disk,
    pub prompts: Vec<String>,
    pub sent: Vec<(Time, Vec<u8>)>,
}

impl Sat {
    #[track_caller]
    pub fn says(&self, what: &str) -> &Self {
        assert!(flat(&self.text).contains(what), "`{what}` was not said\n{}", self.text);
        self
    }

    #[track_caller]
    pub fn never_says(&self, what: &str) -> &Self {
        assert!(!flat(&self.text).contains(what), "`{what}` was said\n{}", self.text);
        self
    }

    /// The text after the line that was entered.
    #[track_caller]
    pub fn after(&self, line: &str) -> &str {
        let at = self.text.find(&format!("> {line}\n"));
        let at = at.unwrap_or_else(|| panic!("`{line}` was not entered\n{}", self.text));
        let rest = &self.text[at + line.len() + 3..];
        rest.find("\n> ").map_or(rest, |end| &rest[..end])
    }

    /// A file that was written.
    #[track_caller]
    pub fn file(&self, name: &str) -> String {
        let found = self.disk.named.iter().find(|(path, _)| path.ends_with(name));
        let (_, bytes) = found.unwrap_or_else(|| panic!("{name} was not written\n{}", self.text));
        String::from_utf8(bytes.clone()).unwrap()
    }
}

fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A session that is still to be played.
pub struct Planned {
    pub board: World,
    pub disk: Disk,
    pub typist: Typist,
    /// Boards that come to the cable in turn, each time it was out.
    pub boards: VecDeque<World>,
    /// The cable comes out as so many writes have left.
    pub out_at_write: Option<usize>,
}

/// A session of these lines on the default craft.
pub fn session(lines: &[&'static str]) -> Planned {
    turns(lines.iter().map(|line| Turn::Line(line)).collect())
}

/// A session of these turns on the default craft.
pub fn turns(turns: Vec<Turn>) -> Planned {
    let config = WorldConfig::default();
    on(World::new(config.clone()), &config, turns)
}

/// On a craft.
pub fn on(board: World, config: &WorldConfig, turns: Vec<Turn>) -> Planned {
    let typist = Typist {
        willing: willing(config),
        turns: turns.into(),
        answers: VecDeque::new(),
        upsets: Vec::new(),
        unanswered: None,
        prompts: Vec::new(),
        pending: Vec::new(),
    };
    Planned { board, disk: Disk::default(), typist, boards: VecDeque::new(), out_at_write: None }
}

/// Another session on the craft that one left, with its record.
pub fn again(first: Sat, lines: &[&'static str]) -> Planned {
    let turns = lines.iter().map(|line| Turn::Line(line)).collect();
    let mut planned = on(first.board, &WorldConfig::default(), turns);
    planned.disk = first.disk;
    planned.disk.named.clear();
    planned
}

impl Planned {
    pub fn answers(mut self, answers: &[(&'static str, char)]) -> Self {
        self.typist.answers = answers.iter().copied().collect();
        self
    }

    pub fn upset(mut self, gesture: Gesture, after: u64, deed: Deed) -> Self {
        self.typist.upsets.push((gesture, after, deed));
        self
    }

    pub fn in_question(mut self, word: &'static str, deed: Deed) -> Self {
        self.typist.unanswered = Some((word, deed));
        self
    }

    /// Plays it.
    pub fn sit(mut self) -> Sat {
        let mut transcript = Transcript::new(Style::default());
        let mut text = String::new();
        let mut seen = |_: Time, seen: TranscriptEvent<'_>| {
            let told = transcript.seen(&seen);
            text.push_str(&told);
        };
        let bench = Rc::new(SessionContext::default());
        let job = InteractiveJob {
            title: Some("Wren 95".to_owned()),
            sheets: vec![shipped::sheet("finch").unwrap().unwrap()],
            card: None,
            port: PortName::Virtual(None),
            clock: WallClock { started: jiff::Timestamp::UNIX_EPOCH },
            name: "by hand".to_owned(),
            operator: None,
            beside: None,
        };
        let hand = Rc::new(InteractiveSession::new(Rc::clone(&bench), job));
        let script = Box::pin(begin(Rc::clone(&hand)));
        let mut session = Session::new(Box::new(MavlinkLink::new(None)), bench, script, false)
            .going_on_with(move |fault| Box::pin(go_on(Rc::clone(&hand), fault)));
        let mut world = SimulatedWorld::new(self.board, &mut self.typist, self.disk, &mut seen);
        world.spied = Some(Vec::new());
        let mut away = false;
        let result = loop {
            let (now, event) = world.next(session.wake());
            session.handle(now, event, &mut |effect| world.act(effect));
            if let Some(result) = session.ended() {
                break result.clone();
            }
            let writes = || {
                let sent = world.spied.iter().flatten().flat_map(|(_, bytes)| classed(bytes));
                sent.filter(|(class, ..)| *class == Some(FrameClass::Writes)).count()
            };
            if self.out_at_write.is_some_and(|at| writes() >= at) {
                self.out_at_write = None;
                world.board_mut().line(now, "usb out").unwrap();
            }
            // Whenever the cable is out, the next board may come to it.
            let gone = !world.board().link_present();
            if gone
                && !away
                && let Some(mut next) = self.boards.pop_front()
            {
                next.advance(now);
                next.line(now, "usb out").unwrap();
                self.boards.push_back(std::mem::replace(world.board_mut(), next));
            }
            away = gone;
        };
        let sent = world.spied.take().unwrap_or_default();
        let (board, left) = world.into_parts();
        let prompts = self.typist.prompts;
        Sat { result, text, board, disk: left, prompts, sent }
    }
}
