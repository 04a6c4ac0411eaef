//! Every refusal of a plan is explained, and by an example that is refused so beside one that is not.

use super::{Bench, HEAD, text};
use quadjig::plan::explained::{codes, explain};
use std::collections::BTreeSet;

#[test]
fn every_refusal_that_a_dry_run_prints_is_explained() {
    let printed: BTreeSet<&str> =
        include_str!("../../src/plan/problem.rs").split('"').filter(|text| text.starts_with("plan-")).collect();
    assert!(printed.len() > 40, "{printed:?}");
    assert_eq!(printed, codes().collect());
    for code in printed {
        let explained = explain(&code.to_uppercase()).unwrap_or_else(|| panic!("{code} has no examples"));
        assert!(explained.code == code && explained.about.ends_with('.'), "{explained:?}");
    }
}

/// Examples of findings are held to them where those are tested.
#[test]
fn examples_of_refusals_are_refused_so_and_the_good_ones_are_not() {
    let mut tried = 0;
    for explained in codes().filter_map(explain).filter(|one| !one.about.contains("A check tells it as")) {
        let refused = |lines: &str| {
            let planned = Bench::finch().compile(&text(&format!("{HEAD}{lines}\n")));
            planned.is_err_and(|errors| errors.iter().any(|error| error.problem.code() == explained.code))
        };
        if explained.bad.is_recipe {
            tried += 1;
            let told = (refused(explained.bad.text), refused(explained.good.text));
            assert_eq!(told, (true, false), "{}", explained.code);
        }
    }
    assert_eq!(tried, 7);
}
