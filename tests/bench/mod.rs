//! Tests of `src/bench/`: whole runs under the simulated world, judged by bytes and by the world's own truth.

mod by_hand;
mod by_hand_complete;
mod failsafe;
mod gaps;
mod guards;
mod killed;
mod link;
mod live_page;
mod plain;
mod prompts;
mod stand;
mod stop;
mod together;
mod watch;
mod writes;
