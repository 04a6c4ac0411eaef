//! All states of a scope, walked to the end by a model checker.
//!
//! A state is the way to it and its key: the scene itself holds what no thread may share, so each thread keeps those of the
//! way that it is on and goes the rest again. Must not be here: the world, what is right.

use super::act::Act;
use super::key::Key;
use super::scene::{Begin, Scene};
use crate::pace::gives_way;
use quadjig::interlock::{Authority, Phase};
use quadjig::plan::step::Guard;
use stateright::{Checker, HasDiscoveries, Model, Property};
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::hash::{Hash, Hasher};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// What is explored: a beginning, what may be done, and how far it goes.
#[derive(Debug, Clone)]
pub struct Scope {
    pub name: &'static str,
    pub begin: Begin,
    /// The other craft was switched on with ours, so that no clock tells them apart.
    pub alike: bool,
    pub acts: Vec<Act>,
    pub moments: u8,
    /// At one moment, faults among them.
    pub deeds: u8,
    pub faults: u8,
}

/// See the module.
#[derive(Debug, Clone)]
pub struct State {
    way: Vec<u8>,
    key: u64,
    pub broken: Vec<&'static str>,
    facts: u64,
}

impl PartialEq for State {
    fn eq(&self, other: &Self) -> bool {
        self.key == other.key
    }
}

impl Hash for State {
    fn hash<H: Hasher>(&self, hasher: &mut H) {
        self.key.hash(hasher);
    }
}

/// Of which scope, and the scene behind each part of a way.
type Near = (String, Vec<(Vec<u8>, Scene)>);
/// Whether something is so of a state.
type So = fn(&Explored, &State) -> bool;

thread_local! {
    /// The scenes of the way that this thread is on, by how long it is; of which scope.
    static NEAR: RefCell<Near> = const { RefCell::new((String::new(), Vec::new())) };
}

/// What each act came to, over all states: done or refused, and what left by it.
pub type Tally = BTreeMap<String, u64>;

pub struct Explored {
    pub scope: Scope,
    pub tally: Arc<Mutex<Tally>>,
}

const GUARDS: [(&str, Guard); 8] = [
    ("props off", Guard::PropsOff),
    ("disarmed", Guard::Disarmed),
    ("throttle low", Guard::ThrottleLow),
    ("arm switch off", Guard::ArmSwitchOff),
    ("outputs at rest", Guard::OutputsAtRest),
    ("fresh", Guard::Fresh),
    ("battery in", Guard::BatteryIn),
    ("battery out", Guard::BatteryOut),
];

/// What is so of a state: its phase, what may be sent, which guards hold and which do not, whether it is sure who is there.
fn facts(scene: &Scene) -> u64 {
    let phase = Phase::ALL.iter().position(|phase| *phase == scene.interlock.phase()).unwrap();
    let authority = match scene.interlock.authority() {
        Authority::Nothing => 10,
        Authority::Disarm => 11,
        Authority::Forced => 12,
    };
    let mut facts = 1 << phase | 1 << authority | 1 << if scene.interlock.is_sure() { 13 } else { 14 };
    for (at, (_, guard)) in GUARDS.iter().enumerate() {
        facts |= 1 << (16 + 2 * at + usize::from(scene.holds(guard.clone())));
    }
    facts
}

fn has<const FACT: usize>(_: &Explored, state: &State) -> bool {
    state.facts >> FACT & 1 == 1
}

/// The names of those facts: each has to be so somewhere.
pub const FACTS: [(&str, So); 31] = [
    ("NoContact", has::<0>),
    ("Looking", has::<1>),
    ("Still", has::<2>),
    ("SwitchesWorked", has::<3>),
    ("Storing", has::<4>),
    ("Restarting", has::<5>),
    ("Invited", has::<6>),
    ("Turning", has::<7>),
    ("Stopping", has::<8>),
    ("Latched", has::<9>),
    ("nothing may be sent", has::<10>),
    ("a disarm may be sent", has::<11>),
    ("a forced disarm may be sent", has::<12>),
    ("sure who is there", has::<13>),
    ("unsure who is there", has::<14>),
    ("props off blocks", has::<16>),
    ("props off passes", has::<17>),
    ("disarmed blocks", has::<18>),
    ("disarmed passes", has::<19>),
    ("throttle low blocks", has::<20>),
    ("throttle low passes", has::<21>),
    ("arm switch off blocks", has::<22>),
    ("arm switch off passes", has::<23>),
    ("outputs at rest blocks", has::<24>),
    ("outputs at rest passes", has::<25>),
    ("fresh blocks", has::<26>),
    ("fresh passes", has::<27>),
    ("battery in blocks", has::<28>),
    ("battery in passes", has::<29>),
    ("battery out blocks", has::<30>),
    ("battery out passes", has::<31>),
];

fn hashed(scene: &Scene, key: &mut Key) {
    write!(key, "{scene:?}").unwrap();
    let signals = scene.interlock.signals();
    // What is looked at of older samples: how often channels, outputs and attitude came of late, and since when the switch
    // was out of its band.
    let recent = |samples: usize| samples.min(8);
    let attitude = recent(signals.attitude.since(scene.now - Duration::from_millis(550)).count());
    let outputs = recent(signals.outputs.since(scene.now - Duration::from_millis(550)).count());
    let on = signals.channels.since(scene.now - Duration::from_secs(4)).rfind(|s| s.value.pulses[5] > Some(1700));
    let fresh = signals.armed.fresh(scene.now, Duration::from_secs(60)).is_some();
    write!(key, "{attitude} {outputs} {on:?} {fresh} {:?}", scene.interlock.wake()).unwrap();
}

impl Explored {
    fn state(way: Vec<u8>, scene: &Scene) -> State {
        let mut key = Key::new(scene.now);
        hashed(scene, &mut key);
        State { way, key: key.value(), broken: scene.judge.broken.clone(), facts: facts(scene) }
    }

    /// The scene at the end of a way.
    fn near<T>(&self, way: &[u8], with: impl FnOnce(&Scene) -> T) -> T {
        NEAR.with_borrow_mut(|(scope, near)| {
            if *scope != self.scope.name {
                self.scope.name.clone_into(scope);
                near.clear();
            }
            near.truncate(way.len() + 1);
            while near.last().is_some_and(|(known, _)| *known != way[..known.len()]) {
                near.pop();
            }
            if near.is_empty() {
                near.push((Vec::new(), Scene::new(self.scope.begin, self.scope.alike)));
            }
            while let Some((known, scene)) = near.last().filter(|(known, _)| known.len() < way.len()) {
                let (known, mut scene) = (way[..=known.len()].to_vec(), scene.clone());
                Self::goes(&mut scene, self.scope.acts[usize::from(known[known.len() - 1])]);
                near.push((known, scene));
            }
            with(&near.last().unwrap().1)
        })
    }

    /// Whether an act is within the world's bounds, and is none that is refused in any case.
    fn may(&self, scene: &Scene, act: Act) -> bool {
        let (bounds, spent) = (&self.scope, scene.spent);
        // What is done after the last moment comes to nothing.
        let left = spent.moments < bounds.moments;
        let deed = spent.deeds < bounds.deeds && (!act.befalls() || spent.faults < bounds.faults);
        left && (deed || matches!(act, Act::Pass(_))) && act.may(scene)
    }

    /// One act.
    fn goes(scene: &mut Scene, act: Act) -> bool {
        if matches!(act, Act::Pass(_)) {
            (scene.spent.moments, scene.spent.deeds) = (scene.spent.moments + 1, 0);
        } else {
            scene.spent.deeds += 1;
            scene.spent.faults += u8::from(act.befalls());
        }
        scene.does(act)
    }
}

impl Model for Explored {
    type State = State;
    type Action = u8;

    fn init_states(&self) -> Vec<State> {
        vec![self.near(&[], |scene| Self::state(Vec::new(), scene))]
    }

    fn actions(&self, state: &State, acts: &mut Vec<u8>) {
        if state.broken.is_empty() {
            acts.extend(0..u8::try_from(self.scope.acts.len()).unwrap());
        }
    }

    fn next_state(&self, state: &State, act: u8) -> Option<State> {
        let act_of = self.scope.acts[usize::from(act)];
        let mut scene = self.near(&state.way, |scene| self.may(scene, act_of).then(|| scene.clone()))?;
        let went = Self::goes(&mut scene, act_of);
        {
            let mut tally = self.tally.lock().unwrap();
            *tally.entry(format!("{act_of:?} {}", if went { "done" } else { "refused" })).or_default() += 1;
            for did in &scene.did {
                *tally.entry((*did).to_owned()).or_default() += u64::from(went);
            }
        }
        let mut way = state.way.clone();
        way.push(act);
        went.then(|| Self::state(way, &scene))
    }

    fn properties(&self) -> Vec<Property<Self>> {
        let mut properties = vec![Property::always(NOTHING, |_, state: &State| state.broken.is_empty())];
        properties.extend(FACTS.map(|(name, so)| Property::sometimes(name, so)));
        properties
    }
}

const NOTHING: &str = "nothing is broken";

/// What came of a scope.
pub struct Found {
    pub states: usize,
    pub steps: usize,
    pub depth: usize,
    pub took: Duration,
    /// What broke, and the shortest way there that was found.
    pub broken: Option<(Vec<&'static str>, Vec<Act>)>,
    pub facts: Vec<&'static str>,
    pub tally: Tally,
}

/// Explores a scope to its end, or to the first that is broken.
pub fn explore(scope: &Scope, threads: usize) -> Found {
    gives_way();
    let began = Instant::now();
    let tally = Arc::new(Mutex::new(Tally::new()));
    let model = Explored { scope: scope.clone(), tally: Arc::clone(&tally) };
    let checked = model.checker().threads(threads).finish_when(HasDiscoveries::AnyFailures).spawn_dfs().join();
    let mut found = checked.discoveries();
    let broken = found.remove(NOTHING).map(|way| {
        let acts = way.into_actions().into_iter().map(|act| scope.acts[usize::from(act)]).collect();
        shrunk(scope, acts)
    });
    let tally = std::mem::take(&mut *tally.lock().unwrap());
    Found {
        states: checked.unique_state_count(),
        steps: checked.state_count(),
        depth: checked.max_depth(),
        took: began.elapsed(),
        broken,
        facts: found.into_keys().collect(),
        tally,
    }
}

/// What a way breaks.
pub fn broken(scope: &Scope, acts: &[Act]) -> Vec<&'static str> {
    let mut scene = Scene::new(scope.begin, scope.alike);
    for act in acts {
        scene.does(*act);
    }
    scene.judge.broken
}

/// The least of a way that still breaks what it breaks.
fn shrunk(scope: &Scope, mut acts: Vec<Act>) -> (Vec<&'static str>, Vec<Act>) {
    let what = broken(scope, &acts);
    let mut at = 0;
    while at < acts.len() {
        let mut less = acts.clone();
        less.remove(at);
        if broken(scope, &less).first() == what.first() {
            acts = less;
        } else {
            at += 1;
        }
    }
    (broken(scope, &acts), acts)
}

/// States that have one key by two ways: whether they go on alike, act for act. `Err`: two ways, and the act that parts them.
pub fn are_alike(scope: &Scope, most: usize) -> Result<usize, (Vec<Act>, Vec<Act>, Act)> {
    let model = Explored { scope: scope.clone(), tally: Arc::default() };
    let acts_of = |way: &[u8]| way.iter().map(|act| scope.acts[usize::from(*act)]).collect::<Vec<_>>();
    let mut first: BTreeMap<u64, Vec<u8>> = BTreeMap::new();
    let (mut left, mut compared) = (model.init_states(), 0);
    while let Some(state) = left.pop() {
        let mut acts = Vec::new();
        model.actions(&state, &mut acts);
        for next in acts.into_iter().filter_map(|act| model.next_state(&state, act)) {
            let Some(before) = first.get(&next.key) else {
                first.insert(next.key, next.way.clone());
                left.push(next);
                continue;
            };
            if compared == most {
                return Ok(compared);
            }
            compared += 1;
            let before = State { way: before.clone(), ..next.clone() };
            for act in 0..u8::try_from(scope.acts.len()).unwrap() {
                let went = [&before, &next].map(|state| model.next_state(state, act).map(|next| next.key));
                if went[0] != went[1] {
                    return Err((acts_of(&before.way), acts_of(&next.way), scope.acts[usize::from(act)]));
                }
            }
        }
    }
    Ok(compared)
}

/// What tells two ways apart, as their keys are written.
pub fn written(scope: &Scope, acts: &[Act]) -> String {
    let mut scene = Scene::new(scope.begin, scope.alike);
    for act in acts {
        Explored::goes(&mut scene, *act);
    }
    let mut key = Key::telling(scene.now);
    hashed(&scene, &mut key);
    key.told()
}
