//! What a person makes of the screen: questions and invitations, in the order in which they came.
//!
//! Reads only what stands there. Must not be here: what is done about it.

/// An open question, as read from its frame.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Asked {
    /// Its first line.
    pub title: String,
    /// Everything in the frame.
    pub text: String,
    /// What it wants.
    pub reply: Reply,
}

/// What the keyboard is to do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Reply {
    Word(String),
    Keys(Vec<char>),
    Enter,
}

/// What a person reacts to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Seen {
    Asked(Asked),
    Invited(String),
    /// The bench prompt, with nothing typed at it yet or with what was.
    Prompt(String),
}

/// What stands behind `within 60 s` in a row.
fn invited(row: &str) -> Option<&str> {
    let (_, rest) = row.trim_start().strip_prefix("within ")?.split_once(' ')?;
    Some(rest.split_once(' ')?.1.trim_start())
}

/// What is asked of the hands in the row that changes.
pub fn in_place(row: &str) -> Option<String> {
    let sentence = invited(row)?;
    sentence.ends_with(['.', '?']).then(|| sentence.to_owned())
}

/// Every question and invitation on the screen so far, in order; a line that is still being drawn is
/// left out.
pub fn read(screen: &str) -> Vec<Seen> {
    let lines: Vec<&str> = screen.lines().collect();
    let mut seen = Vec::new();
    let mut at = 0;
    while at < lines.len() {
        if let Some(sentence) = invited(lines[at]) {
            let more = lines[at + 1..].iter().take_while(|line| line.starts_with("             "));
            let whole = more.fold(sentence.to_owned(), |text, line| format!("{text} {}", line.trim()));
            if whole.ends_with(['.', '?']) {
                seen.push(Seen::Invited(whole));
            }
        } else if let Some(prompt) = prompt(lines[at]) {
            seen.push(Seen::Prompt(prompt));
        } else if lines[at].starts_with("  ┏━━ ") {
            let frame: Vec<&str> =
                lines[at + 1..].iter().map_while(|line| line.strip_prefix("  ┃")).map(str::trim).collect();
            // Its last row is where the answer is typed, behind what is to be typed where there is room for it.
            let last = lines.get(at + 1 + frame.len()).and_then(|line| line.strip_prefix("  ┗━ ")?.split_once('>'));
            seen.extend(last.and_then(|(said, _)| question(&frame, said.trim())).map(Seen::Asked));
        }
        at += 1;
    }
    seen
}

/// What stands before the first `>` of a line of the bench prompt.
fn prompt(line: &str) -> Option<String> {
    let (prompt, rest) = line.split_once('>')?;
    let whole = prompt.contains(" VIRTUAL") && !line.starts_with(' ') && (rest.is_empty() || rest.starts_with(' '));
    whole.then(|| prompt.to_owned())
}

/// What stands in a frame, and before the typed answer.
fn question(frame: &[&str], last: &str) -> Option<Asked> {
    let title = frame.iter().find(|line| !line.is_empty())?;
    let rows: Vec<&str> = frame.iter().copied().chain([last]).collect();
    let reply = rows.iter().enumerate().find_map(|(at, line)| {
        if let Some(rest) = line.strip_prefix("Type ") {
            return Some(Reply::Word(rest.split_once(" and press Enter")?.0.to_owned()));
        }
        if line.starts_with("Press Enter") {
            return Some(Reply::Enter);
        }
        line.strip_prefix("Press one key:").map(|row| {
            let below = rows[at + 1..].iter().filter(|line| line.chars().nth(1) == Some(' '));
            let choices = row.split("    ").map(str::trim).chain(below.map(|line| line.trim()));
            Reply::Keys(
                choices.filter(|choice| !choice.is_empty()).filter_map(|choice| choice.chars().next()).collect(),
            )
        })
    })?;
    Some(Asked { title: (*title).to_owned(), text: frame.join("\n"), reply })
}

/// Through all positions of a switch of a radio at the bench and back, twice, resting in each.
fn work(switch: &str) -> Vec<(u64, String)> {
    let last = if matches!(switch, "C" | "L") { 1 } else { 2 };
    let round = (1..=last).chain((0..last).rev());
    (1..).zip(round.clone().chain(round)).map(|(at, place)| (600 * at, format!("flip {switch} {place}"))).collect()
}

/// How a look at link loss asks for all switches elsewhere.
pub const ALL_TO_LAST: &str = "Put all switches to their last position";

/// What a willing hand does to the world when invited: world lines, each with its delay in ms.
pub fn gesture(sentence: &str) -> Vec<(u64, String)> {
    let one = |line: &str| vec![(350, line.to_owned())];
    let words: Vec<&str> = sentence.split(|c: char| !c.is_ascii_alphanumeric()).collect();
    let after = |word: &str| {
        let at = words.iter().position(|other| other.eq_ignore_ascii_case(word))?;
        words.get(at + 1).copied()
    };
    match sentence {
        _ if sentence.starts_with("Work switch ") => work(after("switch").unwrap_or_default()),
        // Those of the bench's radio that recipes here are about.
        _ if sentence.starts_with(ALL_TO_LAST) => vec![(350, "flip B 2".to_owned()), (450, "flip C 1".to_owned())],
        _ if sentence.starts_with("Put all switches to position 0") => {
            vec![(350, "flip B 0".to_owned()), (450, "flip C 0".to_owned())]
        }
        _ if sentence.starts_with("Plug the battery in") => one("battery in"),
        _ if sentence.starts_with("Take the battery out") => one("battery out"),
        _ if sentence.starts_with("Pull the USB cable out") => one("usb out"),
        _ if sentence.starts_with("Move the roll stick") => one("wiggle roll"),
        _ if sentence.starts_with("Tilt the nose") => one("tilt 0.3 -30.2"),
        _ if sentence.starts_with("Tilt the right side") => one("tilt 30.3 -0.2"),
        _ if sentence.starts_with("Turn the craft clockwise") => one("turn 130"),
        _ if sentence.starts_with("Tilt the craft") => {
            vec![(350, "tilt 25 5".to_owned()), (1100, "tilt 0.3 -0.2".to_owned())]
        }
        _ if sentence.starts_with("Put the craft level") => one("tilt 0.3 -0.2"),
        _ if sentence.starts_with("Hold the ") => {
            let high = ["right", "up"].iter().any(|way| words.contains(way));
            let stick = after("the").unwrap_or_default();
            one(&format!("stick {stick} {}100%", if high { "" } else { "-" }))
        }
        _ if sentence.starts_with("Let the ") => one(&format!("stick {} 0%", after("the").unwrap_or_default())),
        _ if sentence.starts_with("Raise the throttle") => one("stick throttle -50%"),
        _ if sentence.starts_with("Pull the throttle") => one("stick throttle -100%"),
        _ if sentence.contains("witch the radio on") => one("radio on"),
        _ if sentence.contains("witch the radio off") => one("radio off"),
        _ => match (after("switch"), after("position").and_then(|word| word.parse::<u32>().ok())) {
            (Some(switch), Some(position)) => one(&format!("flip {switch} {position}")),
            _ => Vec::new(),
        },
    }
}
