//! The page on a screen of its own.

use super::kit::{Bench, NOW, armed, bench};
use quadjig::bench::page::Page;
use quadjig::report::page::draw;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use std::time::Duration;

const SMALL: (u16, u16) = (80, 24);
const LARGE: (u16, u16) = (120, 40);

fn drawn(page: &Page, size: (u16, u16), colour: bool) -> Buffer {
    let mut buffer = Buffer::empty(Rect::new(0, 0, size.0, size.1));
    draw(&mut buffer, page, None, colour);
    buffer
}

/// The text alone, as it is read without colour and without anything else.
fn text(page: &Page, size: (u16, u16)) -> String {
    let buffer = drawn(page, size, false);
    let rows = (0..size.1).map(|y| {
        let row: String = (0..size.0).map(|x| buffer[(x, y)].symbol()).collect();
        row.trim_end().to_owned() + "\n"
    });
    rows.collect()
}

#[test]
fn all_is_well() {
    let page = bench().page();
    insta::assert_snapshot!("fine_80", text(&page, SMALL));
    insta::assert_snapshot!("fine_120", text(&page, LARGE));
}

#[test]
fn armed_is_seen_from_afar() {
    let page = armed().page();
    insta::assert_snapshot!("armed_80", text(&page, SMALL));
    insta::assert_snapshot!("armed_120", text(&page, LARGE));
}

#[test]
fn a_lost_link_shows_no_old_number() {
    let page = Bench { lost: Some(NOW - Duration::from_secs(12)), ..armed() }.page();
    insta::assert_snapshot!("lost_80", text(&page, SMALL));
    insta::assert_snapshot!("lost_120", text(&page, LARGE));
}

#[test]
fn without_a_sheet_there_are_no_bands() {
    let page = Bench { sheet: None, card: None, ..bench() }.page();
    insta::assert_snapshot!("no_sheet_80", text(&page, SMALL));
}
