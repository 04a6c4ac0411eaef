//! Parameters that nothing uses.

use super::codes;
use crate::language::finding::Finding;
use crate::language::recipe::Recipe;

pub(super) fn check(recipe: &Recipe, found: &mut Vec<Finding>) {
    for given in recipe.givens.iter().filter(|given| given.uses.is_empty()) {
        let name = given.name.value.as_str();
        let message = format!("nothing uses {name}: whoever fills it in would change nothing at the bench");
        found.push(
            Finding::error(codes::UNUSED_GIVEN, &given.name.span, message)
                .hint("write the name where its value should stand, or leave the line out"),
        );
    }
}
