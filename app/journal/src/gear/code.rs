//! Codes for new items: short enough for a label and a thumb, and not one that is or was another's.

use procedure::gear::{Register, check_code};
use sha2::{Digest, Sha256};

/// Signs that are not taken for each other on a wet label.
const SIGNS: &[u8; 24] = b"ACDEFHJKLMNPRTUVWXY34679";
/// How many of them a code has after its kind's letters: with some hundred items aboard, two phones out of range of each
/// other come on the same one less than once in a thousand.
const LETTERS: usize = 4;

/// Returns the letters that say the kind: the first of each word, or the first two of one.
fn prefix(kind: &str) -> String {
    let words: Vec<&str> = kind.split('-').filter(|word| !word.is_empty()).collect();
    let letters: String = match words.as_slice() {
        [] => "X".to_owned(),
        [one] => one.chars().take(2).collect(),
        several => several
            .iter()
            .filter_map(|word| word.chars().next())
            .take(3)
            .collect(),
    };
    letters.to_uppercase()
}

/// Makes a code for an item of a kind, such as `GM-4K7P`. `seed` is whatever makes this moment on this device unlike any
/// other; `taken` are codes that are given out beside those on the register.
pub fn new_code(register: &Register, kind: &str, seed: &str, taken: &[String]) -> String {
    let prefix = prefix(kind);
    let mut tries = (0_u64..).map(|at| {
        let hash = Sha256::digest(format!("{kind}\n{seed}\n{at}"));
        let letters = hash.iter().take(LETTERS).map(|byte| {
            let at = usize::from(*byte) % SIGNS.len();
            char::from(SIGNS[at])
        });
        format!("{prefix}-{}", letters.collect::<String>())
    });
    let is_free = |code: &String| check_code(register, code).is_ok() && !taken.contains(code);
    tries
        .find(is_free)
        .expect("invariant: a ship has fewer items than there are codes")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_says_the_kind_and_is_never_one_that_is_taken() {
        let register = Register::default();
        let first = new_code(&register, "gas-meter", "thorne 1", &[]);
        assert!(first.starts_with("GM-") && first.len() == 7, "{first}");
        let again = new_code(
            &register,
            "gas-meter",
            "thorne 1",
            std::slice::from_ref(&first),
        );
        assert_ne!(first, again);
        assert!(new_code(&register, "anchor", "x", &[]).starts_with("AN-"));
        assert!(new_code(&register, "emergency-fire-pump", "x", &[]).starts_with("EFP-"));
    }
}
