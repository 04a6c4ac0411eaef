//! The guide to a sheet of one's own, `recipes/boards/README.md`, and its templates: what they show is so.

use super::blocks::blocks;
use super::{project, text};
use crate::cli::Sandbox;
use crate::virtual_board::typist::{PROMPT, Typist};
use quadjig::board::console::Capability;
use quadjig::board::sheet::Sheet;
use quadjig::board::sheet_file;
use quadjig::board::vocabulary::WORDS;

const GUIDE: &str = "recipes/boards/README.md";
/// The cautions, as the tool's own page has them.
const CAUTIONS: &str = "recipes/boards/cautions.md";
/// Its page for boards that answer packets, and the sheet that this one shows parts of.
const PACKETS: &str = "recipes/boards/packets.md";
const EXAMPLE: &str = "tests/peers/redstart.toml";
const TEMPLATES: [&str; 3] = [
    "recipes/boards/templates/mavlink.toml",
    "recipes/boards/templates/console.toml",
    "recipes/boards/templates/packets.toml",
];

fn read(name: &str, text: &str) -> Sheet {
    sheet_file::read(name, text).unwrap_or_else(|error| panic!("{error}"))
}

/// What is shown as typed at a console is what the virtual board answers.
#[test]
fn typed_sessions_go_as_told() {
    let told: Vec<_> = blocks(&text(GUIDE)).into_iter().filter(|block| block.language == "typed").collect();
    assert!(!told.is_empty());
    for block in told {
        let mut typist = Typist::plain();
        let lines = block.text.lines().filter_map(|line| line.strip_prefix(PROMPT));
        let shown: Vec<String> = lines.map(|line| format!("{PROMPT}{line}\n{}\n", typist.ask(line))).collect();
        assert_eq!(shown.concat(), block.text, "{GUIDE}, line {}", block.line);
    }
}

#[test]
fn links_of_the_guide_lead_somewhere() {
    for page in [GUIDE, PACKETS, CAUTIONS] {
        let text = text(page);
        for link in text.split("](").skip(1).filter_map(|rest| rest.split_once(')')).map(|(link, _)| link) {
            let (path, place) = link.split_once('#').unwrap_or((link, ""));
            let file = project().join("recipes/boards").join(path);
            assert!(file.exists(), "{page}: {link}");
            assert!(!path.contains("..") && !path.contains(':'), "{page}: {link}: a copy of the folder stands alone");
            if !place.is_empty() {
                let there = std::fs::read_to_string(&file).unwrap().to_lowercase();
                assert!(there.contains(&format!("# {}\n", place.replace('-', " "))), "{page}: {link}");
            }
        }
    }
}

#[test]
fn cautions_stand_in_the_guide_as_everywhere() {
    let (_, rest) = text("README.md").split_once("## Cautions\n").map(|(a, b)| (a.to_owned(), b.to_owned())).unwrap();
    let (own, _) = rest.split_once("\n## ").unwrap();
    assert_eq!(text(CAUTIONS), format!("# Cautions\n{own}"));
}

/// What the page of packets shows of a sheet stands in one that a board of other hands is set up with.
#[test]
fn parts_of_sheets_in_the_guide_are_of_a_sheet_that_works() {
    let sheet = text(EXAMPLE);
    let told: Vec<_> = blocks(&text(PACKETS)).into_iter().filter(|block| block.language == "toml").collect();
    assert!(told.len() > 2);
    for block in told {
        assert!(sheet.contains(&block.text), "{PACKETS}, line {}:\n{}", block.line, block.text);
    }
}

/// A template is a sheet, both bare and with every part taken in that it offers, and offers every word there is.
#[test]
fn templates_are_sheets_bare_and_whole() {
    for name in TEMPLATES {
        let bare = text(name);
        let sheet = read(name, &bare);
        assert_eq!(sheet.motor_run, None, "{name}: no motor is run by command until its reader says so");
        let cautious = sheet.usb_feeds_motors && sheet.sticks_can_arm && sheet.motors_sound_buzzer;
        assert!(cautious && !sheet.usb_feeds_receiver && !sheet.arms_on_usb, "{name}");
        let whole: Vec<&str> = bare.lines().map(|line| line.strip_prefix("#= ").unwrap_or(line)).collect();
        let sheet = read(name, &whole.join("\n"));
        assert!(sheet.motor_run.is_some());
        let missing: Vec<_> = WORDS.iter().filter(|word| !sheet.settings.contains_key(word.word)).collect();
        assert!(missing.is_empty(), "{name} offers no {missing:?}");
        // A name that was forgotten is found on no board.
        let names = sheet.settings.values().chain(sheet.raw.values()).map(|entry| &entry.name).chain(&sheet.must_have);
        for setting in names {
            assert!(setting.as_str().starts_with("MY_"), "{name}: {setting}");
        }
    }
}

/// What does not depend on the link stands alike in all.
#[test]
fn templates_differ_in_their_link_alone() {
    let [mavlink, console, packets] = TEMPLATES.map(|name| {
        let text = text(name);
        let (_, rest) = text.split_once("\n[identity]\n").unwrap();
        let alike = |line: &&str| !line.starts_with("#= by = ") && !line.starts_with("#= [motor-run]");
        rest.lines().filter(alike).map(str::to_owned).collect::<Vec<_>>()
    });
    assert_eq!(mavlink, console);
    assert_eq!(console, packets);
}

/// A template has every need that its link can ask for; settings in packets are listed, read and written as packets.
#[test]
fn templates_offer_every_need_of_their_link() {
    for need in Capability::ALL {
        assert!(text(TEMPLATES[1]).contains(&format!("[console.{}]", need.key())), "{}", need.key());
        let settings = matches!(need, Capability::List | Capability::Read | Capability::Write);
        let table = format!("[packets.{}]", if settings { "settings.motors" } else { need.key() });
        assert!(text(TEMPLATES[2]).contains(&table), "{}", need.key());
    }
}

#[test]
fn recipes_of_the_guide_pass_the_check() {
    let told: Vec<_> = blocks(&text(GUIDE)).into_iter().filter(|block| block.language == "jig").collect();
    assert!(!told.is_empty());
    for block in told {
        let sandbox = Sandbox::new();
        sandbox.write("first-write.jig", &block.text);
        let shown = sandbox.run(&["check", "first-write.jig"]);
        assert!(shown.starts_with("exit code: 0\n"), "{GUIDE}, line {}: {shown}", block.line);
    }
}

/// Each row of step 8 goes with the sheet as it stands then: the stop, the binding alone, the facts that were seen, the test.
#[test]
fn step_8_can_be_followed_in_its_order() {
    let guide = text(GUIDE);
    let binding =
        blocks(&guide).into_iter().find(|block| block.text.contains("bind arm")).expect("a recipe that binds arm");
    let rows =
        ["**The stop.**", "**Bind arm, and no more.**", "--try usb", "**Set the facts.**", "**Test the switch.**"];
    let places: Vec<_> = rows.iter().map(|row| guide.find(row).unwrap_or_else(|| panic!("{row}"))).collect();
    assert!(places.is_sorted(), "{places:?}");
    let sandbox = Sandbox::new();
    sandbox.write("bind.jig", &binding.text);
    let test =
        blocks(&guide).into_iter().find(|block| block.text.contains("test arm")).expect("a recipe that tests arm");
    let shipped = text("recipes/arm-switch.jig").replace("\"Finch\"", "\"Finch C\"");
    assert!(shipped.ends_with(&test.text), "{}", test.text);
    sandbox.write("arm.jig", &test.text);
    let seen = text("recipes/boards/finch-c.toml");
    let facts = [
        ("\nmotors = false", "\nmotors = true"),
        ("arms-on-usb = true", "arms-on-usb = false"),
        ("buzzer-by = \"buzzer\"", "buzzer-by = \"motors\""),
        ("sticks-can-arm = false", "sticks-can-arm = true"),
    ];
    let cautious = facts.iter().fold(seen.clone(), |sheet, (known, cautious)| {
        assert_eq!(sheet.matches(known).count(), 1, "{known}");
        sheet.replace(known, cautious)
    });
    let plays = |recipe: &str, sheet: &str, plug_ins: &str| {
        sandbox.write("my-board.toml", sheet);
        let shown = sandbox.run(&["rehearse", recipe, "--sheet", "my-board.toml"]);
        assert!(shown.starts_with("exit code: 0\n") && shown.contains(plug_ins), "{recipe}: {shown}");
    };
    plays("bind.jig", &cautious, "0 plug-ins");
    plays("arm.jig", &cautious, "1 plug-in");
    plays("arm.jig", &seen, "0 plug-ins");
    let (before, after) = seen.split_once("[console.stop]").unwrap();
    let (before, after) = (before.to_owned(), after.split_once("\n\n").unwrap().1);
    let (bare, rest) = after.split_once("[motor-run]").unwrap();
    sandbox.write("my-board.toml", &format!("{before}{bare}{}", rest.split_once("\n\n").unwrap().1));
    let shown = sandbox.run(&["check", "arm.jig", "--sheet", "my-board.toml"]);
    assert!(shown.starts_with("exit code: 1\n") && shown.contains("BB8") && shown.contains("no stop"), "{shown}");
}
