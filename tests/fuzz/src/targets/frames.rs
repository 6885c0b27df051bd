//! What the ship's key has signed. Bytes that it has not signed are refused at the signature, so the payload
//! is signed here first and what lies behind the signature is reached as well.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;

use super::records::{chain, key, token};
use record::cbor::Writer;
use record::merkle::TreeHead;
use record::{
    Checkpoint, RECEIPT_CONTEXT, Receipt, Restore, SignedCredential, SignedReceipt, log_origin,
};

/// Puts a payload into a COSE_Sign1 under the ship's key: RFC 9052 sections 4.2 and 4.4.
fn signed(payload: &[u8], context: &[u8]) -> Vec<u8> {
    let key = key();
    let mut protected = Writer::new();
    protected
        .map(2)
        .uint(1)
        .int(-8)
        .uint(4)
        .bytes(key.device().as_bytes());
    let protected = protected.into_bytes();
    let mut structure = Writer::new();
    structure.array(4).text("Signature1").bytes(&protected);
    structure.bytes(context).bytes(payload);
    let signature = key.sign(&structure.into_bytes());
    let mut frame = Writer::new();
    frame
        .tag(18)
        .array(4)
        .bytes(&protected)
        .map(0)
        .bytes(payload)
        .bytes(&signature);
    frame.into_bytes()
}

/// Takes the payload out of a frame that [`signed`] or the ship made.
fn payload(frame: &[u8]) -> Vec<u8> {
    let mut reader = record::cbor::Reader::new(frame);
    let mut read = || {
        reader.tag().ok()?;
        reader.array().ok()?;
        reader.bytes().ok()?;
        reader.map().ok()?;
        reader.bytes().ok().map(<[u8]>::to_vec)
    };
    read().expect("a frame")
}

/// A credential that is read is signed again as the same bytes.
pub fn credential(bytes: &[u8]) {
    let authority = key();
    for frame in [bytes.to_vec(), signed(bytes, &[])] {
        let Ok(read) = SignedCredential::verify(&frame, &authority.public()) else {
            continue;
        };
        assert_eq!(read.bytes(), frame);
        let credential = read.credential();
        assert!(credential.not_before_s < credential.expires_s);
        assert!(credential.roles.is_sorted());
        let again = credential.clone().sign(&authority);
        let again = again.expect("what a reader takes a writer may write");
        assert_eq!(again.bytes(), frame, "there is one way to write it");
    }
}

pub fn credential_seeds() -> Vec<Vec<u8>> {
    let token = token(&key());
    vec![payload(&token), token]
}

/// A receipt that is read is signed again as the same bytes.
pub fn receipt(bytes: &[u8]) {
    let authority = key();
    for frame in [bytes.to_vec(), signed(bytes, RECEIPT_CONTEXT)] {
        let Ok(read) = SignedReceipt::verify(&frame, &authority.public()) else {
            continue;
        };
        assert_eq!(read.bytes(), frame);
        let again = read.receipt().sign(&authority);
        assert_eq!(again.bytes(), frame, "there is one way to write it");
        assert_eq!(again.hash(), read.hash());
    }
}

pub fn receipt_seeds() -> Vec<Vec<u8>> {
    let records = chain(2);
    let receipt = Receipt {
        vessel: key().public().vessel(),
        device: records[1].device(),
        seq: 2,
        head: records[1].id(),
        server_time_ms: 1_795_600_000_000,
    };
    let signed = receipt.sign(&key()).bytes().to_vec();
    vec![payload(&signed), signed]
}

/// Each line of a checkpoint as it is written stands in what was read, where more may follow it.
fn stands_in(read: &Checkpoint, text: &str) {
    for line in read.text().lines() {
        let mut lines = text.lines().filter_map(|whole| whole.strip_prefix(line));
        assert!(
            lines.any(|rest| rest.is_empty() || rest.starts_with(' ')),
            "{line:?}"
        );
    }
}

/// A checkpoint that is read holds nothing but what its text says, and is written so that it is read again; nothing else's signature counts.
pub fn checkpoint(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return;
    };
    let log = key();
    let origin = log_origin("ship", log.public().vessel());
    if let Ok(read) = Checkpoint::verify(text, &origin, &log.public()) {
        stands_in(&read, text);
    }
    // Any text that ends a line, signed as the log signs: what stands in it is still judged.
    let sample = Checkpoint {
        origin: origin.clone(),
        head: TreeHead {
            size: 0,
            root: [0; 32],
        },
        signed_ms: None,
        restores: Vec::new(),
    };
    let note = sample.sign(&log).expect("the origin is one");
    let (_, line) = note.split_once("\n\n").expect("a note has two parts");
    let word = line.trim_end().rsplit(' ').next().unwrap_or_default();
    let signature = STANDARD.decode(word).expect("a signature is base64");
    let body = format!("{}\n", text.trim_end_matches('\n'));
    let mut signature = signature[..4].to_vec();
    signature.extend(log.sign(body.as_bytes()));
    let note = format!(
        "{body}\n\u{2014} {origin} {}\n",
        STANDARD.encode(&signature)
    );
    if let Ok(read) = Checkpoint::verify(&note, &origin, &log.public()) {
        stands_in(&read, &body);
        assert_eq!(read.origin, origin);
        let again = read.sign(&log).expect("the origin is one");
        assert_eq!(Checkpoint::verify(&again, &origin, &log.public()), Ok(read));
    }
}

pub fn checkpoint_seeds() -> Vec<Vec<u8>> {
    let log = key();
    let checkpoint = Checkpoint {
        origin: log_origin("ship", log.public().vessel()),
        head: TreeHead {
            size: 1042,
            root: [0xa5; 32],
        },
        signed_ms: Some(1_790_000_000_123),
        restores: vec![Restore {
            kept: 900,
            lost: 1041,
            at_ms: 1_789_000_000_000,
        }],
    };
    let note = checkpoint.sign(&log).expect("the origin is one");
    let more = format!("{}another line\n", checkpoint.text());
    vec![
        checkpoint.text().into_bytes(),
        note.into_bytes(),
        more.into_bytes(),
    ]
}
