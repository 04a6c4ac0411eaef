//! The session as a recipe: what was kept, in a sound order, with comments saying what was measured.
//!
//! Promises: what is written is formatted and passes `check`; detours are left out. Must not be here: files.

use crate::bench::interactive::draft::{Kept, Wrong, read, text_of};
use crate::bench::interactive::held::Standing;
use crate::language::finding::Severity;
use crate::language::format::format;
use crate::language::recipe::{StatementKind, Switch};
use crate::language::search::STARTS;
use crate::language::statement::Require;
use crate::language::turning::{Purpose, purpose};
use crate::plan::checks;

/// How an idle is searched, for who has one that was set by hand.
const SEARCH: &str = "idle start at 1100 us step 25 us until all spin, at most 1250 us, then add 25 us";
/// Columns of a comment.
const WIDTH: usize = 100;

/// Where a statement belongs, and the comment above its block.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Block {
    Conditions,
    Radio,
    Unpowered,
    Shown,
    Powered,
    Idle,
    Proof,
    Words,
}

impl Block {
    fn comment(self) -> &'static str {
        match self {
            Self::Conditions => "What must be true before anything goes on.",
            Self::Radio => "Battery out: the radio.",
            Self::Unpowered => "Battery out: functions on switches, failsafe, motors, alarms.",
            Self::Shown => "Battery out: proof.",
            Self::Powered => "Battery in.",
            Self::Idle => "Battery in: the idle.",
            Self::Proof => "Proof.",
            Self::Words => "At the end.",
        }
    }
}

/// The block of a statement and its place within; `None` for what a recipe does without. What was proved before the
/// battery went in stays before, and tests in the order in which they were made.
fn place(kept: &Kept) -> Option<(Block, u32)> {
    use Block::{Conditions, Idle, Powered, Proof, Radio, Shown, Unpowered, Words};
    let proof = if kept.powered { Proof } else { Shown };
    Some(match &kept.statement.what {
        StatementKind::Require(Require::PropsOff) => (Conditions, 0),
        StatementKind::Require(Require::AntennaOn) => (Conditions, 1),
        StatementKind::Require(Require::Battery { inside: false }) => (Conditions, 2),
        StatementKind::Require(Require::Level(_)) if !kept.powered => (Conditions, 6),
        StatementKind::Require(Require::Attest(_)) => (Conditions, 4),
        StatementKind::Require(Require::ThrottleLow | Require::Disarmed) => (Conditions, 5),
        StatementKind::Receiver { .. } => (Radio, 0),
        StatementKind::Channels(_) => (Radio, 1),
        StatementKind::FindSticks { .. } => (Radio, 2),
        StatementKind::TestSticks { .. } => (Radio, 3),
        StatementKind::DeclareSwitch { .. } => (Radio, 4),
        StatementKind::FindSwitch { .. } => (Radio, 5),
        StatementKind::Require(Require::SwitchPosition { .. }) => (Radio, 6),
        StatementKind::FindLinkLoss { .. } => (Radio, 7),
        StatementKind::BoardTurned(_) => (Unpowered, 0),
        StatementKind::TestAttitude => (Unpowered, 1),
        StatementKind::Unbind(_) => (Unpowered, 2),
        StatementKind::Bind { .. } => (Unpowered, 3),
        StatementKind::AtZeroThrottle(_) => (Unpowered, 4),
        StatementKind::Signal { .. } => (Unpowered, 5),
        StatementKind::Failsafe(_) => (Unpowered, 6),
        StatementKind::Battery { .. } => (Unpowered, 7),
        StatementKind::Set { .. } => (Unpowered, 8),
        StatementKind::IdleAt(_) => (Unpowered, 9),
        StatementKind::PowerCycle => (Powered, 0),
        StatementKind::Require(Require::Battery { inside: true }) => (Powered, 1),
        StatementKind::Require(Require::BatteryAtLeast(_)) => (Powered, 2),
        StatementKind::TestMotors | StatementKind::OrderMotors => (Powered, 3),
        StatementKind::CalibrateLevel => (Powered, 4),
        StatementKind::CalibrateBattery => (Powered, 5),
        StatementKind::Require(Require::Level(_)) => (Powered, 6),
        StatementKind::IdleSearch(_) => (Idle, 0),
        StatementKind::TestIdle { .. }
        | StatementKind::TestArm
        | StatementKind::TestCut { .. }
        | StatementKind::TestFailsafe { .. }
        | StatementKind::TestBuzzer => (proof, 0),
        StatementKind::Note(_) => (Words, 0),
        // A pause belonged to the hour; `keep` stands where it is needed; the rest never gets here.
        StatementKind::Pause(_)
        | StatementKind::Keep
        | StatementKind::Expect { .. }
        | StatementKind::Waiting { .. } => return None,
    })
}

/// Lines for the comment at the top, and the statements for the one at the end, which are not done.
type Comments<'c> = (&'c [String], &'c [&'c str]);

/// Writes the session out, with what the craft holds beside it.
///
/// # Errors
/// Findings of the recipe: then it would not do again what the session did.
pub fn recipe(standing: Standing<'_>, kept: &[Kept], (about, left): Comments<'_>) -> Result<String, Wrong> {
    let own: Vec<Kept> = said_last(kept).filter(|kept| standing.stands(kept)).cloned().collect();
    let beside = standing.beside(&own);
    if !beside.is_empty() {
        let about = [about, &["What stood on that craft before the session is in it as well.".to_owned()]].concat();
        let whole = written(standing, &[beside, own.clone()].concat(), (&about, left));
        // What the craft holds and no recipe can say in one is left out rather than changed.
        if let Ok(text) = whole
            && standing.plans_to_nothing(&text)
        {
            return Ok(text);
        }
    }
    written(standing, &own, (about, left))
}

/// What the next craft has anew, and what it has not: an idle without its search is a copy.
fn of_the_next(kept: &[Kept]) -> Vec<String> {
    let measured = kept.iter().any(|kept| !kept.measured.is_empty());
    let copied = kept.iter().find(|kept| matches!(kept.statement.what, StatementKind::IdleAt(_)));
    let mut all = Vec::new();
    match copied {
        Some(idle) => {
            let idle = &idle.text;
            all.push(format!(
                "NOT SEARCHED ANEW: `{idle}` was set by hand, and is copied to every craft that this is run on. \
                 Motors differ: on another craft take that line out, and the # away before `idle start` and the `keep` \
                 below it."
            ));
            if measured {
                all.push(
                    "What else was measured is true of that craft; the next one is found and tested anew.".to_owned(),
                );
            }
        }
        None if measured => all.push(
            "What was measured is true of that craft; the next one is found, searched and tested anew.".to_owned(),
        ),
        None => {}
    }
    all
}

/// The search that belongs where a copied idle would be searched, as a comment.
fn search_instead(idle: &Kept) -> [String; 4] {
    let why = format!("# On another craft, in the place of `{}`:", idle.text);
    [String::new(), why, format!("# {SEARCH}"), "# keep".to_owned()]
}

fn written(standing: Standing<'_>, kept: &[Kept], (about, left): Comments<'_>) -> Result<String, Wrong> {
    let (head, sheet) = (standing.head, &standing.knows.sheet);
    let mut lines: Vec<String> = Vec::new();
    let mut placed: Vec<((Block, u32), &Kept)> =
        kept.iter().filter_map(|kept| place(kept).map(|place| (place, kept))).collect();
    placed.sort_by_key(|(place, _)| *place);
    let is_out =
        |kept: &Kept| matches!(kept.statement.what, StatementKind::Require(Require::Battery { inside: false }));
    let unpowered =
        placed.iter().any(|((block, _), _)| matches!(block, Block::Radio | Block::Unpowered | Block::Shown));
    // What is done without the battery asks for it to be out, whether or not the session said so.
    let mut out_missing = unpowered && !placed.iter().any(|(_, kept)| is_out(kept));
    let mut block = None;
    let mut unkept = false;
    let mut copied = kept.iter().find(|kept| matches!(kept.statement.what, StatementKind::IdleAt(_)));
    for ((now, _), kept) in placed {
        if block != Some(now) {
            if unkept && now >= Block::Shown {
                lines.push("keep".to_owned());
                unkept = false;
            }
            if now > Block::Conditions && std::mem::take(&mut out_missing) {
                lines.extend((block.is_none()).then(String::new));
                lines.push("require battery out".to_owned());
            }
            if now >= Block::Idle {
                lines.extend(copied.take().into_iter().flat_map(search_instead));
            }
            lines.extend([String::new(), format!("# {}", now.comment())]);
            block = Some(now);
        }
        lines.extend(measured(kept));
        lines.push(once(kept));
        unkept |= purpose(&kept.statement.what) == Purpose::Sets;
    }
    if unkept {
        lines.push("keep".to_owned());
    }
    lines.extend(copied.into_iter().flat_map(search_instead));
    if !left.is_empty() {
        lines.extend([String::new(), "# Not done yet on this craft:".to_owned()]);
        lines.extend(left.iter().map(|text| format!("#     {text}")));
    }
    let of_the_next = of_the_next(kept).into_iter().flat_map(|line| comment(&line));
    let top = about.iter().map(|line| format!("# {line}")).chain(of_the_next).collect::<Vec<_>>().join("\n");
    let text = text_of(&format!("{top}\n\n{head}"), lines.iter().map(String::as_str));
    let text = format(&text).map_err(|findings| Wrong { files: read(&text).files, findings })?;
    let reading = read(&text);
    let mut findings = checks::reading(&reading, std::slice::from_ref(sheet), None);
    findings.retain(|found| found.severity == Severity::Error);
    if findings.is_empty() { Ok(text) } else { Err(Wrong { files: reading.files, findings }) }
}

/// Of statements that say the same again, the last; of finds of one switch, the first, as a radio card knows it then.
fn said_last(kept: &[Kept]) -> impl Iterator<Item = &Kept> {
    let found = |kept: &Kept| match &kept.statement.what {
        StatementKind::FindSwitch { switch, .. } => Some(switch.clone()),
        _ => None,
    };
    kept.iter().enumerate().filter_map(move |(index, one)| {
        let again = kept[index + 1..].iter().any(|later| {
            let same_switch = found(one).zip(found(later)).is_some_and(|(a, b): (Switch, Switch)| a == b);
            later.text == one.text || same_switch || is_as_strong(&later.statement.what, &one.statement.what)
        });
        let again =
            again || kept[..index].iter().any(|earlier| is_stronger(&earlier.statement.what, &one.statement.what));
        (!again && !is_unused(one, kept)).then_some(one)
    })
}

/// Whether the one tests the idle in at least as many starts as the other.
fn is_as_strong(one: &StatementKind, other: &StatementKind) -> bool {
    let starts = |what: &StatementKind| match what {
        StatementKind::TestIdle { starts } => Some(starts.unwrap_or(STARTS)),
        _ => None,
    };
    starts(one).zip(starts(other)).is_some_and(|(one, other)| one >= other)
}

fn is_stronger(one: &StatementKind, other: &StatementKind) -> bool {
    is_as_strong(one, other) && !is_as_strong(other, one)
}

/// Whether it declares a switch that nothing uses any more.
fn is_unused(one: &Kept, kept: &[Kept]) -> bool {
    let StatementKind::DeclareSwitch { switch: declared, .. } = &one.statement.what else { return false };
    !kept.iter().any(|other| {
        let (StatementKind::Bind { switch, .. } | StatementKind::Require(Require::SwitchPosition { switch, .. })) =
            &other.statement.what
        else {
            return false;
        };
        switch == declared
    })
}

/// A find is written without `anew`: the next craft confirms what is known.
fn once(kept: &Kept) -> String {
    match &kept.statement.what {
        StatementKind::FindSwitch { .. } | StatementKind::FindLinkLoss { .. } | StatementKind::FindSticks { .. } => {
            kept.text.split_whitespace().filter(|word| *word != "anew").collect::<Vec<_>>().join(" ")
        }
        _ => kept.text.clone(),
    }
}

fn measured(kept: &Kept) -> Vec<String> {
    let day = kept.at.get(..10).unwrap_or(&kept.at);
    let volts =
        kept.volts.filter(|volts| *volts > 1.0).map_or_else(String::new, |volts| format!(", pack {volts:.2} V"));
    kept.measured.iter().flat_map(|sentence| comment(&format!("Measured {day}{volts}: {sentence}"))).collect()
}

/// A comment of as many lines as it takes.
fn comment(text: &str) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(last) if last.chars().count() + 1 + word.chars().count() <= WIDTH => {
                last.push(' ');
                last.push_str(word);
            }
            _ => lines.push(format!("# {word}")),
        }
    }
    lines
}
