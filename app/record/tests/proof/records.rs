//! Records: what goes in comes out, and nothing else is taken for it.

use coset::{CborSerializable as _, TaggedCborSerializable as _, iana};
use proptest::prelude::*;
use record::{
    Chain, Draft, Envelope, Hlc, MAX_RECORD_BYTES, PersonId, RECORD_CONTEXT, ReceiptHash, RecordId,
    Refusal, VerifiedRecord, check_link,
};

use super::crew::{chain, draft, key, run, sign, vessel};

fn any_id() -> impl Strategy<Value = RecordId> {
    any::<[u8; 32]>().prop_map(RecordId)
}

prop_compose! {
    fn any_draft()(
        seq in prop_oneof![1u64..5, 1u64..(1 << 53)],
        prev in any_id(),
        run in proptest::option::of(any_id()),
        heads in proptest::collection::btree_set(any_id(), 0..5),
        time_ms in -(1i64 << 53) + 1..(1i64 << 53),
        ms in 0u64..(1 << 53),
        ctr in any::<u32>(),
        author in "[a-zé .-]{1,40}",
        receipt in proptest::option::of(any::<[u8; 32]>()),
        kind in "[a-z.]{1,30}",
        body in proptest::collection::vec(any::<u8>(), 0..300),
    ) -> Draft {
        Draft {
            vessel: vessel(),
            device: key(1).device(),
            seq,
            prev: (seq > 1).then_some(prev),
            run,
            heads: heads.into_iter().collect(),
            time_ms,
            hlc: Hlc { ms, ctr },
            author: PersonId(author),
            receipt: receipt.map(ReceiptHash),
            kind,
            body,
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn any_record_reads_back_as_it_was_drafted(draft in any_draft()) {
        let record = sign(&key(1), draft.clone());
        let envelope = Envelope::decode(record.bytes()).unwrap();
        prop_assert_eq!(envelope.draft(), &draft);
        prop_assert_eq!(envelope.id(), record.id());
        prop_assert_eq!(envelope.bytes(), record.bytes());
        prop_assert_eq!(envelope.known_as(record.id()), Some(record.clone()));
        prop_assert_eq!(envelope.known_as(RecordId([9; 32])), None);
        prop_assert_eq!(envelope.verify(&key(1).public()), Ok(record));
    }

    #[test]
    fn any_flipped_bit_is_refused(draft in any_draft(), at in any::<prop::sample::Index>()) {
        let record = sign(&key(1), draft);
        let mut bytes = record.bytes().to_vec();
        let bit = at.index(bytes.len() * 8);
        bytes[bit / 8] ^= 1 << (bit % 8);
        let read = Envelope::decode(&bytes).and_then(|envelope| envelope.verify(&key(1).public()));
        prop_assert!(read.is_err(), "bit {} flipped, yet taken", bit);
    }

    #[test]
    fn no_bytes_make_the_reader_panic(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        let _ = Envelope::decode(&bytes);
        let _ = record::cbor::check(&bytes);
        let _ = record::export::verify_export(&bytes);
    }
}

#[test]
fn every_bit_of_one_record_counts() {
    let record = sign(&key(1), draft(&key(1), None));
    for bit in 0..record.bytes().len() * 8 {
        let mut bytes = record.bytes().to_vec();
        bytes[bit / 8] ^= 1 << (bit % 8);
        let read = Envelope::decode(&bytes).and_then(|envelope| envelope.verify(&key(1).public()));
        assert!(read.is_err(), "bit {bit} flipped, yet taken");
    }
}

#[test]
fn a_general_cose_library_reads_and_verifies_a_record() {
    let record = sign(&key(1), draft(&key(1), None));
    let sign1 = coset::CoseSign1::from_tagged_slice(record.bytes()).unwrap();
    assert_eq!(sign1.protected.header.key_id, record.device().as_bytes());
    let eddsa = coset::Algorithm::Assigned(iana::Algorithm::EdDSA);
    assert_eq!(sign1.protected.header.alg, Some(eddsa));
    let verdict = sign1.verify_signature(RECORD_CONTEXT, |signature, to_be_signed| {
        if key(1).public().accepts(to_be_signed, signature) {
            Ok(())
        } else {
            Err(())
        }
    });
    assert_eq!(verdict, Ok(()));
    assert!(
        record.draft().clone().to_be_signed().unwrap().bytes() == sign1.tbs_data(RECORD_CONTEXT)
    );
}

#[test]
fn a_record_of_a_general_cose_library_is_taken() {
    let unsigned = draft(&key(1), None).to_be_signed().unwrap();
    let ours = unsigned.clone().sign(&key(1)).unwrap();
    let payload = coset::CoseSign1::from_tagged_slice(ours.bytes())
        .unwrap()
        .payload
        .unwrap();
    let protected = coset::HeaderBuilder::new()
        .algorithm(iana::Algorithm::EdDSA)
        .key_id(key(1).device().as_bytes().to_vec())
        .build();
    let theirs = coset::CoseSign1Builder::new()
        .protected(protected)
        .payload(payload)
        .create_signature(RECORD_CONTEXT, |to_be_signed| {
            key(1).sign(to_be_signed).to_vec()
        })
        .build();
    let bytes = theirs.to_tagged_vec().unwrap();
    assert_eq!(bytes, ours.bytes());
    assert_eq!(Envelope::decode(&bytes).unwrap().id(), unsigned.id());
}

#[test]
fn a_general_cose_library_reads_the_key() {
    let bytes = record::cose_key(&key(1).public());
    let read = coset::CoseKey::from_slice(&bytes).unwrap();
    assert_eq!(read.kty, coset::KeyType::Assigned(iana::KeyType::OKP));
    assert_eq!(record::from_cose_key(&bytes), Ok(key(1).public()));
    assert_eq!(record::cbor::check(&bytes), Ok(()));
}

#[test]
fn another_signature_over_the_same_bytes_is_the_same_record() {
    let unsigned = draft(&key(1), None).to_be_signed().unwrap();
    let one = unsigned.clone().seal([1; 64]);
    let other = unsigned.clone().seal([2; 64]);
    assert_eq!((one.id(), other.id()), (unsigned.id(), unsigned.id()));
    assert_ne!(one.bytes(), other.bytes());
    assert!(matches!(
        one.verify(&key(1).public()),
        Err(Refusal::BadSignature { seq: 1, .. })
    ));
}

#[test]
fn record_as_large_as_allowed_is_taken_and_one_byte_more_refused() {
    let empty = sign(
        &key(1),
        Draft {
            body: vec![0; 1000],
            ..draft(&key(1), None)
        },
    );
    // 1,000 bytes of body and 64 kB both have lengths of three bytes up to 65,535.
    let room = MAX_RECORD_BYTES - (empty.bytes().len() - 1000);
    let sized = |len| {
        Draft {
            body: vec![0; len],
            ..draft(&key(1), None)
        }
        .to_be_signed()
    };
    let record = sized(room).unwrap().sign(&key(1)).unwrap();
    assert_eq!(record.bytes().len(), MAX_RECORD_BYTES);
    assert!(Envelope::decode(record.bytes()).is_ok());
    let limit = Refusal::TooLarge {
        bytes: MAX_RECORD_BYTES + 1,
        limit: MAX_RECORD_BYTES,
    };
    assert_eq!(sized(room + 1).unwrap_err(), limit);
    assert_eq!(
        Envelope::decode(&[record.bytes(), &[0]].concat()),
        Err(limit)
    );
}

#[test]
fn draft_that_a_reader_would_refuse_is_not_signed() {
    let seq_zero = Draft {
        seq: 0,
        ..draft(&key(1), None)
    };
    assert_eq!(seq_zero.to_be_signed().unwrap_err(), Refusal::SeqZero);
    let anonymous = Draft {
        author: "".into(),
        ..draft(&key(1), None)
    };
    assert_eq!(
        anonymous.to_be_signed().unwrap_err(),
        Refusal::TextEmpty { field: "author" }
    );
    let unsigned = draft(&key(1), None).to_be_signed().unwrap();
    assert!(matches!(
        unsigned.sign(&key(2)),
        Err(Refusal::WrongKey { .. })
    ));
}

#[test]
fn link_names_gap_fork_and_wrong_predecessor() {
    let records = chain(&key(1), 4);
    let link = |prev: Option<&VerifiedRecord>, next: &VerifiedRecord| check_link(prev, next);
    assert_eq!(link(None, &records[0]), Ok(()));
    assert_eq!(link(Some(&records[0]), &records[1]), Ok(()));
    assert_eq!(link(Some(&records[1]), &records[1]), Ok(()));
    assert!(matches!(
        link(None, &records[1]),
        Err(Refusal::Gap { seq: 2, .. })
    ));
    assert!(matches!(
        link(Some(&records[0]), &records[2]),
        Err(Refusal::Gap { seq: 3, .. })
    ));
    assert!(matches!(
        link(Some(&records[2]), &records[1]),
        Err(Refusal::Gap { seq: 2, .. })
    ));
    let other = sign(
        &key(1),
        Draft {
            kind: "other".into(),
            ..draft(&key(1), Some(&records[0]))
        },
    );
    assert!(matches!(
        link(Some(&records[1]), &other),
        Err(Refusal::Fork { seq: 2, .. })
    ));
    assert!(matches!(
        link(Some(&other), &records[2]),
        Err(Refusal::PrevMismatch { seq: 3, .. })
    ));
    let stranger = sign(&key(2), draft(&key(2), None));
    assert!(matches!(
        link(Some(&records[0]), &stranger),
        Err(Refusal::OtherDevice { .. })
    ));
    let vessel = key(9).public().vessel();
    let moved = sign(
        &key(1),
        Draft {
            vessel,
            ..draft(&key(1), Some(&records[0]))
        },
    );
    assert!(matches!(
        link(Some(&records[0]), &moved),
        Err(Refusal::OtherVessel { seq: 2, .. })
    ));
}

#[test]
fn chain_knows_how_far_it_is_whole_whatever_the_order() {
    let records = chain(&key(1), 5);
    let mut judged = Chain::default();
    for (at, height) in [(4, 0), (1, 0), (0, 2), (0, 2), (3, 2), (2, 5)] {
        judged.insert(&records[at]);
        assert_eq!(judged.height(), height);
    }
    assert_eq!(judged.head().map(Envelope::id), Some(records[4].id()));
    assert_eq!(judged.faults(), []);
    assert_eq!(judged.whole().count(), 5);
}

#[test]
fn chain_stops_at_a_fork_and_names_both() {
    let records = chain(&key(1), 3);
    let other = sign(
        &key(1),
        Draft {
            kind: "other".into(),
            ..draft(&key(1), Some(&records[0]))
        },
    );
    let mut judged = Chain::default();
    for record in records.iter().chain([&other]) {
        judged.insert(record);
    }
    assert_eq!(judged.height(), 1);
    let faults = judged.faults();
    assert!(
        matches!(faults[..], [(_, Refusal::Fork { seq: 2, .. })]),
        "{faults:?}"
    );
}

#[test]
fn run_of_three_devices_names_what_each_had_seen() {
    let chains = run(3, 2);
    assert_eq!(chains[2][1].heads().len(), 2);
    assert!(chains[2][1].heads().contains(&chains[1][1].id()));
    assert_eq!(chains[2][1].run(), Some(chains[0][0].id()));
}

#[test]
fn soft_key_does_not_show_its_seed() {
    let shown = format!("{:?}", key(0xab));
    assert!(
        !shown.contains("ab, ab") && !shown.contains("171, 171"),
        "{shown}"
    );
    assert!(!shown.contains(&"ab".repeat(8)), "{shown}");
}
