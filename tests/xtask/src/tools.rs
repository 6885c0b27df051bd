//! Programs that make a build better and that it can do without.

use std::path::PathBuf;

use crate::machine::Machine;
use crate::run::note;

/// Returns `wasm-opt` if there is one that understands what the compiler emits today.
pub fn wasm_opt() -> Option<(PathBuf, u32)> {
    const OLDEST: u32 = 116; // older ones know the features under other names, or not at all
    let machine = Machine::here();
    let path = machine.find("wasm-opt")?;
    let text = machine.output("wasm-opt", &["--version"])?;
    let version = text
        .split_whitespace()
        .find_map(|word| word.parse::<u32>().ok())?;
    if version < OLDEST {
        note(&format!(
            "wasm-opt {version} is older than {OLDEST}: not used"
        ));
        return None;
    }
    Some((path, version))
}
