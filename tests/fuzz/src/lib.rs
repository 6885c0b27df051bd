//! What reads bytes from a network or a file, each with the properties that any bytes must leave standing.
//!
//! A target panics where a property does not hold. The engine (`cargo xtask fuzz`) looks for such bytes,
//! guided by which code they reach; the tests here give every target its seeds, whole, cut and flipped.

mod targets;

pub use targets::TARGETS;

/// One reader of bytes.
#[derive(Debug)]
pub struct Target {
    /// Its name.
    pub name: &'static str,
    /// Reads any bytes; panics where a property does not hold.
    pub check: fn(&[u8]),
    /// Bytes that it reads well, to begin with.
    pub seeds: fn() -> Vec<Vec<u8>>,
}

/// Returns the target of this name.
pub fn target(name: &str) -> Option<&'static Target> {
    TARGETS.iter().find(|target| target.name == name)
}

/// Bytes that once broke a property, kept so that they never do again: files in `found/NAME`.
pub fn found(name: &str) -> Vec<Vec<u8>> {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("found")
        .join(name);
    let listed = std::fs::read_dir(folder).into_iter().flatten();
    listed
        .filter_map(|entry| std::fs::read(entry.ok()?.path()).ok())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_target_stands_its_seeds_whole_cut_and_flipped() {
        for target in &TARGETS {
            let seeds = (target.seeds)();
            assert!(!seeds.is_empty(), "{} has no seeds", target.name);
            for seed in seeds {
                (target.check)(&seed);
                // A long text is tried at some of its places only.
                for at in (0..seed.len()).step_by(seed.len() / 200 + 1) {
                    (target.check)(&seed[..at]);
                    let mut flipped = seed.clone();
                    flipped[at] ^= 1 << (at % 8);
                    (target.check)(&flipped);
                }
            }
        }
    }

    #[test]
    fn what_once_broke_a_property_does_so_no_more() {
        for target in &TARGETS {
            for bytes in found(target.name) {
                (target.check)(&bytes);
            }
        }
    }

    #[test]
    fn a_target_is_found_by_its_name() {
        for target in &TARGETS {
            assert_eq!(
                super::target(target.name).map(|found| found.name),
                Some(target.name)
            );
        }
        assert!(target("none").is_none());
    }
}
