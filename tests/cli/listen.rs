//! `quadjig listen`: what comes is shown with its time and named by the sheet, and nothing is sent.

use super::Sandbox;
use quadjig::board::packets::checksum::Checksum;
use quadjig::board::packets::framing::{Framing, Packet};
use quadjig::board::shipped;
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use std::fs::File;
use std::io::{BufRead, BufReader, Read, Write};
use std::os::fd::OwnedFd;
use std::process::Stdio;

/// What a run showed of what a board said, with every time left out; that nothing was sent to the board is checked.
fn heard(arguments: &[&str], says: &[u8]) -> String {
    let sandbox = Sandbox::new();
    let (board, slave) = pty_process::blocking::open().unwrap();
    let path = rustix::pty::ptsname(&board, Vec::new()).unwrap().into_string().unwrap();
    let mut board = File::from(OwnedFd::from(board));
    let arguments = [&["listen", &path[..], "--for", "700ms"], arguments].concat();
    let mut command = sandbox.command(&arguments);
    let mut child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let mut stderr = BufReader::new(child.stderr.take().unwrap());
    let mut told = String::new();
    while !told.contains("nothing is sent") {
        assert_ne!(stderr.read_line(&mut told).unwrap(), 0, "{told}");
    }
    board.write_all(says).unwrap();
    let output = child.wait_with_output().unwrap();
    stderr.read_to_string(&mut told).unwrap();
    assert!(output.status.success(), "{told}");
    let mut polled = [PollFd::new(&board, PollFlags::IN)];
    let soon = Timespec { tv_sec: 0, tv_nsec: 50_000_000 };
    let came = poll(&mut polled, Some(&soon)).unwrap() > 0 && polled[0].revents().contains(PollFlags::IN);
    assert!(!came, "something was sent");
    drop(slave);
    let text = String::from_utf8(output.stdout).unwrap();
    // What stands under a packet has no time.
    let lines = text.lines().map(|line| line.split_once(" s  ").map_or(line, |(_, rest)| rest));
    let shown = lines.collect::<Vec<&str>>().join("\n");
    format!("{shown}\n{}", told.replace(&path, "PORT"))
}

#[test]
fn packets_are_named_and_nothing_is_sent() {
    let sheet = shipped::sheet("finch-p").unwrap().unwrap();
    let framing = &sheet.packets().unwrap().framing;
    let packet = |id, payload: &[u8]| framing.encode(&Packet { id, sequence: 0, payload: payload.to_vec() });
    let mut damaged = packet(0x92, &[0xE8, 3, 0xE8, 3, 0xE8, 3, 0xE8, 3]);
    damaged[5] ^= 4;
    let says =
        [b"\x1b]0;x".to_vec(), packet(0xFD, b"Finch P"), packet(0x90, &[0x82]), damaged, packet(0x55, &[])].concat();
    insta::assert_snapshot!(heard(&["--sheet", "finch-p"], &says));
}

/// What each field reads stands under its packet; where no checksum is the sheet's, which one would be is said at the end.
#[test]
fn fields_and_what_would_fit_are_shown() {
    let sheet = shipped::sheet("finch-p").unwrap().unwrap();
    let framing = &sheet.packets().unwrap().framing;
    let packet =
        |framing: &Framing, id, payload: &[u8]| framing.encode(&Packet { id, sequence: 0, payload: payload.to_vec() });
    let says = [packet(framing, 0x90, &[0x82]), packet(framing, 0x92, &[0xE8, 3, 0xE9, 3, 0xEA, 3, 0xEB])].concat();
    let shown = heard(&["--sheet", "finch-p", "--fields"], &says);
    let (_, over) = framing.sum.clone().unwrap();
    let other = Framing { sum: Some((Checksum::named("CRC-16/DNP").unwrap(), over)), ..framing.clone() };
    let says: Vec<u8> = (0..4).flat_map(|n| packet(&other, 0x90, &[n])).collect();
    insta::assert_snapshot!(format!("{shown}\n{}", heard(&["--sheet", "finch-p"], &says)));
}

#[test]
fn without_packets_bytes_are_shown() {
    insta::assert_snapshot!(heard(&["--sheet", "finch-c"], b"finch> \x1b[2J\r\n"));
}

#[test]
fn what_cannot_be_listened_to_is_told() {
    let sandbox = Sandbox::new();
    let said = |arguments: &[&str]| sandbox.run(arguments);
    insta::assert_snapshot!(
        [
            said(&["listen", "/dev/no-such-port"]),
            said(&["listen", "/dev/null", "--for", "tomorrow"]),
            said(&["listen", "/dev/null", "--sheet", "finch-z"]),
        ]
        .join("\n")
    );
}
