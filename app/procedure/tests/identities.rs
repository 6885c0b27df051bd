//! The identities of the library's procedures: a run pins one, so reading a file must never give another. A new
//! edition has a new one, and the text before it goes to `golden/` and to the walks of older editions.

use procedure::{Procedure, library};

fn identities() -> String {
    let line = |procedure: &Procedure| format!("{} {}\n", procedure.slug(), procedure.hash());
    library::all().iter().map(line).collect()
}

#[test]
fn every_procedure_of_the_library_has_the_identity_that_is_written_down() {
    assert_eq!(identities(), include_str!("golden/identities.txt"));
}

#[test]
fn canonical_form_is_read_back() {
    for procedure in library::all() {
        let bytes = procedure.to_cbor();
        let read: Procedure = minicbor::decode(&bytes).expect("what was written");
        assert_eq!(read, procedure);
        let json = serde_json::to_string(&procedure).expect("writing to memory");
        let read: Procedure = serde_json::from_str(&json).expect("what was written");
        assert_eq!(read, procedure);
    }
}
