//! Credentials and receipts: who may say what, and what nobody can forge.

use coset::{CborSerializable as _, TaggedCborSerializable as _};
use record::{
    Credential, KeyProtection, Receipt, RecordId, Refusal, SignedCredential, SignedReceipt, SoftKey,
};

use super::crew::{NOON_MS, authority, key, vessel};

const NOON_S: i64 = NOON_MS / 1000;

fn credential(key: &SoftKey) -> Credential {
    Credential {
        vessel: vessel(),
        person: "j.marlow".into(),
        key: key.public(),
        not_before_s: NOON_S - 3600,
        expires_s: NOON_S + 86_400,
        id: Some(vec![1, 2, 3]),
        name: "Jo Marlow".into(),
        rank: "bosun".into(),
        roles: vec!["crew".into(), "officer".into()],
        protection: KeyProtection::WebCrypto,
    }
}

fn receipt() -> Receipt {
    Receipt {
        vessel: vessel(),
        device: key(1).device(),
        seq: 12,
        head: RecordId([5; 32]),
        server_time_ms: NOON_MS,
    }
}

#[test]
fn credential_reads_back_what_the_authority_signed() {
    for id in [None, Some(vec![1, 2, 3])] {
        let credential = Credential {
            id,
            ..credential(&key(1))
        };
        let signed = credential.clone().sign(&authority()).unwrap();
        let read = SignedCredential::verify(signed.bytes(), &authority().public()).unwrap();
        assert_eq!(read.credential(), &credential);
        assert!(read.credential().has_role("officer") && !read.credential().has_role("master"));
    }
}

#[test]
fn a_general_library_reads_the_credential_as_a_web_token() {
    let signed = credential(&key(1)).sign(&authority()).unwrap();
    let sign1 = coset::CoseSign1::from_tagged_slice(signed.bytes()).unwrap();
    let verdict = sign1.verify_signature(&[], |signature, to_be_signed| {
        if authority().public().accepts(to_be_signed, signature) {
            Ok(())
        } else {
            Err(())
        }
    });
    assert_eq!(verdict, Ok(()));
    let payload = sign1.payload.unwrap();
    assert_eq!(record::cbor::check(&payload), Ok(()));
    let claims = coset::cwt::ClaimsSet::from_slice(&payload).unwrap();
    assert_eq!(claims.issuer, Some(vessel().to_string()));
    assert_eq!(claims.subject, Some("j.marlow".to_owned()));
    assert_eq!(
        claims.not_before,
        Some(coset::cwt::Timestamp::WholeSeconds(NOON_S - 3600))
    );
    assert_eq!(
        claims.expiration_time,
        Some(coset::cwt::Timestamp::WholeSeconds(NOON_S + 86_400))
    );
}

#[test]
fn credential_holds_from_its_beginning_until_before_its_end() {
    let credential = credential(&key(1));
    let at = |s: i64| credential.check_time(s * 1000);
    assert_eq!(at(credential.not_before_s), Ok(()));
    assert_eq!(at(credential.expires_s - 1), Ok(()));
    assert!(matches!(
        at(credential.not_before_s - 1),
        Err(Refusal::NotYetValid { .. })
    ));
    assert!(matches!(
        at(credential.expires_s),
        Err(Refusal::Expired { .. })
    ));
}

#[test]
fn credential_of_another_authority_is_refused() {
    let other = key(9);
    let signed = credential(&key(1)).sign(&other).unwrap();
    let verdict = SignedCredential::verify(signed.bytes(), &authority().public());
    assert!(matches!(verdict, Err(Refusal::WrongKey { .. })));
    assert_eq!(signed.credential().vessel, other.public().vessel());
}

#[test]
fn credential_with_any_bit_flipped_is_refused() {
    let signed = credential(&key(1)).sign(&authority()).unwrap();
    for bit in 0..signed.bytes().len() * 8 {
        let mut bytes = signed.bytes().to_vec();
        bytes[bit / 8] ^= 1 << (bit % 8);
        assert!(
            SignedCredential::verify(&bytes, &authority().public()).is_err(),
            "bit {bit}"
        );
    }
}

#[test]
fn credential_that_says_too_much_or_too_little_is_not_signed() {
    let refused = |change: fn(&mut Credential)| {
        let mut credential = credential(&key(1));
        change(&mut credential);
        credential.sign(&authority()).unwrap_err()
    };
    assert_eq!(
        refused(|c| c.roles.reverse()),
        Refusal::Claim { claim: "roles" }
    );
    assert_eq!(
        refused(|c| c.expires_s = c.not_before_s),
        Refusal::Claim { claim: "exp" }
    );
    assert_eq!(
        refused(|c| c.name.clear()),
        Refusal::TextEmpty { field: "name" }
    );
    assert_eq!(
        refused(|c| c.id = Some(vec![0; 33])),
        Refusal::Claim { claim: "cti" }
    );
    assert_eq!(
        refused(|c| c.expires_s = i64::MAX),
        Refusal::NumberTooLarge { field: "exp" }
    );
}

#[test]
fn receipt_reads_back_what_the_ship_signed() {
    let signed = receipt().sign(&authority());
    let read = SignedReceipt::verify(signed.bytes(), &authority().public()).unwrap();
    assert_eq!(read, signed);
    assert_eq!(read.receipt(), &receipt());
    let later = Receipt {
        server_time_ms: NOON_MS + 1,
        ..receipt()
    }
    .sign(&authority());
    assert_ne!(later.hash(), signed.hash());
}

#[test]
fn receipt_with_any_bit_flipped_or_of_another_key_is_refused() {
    let signed = receipt().sign(&authority());
    for bit in 0..signed.bytes().len() * 8 {
        let mut bytes = signed.bytes().to_vec();
        bytes[bit / 8] ^= 1 << (bit % 8);
        assert!(
            SignedReceipt::verify(&bytes, &authority().public()).is_err(),
            "bit {bit}"
        );
    }
    let forged = receipt().sign(&key(9));
    let verdict = SignedReceipt::verify(forged.bytes(), &authority().public());
    assert!(matches!(verdict, Err(Refusal::WrongKey { .. })));
}

#[test]
fn record_is_no_receipt_and_a_receipt_no_record() {
    let signed = receipt().sign(&authority());
    assert!(record::Envelope::decode(signed.bytes()).is_err());
    let record = super::crew::chain(&key(1), 1).remove(0);
    assert!(SignedReceipt::verify(record.bytes(), &key(1).public()).is_err());
}
