//! A spy between the program and a board: carries every byte, keeps what the program sends, and may alter what the board
//! says.

use super::board::Board;
use std::io::{Read, Write};
use std::net::{Shutdown, TcpListener, TcpStream};
use std::sync::{Arc, Mutex};
use std::thread;

/// See the module.
pub struct Relay {
    /// What `--port` is to be.
    pub port: String,
    sent: Arc<Mutex<Vec<u8>>>,
}

impl Relay {
    /// Before this board, which is on TCP.
    pub fn before(board: &Board) -> Self {
        Self::altering(board, |_| {})
    }

    /// The same, with a hand in what the board says.
    pub fn altering(board: &Board, mut alter: impl FnMut(&mut Vec<u8>) + Send + 'static) -> Self {
        let address = board.port.strip_prefix("tcp:").unwrap().to_owned();
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let port = format!("tcp:{}", listener.local_addr().unwrap());
        let sent = Arc::<Mutex<Vec<u8>>>::default();
        let kept = sent.clone();
        thread::spawn(move || {
            for program in listener.incoming().map_while(Result::ok) {
                // A board that restarts lets nobody in meanwhile, as a port that is gone.
                if let Ok(board) = TcpStream::connect(&address) {
                    carry(&program, &board, &kept, &mut alter);
                }
            }
        });
        Self { port, sent }
    }

    /// Everything that the program has sent.
    pub fn sent(&self) -> Vec<u8> {
        self.sent.lock().unwrap().clone()
    }
}

fn carry(program: &TcpStream, board: &TcpStream, kept: &Arc<Mutex<Vec<u8>>>, alter: &mut impl FnMut(&mut Vec<u8>)) {
    let (mut from_program, mut to_board) = (program.try_clone().unwrap(), board.try_clone().unwrap());
    let (mut from_board, mut to_program) = (board.try_clone().unwrap(), program.try_clone().unwrap());
    let kept = kept.clone();
    let there = thread::spawn(move || {
        let mut bytes = [0; 4096];
        while let Ok(count @ 1..) = from_program.read(&mut bytes) {
            kept.lock().unwrap().extend(&bytes[..count]);
            if to_board.write_all(&bytes[..count]).is_err() {
                break;
            }
        }
        let _ = to_board.shutdown(Shutdown::Both);
    });
    let mut bytes = [0; 4096];
    while let Ok(count @ 1..) = from_board.read(&mut bytes) {
        let mut said = bytes[..count].to_vec();
        alter(&mut said);
        if to_program.write_all(&said).is_err() {
            break;
        }
    }
    let _ = program.shutdown(Shutdown::Both);
    let _ = there.join();
}
