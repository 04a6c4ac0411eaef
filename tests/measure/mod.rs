//! Tests of `src/measure/`.

mod alignment;
mod band_order;
mod bands;
mod bracket;
mod catching;
mod clusters;
pub mod dice;
mod find_switch;
mod find_switch_reasons;
mod intervals;
mod link_loss;
mod motor_permutation;
mod motor_survey;
mod moved;
mod orientation;
mod radio;
mod reliability;
mod robust;
mod signal_timing;
mod stabiliser;
mod stick_figures;
mod sticks;
mod turning;
