//! Tests of `src/measure/`.

mod band_order;
mod bands;
mod clusters;
mod dice;
mod find_switch;
mod find_switch_reasons;
mod radio;
mod receiver;
mod reliability;
mod robust;
