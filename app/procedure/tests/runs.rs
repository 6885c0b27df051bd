//! Runs of procedures, worked from outside through the crate's own door.

#![expect(
    clippy::unwrap_used,
    reason = "a refusal in the middle of a scene fails its test"
)]

mod runs {
    mod acknowledge;
    mod apart;
    mod bound;
    mod each;
    mod faults;
    mod full;
    mod gear;
    mod holds;
    mod invariants;
    mod later;
    mod library;
    mod messages;
    mod named;
    mod names;
    mod people;
    mod plain;
    mod rescue;
    mod scene;
    mod time;
    mod timer;
    mod walk;
    mod watched;
    mod work;
}
