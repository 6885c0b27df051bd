//! Runs of procedures, worked from outside through the crate's own door.

mod runs {
    mod apart;
    mod invariants;
    mod people;
    mod scene;
    mod time;
    mod walk;
    mod work;
}
