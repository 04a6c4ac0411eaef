//! Small recipes to the end: every fault of the wire at every frame, a kill at every effect, a second one in the recovery,
//! a fault of the disk at every step, and two faults at every two frames that say something.
//!
//! Judged as every seed is. `QUADJIG_EXHAUSTED=1 cargo test --release --test all faults::exhausted -- --nocapture` plays
//! all, a larger number every so many of them; the suite some. Must not be here: what is right, what a fault does.

use super::dice::{Decision, Dice, Kind};
use super::play::{Played, Scene, play_scene};
use quadjig::rehearsal::disk::DiskFault;
use quadjig::virtual_board::BoardKind;
use std::collections::BTreeMap;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

/// What may befall a single frame.
const FRAME: [Kind; 9] = [
    Kind::Drop,
    Kind::Garbage,
    Kind::BitFlip,
    Kind::Truncate,
    Kind::LateAnswer,
    Kind::Delay,
    Kind::Join,
    Kind::Split,
    Kind::Duplicate,
];
const DISK: [DiskFault; 4] = [DiskFault::FailsOnce, DiskFault::Full, DiskFault::KilledBefore, DiskFault::KilledIn];

/// One setting, two, and the three of a band.
const ONE: &str = "recipe \"Wren 95, one\"\nedition 1\ncraft quad x\nboard \"Finch\"\nboard \"Finch R\"\n\
    require props off\nrequire battery out\nidle at 1140\nkeep\n";
const TWO: &str = "recipe \"Wren 95, two\"\nedition 1\ncraft quad x\nboard \"Finch\"\nboard \"Finch R\"\n\
    require props off\nrequire battery out\nfailsafe cut motors after 700 ms\nkeep\n";
const BAND: &str = "recipe \"Wren 95, three\"\nedition 1\ncraft quad x\nboard \"Finch\"\nboard \"Finch R\"\n\
    require props off\nrequire battery out\nrequire throttle low\nchannels roll, pitch, throttle, yaw\n\
    switch B on channel 6 rests at 1000, 1500, 2000 on link loss flagged\nbind arm to switch B position 2\nkeep\n";

/// One play: the scene and what befalls it.
#[derive(Debug, Clone)]
struct Case {
    scene: Scene,
    kinds: Vec<Kind>,
    decisions: Vec<Decision>,
}

impl Case {
    fn play(&self) -> Played {
        play_scene(self.scene, Dice::just(7, &self.kinds, &self.decisions), 7, false)
    }

    fn told(&self) -> String {
        let falls: Vec<String> = self.decisions.iter().map(ToString::to_string).collect();
        let Scene { board, killed_at, killed_again, puts_back, recipe, disk, .. } = self.scene;
        let title = recipe.lines().next().unwrap_or_default();
        format!(
            "{title} on {}: {falls:?}, killed at {killed_at:?} and {killed_again:?}, puts back: {puts_back:?}, disk {disk:?}",
            board.name()
        )
    }
}

fn scenes() -> Vec<Scene> {
    let scene = |recipe, board| Scene {
        recipe,
        is_bound: false,
        board,
        killed_at: None,
        killed_again: None,
        puts_back: None,
        disk: None,
    };
    [ONE, TWO, BAND]
        .into_iter()
        .flat_map(|recipe| [BoardKind::Finch, BoardKind::FinchR].map(|board| scene(recipe, board)))
        .collect()
}

/// The scene with nothing befalling it, as one in which something might.
fn undisturbed(scene: Scene) -> Played {
    let played = Case { scene, kinds: vec![Kind::Drop], decisions: Vec::new() }.play();
    assert_eq!(played.ended, "well", "{scene:?}");
    assert!(played.frames > 100 && played.talk.len() > 10 && played.effects > 20, "{scene:?}");
    played
}

fn one(kind: Kind, count: u64) -> Decision {
    Decision { kind, count }
}

/// Every fault at every frame.
fn frames() -> Vec<Case> {
    let mut cases = Vec::new();
    for scene in scenes() {
        for count in 1..=undisturbed(scene).frames {
            cases.extend(FRAME.map(|kind| Case { scene, kinds: vec![kind], decisions: vec![one(kind, count)] }));
        }
    }
    cases
}

/// Every two faults at every two frames that are more than telemetry, of the recipe with one setting.
fn pairs() -> Vec<Case> {
    let scene = scenes()[0];
    let talk = undisturbed(scene).talk;
    let mut cases = Vec::new();
    for (place, first) in talk.iter().enumerate() {
        for second in &talk[place..] {
            for a in FRAME {
                for b in FRAME.into_iter().filter(|b| *b != a) {
                    let decisions = vec![one(a, *first), one(b, *second)];
                    cases.push(Case { scene, kinds: vec![a, b], decisions });
                }
            }
        }
    }
    cases
}

/// A kill at every effect, finished or put back; with a second one at every effect of the recovery.
fn kills(twice: bool) -> Vec<Case> {
    let mut cases = Vec::new();
    for scene in scenes() {
        for at in 1..=undisturbed(scene).effects {
            for back in [false, true] {
                let killed = Scene { killed_at: Some(at), puts_back: Some(back), ..scene };
                // What a recovery has fewer of, it is not killed at.
                let again: Vec<Option<u64>> = if twice { (1..=120).map(Some).collect() } else { vec![None] };
                cases.extend(again.into_iter().map(|killed_again| Case {
                    scene: Scene { killed_again, ..killed },
                    kinds: vec![Kind::Drop],
                    decisions: Vec::new(),
                }));
            }
        }
    }
    cases
}

/// The disk fails, is full, or the program is killed at it, at every step; a step that never comes is none.
fn disk() -> Vec<Case> {
    let mut cases = Vec::new();
    for scene in scenes() {
        for fault in DISK {
            let scene = |at| Scene { disk: Some((at, fault)), ..scene };
            cases.extend((0..120).map(|at| Case { scene: scene(at), kinds: vec![Kind::Drop], decisions: Vec::new() }));
        }
    }
    cases
}

/// Plays each so many of them on all cores: how many, how they ended, and those that broke something.
fn play(name: &str, cases: &[Case], every: usize) -> BTreeMap<String, u64> {
    let (next, ended) = (AtomicUsize::new(0), Mutex::new(BTreeMap::<String, u64>::new()));
    let failed = Mutex::new(Vec::new());
    std::thread::scope(|scope| {
        for _ in 0..std::thread::available_parallelism().map_or(2, usize::from) {
            scope.spawn(|| {
                while let Some(case) = cases.get(next.fetch_add(1, Ordering::Relaxed) * every + every / 2) {
                    match std::panic::catch_unwind(|| case.play()) {
                        Ok(played) => {
                            let words = played.ended.chars().filter(|c| !c.is_ascii_digit()).take(70).collect();
                            *ended.lock().unwrap().entry(words).or_default() += 1;
                            if let Some(broken) = played.broken.first() {
                                let what = format!("{}: {}: {}", case.told(), broken.property, broken.what);
                                failed.lock().unwrap().push(what);
                            }
                        }
                        Err(_) => failed.lock().unwrap().push(format!("{}: panic", case.told())),
                    }
                }
            });
        }
    });
    let (failed, ended) = (failed.into_inner().unwrap(), ended.into_inner().unwrap());
    assert!(
        failed.is_empty(),
        "{name}: {} of {}\n{}",
        failed.len(),
        cases.len() / every,
        failed[..failed.len().min(40)].join("\n")
    );
    ended
}

/// Every how many of some cases: so many of them in the suite, all or more of them by the command.
#[expect(clippy::print_stdout, reason = "how long it takes is what it tells")]
fn some(name: &str, cases: &[Case], suite: usize) -> BTreeMap<String, u64> {
    let said = std::env::var("QUADJIG_EXHAUSTED").ok();
    let every = said.as_ref().map_or((cases.len() / suite).max(1), |said| said.parse().unwrap());
    let began = std::time::Instant::now();
    let ended = play(name, cases, every);
    if said.is_some() {
        let played: u64 = ended.values().sum();
        println!("{name}: {played} of {} in {:?}: {ended:#?}", cases.len(), began.elapsed());
    }
    ended
}

/// L5 with it: what is lost once is asked for again, and the run ends well.
#[test]
fn one_fault_at_every_frame() {
    let cases = frames();
    let (dropped, others): (Vec<Case>, Vec<Case>) = cases.into_iter().partition(|case| case.kinds == [Kind::Drop]);
    let ended = some("one frame lost", &dropped, 15);
    let all: u64 = ended.values().sum();
    let well = ended.get("well").copied().unwrap_or(0);
    assert!((all - well) * 1000 <= all, "{well} of {all}: {ended:#?}");
    some("one other fault at a frame", &others, 25);
}

#[test]
fn two_faults_at_every_two_frames_that_say_something() {
    some("two faults", &pairs(), 25);
}

#[test]
fn a_kill_at_every_effect() {
    some("a kill", &kills(false), 20);
}

#[test]
fn a_second_kill_in_the_recovery() {
    some("two kills", &kills(true), 15);
}

#[test]
fn a_fault_at_every_step_of_the_disk() {
    some("the disk", &disk(), 15);
}
