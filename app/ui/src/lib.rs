//! The screen: pages, parts and words. Props and signals in, acts out; never fetch, SQL or a browser API.

// A page is one type as deep as its elements are nested.
#![recursion_limit = "256"]

#[cfg(all(feature = "ssr", feature = "csr"))]
compile_error!(
    "the screen is built either for the server or for the browser, never for both at once"
);

mod alarms;
mod app;
pub mod bow;
pub mod bridge;
pub mod document;
#[cfg(all(test, feature = "ssr"))]
mod drawn;
mod fitness;
mod hold_facts;
mod journal_clock;
mod later;
mod messages;
pub mod office;
mod orders;
pub mod parts;
mod photo;
mod platform;
pub mod port;
mod run_alarms;
mod run_cautions;
mod run_links;
mod seconds;
pub mod ship;
mod ships_marks;
mod start;
pub mod time;
mod timers;
pub mod unlock_sheet;
mod withdrawn;
pub mod words;

pub use app::App;
pub use later::{NotHere, fetch_for};
