//! A recipe on craft after craft: what is asked of each, what is found once, and a table that is judged by the worlds' truth.

use super::Sandbox;
use super::desk::board::Board;
use super::desk::seen::{Asked, Reply, Seen};
use super::desk::{Attended, Deed, Ended, willing};
use rustix::process::Signal;
use serde_json::Value;
use std::cell::RefCell;
use std::time::Duration;

/// A switch is found, and bound to what no motor hears.
const RADIO: &str = "recipe \"Wren 95, buzzer\"\nedition 1\ncraft quad x turning inward\nboard \"Finch\"\n\
    require props off\nrequire antenna on\nrequire battery out\n\
    find switch B with 3 positions\nbind buzzer to switch B position 1\nkeep\n";

/// The whole set-up.
const WHOLE: &str = "recipe \"Wren 95\"\nedition 1\ncraft quad x turning inward\nboard \"Finch\"\n\
    require props off\nrequire antenna on\nrequire battery out\nrequire throttle low\n\
    channels roll, pitch, throttle, yaw\nfind switch B with 3 positions\nfind link loss\n\
    bind arm to switch B position 2\nat zero throttle spin\nfailsafe cut motors after 500 ms\nkeep\ntest arm\n\
    require battery in\n\
    idle start at 1075 step 25 until all spin, at most 1200, for 1 s, in 2 starts, then add 25\n\
    keep\ntest cut within 800 ms\ntest failsafe within 3 s\n";

/// Stops that a computer with other work on it comes to. Whoever sits there begins that craft anew, so often at most.
const OF_THE_COMPUTER: [&str; 2] = ["the guardian process of this program did not answer", "this program stood still"];
const AGAIN: usize = 6;

const NEXT: &str = "Next craft of the series?";

/// What a person was asked, and how many keys they pressed for it.
#[derive(Debug, Default, Clone, PartialEq, Eq)]
struct Count {
    questions: Vec<String>,
    keys: usize,
}

/// A bench with several crafts, of which one is plugged in.
struct Bench {
    sandbox: Sandbox,
    crafts: Vec<Board>,
}

impl Bench {
    fn new(recipe: &str, crafts: usize) -> Self {
        let sandbox = Sandbox::new();
        sandbox.write("wren.jig", recipe);
        let craft = |seed: usize| Board::with(&["--spread", "--seed", &seed.to_string()]);
        Self { sandbox, crafts: (1..=crafts).map(craft).collect() }
    }

    /// Plugs this craft into the cable, from 0.
    fn plug(&self, craft: usize) {
        let port = self.sandbox.path("port");
        let _ = std::fs::remove_file(&port);
        std::os::unix::fs::symlink(&self.crafts[craft].port, port).unwrap();
    }

    /// A sitting that begins with the first of these crafts, and goes on with each of the others as it is asked for one.
    /// `during`: is told the place of each craft in the row once it runs, with the program, and may do what it likes.
    fn sits(
        &mut self,
        row: &[usize],
        arguments: &[&str],
        mut during: impl FnMut(usize, &mut Attended<'_>),
    ) -> (Ended, Vec<Count>) {
        self.plug(row[0]);
        let arguments = [&["run", "wren.jig", "--series", "--port", "port", "--records", "crafts"], arguments].concat();
        let mut counts = Vec::new();
        // Whoever sits there has a hand on the craft that is plugged in.
        let mut at_hand = std::mem::replace(&mut self.crafts[row[0]], Board::new());
        let mut run = Attended::start(&self.sandbox, &mut at_hand, &arguments);
        let mut asked = 0;
        'row: for (place, craft) in row.iter().enumerate() {
            for again in 0..AGAIN {
                if place > 0 && again == 0 {
                    std::mem::swap(run.board, &mut self.crafts[row[place - 1]]);
                    self.plug(*craft);
                    std::mem::swap(run.board, &mut self.crafts[*craft]);
                }
                let before = stops_of_the_computer(&run.screen());
                if asked > 0 {
                    run.type_now(b"n");
                }
                run.begins_another();
                let count = RefCell::new(Count::default());
                during(place, &mut run);
                asked += 1;
                if !run.until(|seen| counted(seen, &count), |screen, _| screen.matches(NEXT).count() == asked) {
                    break 'row;
                }
                // A key before a person can have read it does not count.
                std::thread::sleep(Duration::from_millis(600));
                if stops_of_the_computer(&run.screen()) == before {
                    counts.push(count.into_inner());
                    break;
                }
                assert!(again + 1 < AGAIN, "this computer has too much other work:\n{}", run.screen());
                // As the stop asks for.
                run.board.line("battery out");
            }
        }
        run.type_now(b"s");
        let ended = run.end(|_| Vec::new());
        drop(run);
        let last = row[row.len() - 1];
        self.crafts[last] = at_hand;
        (ended, counts)
    }

    fn table(&self) -> Value {
        let arguments = ["craft", "series", "wren", "--records", "crafts", "--format", "json"];
        serde_json::from_slice(&self.sandbox.command(&arguments).output().unwrap().stdout).unwrap()
    }
}

fn counted(seen: &Seen, count: &RefCell<Count>) -> Vec<(Duration, Deed)> {
    let Seen::Asked(Asked { title, reply, .. }) = seen else { return willing(seen) };
    if title.starts_with(NEXT) {
        return Vec::new();
    }
    let mut count = count.borrow_mut();
    count.questions.push(title.clone());
    count.keys += match reply {
        Reply::Word(word) => word.len() + 1,
        Reply::Keys(_) | Reply::Enter => 1,
    };
    willing(seen)
}

fn stops_of_the_computer(screen: &str) -> usize {
    let screen = flat(screen);
    OF_THE_COMPUTER.iter().map(|reason| screen.matches(&format!("Stopped: {reason}")).count()).sum()
}

fn flat(screen: &str) -> String {
    screen.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn the_second_craft_is_asked_only_what_is_asked_of_each() {
    let mut bench = Bench::new(RADIO, 2);
    // The first one again is done already.
    let (ended, counts) = bench.sits(&[0, 1, 0], &[], |_, _| {});
    let screen = flat(&ended.screen);
    assert_eq!(ended.code, Some(4), "{}", ended.screen);
    // Each of these is of the craft; nothing of the radio is asked about, or found, again.
    let each = ["Are the propellers off?", "Is the video antenna on?", "Is the battery out?"];
    assert_eq!(counts[1].questions, each, "{:?}", counts[1]);
    assert_eq!(counts[0].questions.len(), each.len() + 1, "{:?}", counts[0]);
    assert!(counts[0].questions[3].contains("finding a switch"), "{:?}", counts[0]);
    assert!(counts[1].keys < counts[0].keys);
    assert_eq!(counts[2], Count::default(), "nothing is asked of one that is done");
    assert!(screen.contains("is done already in this series"), "{}", ended.screen);
    assert_eq!(screen.matches("Work switch B").count(), 1, "{}", ended.screen);
    assert!(screen.contains("Series wren, craft 2: 7669727400000002, met for the first time."), "{}", ended.screen);
    assert!(screen.contains("Before its run it is set as the first craft, 7669727400000001, was."), "{}", ended.screen);
    let bound = |craft: &mut Board| craft.settings()["BUZZ_CHANNEL"]["stored"].as_i64();
    assert!(bench.crafts.iter_mut().all(|craft| bound(craft) == Some(6)));
    let table = bench.table();
    let crafts = table["crafts"].as_array().unwrap();
    assert_eq!(crafts.len(), 2);
    assert!(crafts.iter().all(|craft| craft["done"] == true && craft["is_virtual"] == true), "{table}");
    // Bands follow the radio, which is one card for both.
    assert_eq!(crafts[1]["unlike_the_first"], serde_json::json!([]), "{table}");
    // On another day it goes on, but not with other parameters or another recipe.
    bench.sandbox.write("wren.jig", &RADIO.replace("position 1", "position 2"));
    let words = ["run", "wren.jig", "--series", "--port", "port", "--records", "crafts"];
    let mut unused = Board::new();
    let ended = Attended::start(&bench.sandbox, &mut unused, &words).end(willing);
    assert_eq!(ended.code, Some(2), "{}", ended.screen);
    assert!(flat(&ended.screen).contains("was begun with another recipe"), "{}", ended.screen);
}

/// Ten crafts of a spread fleet: the fourth with a motor that starts at no value that may be tried, the sixth swapped for
/// another while it runs, the eighth killed and finished by `recover`.
#[test]
#[ignore = "real time: ten whole set-ups, a quarter of an hour"]
#[expect(clippy::print_stdout, reason = "its questions, keys and figures are what it is run for")]
fn ten_crafts_in_a_row() {
    let mut bench = Bench::new(WHOLE, 10);
    bench.crafts[3].line("threshold rear right 1240");
    let port = |bench: &Bench, craft: usize| bench.crafts[craft].port.clone();
    let (link, other) = (bench.sandbox.path("port"), port(&bench, 9));
    let sit = |bench: &mut Bench, row: &[usize], during: &mut dyn FnMut(usize, &mut Attended<'_>)| {
        let (ended, more) = bench.sits(row, &[], during);
        for (craft, count) in row.iter().zip(more) {
            println!("craft {craft}: {} questions, {} keys: {:?}", count.questions.len(), count.keys, count.questions);
        }
        println!(
            "{}",
            ended.screen.lines().rev().take(30).collect::<Vec<_>>().into_iter().rev().collect::<Vec<_>>().join("\n")
        );
        ended
    };
    // Where the computer ended a run, the series says at its end that one was stopped.
    let well = |ended: &Ended| Some(if stops_of_the_computer(&ended.screen) > 0 { 4 } else { 0 });
    let ended = sit(&mut bench, &[0, 1, 2], &mut |_, _| {});
    assert_eq!(ended.code, well(&ended));
    sit(&mut bench, &[3, 4], &mut |_, _| {});
    // At the restart another craft sits on the cable.
    let ended = sit(&mut bench, &[5], &mut |_, run| {
        assert!(run.until(willing, |screen, _| flat(screen).contains("Series wren, craft 6:")));
        std::fs::remove_file(&link).unwrap();
        std::os::unix::fs::symlink(&other, &link).unwrap();
    });
    assert!(flat(&ended.screen).contains("Another board answers now"), "{}", ended.screen);
    let killed = sit(&mut bench, &[6, 7], &mut |place, run| {
        if place == 1 {
            let kept = |_: &str, board: &mut Board| board.settings()["ARM_CHANNEL"]["stored"] == 6;
            assert!(run.until(willing, kept), "{}", run.screen());
            run.signal(Signal::KILL);
        }
    });
    assert_eq!(killed.code, None);
    // It was restarting: a port that is not there is no craft. Then finished by itself, with the card of the series.
    while std::fs::metadata(&link).is_err() {
        std::thread::sleep(Duration::from_millis(50));
    }
    let arguments = ["recover", "--port", "port", "--records", "crafts", "--radio", "crafts/series-wren-radio.toml"];
    let finishes = |seen: &Seen| match seen {
        Seen::Asked(Asked { reply: Reply::Keys(keys), .. }) if keys.contains(&'f') => {
            vec![(Duration::from_millis(500), Deed::Type(b"f".to_vec()))]
        }
        other => willing(other),
    };
    let ended = Attended::start(&bench.sandbox, &mut bench.crafts[7], &arguments).end(finishes);
    assert_eq!(ended.code, Some(0), "{}", ended.screen);
    // Another day: the swapped one again, and the last two.
    let ended = sit(&mut bench, &[5, 8, 9], &mut |_, _| {});
    assert_eq!(ended.code, well(&ended));
    let text = bench.sandbox.run(&["craft", "series", "wren", "--records", "crafts"]);
    println!("{text}");
    let table = bench.table();
    for row in table["crafts"].as_array().unwrap() {
        let number = usize::from_str_radix(row["id"].as_str().unwrap().trim_start_matches("76697274"), 16).unwrap();
        let truth = bench.crafts[number - 1].truth();
        let needs = truth["motors"].as_array().unwrap().iter().map(|motor| motor["highest_start"].as_f64().unwrap());
        let needs = needs.fold(0.0, f64::max);
        let stored = truth["settings"]["IDLE_US"]["stored"].as_f64();
        if number == 4 {
            assert!(row["done"] == false && row["idle_us"].is_null(), "{row}");
            continue;
        }
        assert_eq!(row["done"], true, "{row}");
        let idle = row["idle_us"].as_f64();
        assert_eq!(idle, stored, "{row}");
        assert!(idle.unwrap() >= needs && idle.unwrap() - 75.0 < needs, "{row}: needs {needs}");
        let volts =
            truth["battery"]["volts_without_load"].as_f64().unwrap() / truth["battery"]["true_ratio"].as_f64().unwrap();
        println!("{number}: needs {needs:.0}, idle {idle:?}, volts {} of {volts:.2}", row["volts"]);
    }
    assert_eq!(table["crafts"].as_array().unwrap().len(), 10);
}
