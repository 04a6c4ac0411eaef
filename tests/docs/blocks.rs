//! Fenced blocks and tables of a Markdown text, as far as the project's own texts use them.
//!
//! Source of the form: `CommonMark` 0.31, fenced code blocks.

/// A fenced block.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Block {
    /// The first word behind the fence.
    pub language: String,
    /// The rest behind the fence.
    pub info: String,
    /// What stands inside, each line with its line feed.
    pub text: String,
    /// Line of the opening fence, from 1.
    pub line: usize,
}

/// Every fenced block, in order.
pub fn blocks(markdown: &str) -> Vec<Block> {
    let mut found = Vec::new();
    let mut open: Option<Block> = None;
    for (line, text) in (1..).zip(markdown.lines()) {
        match (&mut open, text.strip_prefix("```")) {
            (None, Some(info)) => {
                let (language, info) = info.split_once(' ').unwrap_or((info, ""));
                let (language, info) = (language.to_owned(), info.trim().to_owned());
                open = Some(Block { language, info, text: String::new(), line });
            }
            (Some(_), Some("")) => found.extend(open.take()),
            (Some(block), _) => {
                block.text.push_str(text);
                block.text.push('\n');
            }
            (None, None) => {}
        }
    }
    assert_eq!(open, None, "a fence is not closed");
    found
}

/// The rows of the table below a line, each cell without its spaces and code marks; without head and rule.
pub fn table(markdown: &str, below: &str) -> Vec<Vec<String>> {
    let (_, rest) = markdown.split_once(below).unwrap_or_else(|| panic!("no line says {below:?}"));
    let rows = rest.lines().skip_while(|line| !line.starts_with('|')).take_while(|line| line.starts_with('|'));
    let cells = |row: &str| row.trim_matches('|').split('|').map(|cell| cell.trim().to_owned()).collect();
    rows.skip(2).map(cells).collect()
}

#[test]
fn blocks_and_tables_are_found() {
    let text = "a\n```sh\nls\n```\n```console told\n$ x\n```\n## T\n\n| a | b |\n|---|---|\n| 1 | `2` |\n\n| no |\n";
    let found = blocks(text);
    assert_eq!((found[0].language.as_str(), found[0].text.as_str(), found[0].line), ("sh", "ls\n", 2));
    assert_eq!((found[1].language.as_str(), found[1].info.as_str()), ("console", "told"));
    assert_eq!(table(text, "## T"), [["1", "`2`"]]);
}
