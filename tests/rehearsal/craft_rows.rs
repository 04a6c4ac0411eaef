//! Idle searches on many virtual craft of one kind a row, judged by what the world itself knows of its motors.
//!
//! `QUADJIG_CRAFT=2000 cargo test --release --test all rehearsal::craft_rows -- --nocapture` plays so many a row and prints
//! the table of DEVELOPERS.md; `QUADJIG_ROW=tilt` takes one row. The suite plays a few of each.

use super::kit::HEAD;
use crate::pace::gives_way;
use quadjig::board::{shipped, vocabulary};
use quadjig::language::sources::Memory;
use quadjig::measure::reliability::at_least;
use quadjig::rehearsal::fleet::Craft;
use quadjig::rehearsal::played::make_for;
use quadjig::rehearsal::rehearse::{Script, rehearse, willing};
use quadjig::rehearsal::simulated::{Disk, TranscriptEvent};
use quadjig::seam::fault::Fault;
use quadjig::seam::ui::{StartSeen, UiEvent};
use quadjig::virtual_board::{FalseSpeeds, Frame, MotorConfig, World, WorldConfig};
use std::fmt::Write as _;
use std::path::Path;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

use super::super::measure::dice::Dice;

/// A row: its name, the frame, the search, and what makes its craft different from those of the fleet.
struct Row {
    name: &'static str,
    frame: Frame,
    step: i32,
    /// Added to the value that was proved, us.
    margin: i32,
    changes: fn(&mut WorldConfig, &mut Dice),
}

/// The name of a row whose margin is enough for the starts of each of its craft, as a search says it: for 22 us either way,
/// and 10 us above that, by which a stabiliser may have helped what was proved.
const COVERED: &str = "a margin that covers them";

/// A number between two others, by thousandths.
fn between(dice: &mut Dice, low: f64, high: f64) -> f64 {
    let thousandth = f64::from(i32::try_from(dice.between(0, 1000)).unwrap()) / 1000.0;
    low + (high - low) * thousandth
}

/// A place of a motor.
fn place(dice: &mut Dice, config: &WorldConfig) -> usize {
    usize::try_from(dice.next() % u64::try_from(config.motors.len()).unwrap()).unwrap()
}

/// Starts vary three times as much.
fn widely(config: &mut WorldConfig, _: &mut Dice) {
    for motor in &mut config.motors {
        motor.start_varies *= 3.0;
        motor.keep -= 2.0 * motor.start_varies;
    }
}

/// A motor catches late, a little above where it starts.
fn sticks(config: &mut WorldConfig, dice: &mut Dice) {
    let at = place(dice, config);
    let motor = &mut config.motors[at];
    motor.prompt = motor.start + between(dice, 5.0, 45.0);
    motor.twitches = between(dice, 0.4, 1.5);
}

const ROWS: [Row; 15] = [
    Row { name: "fleet", frame: Frame::QuadX, step: 25, margin: 25, changes: |_, _| {} },
    Row { name: "fleet, 5 us steps", frame: Frame::QuadX, step: 5, margin: 25, changes: |_, _| {} },
    Row { name: "wide: starts vary three times as much", frame: Frame::QuadX, step: 25, margin: 25, changes: widely },
    Row { name: "wide, 5 us steps", frame: Frame::QuadX, step: 5, margin: 25, changes: widely },
    Row { name: "wide, and a margin that covers them", frame: Frame::QuadX, step: 25, margin: 65, changes: widely },
    Row {
        name: "wide, 5 us steps, and a margin that covers them",
        frame: Frame::QuadX,
        step: 5,
        margin: 70,
        changes: widely,
    },
    Row {
        name: "a motor that sticks: catches 0.4 to 1.5 s late",
        frame: Frame::QuadX,
        step: 25,
        margin: 25,
        changes: sticks,
    },
    Row {
        name: "tilted, to 2.4 deg",
        frame: Frame::QuadX,
        step: 25,
        margin: 25,
        changes: |config, _| config.attitude[..2].iter_mut().for_each(|angle| *angle *= 3.0),
    },
    Row {
        name: "winds up by 3 to 12 us/s, about each axis",
        frame: Frame::QuadX,
        step: 25,
        margin: 25,
        changes: |config, dice| {
            config.stabiliser.wind_up = [between(dice, -4.0, 4.0), between(dice, -4.0, 4.0), between(dice, 3.0, 12.0)];
        },
    },
    Row {
        name: "speeds: 10 % dropped, 0.3 % zero, 0.3 % lies",
        frame: Frame::QuadX,
        step: 25,
        margin: 25,
        changes: |config, _| {
            config.conduct.speeds = FalseSpeeds { dropped: 0.1, zeros: 0.003, lies: 0.003, ..FalseSpeeds::default() };
        },
    },
    Row {
        name: "a speed that stands",
        frame: Frame::QuadX,
        step: 25,
        margin: 25,
        changes: |config, dice| {
            config.conduct.speeds.stands = Some((place(dice, config), between(dice, 3000.0, 12_000.0)));
        },
    },
    Row {
        name: "no speeds: told by eye",
        frame: Frame::QuadX,
        step: 25,
        margin: 25,
        changes: |config, _| config.speed_telemetry = false,
    },
    Row {
        name: "a motor that sticks, told by eye",
        frame: Frame::QuadX,
        step: 25,
        margin: 25,
        changes: |config, dice| {
            sticks(config, dice);
            config.speed_telemetry = false;
        },
    },
    Row {
        name: "packs of 3.5 to 4.2 V a cell",
        frame: Frame::QuadX,
        step: 25,
        margin: 25,
        changes: |config, dice| config.pack.volts = 2.0 * between(dice, 3.5, 4.2),
    },
    Row { name: "hex", frame: Frame::HexX, step: 25, margin: 25, changes: |_, _| {} },
];

/// The recipe, by the frame.
fn script(row: &Row) -> Script {
    let (kind, craft) = if row.frame == Frame::HexX { ("finch-6", "hex x") } else { ("finch", "quad x") };
    let sheet = shipped::sheet(kind).unwrap().unwrap();
    let head = HEAD.replace("quad x", craft).replace("board \"Finch\"", &format!("board \"{}\"", sheet.board));
    let head = head.replace("require props off\n", "require props off\nchannels roll, pitch, throttle, yaw\n");
    let Row { step, margin, .. } = row;
    let search = format!("idle start at 1060 step {step} until all spin, for 1 s, in 3 starts, then add {margin}\n");
    let files = Memory::of([("wren.jig", format!("{head}{search}"))]);
    let reading = vocabulary::read(&files, Path::new("wren.jig"), &[]);
    assert!(reading.findings.is_empty(), "{:#?}", reading.findings);
    Script { recipe: reading.recipe.unwrap(), sheets: vec![sheet], card: None }
}

/// The share of starts of a motor that catch at once at a pulse: the logistic distribution, of which 95 of 100 lie within
/// `start_varies`, with the duty by the volts; written down here once more.
fn share(motor: &MotorConfig, volts: f64, usual: f64, pulse: f64) -> f64 {
    if pulse < motor.prompt {
        return 0.0;
    }
    let as_usual = 1000.0 + (pulse - 1000.0) * volts / usual;
    1.0 / (1.0 + (-(as_usual - motor.start) / motor.start_varies * (0.975_f64 / 0.025).ln()).exp())
}

/// Within this a motor that a stabiliser winds up over the pulse that it needs still counts as one that caught at once.
const AT_ONCE: f64 = 0.5;
/// What a stabiliser may add and the output still counts as idle, us.
const AT_IDLE: f64 = 10.0;
/// Roll and pitch of a craft that somebody has levelled, degrees.
const LEVELLED: [f64; 2] = [0.2, -0.3];

/// The most that a stabiliser may add to a motor with this arm in a start that counts, standing so, us.
fn added(config: &WorldConfig, [roll, pitch]: [f64; 2], (sin, cos): (f64, f64)) -> f64 {
    let wound: f64 = config.stabiliser.wind_up.iter().map(|rate| rate.abs() * AT_ONCE).sum();
    // No motor is driven below the idle.
    ((config.stabiliser.per_degree * (roll * sin - pitch * cos)).max(0.0) + wound).min(AT_IDLE)
}

/// The share of starts in which all of a craft's motors catch at once, with its own pack at rest; with the most that a
/// stabiliser may add in a start that counts, or at the bare pulse.
fn all_start(config: &WorldConfig, pulse: f64, pushed: bool) -> f64 {
    let usual = 3.95 * f64::from(config.pack.cells) - (config.pack.volts - config.pack.at_rest());
    let places = config.make.as_ref().map_or(Frame::QuadX, |make| make.frame).places();
    let arms: Vec<(f64, f64)> = places.iter().map(|place| place.bearing.to_radians().sin_cos()).collect();
    let widest = arms.iter().fold((0.0_f64, 0.0_f64), |(x, y), (sin, cos)| (x.max(sin.abs()), y.max(cos.abs())));
    let [roll, pitch, _] = config.attitude;
    let push = |(sin, cos): &(f64, f64)| {
        let arm = (sin / widest.0, cos / widest.1);
        if pushed { added(config, [roll, pitch], arm).max(added(config, LEVELLED, arm)) } else { 0.0 }
    };
    let each = config.motors.iter().zip(&arms);
    each.map(|(motor, arm)| share(motor, config.pack.at_rest(), usual, pulse + push(arm))).product()
}

/// How likely it is at most that a craft's search keeps less than each motor needs in 999 of 1,000 starts: it has to pass
/// its three starts at one of the values that are too low with their margin, in whichever order they are tried. From the
/// world's own figures, before anything is played.
fn likely_too_low(config: &WorldConfig, need: f64, row: &Row) -> f64 {
    let values = (1060..=1260 - row.margin).step_by(usize::try_from(row.step).unwrap());
    let low = values.map(f64::from).filter(|value| value + f64::from(row.margin) < need);
    low.map(|value| all_start(config, value, true).powi(3)).sum::<f64>().min(1.0)
}

/// How the craft of a row did.
#[derive(Default)]
struct Count {
    found: u32,
    /// Kept less than what each of its motors needs in 999 of 1,000 starts.
    too_low: Vec<u64>,
    /// How likely each was to be one of these, at most.
    likely: Vec<f64>,
    /// No motor differs by more than the search said that its margin is enough for.
    enough: u32,
    /// Kept too low although no motor differs by more than the search said that its margin is enough for.
    unsaid: Vec<u64>,
    /// Of those kept too low the search said that a motor's starts differ too much.
    warned: u32,
    /// Craft, and those kept too low, of which a motor turned at a pulse, and at that or more it did not.
    differs: (u32, u32),
    /// Where something was proved all motors start less often than is claimed there.
    below: u32,
    starts: usize,
    above: Vec<f64>,
    /// Reasons with how many craft gave each.
    reasons: std::collections::BTreeMap<&'static str, u32>,
    /// Craft whose reason is not so in their world.
    wrong: Vec<String>,
}

/// The class of a reason, and whether it is so in the craft's world.
fn reason(config: &WorldConfig, fault: &Fault) -> (&'static str, bool) {
    let told = fault.to_string();
    let [roll, pitch, yaw] = config.stabiliser.wind_up.map(f64::abs);
    // Within the half second before the dwell and a dwell of 0.3 s, on a craft that was levelled; a rate is measured to a
    // twentieth.
    let winds = (roll + pitch + yaw) * (AT_ONCE + 0.3) * 1.05;
    let levelled = config.stabiliser.per_degree * (LEVELLED[0].abs() + LEVELLED[1].abs());
    let tilt = config.stabiliser.per_degree * (config.attitude[0].abs() + config.attitude[1].abs());
    if told.contains("winds up") {
        return ("winds up", winds + levelled > AT_IDLE);
    }
    if told.contains("against a tilt") {
        return ("tilt", tilt + winds > 8.0);
    }
    let corners = config.make.as_ref().map_or(Frame::QuadX, |make| make.frame).places();
    let named: Vec<usize> = (0..corners.len()).filter(|at| told.contains(corners[*at].corner)).collect();
    if told.contains("its reading stood") {
        let stands = config.conduct.speeds.stands.map(|(at, _)| at);
        return ("a reading stands", named.iter().all(|at| Some(*at) == stands) && !named.is_empty());
    }
    if told.contains("readings are false") {
        let speeds = config.conduct.speeds;
        return ("false readings", speeds.zeros + speeds.lies > 0.0);
    }
    let late = |at: &usize| {
        let (motor, usual) = (&config.motors[*at], 3.95 * f64::from(config.pack.cells));
        share(motor, config.pack.at_rest(), usual, 1235.0) < 0.999
    };
    let stands = config.conduct.speeds.stands.map(|(at, _)| at);
    ("a motor", !named.is_empty() && named.iter().all(|at| late(at) || Some(*at) == stands))
}

fn play(row: &Row, craft: u64) -> Count {
    let count = Mutex::new(Count::default());
    let next = AtomicU64::new(0);
    let threads = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    let script = script(row);
    let make = make_for(&script.sheets).unwrap();
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                gives_way();
                loop {
                    let seed = next.fetch_add(1, Ordering::Relaxed);
                    if seed >= craft {
                        return;
                    }
                    let mut config = WorldConfig::spread_on(row.frame, seed).made(make.clone());
                    (row.changes)(&mut config, &mut Dice::new(seed ^ 0xC4AF));
                    let mut operator = willing(&config);
                    let world = World::new(config.clone());
                    let mut said = Vec::new();
                    let hears = |_, event: &TranscriptEvent<'_>| {
                        if let TranscriptEvent::Shown(UiEvent::Line(_, line)) = event {
                            said.push(line.clone());
                        }
                    };
                    let done = Craft::of(seed, rehearse(&script, world, &mut operator, Disk::default(), hears));
                    judge(&mut count.lock().unwrap(), row, &config, &done, &said);
                }
            });
        }
    });
    count.into_inner().unwrap()
}

/// By how much either way the starts of a motor may differ for the margin to be enough, as the search said it.
fn covered(said: &[String]) -> f64 {
    let begins = "That is enough where a motor's starts differ by ";
    let line = said.iter().find_map(|line| line.strip_prefix(begins)?.strip_suffix(" us either way."));
    line.map_or(0.0, |us| us.parse().unwrap())
}

/// The chance that of independent events so many or more happen: the Poisson binomial distribution, convolved event by event
/// (Hong 2013, doi 10.1016/j.csda.2012.10.006).
fn chance(events: impl IntoIterator<Item = f64>, happened: usize) -> f64 {
    // Of each number below what happened.
    let mut fewer = vec![0.0; happened];
    let Some(none) = fewer.first_mut() else { return 1.0 };
    *none = 1.0;
    for event in events {
        for number in (0..happened).rev() {
            let one_less = if number == 0 { 0.0 } else { fewer[number - 1] };
            fewer[number] = fewer[number] * (1.0 - event) + one_less * event;
        }
    }
    1.0 - fewer.iter().sum::<f64>()
}

/// Whether a motor turned in one start, and in another at as much or more did not.
fn turned_and_did_not(starts: &[StartSeen]) -> bool {
    let seen = |turns: bool| {
        let each = starts.iter().flat_map(|start| start.motors.iter().map(move |motor| (start.pulse, motor)));
        each.filter(move |(_, motor)| motor.turns == turns).map(|(pulse, motor)| (pulse, &motor.corner))
    };
    seen(false).any(|(not, corner)| seen(true).any(|(turned, other)| corner == other && turned <= not))
}

/// What happens less often than this by chance does not hold.
const DOUBT: f64 = 0.001;

fn judge(count: &mut Count, row: &Row, config: &WorldConfig, craft: &Craft, said: &[String]) {
    if let Err(fault) = &craft.result {
        let (class, so) = reason(config, fault);
        *count.reasons.entry(class).or_default() += 1;
        if !so {
            count.wrong.push(format!("seed {}: {fault}", craft.seed));
        }
        return;
    }
    let found = craft.idle.as_ref().unwrap();
    let kept = f64::from(found.kept.0);
    let likely = likely_too_low(config, craft.sure_start(), row);
    count.likely.push(likely);
    count.found += 1;
    count.starts += found.starts.len();
    count.above.push(kept - craft.sure_start());
    let usual = 3.95 * f64::from(config.pack.cells);
    let widest = config.motors.iter().map(|motor| motor.start_varies * usual / config.pack.at_rest());
    let enough = widest.fold(0.0, f64::max) <= covered(said);
    count.enough += u32::from(enough);
    let differs = turned_and_did_not(&found.starts);
    count.differs.0 += u32::from(differs);
    if kept < craft.sure_start() {
        count.too_low.push(craft.seed);
        count.differs.1 += u32::from(differs);
        count.warned += u32::from(said.iter().any(|line| line.contains("the margin may be too small")));
        if enough {
            count.unsaid.push(craft.seed);
        }
    }
    let values = (1260 - row.margin - 1060) / row.step + 1;
    let claimed = at_least(found.proved_starts, u32::try_from(values).unwrap()) / 100.0;
    let proved = found.lowest.max(found.driven).unwrap();
    assert!(found.kept >= proved, "seed {}: less is kept than was proved", craft.seed);
    count.below += u32::from(all_start(config, f64::from(proved.0), false) < claimed);
}

#[test]
#[expect(clippy::print_stdout, reason = "figures are printed")]
fn what_searches_keep_is_enough_and_what_they_say_is_so() {
    let asked = std::env::var("QUADJIG_CRAFT").ok().and_then(|count| count.parse().ok());
    let only = std::env::var("QUADJIG_ROW").unwrap_or_default();
    let craft: u64 = asked.unwrap_or(4);
    let mut table = format!(
        "{craft} craft a row\n\n| craft | found | refused | kept too low | of these likely at most | unsaid | said by its starts | starts that differ: of all, of these | below the claim | above the need, middle | starts |\n\
         |---|---|---|---|---|---|---|---|---|---|---|\n"
    );
    let mut broken = Vec::new();
    for row in ROWS.iter().filter(|row| row.name.contains(&only)) {
        let mut count = play(row, craft);
        count.above.sort_by(f64::total_cmp);
        let middle = count.above.get(count.above.len() / 2).copied().unwrap_or_default();
        let refused: Vec<String> = count.reasons.iter().map(|(class, number)| format!("{number} {class}")).collect();
        let refused = if refused.is_empty() { "0".to_owned() } else { refused.join(", ") };
        let starts = f64::from(u32::try_from(count.starts).unwrap()) / f64::from(count.found.max(1));
        let _ = writeln!(
            table,
            "| {} | {} | {refused} | {} | {:.1} | {} | {} | {}, {} | {} | {middle:.0} us | {starts:.1} |",
            row.name,
            count.found,
            count.too_low.len(),
            count.likely.iter().sum::<f64>().abs(),
            count.unsaid.len(),
            count.warned,
            count.differs.0,
            count.differs.1,
            count.below,
        );
        if !count.wrong.is_empty() {
            broken.push(format!("{}: {:#?}", row.name, &count.wrong[..count.wrong.len().min(5)]));
        }
        // The margin is no proof where starts vary without a bound; how often it is too small, the craft's own figures say.
        if chance(count.likely.iter().copied(), count.too_low.len()) < DOUBT {
            broken.push(format!("{}: kept too low: seeds {:?}", row.name, count.too_low));
        }
        if row.name.ends_with(COVERED) && count.enough < count.found {
            broken.push(format!("{}: enough for {} of {}", row.name, count.enough, count.found));
        }
        // Where it is said to be enough it is, but for the one in twenty that the proof leaves.
        if chance((0..count.enough).map(|_| 0.05), count.unsaid.len()) < DOUBT {
            broken.push(format!("{}: kept too low unsaid: seeds {:?}", row.name, count.unsaid));
        }
        // 95 % is claimed.
        if chance((0..count.found).map(|_| 0.05), usize::try_from(count.below).unwrap()) < DOUBT {
            broken.push(format!("{}: {} of {} below the claim", row.name, count.below, count.found));
        }
        // Who winds up too fast for any start is refused, and the reason says so.
        let ends = !matches!(row.name, "a speed that stands") && !row.name.starts_with("winds up");
        if ends && u64::from(count.found) * 100 < craft * 95 {
            broken.push(format!("{}: only {} of {craft} found", row.name, count.found));
        }
        if row.name.starts_with("winds up") && u64::from(count.found) * 100 < craft * 45 {
            broken.push(format!("{}: only {} of {craft} found", row.name, count.found));
        }
        if row.name == "a speed that stands" && count.found > 0 {
            broken.push(format!("{}: {} searches believed it", row.name, count.found));
        }
    }
    println!("{table}");
    assert!(broken.is_empty(), "{table}\n{}", broken.join("\n"));
}

/// scipy 1.17.1, `binom.sf(k - 1, n, p)`, and three events by hand.
#[test]
fn chances_of_many_events() {
    let even = |n: usize, p: f64, k| chance(std::iter::repeat_n(p, n), k);
    for (n, p, k, wanted) in [
        (2000, 0.05, 100, 0.514_325_491_592),
        (2000, 0.05, 132, 0.000_954_702_404),
        (2000, 0.0001, 1, 0.181_277_434_734),
        (20, 0.3, 9, 0.113_331_462_877),
    ] {
        assert!((even(n, p, k) - wanted).abs() < 1e-9, "{n} {p} {k}: {}", even(n, p, k));
    }
    // One or more of 1/2, 1/4, 1/8: 1 - 1/2 * 3/4 * 7/8.
    assert!((chance([0.5, 0.25, 0.125], 1) - (1.0 - 21.0 / 64.0)).abs() < 1e-12);
    assert!((chance([0.5, 0.25, 0.125], 3) - 1.0 / 64.0).abs() < 1e-12);
    assert!((chance([0.5], 0) - 1.0).abs() < 1e-12);
}
