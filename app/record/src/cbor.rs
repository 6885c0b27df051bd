//! Deterministic CBOR (RFC 8949 section 4.2.1): a small writer and a reader that refuses the rest.

mod reader;
mod writer;

pub use reader::{Reader, check};
pub use writer::Writer;

/// How deep arrays, maps and tags may be nested.
pub const MAX_DEPTH: usize = 16;

/// Why bytes are not deterministic CBOR, or not the item expected; `at` counts bytes from 0.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Malformed {
    /// The bytes end inside an item.
    #[error("the bytes end inside an item at byte {at}")]
    Cut {
        /// Where the item that is cut begins.
        at: usize,
    },
    /// An integer or a length is not written in its shortest form.
    #[error("a number at byte {at} is not in its shortest form")]
    NotShortest {
        /// Where it stands.
        at: usize,
    },
    /// A string, an array or a map has no stated length.
    #[error("an item at byte {at} has no definite length")]
    Indefinite {
        /// Where it stands.
        at: usize,
    },
    /// An initial byte that RFC 8949 reserves.
    #[error("byte {at} has a reserved form")]
    Reserved {
        /// Where it stands.
        at: usize,
    },
    /// Bytes follow the item.
    #[error("bytes follow the item from byte {at} on")]
    TrailingBytes {
        /// Where they begin.
        at: usize,
    },
    /// Another type stands where a certain one is required.
    #[error("byte {at} does not begin {expected}")]
    WrongType {
        /// Where it stands.
        at: usize,
        /// What is required.
        expected: &'static str,
    },
    /// A text string is not UTF-8.
    #[error("the text at byte {at} is not UTF-8")]
    TextNotUtf8 {
        /// Where it stands.
        at: usize,
    },
    /// Items are nested deeper than [`MAX_DEPTH`].
    #[error("items are nested deeper than {MAX_DEPTH} at byte {at}")]
    TooDeep {
        /// Where the limit is passed.
        at: usize,
    },
    /// The keys of a map do not ascend in the order of their bytes.
    #[error("the map key at byte {at} is out of order")]
    KeyOrder {
        /// Where the key stands.
        at: usize,
    },
    /// A map holds a key twice.
    #[error("the map key at byte {at} stands twice")]
    KeyTwice {
        /// Where the second one stands.
        at: usize,
    },
    /// A big number fits a plain integer, or begins with a zero byte.
    #[error("the big number at byte {at} is not in its shortest form")]
    BigNumber {
        /// Where it stands.
        at: usize,
    },
    /// An integer does not fit 64 bits with a sign.
    #[error("the integer at byte {at} is too large")]
    IntegerTooLarge {
        /// Where it stands.
        at: usize,
    },
}
