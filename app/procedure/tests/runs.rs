//! Runs of procedures, worked from outside through the crate's own door.

mod runs {
    pub mod scene;
    mod walk;
}
