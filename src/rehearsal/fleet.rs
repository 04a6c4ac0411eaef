//! fleet
