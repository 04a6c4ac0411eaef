//! The pages of a run and of a plan as a browser draws them: alike in light and dark, nothing out of a narrow screen, A4 with
//! headings and tables told on paper, and what is hostile there as text (`pictures.py`).

use super::super::cli::pages::{WHOLE_HOSTILE, page, recorded};
use super::{found, python, run};
use std::time::Duration;

#[test]
fn a_browser_draws_pages_alike_in_light_and_dark_and_on_paper() {
    let test = "peers::pages";
    let Some(python) = python(test) else { return };
    let Some(browser) = found(test, &["chromium", "chromium-browser", "google-chrome", "chrome"]) else { return };
    let (sandbox, _played) = recorded();
    let report = page(&sandbox, &["craft", "report", "7669727400000001", "--records", "crafts", "--format", "html"]);
    sandbox.write("wren.jig", WHOLE_HOSTILE);
    let plan = page(&sandbox, &["dry-run", "wren.jig", "--port", "virtual", "--records", "crafts", "--format", "html"]);
    let (run_texts, plan_texts) = (["<svg onload=alert(3)>", "<b>ready</b> </td>"], ["<img src=x onerror=alert(2)>"]);
    for (name, text, hostile) in [("run.html", &report, &run_texts[..]), ("plan.html", &plan, &plan_texts[..])] {
        sandbox.write(name, text);
        let file = sandbox.path(name).display().to_string();
        let browser = browser.display().to_string();
        let arguments = [&[browser.as_str(), &file][..], hostile, &["<script>alert(1)</script>"]].concat();
        run(&python, "pictures.py", &arguments, Duration::from_secs(120));
    }
}
