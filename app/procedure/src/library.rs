//! The procedures that ship with the program. A ship's copy of the same short name comes before them.

use crate::definition::Procedure;
use crate::parse;

/// Names a file and takes its text in.
macro_rules! file {
    ($name:literal) => {
        (
            concat!($name, ".toml"),
            include_str!(concat!("../library/", $name, ".toml")),
        )
    };
}

// One place in the program, not a copy for each that reads it.
static TEXTS: &[(&str, &str)] = &[
    file!("locker-entry"),
    file!("anchors-ready"),
    file!("letting-go"),
    file!("at-anchor"),
    file!("weighing"),
    file!("foul-hawse"),
    file!("dragging"),
    file!("secured-for-sea"),
    file!("sea-lashings"),
    file!("mooring-forward"),
    file!("hose-test"),
    file!("windlass-weekly"),
    file!("windlass-monthly"),
    file!("chain-measurement"),
    file!("defect-handover"),
    file!("before-launch"),
    file!("cable-marks"),
    file!("mooring-lines"),
    file!("stern-to-ground-lines"),
    file!("entry-drill"),
    file!("hose-drill"),
    file!("foredeck-induction"),
    file!("survey-pack"),
];

/// Lists the library's files: name and text.
pub fn texts() -> &'static [(&'static str, &'static str)] {
    TEXTS
}

/// Lists the short names of the library's procedures: a file is named after the one that it holds.
pub fn slugs() -> impl Iterator<Item = &'static str> {
    TEXTS
        .iter()
        .filter_map(|(file, _)| file.strip_suffix(".toml"))
}

/// Returns the title of a procedure of the library.
pub fn title(slug: &str) -> Option<&'static str> {
    let of = |(file, _): &&(&str, &str)| file.strip_suffix(".toml") == Some(slug);
    let (_, text) = TEXTS.iter().find(of)?;
    let line = |line: &'static str| line.strip_prefix("title = \"")?.strip_suffix('"');
    text.lines().find_map(line)
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

    #[test]
    fn every_file_is_named_for_its_procedure() {
        for ((file, _), procedure) in texts().iter().zip(all()) {
            assert_eq!(*file, format!("{}.toml", procedure.slug()));
            assert_eq!(title(procedure.slug()), Some(procedure.title()));
        }
    }

    #[test]
    fn every_need_names_a_procedure_of_the_library() {
        let all = all();
        for procedure in &all {
            for need in procedure.steps().iter().flat_map(|step| &step.needs) {
                assert!(
                    all.iter().any(|other| other.slug() == need.procedure),
                    "{}",
                    need.procedure
                );
            }
        }
    }
}
