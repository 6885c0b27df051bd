//! The identities of the library's procedures, frozen: a run pins one, so reading a file must never give another.

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

#[test]
fn first_editions_have_the_identities_that_runs_of_theirs_pin() {
    let texts = [
        include_str!("golden/letting-go-1.toml"),
        include_str!("golden/locker-entry-1.toml"),
        include_str!("golden/locker-entry-2.toml"),
    ];
    let line = |text: &&str| {
        let procedure = procedure::parse_on_record("x", text).expect("an old edition");
        format!(
            "{} {} {}\n",
            procedure.slug(),
            procedure.edition(),
            procedure.hash()
        )
    };
    let all: String = texts.iter().map(line).collect();
    assert_eq!(all, include_str!("golden/old-identities.txt"));
}
