//! The promise of the idle search, judged by the truth of the virtual world.
//!
//! Starting thresholds are spread from craft to craft, vary from start to start without a bound, and fall with the volts of
//! the pack: "needed" is what starts 999 times in 1,000 with the craft's own. Nothing here holds by construction.

use super::kit::{Play, play, play_with, script};
use quadjig::language::units::Pulse;
use quadjig::rehearsal::fleet::{Craft, fleet};
use quadjig::rehearsal::operator::{Deed, Operator, Willing};
use quadjig::rehearsal::rehearse::willing;
use quadjig::rehearsal::simulated::Disk;
use quadjig::seam::Key;
use quadjig::seam::fault::Fault;
use quadjig::seam::ui::{Gesture, Question, StartSeen};
use quadjig::virtual_board::{BoardKind, World, WorldConfig};
use std::time::Duration;

const STEP: f64 = 25.0;
const MARGIN: f64 = 25.0;

fn of_fleet(search: &str, seed: u64, count: u32) -> Vec<Craft> {
    let threads = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    fleet(&script(search), &BoardKind::Finch.make(), seed, count, threads, &|_| {})
}

fn kept(craft: &Craft) -> f64 {
    f64::from(craft.idle.as_ref().unwrap().kept.0)
}

/// Every craft ends at least at the highest threshold of its motors, and at most one step plus the margin above.
#[test]
fn every_craft_of_a_fleet_ends_where_its_motors_start_every_time() {
    let fleet = of_fleet("idle start at 1060 step 25 until all spin, for 1 s, in 3 starts\n", 1, 200);
    assert_eq!(fleet.len(), 200);
    for craft in &fleet {
        assert_eq!(craft.result, Ok(()), "seed {}", craft.seed);
        let (kept, need) = (kept(craft), craft.sure_start());
        assert!(kept >= need, "seed {}: kept {kept}, needed {need}", craft.seed);
        assert!(kept <= need + STEP + MARGIN, "seed {}: kept {kept}, needed {need}", craft.seed);
        assert_eq!(craft.changed["IDLE_US"], kept, "seed {}: what was found is what is stored", craft.seed);
    }
}

/// Where the recipe's limit is too low for a craft, it is refused, and the corner that needs more is named.
#[test]
fn a_craft_beyond_the_limit_is_refused_with_the_right_corner() {
    let fleet = of_fleet("idle start at 1060 step 25 until all spin, at most 1150, for 1 s, in 3 starts\n", 500, 60);
    let mut refused = 0;
    for craft in &fleet {
        let last = 1110.0;
        match &craft.result {
            Ok(()) => {
                assert!(kept(craft) >= craft.sure_start() && kept(craft) <= 1150.0, "seed {}", craft.seed);
            }
            Err(Fault::NotFound(why)) => {
                refused += 1;
                let named: Vec<&String> = craft.starts.keys().filter(|corner| why.contains(corner.as_str())).collect();
                assert!(!named.is_empty(), "seed {}: {why}", craft.seed);
                for corner in named {
                    assert!(craft.starts[corner] > last, "seed {}: {corner} does start at {last}: {why}", craft.seed);
                }
                assert!(!craft.changed.contains_key("IDLE_US"), "seed {}: the old idle is put back", craft.seed);
            }
            Err(other) => panic!("seed {}: {other}", craft.seed),
        }
    }
    assert!((10..50).contains(&refused), "{refused} of 60 refused: both kinds must occur");
}

/// The right rear motor starts late: the search ends on the value at which it starts every time, plus the margin.
#[test]
fn a_motor_that_starts_late_decides() {
    let script = script("idle start at 1060 step 25 until all spin, for 1 s, in 3 starts\n");
    let play = play(&script, WorldConfig::default().late(2, 1148.0));
    assert_eq!(play.rehearsed.result, Ok(()));
    let found = play.rehearsed.idle.unwrap();
    assert_eq!((found.lowest, found.kept), (Some(Pulse(1160)), Pulse(1185)));
    let failed: Vec<_> = found
        .starts
        .iter()
        .filter(|start| start.pulse == Pulse(1135))
        .flat_map(|start| start.motors.iter().filter(|motor| !motor.turns).map(|motor| motor.corner.as_str()))
        .collect();
    assert_eq!(failed, ["rear right"]);
    assert_eq!(play.rehearsed.board.truth()["settings"]["IDLE_US"]["stored"], 1185);
}

/// Motors that catch a second late below some pulse look, late enough, like motors that start at once: not where
/// the flag comes once a second, nor where it comes often.
#[test]
fn a_motor_that_catches_late_has_not_started() {
    let script = script("idle start at 1060 step 20 until all spin, for 1 s, in 5 starts\n");
    for (flag_ms, twitches) in [(1000, 1.0), (50, 1.0), (1000, 0.4), (50, 0.4), (1000, 0.7)] {
        for prompt in [1155.0, 1215.0] {
            let mut config = WorldConfig::default();
            config.conduct.flag_every = Duration::from_millis(flag_ms);
            config.motors[2].prompt = prompt;
            config.motors[2].twitches = twitches;
            let play = play(&script, config);
            assert_eq!(play.rehearsed.result, Ok(()), "{flag_ms} {twitches} {prompt}");
            let found = play.rehearsed.idle.unwrap();
            let lowest = f64::from(found.lowest.unwrap().0);
            assert!(lowest >= prompt, "flag every {flag_ms} ms, {twitches} s late: {lowest} is not {prompt}");
            assert!(lowest < prompt + 20.0, "flag every {flag_ms} ms, {twitches} s late: {lowest} is above {prompt}");
        }
    }
}

/// Speeds that come once a second can't show whether a motor caught at once: it is said, and asked.
#[test]
fn what_the_link_cannot_show_of_a_start_is_asked() {
    let search = "idle start at 1060 step 25 until all spin, for 4 s, in 3 starts\ntest idle in 2 starts\n";
    let mut config = WorldConfig::default();
    config.conduct.speeds_every = Duration::from_millis(400);
    let play = play(&script(search), config);
    assert_eq!(play.rehearsed.result, Ok(()));
    let asked = play.lines.iter().filter(|line| line.contains("Did all motors start at once, and look smooth?"));
    assert_eq!(asked.count(), 2, "the search and the test ask");
    assert!(play.told("The link is too slow to show whether each caught within 500 ms"));
}

/// A value that a test fails is not left on the board without a word.
#[test]
fn an_idle_that_fails_its_test_is_named_with_what_to_do() {
    let search = "idle at 1100\nkeep\nrequire battery in\npower cycle\ntest idle in 2 starts\n";
    let mut config = WorldConfig::default();
    config.motors[2].prompt = 1200.0;
    config.motors[2].start = 1090.0;
    let play = play(&script(search), config);
    let fault = play.rehearsed.result.unwrap_err().to_string();
    assert!(fault.contains("rear right: caught late") || fault.contains("rear right: hesitates"), "{fault}");
    assert!(fault.contains("The board still has 1100 us, which did not do"), "{fault}");
}

/// Small steps: single starts find the neighbourhood, so that fewer are made than one at each value below; every craft ends
/// as it should all the same, and no value stood more than 25 µs above one that did not start.
#[test]
fn small_steps_find_the_neighbourhood_first() {
    let fleet = of_fleet("idle start at 1060 step 5 until all spin, for 1 s, in 3 starts, then add 25\n", 40, 40);
    let (mut made, mut up) = (0, 0);
    for craft in &fleet {
        assert_eq!(craft.result, Ok(()), "seed {}", craft.seed);
        assert!(kept(craft) >= craft.sure_start(), "seed {}", craft.seed);
        let found = craft.idle.as_ref().unwrap();
        let lowest = found.lowest.unwrap();
        let mut failed = Pulse(1060 - 25);
        for start in &found.starts {
            assert!(start.pulse.0 <= failed.0 + 25, "seed {}: {} after {failed}", craft.seed, start.pulse);
            if start.motors.iter().any(|motor| !motor.turns) {
                failed = failed.max(start.pulse);
            }
        }
        let proved = found.starts.iter().rev().take_while(|start| start.pulse == lowest).count();
        assert!(proved >= 3, "seed {}: proved by {proved} starts one after the other", craft.seed);
        made += found.starts.len();
        up += usize::try_from((lowest.0 - 1060) / 5).unwrap() + 3;
    }
    assert!(made * 4 < up * 3, "{made} starts, where one at each value below would be {up}");
}

/// With a full pack it is said what an empty one needs: what starts here does not there.
#[test]
fn a_search_with_a_full_pack_says_what_an_empty_one_needs() {
    let search = script("idle start at 1060 step 25 until all spin, for 1 s, in 3 starts\n");
    let with = |volts: f64| {
        let mut config = WorldConfig::default();
        config.pack.volts = 2.0 * volts;
        play(&search, config)
    };
    let (full, usual, empty) = (with(4.15), with(3.9), with(3.5));
    assert!(full.told("Found at 4.0") && full.told("an emptier pack starts the motors worse"), "{:#?}", full.lines);
    assert!(!usual.told("an emptier pack") && !empty.told("an emptier pack"));
    let lowest = |play: &Play| play.rehearsed.idle.as_ref().unwrap().lowest.unwrap();
    assert!(lowest(&empty) > lowest(&full), "{} {}", lowest(&empty), lowest(&full));
}

/// Craft on which the stabiliser pushes a motor away late in the dwell: a start that does not count is followed by
/// one in which something is changed, and the search goes on. Of the first 2,000 craft of the fleet, as they stand and
/// tilted twice as far, those on which an output leaves the idle so late that most of the dwell was even.
#[test]
fn a_push_that_shows_late_in_the_dwell_ends_no_search() {
    let script = script("idle start at 1060 step 25 until all spin, in 3 starts\n");
    let mut played = 0;
    for (tilted, seed) in [1.0, 2.0].into_iter().flat_map(|tilted| (1..=2000).map(move |seed| (tilted, seed))) {
        let mut config = WorldConfig::spread(seed);
        config.attitude[0] *= tilted;
        config.attitude[1] *= tilted;
        let (roll, pitch) = (config.attitude[0], config.attitude[1]);
        let stabiliser = config.stabiliser;
        let leaves = [(1.0, 1.0), (1.0, -1.0), (-1.0, 1.0), (-1.0, -1.0)].map(|(right, rear)| {
            let left = 10.5 - stabiliser.per_degree * (roll * right + pitch * rear);
            let [by_roll, by_pitch, by_yaw] = stabiliser.wind_up;
            let rate = by_roll * right + by_pitch * rear + by_yaw * right * rear;
            if rate > 0.0 { left / rate } else { f64::INFINITY }
        });
        if !leaves.iter().any(|seconds| (1.8..2.2).contains(seconds)) || leaves.iter().any(|seconds| *seconds < 1.8) {
            continue;
        }
        played += 1;
        let play = play(&script, config);
        assert_eq!(play.rehearsed.result, Ok(()), "seed {seed}, tilted {tilted}");
        assert!(!play.told("the outputs left the idle for a moment"), "seed {seed}, tilted {tilted}");
    }
    assert!(played >= 12, "{played} such craft");
}

/// A level craft that winds up.
fn winds_up(rate: f64) -> WorldConfig {
    let mut config = WorldConfig { attitude: [0.0; 3], ..WorldConfig::default() };
    config.stabiliser.wind_up[2] = rate;
    config
}

/// One that winds up within the dwell is set up with starts that end before that shows, once the operator says so; the
/// claim says how long they were, and the pulse that motors were driven at. It is never called a tilt.
#[test]
fn a_craft_that_winds_up_is_started_for_a_shorter_time() {
    let search = "idle start at 1060 step 25 until all spin, in 3 starts\ntest idle in 2 starts\n";
    for (rate, dwell) in [(8.0, "0.6"), (11.0, "0.3")] {
        let play = play(&script(search), winds_up(rate));
        assert_eq!(play.rehearsed.result, Ok(()), "{rate}");
        let found = play.rehearsed.idle.as_ref().unwrap();
        let seconds = found.dwell.as_secs_f64().to_string();
        assert_eq!(seconds, dwell, "{rate}");
        // What it adds until the start is over, and a microsecond of rounding.
        let added = f64::from(found.driven.unwrap().0 - found.lowest.unwrap().0);
        let most = rate * (0.5 + found.dwell.as_secs_f64()) + 1.5;
        assert!((1.0..=most).contains(&added) && most < 12.0, "{rate}: {added} of {most}");
        assert!(play.told("It winds up. Make the starts shorter?"), "{rate}: {:#?}", play.lines);
        assert!(play.told("Hands off the craft and the table"), "{rate}: something else is changed before");
        assert!(play.told(&format!("of {seconds} s, as the stabiliser winds up")), "{rate}: {:#?}", play.lines);
        assert!(play.told("up to which the stabiliser drove a motor"), "{rate}: {:#?}", play.lines);
        assert!(!play.told("tilt.") && !play.told("Raise the"), "{rate}");
    }
}

/// Where that is too fast for any start, or not wanted, it is said with the figure and with what to do.
#[test]
fn wind_up_that_leaves_no_start_is_said_with_what_to_do() {
    let search = script("idle start at 1060 step 25 until all spin, in 3 starts\n");
    let fast = play(&search, winds_up(15.0));
    let fault = fast.rehearsed.result.clone().unwrap_err().to_string();
    assert!(matches!(fast.rehearsed.result, Err(Fault::NotFound(_))), "{fault}");
    assert!(fault.contains("winds up without propellers, by 1") && fault.contains("too fast for any start"), "{fault}");
    assert!(fault.contains("Plug the battery in anew") && fault.contains("integral gain"), "{fault}");
    assert!(!fast.told("Make the starts shorter?") && !fast.told("tilt."), "{fault}");

    let mut hand = Ends(willing(&winds_up(8.0)));
    let ended = play_with(&search, World::new(winds_up(8.0)), &mut hand, Disk::default());
    let fault = ended.rehearsed.result.unwrap_err().to_string();
    assert!(fault.contains("winds up without propellers, by 8 us a second"), "{fault}");
    assert!(fault.contains("A start `for 0.6 s` would end before that shows"), "{fault}");
}

/// What a test of the idle says of a craft that winds up too fast is not that its idle is bad.
#[test]
fn a_test_that_wind_up_ends_blames_no_idle() {
    let test = script("idle at 1130\nkeep\nrequire battery in\npower cycle\ntest idle in 2 starts\n");
    let fault = play(&test, winds_up(15.0)).rehearsed.result.unwrap_err().to_string();
    assert!(fault.contains("tells nothing: the stabiliser winds up") && fault.contains("integral gain"), "{fault}");
    assert!(!fault.contains("which did not do"), "{fault}");
}

/// Somebody who wants no shorter starts.
struct Ends(Willing);

impl Operator for Ends {
    fn asked(&mut self, question: &Question) -> Vec<(Duration, Deed)> {
        if question.title.contains("Make the starts shorter?") {
            return vec![(Duration::from_millis(900), Deed::Key(Key::Char('e')))];
        }
        self.0.asked(question)
    }

    fn invited(&mut self, gesture: &Gesture) -> Vec<(Duration, Deed)> {
        self.0.invited(gesture)
    }
}

/// A stabiliser that answers a tilt helps a motor over: what is proved, and what is kept at the least, is the pulse that the
/// motor was driven at, and not the one on the board.
#[test]
fn what_a_stabiliser_adds_counts_as_what_started_the_motor() {
    // Of a degree and a half about roll the right motors have 9 us more.
    let mut config = WorldConfig { attitude: [1.5, 0.0, 0.0], ..WorldConfig::default() }.late(2, 1118.0);
    config.stabiliser.wind_up = [0.0; 3];
    let search = script(
        "require level within 3 deg\nidle start at 1110 step 2 until all spin, at most 1180, for 1 s, in 3 starts, then add 0\n",
    );
    let play = play(&search, config.clone());
    assert_eq!(play.rehearsed.result, Ok(()), "{:#?}", play.lines);
    let found = play.rehearsed.idle.as_ref().unwrap();
    let (lowest, driven) = (found.lowest.unwrap(), found.driven.unwrap());
    assert!((8..=10).contains(&(driven.0 - lowest.0)), "{found:?}");
    assert!(lowest.0 < 1118, "the board's own value alone starts it hardly ever: {found:?}");
    assert_eq!(found.kept, driven);
    assert!(play.told(&format!("at {driven}, up to which the stabiliser drove a motor")), "{:#?}", play.lines);
}

/// What the margin is enough for is said with its figure; and where a motor's own starts differed by as much, that they did.
/// On craft whose starts vary three times as much, at small steps, and on those of the fleet, of which none differs so.
#[test]
fn what_a_margin_is_enough_for_is_said() {
    let search = script("idle start at 1060 step 5 until all spin, for 1 s, in 3 starts, then add 25\n");
    let mut warned = [0, 0];
    for (times, seed) in (1..=60).flat_map(|seed| [(3.0, seed), (1.0, seed)]) {
        let mut config = WorldConfig::spread(seed);
        for motor in &mut config.motors {
            motor.start_varies *= times;
            motor.keep -= if times > 1.0 { 2.0 * motor.start_varies } else { 0.0 };
        }
        let play = play(&search, config);
        assert_eq!(play.rehearsed.result, Ok(()), "seed {seed}");
        let found = play.rehearsed.idle.as_ref().unwrap();
        let over = f64::from((found.kept.0 - found.driven.max(found.lowest).unwrap().0).max(0));
        // 3 of 3, one of 34 values at most, prove a share of cbrt(0.05 / 31); from there to 999 of 1,000 on the logistic
        // distribution, of which 95 of 100 lie within ln 39 of its scale.
        let proved = (0.05_f64 / 34.0).cbrt();
        let enough = (over * 39.0_f64.ln() / (999.0_f64.ln() - (proved / (1.0 - proved)).ln())).floor();
        let said = format!("That is enough where a motor's starts differ by {enough} us either way.");
        assert!(play.told(&said), "seed {seed}: {said} {:#?}", play.lines);
        let motors = |turns: bool| {
            let of = move |start: &StartSeen| start.motors.iter().any(|motor| motor.turns == turns);
            found.starts.iter().filter(move |start| of(start))
        };
        let differs = motors(true).any(|one| {
            motors(false).any(|other| {
                let both = |at: usize| one.motors[at].turns && !other.motors[at].turns;
                f64::from(other.pulse.0 - one.pulse.0) >= enough && (0..4).any(both)
            })
        });
        assert_eq!(play.told("the margin may be too small"), differs, "seed {seed}: {:#?}", play.lines);
        warned[usize::from(times > 1.0)] += i32::from(differs);
    }
    assert!(warned[0] == 0 && warned[1] >= 6, "{warned:?}");
}
