//! The shipped board sheets and the virtual boards agree: every name is there, with the same limits.

use quadjig::board::sheet::{BindingLayout, Form};
use quadjig::board::shipped;
use quadjig::measure::time::Time;
use quadjig::virtual_board::{BoardKind, World, WorldConfig};

fn takes(world: &mut World, name: &str, value: f64) -> bool {
    world.line(Time(0), &format!("set {name} {value}")).is_ok()
}

fn real(code: i64) -> f64 {
    f64::from(i32::try_from(code).unwrap())
}

#[test]
fn sheets_say_what_the_boards_have_and_take() {
    for (file, board) in [
        ("finch", BoardKind::Finch),
        ("finch-r", BoardKind::FinchR),
        ("finch-c", BoardKind::FinchC),
        ("finch-p", BoardKind::FinchP),
        ("finch-q", BoardKind::FinchQ),
    ] {
        let sheet = shipped::sheet(file).expect("shipped").expect("valid");
        assert_eq!(sheet.kind.as_deref(), Some(board.name()));
        let mut world = World::new(WorldConfig { board, ..WorldConfig::default() });
        for entry in sheet.settings.values().chain(sheet.raw.values()) {
            let name = entry.name.as_str();
            let mut allowed: Vec<f64> = match &entry.form {
                Form::Words(words) => words.values().map(|code| real(*code)).collect(),
                Form::Whole { only, .. } => only.iter().map(|only| real(*only)).collect(),
                Form::Real { .. } => Vec::new(),
            };
            allowed.extend(entry.range.iter().flat_map(|(least, most)| [*least, *most]));
            assert!(!allowed.is_empty(), "{name}");
            for value in &allowed {
                assert!(takes(&mut world, name, *value), "{name} {value}");
            }
            let most = allowed.iter().copied().fold(f64::MIN, f64::max);
            let least = allowed.iter().copied().fold(f64::MAX, f64::min);
            assert!(!takes(&mut world, name, most + 1.0), "{name} {}", most + 1.0);
            assert!(!takes(&mut world, name, least - 1.0), "{name} {}", least - 1.0);
        }
        let mut ends = Vec::new();
        match &sheet.binding.way {
            BindingLayout::Direct(functions) => {
                for band in functions.values() {
                    assert!(takes(&mut world, band.channel.as_str(), 16.0));
                    ends.extend([band.from.clone(), band.to.clone()]);
                }
            }
            BindingLayout::Rows { functions, rows, free } => {
                for row in rows {
                    assert!(takes(&mut world, row.function.as_ref().unwrap().as_str(), real(*free)));
                    for number in functions.values() {
                        assert!(takes(&mut world, row.function.as_ref().unwrap().as_str(), real(*number)));
                    }
                    ends.extend([row.from.clone(), row.to.clone()]);
                }
            }
        }
        for end in ends {
            for value in [850, 858, 1754, 2146] {
                let answer = world.line(Time(0), &format!("set {} {value}", end.as_str())).unwrap();
                assert_eq!(answer, [format!("{} is {value}", end.as_str())], "kept to the step");
            }
            assert!(!takes(&mut world, end.as_str(), 849.0) && !takes(&mut world, end.as_str(), 2151.0));
        }
    }
}
