//! What changed from one text to another, line by line, with some lines around it.
//!
//! Promises: every line that is not in both stands there; bounded work. Must not be here: what a line means.

/// More pairs of lines than this are not compared: what stands between the first and the last change counts as changed.
const PAIRS: usize = 4_000_000;

/// Lines for a person: those that went with `-`, those that came with `+`, those around with the number that they have now.
#[must_use]
pub fn changed(old: &str, new: &str, around: usize) -> Vec<String> {
    let (old, new): (Vec<&str>, Vec<&str>) = (old.lines().collect(), new.lines().collect());
    let before = old.iter().zip(&new).take_while(|(old, new)| old == new).count();
    let most = old.len().min(new.len()) - before;
    let after = old.iter().rev().zip(new.iter().rev()).take(most).take_while(|(old, new)| old == new).count();
    let (went, came) = (&old[before..old.len() - after], &new[before..new.len() - after]);
    let mut lines: Vec<(char, &str)> = old[..before].iter().map(|line| (' ', *line)).collect();
    lines.extend(between(went, came));
    lines.extend(new[new.len() - after..].iter().map(|line| (' ', *line)));
    let width = new.len().to_string().len();
    let (mut number, mut shown, mut told) = (0, Vec::new(), 0);
    for (at, (kind, line)) in lines.iter().enumerate() {
        number += usize::from(*kind != '-');
        let near = &lines[at.saturating_sub(around)..(at + around + 1).min(lines.len())];
        if near.iter().all(|(kind, _)| *kind == ' ') {
            continue;
        }
        if told < at {
            shown.push(format!("{:>width$}  …", ""));
        }
        told = at + 1;
        shown.push(match kind {
            '-' => format!("{:>width$} -{line}", ""),
            kind => format!("{number:>width$} {kind}{line}"),
        });
    }
    shown
}

/// What stands between what is the same in both: as few changes as there can be.
fn between<'t>(old: &[&'t str], new: &[&'t str]) -> Vec<(char, &'t str)> {
    let went = |lines: &[&'t str]| lines.iter().map(|line| ('-', *line)).collect::<Vec<_>>();
    let came = |lines: &[&'t str]| lines.iter().map(|line| ('+', *line)).collect::<Vec<_>>();
    if old.len().saturating_mul(new.len()) > PAIRS {
        return [went(old), came(new)].concat();
    }
    // How many lines both have in common from each pair of places on.
    let wide = new.len() + 1;
    let mut common = vec![0_u32; (old.len() + 1) * wide];
    for at in (0..old.len()).rev() {
        for by in (0..new.len()).rev() {
            common[at * wide + by] = if old[at] == new[by] {
                common[(at + 1) * wide + by + 1] + 1
            } else {
                common[(at + 1) * wide + by].max(common[at * wide + by + 1])
            };
        }
    }
    let (mut at, mut by, mut lines) = (0, 0, Vec::new());
    while at < old.len() && by < new.len() {
        if old[at] == new[by] {
            lines.push((' ', old[at]));
            (at, by) = (at + 1, by + 1);
        } else if common[(at + 1) * wide + by] >= common[at * wide + by + 1] {
            lines.push(('-', old[at]));
            at += 1;
        } else {
            lines.push(('+', new[by]));
            by += 1;
        }
    }
    lines.extend(went(&old[at..]));
    lines.extend(came(&new[by..]));
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_changed_stands_with_two_lines_around() {
        let old = (1..=30).fold(String::new(), |all, line| format!("{all}line {line}\n"));
        let new =
            old.replace("line 9\n", "line nine\n").replace("line 21\n", "").replace("line 30\n", "line 30\nline 31\n");
        assert_eq!(
            changed(&old, &new, 2),
            [
                "    …",
                " 7  line 7",
                " 8  line 8",
                "   -line 9",
                " 9 +line nine",
                "10  line 10",
                "11  line 11",
                "    …",
                "19  line 19",
                "20  line 20",
                "   -line 21",
                "21  line 22",
                "22  line 23",
                "    …",
                "28  line 29",
                "29  line 30",
                "30 +line 31",
            ]
        );
        assert!(changed(&old, &old, 2).is_empty());
        assert_eq!(changed("", "a\n", 2), ["1 +a"]);
        assert_eq!(changed("a\nb\n", "b\na\n", 0).len(), 3);
    }
}
