//! Tests of `src/interlock/`: the safety case by itself, on events made by hand.

mod answers;
mod authority;
mod beside;
mod bounds;
mod contact;
mod doors;
mod entry;
mod forged;
mod gate;
mod guards;
mod left;
mod phases;
mod power_cycle;
mod restart;
pub(crate) mod room;
mod starts;
mod stopping;
mod unheard;
mod whose;
