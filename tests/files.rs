//! Records as files: downloads, `export`, `verify`, and what one flipped bit does.

use crate::support::hand::{Hand, page};
use crate::support::http::{self, push};
use crate::support::ship::{self, SEED, Ship, vessel};
use journal::Body;
use procedure::{Event, Outcome};
use record::export::verify_export;
use record::{SignedReceipt, SoftKey};
use std::path::Path;

fn text(path: &Path) -> &str {
    path.to_str().expect("text")
}

#[test]
fn the_downloads_hold_the_signed_records_and_a_table_of_them() {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let mut hand = Hand::enrolled(&ship, "orrin", 11);
    let records = hand.works(12);
    push(&ship.url, &page(&records));
    push(&ship.url, hand.starts("hose-test").bytes());
    let at = format!("{}/api/v1/vessels/{}", ship.url, vessel());

    let all = http::get(&format!("{at}/records.cborseq"));
    assert_eq!(all.kind, "application/cbor-seq");
    let report = verify_export(&all.body);
    assert!(report.is_sound(), "{:?}", report.faults);
    assert_eq!(report.records.len(), 15);

    let run = records[0].id();
    let one = http::get(&format!("{at}/runs/{run}/records.cborseq"));
    let report = verify_export(&one.body);
    assert_eq!(report.header.and_then(|header| header.run), Some(run));

    let table = http::get(&format!("{at}/runs/{run}/records.csv"));
    assert_eq!(table.kind, "text/csv; charset=utf-8");
    let lines: Vec<String> = table.text().split("\r\n").map(str::to_owned).collect();
    assert!(
        lines[0].starts_with("vessel,procedure,record,device,number,"),
        "{}",
        lines[0]
    );
    assert_eq!(lines.len(), 1 + 12 + 1, "a head, a line each, and the end");
    for (record, line) in records.iter().zip(&lines[1..]) {
        assert!(line.contains(&record.id().to_string()), "{line}");
        assert!(
            line.contains("Tam Orrin") && line.contains(",holds,"),
            "{line}"
        );
    }
}

#[test]
fn a_table_names_step_value_and_unit_and_all_runs_of_a_vessel_stand_in_one() {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let mut hand = Hand::enrolled(&ship, "orrin", 11);
    let start = hand.starts("anchors-ready");
    let run = start.id();
    let says = |hand: &mut Hand, step: &str, outcome: Outcome| {
        let step = step.into();
        hand.says(
            Some(run),
            Body::Run(Box::new(Event::Done { step, outcome })),
        )
    };
    let value = "=1".to_owned();
    let evil = says(&mut hand, "party", Outcome::Text { text: value });
    let position = Outcome::Position {
        lat_deg: "43.5".parse().expect("a number"),
        lon_deg: "-7.25".parse().expect("a number"),
        accuracy_m: None,
    };
    let place = says(&mut hand, "party", position);
    let library = procedure::library::all();
    let ready = library.iter().find(|one| one.slug() == "anchors-ready");
    let ready = ready.expect("it is in the library");
    let (step, point) = ready
        .steps()
        .iter()
        .find_map(|step| Some((step.id.clone(), step.kind.points().first()?.clone())))
        .expect("it reads something");
    let reading = Outcome::Reading {
        point: point.key.clone(),
        value: "55.0".parse().expect("a number"),
    };
    let reading = says(&mut hand, step.as_str(), reading);
    push(&ship.url, &page([&start, &evil, &place, &reading]));
    let other = hand.starts("hose-test");
    push(&ship.url, other.bytes());

    let at = format!("{}/api/v1/vessels/{}", ship.url, vessel());
    let table = http::get(&format!("{at}/runs/{run}/records.csv")).text();
    let rows = |table: &str, of: &record::VerifiedRecord| {
        let id = of.id().to_string();
        let lines = table.lines().filter(|line| line.contains(&id));
        let cells = lines.map(|line| line.split(',').map(str::to_owned).collect::<Vec<_>>());
        cells
            .map(|cells| cells[cells.len() - 4..].join(","))
            .collect::<Vec<_>>()
    };
    let head = table.lines().next().expect("a head");
    assert!(head.ends_with(",proof,run,step,point,value,unit"), "{head}");
    assert_eq!(rows(&table, &evil), ["party,,'=1,"]);
    assert_eq!(
        rows(&table, &place),
        ["party,latitude,43.5,deg", "party,longitude,'-7.25,deg"]
    );
    let wanted = format!("{step},{},55.0,{}", point.key, point.unit);
    assert_eq!(rows(&table, &reading), [wanted]);

    let all = http::get(&format!("{at}/records.csv"));
    assert_eq!(all.kind, "text/csv; charset=utf-8");
    assert_eq!(rows(&all.text(), &reading).len(), 1);
    assert_eq!(rows(&all.text(), &other).len(), 1);
    assert_eq!(all.text().lines().count(), 1 + 5 + 1);
}

#[test]
fn verify_says_whose_records_they_are_and_by_which_key() {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let mut hand = Hand::enrolled(&ship, "orrin", 11);
    push(&ship.url, &page(&hand.works(3)));
    let url = format!("{}/api/v1/vessels/{}/records.cborseq", ship.url, vessel());
    let file = data.path().join("all.cborseq");
    std::fs::write(&file, http::get(&url).body).expect("it is written");
    let verified = ship::run(["verify", text(&file)]);
    let told = String::from_utf8_lossy(&verified.stdout).into_owned();
    let fingerprint = SoftKey::from_seed(SEED).public().fingerprint();
    for part in ["Aldermere", &vessel().to_string(), &fingerprint] {
        assert!(told.contains(part), "{part} is in {told}");
    }
}

#[test]
fn one_runs_download_verifies_by_itself() {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let mut hand = Hand::enrolled(&ship, "orrin", 11);
    let records = hand.works(5);
    push(&ship.url, &page(&records));
    push(&ship.url, hand.starts("hose-test").bytes());
    let run = records[0].id();
    let url = format!(
        "{}/api/v1/vessels/{}/runs/{run}/records.cborseq",
        ship.url,
        vessel()
    );
    let file = data.path().join("run.cborseq");
    std::fs::write(&file, http::get(&url).body).expect("it is written");
    let verified = ship::run(["verify", text(&file)]);
    assert!(
        verified.status.success(),
        "{}",
        String::from_utf8_lossy(&verified.stdout)
    );
}

#[test]
fn the_receipts_bound_the_times_on_the_runs_page_and_in_its_file() {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let mut hand = Hand::enrolled(&ship, "orrin", 11);
    let first = hand.works(3);
    let reply = push(&ship.url, &page(&first));
    let authority = SoftKey::from_seed(SEED).public();
    let receipt = SignedReceipt::verify(&reply.receipts[0], &authority).expect("the ship's");
    hand.receipt = Some(receipt.hash());
    let run = first[0].id();
    // It claims to be from long before the receipt that it names.
    hand.now_ms -= 86_400_000;
    let named = hand.ticks(run, "party");
    push(&ship.url, named.bytes());

    let url = format!("{}/api/v1/vessels/{}/runs/{run}", ship.url, vessel());
    let shown = http::get(&url).json();
    let lines = shown["records"].as_array().expect("lines");
    let line = |record: &record::VerifiedRecord| {
        let id = serde_json::to_value(record.id()).expect("JSON");
        lines.iter().find(|line| line["id"] == id).expect("a line")
    };
    let signed_ms = receipt.receipt().server_time_ms;
    assert_eq!(line(&named)["not_before_ms"], signed_ms);
    assert_eq!(line(&first[0])["not_before_ms"], serde_json::Value::Null);
    assert_eq!(line(&first[0])["received_ms"], signed_ms);

    for (address, count) in [
        (format!("{url}/records.cborseq"), 4),
        (
            format!("{}/api/v1/vessels/{}/records.cborseq", ship.url, vessel()),
            4,
        ),
    ] {
        let bytes = http::get(&address).body;
        let report = verify_export(&bytes);
        assert!(report.is_sound(), "{:?}", report.faults);
        let bounds = |record: &record::VerifiedRecord| report.bounds[&record.id()];
        assert_eq!(bounds(&named).not_before_ms, Some(signed_ms));
        for record in &first {
            assert_eq!(bounds(record).not_after_ms, Some(signed_ms));
        }
        let of_hand = report.records.iter();
        let of_hand = of_hand.filter(|record| record.device() == hand.key.device());
        assert_eq!(of_hand.count(), count);
        let carried = &report.header.as_ref().expect("a header").receipts;
        assert!(carried.contains(&reply.receipts[0]), "the very one");
        let file = data.path().join("bounded.cborseq");
        std::fs::write(&file, &bytes).expect("it is written");
        let told = ship::run(["verify", text(&file)]);
        let told = String::from_utf8_lossy(&told.stdout).into_owned();
        assert!(told.contains("not before when"), "{told}");
        let name = format!("record {} of device", named.id());
        assert!(told.contains(&name), "{told}");
    }
}

#[test]
fn an_export_verifies_and_one_flipped_bit_is_found_and_its_record_named() {
    let data = tempfile::tempdir().expect("a folder");
    let demo = ship::run(["demo", "--data", text(data.path())]);
    assert!(demo.status.success(), "{demo:?}");
    let file = data.path().join("out.cborseq");
    let arguments = [
        "export",
        "--data",
        text(data.path()),
        "--vessel",
        "brackwater",
        "--out",
        text(&file),
    ];
    let exported = ship::run(arguments);
    assert!(exported.status.success(), "{exported:?}");
    let verified = ship::run(["verify", text(&file)]);
    assert!(
        verified.status.success(),
        "{}",
        String::from_utf8_lossy(&verified.stdout)
    );

    let good = std::fs::read(&file).expect("it was written");
    let report = verify_export(&good);
    let mut items = record::sync::Sequence::new(&good);
    let header = items.next().expect("a header");
    let spans: Vec<_> = items.map(|item| (item.at, item.bytes.len())).collect();
    assert_eq!(spans.len(), report.records.len());
    let bad = data.path().join("bad.cborseq");
    for (number, (at, len)) in spans.iter().enumerate().step_by(11) {
        // In the payload, past the names by which the record is told; and in the signature.
        for byte in [at + len / 2, at + len - 1] {
            let mut bytes = good.clone();
            bytes[byte] ^= 1;
            std::fs::write(&bad, bytes).expect("it is written");
            let verified = ship::run(["verify", text(&bad)]);
            let words = String::from_utf8_lossy(&verified.stdout).into_owned();
            assert_eq!(verified.status.code(), Some(1), "byte {byte}: {words}");
            let name = format!("record at position {} (byte {at})", number + 1);
            assert!(words.contains(&name), "byte {byte}: {words}");
        }
    }
    let mut bytes = good.clone();
    bytes[header.bytes.len() / 2] ^= 1;
    std::fs::write(&bad, bytes).expect("it is written");
    assert_eq!(
        ship::run(["verify", text(&bad)]).status.code(),
        Some(1),
        "the header"
    );
}

#[test]
fn what_cannot_be_done_is_said_and_ends_with_two() {
    let data = tempfile::tempdir().expect("a folder");
    let folder = text(data.path());
    let cases: [(&[&str], &str); 4] = [
        (&["verify", "/no/such/file"], "/no/such/file"),
        (
            &["export", "--data", "/no/such/folder", "--out", "x"],
            "/no/such/folder",
        ),
        (
            &[
                "export", "--data", folder, "--vessel", "Nobody", "--out", "x",
            ],
            "Nobody",
        ),
        (&["reckon", "no-such-sum"], "no-such-sum"),
    ];
    for (arguments, named) in cases {
        let output = std::process::Command::new(ship::program())
            .args(arguments)
            .output()
            .expect("the program starts");
        let words = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(2), "{arguments:?}: {words}");
        assert!(words.contains(named), "{arguments:?}: {words}");
    }
    let demo = ship::run(["demo", "--data", folder]);
    assert!(demo.status.success());
    let again = ship::run(["demo", "--data", folder]);
    assert_eq!(
        again.status.code(),
        Some(2),
        "a demo is never written over records"
    );
}
