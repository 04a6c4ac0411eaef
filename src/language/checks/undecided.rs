//! What the text leaves open, gathered so that it can be said in one hint.
//!
//! Promises: never an error. Must not be here: parameters without a value, which reading tells.

use super::{codes, scan};
use crate::language::finding::Finding;
use crate::language::recipe::{Form, Recipe, Setting, Statement, StatementKind, Switch, ZeroThrottle};
use crate::language::span::Span;

/// What would decide it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Needs {
    /// A board sheet.
    Sheet,
    /// A radio card, or the switch found at the bench.
    Card,
    /// Where a switch rests on link loss, said, found or on a radio card: nothing else ever tells.
    LinkLoss(Switch),
    /// What the board does at zero throttle; of no matter where it can run motors by itself.
    ZeroThrottle,
    /// A reading of the board.
    Board,
    /// What the board has bound before: the recipe binds it nowhere above.
    Bound,
}

/// One thing left open.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Open {
    /// What would decide it.
    pub needs: Needs,
    /// Where.
    pub span: Span,
    /// What is open, in a few words.
    pub words: String,
}

/// Everything that the text leaves open.
#[must_use]
pub fn open(recipe: &Recipe) -> Vec<Open> {
    let mut all = Vec::new();
    let mut add = |needs, span: &Span, words: String| all.push(Open { needs, span: span.clone(), words });
    let title = recipe.boards.first().map_or(&recipe.title.span, |board| &board.span);
    add(Needs::Sheet, title, "which words, functions and limits the board has".to_owned());
    let loss_is_found = recipe.statements.iter().any(|s| matches!(s.what, StatementKind::FindLinkLoss { .. }));
    let switches = scan::switches(recipe);
    let zero = recipe.statements.iter().find_map(|s| match s.what {
        StatementKind::AtZeroThrottle(zero) => Some(zero),
        _ => None,
    });
    for (index, statement) in recipe.statements.iter().enumerate() {
        match &statement.what {
            StatementKind::TestBuzzer => {
                let binds = |s: &Statement| match &s.what {
                    StatementKind::Bind { function, .. } => function.0 == "buzzer",
                    StatementKind::Waiting { form, .. } => *form == Form::Bind,
                    _ => false,
                };
                if !recipe.statements[..index].iter().any(binds) {
                    add(
                        Needs::Bound,
                        &statement.span,
                        "whether the buzzer is on a switch, as nothing binds it".to_owned(),
                    );
                }
            }
            StatementKind::Set { setting: Setting::Raw(name), .. } => {
                add(Needs::Sheet, &statement.span, format!("whether the board has \"{name}\", and what it can do"));
            }
            StatementKind::Bind { function, switch, .. } => {
                // A switch that nothing introduces is an error already, and so is a line that says it with one in it.
                let Some(known) = switches.get(switch) else { continue };
                let said = known.first.map(|first| &recipe.statements[first].what);
                if said.is_none_or(|what| matches!(what, StatementKind::Waiting { .. })) {
                    continue;
                }
                if known.positions.is_none() {
                    add(Needs::Card, &statement.span, format!("how many positions switch {} has", switch.0));
                }
                let said = known.declared.is_some_and(|declared| declared.on_loss.is_some());
                if function.is_arm() && !said && !loss_is_found {
                    let words = format!("where switch {} rests on link loss", switch.0);
                    add(Needs::LinkLoss(switch.clone()), &statement.span, words);
                }
            }
            StatementKind::IdleSearch(_) => match zero {
                Some(ZeroThrottle::Rest) => {
                    let words = "motors rest at zero throttle: whether the board can run them by itself";
                    add(Needs::Sheet, &statement.span, words.to_owned());
                }
                Some(ZeroThrottle::Spin) => {}
                None => {
                    add(Needs::ZeroThrottle, &statement.span, "whether motors spin at zero throttle".to_owned());
                }
            },
            _ => {}
        }
    }
    all
}

/// One hint about everything that is still open; `None` where nothing is.
#[must_use]
pub fn hint(open: &[Open]) -> Option<Finding> {
    let first = open.first()?;
    let things = if open.len() == 1 { "one thing is".to_owned() } else { format!("{} things are", open.len()) };
    let mut finding =
        Finding::suggestion(codes::UNDECIDED, &first.span, format!("{things} left open here: {}", first.words));
    for other in &open[1..] {
        finding = finding.also(&other.span, other.words.clone());
    }
    let has = |needs| open.iter().any(|o| o.needs == needs);
    let loss = open.iter().any(|open| matches!(open.needs, Needs::LinkLoss(_)));
    if has(Needs::Sheet) {
        finding = finding.hint("name the board's sheet with --sheet");
    }
    if has(Needs::Card) {
        finding = finding
            .hint("name the radio's card with --radio, or leave it to the bench, which finds it before it is used");
    }
    if has(Needs::Bound) {
        finding =
            finding.hint("write `bind buzzer to switch …` above, unless the board has it on a switch that is known");
    }
    if loss {
        finding = finding.hint(
            "write `find link loss` above, or say it: `switch … on link loss flagged`; a run goes on without, and would \
             not see that a lost link arms",
        );
    }
    Some(finding)
}
