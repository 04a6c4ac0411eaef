//! How much of a core the live page takes: drawing it, and the whole program beside its virtual board.

use super::spread::{Spread, ms};
use pty_process::blocking as pty;
use quadjig::board::mavlink::MavlinkLink;
use quadjig::board::shipped;
use quadjig::board::signals::{Link, Request, Stream, Ticket};
use quadjig::interlock::Interlock;
use quadjig::measure::time::Time;
use quadjig::report::page::drawer;
use quadjig::report::screen::Style;
use quadjig::seam::page::{Page, Title};
use quadjig::virtual_board::{World, WorldConfig};
use std::io::Read;
use std::time::{Duration, Instant};

/// What redrawing may take of a core.
const GOAL: f64 = 0.05;
/// Seconds of a board that are drawn.
const SECONDS: u64 = 60;

pub fn figures(seconds: u64) {
    for size in [(80, 24), (120, 40)] {
        for hertz in [10, 20] {
            drawn(hertz, size);
        }
    }
    whole(seconds);
}

/// A board with noise on every signal, heard over its wire; only making and drawing the page is counted.
fn drawn(hertz: u32, size: (u16, u16)) {
    let mut board = World::new(WorldConfig::default());
    let mut link = MavlinkLink::new(None);
    let (mut live, mut heard, mut out) = (Interlock::default(), Vec::new(), Vec::new());
    let mut hear = |board: &mut World, live: &mut Interlock, now: Time, request: Option<Request>| {
        board.advance(now);
        link.receive(now, &board.take_output(), &mut heard);
        out.clear();
        if let Some(request) = request {
            link.send(now, Ticket(1), request, &mut out);
        }
        link.work(now, &mut out, &mut heard);
        board.receive(now, &out);
        live.wakes(now, now);
        heard.drain(..).for_each(|heard| live.hear(&heard));
    };
    let mut now = board.now();
    board.line(now, "battery in").unwrap();
    let streams = [Stream::Channels, Stream::Outputs, Stream::Attitude, Stream::Power, Stream::Speeds];
    let asks = streams.map(|stream| Request::Stream(stream, Some(20))).into_iter();
    let mut asks = asks.chain([Request::Identify, Request::ListSettings]);
    for _ in 0..40 {
        now = now + Duration::from_millis(100);
        hear(&mut board, &mut live, now, asks.next());
    }
    let (sheet, card) = (shipped::sheet("finch").unwrap().unwrap(), shipped::radio_card("bench").unwrap().unwrap());
    let title = Title { craft: Some("Wren 95".to_owned()), port: "virtual".to_owned() };
    let mut pages = drawer(Style { colour: true, ..Style::default() });
    let mut times = Vec::new();
    let until = now + Duration::from_secs(SECONDS);
    while now < until {
        now = now + Duration::from_secs(1) / hertz;
        hear(&mut board, &mut live, now, None);
        let one = Spread::busy(1, || {
            let page = Page::build(live.signals(), now, (None, None), &title, Some(&sheet), Some(&card));
            pages.draw(now, &page, None, size)
        });
        times.push(one.least());
    }
    let share = times.iter().sum::<Duration>().as_secs_f64() / Duration::from_secs(SECONDS).as_secs_f64();
    println!(
        "watch: a page of {} by {} at {hertz} Hz: {:.2} % of a core (goal {:.0} %), a page {}",
        size.0,
        size.1,
        share * 100.0,
        GOAL * 100.0,
        ms(Spread::of(times).median()),
    );
}

/// The built program on a terminal of 80 by 24, with the virtual board inside it.
fn whole(seconds: u64) {
    let (mut terminal, slave) = pty::open().unwrap();
    terminal.resize(pty_process::Size::new(24, 80)).unwrap();
    let command =
        pty::Command::new(env!("CARGO_BIN_EXE_quadjig")).args(["watch", "--port", "virtual", "--radio", "bench"]);
    let mut process = command.env("TERM", "xterm").spawn(slave).unwrap();
    let id = process.id();
    std::thread::spawn(move || {
        let mut bytes = vec![0; 65536];
        while terminal.read(&mut bytes).is_ok_and(|count| count > 0) {}
    });
    std::thread::sleep(Duration::from_secs(4));
    let (before, began) = (on_cores(id), Instant::now());
    std::thread::sleep(Duration::from_secs(seconds));
    let share = on_cores(id).saturating_sub(before).as_secs_f64() / began.elapsed().as_secs_f64();
    let _ = process.kill();
    let _ = process.wait();
    println!("watch: the whole program with its virtual board, 80 by 24: {:.1} % of a core", share * 100.0);
}

/// How long all threads of a process have been on a core.
/// Source: Linux kernel documentation, `scheduler/sched-stats`.
fn on_cores(process: u32) -> Duration {
    let threads = std::fs::read_dir(format!("/proc/{process}/task")).into_iter().flatten().flatten();
    let time = |thread: std::fs::DirEntry| -> Option<u64> {
        let told = std::fs::read_to_string(thread.path().join("schedstat")).ok()?;
        told.split(' ').next()?.parse().ok()
    };
    Duration::from_nanos(threads.filter_map(time).sum())
}
