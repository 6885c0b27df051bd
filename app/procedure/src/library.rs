//! The procedures that ship with the program. A ship's copy of the same short name comes before them.

use crate::definition::Procedure;
use crate::parse;

const TEXTS: &[(&str, &str)] = &[(
    "anchors-ready.toml",
    include_str!("../library/anchors-ready.toml"),
)];

/// Lists the library's files: name and text.
pub fn texts() -> &'static [(&'static str, &'static str)] {
    TEXTS
}

/// Reads the whole library.
pub fn all() -> Vec<Procedure> {
    let read = |(file, text): &(&str, &str)| {
        parse(file, text).expect("invariant: a test reads every file of the library")
    };
    TEXTS.iter().map(read).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_file_of_the_library_reads() {
        for (file, text) in texts() {
            if let Err(mistakes) = parse(file, text) {
                let lines: Vec<_> = mistakes.iter().map(ToString::to_string).collect();
                panic!("{}", lines.join("\n"));
            }
        }
    }
}
