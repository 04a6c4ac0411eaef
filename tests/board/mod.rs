//! Tests of `src/board/`.

mod mavlink;
mod radio_card_file;
mod sheet_file;
mod shipped;
