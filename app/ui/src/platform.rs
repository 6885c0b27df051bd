//! Where pages are drawn: in a browser, or by the server, which has neither window nor document.

use leptos::prelude::*;

/// Whether this program runs in a browser.
pub const IN_BROWSER: bool = cfg!(feature = "csr");
/// Whether this program is the server that draws pages.
pub const ON_SERVER: bool = cfg!(feature = "ssr");

/// Says whether an element that `selector` describes is on the page; on the server none is.
pub fn is_on_page(selector: &str) -> bool {
    IN_BROWSER && matches!(document().query_selector(selector), Ok(Some(_)))
}

/// Returns the address under which this program was opened, for another device to open; `None` on the server.
pub fn origin() -> Option<String> {
    IN_BROWSER
        .then(|| window().location().origin().ok())
        .flatten()
}
