//! Tests of `src/bench/`: whole runs under the simulated world, judged by bytes and by the world's own truth.

mod plain;
mod prompts;
mod stand;
mod stop;
