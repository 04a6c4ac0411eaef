//! A wire that does not carry the usual streams: it is asked for what fits, and said what that costs.

use super::kit::{play, script};
use quadjig::virtual_board::WorldConfig;

fn on(baud: u32) -> super::kit::Play {
    let mut config = WorldConfig::default();
    config.wire.baud = Some(baud);
    play(&script("idle at 1150\nkeep\nrequire battery in\ntest idle in 2 starts\ntest cut within 800 ms\n"), config)
}

#[test]
fn at_57600_baud_streams_are_asked_for_as_often_as_fits() {
    let slow = on(57_600);
    assert!(slow.told("outputs a second, so they are asked for 25 times a second"), "{:#?}", slow.lines.last());
    assert!(slow.told("no limit under 120 ms can be shown"));
    assert_eq!(slow.rehearsed.result, Ok(()), "{:#?}", slow.lines[slow.lines.len().saturating_sub(9)..].to_vec());
    let quick = on(115_200);
    assert_eq!(quick.rehearsed.result, Ok(()));
    assert!(!quick.told("This link carries"));
}
