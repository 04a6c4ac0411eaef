//! Pages: of a run and of a plan, read as a browser reads them; what stands on them is the record, and what is hostile is text.

use super::Sandbox;
use crate::bench::stand::{Played, Plot, Stand, Then};
use quadjig::record::folder;
use quadjig::virtual_board::WorldConfig;
use std::collections::BTreeSet;

/// A whole set-up, its title and note as hostile as a recipe's text may be.
pub const WHOLE_HOSTILE: &str = "recipe \"Wren </title><script>alert(1)</script> 95\"\nedition 1\ncraft quad x turning inward\nboard \"Finch\"\n\
    note \"<img src=x onerror=alert(2)> & 'quotes'\"\n\
    require props off\nrequire antenna on\nrequire throttle low\nrequire battery out\nchannels roll, pitch, throttle, yaw\n\
    switch B on channel 6 rests at 1000, 1500, 2000 on link loss flagged\n\
    switch C on channel 7 rests at 1000, 2000 on link loss flagged\n\
    bind arm to switch B position 2\nbind buzzer to switch C position 1\nat zero throttle spin\n\
    failsafe cut motors after 500 ms\nkeep\ntest sticks\ntest arm\n\
    require battery in\ntest motors\nrequire level within 2 deg\nidle start at 1075 step 25 until all spin\nkeep\n\
    test idle in 2 starts\ntest cut within 250 ms\ntest failsafe within 3 s\n";

/// The record of a craft on which that ran, with a name of its own.
pub fn recorded() -> (Sandbox, Played) {
    let mut stand = Stand::on(WHOLE_HOSTILE, WorldConfig::default());
    stand.clock = "2026-11-29T10:00:00Z".parse().unwrap();
    let says = Then::Line("say <b>ready</b> </td>");
    let played = stand.plot(Plot::turning(100, vec![says])).play();
    assert_eq!(played.result, Some(Ok(())), "{}", played.log.tail());
    let sandbox = Sandbox::new();
    let id = played.board.truth()["board"]["id"].as_str().unwrap().to_owned();
    let place = folder::of_craft(&sandbox.path("crafts"), &id).unwrap();
    for (file, bytes) in &played.disk.craft {
        let file = place.join(file);
        std::fs::create_dir_all(file.parent().unwrap()).unwrap();
        std::fs::write(file, bytes).unwrap();
    }
    let named = sandbox.run(&["craft", "name", &id, "<svg onload=alert(3)>", "--records", "crafts"]);
    assert!(named.starts_with("exit code: 0"), "{named}");
    (sandbox, played)
}

/// A page, from the binary.
pub fn page(sandbox: &Sandbox, arguments: &[&str]) -> String {
    let output = sandbox.command(arguments).output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

/// Every tag of a page in order: its name, whether it closes, and its attributes. Text stands between.
fn tags(page: &str) -> Vec<(String, bool, String)> {
    let style = page.find("<style>").unwrap() + 7..page.find("</style>").unwrap();
    let text = format!("{}{}", &page[..style.start], &page[style.end..]);
    text.split('<')
        .skip(1)
        .map(|part| {
            let tag = part.split_once('>').unwrap_or_else(|| panic!("a tag is not closed: {part}")).0;
            let name: String = tag.trim_start_matches('/').chars().take_while(char::is_ascii_alphanumeric).collect();
            (name, tag.starts_with('/'), tag.to_owned())
        })
        .collect()
}

/// What a screen reader and a browser without script or network need of every page.
fn is_whole(page: &str) {
    assert!(page.starts_with("<!DOCTYPE html>\n<html lang=\"en\">"), "{page}");
    let mut open: Vec<String> = Vec::new();
    let mut levels: Vec<u8> = Vec::new();
    let mut names = BTreeSet::new();
    let all = tags(page);
    for (at, (name, closes, tag)) in all.iter().enumerate() {
        let single = ["meta", "line", "circle", "rect", "polyline", "path", "DOCTYPE", ""].contains(&name.as_str());
        match (single, closes) {
            (true, _) => {}
            (false, true) => assert_eq!(open.pop().as_ref(), Some(name), "{tag}"),
            (false, false) => open.push(name.clone()),
        }
        let never = ["script", "img", "iframe", "object", "link", "a", "form", "b"];
        assert!(!never.contains(&name.as_str()), "{tag}");
        assert!(
            !tag.contains("onload") && !tag.contains("onerror") && !tag.contains("href") && !tag.contains("src="),
            "{tag}"
        );
        match name.as_str() {
            "h1" | "h2" | "h3" if !closes => {
                let level = name.as_bytes()[1] - b'0';
                assert!(levels.last().map_or(level == 1, |last| level <= last + 1 && level > 1), "{levels:?} {tag}");
                levels.push(level);
            }
            "table" if !closes => assert_eq!(all[at + 1].0, "caption", "a table says what it holds"),
            "th" if !closes => assert!(tag.contains("scope=\"col\"") || tag.contains("scope=\"row\""), "{tag}"),
            "svg" if !closes => {
                assert!(tag.contains("role=\"img\"") && tag.contains("aria-labelledby="), "{tag}");
                assert_eq!((all[at + 1].0.as_str(), all[at + 3].0.as_str()), ("title", "desc"), "{tag}");
            }
            _ => {}
        }
        for id in tag.split("id=\"").skip(1) {
            assert!(names.insert(id.split('"').next().unwrap().to_owned()), "twice: {tag}");
        }
    }
    assert_eq!(open, Vec::<String>::new());
    assert!(page.contains("prefers-color-scheme: dark") && page.contains("@media print") && page.contains("size: A4"));
    assert!(page.contains("default-src 'none'") && !page.contains("http://") && !page.contains("https://"));
}

#[test]
fn a_run_is_a_page_by_itself() {
    let (sandbox, played) = recorded();
    let page = page(&sandbox, &["craft", "report", "7669727400000001", "--records", "crafts", "--format", "html"]);
    if let Ok(folder) = std::env::var("QUADJIG_PAGES") {
        std::fs::write(std::path::Path::new(&folder).join("run.html"), &page).unwrap();
    }
    is_whole(&page);
    // What is hostile is there, as text.
    for text in [
        "&lt;svg onload=alert(3)&gt;",
        "&lt;script&gt;alert(1)&lt;/script&gt;",
        "&lt;img src=x onerror=alert(2)&gt; &amp; &#39;quotes&#39;",
        "&lt;b&gt;ready&lt;/b&gt; &lt;/td&gt;",
    ] {
        assert!(page.contains(text), "{text}");
    }
    let sections: Vec<&str> = page.split("<h2>").skip(1).map(|part| part.split("</h2>").next().unwrap()).collect();
    assert_eq!(
        sections,
        [
            "Cautions",
            "Made from",
            "What was set",
            "Motors from above, as found",
            "Sticks as they moved",
            "Idle",
            "Cut and failsafe",
            "Switches and bands",
            "Battery",
            "Said by a person at the bench",
            "Before the propellers go on",
            "First power-up with propellers",
            "Course of the run"
        ]
    );
    let section =
        |name: &str| page.split(&format!("<h2>{name}</h2>")).nth(1).unwrap().split("<h2>").next().unwrap().to_owned();
    // By the world's own truth.
    let truth = played.board.truth();
    let idle = truth["settings"]["IDLE_US"]["stored"].as_i64().unwrap();
    assert!(
        section("What was set").contains(&format!("<td>IDLE_US</td><td>1050 us</td><td>{idle} us</td>")),
        "{}",
        section("What was set")
    );
    for motor in truth["motors"].as_array().unwrap() {
        let way = if motor["clockwise"] == true { "clockwise" } else { "anticlockwise" };
        let (corner, number) = (motor["corner"].as_str().unwrap(), &motor["number"]);
        let row = format!("<th scope=\"row\">{corner}</th><td>{number}</td><td>{way}</td>");
        assert!(section("Motors from above, as found").contains(&row), "{row}");
        assert!(
            section("Before the propellers go on")
                .contains(&format!("{corner}: motor {number}, a propeller that pushes air down when it turns {way}."))
        );
    }
    let sticks = section("Sticks as they moved");
    for (number, stick) in ["roll", "pitch", "throttle", "yaw"].iter().enumerate() {
        // As far as the craft's radio goes: 988 to 2012 us, with a tremble.
        assert!(sticks.contains(&format!("{stick}: channel {}, 98", number + 1)), "{sticks}");
        assert!(sticks.contains(&format!(">{stick}, us<")), "{sticks}");
    }
    assert_eq!(sticks.matches("<svg").count(), 4);
    assert_eq!(section("Idle").matches("<svg").count(), 4 + 7, "four corners, and every start");
    let cut = section("Cut and failsafe");
    assert_eq!(cut.matches("<svg").count(), 1 + 4, "a time line, three cuts and a lost link");
    let switches = section("Switches and bands");
    assert!(
        switches.contains("<td>B</td><td>0: 1000, 1: 1500, 2: 2000</td>")
            && switches.contains("position 2")
            && switches.contains("buzzer from"),
        "{switches}"
    );
    assert!(section("Battery").contains(" V</td>"));
    assert!(
        section("Said by a person at the bench").contains("ropellers"),
        "{}",
        section("Said by a person at the bench")
    );
    for kind in ["arm", "cut", "failsafe", "idle", "motors"] {
        assert!(
            section("Before the propellers go on")
                .contains(&format!("Shown on this craft, and not void since: {kind}."))
        );
    }
    assert!(page.contains("VIRTUAL: no craft was touched."));
}

/// A run without a log, without its end or of another version's record still makes a page, which says what is missing.
#[test]
fn what_is_missing_is_said_on_the_page() {
    let (sandbox, _) = recorded();
    let craft = sandbox.path("crafts/7669727400000001");
    std::fs::remove_dir_all(craft.join("runs")).unwrap();
    std::fs::remove_dir_all(craft.join("inputs")).unwrap();
    std::fs::remove_file(craft.join("measurements/proofs.jsonl")).unwrap();
    let page = page(&sandbox, &["craft", "report", "7669727400000001", "--records", "crafts", "--format", "html"]);
    is_whole(&page);
    for text in [
        "No log of it was kept.",
        "NOT SHOWN, or void: failsafe.",
        "Not shown in this run.",
        "Neither was measured in this run.",
        "or the board sheet, were not kept",
    ] {
        assert!(page.contains(text), "{text}");
    }
}

#[test]
fn a_plan_is_a_page_by_itself() {
    let sandbox = Sandbox::new();
    sandbox.write("wren.jig", WHOLE_HOSTILE);
    let (_, played) = recorded();
    let before = played.disk.craft.iter().find(|(file, _)| file.starts_with("snapshots")).unwrap().1.clone();
    sandbox.write("before.json", &String::from_utf8(before).unwrap());
    let arguments = ["dry-run", "wren.jig", "--against", "before.json", "--records", "none", "--format", "html"];
    let whole = page(&sandbox, &arguments);
    if let Ok(folder) = std::env::var("QUADJIG_PAGES") {
        std::fs::write(std::path::Path::new(&folder).join("plan.html"), &whole).unwrap();
    }
    is_whole(&whole);
    assert!(whole.contains("&lt;script&gt;alert(1)") && whole.contains("&lt;img src=x onerror=alert(2)&gt;"));
    for text in [
        "What only the bench can tell",
        "<td>ARM_CHANNEL</td>",
        "turns motors",
        "arm from",
        "None: nobody reviewed the recipe.",
    ] {
        assert!(whole.contains(text), "{text}");
    }
    // What can't be planned is a page too.
    sandbox.write("wren.jig", &WHOLE_HOSTILE.replace("note ", "require throttle low\ntest sticks\nnote "));
    let refused = sandbox.command(&arguments).output().unwrap();
    if refused.status.code() == Some(1) && !refused.stdout.is_empty() {
        is_whole(&String::from_utf8(refused.stdout).unwrap());
    }
}
