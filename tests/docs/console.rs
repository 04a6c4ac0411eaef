//! The README's console blocks: every command is run, in order and in one folder, and its whole output compared.
//!
//! With `QUADJIG_WRITE_DOCS=1` in the environment the blocks are written anew instead; then read the difference.
//!
//! A block is marked behind its fence: `board` is the terminal of the virtual board, which stays open to the end;
//! `run` and `bench` are an attended run and a session at the bench prompt in a second terminal, each played by the
//! README's own table of what to do when; `from=` and `until=`
//! name the words with which the shown part of its screen begins and ends. Commands may end in `| head -n N` or
//! `| tail -n N`.

use super::blocks::{Block, blocks, table};
use super::stage::{Board, Terminal};
use super::{project, text};
use crate::cli::Sandbox;

/// Above the tables of what to do at the attended run, and at the bench prompt.
const PLAYED_BY: &str = "What to do when";
const TYPED_BY: &str = "What to type when";
const WRITES: &str = "QUADJIG_WRITE_DOCS";

/// What no seed fixes, since it comes from the system or from the moment: numbers of pseudo-terminals, and one
/// reading of a stick that the board reports in its own words.
const VOLATILE: [(&str, &str); 2] = [("/dev/pts/", "4"), ("throttle at ", "1244")];

fn settled(text: &str) -> String {
    VOLATILE.iter().fold(text.to_owned(), |text, (before, always)| {
        let mut parts = text.split(before);
        let first = parts.next().unwrap_or_default().to_owned();
        parts.fold(first, |all, part| {
            let rest = part.trim_start_matches(|c: char| c.is_ascii_digit());
            let number = if rest.len() < part.len() { always } else { &"" };
            format!("{all}{before}{number}{rest}")
        })
    })
}

/// Pulses and noise are measured anew each time: near is the same.
fn alike(text: &str) -> String {
    let near = |word: &str| {
        // What was measured goes into a plan's fingerprint.
        if word.len() == 64 && word.chars().all(|c| c.is_ascii_hexdigit()) {
            return "~".to_owned();
        }
        let digits = word.trim_matches(|c: char| !c.is_ascii_digit());
        // Speeds come out otherwise each time.
        if digits.parse::<u32>().is_ok_and(|number| number > 2200) {
            return word.replacen(digits, "~", 1);
        }
        let pulse = digits.parse::<u32>().ok().filter(|pulse| digits.len() > 2 && (800..=2200).contains(pulse));
        pulse.map_or(word.to_owned(), |pulse| word.replacen(digits, &((pulse + 25) / 50 * 50).to_string(), 1))
    };
    let line = |line: &str| {
        let mut words: Vec<String> = line.split(' ').map(near).collect();
        if let Some(at) =
            words.iter().position(|word| word == "noise" || word == "uneven").filter(|at| at + 1 < words.len())
        {
            words[at + 1] = String::from("~");
        }
        words.join(" ")
    };
    text.lines().map(|one| line(one) + "\n").collect()
}

/// A folder as after the build: recipes, and nothing else.
fn sandbox() -> Sandbox {
    let sandbox = Sandbox::new();
    for path in super::files("recipes", "") {
        let name = path.to_string_lossy().replace('\\', "/");
        sandbox.write(&name, &text(&name));
    }
    sandbox
}

/// Words of a command behind `$ quadjig `, and the pipe behind it.
fn command(line: &str) -> (Vec<&str>, Vec<&str>) {
    let line = line.strip_prefix("$ quadjig ").unwrap_or_else(|| panic!("not a command of ours: {line}"));
    let (line, pipe) = line.split_once(" | ").unwrap_or((line, ""));
    (line.split_whitespace().collect(), pipe.split_whitespace().collect())
}

/// The lines that a pipe leaves.
fn piped<'a>(pipe: &[&str], lines: &'a [&'a str]) -> &'a [&'a str] {
    match pipe {
        [] => lines,
        ["head", "-n", count] => &lines[..lines.len().min(count.parse().unwrap())],
        ["tail", "-n", count] => &lines[lines.len().saturating_sub(count.parse().unwrap())..],
        _ => panic!("no such pipe here: {pipe:?}"),
    }
}

fn run_plainly(sandbox: &Sandbox, block: &Block) -> String {
    let mut all = Vec::new();
    for line in block.text.lines().filter(|line| line.starts_with("$ ")) {
        all.push(line.to_owned());
        let (arguments, pipe) = command(line);
        let output = sandbox.command(&arguments).output().unwrap();
        let (out, err) = (String::from_utf8(output.stdout).unwrap(), String::from_utf8(output.stderr).unwrap());
        // A pipe takes standard output alone; messages come first, since they leave before the report.
        all.extend(err.lines().map(str::to_owned));
        all.extend(piped(&pipe, &out.lines().collect::<Vec<_>>()).iter().map(|line| (*line).to_owned()));
        assert!(output.status.success(), "{line}: {}\n{}", output.status, all.join("\n"));
    }
    all.join("\n") + "\n"
}

/// Cell contents between code marks: `` `flip B 2`, `radio on` ``.
fn codes(cell: &str) -> Vec<&str> {
    cell.split('`').skip(1).step_by(2).collect()
}

fn run_attended(sandbox: &Sandbox, block: &Block, board: &mut Board, steps: &[Vec<String>]) -> String {
    let line = block.text.lines().next().unwrap();
    let mut terminal = Terminal::run(sandbox, &command(line).0);
    for row in steps {
        let [says, here, there] = &row[..] else { panic!("three columns: {row:?}") };
        terminal.wait_for(codes(says)[0]);
        for word in codes(here) {
            terminal.type_by_hand(word);
        }
        for line in codes(there) {
            board.world(line);
        }
    }
    let (lines, code) = terminal.end();
    assert_eq!(code, 0, "{}", lines.join("\n"));
    let named = |what: &str| {
        let (_, words) = block.info.split_once(what)?;
        Some(words.split_once(" until=").map_or(words, |(words, _)| words))
    };
    let begin = named("from=").map_or(0, |words| lines.iter().position(|line| line.contains(words)).unwrap());
    let rest = &lines[begin..];
    let end =
        named("until=").map_or(rest.len(), |words| rest.iter().position(|line| line.contains(words)).unwrap() + 1);
    let mut shown = vec![line];
    shown.extend((begin > 0).then_some("[…]"));
    shown.extend(rest[..end].iter().map(String::as_str));
    shown.extend((end < rest.len()).then_some("[…]"));
    shown.join("\n").trim_end().to_owned() + "\n"
}

#[test]
fn the_guided_session_goes_as_it_is_told() {
    let readme = text("README.md");
    let sandbox = sandbox();
    let mut board: Option<Board> = None;
    let mut anew = readme.clone();
    let mut seen = Vec::new();
    for block in blocks(&readme).iter().filter(|block| block.language == "console") {
        let kind = block.info.split_whitespace().next().unwrap_or("plain");
        let went = match kind {
            "board" => {
                let line = block.text.lines().next().unwrap();
                let arguments = command(line).0;
                let at = arguments.iter().position(|word| *word == "--link").unwrap();
                let served = Board::serve(&sandbox, &arguments, &sandbox.path(arguments[at + 1]));
                let lines = served.transcript.join("\n");
                board = Some(served);
                format!("{line}\n{lines}\n")
            }
            "run" | "bench" => {
                let told = if kind == "run" { PLAYED_BY } else { TYPED_BY };
                let above: usize = readme.lines().take(block.line - 1).map(|line| line.len() + 1).sum();
                let at = readme[..above].rfind(told).expect("a table above");
                let steps = table(&readme[at..], told);
                run_attended(&sandbox, block, board.as_mut().expect("a board first"), &steps)
            }
            _ => run_plainly(&sandbox, block),
        };
        // Stepping the idle by hand is read on a page or not at all.
        assert!(seen.iter().any(|one| one == "bench") || kind != "bench" || went.lines().count() <= 40, "{went}");
        seen.push(kind.to_owned());
        let went = settled(&went);
        if std::env::var_os(WRITES).is_some() {
            let fenced = |text: &str| format!("```{}\n{text}```", format!("console {}", block.info).trim_end());
            assert!(anew.contains(&fenced(&block.text)));
            anew = anew.replacen(&fenced(&block.text), &fenced(&went), 1);
        } else {
            let (told, went) = (alike(&settled(&block.text)), alike(&went));
            let hint = format!("if the new output is right: {WRITES}=1 cargo test --test all docs::console");
            assert!(told == went, "README.md, line {}, tells\n{told}\nand it went\n{went}\n{hint}", block.line);
        }
    }
    for kind in ["plain", "board", "run", "bench"] {
        assert!(seen.iter().any(|one| one == kind), "the session has a block of the kind {kind}");
    }
    if anew != readme {
        std::fs::write(project().join("README.md"), anew).unwrap();
    }
}

#[test]
fn only_what_is_volatile_is_settled() {
    let text = "port /dev/pts/12, linked as finch; throttle at 1251 us; /dev/pts/x; 12";
    assert_eq!(settled(text), "port /dev/pts/4, linked as finch; throttle at 1244 us; /dev/pts/x; 12");
}
