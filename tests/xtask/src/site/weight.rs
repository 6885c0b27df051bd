//! What the program weighs, and the ceiling that it may not outgrow.

use serde::Deserialize;

use super::listing::{Listed, Listing};
use super::wasm::NAME;
use crate::fault::Fault;
use crate::paths;
use crate::run::note;

const CEILING: &str = "tests/xtask/wasm-ceiling.json";

/// The most bytes that a browser may have to fetch of the program, in brotli.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
struct Ceiling {
    /// Before the first page at the bow can be drawn.
    first_page: usize,
    /// Before every page can be drawn out of range.
    all_pages: usize,
}

/// Prints what each part of the program weighs, and holds it against the ceiling.
///
/// # Errors
/// [`Fault::OverCeiling`] if it is heavier.
pub fn hold(listing: &Listing, is_optimised: bool) -> Result<(), Fault> {
    let path = paths::root().join(CEILING);
    let text = paths::read_text(&path)?;
    let ceiling: Ceiling =
        serde_json::from_str(&text).map_err(|source| Fault::Json { path, source })?;
    let mut is = Ceiling {
        first_page: 0,
        all_pages: 0,
    };
    let mut bytes = 0;
    for file in listing.files.iter().filter(|file| is_program(file)) {
        let kind = if file.is_later { "later" } else { "first" };
        note(&format!(
            "{kind} {:<26} {:>8} bytes, {:>7} as sent",
            file.logical,
            file.bytes,
            file.sent()
        ));
        bytes += file.bytes;
        is.all_pages += file.sent();
        if !file.is_later {
            is.first_page += file.sent();
        }
    }
    note(&format!(
        "the program: {} bytes as sent for the first page, {} for all; {bytes} bytes in all",
        is.first_page, is.all_pages
    ));
    for (what, is, most) in [
        ("first_page", is.first_page, ceiling.first_page),
        ("all_pages", is.all_pages, ceiling.all_pages),
    ] {
        if is > most {
            return Err(Fault::OverCeiling { what, is, most });
        }
        // The ceiling is that of a machine without the optimiser, which none needs to have.
        if !is_optimised && is_slack(is, most) {
            note(&format!("{CEILING}: lower {what} to {is}"));
        }
    }
    Ok(())
}

/// Returns whether the ceiling is more than a hundredth too high.
fn is_slack(is: usize, most: usize) -> bool {
    most - is > most / 100
}

/// Whether the file is of the program itself: its wasm, its loaders, the scripts that crates brought along.
fn is_program(file: &Listed) -> bool {
    [NAME, "snippets/", "split_", "chunk_"]
        .iter()
        .any(|start| file.logical.starts_with(start))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hundredth_of_slack_is_left_alone() {
        assert!(!is_slack(990, 1000));
        assert!(is_slack(989, 1000));
        assert!(!is_slack(1000, 1000));
    }
}
