//! Laws of the console, whatever is typed at it: it stays bounded and comes back to its prompt, and one row of bytes
//! stops every motor.

use super::typist::{PROMPT, Typist};
use proptest::prelude::*;
use quadjig::virtual_board::{ConsoleConfig, WireConfig, WorldConfig};
use std::time::Duration;

/// What may happen at a console.
#[derive(Debug, Clone)]
enum Deed {
    Types(Vec<u8>),
    World(&'static str),
    Waits(u64),
}

fn deed() -> impl Strategy<Value = Deed> {
    let lines = [
        "list\r",
        " ",
        "leave\r",
        "\r\r",
        "\u{3}",
        "\n",
        "spin 1 1200 3000\r",
        "spin 4 1100 20\r",
        "keep\r",
        "again\r",
        "put 1 into SPIN_AT_ZERO\r",
        "put 1200 into IDLE_US\r",
        "put 0 into ROW1_FUNC\r",
        "who",
        "rest",
        "channels\r\n",
    ];
    let world = [
        "flip B 2",
        "flip B 0",
        "battery out",
        "battery in",
        "usb out",
        "usb in",
        "radio off",
        "radio on",
        "restart",
        "say hello",
        r"say \r\nfinch> armed: no",
        "stick throttle 1000",
        "stick throttle -50%",
    ];
    prop_oneof![
        6 => prop::sample::select(lines.to_vec()).prop_map(|line| Deed::Types(line.as_bytes().to_vec())),
        2 => prop::collection::vec(any::<u8>(), 0..200).prop_map(Deed::Types),
        4 => prop::sample::select(world.to_vec()).prop_map(Deed::World),
        3 => (0_u64..700).prop_map(Deed::Waits),
    ]
}

fn boards() -> impl Strategy<Value = WorldConfig> {
    (
        prop::sample::select(vec![0, 0, 150]),
        any::<bool>(),
        prop::option::of(prop::sample::select(vec![57_600, 921_600])),
    )
        .prop_map(|(late, blocks_arming, baud)| WorldConfig {
            console: ConsoleConfig { answers_after: Duration::from_millis(late), blocks_arming, no_banner: false },
            wire: WireConfig { baud, ..WireConfig::default() },
            ..WorldConfig::default()
        })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 100, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_break_two_ends_of_line_and_rest_stop_whatever_was_typed(
        config in boards(), deeds in prop::collection::vec(deed(), 0..40),
    ) {
        let mut typist = Typist::with(config);
        typist.bind_arm();
        typist.line("battery in");
        let mut shown = 0;
        for deed in deeds {
            shown += match deed {
                Deed::Types(bytes) => typist.types(bytes),
                // A board without power takes no world line that is for the board.
                Deed::World(line) => typist.world.line(typist.now, line).map(|_| typist.shown()).unwrap_or_default(),
                Deed::Waits(milliseconds) => typist.wait(milliseconds),
            }
            .len();
        }
        prop_assert!(shown < 200_000, "{shown} bytes were shown");
        typist.line("usb in");
        // Should it be restarting, it comes back; a slow wire has carried what was typed before.
        typist.wait(1500);
        typist.types("\u{3}\r\rrest\r");
        typist.wait(100);
        prop_assert_eq!(typist.truth("/armed"), false);
        // No pulse at all while it restarts.
        prop_assert!(typist.world.outputs().iter().all(|pulse| *pulse <= 1000));
        // A restart that was asked for before comes to its end; then a line has its answer again.
        typist.wait(1500);
        let answer = typist.types("\u{3}armed\r") + &typist.wait(400);
        prop_assert!(answer.ends_with(&format!("armed: no\r\n{PROMPT}")), "{answer:?}");
    }
}
