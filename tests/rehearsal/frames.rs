//! Craft that are no quad x: the whole first set-up on each, and motors that are wired otherwise.

use super::kit::{Play, play, play_with};
use quadjig::board::sheet::Sheet;
use quadjig::board::sheet_file;
use quadjig::board::{shipped, vocabulary};
use quadjig::language::layout::Place;
use quadjig::language::recipe::{Frame, Turning};
use quadjig::language::sources::Memory;
use quadjig::rehearsal::played::make_of;
use quadjig::rehearsal::rehearse::{Script, willing};
use quadjig::virtual_board::{self, World, WorldConfig};
use std::path::Path;

/// Boards on other frames: direct, by rows, and over a console.
const BOARDS: [&str; 4] = ["finch-plus", "finch-6", "finch-r8", "finch-c6"];
/// The quads of the same kinds, for what is to go on every board.
const QUADS: [&str; 3] = ["finch", "finch-r", "finch-c"];

fn sheet(kind: &str) -> Sheet {
    shipped::sheet(kind).unwrap().unwrap()
}

/// The craft of the bench with the board of a sheet.
fn world(kind: &str) -> WorldConfig {
    WorldConfig::default().made(make_of(&sheet(kind)).unwrap())
}

/// The frame as a recipe has it, which the virtual craft's has to be.
fn frame_of(kind: &str) -> Frame {
    let made = make_of(&sheet(kind)).unwrap().frame;
    let same = |(one, other): (&Place, &virtual_board::Place)| {
        one.corner == other.corner && (f64::from(one.bearing) / 10.0 - other.bearing).abs() < 1e-9
    };
    let is_it = |frame: &Frame| frame.motors() == made.motors() && frame.places().iter().zip(made.places()).all(same);
    Frame::ALL.into_iter().find(is_it).expect("the virtual craft's frame is one of a recipe's")
}

fn read(kind: &str, text: String) -> Script {
    let files = Memory::of([("craft.jig", text)]);
    let reading = vocabulary::read(&files, Path::new("craft.jig"), &[]);
    assert!(reading.findings.is_empty(), "{:#?}", reading.findings);
    let sheet = sheet(kind);
    Script { recipe: reading.recipe.unwrap(), sheets: vec![sheet], card: None }
}

/// The shipped recipe of a first craft on another frame, with everything between that it leaves out.
fn first_set_up(kind: &str) -> Script {
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/recipes/first-craft.jig");
    let text = std::fs::read_to_string(file).unwrap();
    let swaps = [
        (
            "craft quad x turning inward\nboard \"Finch\"",
            format!("craft {} turning inward\nboard \"{}\"", frame_of(kind).words(), sheet(kind).board),
        ),
        (
            "channels roll, pitch, throttle, yaw\n",
            "receiver crsf on port 2\nboard turned 0 deg\nkeep\nfind sticks\ntest sticks\n".to_owned(),
        ),
        ("\ntest arm\n", "\ntest attitude\ncalibrate level\nkeep\n\ntest arm\n".to_owned()),
        ("\nidle start", "\ncalibrate battery\nkeep\ntest motors\norder motors\nidle start".to_owned()),
    ];
    let text = swaps.iter().fold(text, |text, (from, to)| {
        assert_eq!(text.matches(from).count(), 1, "{from}");
        text.replace(from, to)
    });
    read(kind, text)
}

fn whole(kind: &str, config: WorldConfig) -> Play {
    let play = play(&first_set_up(kind), config);
    assert_eq!(
        play.rehearsed.result,
        Ok(()),
        "{kind}: {:#?}",
        play.lines.iter().filter(|line| !line.contains("Strip(")).rev().take(12).collect::<Vec<_>>()
    );
    play
}

#[test]
fn the_whole_first_set_up_plays_to_its_end_on_every_frame() {
    for kind in BOARDS.into_iter().chain(QUADS) {
        let play = whole(kind, world(kind));
        let places = frame_of(kind).places();
        for place in places {
            assert!(play.told(&format!("sits {} and turns", place.corner)), "{kind}: {}", place.corner);
        }
        let found = play.rehearsed.idle.unwrap();
        for start in &found.starts {
            let seen: Vec<&str> = start.motors.iter().map(|motor| motor.corner.as_str()).collect();
            assert_eq!(seen, places.iter().map(|place| place.corner).collect::<Vec<_>>(), "{kind}");
        }
        // Every corner of the world's own truth starts at what is kept.
        let needs = play.rehearsed.board.truth()["motors"]
            .as_array()
            .unwrap()
            .iter()
            .fold(0.0, |most: f64, motor| most.max(motor["highest_start"].as_f64().unwrap()));
        let kept = play.rehearsed.board.truth()["settings"]["IDLE_US"]["stored"].as_f64().unwrap();
        assert!(kept >= needs, "{kind}: {kept} us kept, {needs} us needed");
    }
}

/// The last motors of a frame are looked at like the first: one that starts late decides the idle.
#[test]
fn a_late_motor_behind_the_fourth_decides_the_idle() {
    for (kind, place, corner) in [("finch-6", 5, "left"), ("finch-r8", 7, "left front")] {
        let mut config = world(kind);
        let early = config.motors[0].start;
        config = config.late(place, 1160.0);
        assert!(early < 1110.0);
        let play = play(&searching(kind), config);
        assert_eq!(play.rehearsed.result, Ok(()), "{kind}");
        let found = play.rehearsed.idle.unwrap();
        let still: Vec<&str> = found
            .starts
            .iter()
            .flat_map(|start| start.motors.iter().filter(|motor| !motor.turns))
            .map(|motor| motor.corner.as_str())
            .collect();
        assert!(still.contains(&corner), "{kind}: {still:?}");
        let kept = play.rehearsed.board.truth()["settings"]["IDLE_US"]["stored"].as_f64().unwrap();
        assert!(kept >= 1160.0, "{kind}: {kept}");
    }
}

fn searching(kind: &str) -> Script {
    short(
        kind,
        "switch B on channel 6 rests at 1000, 1500, 2000 on link loss flagged\nbind arm to switch B position 2\n\
         at zero throttle spin\nkeep\nidle start at 1125 step 25 until all spin\n",
    )
}

fn ordering(kind: &str) -> Script {
    short(kind, "order motors\n")
}

fn short(kind: &str, lines: &str) -> Script {
    read(
        kind,
        format!(
            "recipe \"Big\"\nedition 1\ncraft {} turning inward\nboard \"{}\"\nrequire battery out\nrequire props off\n\
             channels roll, pitch, throttle, yaw\n{lines}",
            frame_of(kind).words(),
            sheet(kind).board
        ),
    )
}

/// Motors that are moved on by so many places, and of which every third turns the wrong way.
fn miswired(kind: &str, by: usize) -> WorldConfig {
    let mut config = world(kind);
    config.wiring.rotate_left(by);
    for (place, motor) in config.motors.iter_mut().enumerate() {
        motor.clockwise ^= place % 3 == by % 3;
    }
    config
}

#[test]
fn motors_wired_otherwise_are_put_right_on_every_frame() {
    for (kind, by) in BOARDS.into_iter().zip([1, 2, 3, 1]) {
        let play = play(&ordering(kind), miswired(kind, by));
        assert_eq!(
            play.rehearsed.result,
            Ok(()),
            "{kind}: {:#?}",
            play.lines.iter().filter(|line| !line.contains("Strip(")).rev().take(9).collect::<Vec<_>>()
        );
        let truth = play.rehearsed.board.truth();
        for (at, (motor, place)) in truth["motors"].as_array().unwrap().iter().zip(frame_of(kind).places()).enumerate()
        {
            let told = (motor["corner"].as_str(), motor["number"].as_u64(), motor["clockwise"].as_bool());
            let wanted = (Some(place.corner), Some(at as u64 + 1), Some(Turning::Inward.clockwise(at)));
            assert_eq!(told, wanted, "{kind}");
        }
    }
}

/// Every order of a hex's motors through the whole run: a few in the suite, all 720 with
/// `QUADJIG_WIRINGS=720 cargo test --release --test all rehearsal::frames::every`.
#[test]
fn every_order_of_a_hex_ends_right() {
    let count: usize = std::env::var("QUADJIG_WIRINGS").ok().and_then(|count| count.parse().ok()).unwrap_or(4);
    let script = ordering("finch-6");
    let mut orders = vec![Vec::new()];
    for place in 0..6 {
        // Each of the shorter ones with the next place put in anywhere.
        orders = orders
            .into_iter()
            .flat_map(|order: Vec<usize>| {
                (0..=order.len()).map(move |at| {
                    let mut longer = order.clone();
                    longer.insert(at, place);
                    longer
                })
            })
            .collect();
    }
    assert_eq!(orders.len(), 720);
    for order in orders.iter().skip(7 % (720 / count.clamp(1, 720))).step_by(720 / count.clamp(1, 720)) {
        let config = WorldConfig { wiring: order.clone(), ..world("finch-6") };
        let play = play(&script, config);
        assert_eq!(play.rehearsed.result, Ok(()), "{order:?}: {:#?}", play.lines.last());
        let truth = play.rehearsed.board.truth();
        let motors = truth["motors"].as_array().unwrap().iter().zip(frame_of("finch-6").places());
        for (at, (motor, place)) in motors.enumerate() {
            let told = (motor["corner"].as_str(), motor["number"].as_u64(), motor["clockwise"].as_bool());
            let wanted = (Some(place.corner), Some(at as u64 + 1), Some(Turning::Inward.clockwise(at)));
            assert_eq!(told, wanted, "{order:?}");
        }
    }
}

/// What `check` calls clean no plan refuses for its frame, and what does not fit is found by `check` already.
#[test]
fn a_frame_that_the_board_is_not_built_for_is_refused() {
    let mut script = ordering("finch-6");
    script.sheets = vec![shipped::sheet("finch").unwrap().unwrap()];
    script.recipe.boards[0].value = "Finch".to_owned();
    let config = WorldConfig::default();
    let mut operator = willing(&config);
    let play = play_with(&script, World::new(config), &mut operator, quadjig::rehearsal::simulated::Disk::default());
    let why = play.rehearsed.result.unwrap_err().to_string();
    assert!(why.contains("the sheet has 4 motors, and the recipe's craft has 6"), "{why}");
}

/// A sheet of a frame says of its board what the quad's says, but for its motors.
#[test]
fn sheets_differ_by_their_motors_alone() {
    let text = |stem: &str| shipped::SHEETS.iter().find(|sheet| sheet.stem == stem).unwrap().text;
    for (quad, other) in
        [("finch", "finch-plus"), ("finch", "finch-6"), ("finch-r", "finch-r8"), ("finch-c", "finch-c6")]
    {
        let (quad, other) = (text(quad), text(other));
        let rest = |text: &str| {
            let (motors, settings) = (text.find("[motors]").unwrap(), text.find("[settings.idle]").unwrap());
            let head = text[..motors].lines().filter(|line| !line.contains("Finch")).collect::<Vec<_>>().join("\n");
            head + &text[settings..]
        };
        assert_eq!(rest(quad), rest(other));
        let sheet = sheet_file::read("other.toml", other).unwrap();
        let corners: Vec<&str> = sheet.corners.iter().map(|corner| corner.0.as_str()).collect();
        assert_eq!(Frame::of(&corners).unwrap().motors(), corners.len());
    }
}
