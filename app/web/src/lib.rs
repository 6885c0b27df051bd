//! The device's root: wires the store, the sync client, the worker and the screen together.
//!
//! One wasm, one mount: a page that the server drew is there to be read, and printed, before the program
//! has started; then the program draws the same page in its place, as it does in the content-free shell that
//! the offline worker answers with. Built for wasm; natively only what it decides is there, to be
//! tested.

#[cfg(target_arch = "wasm32")]
mod anchor;
pub mod answer;
#[cfg(target_arch = "wasm32")]
mod client;
#[cfg(target_arch = "wasm32")]
mod commands;
#[cfg(target_arch = "wasm32")]
mod enrol;
#[cfg(target_arch = "wasm32")]
mod geolocation;
#[cfg(target_arch = "wasm32")]
mod http;
#[cfg(target_arch = "wasm32")]
mod kept;
#[cfg(target_arch = "wasm32")]
mod keys;
#[cfg(target_arch = "wasm32")]
mod later;
#[cfg(target_arch = "wasm32")]
mod light;
#[cfg(target_arch = "wasm32")]
mod live;
#[cfg(target_arch = "wasm32")]
mod log;
#[cfg(target_arch = "wasm32")]
mod people;
#[cfg(target_arch = "wasm32")]
mod phone_check;
#[cfg(target_arch = "wasm32")]
mod phone_lock;
#[cfg(target_arch = "wasm32")]
mod photo;
#[cfg(target_arch = "wasm32")]
mod records;
pub mod rest;
#[cfg(target_arch = "wasm32")]
mod root;
#[cfg(target_arch = "wasm32")]
mod session;
#[cfg(target_arch = "wasm32")]
mod sync;
#[cfg(target_arch = "wasm32")]
mod tabs;
#[cfg(target_arch = "wasm32")]
mod timer;
#[cfg(target_arch = "wasm32")]
mod voice;

#[cfg(target_arch = "wasm32")]
pub use root::start;
