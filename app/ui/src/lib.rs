//! The screen: parts, pages and words.

pub mod parts;
