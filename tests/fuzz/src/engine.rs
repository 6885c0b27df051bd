//! Hands the engine's bytes to the target that `CLEARHAWSE_FUZZ_TARGET` names.

#![expect(
    clippy::disallowed_methods,
    reason = "the fuzzing engine takes no other end for a finding"
)]
#![no_main]

use libfuzzer_sys::fuzz_target;
use std::sync::LazyLock;

static TARGET: LazyLock<&'static fuzz::Target> = LazyLock::new(|| {
    let name = std::env::var("CLEARHAWSE_FUZZ_TARGET").unwrap_or_default();
    fuzz::target(&name).unwrap_or_else(|| {
        let known: Vec<&str> = fuzz::TARGETS.iter().map(|target| target.name).collect();
        eprintln!(
            "there is no target {name:?}; there are {}",
            known.join(", ")
        );
        std::process::exit(2)
    })
});

fuzz_target!(|data: &[u8]| (TARGET.check)(data));
