//! The examples of forged tokens, which must not compile, name types that are there: else they fail for want of a name,
//! whatever the doors take.
//!
//! Must not be here: the examples, which stand beside what they are about.

use crate::docs::files;

/// Types by their full names, which compile here.
macro_rules! types {
    ($($path:path),* $(,)?) => {
        $(const _: Option<$path> = None;)*
        const THERE: &[&str] = &[$(stringify!($path)),*];
    };
}

types! {
    quadjig::bench::session::Change,
    quadjig::bench::session::Drive,
    quadjig::bench::session::context::SessionContext,
    quadjig::interlock::Breaks,
    quadjig::interlock::ChangeStep,
    quadjig::interlock::Clearance,
    quadjig::interlock::Confirmed,
    quadjig::interlock::Interlock,
    quadjig::interlock::Stillness,
    quadjig::interlock::TypedWord,
    quadjig::measure::time::Time,
    quadjig::seam::ui::About,
    quadjig::seam::ui::BoardChange,
    quadjig::seam::ui::MotorStep,
}

#[test]
fn what_must_not_compile_names_what_is_there() {
    let (mut examples, mut named) = (0, 0);
    for path in files("src", ".rs") {
        let text = std::fs::read_to_string(&path).unwrap();
        for example in text.split("```compile_fail").skip(1).map(|rest| rest.split("```").next().unwrap()) {
            examples += 1;
            for at in example.match_indices("quadjig::").map(|(at, _)| at) {
                let part = |c: &char| c.is_alphanumeric() || matches!(c, ':' | '_');
                let name: String = example[at..].chars().take_while(part).collect();
                let of = |there: &&str| {
                    name.strip_prefix(*there).is_some_and(|rest| rest.is_empty() || rest.starts_with("::"))
                };
                assert!(THERE.iter().any(of), "{}: {name}", path.display());
                named += 1;
            }
        }
    }
    assert!(examples >= 15 && named >= examples, "{examples} examples with {named} names");
}
