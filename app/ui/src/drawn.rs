//! Draws a part of the screen as the server would, for tests of what it shows.

use crate::port::Device;
use leptos::prelude::*;

/// Returns the HTML of a view on a device that nobody is enrolled on.
pub fn drawn<V: IntoView>(view: impl FnOnce() -> V) -> String {
    let owner = Owner::new();
    owner.with(|| {
        provide_context(Device::new(Callback::new(|_| {})));
        view().into_view().to_html()
    })
}

/// Says whether HTML shows a text.
pub fn shows(html: &str, text: &str) -> bool {
    let escaped = text.replace('&', "&amp;").replace('<', "&lt;");
    html.contains(text) || html.contains(&escaped)
}
