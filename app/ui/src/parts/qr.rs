//! A QR picture of a text, for another device to take up without a network.

use fast_qr::qr::QRCode;
use fast_qr::{ECL, QRBuilder};
use leptos::prelude::*;
use std::fmt::Write as _;

/// Light modules around the picture, as ISO/IEC 18004 asks for.
const QUIET: usize = 4;

/// Draws the dark modules as one path, a unit each.
fn modules(code: &QRCode) -> String {
    let mut path = String::new();
    for (row, line) in code.data.chunks(code.size).take(code.size).enumerate() {
        for (column, module) in line.iter().enumerate() {
            if module.value() {
                let (x, y) = (column + QUIET, row + QUIET);
                // Writing to a String cannot fail.
                let _ = write!(path, "M{x} {y}h1v1h-1z");
            }
        }
    }
    path
}

/// A QR picture; a text that is too long for one is shown by nothing, its words stand beside it anyway.
#[component]
pub fn Qr(
    /// What is in it.
    #[prop(into)]
    text: String,
    /// What it is, for those who cannot see it.
    #[prop(into)]
    label: String,
) -> impl IntoView {
    // The least correction: larger modules are read more surely off a screen than corrected small ones.
    let code = QRBuilder::new(text).ecl(ECL::L).build();
    code.ok().map(|code| {
        let side = code.size + 2 * QUIET;
        view! {
            <svg
                class="qr"
                viewBox=format!("0 0 {side} {side}")
                role="img"
                aria-label=label
                shape-rendering="crispEdges"
            >
                <rect class="qr-ground" width=side.to_string() height=side.to_string() />
                <path class="qr-modules" d=modules(&code) />
            </svg>
        }
        .into_any()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn picture_has_its_three_finders_and_its_quiet_zone() {
        let code = QRBuilder::new("clearhawse/ship/00")
            .build()
            .expect("it fits");
        let path = modules(&code);
        let far = code.size + QUIET - 7;
        for (x, y) in [(QUIET, QUIET), (far, QUIET), (QUIET, far)] {
            for at in 0..7 {
                assert!(path.contains(&format!("M{} {y}h", x + at)), "{x} {y}");
                assert!(path.contains(&format!("M{x} {}h", y + at)), "{x} {y}");
            }
            let (inside, below) = (x + 1, y + 1);
            assert!(!path.contains(&format!("M{inside} {below}h")));
        }
        assert!(!path.contains(&format!("M{} ", QUIET - 1)));
    }
}
