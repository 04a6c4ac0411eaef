//! A craft's run, or a plan, as one page that stands by itself: for paper, for a browser in light or dark, for a screen
//! reader.
//!
//! Promises: one file, without script and without anything from elsewhere; every text of a recipe, a record or a board has
//! passed the gate and is escaped; every picture's figures stand in a table or in its description as well. Must not be
//! here: what a record or a plan means.

pub mod checklist;
mod doc;
mod escape;
mod idle;
mod lines;
pub mod plan;
mod prop_map;
pub mod run;
mod svg;
pub mod switches;

use doc::Doc;

/// The cautions, whole.
fn cautions(doc: &mut Doc) {
    use super::cautions::{BENCH, FOREWORD};
    doc.heading(2, "Cautions");
    doc.para("caution", FOREWORD);
    doc.list(&BENCH.map(str::to_owned));
}
