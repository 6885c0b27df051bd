//! The published texts that a device signs are those that the program signs.

use journal::auth_messages::{
    ACT_CHALLENGE_HEADER, ACT_SIGNATURE_HEADER, act_claim, enrolment_claim, session_claim,
};

/// The texts of the document, in its order.
fn texts(document: &str) -> Vec<&str> {
    let parts = document.split("```text\n").skip(1);
    parts
        .map(|part| part.split("\n```").next().expect("it ends"))
        .collect()
}

#[test]
fn the_published_texts_are_those_that_are_signed() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../server/SIGNING.md");
    let document = std::fs::read_to_string(path).expect("the document is there");
    let fill = |text: &str, pairs: &[(&str, &str)]| {
        let mut text = text.to_owned();
        for (name, value) in pairs {
            assert!(text.contains(name), "{text} has no {name}");
            text = text.replace(name, value);
        }
        assert!(!text.contains('{'), "{text} has a place that nobody fills");
        text
    };
    let [enrolment, session, act] = texts(&document)[..] else {
        panic!("there are three texts");
    };
    assert_eq!(
        fill(enrolment, &[("{code}", "12345678"), ("{public_key}", "aa")]),
        enrolment_claim("12345678", "aa")
    );
    let (origin, server, challenge) = ("https://ship.home.arpa:8443", "bb", "cc");
    let pairs = [
        ("{origin}", origin),
        ("{server}", server),
        ("{challenge}", challenge),
    ];
    assert_eq!(
        fill(session, &pairs),
        session_claim(origin, server, challenge)
    );
    // SHA-256 of `abc`: FIPS 180-4, the example of one block.
    let abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
    let pairs = [
        ("{server}", server),
        ("{challenge}", challenge),
        ("{method}", "POST"),
        ("{path}", "/api/v1/crew/code?a=b"),
        ("{body}", abc),
    ];
    assert_eq!(
        fill(act, &pairs),
        act_claim(server, challenge, "POST", "/api/v1/crew/code?a=b", b"abc")
    );
    for name in [ACT_CHALLENGE_HEADER, ACT_SIGNATURE_HEADER] {
        assert!(document.contains(&format!("`{name}`")), "{name}");
    }
}
