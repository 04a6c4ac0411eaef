//! The idle search as a value: which pulses are tried, and whether the record proves the answer already.
//!
//! Promises: no value above the sheet's limit or the built-in ceiling, margin included. Must not be here: what a clause
//! that is left out means (see `language::search`), how a value is tried (see the bench).

use super::compile::{Planner, Spot};
use super::facts;
use super::motor::LEVEL;
use super::problem::Problem;
use super::step::{Action, Guard, IdlePlan, Unknown};
use crate::board::convert::IdleScale;
use crate::board::effect::Effect;
use crate::board::sheet::{Form, SettingEntry};
use crate::board::value::Number;
use crate::language::ceilings;
use crate::language::recipe::{IdleSearch, Part};
use crate::language::setting_word::SettingWord;
use crate::language::units::Pulse;
use crate::record::{Proof, ProofSubject};
use std::time::Duration;

impl<'a> Planner<'a> {
    pub(super) fn idle_search(&mut self, index: usize, search: &IdleSearch) {
        let spot = self.spot(index);
        if search.by_hand && !self.inputs.by_hand {
            return self.refuse(index, Problem::SearchByHand);
        }
        let sheet = self.inputs.sheet;
        let Some(entry) = sheet.entry(SettingWord::Idle) else {
            let problem = Problem::NoWord { word: SettingWord::Idle.to_string(), sheet: sheet.board.clone() };
            return self.refuse(index, problem);
        };
        let Some(scale) = IdleScale::of(entry) else {
            let (Form::Whole { unit, .. } | Form::Real { unit }) = &entry.form else { return };
            return self.refuse(index, Problem::SearchUnit(unit.clone()));
        };
        let Some(bounds) = self.bounds(index, search, (entry, scale)) else { return };
        if let Some(step) = scale.coarse().filter(|_| !search.values(bounds.at_most).eq(bounds.values.iter().copied()))
        {
            let text =
                format!("this board counts idle in steps of {step}: each value is the next above that it can hold.");
            self.remark_at(index, text);
        }
        if !search.by_hand
            && let Some(proof) = self.proved(&bounds)
        {
            let text = format!(
                "the idle of {} stands as found by the same search on {}, and is not searched again.",
                self.ahead.idle(sheet).unwrap_or_default(),
                proof.at
            );
            self.proofs.push(proof);
            return self.remark_at(index, text);
        }
        self.search_step(&spot, search, (entry, scale), bounds);
    }

    fn search_step(
        &mut self,
        spot: &Spot,
        search: &IdleSearch,
        (entry, scale): (&SettingEntry, IdleScale),
        bounds: Bounds,
    ) {
        let index = spot.statement;
        let (ready, spins) = (self.motor_ready(spot), self.spins(index));
        let (Some(arm), Some(before)) = (self.arm(index), self.idle_here(index)) else { return };
        if !ready || !spins {
            return;
        }
        let level = self.ahead.rules.level.unwrap_or(LEVEL);
        let mut guards = self.motor_guards(Some(level));
        guards.push(Guard::EncodingProved);
        let Bounds { start, values, starts, dwell, margin, at_most, .. } = bounds;
        let plan = IdlePlan {
            name: entry.name.clone(),
            scale,
            values,
            starts,
            dwell,
            margin,
            at_most,
            level,
            before,
            restart: entry.restart,
            arm,
        };
        let act = if search.by_hand { Action::IdleByHand(plan) } else { Action::IdleSearch(plan) };
        self.push(spot, act, Effect::TurnsMotors, guards);
        self.unknown.push(Unknown {
            setting: SettingWord::Idle.to_string(),
            least: f64::from(start.0 + margin.0),
            most: f64::from(at_most.0),
            unit: "us".to_owned(),
            at: spot.at.clone(),
        });
        // What follows is planned again once the value is known; until then the highest counts.
        self.ahead.settings.insert(entry.name.clone(), scale.number(at_most));
        self.ahead.open.insert(entry.name.clone());
        self.ahead.unsaved.insert(entry.name.clone(), None);
    }

    /// The search with nothing left open, or a refusal.
    fn bounds(
        &mut self,
        index: usize,
        search: &IdleSearch,
        (entry, scale): (&SettingEntry, IdleScale),
    ) -> Option<Bounds> {
        let before = self.errors.len();
        let IdleSearch { start, step, .. } = *search;
        let ceiling = ceiling(entry, scale);
        if step.0 <= 0 {
            self.refuse_part(index, Some(Part::Step), Problem::NoStep(step));
            return None;
        }
        if step > ceilings::STEP {
            self.refuse_part(index, Some(Part::Step), Problem::AboveCeiling { value: step, ceiling: ceilings::STEP });
        }
        let at_most = search.at_most.unwrap_or_else(|| search.limit().min(ceiling));
        if at_most > ceiling {
            self.refuse_part(index, Some(Part::Limit), Problem::AboveCeiling { value: at_most, ceiling });
        }
        let at_most = scale.down(at_most);
        let (dwell, starts, margin) = (search.dwell_time(), search.start_count(), scale.more(search.margin()));
        if dwell > ceilings::DWELL {
            let problem = Problem::TooLong { what: "one start", value: dwell, most: ceilings::DWELL };
            self.refuse_part(index, Some(Part::Dwell), problem);
        }
        if !(1..=ceilings::STARTS).contains(&starts) {
            self.refuse_part(index, Some(Part::Starts), Problem::TooManyStarts(starts));
        }
        let count = search.value_count(at_most);
        if margin.0 < 0 || count == 0 {
            self.refuse_part(index, Some(Part::Start), Problem::NoValues { start, margin, at_most });
            return None;
        }
        if count > ceilings::VALUES {
            self.refuse_part(index, Some(Part::Step), Problem::TooManyValues(count));
        }
        if self.errors.len() > before {
            return None;
        }
        let mut values: Vec<Pulse> = search.values(at_most).map(|value| scale.up(value)).collect();
        values.dedup();
        values.retain(|value| value.0 + margin.0 <= at_most.0);
        if values.is_empty() {
            self.refuse_part(index, Some(Part::Start), Problem::NoValues { start, margin, at_most });
            return None;
        }
        Some(Bounds { start, step, values, starts, dwell, margin, at_most })
    }

    /// A proof that the value on the board is the answer of this very search, on this board as it will stand.
    fn proved(&self, bounds: &Bounds) -> Option<&'a Proof> {
        let sheet = self.inputs.sheet;
        let pulse = self.ahead.idle(sheet)?;
        self.shown(&facts::idle_depends_on(sheet), |proof| bounds.same(&proof.subject, pulse))
    }
}

/// The highest pulse that may stay on the board, as it can hold it.
fn ceiling(entry: &SettingEntry, scale: IdleScale) -> Pulse {
    let limit = entry.range.and_then(|(_, most)| scale.pulse(Number::Real(most.floor())));
    scale.down(limit.map_or(ceilings::PULSE, |limit| limit.min(ceilings::PULSE)))
}

struct Bounds {
    start: Pulse,
    step: Pulse,
    values: Vec<Pulse>,
    starts: u32,
    dwell: Duration,
    margin: Pulse,
    at_most: Pulse,
}

impl Bounds {
    /// Whether a proof is of the same search, with at least as many starts, and of this pulse.
    fn same(&self, subject: &ProofSubject, on_board: Pulse) -> bool {
        let ProofSubject::Idle { pulse, start, step, at_most, margin, dwell_ms, starts } = subject else {
            return false;
        };
        *pulse == on_board.0
            && *start == Some(self.start.0)
            // A search of one value has no step that could be told from it.
            && step.map_or(self.values.len() == 1, |step| step == self.step.0)
            && *at_most == Some(self.at_most.0)
            && *margin == Some(self.margin.0)
            && u128::from(*dwell_ms) == self.dwell.as_millis()
            && *starts >= self.starts
    }
}
