//! Tests of `src/bench/`: whole runs under the simulated world, judged by bytes and by the world's own truth.

mod failsafe;
mod gaps;
mod guardian;
mod guards;
mod hands;
mod interactive;
mod interactive_complete;
mod killed;
mod last_time;
mod link;
mod live_page;
mod plain;
mod prompts;
mod sessions;
mod spied;
pub(crate) mod stand;
mod stop;
mod strip;
mod together;
mod watch;
mod words;
mod writes;
