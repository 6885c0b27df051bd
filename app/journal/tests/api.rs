//! The published description of the interface is the one that the table makes.

#[test]
fn the_published_description_is_the_tables() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../server/API.md");
    let made = journal::address::description();
    if std::env::var_os("CLEARHAWSE_WRITE").is_some() {
        std::fs::write(path, &made).expect("the description can be written");
    }
    let published = std::fs::read_to_string(path).expect("the description is there");
    assert!(
        published == made,
        "server/API.md is not what the table of addresses says: set CLEARHAWSE_WRITE=1 and run this test"
    );
}
