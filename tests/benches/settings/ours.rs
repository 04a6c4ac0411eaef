//! One reading by this program: the real threads, a session and its link, on a real port.

use quadjig::bench::session::Inquiry;
use quadjig::bench::session::context::SessionContext;
use quadjig::bench::session::{Script, Session};
use quadjig::board::mavlink::MavlinkLink;
use quadjig::measure::time::Time;
use quadjig::report::screen::{Screen, Style};
use quadjig::seam::{PortName, World};
use quadjig::world::real::{RealWorld, Setup};
use std::cell::Cell;
use std::rc::Rc;
use std::time::{Duration, Instant};

/// The word that makes this program read.
pub const WORD: &str = "read-a-board";

/// Reads once, and prints how many seconds that took, and how many settings came.
pub fn read(words: &[String]) {
    let [port, baud] = words else { panic!("port, baud") };
    let setup = Setup {
        crafts: std::env::temp_dir(),
        radio_card: None,
        recipe: "figures".to_owned(),
        baud: baud.parse().unwrap(),
        history: None,
        terminal: None,
        to_output: false,
        guardian: None,
    };
    let mut world = RealWorld::new(setup, Box::new(Screen::new(Style::default()))).unwrap();
    let (bench, took) = (Rc::new(SessionContext::default()), Rc::new(Cell::new(None)));
    let script: Script = {
        let (bench, took, port) = (Rc::clone(&bench), Rc::clone(&took), PortName::Serial(port.into()));
        Box::pin(async move {
            bench.open(port).await?;
            bench.until(Time::NEVER, |bench| bench.look(|live| live.armed.last())).await;
            bench.request(Inquiry::Identify, "asking who the board is").await?;
            let begun = Instant::now();
            bench.request(Inquiry::List, "reading all settings").await?;
            took.set(Some(begun.elapsed()));
            Ok(())
        })
    };
    let mut session = Session::new(Box::new(MavlinkLink::new(None)), Rc::clone(&bench), script, true);
    while session.ended().is_none() {
        let (now, event) = world.next(session.wake());
        session.handle(now, event, &mut |effect| world.act(effect));
    }
    let settings = bench.look(|live| live.settings.len());
    match took.get() {
        Some(took) => println!("{} {settings}", Duration::as_secs_f64(&took)),
        None => println!("0 {settings}"),
    }
}
