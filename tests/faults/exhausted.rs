//! Small recipes to the end: every fault of the wire at every frame, a kill at every effect, a second one in the recovery,
//! a fault of the disk at every step, and two faults at every two frames that say something.
//!
//! Judged as every seed is. `QUADJIG_EXHAUSTED=1 cargo test --release --test all faults::exhausted -- --nocapture` plays
//! all, a larger number every so many of them; the suite some. Must not be here: what is right, what a fault does.

use super::dice::{Decision, Dice, Kind};
use super::disk::DiskFault;
use super::play::{Played, Scene, play_scene};
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
    /// It falls where something is said or done: the suite plays these alone.
    tells: bool,
}

impl Case {
    /// A scene to which nothing else falls, in a world in which something might.
    fn of(scene: Scene, tells: bool) -> Self {
        Self { scene, kinds: vec![Kind::Drop], decisions: Vec::new(), tells }
    }

    fn play(&self) -> Played {
        play_scene(self.scene, Dice::just(7, &self.kinds, &self.decisions), 7, false)
    }

    fn told(&self) -> String {
        let falls: Vec<String> = self.decisions.iter().map(ToString::to_string).collect();
        let Scene { board, killed_at, killed_again, puts_back, recipe, disk, conduct, .. } = self.scene;
        let title = recipe.lines().next().unwrap_or_default();
        format!(
            "{title} on {}: {falls:?}, killed at {killed_at:?} and {killed_again:?}, puts back: {puts_back:?}, disk {disk:?}, {conduct:?}",
            board.name()
        )
    }
}

fn scenes() -> Vec<Scene> {
    [ONE, TWO, BAND]
        .into_iter()
        .flat_map(|recipe| [BoardKind::Finch, BoardKind::FinchR].map(|board| Scene::new(recipe, false, board)))
        .collect()
}

/// The scene with nothing befalling it.
fn undisturbed(scene: Scene) -> Played {
    let played = Case::of(scene, true).play();
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
        let played = undisturbed(scene);
        for count in 1..=played.frames {
            let tells = played.talk.contains(&count);
            cases.extend(FRAME.map(|kind| Case { scene, kinds: vec![kind], decisions: vec![one(kind, count)], tells }));
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
                    cases.push(Case { scene, kinds: vec![a, b], decisions, tells: true });
                }
            }
        }
    }
    cases
}

/// A kill at every effect, finished or put back; with a second one at every effect of the recovery.
fn kills(twice: bool) -> Vec<Case> {
    let mut cases = Vec::new();
    for (scene, first) in scenes().into_iter().zip([true].into_iter().chain(std::iter::repeat(false))) {
        let played = undisturbed(scene);
        for at in 1..=played.effects {
            // About each frame that changes something, of one setting.
            let tells = first && played.acts.iter().any(|acts| acts.abs_diff(at) <= 2);
            for back in [false, true] {
                let killed = Scene { killed_at: Some(at), puts_back: Some(back), ..scene };
                // What a recovery has fewer of, it is not killed at.
                let again: Vec<Option<u64>> = if twice { (1..=120).map(Some).collect() } else { vec![None] };
                let again = again.into_iter().map(|killed_again| Scene { killed_again, ..killed });
                cases.extend(again.map(|scene| Case::of(scene, tells)));
            }
        }
    }
    cases
}

/// The disk fails, is full, or the program is killed at it, at every step.
fn disk() -> Vec<Case> {
    let mut cases = Vec::new();
    for (place, scene) in scenes().into_iter().enumerate() {
        for at in 0..undisturbed(scene).disk_steps {
            // What fails but once is the hardest to take to heart.
            let tells = |fault| place == 0 && fault == DiskFault::FailsOnce;
            let scene = |fault| Scene { disk: Some((at, fault)), ..scene };
            cases.extend(DISK.map(|fault| Case::of(scene(fault), tells(fault))));
        }
    }
    cases
}

/// A board that does not do, does late or does not tell what it was asked for.
fn lies() -> Vec<Case> {
    let mut cases = Vec::new();
    for deed in ["write", "store", "restart"] {
        for how in ["hollow", "silent", "40", "300", "1700", "6000"] {
            let conduct: &'static str = format!("deed {deed} {how}").leak();
            let scenes = scenes().into_iter().map(|scene| Scene { conduct: Some(conduct), ..scene });
            cases.extend(scenes.enumerate().map(|(place, scene)| Case::of(scene, place < 4)));
        }
    }
    cases
}

/// Plays each so many of them on all cores: how often they ended how, with one that did.
fn play(name: &str, cases: &[Case], every: usize) -> BTreeMap<String, (u64, String)> {
    let (next, ended) = (AtomicUsize::new(0), Mutex::new(BTreeMap::<String, (u64, String)>::new()));
    let failed = Mutex::new(Vec::new());
    std::thread::scope(|scope| {
        for _ in 0..std::thread::available_parallelism().map_or(2, usize::from) {
            scope.spawn(|| {
                while let Some(case) = cases.get(next.fetch_add(1, Ordering::Relaxed) * every + every / 2) {
                    match std::panic::catch_unwind(|| case.play()) {
                        Ok(played) => {
                            let words = played.ended.chars().filter(|c| !c.is_ascii_digit()).take(70).collect();
                            ended.lock().unwrap().entry(words).or_insert_with(|| (0, case.told())).0 += 1;
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

/// Every how many of some cases: so many of those that tell in the suite, all or every so many by the command.
#[expect(clippy::print_stdout, reason = "how long it takes is what it tells")]
fn some(name: &str, cases: &[Case], suite: usize) -> BTreeMap<String, (u64, String)> {
    let said = std::env::var("QUADJIG_EXHAUSTED").ok();
    let telling: Vec<Case> = cases.iter().filter(|case| said.is_some() || case.tells).cloned().collect();
    let every = said.as_ref().map_or((telling.len() / suite).max(1), |said| said.parse().unwrap());
    let began = std::time::Instant::now();
    let ended = play(name, &telling, every);
    if said.is_some() {
        let played: u64 = ended.values().map(|(times, _)| times).sum();
        println!("{name}: {played} of {} in {:?}: {ended:#?}", cases.len(), began.elapsed());
    }
    ended
}

/// L5 with it: what is lost once is asked for again, and the run ends well.
#[test]
fn one_fault_at_every_frame() {
    let cases = frames();
    let (dropped, others): (Vec<Case>, Vec<Case>) = cases.into_iter().partition(|case| case.kinds == [Kind::Drop]);
    let ended = some("one frame lost", &dropped, 20);
    let all: u64 = ended.values().map(|(times, _)| times).sum();
    let well = ended.get("well").map_or(0, |(times, _)| *times);
    assert!((all - well) * 1000 <= all, "{well} of {all}: {ended:#?}");
    some("one other fault at a frame", &others, 25);
}

#[test]
fn two_faults_at_every_two_frames_that_say_something() {
    some("two faults", &pairs(), 25);
}

#[test]
fn a_kill_at_every_effect() {
    some("a kill", &kills(false), 30);
}

#[test]
fn a_second_kill_in_the_recovery() {
    some("two kills", &kills(true), 15);
}

/// Whatever a board does of what it was asked for, nothing is said of it that is not so.
#[test]
fn every_way_of_a_board_with_what_it_is_told() {
    some("a lie", &lies(), 72);
}

#[test]
fn a_fault_at_every_step_of_the_disk() {
    some("the disk", &disk(), 40);
}
