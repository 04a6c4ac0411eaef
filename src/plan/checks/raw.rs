//! The board's own names, in quotes: covered by a word, listed by the sheet, or the worst.

use super::values::refused;
use crate::board::binding::is_band_setting;
use crate::board::convert::encode;
use crate::board::effect::Effect;
use crate::board::sheet::Sheet;
use crate::board::value::SettingName;
use crate::language::checks::{codes, props};
use crate::language::finding::Finding;
use crate::language::recipe::{Part, Recipe, Require, Setting, StatementKind, Value};

pub(super) fn check(recipe: &Recipe, sheet: &Sheet, found: &mut Vec<Finding>) {
    let mut props_off = false;
    for statement in &recipe.statements {
        let (name, value, sets) = match &statement.what {
            StatementKind::Require(Require::PropsOff) => {
                props_off = true;
                continue;
            }
            StatementKind::Set { setting: Setting::Raw(name), value } => (name, value, true),
            StatementKind::Expect { setting: Setting::Raw(name), value } => (name, value, false),
            _ => continue,
        };
        let place = statement.part(Part::Subject);
        let Some(setting) = SettingName::new(name) else {
            let message =
                format!("no board has a setting of the name \"{name}\": names are 1 to 16 printable characters");
            found.push(Finding::error(codes::UNKNOWN_WORD, place, message));
            continue;
        };
        if let Some((word, _)) = sheet.word_of(&setting) {
            let statement = crate::board::vocabulary::word(word).and_then(|word| word.statement);
            let write = statement.unwrap_or(word);
            let message = format!(
                "\"{name}\" is what {} calls `{word}`: in quotes it would go around that word's guards",
                sheet.board
            );
            let finding = Finding::error(codes::RAW_COVERED, place, message);
            found.push(match statement {
                Some(_) if sets => finding.hint(format!("write the statement `{write} …`")),
                _ => finding.replace(format!("write `{word}`"), place, word),
            });
            continue;
        }
        if is_band_setting(sheet, &setting) {
            let message = format!(
                "\"{name}\" belongs to a switch's band on {}: in quotes it would go around the guards of `bind`",
                sheet.board
            );
            found.push(Finding::error(codes::RAW_COVERED, place, message).hint("write `bind … to switch …`"));
            continue;
        }
        let entry = sheet.raw.get(&setting);
        if let Some(entry) = entry {
            if let Err(error) = encode(name, entry, value) {
                found.push(refused(&error, name, statement.part(Part::Value), sheet));
            }
        } else if sets {
            let message = format!(
                "the sheet of {} does not list \"{name}\": nobody can say what it does, so it counts as turning motors",
                sheet.board
            );
            found.push(
                Finding::suggestion(codes::RAW_UNLISTED, place, message)
                    .hint("write it exactly as the board does, or add it to the sheet"),
            );
        }
        let worst = entry.is_none_or(|entry| entry.effect == Effect::TurnsMotors);
        if sets && worst && !props_off {
            found.push(props::missing(statement, "a board's own setting can turn a motor"));
        }
        if matches!(value, Value::Word(_)) && entry.is_none() {
            let message = format!("\"{name}\" is not in the sheet, so only a number can be written to it");
            found.push(Finding::error(codes::VALUE_KIND, statement.part(Part::Value), message));
        }
    }
}
