//! The screen of an attended run: what the core shows and asks, as lines of text.
//!
//! Promises: meaning is never carried by colour alone; text from a recipe or a board passes the gate
//! and stands in quotation marks behind who says it; a question looks like nothing else.
//! Must not be here: terminals, cursor movement.

mod again;
mod facts;
mod idle;
mod idle_cells;
mod idle_panel;
pub(super) mod line;
mod plan;
mod prop_map;
mod question;
mod sticks;
mod strip;

pub use question::motor_facts;

use super::page as live;
use super::words::time;
use super::{ascii, cautions, gate};
use crate::seam::ui::{Gesture, Placement, Question, StartSeen, Tone, UiEvent};
use crate::world::screen::{Drawn, PageDraw, Screen as Draw};
use line::{Ink, Page, ink};
use std::time::Duration;

pub use super::style::Style;
pub use crate::seam::ui::{PULL_THE_BATTERY, PULL_THE_USB_CABLE};

/// How a stop that cannot be confirmed is left.
pub const LEAVE_IT: &str =
    "Once the battery is out and the motors stand, Ctrl-C leaves this. Until then the stop is sent again and again.";

/// What follows a cable that was pulled out of a board whose motor turns.
const CABLE_IN_AGAIN: &str = "Once the motor stands, by itself or without its battery, put the cable in again: it is seen at \
                              rest then. Without that you are asked what you saw half a minute from now.";

/// What is looked for meanwhile.
fn cable_out(within: Duration) -> String {
    let seconds = within.as_millis().div_ceil(1000);
    format!("CABLE OUT. HAND AT THE BATTERY PLUG. If the motor still turns after {seconds} s, PULL THE BATTERY.")
}

/// Large words, and what they mean for whoever is at the terminal.
fn large(mut page: Page, words: &str, then: &str) -> Drawn {
    page.banner(words);
    if !then.is_empty() {
        page.say("", then);
    }
    Drawn::Urgent(page.lines())
}

/// See the module.
#[derive(Debug, Clone, Copy, Default)]
pub struct Screen {
    style: Style,
}

impl Screen {
    /// A screen of this style.
    #[must_use]
    pub fn new(style: Style) -> Self {
        Self { style: Style { colour: style.colour && !style.plain, ..style } }
    }

    fn cautions(page: &mut Page) {
        let (short, style) = (cautions::IN_SHORT, page.style());
        if style.plain {
            page.row(format!("Before anything turns: {short}"));
        } else {
            page.row(format!("  {}   {short}", ink(style, Ink::Strong, "Before anything turns")));
        }
        for (number, caution) in (1..).zip(cautions::SHORT) {
            page.row(format!("  {number:>2}  {caution}"));
        }
        page.row(format!("   {}  {}", ink(style, Ink::Asked, "?"), cautions::MORE));
    }

    fn cautions_whole(page: &mut Page) {
        page.heading("Before anything turns");
        page.say("", cautions::FOREWORD);
        page.gap();
        for (number, caution) in (1..).zip(cautions::BENCH) {
            page.say(&number.to_string(), caution);
        }
        page.heading("With the propellers back on");
        for (number, caution) in (cautions::BENCH.len() + 1..).zip(cautions::FLIGHT) {
            page.say(&number.to_string(), caution);
        }
        page.gap();
    }

    fn tone(page: &mut Page, tone: Tone, text: &str) {
        let text = gate::line(text);
        match tone {
            Tone::Plain => page.say("", &text),
            Tone::Good => page.inked(Ink::Good, "good", &text),
            Tone::Warning => page.inked(Ink::Warning, "mind this", &text),
            Tone::Measured => page.say("measured", &text),
            Tone::Attested => page.say("you said", &text),
        }
    }
}

impl Screen {
    /// In the row that changes, where there is one and the words fit it.
    fn in_place(self, page: Page) -> Drawn {
        let mut lines = page.lines();
        match lines.pop() {
            Some(row) if lines.is_empty() && !self.style.plain => Drawn::Passing(row),
            last => Drawn::Lines(lines.into_iter().chain(last).collect()),
        }
    }

    /// A start that went as the first of its value did is seen as it happens, and counted below.
    fn start(self, mut page: Page, start: &StartSeen) -> Drawn {
        idle::start(&mut page, start);
        let as_before = start.start > 1 && start.motors.iter().all(|motor| motor.turns);
        if as_before { self.in_place(page) } else { Drawn::Lines(page.lines()) }
    }

    fn invite(self, page: &mut Page, gesture: &Gesture, sentence: &str, longest: Duration) {
        // Hands off has no limit to meet.
        let limit = *gesture != Gesture::HandsOff;
        match (limit, self.style.plain) {
            (false, _) => page.inked(Ink::Strong, "now you", &gate::line(sentence)),
            (true, false) => page.inked(Ink::Strong, &format!("within {}", time(longest)), &gate::line(sentence)),
            (true, true) => page.say("now you", &format!("{} (within {})", gate::line(sentence), time(longest))),
        }
    }

    /// In all characters that there are.
    fn drawn(self, shown: &UiEvent, width: usize) -> Drawn {
        let mut page = Page::new(self.style, width);
        match shown {
            UiEvent::Cautions => Self::cautions(&mut page),
            UiEvent::CautionsWhole(plan) => {
                Self::cautions_whole(&mut page);
                if let Some(plan) = plan {
                    plan::plan(&mut page, plan);
                }
                return Drawn::Urgent(page.lines());
            }
            UiEvent::Board { board, port, id, firmware, is_virtual, settings } => {
                page.gap();
                let (board, port, firmware) = (gate::line(board), gate::line(port), gate::line(firmware));
                let id = gate::line(id);
                page.say("board", &format!("{board} on {port}, firmware {firmware}, id {id}, {settings} settings"));
                if *is_virtual {
                    page.inked(
                        Ink::Warning,
                        "VIRTUAL",
                        "this is a virtual board; nothing here proves anything about a craft",
                    );
                    if port == "virtual" || port.starts_with("virtual:") {
                        page.say("world", "Tab moves it by hand, such as: flip B 2; help lists the rest");
                    }
                }
                page.gap();
            }
            UiEvent::Plan(plan) => plan::plan(&mut page, plan),
            UiEvent::Strip(strip) => {
                return Drawn::Strip(strip.as_ref().map(|strip| strip::row(self.style, strip, width)));
            }
            UiEvent::StepBegins { number, of, title, turns_motors } => {
                let turns = if *turns_motors { "MOTORS CAN TURN: " } else { "" };
                page.inked(Ink::Strong, &format!("step {number}/{of}"), &format!("{turns}{}", gate::line(title)));
                page.last_ink(Ink::Danger, turns.trim_end());
            }
            UiEvent::Line(tone, text) => Self::tone(&mut page, *tone, text),
            UiEvent::Noted(tone, text) => {
                Self::tone(&mut page, *tone, text);
                return self.in_place(page);
            }
            UiEvent::BoardSays(said) => {
                let one = |(text, times): &(String, u32)| {
                    let often = if *times > 1 { format!(" ({times} times)") } else { String::new() };
                    format!("\"{}\"{often}", gate::line(text))
                };
                page.say("board says", &said.iter().map(one).collect::<Vec<_>>().join(", "));
            }
            UiEvent::Invite(gesture, sentence, longest, told) => {
                self.invite(&mut page, gesture, sentence, *longest);
                if *told == Placement::InPlace {
                    return self.in_place(page);
                }
            }
            UiEvent::Passing(text) => return Drawn::Passing(page.one("now", &gate::line(text))),
            UiEvent::Page(now) => return Drawn::Page(now.clone()),
            UiEvent::PageEnds => return Drawn::PageEnds,
            UiEvent::Start(start) => return self.start(page, start),
            UiEvent::Idle(found) => idle::found(&mut page, found),
            UiEvent::IdleTable(starts, beside) if self.style.plain => idle::so_far(&mut page, starts, beside.as_ref()),
            UiEvent::IdleTable(starts, beside) => {
                return Drawn::Panel(idle_panel::rows(starts, beside.as_ref(), page.width()));
            }
            UiEvent::IdleTableEnds if self.style.plain => {}
            UiEvent::IdleTableEnds => return Drawn::Panel(Vec::new()),
            UiEvent::PropMap(motors) => prop_map::map(&mut page, motors),
            UiEvent::Sticks(sticks) => sticks::traces(&mut page, sticks),
            UiEvent::Findings(files, found) => facts::findings(&mut page, files, found),
            UiEvent::Facts { title, facts } => facts::facts(&mut page, title, facts),
            UiEvent::DryRun(plan) => facts::dry_run(&mut page, plan),
            UiEvent::Text(text) => facts::text(&mut page, text),
            UiEvent::StopBegins { reason, delivery } => {
                page.gap();
                let text = format!("{}: {}. Switch off now; hands clear.", delivery.told(), gate::line(reason));
                page.inked(Ink::Danger, "STOP", &text);
                return Drawn::Urgent(page.lines());
            }
            UiEvent::CableOut(within) => return large(page, &cable_out(*within), CABLE_IN_AGAIN),
            UiEvent::PullTheBattery => return large(page, PULL_THE_BATTERY, LEAVE_IT),
            UiEvent::PullTheUsbCable => return large(page, PULL_THE_USB_CABLE, ""),
            UiEvent::StopConfirmed => {
                page.inked(Ink::Good, "stopped", "the board is disarmed and every motor was seen at rest for 1 s");
            }
            UiEvent::Closing { finished, lines } => {
                page.heading(if *finished { "Finished as asked" } else { "Not finished" });
                for line in lines {
                    page.say("", &gate::line(line));
                }
            }
        }
        Drawn::Lines(page.lines())
    }
}

impl Draw for Screen {
    fn shown(&self, shown: &UiEvent, width: usize) -> Drawn {
        let drawn = self.drawn(shown, width);
        if self.style.ascii { ascii::drawn(drawn) } else { drawn }
    }

    fn question(&self, question: &Question, width: usize) -> Vec<String> {
        let lines = question::question(self.style, question, width);
        if self.style.ascii { ascii::lines(&lines) } else { lines }
    }

    fn prompt(&self, question: &Question, width: usize) -> String {
        let row = question::prompt(self.style, question, width);
        if self.style.ascii { ascii::text(&row) } else { row }
    }

    fn closed(&self, answered: bool) -> Vec<String> {
        let lines = question::closed(self.style, answered);
        if self.style.ascii { ascii::lines(&lines) } else { lines }
    }

    fn safe(&self, text: &str) -> String {
        let safe = gate::line(text);
        if self.style.ascii { ascii::text(&safe) } else { safe.into_owned() }
    }

    fn pages(&self) -> Box<dyn PageDraw> {
        live::drawer(self.style)
    }

    fn redraws(&self) -> bool {
        !self.style.plain
    }

    fn colours(&self) -> bool {
        self.style.colour
    }
}
