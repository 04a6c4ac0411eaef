//! The language's manual: what it says of statements and words is made from the grammar and the tables of the code.
//!
//! With `QUADJIG_WRITE_DOCS=1` in the environment the page is written anew instead; then read the difference.

use super::{project, text};
use quadjig::board::vocabulary::{ValueKind, WORDS};
use quadjig::language::explain::about;
use quadjig::language::reference::{Explained, Part, can, form, parts};
use quadjig::language::units::Unit;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;

const PAGE: &str = "grammar/manual.md";
/// What is made stands behind this.
const MARK: &str = "docs::manual -->\n";

fn made() -> String {
    let mut page =
        String::from("\n## Statements\n\nIn a form, square brackets may be left out, and capitals are values.\n");
    let parts = parts();
    let headings: Vec<&str> =
        parts.iter().flat_map(|part| &part.statements).map(|statement| statement.heading.as_str()).collect();
    let mut checks: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
    for (code, line) in crate::language::explain::places() {
        let says =
            |heading: &&&str| line.strip_prefix(**heading).is_some_and(|rest| !rest.starts_with(char::is_alphanumeric));
        if let Some(heading) = headings.iter().filter(says).max_by_key(|heading| heading.len()) {
            checks.entry(heading).or_default().insert(code);
        }
    }
    for Part { title, statements } in parts {
        write!(page, "\n### {}\n", capital(title)).unwrap();
        for Explained { heading, meaning, examples } in statements {
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
        let heading = match rule {
            "uses" => "use".to_owned(),
            "zero_throttle" => "at zero throttle".to_owned(),
            "declare_switch" => "switch".to_owned(),
            other => other.replace('_', " "),
        };
        // One with kinds is explained kind by kind.
        let explains =
            |other: &&str| other.strip_prefix(&*heading).is_some_and(|rest| !rest.starts_with(char::is_alphanumeric));
        assert!(headings.iter().any(explains), "`{rule}` is not explained");
    }
    let missing: Vec<&str> = crate::language::explain::places()
        .into_iter()
        .map(|(code, _)| code)
        .filter(|code| !page.contains(&format!("- `{code}` ")))
        .collect();
    assert_eq!(missing, [""; 0]);
}
