//! The dry run as a person and a program see it: page, plain lines, JSON, refusals.

use super::{Bench, HEAD, text};
use quadjig::plan::step::Plan;
use quadjig::report::{plan_json, plan_text};

const WREN: &str = "recipe \"Wren 95, bench set-up\"\nedition 1\ncraft quad x\nboard \"Finch\"\n\
require props off\nrequire antenna on\nrequire battery out\nrequire level within 2 deg\n\
find switch B\nfind switch C\nfind link loss\n\
at zero throttle spin\nsignal dshot300 at 4 kHz\nfailsafe cut motors after 500 ms\n\
battery 2 cells warn at 3.6 V per cell land at 3.4 V per cell\n\
bind buzzer to switch C position 1\nbind arm to switch B position 2\nkeep\n\
power cycle\nnote \"Watch the rear left motor.\"\n\
idle start at 1100 step 25 until all spin\ntest idle\ntest arm\ntest cut\ntest buzzer\n";

fn wren() -> Plan {
    Bench::finch().compile(&text(WREN)).unwrap()
}

/// The fingerprint covers the sheet's text, which may change without a change of the page.
fn without_print(plan: &Plan, shown: &str) -> String {
    shown.replace(&plan.fingerprint, "<fingerprint>")
}

#[test]
fn the_page_shows_changes_steps_and_what_only_the_bench_can_tell() {
    let plan = wren();
    insta::assert_snapshot!(without_print(&plan, &plan_text::page(&plan, 100)));
}

#[test]
fn the_plain_form_is_one_fact_a_line() {
    let plan = wren();
    let lines = plan_text::plain(&plan);
    assert!(lines.lines().all(|line| line.contains(": ")), "{lines}");
    insta::assert_snapshot!(without_print(&plan, &lines));
}

#[test]
fn the_json_has_the_fields_that_were_promised() {
    let plan = wren();
    let json = serde_json::to_value(plan_json::plan(&plan, None)).unwrap();
    for field in ["schema", "fingerprint", "board", "changes", "unknown", "steps", "restarts"] {
        assert!(json.get(field).is_some(), "{field}");
    }
    let has = |value: &serde_json::Value, fields: &[&str]| {
        for field in fields {
            assert!(value.get(field).is_some(), "{field} in {value}");
        }
    };
    has(&json["board"], &["name", "id", "firmware"]);
    has(&json["changes"][0], &["setting", "on_board", "from", "to", "unit", "at"]);
    has(&json["changes"][0]["at"], &["file", "line", "column"]);
    has(&json["unknown"][0], &["setting", "least", "most", "unit", "at"]);
    has(&json["steps"][0], &["number", "effect", "what", "guards", "at"]);
    assert_eq!(json["schema"], "quadjig.dry-run/1");
    let short = serde_json::json!({
        "changes": json["changes"][0], "unknown": json["unknown"], "board": json["board"],
        "write": json["steps"].as_array().unwrap().iter().find(|step| step.get("writes").is_some()),
        "counts": [json["restarts"], json["plug_ins"], json["questions"]],
    });
    insta::assert_snapshot!(serde_json::to_string_pretty(&short).unwrap());
}

#[test]
fn refusals_are_shown_with_place_code_and_what_to_do() {
    let recipe = text(&format!("{HEAD}set \"NONE\" to 1\nset loop-rate to 3 kHz\nbind arm to switch B position 1\n"));
    let errors = Bench::finch().compile(&recipe).unwrap_err();
    insta::assert_snapshot!(plan_text::refused(&errors, 100));
    let json = serde_json::to_value(plan_json::refused(&errors)).unwrap();
    assert_eq!(json["refused"][0]["code"], "plan-not-on-board");
    assert_eq!(json["refused"][0]["at"]["line"], 6);
}

#[test]
fn a_satisfied_plan_says_that_nothing_will_be_written() {
    let lines = "require battery out\nfailsafe cut motors after 500 ms";
    let mut bench = Bench::finch();
    bench.carry_out(&bench.clone().plan(lines));
    let page = plan_text::page(&bench.plan(lines), 100);
    assert!(page.contains("What changes: nothing."), "{page}");
    assert!(page.contains("nothing will be written"), "{page}");
}

#[test]
fn text_of_the_recipe_passes_the_gate() {
    let mut plan = wren();
    plan.title = "red\u{1b}[31m\u{202e}".to_owned();
    for shown in [plan_text::page(&plan, 100), plan_text::plain(&plan)] {
        assert!(shown.contains("red\\u{1b}[31m\\u{202e}") && !shown.contains('\u{1b}'), "{shown}");
    }
}
