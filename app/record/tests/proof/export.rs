//! Export files: sound ones pass, and each fault names its record.

use record::export::{
    DeviceKey, Header, Inclusion, LogProof, Older, Report, Since, SinceFault, What, check_since,
    verify_export, write_export,
};
use record::merkle::{Tree, TreeHead, leaf_hash};
use record::{
    Checkpoint, Credential, Draft, KIND_CREDENTIAL, KIND_WITHDRAWAL, KeyProtection, Refusal,
    Restore, SoftKey, VerifiedRecord, Withdrawal, log_origin,
};

use super::crew::{NOON_MS, authority, chain, draft, key, run, sign, vessel};
use super::receipts::receipt;

fn credential(key: &SoftKey, from_ms: i64) -> Credential {
    Credential {
        vessel: vessel(),
        person: "j.marlow".into(),
        key: key.public(),
        not_before_s: from_ms / 1000,
        expires_s: from_ms / 1000 + 86_400,
        id: None,
        name: "Jo Marlow".into(),
        rank: "bosun".into(),
        roles: vec!["crew".into()],
        protection: KeyProtection::Software,
    }
}

pub fn header(keys: &[SoftKey]) -> Header {
    let device = |key: &SoftKey| {
        let signed = credential(key, NOON_MS - 1000).sign(&authority()).unwrap();
        DeviceKey {
            key: key.public(),
            credential: Some(signed.bytes().to_vec()),
        }
    };
    Header {
        vessel: vessel(),
        authority: authority().public(),
        run: None,
        devices: keys.iter().map(device).collect(),
        checkpoint: None,
        log: None,
        receipts: Vec::new(),
    }
}

fn checkpoint(records: &[VerifiedRecord]) -> Checkpoint {
    let mut tree = Tree::default();
    for record in records {
        tree.append(leaf_hash(record.id().as_bytes()));
    }
    let head = TreeHead {
        size: tree.size(),
        root: tree.root(),
    };
    Checkpoint {
        origin: log_origin("ship", vessel()),
        head,
        signed_ms: None,
        restores: Vec::new(),
    }
}

pub fn check(header: &Header, records: &[VerifiedRecord]) -> Report {
    verify_export(&write_export(header, records))
}

fn whats(report: &Report) -> Vec<&What> {
    report.faults.iter().map(|fault| &fault.what).collect()
}

#[test]
fn sound_export_passes_with_its_log_head() {
    let records: Vec<VerifiedRecord> = run(2, 5).into_iter().flatten().collect();
    let mut header = header(&[key(1), key(2)]);
    header.checkpoint = Some(checkpoint(&records).sign(&authority()).unwrap());
    let report = check(&header, &records);
    assert!(report.is_sound(), "{:?}", report.faults);
    assert_eq!(report.notes, []);
    assert_eq!(report.records, records);
    assert_eq!(report.header, Some(header));
}

#[test]
fn every_flipped_bit_of_an_export_is_found() {
    let records = chain(&key(1), 3);
    let mut header = header(&[key(1)]);
    header.checkpoint = Some(checkpoint(&records).sign(&authority()).unwrap());
    let covered = receipt(&records[2], NOON_MS).sign(&authority());
    header.receipts = vec![covered.bytes().to_vec()];
    let file = write_export(&header, &records);
    for bit in 0..file.len() * 8 {
        let mut damaged = file.clone();
        damaged[bit / 8] ^= 1 << (bit % 8);
        assert!(
            !verify_export(&damaged).is_sound(),
            "bit {bit} of {}",
            file.len() * 8
        );
    }
}

#[test]
fn flipped_bit_of_a_record_names_that_record_and_spares_the_others() {
    let records = chain(&key(1), 5);
    let header = header(&[key(1)]);
    let file = write_export(&header, &records);
    let start = header.encode().len() + records[..2].iter().map(|r| r.bytes().len()).sum::<usize>();
    for byte in 0..records[2].bytes().len() {
        let mut damaged = file.clone();
        damaged[start + byte] ^= 0x10;
        let report = verify_export(&damaged);
        let first = &report.faults[0].name;
        assert_eq!(
            (first.position, first.at),
            (3, start),
            "byte {byte}: {:?}",
            report.faults
        );
        assert_eq!(report.records.len(), 4, "byte {byte}: {:?}", report.faults);
    }
    let mut damaged = file;
    let last = start + records[2].bytes().len() - 1;
    damaged[last] ^= 1;
    let report = verify_export(&damaged);
    let name = report.faults[0].to_string();
    assert_eq!(report.faults.len(), 1, "{:?}", report.faults);
    for part in [
        records[2].device().to_string(),
        records[2].id().to_string(),
        "number 3".into(),
    ] {
        assert!(name.contains(&part), "{name}");
    }
}

#[test]
fn missing_record_is_a_gap_and_a_lost_end_shows_in_the_log_head() {
    let records = chain(&key(1), 4);
    let mut header = header(&[key(1)]);
    let gap = [&records[..1], &records[2..]].concat();
    let report = check(&header, &gap);
    assert!(matches!(
        whats(&report)[..],
        [What::Refused(Refusal::Gap { seq: 3, .. })]
    ));
    header.checkpoint = Some(checkpoint(&records).sign(&authority()).unwrap());
    let report = check(&header, &records[..3]);
    assert!(matches!(
        whats(&report)[..],
        [What::CheckpointSize {
            size: 4,
            records: 3
        }]
    ));
    let mut swapped = records;
    swapped.swap(1, 2);
    assert!(matches!(
        whats(&check(&header, &swapped))[..],
        [What::CheckpointRoot]
    ));
}

#[test]
fn fork_wrong_predecessor_stranger_and_repetition_are_named() {
    let records = chain(&key(1), 3);
    let other = sign(
        &key(1),
        Draft {
            kind: "other".into(),
            ..draft(&key(1), Some(&records[0]))
        },
    );
    let forked = [records.as_slice(), std::slice::from_ref(&other)].concat();
    let report = check(&header(&[key(1)]), &forked);
    assert!(matches!(
        whats(&report)[..],
        [What::Refused(Refusal::Fork { seq: 2, .. })]
    ));
    let replaced = [records[0].clone(), other, records[2].clone()];
    let report = check(&header(&[key(1)]), &replaced);
    assert!(matches!(
        whats(&report)[..],
        [What::Refused(Refusal::PrevMismatch { seq: 3, .. })]
    ));
    let report = check(&header(&[key(2)]), &records[..1]);
    assert!(matches!(whats(&report)[..], [What::UnknownDevice]));
    let report = check(
        &header(&[key(1)]),
        &[records[0].clone(), records[0].clone()],
    );
    assert!(matches!(whats(&report)[..], [What::Twice]));
}

#[test]
fn record_of_another_vessel_is_a_fault() {
    let stray = Draft {
        vessel: key(9).public().vessel(),
        ..draft(&key(1), None)
    };
    let report = check(&header(&[key(1)]), &[sign(&key(1), stray)]);
    assert!(matches!(whats(&report)[..], [What::OtherVessel]));
}

#[test]
fn forged_authority_or_credential_is_a_fault() {
    let records = chain(&key(1), 1);
    let mut forged = header(&[key(1)]);
    forged.authority = key(9).public();
    let report = check(&forged, &records);
    assert!(whats(&report).contains(&&What::VesselMismatch));
    let mut swapped = header(&[key(1), key(2)]);
    swapped.devices[0].credential = swapped.devices[1].credential.clone();
    let report = check(&swapped, &records);
    assert!(matches!(
        whats(&report)[..],
        [What::Refused(Refusal::WrongKey { .. })]
    ));
    let body = credential(&key(3), NOON_MS)
        .sign(&key(9))
        .unwrap()
        .bytes()
        .to_vec();
    let kind = KIND_CREDENTIAL.to_owned();
    let record = sign(
        &key(1),
        Draft {
            kind,
            body,
            ..draft(&key(1), None)
        },
    );
    let report = check(&header(&[key(1)]), &[record]);
    assert!(matches!(
        whats(&report)[..],
        [What::Refused(Refusal::WrongKey { .. })]
    ));
}

#[test]
fn export_of_one_run_has_gaps_without_fault_but_no_other_run() {
    let before = sign(&key(1), draft(&key(1), None));
    let start = sign(&key(1), draft(&key(1), Some(&before)));
    let between = Draft {
        run: Some(before.id()),
        ..draft(&key(1), Some(&start))
    };
    let between = sign(&key(1), between);
    let in_run = Draft {
        run: Some(start.id()),
        ..draft(&key(1), Some(&between))
    };
    let in_run = sign(&key(1), in_run);
    let mut header = header(&[key(1)]);
    header.run = Some(start.id());
    let report = check(&header, &[start.clone(), in_run.clone()]);
    assert!(report.is_sound(), "{:?}", report.faults);
    let report = check(&header, &[before, start.clone(), in_run.clone()]);
    assert!(report.is_sound(), "what belongs to no run may come along");
    let report = check(&header, &[start, between, in_run]);
    assert!(matches!(whats(&report)[..], [What::OtherRun]));
}

#[test]
fn times_authors_and_withdrawals_are_notes() {
    let records = chain(&key(1), 2);
    let mut header = header(&[key(1)]);
    let late = credential(&key(1), NOON_MS + 86_400_000)
        .sign(&authority())
        .unwrap();
    header.devices[0].credential = Some(late.bytes().to_vec());
    let author = Draft {
        author: "t.hale".into(),
        ..draft(&key(1), Some(&records[1]))
    };
    let by_another = sign(&key(1), author);
    let lost = Withdrawal {
        device: key(1).device(),
        from_ms: NOON_MS,
        last_seq: 2,
        reason: "lost ashore".into(),
    };
    let withdrawal = Draft {
        kind: KIND_WITHDRAWAL.into(),
        body: lost.encode().unwrap(),
        ..draft(&authority(), None)
    };
    let withdrawal = sign(&authority(), withdrawal);
    let all = [
        records[0].clone(),
        records[1].clone(),
        by_another,
        withdrawal,
    ];
    let report = check(&header, &all);
    assert!(report.is_sound(), "{:?}", report.faults);
    let notes: Vec<(u64, &str)> = report
        .notes
        .iter()
        .map(|note| (note.name.position, note.text.as_str()))
        .collect();
    assert_eq!(notes.len(), 4, "{notes:?}");
    assert!(
        notes[0].0 == 1 && notes[0].1.contains("holds from"),
        "{notes:?}"
    );
    assert!(
        notes[2].0 == 3 && notes[2].1.contains("in the name of t.hale"),
        "{notes:?}"
    );
    assert!(
        notes[3].0 == 3 && notes[3].1.contains("withdrawn"),
        "{notes:?}"
    );
}

#[test]
fn file_that_is_no_export_says_so() {
    for file in [&b""[..], b"\x83\x01\x02\x03", b"hello", b"\xff"] {
        let report = verify_export(file);
        assert!(!report.is_sound() && report.faults[0].name.position == 0);
    }
}

fn tree_of(records: &[VerifiedRecord]) -> Tree {
    let mut tree = Tree::default();
    for record in records {
        tree.append(leaf_hash(record.id().as_bytes()));
    }
    tree
}

/// The even records of a log, each with its place.
fn part(records: &[VerifiedRecord]) -> (Header, Vec<VerifiedRecord>) {
    let tree = tree_of(records);
    let numbers: Vec<u64> = (0..tree.size()).step_by(2).collect();
    let place = |leaf: &u64| Inclusion {
        leaf: *leaf,
        path: tree.inclusion_proof(*leaf, tree.size()).unwrap(),
    };
    let mut header = header(&[key(1), key(2)]);
    header.run = Some(records[0].id());
    header.checkpoint = Some(checkpoint(records).sign(&authority()).unwrap());
    header.log = Some(LogProof {
        office: None,
        inclusions: numbers.iter().map(place).collect(),
    });
    (header, records.iter().step_by(2).cloned().collect())
}

fn log_of_two() -> Vec<VerifiedRecord> {
    run(2, 7).into_iter().flatten().collect()
}

#[test]
fn part_of_a_log_proves_the_place_of_each_record() {
    let records = log_of_two();
    let (header, some) = part(&records);
    let report = check(&header, &some);
    assert!(report.is_sound(), "{:?}", report.faults);
    assert_eq!(report.header, Some(header));
    assert_eq!(report.checkpoint.unwrap().head.size, records.len() as u64);
}

#[test]
fn record_that_is_not_in_the_log_or_stands_elsewhere_is_named() {
    let records = log_of_two();
    let (header, some) = part(&records);
    let mut replaced = some.clone();
    replaced[2] = records[5].clone();
    let report = check(&header, &replaced);
    let named: Vec<_> = report
        .faults
        .iter()
        .filter(|fault| matches!(fault.what, What::NotInLog(_)))
        .map(|fault| fault.name.position)
        .collect();
    assert_eq!(named, [3], "{:?}", report.faults);
    let report = check(&header, &some[1..]);
    assert!(whats(&report).contains(&&What::ProofCount {
        proofs: some.len() as u64,
        records: some.len() as u64 - 1,
    }));
    let mut swapped = header.clone();
    swapped.checkpoint = Some(checkpoint(&records[1..]).sign(&authority()).unwrap());
    assert!(!check(&swapped, &some).is_sound());
    let mut dropped = header;
    dropped.log = None;
    assert!(!check(&dropped, &some).is_sound());
}

#[test]
fn head_of_an_offices_log_counts_under_the_offices_key_only() {
    let records = log_of_two();
    let mut header = header(&[key(1), key(2)]);
    let mut head = checkpoint(&records);
    head.origin = log_origin("office", vessel());
    header.checkpoint = Some(head.sign(&key(9)).unwrap());
    header.log = Some(LogProof {
        office: Some(key(9).public()),
        inclusions: Vec::new(),
    });
    let report = check(&header, &records);
    assert!(report.is_sound(), "{:?}", report.faults);
    for office in [None, Some(key(8).public())] {
        header.log.as_mut().unwrap().office = office;
        assert!(!check(&header, &records).is_sound());
    }
}

#[test]
fn newer_export_adds_to_the_older_or_says_what_was_done() {
    let records = log_of_two();
    let whole = |records: &[VerifiedRecord], restores: &[Restore]| {
        let mut header = header(&[key(1), key(2)]);
        let mut head = checkpoint(records);
        head.restores = restores.to_vec();
        header.checkpoint = Some(head.sign(&authority()).unwrap());
        verify_export(&write_export(&header, records))
    };
    let older = whole(&records[..6], &[]);
    let head = older.header.as_ref().unwrap().checkpoint.clone().unwrap();
    let both = [Older::Export(&older), Older::Head(&head)];
    let newer = whole(&records, &[]);
    for older in both {
        let added = records.len() as u64 - 6;
        assert_eq!(check_since(&newer, older), Ok(Since::Extends { added }));
    }
    let mut removed = records.clone();
    removed.remove(4);
    for older in both {
        let found = check_since(&whole(&removed, &[]), older);
        assert_eq!(found, Err(SinceFault::Rewritten { size: 6 }));
        let found = check_since(&whole(&records[..4], &[]), older);
        let shrunk = SinceFault::Shrunk {
            earlier: 6,
            later: 4,
        };
        assert_eq!(found, Err(shrunk));
        let restore = Restore {
            kept: 4,
            lost: 6,
            at_ms: NOON_MS,
        };
        let found = check_since(&whole(&records[..4], &[restore]), older);
        assert_eq!(found, Ok(Since::Restored(restore)));
    }
    let forged = checkpoint(&records[..6]).sign(&key(3)).unwrap();
    assert!(matches!(
        check_since(&newer, Older::Head(&forged)),
        Err(SinceFault::Head(_))
    ));
    let (header, some) = part(&records);
    let run = check(&header, &some);
    for older in both {
        assert_eq!(check_since(&run, older), Err(SinceFault::NotWhole));
    }
}
