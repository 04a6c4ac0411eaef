//! What a set-up craft holds beside what a session said, as statements: bindings found on the board, values that the
//! record says were set, and the tests that belong to them.
//!
//! Promises: none of it changes anything on this board, so that what is written plans to nothing here; what can't be said
//! so is left out. Must not be here: where a statement stands in the recipe (see `write_out`).

use crate::bench::attended::RunState;
use crate::bench::interactive::draft::{Kept, Origin, read, rewritten, text_of};
use crate::board::binding;
use crate::board::convert;
use crate::board::sheet::{SettingEntry, Settings};
use crate::board::value::SettingName;
use crate::language::checks::assigned::Thing;
use crate::language::recipe::{Function, Require, StatementKind, Switch};
use crate::language::setting_word::SettingWord;
use crate::language::turning::{Purpose, purpose};
use crate::language::units::time;
use crate::plan::compile::compile;
use crate::plan::inputs::{Inputs, Progress};
use crate::plan::titles;
use crate::record::{JournalLine, Proof, ProofSubject};
use std::collections::BTreeSet;
use std::time::Duration;

/// The board as it stands, and all that is known of its craft.
#[derive(Clone, Copy)]
pub struct Standing<'s> {
    /// Sheet, card, record.
    pub knows: &'s RunState,
    /// Every setting as it was read last.
    pub held: &'s Settings,
    /// The head of the recipe.
    pub head: &'s str,
}

impl Standing<'_> {
    /// Whether a statement of the session still stands: of a test, what it rests on is on the board.
    #[must_use]
    pub fn stands(&self, kept: &Kept) -> bool {
        let of: fn(&ProofSubject) -> bool = match &kept.statement.what {
            StatementKind::TestArm => |subject| matches!(subject, ProofSubject::Arm),
            StatementKind::TestBuzzer => |subject| matches!(subject, ProofSubject::Buzzer),
            StatementKind::TestCut { .. } => |subject| matches!(subject, ProofSubject::Cut { .. }),
            StatementKind::TestFailsafe { .. } => |subject| matches!(subject, ProofSubject::Failsafe { .. }),
            StatementKind::TestIdle { .. } => |subject| matches!(subject, ProofSubject::Idle { .. }),
            StatementKind::TestMotors | StatementKind::TestSticks { .. } | StatementKind::TestAttitude => return true,
            // Of a test that is not named here nobody has said what it rests on.
            other => return purpose(other) != Purpose::Tests,
        };
        self.proof(of).is_some()
    }

    /// The newest proof of a kind, of which everything that it rests on is still on the board.
    pub(super) fn proof(&self, of: impl Fn(&ProofSubject) -> bool) -> Option<&Proof> {
        let stands = |proof: &&Proof| {
            let same = |(name, value): (&SettingName, &crate::board::value::Number)| {
                self.held.get(name).is_some_and(|now| now.same(*value))
            };
            of(&proof.subject) && proof.board == self.knows.identity && proof.depends_on.iter().all(same)
        };
        self.knows.record.proofs.iter().rev().find(stands)
    }

    /// What the craft holds that these statements do not say.
    #[must_use]
    pub fn beside(&self, own: &[Kept]) -> Vec<Kept> {
        let mut all = Collected { standing: *self, own, added: Vec::new() };
        all.bindings();
        all.values();
        all.tests();
        all.added
    }

    /// Whether a recipe of these lines would leave everything on this board as it is.
    #[must_use]
    pub fn plans_to_nothing(&self, text: &str) -> bool {
        let RunState { sheet, card, record, identity, .. } = self.knows;
        let Some(recipe) = read(text).recipe else { return false };
        let plan = compile(&Inputs {
            recipe: &recipe,
            sheet,
            card,
            record,
            identity,
            settings: self.held,
            progress: Progress::start(),
            by_hand: false,
        });
        plan.is_ok_and(|plan| plan.changes.is_empty() && plan.unknown.is_empty())
    }

    fn entry(&self, word: SettingWord) -> Option<(&SettingEntry, String)> {
        let entry = self.knows.sheet.entry(word)?;
        Some((entry, convert::show(entry, *self.held.get(&entry.name)?)))
    }

    /// Settings that an earlier run wrote.
    fn set_before(&self) -> BTreeSet<SettingName> {
        let intents = self.knows.record.journal.iter().filter_map(|line| match line {
            JournalLine::Intent { writes, .. } => Some(writes),
            _ => None,
        });
        intents.flatten().filter_map(|write| SettingName::new(&write.name)).collect()
    }
}

/// Statements that were added so far.
struct Collected<'s> {
    standing: Standing<'s>,
    own: &'s [Kept],
    added: Vec<Kept>,
}

impl Collected<'_> {
    fn all(&self) -> impl Iterator<Item = &Kept> {
        self.own.iter().chain(&self.added)
    }

    fn has(&self, is: impl Fn(&StatementKind) -> bool) -> bool {
        self.all().any(|kept| is(&kept.statement.what))
    }

    /// Adds lines, where nothing gives the same things a value, and where they change nothing here.
    fn add(&mut self, lines: &[String]) {
        let Some(new) = lines.iter().map(|line| kept(line)).collect::<Option<Vec<_>>>() else { return };
        let said = |things: &[Thing]| things.iter().any(|thing| self.all().any(|kept| kept.things.contains(thing)));
        if new.iter().any(|kept| said(&kept.things)) {
            return;
        }
        let found = self.added.iter().filter(|kept| matches!(kept.statement.what, StatementKind::FindSwitch { .. }));
        let lines = found.chain(&new).map(|kept| kept.text.as_str());
        // Of a proof that makes a search needless, and of a switch, the plan knows more than the text.
        let given = ["require battery out", "require props off"].into_iter();
        let text = text_of(self.standing.head, given.chain(lines));
        if self.standing.plans_to_nothing(&text) {
            self.added.extend(new);
        }
    }

    /// Functions that are bound on the board to positions of switches that are known.
    fn bindings(&mut self) {
        let Standing { knows, held, .. } = self.standing;
        for function in binding::functions(&knows.sheet) {
            if !self.all().any(|kept| kept.things.contains(&Thing::Place(function.clone()))) {
                let lines = self.binding(knows, held, function);
                self.add(&lines.unwrap_or_default());
            }
        }
        // Where arm goes on link loss is known of this craft, and is to be of the next.
        let arm = self.added.iter().any(|kept| kept.things.contains(&Thing::Place(Function::arm())));
        let found = |what: &StatementKind| matches!(what, StatementKind::FindLinkLoss { .. });
        if arm && !knows.record.link_loss.is_empty() && !self.has(found) {
            self.added.extend(kept("find link loss"));
        }
    }

    fn binding(&self, knows: &RunState, held: &Settings, function: &Function) -> Option<Vec<String>> {
        let bands = binding::bound_now(&knows.sheet, held, function).ok()?;
        let (switch, positions) = knows.card.bound(&bands)?;
        let entry = knows.card.switches.get(switch)?;
        let bind = titles::bind(function, switch, &positions);
        let find = self.is_unknown(switch).then(|| {
            let springs = if entry.momentary { ", momentary" } else { "" };
            format!("find switch {} with {} positions{springs}", switch.0, entry.rests.len())
        });
        Some(find.into_iter().chain([bind]).collect())
    }

    /// Whether nothing that was said finds or declares a switch.
    fn is_unknown(&self, known: &Switch) -> bool {
        !self.has(|what| {
            matches!(what, StatementKind::FindSwitch { switch, .. } | StatementKind::DeclareSwitch { switch, .. }
                if switch == known)
        })
    }

    /// Values that earlier runs set.
    fn values(&mut self) {
        use SettingWord::{
            BatteryCells, BatteryChemistry, BatteryLand, BatteryWarn, LinkLossAction, LinkLossWait, LoopRate, Signal,
            ZeroThrottle,
        };
        let set = self.standing.set_before();
        let standing = self.standing;
        let value = |word: SettingWord| standing.entry(word).map(|(_, value)| value);
        let was_set = |words: &[SettingWord]| {
            words.iter().any(|word| standing.entry(*word).is_some_and(|(entry, _)| set.contains(&entry.name)))
        };
        let texts = [
            (&[ZeroThrottle][..], value(ZeroThrottle).map(|spin| format!("at zero throttle {spin}"))),
            (
                &[Signal, LoopRate],
                value(Signal).zip(value(LoopRate)).map(|(signal, rate)| format!("signal {signal} at {rate}")),
            ),
            (
                &[LinkLossAction, LinkLossWait],
                value(LinkLossWait)
                    .filter(|_| value(LinkLossAction).is_some_and(|action| action == "cut"))
                    .map(|wait| format!("failsafe cut motors after {wait}")),
            ),
            (
                &[BatteryCells, BatteryWarn, BatteryLand],
                value(BatteryCells).zip(value(BatteryWarn)).zip(value(BatteryLand)).map(|((cells, warn), land)| {
                    let kind = value(BatteryChemistry).map_or_else(String::new, |kind| format!(" {kind}"));
                    format!("battery {cells} cells{kind} warn at {warn} land at {land}")
                }),
            ),
        ];
        for (words, text) in texts {
            if was_set(words) {
                self.add(&text.into_iter().collect::<Vec<_>>());
            }
        }
        // Speed controllers choose their signal at power-up.
        let signal = self.added.iter().any(|kept| matches!(kept.statement.what, StatementKind::Signal { .. }));
        if signal && !self.has(|what| matches!(what, StatementKind::PowerCycle)) {
            self.added.extend(kept("power cycle"));
        }
        if was_set(&[SettingWord::Idle]) {
            self.idle();
        }
    }

    /// The idle, as it was searched where that still stands, else as it is.
    fn idle(&mut self) {
        let searched = |subject: &ProofSubject| matches!(subject, ProofSubject::Idle { start: Some(_), .. });
        let tested = |subject: &ProofSubject| matches!(subject, ProofSubject::Idle { .. });
        let proof = self.standing.proof(searched).or_else(|| self.standing.proof(tested));
        let Some(ProofSubject::Idle { start, step, at_most, margin, dwell_ms, starts, .. }) =
            proof.map(|proof| &proof.subject)
        else {
            return;
        };
        let dwell = time(Duration::from_millis(*dwell_ms));
        let searched = start.zip(*step).zip(at_most.zip(*margin)).map(|((start, step), (most, margin))| {
            format!(
                "idle start at {start} us step {step} us until all spin, at most {most} us, for {dwell}, in {starts} \
                 starts, then add {margin} us"
            )
        });
        let value = self.standing.entry(SettingWord::Idle).map(|(_, value)| format!("idle at {value}"));
        let starts = *starts;
        self.add(&searched.or(value).into_iter().collect::<Vec<_>>());
        if !self.has(|what| matches!(what, StatementKind::TestIdle { .. })) {
            self.added
                .extend(kept(&format!("test idle in {starts} starts")).map(|kept| Kept { powered: true, ..kept }));
        }
    }

    /// What was set before is tested on the next craft, whatever else this session tested.
    fn tests(&mut self) {
        type Is = fn(&StatementKind) -> bool;
        let tests: [(&str, Is, Is); 3] = [
            (
                "test arm",
                |what| matches!(what, StatementKind::TestArm),
                |what| matches!(what, StatementKind::Bind { function, .. } if function.is_arm()),
            ),
            (
                "test buzzer",
                |what| matches!(what, StatementKind::TestBuzzer),
                |what| matches!(what, StatementKind::Bind { function, .. } if function.0 == "buzzer"),
            ),
            (
                "test failsafe",
                |what| matches!(what, StatementKind::TestFailsafe { .. }),
                |what| matches!(what, StatementKind::Failsafe(_)),
            ),
        ];
        for (text, is, of) in tests {
            if self.added.iter().any(|kept| of(&kept.statement.what)) && !self.has(is) {
                // The failsafe is tested with motors that turn.
                let powered = text == "test failsafe";
                self.added.extend(kept(text).map(|kept| Kept { powered, ..kept }));
            }
        }
        let turns = |what: &StatementKind| {
            matches!(what, StatementKind::TestArm | StatementKind::TestIdle { .. } | StatementKind::TestFailsafe { .. })
        };
        let props_off = |what: &StatementKind| matches!(what, StatementKind::Require(Require::PropsOff));
        if self.has(turns) && !self.has(props_off) {
            self.added.extend(kept("require props off"));
        }
    }
}

/// A line as it stands in a recipe, of which nothing was measured in this session.
fn kept(line: &str) -> Option<Kept> {
    let (text, statement, things) = rewritten(line).ok()?;
    Some(Kept {
        text,
        statement,
        things,
        at: String::new(),
        volts: None,
        powered: false,
        measured: Vec::new(),
        left: Settings::new(),
        origin: Origin::Earlier,
    })
}
