//! The page on a screen of its own.

use super::kit::{Bench, NOW, armed, bench, frame};
use quadjig::report::page::{History, draw, drawer};
use quadjig::report::screen::Style;
use quadjig::seam::page::{Armed, BoardText, Page};
use quadjig::world::screen::PageOut;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Color, Modifier};
use std::time::Duration;

const SMALL: (u16, u16) = (80, 24);
const MIDDLE: (u16, u16) = (100, 30);
const LARGE: (u16, u16) = (120, 40);

fn drawn(page: &Page, size: (u16, u16), colour: bool) -> Buffer {
    let mut buffer = Buffer::empty(Rect::new(0, 0, size.0, size.1));
    draw(&mut buffer, page, None, colour, &History::default());
    buffer
}

fn read(buffer: &Buffer) -> String {
    let Rect { width, height, .. } = buffer.area;
    let rows = (0..height).map(|y| {
        let row: String = (0..width).map(|x| buffer[(x, y)].symbol()).collect();
        row.trim_end().to_owned() + "\n"
    });
    rows.collect()
}

/// The text alone, as it is read without colour and without anything else.
fn text(page: &Page, size: (u16, u16)) -> String {
    read(&drawn(page, size, false))
}

#[test]
fn all_is_well() {
    let page = bench().page();
    insta::assert_snapshot!("fine_80", text(&page, SMALL));
    insta::assert_snapshot!("fine_100", text(&page, MIDDLE));
    insta::assert_snapshot!("fine_120", text(&page, LARGE));
}

#[test]
fn armed_is_seen_from_afar() {
    let page = armed().page();
    insta::assert_snapshot!("armed_80", text(&page, SMALL));
    insta::assert_snapshot!("armed_100", text(&page, MIDDLE));
    insta::assert_snapshot!("armed_120", text(&page, LARGE));
}

/// A flag that says disarmed beside outputs that are up calms nobody.
#[test]
fn driven_motors_are_seen_from_afar_whatever_the_flag_says() {
    let page = Bench { armed: false, ..armed() }.page();
    insta::assert_snapshot!("driven_80", text(&page, SMALL));
    let quiet = Bench { outputs: bench().outputs, ..armed() };
    assert_eq!(Bench { armed: false, ..quiet }.page().armed, Armed::No);
}

/// Pulses and speeds of the last half minute stand below the channels, each axis with its figures and unit; where there is
/// no room for them nothing else gives way.
#[test]
fn how_the_motors_went_of_late_is_drawn_where_there_is_room() {
    let mut history = History::default();
    let mut idle = armed().page();
    for (quarter, rpm) in (0..120_u64).zip([0, 0, 4000, 9000, 11_000, 11_100, 11_050, 3000].into_iter().cycle()) {
        for (motor, more) in idle.motors.iter_mut().zip(0..) {
            motor.rpm = Some(rpm + 300 * more);
            motor.pulse = Some(if rpm == 0 { 1000 } else { 1150 });
        }
        history.take(NOW + Duration::from_millis(250 * quarter), &idle);
    }
    let of = |page: &Page, size: (u16, u16)| {
        let mut buffer = Buffer::empty(Rect::new(0, 0, size.0, size.1));
        draw(&mut buffer, page, None, false, &history);
        read(&buffer)
    };
    let at = |size: (u16, u16)| of(&idle, size);
    insta::assert_snapshot!("history_80", at(SMALL));
    insta::assert_snapshot!("history_100", at(MIDDLE));
    insta::assert_snapshot!("history_120", at(LARGE));
    for size in [SMALL, MIDDLE, LARGE] {
        let drawn = at(size);
        assert!(drawn.contains("motor pulses in us") && drawn.contains("motor speeds in rpm"), "{drawn}");
    }
    let crowded = Bench { channels: 16, ..armed() }.page();
    assert_eq!(of(&crowded, SMALL), text(&crowded, SMALL));
    assert!(of(&crowded, MIDDLE).contains("motor pulses in us"), "{}", of(&crowded, MIDDLE));
}

#[test]
fn a_lost_link_shows_no_old_number() {
    let page = Bench { lost: Some(NOW - Duration::from_secs(12)), ..armed() }.page();
    let small = text(&page, SMALL);
    assert!(!small.contains("1150") && !small.contains("2000") && !small.contains("rpm"), "{small}");
    insta::assert_snapshot!("lost_80", small);
    insta::assert_snapshot!("lost_100", text(&page, MIDDLE));
    insta::assert_snapshot!("lost_120", text(&page, LARGE));
}

#[test]
fn without_a_sheet_there_are_no_bands() {
    let page = Bench { sheet: None, card: None, ..bench() }.page();
    insta::assert_snapshot!("no_sheet_80", text(&page, SMALL));
}

#[test]
fn a_lean_moves_the_bubbles_to_the_high_side() {
    let page = Bench { roll: 12.0, pitch: -7.4, ..bench() }.page();
    let small = text(&page, SMALL);
    assert!(small.contains("(-O-|---) right down 12.0°"), "{small}");
    assert!(small.contains("(--O|---) nose down 7.4°"), "{small}");
    insta::assert_snapshot!("leaning_120", text(&page, LARGE));
}

#[test]
fn motors_without_speeds() {
    let page = Bench { rpm: None, ..armed() }.page();
    insta::assert_snapshot!("no_speeds_80", text(&page, SMALL));
}

#[test]
fn sixteen_channels_and_a_radio_that_is_lost() {
    insta::assert_snapshot!("sixteen_80", text(&Bench { channels: 16, ..bench() }.page(), SMALL));
    let page = Bench { channels: 0, ..bench() }.page();
    insta::assert_snapshot!("no_radio_80", text(&page, SMALL));
}

#[test]
fn six_and_eight_motors_stand_in_a_list() {
    let six = ["front left", "front right", "right", "rear right", "rear left", "left"];
    let outputs = [1150, 1150, 1000, 1000, 1000, 1150, 0, 0];
    let page = Bench { sheet: Some(frame(&six)), outputs, ..bench() }.page();
    insta::assert_snapshot!("six_80", text(&page, SMALL));
    let eight = [
        "front left up",
        "front left down",
        "front right up",
        "front right down",
        "rear right up",
        "rear right down",
        "rear left up",
        "rear left down",
    ];
    let page = Bench { sheet: Some(frame(&eight)), outputs: [1000; 8], channels: 16, ..bench() }.page();
    insta::assert_snapshot!("eight_80", text(&page, SMALL));
    insta::assert_snapshot!("eight_100", text(&page, MIDDLE));
    insta::assert_snapshot!("eight_120", text(&page, LARGE));
}

/// Everything that colour marks is said in words too: the coloured page reads the same, and the other has no colour.
#[test]
fn colour_adds_nothing_but_colour() {
    for bench in [bench(), armed(), Bench { lost: Some(NOW), ..bench() }] {
        for size in [SMALL, MIDDLE, LARGE] {
            let page = Page { is_virtual: true, ..bench.page() };
            let (with, without) = (drawn(&page, size, true), drawn(&page, size, false));
            assert_eq!(read(&with), read(&without));
            assert!(with.content.iter().any(|cell| cell.fg != Color::Reset));
            assert!(without.content.iter().all(|cell| cell.fg == Color::Reset && cell.bg == Color::Reset));
        }
    }
}

/// Beside the large letters: light and dark are exchanged, on a terminal without colour too.
#[test]
fn what_has_to_be_seen_is_exchanged_without_colour() {
    let exchanged = |page: &Page| {
        let buffer = drawn(page, SMALL, false);
        let cells = buffer.content.iter().zip(0_u16..).filter(|(cell, _)| cell.modifier.contains(Modifier::REVERSED));
        cells.filter(|(_, at)| at / SMALL.0 < 4).count()
    };
    assert_eq!(exchanged(&bench().page()), 0);
    assert!(exchanged(&armed().page()) > 100);
}

#[test]
fn untrusted_text_is_shown_with_visible_escapes() {
    let hostile = "\u{1b}[2J\u{202e}\r\nARMED";
    let mut page = bench().page();
    page.said = vec![BoardText { text: hostile.to_owned(), ago: Duration::ZERO, times: 1 }];
    (page.craft, page.port) = (hostile.to_owned(), hostile.to_owned());
    page.channels[5].bands[0].function = hostile.to_owned();
    page.motors[0].name = hostile.to_owned();
    for style in [Style::default(), Style { plain: true, ..Style::default() }] {
        let out = drawer(style).draw(NOW, &page, None, LARGE);
        let (text, lines) = match out {
            PageOut::Whole(text) => (text, false),
            PageOut::Lines(lines) => (lines.join("\n"), true),
        };
        assert!(!text.contains("\u{1b}[2J\u{202e}") && !text.contains('\u{202e}') && !text.contains('\r'), "{text:?}");
        assert!(text.contains(r"\u{1b}[2J\u{202e}"), "{text:?}");
        assert!(!lines || !text.contains('\u{1b}'), "{text:?}");
    }
}

#[test]
fn only_what_changed_leaves_for_the_terminal() {
    let mut pages = drawer(Style::default());
    let mut bytes = |page: &Page| match pages.draw(NOW, page, None, SMALL) {
        PageOut::Whole(text) => text,
        PageOut::Lines(_) => panic!("a page of its own is no lines"),
    };
    let first = bench().page();
    assert!(bytes(&first).len() > 1000);
    let again = bytes(&first);
    assert!(again.len() < 40 && !again.contains("us"), "{again:?}");
    let mut moved = first.clone();
    moved.channels[4].pulse = Some(1501);
    let moved = bytes(&moved);
    assert!(moved.contains('1') && moved.len() < 60, "{moved:?}");
}

#[test]
fn a_terminal_of_another_size_is_drawn_anew() {
    let mut pages = drawer(Style::default());
    let page = bench().page();
    let mut screen =
        vt100::Parser::new(std::num::NonZero::new(LARGE.1).unwrap(), std::num::NonZero::new(LARGE.0).unwrap(), 0);
    for size in [SMALL, MIDDLE, LARGE, (20, 5), (1, 1), (0, 0), (79, 23), SMALL] {
        let PageOut::Whole(bytes) = pages.draw(NOW, &page, Some("world> flip"), size) else { panic!("no lines") };
        screen.process(bytes.as_bytes());
    }
    let seen = screen.screen().contents();
    let plain: Vec<&str> = seen.lines().map(str::trim_end).collect();
    let mut history = History::default();
    history.take(NOW, &page);
    let mut buffer = Buffer::empty(Rect::new(0, 0, SMALL.0, SMALL.1));
    draw(&mut buffer, &page, None, false, &history);
    let wanted = read(&buffer);
    let wanted: Vec<&str> = wanted.lines().map(str::trim_end).collect();
    assert_eq!(plain[..23], wanted[..23]);
    assert_eq!(plain[23], " world> flip");
}

/// Pages as their bytes, for whoever looks at their colours.
pub fn pages_in_colour() -> Vec<String> {
    let benches = [bench(), armed(), Bench { lost: Some(NOW - Duration::from_secs(12)), ..armed() }];
    let pages = benches.iter().map(|bench| {
        let mut pages = drawer(Style { colour: true, ..Style::default() });
        match pages.draw(NOW, &bench.page(), None, LARGE) {
            PageOut::Whole(bytes) => bytes,
            PageOut::Lines(lines) => panic!("{lines:?}"),
        }
    });
    pages.collect()
}
