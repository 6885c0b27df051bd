//! What the device itself gives: the time, the light, and a place to keep things.

use crate::parts::Light;
use leptos::prelude::*;

/// How well the browser keeps what is stored.
#[derive(Debug, Clone, PartialEq)]
#[expect(
    clippy::struct_excessive_bools,
    reason = "each is a fact of its own, and a page asks for each alone"
)]
pub struct Keeping {
    /// The browser promised not to clear it by itself.
    pub persistent: bool,
    /// Little room is left.
    pub low: bool,
    /// The pages are on the device and start without a network.
    pub offline_ready: bool,
    /// A new version waits to be taken.
    pub update_ready: bool,
    /// An alarm would be heard: somebody has touched the page.
    pub sound_ready: bool,
}

impl Default for Keeping {
    fn default() -> Self {
        Self {
            persistent: true,
            low: false,
            offline_ready: false,
            update_ready: false,
            sound_ready: true,
        }
    }
}

/// Time, light and storage, as pages see them. Cheap to copy.
#[derive(Debug, Clone, Copy, Default)]
pub struct SystemSignals {
    /// The time, once a second, ms UTC.
    pub now_ms: RwSignal<i64>,
    /// Which light.
    pub light: RwSignal<Light>,
    /// How well the browser keeps things.
    pub keeping: RwSignal<Keeping>,
}
