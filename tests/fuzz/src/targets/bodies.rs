//! What records carry: the first byte says of which kind.

use journal::Body;
use journal::body::{Person, PlanBody, ProcedureBody, SettingsBody, VesselBody, kind};

const KINDS: [&str; 10] = [
    kind::VESSEL,
    kind::CREDENTIAL,
    kind::WITHDRAWAL,
    kind::PROCEDURE,
    kind::RUN,
    kind::PLAN,
    kind::SETTINGS,
    kind::TRIAL,
    kind::FINDING,
    kind::ROLES_FROM,
];

/// Events as they were always written: app/procedure/tests/wire.rs.
const EVENTS: [&str; 14] = [
    "82008458201111111111111111111111111111111111111111111111111111111111111111616180617a",
    "8201826161820080",
    "8201826161820182626f328218d101",
    "820182616182038104",
    "82018261618205816178",
    "82028261616172",
    "8203836161026174",
    "8204846161f582008060",
    "8204846161f4820181616d60",
    "82068158201111111111111111111111111111111111111111111111111111111111111111",
    "82088261616172",
    "820a826161616d",
    "820c816163",
    "820f82016172",
];

/// A body that is read is written in a form that is read as the same body, and written the same again. The
/// bytes as received are what is kept, so they need not be that form.
pub fn body(bytes: &[u8]) {
    let Some((which, bytes)) = bytes.split_first() else {
        return;
    };
    let kind = KINDS[usize::from(*which) % KINDS.len()];
    let Ok(body) = Body::decode(kind, bytes) else {
        return;
    };
    assert_eq!(body.kind(), kind);
    let written = body
        .encode()
        .expect("what a reader takes a writer may write");
    let again = Body::decode(kind, &written).expect("what is written can be read");
    assert_eq!(again, body);
    assert_eq!(again.encode().as_deref(), Ok(&written[..]));
    if !matches!(body, Body::Credential(_)) {
        record::cbor::check(&written).expect("what is written is deterministic CBOR");
    }
}

pub fn body_seeds() -> Vec<Vec<u8>> {
    let vessel = Body::Vessel(VesselBody {
        name: "Aldermere".to_owned(),
        particulars: "motor yacht, 49 m, 690 GT".to_owned(),
        crew: vec![Person {
            id: "orrin".to_owned(),
            name: "Tam Orrin".to_owned(),
            rank: "bosun".to_owned(),
            roles: vec!["crew".to_owned()],
            joins_ms: Some(1_795_000_000_000),
            leaves_ms: None,
        }],
        latitude_e7: -435_120_000,
        longitude_e7: -200_610_000,
        ashore: None,
    });
    let procedure = Body::Procedure(ProcedureBody {
        file: "hose-test.toml".to_owned(),
        text: "title = 'Hose test'".to_owned(),
        published: true,
    });
    let settings = Body::Settings(SettingsBody {
        json: "{}".to_owned(),
    });
    let plan = Body::Plan(PlanBody {
        title: "Off the breakwater".to_owned(),
        input_json: "{}".to_owned(),
        order: "port, 6 on deck".to_owned(),
        reason: None,
    });
    let bodies = [vessel, procedure, settings, plan];
    let numbered = |kind: &str, bytes: Vec<u8>| {
        let which = KINDS.iter().position(|known| *known == kind);
        let which = which
            .and_then(|at| u8::try_from(at).ok())
            .expect("a known kind");
        [vec![which], bytes].concat()
    };
    let bodies = bodies
        .iter()
        .map(|body| numbered(body.kind(), body.encode().expect("no withdrawal")));
    let events = EVENTS
        .iter()
        .map(|text| numbered(kind::RUN, record::hex::decode(text).expect("hexadecimal")));
    bodies.chain(events).collect()
}
