//! Tests of the whole system, from outside: the real program, its address, its files.

mod access;
mod anchor_watch;
mod ashore;
mod attacks;
mod authority;
mod clock;
#[cfg(unix)]
#[path = "../server/storage/tests/contract/cluster.rs"]
#[expect(clippy::unwrap_used, reason = "as the tests of the storage write it")]
mod cluster;
mod crowd;
mod disk;
mod doors;
mod enrolment;
mod faults;
mod files;
mod folder;
mod fortnight;
mod gear;
mod https;
mod leaks;
mod live;
mod log;
mod office;
mod old_client;
mod photos;
mod power;
mod relay;
mod release;
mod scripts;
mod support;
mod sync;
mod tidy;
mod tidy_sources;
