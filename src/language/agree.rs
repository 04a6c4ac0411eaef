//! What a recipe and the files that it uses are for: one craft, boards and firmware that all of them name.
//!
//! Must not be here: how a header is read.

use super::codes;
use super::finding::Finding;
use super::header::Header;
use super::recipe::{Craft, Firmware};
use super::span::Spanned;

/// Takes a used recipe's header in: same craft, common boards, common firmware.
pub(super) fn merge(top: &mut Header, used: &Header, findings: &mut Vec<Finding>) {
    if top.craft.is_none() {
        top.craft.clone_from(&used.craft);
    }
    if top.boards.is_empty() {
        top.boards.clone_from(&used.boards);
    }
    if let (Some(craft), Some(other)) = (&mut top.craft, &used.craft) {
        let Craft { frame, turning } = other.value;
        let both_say = craft.value.turning.is_some() && turning.is_some();
        if craft.value.frame != frame || (both_say && craft.value.turning != turning) {
            findings.push(
                Finding::error(
                    codes::OTHER_CRAFT,
                    other.span.clone(),
                    "this recipe is for another craft than the one that uses it",
                )
                .also(craft.span.clone(), "the craft of the recipe that was named")
                .hint("use recipes for the same craft only"),
            );
        }
        craft.value.turning = craft.value.turning.or(turning);
    }
    if let (Some(first), Some(other)) = (top.boards.first(), used.boards.first()) {
        let common: Vec<_> =
            top.boards.iter().filter(|board| used.boards.iter().any(|o| o.value == board.value)).cloned().collect();
        if common.is_empty() {
            findings.push(
                Finding::error(
                    codes::NO_COMMON_BOARD,
                    other.span.clone(),
                    "this recipe was written for none of the boards of the one that uses it",
                )
                .also(first.span.clone(), "the boards of the recipe that was named")
                .hint("name a board that both were written for"),
            );
        } else {
            top.boards = common;
        }
    }
    match (top.firmware.first().cloned(), used.firmware.first()) {
        (None, _) => top.firmware.clone_from(&used.firmware),
        (Some(_), None) => {}
        (Some(first), Some(other)) => {
            let common = common_firmware(&top.firmware, &used.firmware);
            if common.is_empty() {
                findings.push(
                    Finding::error(
                        codes::NO_COMMON_FIRMWARE,
                        other.span.clone(),
                        "this recipe shares no firmware version with the one that uses it",
                    )
                    .also(first.span, "the firmware of the recipe that was named"),
                );
            } else {
                top.firmware = common;
            }
        }
    }
}

/// Versions that both allow; of two that match each other, the one that says more.
fn common_firmware(ours: &[Spanned<Firmware>], theirs: &[Spanned<Firmware>]) -> Vec<Spanned<Firmware>> {
    let covers = |wide: &str, narrow: &str| {
        wide == narrow || narrow.strip_prefix(wide).is_some_and(|rest| rest.starts_with('.'))
    };
    let mut common: Vec<Spanned<Firmware>> = Vec::new();
    for our in ours {
        for their in theirs {
            let narrower = if covers(&our.value.0, &their.value.0) {
                their
            } else if covers(&their.value.0, &our.value.0) {
                our
            } else {
                continue;
            };
            if !common.iter().any(|known| known.value == narrower.value) {
                common.push(narrower.clone());
            }
        }
    }
    common
}
