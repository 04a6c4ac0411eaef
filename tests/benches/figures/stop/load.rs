//! Load: one process a core that does nothing but count.

use std::process::{Child, Command, Stdio};

/// The word that makes a process such a one.
pub const SPIN: &str = "spin";

/// Counts until the process that started this one is gone.
pub fn spin() -> ! {
    // A session of its own, as another program has: Linux shares cores out by session first (sched(7), autogroup).
    let _leads_one_already = rustix::process::setsid();
    std::thread::spawn(|| {
        let _until_it_is_closed = std::io::copy(&mut std::io::stdin(), &mut std::io::sink());
        std::process::exit(0);
    });
    let mut count = 0_u64;
    loop {
        count = std::hint::black_box(count.wrapping_add(1));
    }
}

/// Processes that keep every core busy while this lives.
pub struct Load(Vec<Child>);

impl Load {
    pub fn on_every_core() -> Self {
        let cores = std::thread::available_parallelism().map_or(1, usize::from);
        let start = |_| {
            let mut command = Command::new(std::env::current_exe().unwrap());
            command.arg(SPIN).stdin(Stdio::piped()).spawn().unwrap()
        };
        Self((0..cores).map(start).collect())
    }
}

impl Drop for Load {
    fn drop(&mut self) {
        for process in &mut self.0 {
            // It ends by itself as well, once its input is closed.
            let _already_gone = process.kill();
            let _status = process.wait();
        }
    }
}
