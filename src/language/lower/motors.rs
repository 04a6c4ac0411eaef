//! Motors and their proofs: `test`, `idle`, `signal`, `at zero throttle`.

use super::Lower;
use crate::language::codes;
use crate::language::finding::Finding;
use crate::language::grammar::{Rule, expectation};
use crate::language::quantity_kind::QuantityKind;
use crate::language::recipe::{IdleSearch, Part, StatementKind, ZeroThrottle};
use crate::language::tree::{Pair, Pairs};
use crate::language::units::Pulse;
use crate::measure::signal_timing::MotorSignal;
use std::time::Duration;

/// Where the sticks rest, and how close, if a recipe does not say (*common practice*: normal gimbals centre
/// within 5 µs).
pub(crate) const CENTRE: (Pulse, Pulse) = (Pulse(1500), Pulse(5));
/// Lower end, upper end, how close, if a recipe does not say.
pub(crate) const ENDS: (Pulse, Pulse, Pulse) = (Pulse(1000), Pulse(2000), Pulse(15));
/// How soon outputs rest after the arm switch goes off, if a recipe does not say.
pub(crate) const CUT_WITHIN: Duration = Duration::from_millis(250);
/// How soon outputs rest after the link is lost, if a recipe does not say.
pub(crate) const FAILSAFE_WITHIN: Duration = Duration::from_secs(3);

impl<'a> Lower<'_, 'a> {
    pub(super) fn test(&mut self, pair: Pair<'a>) -> Option<StatementKind> {
        let rule = pair.as_rule();
        let mut clauses =
            self.clauses(pair.into_inner(), &[Rule::centre, Rule::ends, Rule::in_starts, Rule::within_time]);
        let mut within = |lower: &mut Self, default: Duration| match clauses.value(Rule::within_time) {
            Some(pair) => lower.duration(Part::Within, pair),
            None => Some(default),
        };
        Some(match rule {
            Rule::test_cut => StatementKind::TestCut { within: within(self, CUT_WITHIN)? },
            Rule::test_failsafe => StatementKind::TestFailsafe { within: within(self, FAILSAFE_WITHIN)? },
            Rule::test_idle => StatementKind::TestIdle {
                starts: match clauses.value(Rule::in_starts) {
                    Some(pair) => Some(self.count(Part::Starts, pair)?),
                    None => None,
                },
            },
            Rule::test_sticks => {
                let centre = clauses.values(Rule::centre).map(|pairs| self.pulses(Part::Value, pairs));
                let ends = clauses.values(Rule::ends).map(|pairs| self.pulses(Part::Limit, pairs));
                let centre = match centre.as_deref() {
                    None => CENTRE,
                    Some([centre, within]) => ((*centre)?, (*within)?),
                    Some(_) => return None,
                };
                let ends = match ends.as_deref() {
                    None => ENDS,
                    Some([low, high, within]) => ((*low)?, (*high)?, (*within)?),
                    Some(_) => return None,
                };
                StatementKind::TestSticks { centre, ends }
            }
            Rule::test_motors => StatementKind::TestMotors,
            Rule::test_attitude => StatementKind::TestAttitude,
            Rule::test_arm => StatementKind::TestArm,
            Rule::test_buzzer => StatementKind::TestBuzzer,
            _ => return None,
        })
    }

    /// The pulses of a clause whose last is how close the others must come.
    fn pulses(&mut self, part: Part, pairs: impl Iterator<Item = Pair<'a>>) -> Vec<Option<Pulse>> {
        let pairs: Vec<_> = pairs.collect();
        let last = pairs.len().saturating_sub(1);
        let part = |index| if index == last { Part::Within } else { part };
        pairs.iter().enumerate().map(|(index, pair)| self.pulse(part(index), *pair)).collect()
    }

    pub(super) fn idle(&mut self, pair: Pair<'a>) -> Option<StatementKind> {
        let rule = pair.as_rule();
        let mut inner = pair.into_inner();
        if rule == Rule::idle_at {
            return self.idle_value(inner.nth(1)?).map(StatementKind::IdleAt);
        }
        let start = self.pulse(Part::Start, inner.clone().nth(2)?);
        let mut clauses = self.clauses(
            inner,
            &[
                Rule::search_step,
                Rule::search_until,
                Rule::search_by_hand,
                Rule::search_limit,
                Rule::search_dwell,
                Rule::in_starts,
                Rule::search_margin,
            ],
        );
        let step = clauses.value(Rule::search_step);
        if step.is_none() {
            self.missing("`step`: how far the pulse width rises after each failed value", "step 25 us");
        }
        // Every clause is read before any is missed, so that each finding is made.
        let step = step.and_then(|pair| self.pulse(Part::Step, pair));
        let (until, by_hand) = (clauses.take(Rule::search_until), clauses.take(Rule::search_by_hand));
        match (&until, &by_hand) {
            (None, None) => self.missing("`until all spin`: what ends the search", "until all spin"),
            (Some(until), Some(by_hand)) => {
                let (until, by_hand) = (self.place(*until), self.place(*by_hand));
                self.fail(
                    Finding::error(codes::REPEATED_CLAUSE, by_hand, "a search is stepped by hand or ends by itself")
                        .also(until, "it ends by itself, by this")
                        .hint("keep one of the two"),
                );
            }
            _ => {}
        }
        if let Some(by_hand) = &by_hand {
            self.part(Part::ByHand, *by_hand);
        }
        let at_most = clauses.value(Rule::search_limit).map(|pair| self.pulse(Part::Limit, pair));
        let dwell = clauses.value(Rule::search_dwell).map(|pair| self.duration(Part::Dwell, pair));
        let starts = clauses.value(Rule::in_starts).map(|pair| self.count(Part::Starts, pair));
        let then_add = clauses.value(Rule::search_margin).map(|pair| self.pulse(Part::Margin, pair));
        Some(StatementKind::IdleSearch(IdleSearch {
            start: start?,
            step: step?,
            by_hand: by_hand.is_some(),
            at_most: all_or_none(at_most)?,
            dwell: all_or_none(dwell)?,
            starts: all_or_none(starts)?,
            then_add: all_or_none(then_add)?,
        }))
    }

    pub(super) fn signal(&mut self, inner: Pairs<'a>) -> Option<StatementKind> {
        let signal = self.motor_signal(inner.clone().nth(1)?);
        let mut clauses = self.clauses(inner, &[Rule::at_rate]);
        let rate = clauses.value(Rule::at_rate).map(|pair| self.frequency(Part::Rate, pair));
        Some(StatementKind::Signal { signal: signal?, rate: all_or_none(rate)? })
    }

    /// A motor signal, or what stands for a parameter all of whose words are motor signals.
    fn motor_signal(&mut self, pair: Pair<'a>) -> Option<MotorSignal> {
        self.part(Part::Subject, pair);
        let inner = pair.into_inner().next()?;
        let place = self.place(pair);
        let all: Vec<&str> = MotorSignal::ALL.iter().map(|signal| signal.word()).collect();
        let declared = self.table.declared(self.parsed.file, inner.as_str());
        let foreign =
            self.table.words(self.parsed.file, inner.as_str()).iter().find(|word| !all.contains(&word.as_str()));
        if let (Some(word), Some(declared)) = (foreign, &declared) {
            let message = format!("`{}` may be `{word}`, which is no motor signal", inner.as_str());
            let finding = Finding::error(codes::OTHER_KIND, place, message).also(declared, "its list");
            self.fail(finding.hint(format!("motor signals are {}", all.join(", "))));
            return None;
        }
        let word = self.word(QuantityKind::Word, inner)?;
        let signal = MotorSignal::from_word(&word);
        if signal.is_none() {
            let finding = Finding::error(
                codes::UNEXPECTED,
                place.clone(),
                format!("`{word}` stands where {} was expected", expectation(Rule::motor_signal).0),
            );
            // `oneshot` and `dshot-300` mean one signal; `dshot` alone could be three.
            let bare = word.replace('-', "");
            let mut meant = all.iter().filter(|signal| signal.starts_with(&bare));
            let fixed = match (meant.next(), meant.next()) {
                (Some(meant), None) => finding.replace(format!("write `{meant}`"), &place, *meant),
                _ => finding,
            };
            self.fail(fixed);
        }
        signal
    }

    pub(super) fn zero_throttle(&mut self, inner: Pairs<'a>) -> Option<StatementKind> {
        let word = inner.last()?;
        self.part(Part::Value, word);
        Some(StatementKind::AtZeroThrottle(if word.as_rule() == Rule::kw_spin {
            ZeroThrottle::Spin
        } else {
            ZeroThrottle::Rest
        }))
    }
}

/// A clause that is not there is well; one that is there and bad is not.
#[expect(clippy::option_option, reason = "the outer: was it written; the inner: was it well")]
fn all_or_none<T>(clause: Option<Option<T>>) -> Option<Option<T>> {
    match clause {
        None => Some(None),
        Some(value) => value.map(Some),
    }
}
