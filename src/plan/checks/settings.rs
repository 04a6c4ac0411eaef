//! Words of the vocabulary in `set` and `expect`: known, and set by the statement that is theirs.

use crate::board::vocabulary::{self, WORDS};
use crate::language::checks::codes;
use crate::language::finding::Finding;
use crate::language::read_statement;
use crate::language::recipe::{Part, Recipe, Setting, Statement, StatementKind};
use crate::measure::nearest::nearest;

/// The statement that a `set` stands for, where its value is all that it needs.
fn own_statement(recipe: &Recipe, set: &Statement, form: &str) -> Option<String> {
    let place = set.part(Part::Value);
    let value = recipe.files.get(place.file.0)?.text.get(place.range.clone())?;
    let texts = ["", "at "].map(|joined| format!("{form} {joined}{value}"));
    texts.into_iter().find(|text| read_statement(text).is_ok())
}

pub(super) fn check(recipe: &Recipe, found: &mut Vec<Finding>) {
    for statement in &recipe.statements {
        let (setting, sets) = match &statement.what {
            StatementKind::Set { setting, .. } => (setting, true),
            StatementKind::Expect { setting, .. } => (setting, false),
            _ => continue,
        };
        let Setting::Word(name) = setting else { continue };
        let place = statement.part(Part::Subject);
        let Some(word) = vocabulary::word(name) else {
            let message = format!("`{name}` is no setting that boards share: the bench would not know what to change");
            let finding = Finding::error(codes::UNKNOWN_WORD, place, message);
            found.push(match nearest(name, WORDS.iter().map(|word| word.word)) {
                Some(near) => finding.replace(format!("write `{near}`"), place, near),
                None => finding.hint(format!("a board's own name stands in quotes: `set \"{name}\" to …`")),
            });
            continue;
        };
        if let Some(form) = word.statement.filter(|_| sets) {
            let message = format!("`{name}` has a statement of its own, whose guards a bare `set` would go around");
            let finding = Finding::error(codes::WORD_HAS_STATEMENT, place, message);
            found.push(match own_statement(recipe, statement, form) {
                Some(text) => finding.replace(format!("write `{text}`"), &statement.span, text),
                None => finding.hint(format!("write the statement `{form} …`")),
            });
        }
    }
}
