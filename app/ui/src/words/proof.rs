//! What the page about proof says.

pub use said::*;

mod said {
    use crate::words::word::Word;
    include!(concat!(env!("OUT_DIR"), "/proof.rs"));
}
