//! Tests of `src/rehearsal/`: whole runs on a virtual craft, judged by the world's own truth.

mod alike;
pub mod any_board;
mod arm;
mod asked;
mod calibrated;
mod cards;
mod craft_rows;
mod cut;
mod ends;
mod every_board;
mod first_craft;
mod frames;
mod hold;
mod idle_promise;
mod kit;
mod lacking;
mod level;
mod link_loss;
mod motors;
mod receiver;
mod recipes;
mod second_run;
mod slow_link;
mod sounded;
mod sticks;
mod told_turning;
