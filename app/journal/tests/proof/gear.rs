//! The register of the ship's gear: who may change what, the cables of the settings, the table out and in.

use journal::body::{GearBody, GearKindBody};
use journal::gear::{gear_page, item_page, read_table, write_table};
use journal::{Body, Ledger, SettingsBody};
use procedure::cable::Side;
use procedure::gear::{DateKind, Day, GearChange, ItemChange, Service, kinds};
use procedure::{Cable, Settings};

use super::aboard::{AUTHORITY, Aboard, START_MS, credential, put_on};

/// The gear of the demo's ships.
const TABLE: &str = include_str!("../../../../server/src/demo/gear.csv");

fn says(aboard: &mut Aboard, pen: usize, changes: Vec<ItemChange>, reason: &str) {
    let reason = reason.to_owned();
    aboard.says(pen, None, Body::Gear(GearBody { changes, reason }));
    for to in (0..3).filter(|to| *to != pen) {
        aboard.sync(pen, to);
    }
}

fn of(item: &str, change: GearChange) -> ItemChange {
    ItemChange {
        item: item.to_owned(),
        change,
    }
}

fn service(ledger: &Ledger, item: &str) -> Service {
    let file = ledger.register().item(item).expect("it is there");
    file.now().service.clone()
}

#[test]
fn anybody_takes_an_item_out_of_service_and_an_officer_puts_it_back() {
    let mut aboard = Aboard::mustered();
    says(&mut aboard, 0, vec![put_on("GM-9")], "a hand may not");
    assert!(aboard.ledger(1).register().item("GM-9").is_none());
    says(&mut aboard, 2, vec![put_on("GM-1")], "new");
    says(
        &mut aboard,
        0,
        vec![of("GM-1", GearChange::OutOfService)],
        "fell into the water",
    );
    let out = Service::Out("fell into the water".to_owned());
    assert_eq!(service(aboard.ledger(1), "GM-1"), out);
    says(
        &mut aboard,
        1,
        vec![of("GM-1", GearChange::PutBack)],
        "dried",
    );
    assert_eq!(
        service(aboard.ledger(2), "GM-1"),
        out,
        "a hand does not put it back"
    );
    let words = "outside only".to_owned();
    says(
        &mut aboard,
        2,
        vec![of("GM-1", GearChange::Restricted { words })],
        "for today",
    );
    assert_eq!(
        service(aboard.ledger(2), "GM-1"),
        out,
        "nor does a mate, restricted"
    );
    says(
        &mut aboard,
        2,
        vec![of("GM-1", GearChange::PutBack)],
        "calibrated ashore",
    );
    assert_eq!(service(aboard.ledger(0), "GM-1"), Service::In);
    let page = item_page(aboard.ledger(0), "gm-1", aboard.now_ms).expect("it has a page");
    let said: Vec<(&str, &str)> = page
        .lines
        .iter()
        .map(|line| (line.by.as_str(), line.reason.as_str()))
        .collect();
    let thorne = page.lines[0].by.as_str();
    assert_eq!(said[0], (thorne, "calibrated ashore"));
    assert_eq!(said.len(), 4, "what did not count is no line of it");
    assert_eq!(said[3].1, "new");
}

#[test]
fn a_code_is_never_used_again_and_what_was_put_on_under_it_is_said() {
    let mut aboard = Aboard::mustered();
    says(&mut aboard, 2, vec![put_on("GM-1")], "new");
    says(
        &mut aboard,
        2,
        vec![of("GM-1", GearChange::TakenOff)],
        "scrapped",
    );
    assert_eq!(gear_page(aboard.ledger(0), START_MS).rows, []);
    let mut other = put_on("GM-1");
    if let GearChange::PutOn { card } = &mut other.change {
        card.name = "Gas meter 2".to_owned();
    }
    says(&mut aboard, 2, vec![other], "another one");
    assert_eq!(service(aboard.ledger(0), "GM-1"), Service::Off);
    let page = item_page(aboard.ledger(0), "GM-1", START_MS).expect("its page stays");
    assert_eq!(page.row.clashes, ["Gas meter 2"]);
}

fn describes(aboard: &mut Aboard, side: Side, lengths: &str) {
    let mut settings = aboard.ledger(2).settings();
    let cable = Cable::parse(lengths, "20").expect("a cable");
    settings.cables.set(side, cable);
    let json = serde_json::to_string(&settings).expect("JSON");
    aboard.says(2, None, Body::Settings(SettingsBody { json }));
}

#[test]
fn cables_that_the_settings_describe_are_items() {
    let mut aboard = Aboard::mustered();
    aboard.says(AUTHORITY, None, credential(2, &["crew", "master"]));
    aboard.sync(AUTHORITY, 2);
    assert_ne!(aboard.ledger(2).settings(), Settings::empty());
    describes(&mut aboard, Side::Port, "27.5 red\n27.5 blue\n27.5");
    let figure = |aboard: &Aboard, key: &str| {
        let file = aboard.ledger(2).register().item("cable-port").cloned();
        let value = file.expect("it is an item").now().card.figure(key);
        value.expect("it is said").to_string()
    };
    assert_eq!(figure(&aboard, "length"), "82.50");
    assert_eq!(figure(&aboard, "lengths"), "3");
    assert!(
        aboard
            .ledger(2)
            .register()
            .item("cable-starboard")
            .is_none()
    );
    // It is an item like others: what is said of it stays when the settings say its length anew.
    let mut card = aboard
        .ledger(2)
        .register()
        .item("cable-port")
        .expect("there")
        .now()
        .card
        .clone();
    card.certificate = "ALD-C-P".to_owned();
    says(
        &mut aboard,
        2,
        vec![of("cable-port", GearChange::Changed { card })],
        "its paper",
    );
    describes(&mut aboard, Side::Port, "27.5 red\n27.5");
    let card = aboard
        .ledger(2)
        .register()
        .item("cable-port")
        .expect("there")
        .now()
        .card
        .clone();
    assert_eq!(
        (
            card.certificate.as_str(),
            figure(&aboard, "lengths").as_str()
        ),
        ("ALD-C-P", "2")
    );
    // Nobody else's item can have its code.
    says(&mut aboard, 2, vec![put_on("cable-starboard")], "by hand");
    assert!(
        aboard
            .ledger(2)
            .register()
            .item("cable-starboard")
            .is_none()
    );
}

#[test]
fn a_ship_adds_a_kind_and_none_of_the_programs_changes_its_meaning() {
    const OWN: &str = r#"
[[kind]]
key = "rope-cutter"
name = "rope cutter"
job = "Cuts a line that holds the anchor."
room = "store"
source = "common practice, no source"

[[kind]]
key = "anchor"
name = "something else"
job = "Nothing."
room = "store"
source = "common practice, no source"
"#;
    let mut aboard = Aboard::mustered();
    let body = GearKindBody {
        text: OWN.to_owned(),
    };
    aboard.says(2, None, Body::GearKind(body.clone()));
    assert!(
        aboard.ledger(2).register().kind("rope-cutter").is_none(),
        "a master's to say"
    );
    aboard.says(AUTHORITY, None, credential(2, &["crew", "master"]));
    aboard.sync(AUTHORITY, 2);
    aboard.says(2, None, Body::GearKind(body));
    let register = aboard.ledger(2).register();
    assert_eq!(
        register.kind("rope-cutter").expect("added").name,
        "rope cutter"
    );
    assert_eq!(
        register.kind("anchor"),
        kinds().iter().find(|kind| kind.key == "anchor")
    );
}

fn table() -> String {
    let mut out = TABLE.to_owned();
    for days in ["120", "9", "200", "600", "150", "250", "24", "700", "300"] {
        let end = START_MS + days.parse::<i64>().expect("a number") * 86_400_000;
        out = out.replace(&format!("{{{days}}}"), &Day::of_ms(end).to_string());
    }
    out
}

fn read(aboard: &Aboard, text: &str) -> Result<Vec<ItemChange>, Vec<String>> {
    let read = read_table(aboard.ledger(2).register(), text, "thorne 1", START_MS);
    let read = read.map(|filled| filled.changes);
    read.map_err(|faults| faults.iter().map(ToString::to_string).collect())
}

#[test]
fn a_sister_ship_is_set_up_from_a_table() {
    let mut aldermere = Aboard::mustered();
    aldermere.says(AUTHORITY, None, credential(2, &["crew", "master"]));
    aldermere.sync(AUTHORITY, 2);
    describes(&mut aldermere, Side::Port, "27.5 red\n27.5");
    describes(&mut aldermere, Side::Starboard, "27.5 red\n13.5");
    let changes = read(&aldermere, &table()).expect("the demo's table is in order");
    says(&mut aldermere, 2, changes, "set up");
    says(
        &mut aldermere,
        2,
        vec![of("HO-2", GearChange::OutOfService)],
        "leaks",
    );
    let out = write_table(aldermere.ledger(2).register());
    assert!(out.contains("out of service: leaks"), "{out}");

    // The sister has described no cable: hers come with the table, under codes of their own.
    let mut brackwater = Aboard::mustered();
    let changes = read(&brackwater, &out).expect("what goes out comes in");
    says(&mut brackwater, 2, changes, "as her sister");
    let (ours, hers) = (
        aldermere.ledger(2).register(),
        brackwater.ledger(2).register(),
    );
    assert_eq!(ours.items().count(), hers.items().count());
    assert_eq!(
        service(brackwater.ledger(2), "HO-2"),
        Service::In,
        "her sister's history is not hers"
    );
    let port = hers
        .items()
        .find(|file| file.now().card.name == "port cable")
        .expect("her cable");
    assert!(port.code.starts_with("CA-"), "{}", port.code);
    let length = hers.item("LN-P3").expect("a length").now().card.clone();
    assert_eq!(length.under.as_ref(), Some(&port.code));
    for file in ours.items().filter(|file| !file.code.starts_with("cable-")) {
        let mut mine = file.now().card.clone();
        let hers = hers
            .item(&file.code)
            .expect("the same code")
            .now()
            .card
            .clone();
        if mine
            .under
            .as_ref()
            .is_some_and(|under| under.starts_with("cable-"))
        {
            mine.under.clone_from(&hers.under);
        }
        assert_eq!(mine, hers);
    }
    // A second time every code is taken, and nothing of it is taken in.
    let again = read(&brackwater, &out).expect_err("taken");
    assert!(
        again.iter().any(|why| why.contains("AN-P is taken")),
        "{again:?}"
    );
}

#[test]
fn a_hundred_items_are_listed_by_place_and_kind_with_their_ends() {
    let mut aboard = Aboard::mustered();
    let rows = (0..100).map(|at| format!("hose,hose {at:03},2026-12-{:02}", at % 28 + 1));
    let rows: Vec<String> = rows.collect();
    let text = format!("kind,name,tested-until\n{}\n", rows.join("\n"));
    let changes = read(&aboard, &text).expect("in order");
    says(&mut aboard, 2, changes, "new");
    let page = gear_page(aboard.ledger(0), START_MS);
    assert_eq!(page.rows.len(), 100);
    assert!(page.rows.is_sorted_by_key(|row| row.card.name.clone()));
    let first = page.rows[0].first_end.expect("it has an end");
    assert_eq!(first.0, DateKind::TestedUntil);
    let codes: std::collections::BTreeSet<&str> =
        page.rows.iter().map(|row| row.code.as_str()).collect();
    assert_eq!(codes.len(), 100, "each has a code of its own");
}

#[test]
fn what_is_wrong_with_a_table_is_said_by_line_and_column() {
    let mut aboard = Aboard::mustered();
    says(&mut aboard, 2, vec![put_on("GM-1")], "new");
    let rows: &[(&str, &[&str])] = &[
        ("", &["line 1, column 1: there is nothing in it"]),
        ("kind,name\n", &["line 1, column 1: there is no item in it"]),
        (
            "kind,name,colour\nhose,h,red\n",
            &["line 1, column 3: \"colour\" is no heading"],
        ),
        (
            "name\nh\n",
            &["line 1, column kind: there is no such column"],
        ),
        (
            "kind,name,kind\nhose,h,hose\n",
            &["line 1, column 3: \"kind\" stands twice"],
        ),
        (
            "kind,name\nhose,\"h\n",
            &["line 2, column 2: a quotation mark is opened and not closed"],
        ),
        (
            "kind,name\nhose,h,more\n",
            &["line 2, column 3: there is more in this line than there are headings"],
        ),
        (
            "code,kind,name,side,tested-until,figures,under\n\
             GM-1,gas-meter,m,,,,\n\
             gm,hoose,,left,2026-13-01,,\n\
             HO-1,hose,h,,,length 200 m; bore 3 mm,HB-1\n\
             HO-1,hose,h,,,length x m,\n\
             AN-1,anchor,a,,,mass 100 t,\n",
            &[
                "line 2, column code: the code GM-1 is taken, and no code is used twice",
                "line 3, column side: \"left\" is not port, starboard or centre-line",
                "line 3, column tested-until: '2026-13-01' is not a date such as 2027-01-31",
                "line 3, column code: a code has 2 to 12 capital letters, digits or hyphens, not \"gm\"",
                "line 3, column kind: there is no kind \"hoose\"",
                "line 3, column name: there is no name",
                "line 4, column figures: 200 is not between 0 and 40 m",
                "line 4, column figures: a fire hose has no figure \"bore\"",
                "line 4, column under: no item HB-1 is on the register",
                "line 5, column figures: \"length x m\": 'x' is not a number",
                "line 5, column code: the code HO-1 is taken, and no code is used twice",
                "line 6, column figures: mass is in kg, not in t",
                "line 6, column side: the side is missing: port, starboard or centre-line",
            ],
        ),
    ];
    for (text, wanted) in rows {
        let faults = read(&aboard, text).expect_err(text);
        assert_eq!(faults.len(), wanted.len(), "{faults:#?}");
        for (fault, wanted) in faults.iter().zip(*wanted) {
            assert!(fault.starts_with(wanted), "{fault}\n{wanted}");
        }
    }
}

#[test]
fn a_table_cut_at_semicolons_and_one_with_quotes_and_lines_in_a_field_read_alike() {
    let aboard = Aboard::mustered();
    let by_comma = "kind,name,serial\r\nfan,\"the \"\"big\"\" fan,\nold\",\"'=1\"\r\n";
    let by_semicolon = "\u{feff}Kind;Name;Serial\nfan;\"the \"\"big\"\" fan,\nold\";\"'=1\"\n";
    for text in [by_comma, by_semicolon] {
        let changes = read(&aboard, text).expect("in order");
        let GearChange::PutOn { card } = &changes[0].change else {
            panic!("it is put on");
        };
        assert_eq!(card.name, "the \"big\" fan,\nold");
        assert_eq!(card.serial, "=1");
    }
}
