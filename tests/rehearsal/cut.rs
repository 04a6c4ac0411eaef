//! What is printed of a cut holds the world's own truth, whatever the streams' own ways add; and no motor runs for a
//! limit that the link can't show.

use super::kit::{HEAD, Play, play};
use quadjig::board::{shipped, vocabulary};
use quadjig::language::sources::Memory;
use quadjig::rehearsal::rehearse::Script;
use quadjig::seam::fault::Fault;
use quadjig::virtual_board::{BoardKind, WorldConfig};
use std::path::Path;
use std::time::Duration;

/// Worlds of each kind here.
const WORLDS: u64 = 25;

fn script(sheet: &str, within: &str) -> Script {
    let head = HEAD.replace("board \"Finch\"", &format!("board \"{sheet}\""));
    let text = format!("{head}idle at 1150\nkeep\nrequire battery in\ntest cut within {within}\n");
    let files = Memory::of([("wren.jig", text)]);
    let recipe = vocabulary::read(&files, Path::new("wren.jig"), &[]).recipe.unwrap();
    Script { recipe, sheets: vec![shipped::sheet(sheet).unwrap().unwrap()], card: None }
}

const fn ms(ms: u64) -> Duration {
    Duration::from_millis(ms)
}

/// The intervals that were printed, ms.
fn cuts(play: &Play) -> Vec<(u64, u64)> {
    let between = |line: &String| {
        let (_, after) = line.split_once(" of 3: ").filter(|_| line.contains("Measured"))?;
        let (interval, _) = after.split_once(" ms from switch to rest")?;
        let (least, most) = interval.split_once(" to ")?;
        Some((least.parse().ok()?, most.parse().ok()?))
    };
    play.lines.iter().filter_map(between).collect()
}

/// A craft that cuts some time after its board heard of the switch, as the board counts frames of 20 ms.
fn world(seed: u64, board: BoardKind) -> (WorldConfig, u64) {
    let mut config = WorldConfig { board, ..WorldConfig::spread(seed) };
    let cuts_after = seed * 37 % 450;
    config.conduct.cuts_after = ms(cuts_after);
    (config, cuts_after.div_ceil(20) * 20)
}

fn hold(board: BoardKind, way: impl Fn(u64, &mut WorldConfig)) {
    let script = script(board.name(), "2 s");
    let (mut seen, mut wrong) = (0_usize, Vec::new());
    for seed in 1..=std::env::var("QUADJIG_CUT_WORLDS").map_or(WORLDS, |worlds| worlds.parse().unwrap()) {
        let (mut config, truth) = world(seed, board);
        way(seed, &mut config);
        let play = play(&script, config);
        for (least, most) in cuts(&play) {
            seen += 1;
            if truth < least || truth > most {
                wrong.push(format!("seed {seed}: {least} to {most} ms, in truth {truth}"));
            }
        }
    }
    assert!(seen > 25, "{seen} cuts");
    assert!(wrong.len() * 1000 <= seen, "{} of {seen}: {wrong:#?}", wrong.len());
}

#[test]
fn streams_that_are_late_by_themselves_do_not_move_what_is_printed() {
    hold(BoardKind::Finch, |seed, config| {
        let late = [(25, 0), (0, 25), (300, 0), (0, 60), (120, 90)][usize::try_from(seed % 5).unwrap()];
        config.conduct.tells_late = [ms(late.0), ms(late.1), ms(0)];
        config.wire.jitter = ms(seed % 4 * 10);
        config.wire.loss = if seed.is_multiple_of(3) { 0.01 } else { 0.0 };
        config.conduct.clock_rate = [1.0, 1.0, 0.98, 1.02][usize::try_from(seed % 4).unwrap()];
    });
}

#[test]
fn answers_of_a_console_that_come_unevenly_make_the_interval_wide_enough() {
    hold(BoardKind::FinchC, |seed, config| config.wire.jitter = ms([0, 10, 20][usize::try_from(seed % 3).unwrap()]));
}

/// Channels 300 ms late: a cut of 400 ms is no cut of 139.
#[test]
fn a_slow_cut_behind_late_channels_is_not_shown_to_be_quick() {
    let (mut config, _) = world(1, BoardKind::Finch);
    config.conduct.cuts_after = ms(400);
    config.conduct.tells_late = [ms(300), ms(0), ms(0)];
    let play = play(&script("Finch", "250 ms"), config);
    assert!(
        matches!(&play.rehearsed.result, Err(Fault::Unproved(why)) if why.contains("cut: at worst")),
        "{:?}",
        play.rehearsed.result
    );
    assert!(cuts(&play).iter().all(|(least, most)| *least > 250 && *most >= 400), "{:?}", cuts(&play));
}

#[test]
fn a_limit_that_the_slowest_stream_cannot_show_turns_no_motor() {
    let (config, _) = world(1, BoardKind::Finch);
    let play = play(&script("Finch", "30 ms"), config);
    let fault = play.rehearsed.result.clone().unwrap_err().to_string();
    assert!(fault.contains("the least that can is"), "{fault}");
    let truth = play.rehearsed.board.truth();
    assert!(truth["motors"].as_array().unwrap().iter().all(|motor| motor["starts"] == 0), "no motor was driven");
}

/// Between two cuts nothing is to be done, and that is said.
#[test]
fn the_next_cut_is_said_to_be_waited_for() {
    let (config, _) = world(1, BoardKind::Finch);
    let play = play(&script("Finch", "800 ms"), config);
    assert_eq!(play.rehearsed.result, Ok(()), "{:#?}", play.lines);
    assert!(play.told("wait for cut 2") && play.told("wait for cut 3") && !play.told("wait for cut 4"));
}
