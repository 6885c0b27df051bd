//! The server: the ship's and the office's alike, told apart by configuration only.

// The pages' types nest deeply: each page is one.
#![recursion_limit = "512"]

pub mod allocator;
pub mod anchor_watch;
pub mod api;
pub mod assets;
pub mod authority;
pub mod ca_download;
pub mod clock;
pub mod code_attempts;
pub mod codes;
pub mod command;
pub mod demo;
pub mod disk;
pub mod enrol;
pub mod export;
pub mod fleet;
pub mod folder_lock;
pub mod heads;
pub mod instruments;
pub mod live;
pub mod middleware;
pub mod own_key;
pub mod pages;
pub mod private_file;
pub mod rate_limit;
pub mod read_api;
pub mod relay;
pub mod router;
pub mod serve;
pub mod session;
pub mod settings;
pub mod tls;
pub mod wellbeing;
