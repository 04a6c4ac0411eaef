//! The idle search: does it go up, does it end, does it stay under the ceilings?

use super::codes;
use crate::language::ceilings;
use crate::language::finding::Finding;
use crate::language::recipe::{IdleSearch, Part, Recipe, Statement, StatementKind};
use crate::language::units::{Pulse, time};

pub(super) fn check(recipe: &Recipe, found: &mut Vec<Finding>) {
    for statement in &recipe.statements {
        match &statement.what {
            StatementKind::IdleSearch(search) => {
                by_hand(search, statement, found);
                pulses(search, statement, found);
                values(search, statement, found);
                starts(search.starts, statement, found);
                dwell(search, statement, found);
            }
            StatementKind::TestIdle { starts: count } => starts(*count, statement, found),
            _ => {}
        }
    }
}

/// A file has nobody at its keys.
fn by_hand(search: &IdleSearch, statement: &Statement, found: &mut Vec<Finding>) {
    if search.by_hand {
        let message =
            "stepping an idle by hand needs somebody at the bench prompt: a run of this recipe would be refused";
        let place = statement.part(Part::ByHand);
        found.push(
            Finding::error(codes::STEPPED_BY_HAND, place, message)
                .hint("at the prompt of `quadjig bench` this line is taken, and `write` there makes a recipe of its result")
                .replace("write `until all spin`", place, "until all spin"),
        );
    }
}

/// A finding about a value beyond a built-in ceiling.
pub(super) fn above_ceiling(place: &crate::language::span::Span, message: String, advice: String) -> Finding {
    Finding::error(codes::ABOVE_CEILING, place, message).hint(advice)
}

fn pulses(search: &IdleSearch, statement: &Statement, found: &mut Vec<Finding>) {
    let ceiling = ceilings::PULSE;
    let highest = [(Part::Start, Some(search.start), "starts at"), (Part::Limit, search.at_most, "goes up to")];
    for (part, pulse, does) in highest {
        if let Some(pulse) = pulse.filter(|pulse| *pulse > ceiling) {
            let message = format!(
                "the search {does} {pulse}: motors without propellers would race, and the bench never goes above {ceiling}"
            );
            found.push(above_ceiling(statement.part(part), message, format!("write at most {ceiling}")));
        }
    }
    if search.step > ceilings::STEP {
        let message = format!("in steps of {} a motor could leap from still to fast in one step", search.step);
        found.push(above_ceiling(statement.part(Part::Step), message, format!("write at most {}", ceilings::STEP)));
    }
    if let Some(margin) = search.then_add.filter(|margin| margin.0 < 0) {
        let message =
            format!("a margin of {margin} takes the idle below what was proved: motors could stop in the air");
        found.push(
            Finding::error(codes::NOTHING_TO_PROVE, statement.part(Part::Margin), message).hint("write 0 or more"),
        );
    }
}

/// The values that would be tried: from start in steps to the limit minus the margin.
fn values(search: &IdleSearch, statement: &Statement, found: &mut Vec<Finding>) {
    if search.step.0 <= 0 {
        let message = format!("with a step of {} the search would try {} for ever", search.step, search.start);
        found.push(
            Finding::error(codes::STEP_ZERO, statement.part(Part::Step), message)
                .hint("write a step above 0, such as 10 us"),
        );
        return;
    }
    let (margin, limit) = (search.margin(), search.limit());
    if search.at_most.is_some() && search.start > limit {
        if search.start <= ceilings::PULSE {
            let message = format!(
                "the search starts at {}, above its own limit of {limit}: it would end before the first start",
                search.start
            );
            found.push(
                Finding::error(codes::START_ABOVE_LIMIT, statement.part(Part::Start), message)
                    .also(statement.part(Part::Limit), "the limit"),
            );
        }
        return;
    }
    let last = limit.0.saturating_sub(margin.0);
    if search.start.0 > last && search.start <= ceilings::PULSE {
        let place = if search.at_most.is_some() { Part::Limit } else { Part::Start };
        let message = format!(
            "nothing is left to try: the limit of {limit} less the margin of {margin} is {}, below the start at {}",
            Pulse(last),
            search.start
        );
        let advice =
            "`at most` bounds what stays on the board, margin included: raise it, or lower the start or the margin";
        found.push(Finding::error(codes::NO_VALUES, statement.part(place), message).hint(advice));
        return;
    }
    let count = search.value_count(limit);
    if count > ceilings::VALUES {
        let message = format!(
            "the search would try up to {count} values, each with starts of its own: hot motors and an empty pack"
        );
        let advice = format!("at most {} values: write a larger step or a nearer limit", ceilings::VALUES);
        found.push(Finding::error(codes::TOO_MANY_VALUES, statement.part(Part::Step), message).hint(advice));
    }
}

fn starts(count: Option<u32>, statement: &Statement, found: &mut Vec<Finding>) {
    let place = statement.part(Part::Starts);
    match count {
        Some(0) => {
            let message = "no start at all would prove nothing: any idle would pass";
            found.push(Finding::error(codes::NOTHING_TO_PROVE, place, message).hint("write at least 1; 3 is usual"));
        }
        Some(count) if count > ceilings::STARTS => {
            let message = format!("{count} starts of one value would heat the motors more than they prove");
            found.push(above_ceiling(place, message, format!("write at most {}", ceilings::STARTS)));
        }
        _ => {}
    }
}

fn dwell(search: &IdleSearch, statement: &Statement, found: &mut Vec<Finding>) {
    let Some(dwell) = search.dwell else { return };
    let place = statement.part(Part::Dwell);
    if dwell.is_zero() {
        let message = "a dwell of nothing shows no motor turning: no value could pass";
        found.push(Finding::error(codes::NOTHING_TO_PROVE, place, message).hint("write a time such as 2 s"));
    } else if dwell > ceilings::DWELL {
        let message = format!("each start would turn the motors for {}: too long for their heat", time(dwell));
        found.push(above_ceiling(place, message, format!("write at most {}", time(ceilings::DWELL))));
    }
}
