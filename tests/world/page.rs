//! The live page on a terminal: on a screen of its own, left for whatever is urgent, and gone however it ends.

use super::kit::{Master, SOON, break_down, breaks_down, world_at};
use quadjig::interlock::signals::Signals;
use quadjig::measure::time::Time;
use quadjig::report::screen::PULL_THE_BATTERY;
use quadjig::seam::page::{Page, Title};
use quadjig::seam::ui::{About, Question, Reply, Tone, UiEvent};
use quadjig::seam::{Effect, World};
use std::num::NonZero;
use std::time::{Duration, Instant};

fn page(craft: &str) -> Effect {
    let title = Title { craft: Some(craft.to_owned()), port: "a port".to_owned() };
    Effect::Show(UiEvent::Page(Box::new(Page::build(&Signals::default(), Time(0), (None, None), &title, None, None))))
}

fn line(text: &str) -> Effect {
    Effect::Show(UiEvent::Line(Tone::Plain, text.to_owned()))
}

struct Eyes {
    terminal: Master,
    screen: vt100::Parser,
}

impl Eyes {
    fn new(terminal: Master) -> Self {
        let screen = vt100::Parser::new(NonZero::new(24).unwrap(), NonZero::new(80).unwrap(), 0);
        Self { terminal, screen }
    }

    /// Whether the screen is one of its own, once it shows this text.
    #[track_caller]
    fn see(&mut self, text: &str) -> bool {
        let until = Instant::now() + SOON;
        while !self.screen.screen().contents().contains(text) {
            assert!(Instant::now() < until, "{text:?} is not on\n{}", self.screen.screen().contents());
            self.screen.process(&self.terminal.read_for(Duration::from_millis(50)));
        }
        self.screen.screen().alternate_screen()
    }

    fn rest(&mut self) -> String {
        self.screen.process(&self.terminal.read_for(Duration::from_millis(300)));
        self.screen.screen().contents()
    }
}

#[test]
fn a_page_has_its_own_screen_and_what_was_said_meanwhile_comes_after_it() {
    let terminal = Master::new();
    let mut world = world_at(&terminal);
    let mut eyes = Eyes::new(terminal);
    world.act(line("before the page"));
    assert!(!eyes.see("before the page"));
    world.act(page("Wren 95"));
    assert!(eyes.see("Wren 95"));
    assert!(eyes.screen.screen().hide_cursor());
    world.act(line("said meanwhile"));
    world.act(page("Wren 96"));
    eyes.see("Wren 96");
    assert!(!eyes.rest().contains("said meanwhile"), "it would be wiped away");
    world.act(Effect::Show(UiEvent::PageEnds));
    assert!(!eyes.see("said meanwhile"));
    let rest = eyes.rest();
    assert!(rest.contains("before the page") && !rest.contains("Wren"), "{rest}");
    assert!(!eyes.screen.screen().hide_cursor());
}

#[test]
fn a_stop_and_a_question_leave_the_page_first() {
    let question = Effect::Ask(Box::new(Question {
        about: About::Props,
        craft: "Wren 95".to_owned(),
        is_virtual: false,
        title: "Are the propellers off?".to_owned(),
        lines: vec![],
        reply: Reply::Word("off".to_owned()),
        before: None,
    }));
    let words = Effect::Show(UiEvent::PullTheBattery);
    for (urgent, text) in [(question, "Are the propellers off?"), (words, PULL_THE_BATTERY)] {
        let terminal = Master::new();
        let mut world = world_at(&terminal);
        let mut eyes = Eyes::new(terminal);
        let asks = matches!(urgent, Effect::Ask(_));
        world.act(page("the page"));
        assert!(eyes.see("the page"));
        world.act(line("said meanwhile"));
        world.act(urgent);
        assert!(!eyes.see(text));
        assert!(eyes.rest().contains("said meanwhile"));
        if asks {
            world.act(page("a late page"));
            assert!(!eyes.rest().contains("a late page"), "no page covers a question");
        }
    }
}

#[test]
fn pages_that_nobody_reads_do_not_pile_up() {
    let terminal = Master::new();
    let mut world = world_at(&terminal);
    // Nothing is read: the terminal takes a few kilobytes and then no more.
    let began = Instant::now();
    for number in 0..20_000 {
        world.act(page(&format!("craft {number}")));
    }
    assert!(began.elapsed() < Duration::from_secs(10), "no page waits for a screen");
    let mut eyes = Eyes::new(terminal);
    let (mut read, until) = (0, Instant::now() + SOON);
    while !eyes.screen.screen().contents().contains("craft 19999") {
        assert!(Instant::now() < until, "the newest page is not on\n{}", eyes.screen.screen().contents());
        let bytes = eyes.terminal.read_for(Duration::from_millis(50));
        read += bytes.len();
        eyes.screen.process(&bytes);
    }
    // What fits into the terminal before it is full, and a page or two.
    assert!(read < 200_000, "{read} bytes of old pages");
}

#[test]
fn the_screen_comes_back_when_the_world_ends() {
    let terminal = Master::new();
    let mut world = world_at(&terminal);
    let mut eyes = Eyes::new(terminal);
    world.act(line("before the page"));
    world.act(page("Wren 95"));
    assert!(eyes.see("Wren 95"));
    drop(world);
    assert!(!eyes.see("before the page"));
    assert!(!eyes.screen.screen().hide_cursor());
}

#[test]
fn the_screen_comes_back_after_a_panic() {
    breaks_down("world::page::panics_on_the_page");
}

#[test]
#[ignore = "concerns its whole process; run by the test above"]
fn panics_on_the_page() {
    let terminal = Master::new();
    let mut world = world_at(&terminal);
    let mut eyes = Eyes::new(terminal);
    world.act(line("before the page"));
    world.act(page("Wren 95"));
    assert!(eyes.see("Wren 95"));
    break_down(move || !eyes.see("before the page"));
}
