//! What is done with a board, one operation a file: opening and finding it again, reading, writing, storing,
//! restarting, starting motors. Each that changes anything takes the token that the interlock gave for it.

pub mod heat;
pub mod naming;
pub mod reconnect;
pub mod settings;
pub mod turn;
pub mod wire;
