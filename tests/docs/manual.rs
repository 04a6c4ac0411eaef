//! The language's manual: what it says of statements and words is made from the grammar and the tables of the code.
//!
//! With `QUADJIG_WRITE_DOCS=1` in the environment the page is written anew instead; then read the difference.

use super::{project, text};
use quadjig::board::vocabulary::{ValueKind, WORDS};
use quadjig::language::complete::hint;
use quadjig::language::explain::about;
use quadjig::language::known::Known;
use quadjig::language::read_statement;
use quadjig::language::turning::{Does, does, turns_motors, turns_motors_with_battery};
use quadjig::language::units::Unit;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;

const PAGE: &str = "grammar/manual.md";
/// What is made stands behind this.
const MARK: &str = "docs::manual -->\n";

/// A statement of the grammar, with the comment above its rule.
struct Statement {
    heading: String,
    meaning: String,
    examples: Vec<String>,
}

/// How a statement is called whose rule has another name.
fn heading(rule: &str) -> String {
    match rule {
        "uses" => "use".to_owned(),
        "zero_throttle" => "at zero throttle".to_owned(),
        "declare_switch" => "switch".to_owned(),
        "firmware" => "require firmware".to_owned(),
        other => other.replace('_', " "),
    }
}

/// Parts of the grammar with their statements: those rules whose comments have an example.
fn parts() -> Vec<(String, Vec<Statement>)> {
    let mut parts: Vec<(String, Vec<Statement>)> = Vec::new();
    let mut comment: Vec<String> = Vec::new();
    for line in text("grammar/edition_1.pest").lines() {
        if let Some(title) = line.strip_prefix("// ------") {
            parts.push((title.trim_start_matches('-').trim().to_owned(), Vec::new()));
            comment.clear();
        } else if let Some(words) = line.strip_prefix("//") {
            comment.push(words.to_owned());
        } else if let Some((rule, _)) = line.split_once('=') {
            let (examples, meaning): (Vec<&String>, Vec<&String>) =
                comment.iter().partition(|line| line.starts_with("     "));
            if let (false, Some((_, statements))) = (examples.is_empty(), parts.last_mut()) {
                statements.push(Statement {
                    heading: heading(rule.trim()),
                    meaning: meaning.iter().map(|line| line.trim()).collect::<Vec<_>>().join(" "),
                    examples: examples.iter().map(|line| line.trim().to_owned()).collect(),
                });
            }
            comment.clear();
        } else {
            comment.clear();
        }
    }
    parts.retain(|(_, statements)| !statements.is_empty());
    parts
}

/// How it is written. Lines of the head are not typed at a bench, where such forms are shown.
fn form(heading: &str) -> String {
    let head = match heading {
        "recipe" | "board" => "TEXT",
        "require firmware" => "\"NUMBER.NUMBER[.NUMBER]\"",
        "edition" => "NUMBER",
        "craft" => "(quad x | quad plus | hex x | octo x) [turning (inward | outward)]",
        "given" => {
            "NAME ([default VALUE] [from VALUE to VALUE] | switch [default SWITCH] | one of WORD, … [default WORD]) [TEXT]"
        }
        "use" => "TEXT [with NAME VALUE, …]",
        _ => {
            let rest = hint(&format!("{heading} "), &Known::default()).unwrap_or_default();
            return format!("{heading} {rest}").trim_end().to_owned();
        }
    };
    format!("{heading} {head}")
}

/// What an example can do with motors and the battery; nothing for the head and for what names a parameter.
fn can(example: &str) -> Option<String> {
    let what = read_statement(example).ok()?.what;
    let does = match does(&what) {
        Does::Looks => "looks, says or asks",
        Does::Watches => "has switches, sticks or the radio worked, and watches",
        Does::Writes => "changes settings",
        Does::Keeps => "stores and restarts",
        Does::PlugsIn => "has the battery put in",
        Does::PlugsOut => "has the battery taken out",
        Does::Arms => "has the craft armed",
        Does::RunsBySwitch => "turns motors, started by the arm switch",
        Does::RunsByCommand => "turns motors, by command",
    };
    Some(match (turns_motors(&what), turns_motors_with_battery(&what)) {
        (true, _) => format!("{does}; **can turn a motor**"),
        (false, true) => format!("{does}; can turn a motor while the battery is in"),
        (false, false) => does.to_owned(),
    })
}

fn made() -> String {
    let mut page =
        String::from("\n## Statements\n\nIn a form, square brackets may be left out, and capitals are values.\n");
    let parts = parts();
    let headings: Vec<&str> =
        parts.iter().flat_map(|(_, all)| all).map(|statement| statement.heading.as_str()).collect();
    let mut checks: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
    for (code, line) in crate::language::explain::places() {
        let says =
            |heading: &&&str| line.strip_prefix(**heading).is_some_and(|rest| !rest.starts_with(char::is_alphanumeric));
        if let Some(heading) = headings.iter().filter(says).max_by_key(|heading| heading.len()) {
            checks.entry(heading).or_default().insert(code);
        }
    }
    for (title, statements) in &parts {
        write!(page, "\n### {}\n", capital(title)).unwrap();
        for Statement { heading, meaning, examples } in statements {
            write!(page, "\n#### `{heading}`\n\n{meaning}\n\n```text\n{}\n```\n\nFor example:\n\n", form(heading))
                .unwrap();
            writeln!(page, "| | |\n|---|---|").unwrap();
            for example in examples {
                writeln!(page, "| `{example}` | {} |", can(example).unwrap_or_default()).unwrap();
            }
            if let Some(codes) = checks.get(heading.as_str()) {
                page.push_str("\nChecks of its own:\n\n");
                for code in codes {
                    writeln!(page, "- `{code}` {}", about(code).unwrap()).unwrap();
                }
            }
        }
    }
    page.push_str(&words());
    page
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}

fn kind_words(kind: ValueKind) -> &'static str {
    match kind {
        ValueKind::Pulse => "a pulse width",
        ValueKind::Percent => "a share",
        ValueKind::Frequency => "a rate",
        ValueKind::Duration => "a time",
        ValueKind::Angle => "an angle",
        ValueKind::VoltagePerCell => "a voltage per cell",
        ValueKind::Ratio => "a ratio",
        ValueKind::Count => "a count",
        ValueKind::Word => "a word of the sheet",
    }
}

/// Units, settings, functions, signals and reserved words.
fn words() -> String {
    let mut page = String::from("\n## Words\n\n### Units\n\n");
    let units: Vec<String> = Unit::SPELLINGS
        .iter()
        .map(|(_, all)| all.iter().map(|word| format!("`{word}`")).collect::<Vec<_>>().join(" or "))
        .collect();
    writeln!(page, "{}.", units.join(", ")).unwrap();
    page.push_str(
        "\n### Settings\n\nWhich of them a board has, its sheet says.\n\n| word | set by | values |\n|---|---|---|\n",
    );
    for word in WORDS {
        let by = word.statement.map_or("`set`".to_owned(), |statement| format!("`{statement}`"));
        let mut values: Vec<String> = word.kinds.iter().map(|kind| kind_words(*kind).to_owned()).collect();
        if let Some(closed) = word.closed {
            values = closed.iter().map(|word| format!("`{word}`")).collect();
        }
        writeln!(page, "| `{}` | {by} | {} |", word.word, values.join(", ")).unwrap();
    }
    let grammar = text("grammar/edition_1.pest");
    let keywords: BTreeSet<&str> = grammar
        .lines()
        .filter_map(|line| line.strip_prefix("kw_")?.split_once([' ', '=']).map(|(word, _)| word))
        .collect();
    let signals = grammar.lines().find_map(|line| line.strip_prefix("motor_signal = { ")).unwrap();
    let signals: Vec<String> = signals
        .trim_end_matches(" | name }")
        .split(" | ")
        .map(|word| format!("`{}`", word.trim_start_matches("kw_")))
        .collect();
    write!(page, "\n### Motor signals\n\n{}.\n", signals.join(", ")).unwrap();
    page.push_str(
        "\n### Functions\n\n`arm` exists everywhere. Which others exist, such as `buzzer`, `self-level` and `lights`, is the \
         board sheet's to say.\n",
    );
    let reserved: Vec<String> = keywords.iter().map(|word| format!("`{word}`")).collect();
    write!(
        page,
        "\n### Reserved words\n\nNo parameter can be called so, nor as a unit or a setting is.\n\n{}.\n",
        reserved.join(", ")
    )
    .unwrap();
    page
}

#[test]
fn the_manual_is_what_grammar_and_tables_say() {
    let page = text(PAGE);
    let (written, there) = page.split_once(MARK).expect("the mark");
    let made = made();
    if std::env::var_os("QUADJIG_WRITE_DOCS").is_some() {
        std::fs::write(project().join(PAGE), format!("{written}{MARK}{made}")).unwrap();
        return;
    }
    assert!(there == made, "{PAGE} is not what the grammar says: QUADJIG_WRITE_DOCS=1 writes it anew");
}

/// Whatever can begin a statement stands on the page, and so does every check that has a place in a recipe.
#[test]
fn no_statement_and_no_check_is_forgotten() {
    let page = text(PAGE);
    let headings: BTreeSet<&str> =
        page.lines().filter_map(|line| line.strip_prefix("#### `")).map(|line| line.trim_end_matches('`')).collect();
    let grammar = text("grammar/edition_1.pest");
    let (_, statement) = grammar.split_once("statement = _{").unwrap();
    let (statement, _) = statement.split_once("\n}").unwrap();
    let rules = statement.split(|c: char| !c.is_ascii_lowercase() && c != '_').filter(|word| word.len() > 1);
    for rule in rules {
        assert!(headings.contains(heading(rule).as_str()), "`{rule}` is not explained");
    }
    let missing: Vec<&str> = crate::language::explain::places()
        .into_iter()
        .map(|(code, _)| code)
        .filter(|code| !page.contains(&format!("- `{code}` ")))
        .collect();
    assert_eq!(missing, [""; 0]);
}
