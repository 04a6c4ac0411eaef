//! A fleet of rehearsals summed up as text: how many finished, why the others did not, the idle kept as a plot.
//!
//! Promises: one cause is said once, however its figures differ from craft to craft; no word that could be read as a proof
//! about a real craft. Must not be here: how a rehearsal is played.

use super::gate;
use super::screen::Style;
use super::screen::line::{Ink, Page};
use super::transcript::{NOTHING_SHOWN, minutes, played_as, reason};
use crate::language::units::Pulse;
use crate::rehearsal::fleet::Craft;
use crate::rehearsal::your_craft::Played;
use std::collections::{BTreeMap, BTreeSet};

/// Columns of a summary.
const WIDTH: usize = 96;
/// Rows of the plot, at most.
const ROWS: i32 = 16;
/// Columns of its bars.
const BAR: usize = 40;

/// A fleet as text.
#[must_use]
pub fn fleet_text(title: &str, board: &str, played: &Played, craft: &[Craft], style: Style) -> String {
    let mut page = Page::new(style, WIDTH);
    page.heading("Rehearsal on a fleet");
    page.say("recipe", &format!("\"{}\"", gate::line(title)));
    let seeds = match craft {
        [] => String::new(),
        [one] => format!(", seed {}", one.seed),
        [first, .., last] => format!(", seeds {} to {}", first.seed, last.seed),
    };
    page.inked(
        Ink::Warning,
        "VIRTUAL",
        &format!("{} {board} craft{seeds}, played by a scripted operator", craft.len()),
    );
    played_as(&mut page, played);
    page.gap();
    let finished = craft.iter().filter(|craft| craft.result.is_ok()).count();
    page.inked(Ink::Strong, "finished", &format!("{finished} of {}", craft.len()));
    for Cause { first, seeds } in causes(craft) {
        let other = if seeds.len() > 1 { "; figures of the first" } else { "" };
        page.inked(Ink::Warning, "not", &format!("{}{other}: {}", seeds_in_words(&seeds), gate::lines(&first)));
    }
    page.gap();
    idle(&mut page, craft);
    page.say("questions", &range(craft.iter().map(|craft| u64::from(craft.questions)), " a craft"));
    page.say("restarts", &range(craft.iter().map(|craft| u64::from(craft.restarts)), " a craft"));
    if let Some((least, middle, most)) = spread(craft.iter().map(|craft| craft.took)) {
        let times = format!("{} to {}, the middle one {}", minutes(least), minutes(most), minutes(middle));
        page.say("bench time", &format!("{times}; simulated"));
    }
    page.gap();
    page.say("", NOTHING_SHOWN);
    let mut text = page.lines().join("\n");
    text.push('\n');
    text
}

/// What kept craft from finishing.
struct Cause {
    /// As the first of its craft told it.
    first: String,
    seeds: Vec<u64>,
}

/// Causes with the seeds of their craft, the most frequent first.
fn causes(craft: &[Craft]) -> Vec<Cause> {
    let mut causes: BTreeMap<String, Cause> = BTreeMap::new();
    for craft in craft {
        if let Err(fault) = &craft.result {
            let why = reason(fault);
            let cause = causes.entry(cause(&why)).or_insert_with(|| Cause { first: why, seeds: Vec::new() });
            cause.seeds.push(craft.seed);
        }
    }
    let mut causes: Vec<Cause> = causes.into_values().collect();
    causes.sort_by_key(|cause| (std::cmp::Reverse(cause.seeds.len()), cause.seeds.first().copied()));
    causes
}

/// What a reason comes to without the figures and the corners of one craft: its first clause, numbers left out.
fn cause(reason: &str) -> String {
    let clause = reason.split([':', ';']).next().unwrap_or_default();
    clause.split(|c: char| c.is_ascii_digit() || c == '.').filter(|part| !part.is_empty()).collect()
}

fn seeds_in_words(seeds: &[u64]) -> String {
    const SHOWN: usize = 8;
    let list: Vec<String> = seeds.iter().take(SHOWN).map(u64::to_string).collect();
    let more = if seeds.len() > SHOWN { format!(" and {} more", seeds.len() - SHOWN) } else { String::new() };
    format!("{} ({} {}{more})", seeds.len(), if seeds.len() == 1 { "seed" } else { "seeds" }, list.join(", "))
}

/// What the searches kept, and how that stands to what the motors of the same craft really need.
fn idle(page: &mut Page, craft: &[Craft]) {
    let found: Vec<(&Craft, Pulse)> = craft
        .iter()
        .filter_map(|craft| craft.idle.as_ref().filter(|idle| idle.lowest.is_some()).map(|idle| (craft, idle.kept)))
        .collect();
    let Some((least, middle, most)) = spread(found.iter().map(|(_, kept)| *kept)) else { return };
    page.say("idle kept", &format!("{least} to {most}, the middle one {middle}, by {} craft", found.len()));
    // Rounded down: what is said to stand above the need is at least that.
    #[expect(clippy::cast_possible_truncation, reason = "a difference of pulses")]
    let above = found.iter().map(|(craft, kept)| (f64::from(kept.0) - craft.sure_start()).floor() as i64);
    if let Some((least, middle, most)) = spread(above) {
        page.say(
            "above need",
            &format!(
                "{least} to {most} us, the middle one {middle} us, over the pulse that starts each motor of that \
                 virtual craft 999 times in 1,000"
            ),
        );
    }
    plot(page, &found.iter().map(|(_, kept)| kept.0).collect::<Vec<_>>());
    page.gap();
}

/// A row a value, or a few of them together, with a mark for each craft that kept it, or for some.
fn plot(page: &mut Page, kept: &[i32]) {
    let (Some(least), Some(most)) = (kept.iter().min(), kept.iter().max()) else { return };
    // As an axis is read; where that is possible, so that a row holds one value and none stays empty.
    let widths = [5, 10, 20, 25, 50, 100, 200, 500];
    let distinct = |width: i32| kept.iter().map(|kept| kept / width).collect::<BTreeSet<_>>().len();
    let fits = |width: &i32| most / width - least / width < ROWS;
    let alone = |width: &i32| fits(width) && distinct(*width) == distinct(1);
    let width =
        widths.into_iter().rfind(alone).or_else(|| widths.into_iter().find(fits)).unwrap_or(most.max(&1) / ROWS);
    let count = |row: i32| kept.iter().filter(|kept| *kept / width == row).count();
    let rows: Vec<(i32, usize)> = (least / width..=most / width).map(|row| (row, count(row))).collect();
    let label = |row: i32| match kept.iter().find(|kept| *kept / width == row) {
        Some(one) if alone(&width) => one.to_string(),
        _ => format!("{}-{}", row * width, row * width + width - 1),
    };
    let each = rows.iter().map(|(_, count)| count).max().map_or(1, |most| most.div_ceil(BAR).max(1));
    if !page.style().plain {
        page.gap();
        let a_mark = if each == 1 { "a mark for each craft".to_owned() } else { format!("a mark for {each} craft") };
        page.row(format!("  {:>11}  {:>5}  {a_mark}", "kept, us", "craft"));
    }
    for (row, count) in rows {
        if page.style().plain {
            page.say(&format!("kept {} us", label(row)), &format!("{count} craft"));
        } else {
            let bar = "▪".repeat(count.div_ceil(each));
            page.row(format!("  {:>11}  {count:>5}  {bar}", label(row)).trim_end().to_owned());
        }
    }
}

fn range(values: impl Iterator<Item = u64>, what: &str) -> String {
    match spread(values) {
        None => "none".to_owned(),
        Some((least, _, most)) if least == most => format!("{least}{what}"),
        Some((least, _, most)) => format!("{least} to {most}{what}"),
    }
}

/// Least, middle and most of some values.
fn spread<T: Ord + Copy>(values: impl Iterator<Item = T>) -> Option<(T, T, T)> {
    let mut values: Vec<T> = values.collect();
    values.sort_unstable();
    Some((*values.first()?, *values.get(values.len() / 2)?, *values.last()?))
}
