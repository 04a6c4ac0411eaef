//! Tests of `src/board/`.

mod binding;
mod console;
mod convert;
mod identity;
mod mavlink;
mod packets;
mod radio_card_file;
mod sheet_facts;
mod sheet_file;
mod shipped;
