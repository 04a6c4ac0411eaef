//! After a run that broke off, its faults over: whoever recovers it gets there within two starts (L2), and what is put
//! back is what the craft stored before.
//!
//! The recovery is the program's own, in a world without faults, with the same craft and the same disk, and is judged as
//! any run is; and after a run that ended well without a fault, the same once more. Must not be here: how a run goes.

use super::dice::{Dice, Kind, Part};
use super::disk::Disk;
use super::fork::REST;
use super::hands::Hands;
use super::judge::{Broken, Judge, Planned, highest, number, same};
use super::play::{drive, session, session_of, sheet};
use super::typed::Speech;
use super::world::FaultWorld;
use crate::bench::stand::job;
use crate::spy::recipe_with;
use quadjig::bench::attended::{AskedJob, close, recover};
use quadjig::bench::session::context::SessionContext;
use quadjig::rehearsal::rehearse::willing;
use quadjig::seam::fault::Fault;
use quadjig::virtual_board::World as Craft;
use serde_json::Value;
use std::collections::{BTreeMap, VecDeque};
use std::path::Path;
use std::rc::Rc;
use std::time::Duration;

/// By then a restart or a store that was under way is over, and a board without power is dark.
const SETTLES: Duration = Duration::from_secs(12);
/// Boards that lie, or are told from no other: nobody can be held to settling anything on them.
const LIES: [Kind; 7] =
    [Kind::NoId, Kind::Hollow, Kind::Unanswered, Kind::Late, Kind::StoresNot, Kind::Rearms, Kind::ByChange];

/// A run that broke off, and all settings of its craft before it.
pub struct BrokenOff<'w> {
    pub world: &'w FaultWorld,
    pub before: &'w Value,
    pub speech: Speech,
    /// What it wrote is put back; else it is finished.
    pub back: bool,
    /// The first recovery is killed at this effect, from 1.
    pub killed_at: Option<u64>,
    /// Somebody gives the board a value of neither before.
    pub meddled: bool,
}

type Wanted = BTreeMap<String, Value>;

/// What was to be of each setting, by what the disk holds of the journal: a line that did not get there was not announced.
fn wanted(disk: &Disk) -> Wanted {
    let journal = disk.craft.get(Path::new("journal.jsonl")).map(Vec::as_slice).unwrap_or_default();
    let text = String::from_utf8_lossy(journal);
    let lines = text.split_inclusive('\n').filter(|line| line.ends_with('\n'));
    let lines = lines.filter_map(|line| serde_json::from_str::<Value>(line).ok());
    let writes = lines.flat_map(|line| line["writes"].as_array().cloned().unwrap_or_default());
    writes.filter_map(|write| Some((write["name"].as_str()?.to_owned(), number(&write["to"])))).collect()
}

/// One start of the recovery.
struct Start {
    craft: Craft,
    disk: Disk,
    broken: Vec<Broken>,
    /// What it said.
    lines: Vec<String>,
    /// What was to be last, by it or before it.
    wanted: Wanted,
    /// Put back was offered, and chosen.
    back: bool,
    ended: Option<Result<(), Fault>>,
}

/// Battery out, switch off, radio on, the cable in, its clock right, and the propellers off if they were said to be and were not: they
/// draw more than the sheet allows, so nothing that turns a motor may ever finish.
fn at_rest(mut craft: Craft) -> Craft {
    let now = craft.now();
    let unbounded = !craft.config().conduct.runs_end || craft.config().conduct.runs_on_unplugged;
    for line in [
        "props off",
        "flip B 0",
        "stick throttle -100%",
        "battery out",
        "radio on",
        "tilt 0 0",
        "clock 1",
        "power either",
        "lease kept",
        "usb in",
    ] {
        let _as_it_is = craft.line(now, line);
    }
    craft.advance(now + SETTLES);
    // A run that nothing bounds ends with the board's power.
    if unbounded && highest(&craft) > REST {
        for line in ["usb out", "usb in"] {
            let now = craft.now();
            let _as_it_is = craft.line(now, line);
            craft.advance(now + SETTLES);
        }
    }
    let _said_to_nobody = craft.take_output();
    craft
}

/// The craft at this wire, its own disk beside it, and nothing that befalls them.
fn undisturbed((craft, mut disk): (Craft, Disk), speech: Speech, mut judge: Judge, puts_back: bool) -> FaultWorld {
    disk.again();
    let mut dice = Dice::new(1, Part::default());
    dice.without(Kind::ALL);
    let hands = Hands { willing: willing(craft.config()), puts_back, put_back: false, lines: VecDeque::new() };
    let crafts = [craft.clone(), craft];
    judge.meets(&crafts);
    let mut world = FaultWorld::new(crafts, dice, hands, judge);
    world.speaks(speech);
    world.disk = disk;
    world
}

/// The same recipe on a craft that has all of it: nothing is written, and it ends as well (L6).
pub fn runs_again(world: &FaultWorld, speech: Speech, recipe: &str) -> Vec<Broken> {
    let craft = at_rest(world.crafts[0].clone());
    let board = craft.config().board;
    let mut judge = Judge::default();
    judge.senses = world.judge.senses;
    judge.planned = Planned::on(&[craft.clone(), craft.clone()], speech);
    let mut world = undisturbed((craft, world.disk.clone()), speech, judge, false);
    let bench = Rc::new(SessionContext::default());
    let mut session = session(recipe, board, &bench);
    let (ended, _) = drive(&mut world, &mut session, &bench, false);
    let mut broken = world.judge.broken;
    if !matches!(ended, Some(Ok(()))) {
        let at = world.crafts[0].now();
        broken.push(Broken { property: "L6", at, what: format!("it ended in {ended:?} when it was run again") });
    }
    broken
}

impl BrokenOff<'_> {
    /// Whether its board can be held to anything, it is the one that was met, and nothing was done to another that nothing tells
    /// from it.
    pub fn is_honest(&self) -> bool {
        !self.world.judge.mistaken
            && !self.world.judge.met_the_other()
            && !self.world.dice.fired.iter().any(|(decision, _)| LIES.contains(&decision.kind))
    }

    /// What the recovery breaks.
    pub fn settles(&self) -> Vec<Broken> {
        let mut left = at_rest(self.world.crafts[0].clone());
        if self.meddled && !self.world.judge.failed {
            self.meddle(&mut left);
        }
        let wanted = wanted(&self.world.disk);
        let first = self.start((left.clone(), self.world.disk.clone()), wanted, self.killed_at);
        let mut broken = self.misjudged(&left, &first);
        let last = if matches!(first.ended, Some(Ok(()))) {
            first
        } else {
            let mut second = self.start((first.craft, first.disk), first.wanted, None);
            second.broken.splice(0..0, first.broken);
            second.lines.extend(first.lines);
            second.back |= first.back;
            second
        };
        broken.extend(last.broken);
        let mut breaks = |what| broken.push(Broken { property: "L2", at: last.craft.now(), what });
        let left = left.truth()["settings"].clone();
        for (name, was) in self.before.as_object().into_iter().flatten() {
            let named = || self.world.judge.kept.contains(name) || last.lines.iter().any(|line| line.contains(name));
            if left[name] != *was && !named() {
                breaks(format!("{name} was {was} and was left as {}, and nobody said so", left[name]));
            }
        }
        if !matches!(last.ended, Some(Ok(()))) {
            breaks(format!("the second recovery ended in {:?}", last.ended));
        } else if last.back {
            let now = last.craft.truth()["settings"].clone();
            for (name, was) in self.before.as_object().into_iter().flatten() {
                let (was, now) = (&was["stored"], &now[name]["stored"]);
                if was != now {
                    breaks(format!("{name} was put back: {was} was stored before, {now} is now"));
                }
            }
        }
        broken
    }

    /// Changes one of those that were written and are not what they were, but none of a band: it might arm then.
    fn meddle(&self, craft: &mut Craft) {
        let of_band = |name: &str| ["CHAN", "FROM", "TO", "FUNC"].iter().any(|part| name.contains(part));
        let changed = |(name, to): &(&String, &Value)| !of_band(name) && !same(to, &self.before[*name]["working"]);
        let wanted = wanted(&self.world.disk);
        let Some((name, to)) = wanted.iter().find(changed) else { return };
        let now = craft.now();
        let _where_it_fits = craft.line(now, &format!("set {name} {}", to.as_f64().unwrap_or(0.0) + 5.0));
    }

    /// Old, new and neither are as many of the settings as are (S5).
    fn misjudged(&self, left: &Craft, first: &Start) -> Vec<Broken> {
        let judge = &self.world.judge;
        let said = |what: &str| {
            let line = first.lines.iter().find_map(|line| line.strip_prefix(what)?.strip_prefix(": "));
            line.map_or(0, |all| all.split("; ").count())
        };
        // A step that failed left what nobody here knows, and a start that ended early said nothing.
        if judge.failed || !first.lines.iter().any(|line| line.starts_with("To finish, ")) {
            return Vec::new();
        }
        let (mut are, wanted) = ([0; 3], wanted(&self.world.disk));
        for (name, to) in &wanted {
            let now = &left.truth()["settings"][name]["working"];
            let place = [to, &self.before[name]["working"]].into_iter().position(|value| same(now, value)).unwrap_or(2);
            are[place] += 1;
        }
        let new = said("New, and read after a restart") + said("New, and not seen after a restart");
        let said = [new, said("Old, as before"), said("Neither old nor new")];
        let what = format!("of {:?} it said new, old, neither {said:?}; they are {are:?}", wanted.keys());
        let broken = Broken { property: "S5", at: left.now(), what };
        if said == are { Vec::new() } else { vec![broken] }
    }

    fn start(&self, (craft, disk): (Craft, Disk), earlier: Wanted, killed_at: Option<u64>) -> Start {
        let craft = at_rest(craft);
        let board = craft.config().board;
        let mut judge = Judge::default();
        judge.senses = self.world.judge.senses;
        judge.planned = Planned::on(&[craft.clone(), craft.clone()], self.speech);
        judge.planned.goes_on(&self.world.judge.planned);
        for (name, value) in self.before.as_object().into_iter().flatten() {
            judge.planned.may_write(name, &value["working"]);
            judge.planned.may_write(name, &value["stored"]);
        }
        judge.planned.may_put_back();
        judge.earlier = earlier;
        let mut world = undisturbed((craft, disk), self.speech, judge, self.back);
        world.killed_at = killed_at;
        let bench = Rc::new(SessionContext::default());
        // It brings its own task.
        let recovery = Rc::new(AskedJob::new(job(&recipe_with(board, "keep\n"), None, None, vec![sheet(board)])));
        let script = Box::pin(recover(Rc::clone(&bench), Rc::clone(&recovery)));
        let closing = Rc::clone(&bench);
        let mut session = session_of(board, &bench, script)
            .closing_or_going_on(move |fault| Box::pin(close(Rc::clone(&closing), recovery.job(), fault)));
        let (ended, _) = drive(&mut world, &mut session, &bench, false);
        drop(session);
        let wanted = wanted(&world.disk);
        Start {
            craft: world.crafts[0].clone(),
            disk: world.disk,
            broken: world.judge.broken,
            wanted,
            lines: world.judge.said_lines,
            back: world.hands.put_back,
            ended,
        }
    }
}
