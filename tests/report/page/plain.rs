//! The page for a screen reader: `name: value`, a new block only when something changed and at most every 2 s.

use super::kit::{Bench, NOW, armed, bench};
use quadjig::measure::time::Time;
use quadjig::report::page::drawer;
use quadjig::report::screen::Style;
use quadjig::seam::page::{BoardText, Page};
use quadjig::world::screen::{PageDraw, PageOut};
use std::time::Duration;

fn pages() -> Box<dyn PageDraw> {
    drawer(Style { plain: true, colour: true, ascii: false })
}

fn lines(pages: &mut dyn PageDraw, now: Time, page: &Page) -> Vec<String> {
    match pages.draw(now, page, None, (80, 24)) {
        PageOut::Lines(lines) => lines,
        PageOut::Whole(text) => panic!("nothing may be redrawn: {text:?}"),
    }
}

fn later(ms: u64) -> Time {
    NOW + Duration::from_millis(ms)
}

#[test]
fn the_first_block_is_whole() {
    for (name, bench) in [
        ("fine", bench()),
        ("armed", armed()),
        ("lost", Bench { lost: Some(NOW), ..armed() }),
        ("no_sheet", Bench { sheet: None, card: None, rpm: None, ..bench() }),
    ] {
        let lines = lines(&mut *pages(), NOW, &bench.page());
        assert!(lines.iter().all(|line| line.contains(": ") && line.is_ascii()), "{lines:#?}");
        insta::assert_snapshot!(name, lines.join("\n"));
    }
}

#[test]
fn what_changed_is_said_and_nothing_else() {
    let mut pages = pages();
    assert!(lines(&mut *pages, NOW, &bench().page()).len() > 10);
    insta::assert_snapshot!(lines(&mut *pages, later(2000), &armed().page()).join("\n"));
}

#[test]
fn a_noise_is_no_news_and_two_seconds_lie_between_blocks() {
    let mut pages = pages();
    lines(&mut *pages, NOW, &bench().page());
    // The receiver's noise, a breath of lean, the pack's last digit.
    let noisy = Bench { switch: 1004, roll: 0.9, pitch: 0.4, millivolts: 7950, ..bench() };
    for ms in (0..60_000).step_by(80) {
        assert_eq!(lines(&mut *pages, later(ms), &noisy.page()), [""; 0], "after {ms} ms");
    }
    let said = lines(&mut *pages, later(60_000), &armed().page());
    assert!(said.len() > 3, "{said:?}");
    for ms in (60_080..62_000).step_by(80) {
        assert_eq!(lines(&mut *pages, later(ms), &bench().page()), [""; 0], "after {ms} ms");
    }
    let said = lines(&mut *pages, later(62_000), &bench().page());
    assert!(said.contains(&"state: disarmed".to_owned()), "{said:?}");
}

/// A number that creeps is news once it is far from what was said last.
#[test]
fn a_creeping_number_is_told() {
    let mut pages = pages();
    let mut said = Vec::new();
    for step in 0..30_u16 {
        let page = Bench { switch: 1000 + step, ..bench() }.page();
        said.extend(
            lines(&mut *pages, later(u64::from(step) * 3000), &page).into_iter().filter(|l| l.contains("channel 6:")),
        );
    }
    assert_eq!(
        said,
        ["channel 6: 1000 us, switch B at 0", "channel 6: 1010 us, switch B at 0", "channel 6: 1020 us, switch B at 0"]
    );
}

#[test]
fn the_boards_words_are_said_once() {
    let mut pages = pages();
    let words = |texts: &[&str]| {
        let said = texts.iter().map(|text| BoardText { text: (*text).to_owned(), ago: Duration::ZERO, times: 1 });
        Page { said: said.collect(), ..bench().page() }
    };
    let heard =
        |lines: Vec<String>| lines.into_iter().filter(|line| line.starts_with("board said")).collect::<Vec<_>>();
    assert_eq!(heard(lines(&mut *pages, NOW, &words(&["one"]))), ["board said: \"one\""]);
    assert_eq!(heard(lines(&mut *pages, later(3000), &words(&["one"]))), [""; 0]);
    let more = heard(lines(&mut *pages, later(6000), &words(&["one", "two", "three"])));
    assert_eq!(more, ["board said: \"two\"", "board said: \"three\""]);
    assert_eq!(heard(lines(&mut *pages, later(9000), &words(&["two", "three"]))), [""; 0]);
}
