//! From parse trees to typed statements: units judged, defaults filled in, clauses counted.
//!
//! Promises: a statement comes out typed, or [`StatementKind::Waiting`] for a parameter, or not at all with a
//! finding that says why. Must not be here: what statements mean to each other (see `checks`).

mod conditions;
pub(crate) mod motors;
mod radio;
pub(crate) mod text;
pub(crate) mod values;

use super::canonical::statement::written;
use super::codes;
use super::finding::{Finding, repeated_clause};
use super::givens::Table;
use super::grammar::Rule;
use super::quantity_kind::is_value;
use super::recipe::{Part, Statement, StatementKind, Switch};
use super::span::Span;
use super::statement::Form;
use super::syntax::Parsed;
use super::tree::Pair;
use text::unquote;

/// Turns one parsed statement into a typed one. Header lines give `None` without a finding.
pub(crate) fn statement(
    parsed: &Parsed<'_>,
    index: usize,
    table: &Table,
    findings: &mut Vec<Finding>,
) -> Option<Statement> {
    let mut lower =
        Lower { parsed, index, table, findings, parts: Vec::new(), waiting: Vec::new(), switch: None, failed: false };
    let what = lower.what(parsed.root());
    let Lower { parts, waiting, switch, failed, .. } = lower;
    let what = match what {
        // What is wrong with one value hides nothing else: the statement stands as far as it is known.
        _ if failed => wait(parsed.root(), Vec::new(), switch)?,
        Some(what) if waiting.is_empty() => what,
        _ if waiting.is_empty() => return None,
        // What nobody has named is taken for what can do anything.
        _ => wait(parsed.root(), waiting.clone(), switch).unwrap_or(StatementKind::Waiting {
            form: Form::Set,
            names: waiting,
            declares: None,
        }),
    };
    Some(Statement { what, span: parsed.span.clone(), parts, written: written(parsed, table) })
}

/// The statement as far as it is known without its parameters.
fn wait(tree: Pair<'_>, all: Vec<String>, switch: Option<Switch>) -> Option<StatementKind> {
    let mut names: Vec<String> = Vec::new();
    for name in all {
        if !names.contains(&name) {
            names.push(name);
        }
    }
    let inner = || tree.deep().skip(1);
    let has = |rule: Rule| inner().any(|pair| pair.as_rule() == rule);
    let (form, declares) = match tree.as_rule() {
        Rule::declare_switch => (Form::DeclareSwitch, switch),
        Rule::find => (Form::FindSwitch, switch),
        Rule::test if has(Rule::test_idle) => (Form::TestIdle, None),
        Rule::test if has(Rule::test_cut) => (Form::TestCut, None),
        Rule::test if has(Rule::test_failsafe) => (Form::TestFailsafe, None),
        Rule::test if has(Rule::test_sticks) => (Form::TestSticks, None),
        Rule::idle if has(Rule::idle_search) => (Form::IdleSearch, None),
        Rule::idle => (Form::IdleAt, None),
        Rule::require if has(Rule::require_level) => (Form::RequireLevel, None),
        Rule::require if has(Rule::require_switch) => (Form::RequireSwitch, None),
        Rule::require if has(Rule::require_battery_least) => (Form::RequireBattery, None),
        Rule::expect => (Form::Expect, None),
        Rule::receiver => (Form::Receiver, None),
        Rule::bind => (Form::Bind, None),
        Rule::signal => (Form::Signal, None),
        Rule::board_turned => (Form::BoardTurned, None),
        Rule::failsafe => (Form::Failsafe, None),
        Rule::battery => (Form::Battery, None),
        Rule::set => (Form::Set, None),
        _ => return None,
    };
    Some(StatementKind::Waiting { form, names, declares })
}

struct Lower<'c, 'a> {
    parsed: &'a Parsed<'a>,
    /// Which statement of the whole recipe this is.
    index: usize,
    table: &'c Table,
    findings: &'c mut Vec<Finding>,
    parts: Vec<(Part, Span)>,
    /// Parameters without a value that it uses.
    waiting: Vec<String>,
    /// The switch that it names.
    switch: Option<Switch>,
    failed: bool,
}

impl<'a> Lower<'_, 'a> {
    fn what(&mut self, tree: Pair<'a>) -> Option<StatementKind> {
        let rule = tree.as_rule();
        let mut inner = tree.into_inner();
        Some(match rule {
            Rule::require => StatementKind::Require(self.require(inner.nth(1)?)?),
            Rule::expect => {
                let (setting, value) = self.setting_and_value(inner)?;
                StatementKind::Expect { setting, value }
            }
            Rule::set => {
                let (setting, value) = self.setting_and_value(inner)?;
                StatementKind::Set { setting, value }
            }
            Rule::receiver => return self.receiver(inner),
            Rule::channels => return self.channels(inner),
            Rule::declare_switch => return self.declare_switch(inner),
            Rule::find => return self.find(inner.nth(1)?),
            Rule::test => return self.test(inner.nth(1)?),
            Rule::bind => return self.bind(inner),
            Rule::unbind => StatementKind::Unbind(self.function(inner.nth(1)?)),
            Rule::zero_throttle => return self.zero_throttle(inner),
            Rule::idle => return self.idle(inner.nth(1)?),
            Rule::signal => return self.signal(inner),
            Rule::power_cycle => StatementKind::PowerCycle,
            Rule::order_motors => StatementKind::OrderMotors,
            Rule::board_turned => StatementKind::BoardTurned(self.angle(Part::Value, inner.nth(2)?)?),
            Rule::calibrate if inner.nth(1)?.as_rule() == Rule::kw_level => StatementKind::CalibrateLevel,
            Rule::calibrate => StatementKind::CalibrateBattery,
            Rule::failsafe => StatementKind::Failsafe(self.duration(Part::Value, inner.nth(4)?)?),
            Rule::battery => return self.battery(inner),
            Rule::keep => StatementKind::Keep,
            Rule::pause => StatementKind::Pause(self.text(inner.nth(1)?)),
            Rule::note => StatementKind::Note(self.text(inner.nth(1)?)),
            _ => return None,
        })
    }

    fn place(&self, pair: Pair<'_>) -> Span {
        self.parsed.place(pair)
    }

    /// Notes the place of a part.
    fn part(&mut self, part: Part, pair: Pair<'_>) {
        self.parts.push((part, self.place(pair)));
    }

    /// Adds an error; the statement is left out.
    fn fail(&mut self, finding: Finding) {
        self.failed = true;
        self.findings.push(finding);
    }

    /// A text in quotes that a person will read.
    fn text(&mut self, pair: Pair<'_>) -> String {
        self.part(Part::Subject, pair);
        let text = unquote(pair.as_str());
        if text.trim().is_empty() {
            self.fail(
                Finding::error(codes::EMPTY_TEXT, self.place(pair), "this text is empty: nothing would be shown")
                    .hint("write what the person at the bench should read"),
            );
        }
        text
    }

    /// The clauses of a statement, each once; the first one that stands again is an error that shows both.
    fn clauses(&mut self, inner: impl Iterator<Item = Pair<'a>>, rules: &[Rule]) -> Clauses<'a> {
        let mut clauses = Clauses(Vec::new());
        let mut repeated = false;
        for pair in inner.filter(|pair| rules.contains(&pair.as_rule())) {
            match clauses.0.iter().find(|first| first.as_rule() == pair.as_rule()) {
                Some(_) if repeated => {}
                Some(first) => {
                    repeated = true;
                    let first = self.place(*first);
                    let finding = repeated_clause(self.place(pair), first);
                    self.findings.push(finding);
                }
                None => clauses.0.push(pair),
            }
        }
        clauses
    }

    /// Reports a clause that is not there.
    fn missing(&mut self, words: &str, example: &str) {
        let span = self.parsed.span.clone();
        let end = Span { file: span.file, range: span.range.end..span.range.end };
        let finding = Finding::error(codes::MISSING_CLAUSE, span, format!("this statement needs {words}"));
        self.fail(finding.replace(format!("add `{example}`"), end, format!(" {example}")));
    }
}

/// The clauses of one statement.
struct Clauses<'a>(Vec<Pair<'a>>);

impl<'a> Clauses<'a> {
    /// Takes the clause of a rule.
    fn take(&mut self, rule: Rule) -> Option<Pair<'a>> {
        let at = self.0.iter().position(|pair| pair.as_rule() == rule)?;
        Some(self.0.swap_remove(at))
    }

    /// Takes the values in the clause of a rule, keywords left out.
    fn values(&mut self, rule: Rule) -> Option<impl Iterator<Item = Pair<'a>> + use<'a>> {
        self.take(rule).map(|pair| pair.into_inner().filter(|inner| is_value(inner.as_rule())))
    }

    /// Takes the only value in the clause of a rule.
    fn value(&mut self, rule: Rule) -> Option<Pair<'a>> {
        self.values(rule)?.next()
    }
}
