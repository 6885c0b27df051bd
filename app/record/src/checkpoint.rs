//! Signed tree heads as text: a C2SP checkpoint (c2sp.org/tlog-checkpoint) in a signed note
//! (c2sp.org/signed-note).

use std::fmt::Write as _;
use std::str::FromStr;

use crate::base64;
use crate::cose::sha256;
use crate::id::VesselId;
use crate::key::{PublicKey, SoftKey};
use crate::merkle::{Hash, TreeHead};

/// The signature type of Ed25519 in a signed note's key id.
const ED25519: u8 = 1;
const MAX_NOTE_BYTES: usize = 16 * 1024;

/// Why a checkpoint was refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CheckpointFault {
    /// The note is longer than any checkpoint.
    #[error("the note has {bytes} bytes, more than the {MAX_NOTE_BYTES} allowed")]
    TooLarge {
        /// How many it has.
        bytes: usize,
    },
    /// The note is not lines of text, an empty line and signatures.
    #[error("not a signed note")]
    NotANote,
    /// The text does not begin with origin, size and root.
    #[error("the text is not a checkpoint")]
    NotACheckpoint,
    /// The origin cannot name a key: it is empty or holds a space, a plus or a control character.
    #[error("{origin:?} cannot name a log")]
    Origin {
        /// The origin.
        origin: String,
    },
    /// The checkpoint is another log's.
    #[error("a checkpoint of log {found:?}, not of {expected:?}")]
    OtherLog {
        /// The log asked for.
        expected: String,
        /// The log that the checkpoint names.
        found: String,
    },
    /// The expected key has not signed.
    #[error("the log's key has not signed the checkpoint")]
    Unsigned,
    /// The expected key's signature does not fit.
    #[error("bad signature on the checkpoint")]
    BadSignature,
}

/// That a log lost its newest records because its store was put back from a backup.
///
/// A restore is declared in every head from then on, so that whoever remembers a head of the lost
/// records knows why they are gone, and that they are to be sent again.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Restore {
    /// How many records the backup had: so far the log is what it was.
    pub kept: u64,
    /// How many records the log had when it was last seen before.
    pub lost: u64,
    /// When the restored log was opened, ms UTC by the server's clock.
    pub at_ms: i64,
}

/// A tree head with the name of its log.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Checkpoint {
    /// The log's name.
    pub origin: String,
    /// Size and root.
    pub head: TreeHead,
    /// When it was signed, ms UTC by the server's clock: the extension line `time MS`.
    pub signed_ms: Option<i64>,
    /// What was lost and why, oldest first: the extension lines `restored KEPT LOST MS`.
    pub restores: Vec<Restore>,
}

/// Returns the name of a vessel's log as kept in one place, such as `ship` or `office`.
pub fn log_origin(place: &str, vessel: VesselId) -> String {
    format!("clearhawse/{place}/{vessel}")
}

/// Returns the first four bytes of `SHA-256(name || 0x0A || type || public key)`.
fn key_id(name: &str, key: &PublicKey) -> [u8; 4] {
    let mut named = Vec::with_capacity(name.len() + 34);
    named.extend(name.as_bytes());
    named.extend([b'\n', ED25519]);
    named.extend(key.as_bytes());
    let [a, b, c, d, ..] = sha256(&named);
    [a, b, c, d]
}

fn check_origin(origin: &str) -> Result<(), CheckpointFault> {
    let bad = |c: char| c.is_whitespace() || c.is_control() || c == '+';
    if origin.is_empty() || origin.contains(bad) {
        return Err(CheckpointFault::Origin {
            origin: origin.to_owned(),
        });
    }
    Ok(())
}

impl Checkpoint {
    /// Returns the text that is signed.
    pub fn text(&self) -> String {
        let mut text = format!(
            "{}\n{}\n{}\n",
            self.origin,
            self.head.size,
            base64::encode(&self.head.root)
        );
        if let Some(ms) = self.signed_ms {
            writeln!(text, "time {ms}").expect("invariant: writing to a String cannot fail");
        }
        for restore in &self.restores {
            let Restore { kept, lost, at_ms } = restore;
            writeln!(text, "restored {kept} {lost} {at_ms}")
                .expect("invariant: writing to a String cannot fail");
        }
        text
    }

    /// Returns the signed note, under the origin as the key's name.
    ///
    /// # Errors
    /// [`CheckpointFault::Origin`].
    pub fn sign(&self, log: &SoftKey) -> Result<String, CheckpointFault> {
        check_origin(&self.origin)?;
        let text = self.text();
        let mut signature = key_id(&self.origin, &log.public()).to_vec();
        signature.extend(log.sign(text.as_bytes()));
        Ok(format!(
            "{text}\n\u{2014} {} {}\n",
            self.origin,
            base64::encode(&signature)
        ))
    }

    /// Reads a signed note and checks that the log's key signed it; others' signatures are let be.
    ///
    /// # Errors
    /// [`CheckpointFault`] names the rule broken.
    pub fn verify(note: &str, origin: &str, log: &PublicKey) -> Result<Self, CheckpointFault> {
        check_origin(origin)?;
        if note.len() > MAX_NOTE_BYTES {
            return Err(CheckpointFault::TooLarge { bytes: note.len() });
        }
        if note.chars().any(|c| c < ' ' && c != '\n') {
            return Err(CheckpointFault::NotANote);
        }
        // The last empty line parts text and signatures.
        let at = note.rfind("\n\n").ok_or(CheckpointFault::NotANote)?;
        let (text, signatures) = (&note[..=at], &note[at + 2..]);
        let signatures = signatures
            .strip_suffix('\n')
            .ok_or(CheckpointFault::NotANote)?;
        let own = key_id(origin, log);
        let mut is_signed = false;
        for line in signatures.split('\n') {
            let (name, signature) = line
                .strip_prefix("\u{2014} ")
                .and_then(|line| line.split_once(' '))
                .ok_or(CheckpointFault::NotANote)?;
            let signature = base64::decode(signature).ok_or(CheckpointFault::NotANote)?;
            let (id, signature) = signature
                .split_at_checked(4)
                .ok_or(CheckpointFault::NotANote)?;
            if name == origin && id == own {
                if !log.accepts(text.as_bytes(), signature) {
                    return Err(CheckpointFault::BadSignature);
                }
                is_signed = true;
            }
        }
        if !is_signed {
            return Err(CheckpointFault::Unsigned);
        }
        let checkpoint = Self::from_text(text)?;
        if checkpoint.origin != origin {
            let (expected, found) = (origin.to_owned(), checkpoint.origin);
            return Err(CheckpointFault::OtherLog { expected, found });
        }
        Ok(checkpoint)
    }

    fn from_text(text: &str) -> Result<Self, CheckpointFault> {
        let lines = text
            .strip_suffix('\n')
            .ok_or(CheckpointFault::NotACheckpoint)?;
        let mut lines = lines.split('\n');
        let mut next = || lines.next().filter(|line| !line.is_empty());
        let (Some(origin), Some(size_text), Some(root)) = (next(), next(), next()) else {
            return Err(CheckpointFault::NotACheckpoint);
        };
        let size: u64 = size_text
            .parse()
            .map_err(|_| CheckpointFault::NotACheckpoint)?;
        let root = base64::decode(root).and_then(|root| Hash::try_from(root).ok());
        let root = root.ok_or(CheckpointFault::NotACheckpoint)?;
        // "+5" and "05" parse, but one number has one text only.
        if size.to_string() != size_text {
            return Err(CheckpointFault::NotACheckpoint);
        }
        let mut checkpoint = Self {
            origin: origin.to_owned(),
            head: TreeHead { size, root },
            signed_ms: None,
            restores: Vec::new(),
        };
        for line in lines {
            checkpoint.read_extension(line)?;
        }
        Ok(checkpoint)
    }

    /// Takes up an extension line; one that a later version wrote is let be.
    fn read_extension(&mut self, line: &str) -> Result<(), CheckpointFault> {
        // As for the size: one number has one text only.
        fn number<T: FromStr + ToString>(text: Option<&str>) -> Result<T, CheckpointFault> {
            let read = text.and_then(|text| Some((text, text.parse::<T>().ok()?)));
            read.filter(|(text, number)| number.to_string() == *text)
                .map(|(_, number)| number)
                .ok_or(CheckpointFault::NotACheckpoint)
        }
        let mut words = line.split(' ');
        match words.next() {
            Some("") => return Err(CheckpointFault::NotACheckpoint),
            Some("time") => self.signed_ms = Some(number(words.next())?),
            Some("restored") => self.restores.push(Restore {
                kept: number(words.next())?,
                lost: number(words.next())?,
                at_ms: number(words.next())?,
            }),
            _ => {}
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ORIGIN: &str = "clearhawse/ship/00112233445566778899aabbccddeeff";

    fn key() -> SoftKey {
        SoftKey::from_seed([3; 32])
    }

    fn checkpoint() -> Checkpoint {
        Checkpoint {
            origin: ORIGIN.into(),
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
        }
    }

    fn verify(note: &str) -> Result<Checkpoint, CheckpointFault> {
        Checkpoint::verify(note, ORIGIN, &key().public())
    }

    #[test]
    fn key_id_agrees_with_a_published_verifier_key() {
        // The public Go checksum database's key: `sum.golang.org+033de0ae+Ac4zctda…`.
        let encoded = base64::decode("Ac4zctda0e5eza+HJyk9SxEdh+s3Ux18htTTAD8OuAn8").unwrap();
        let key = PublicKey::from_bytes(&encoded[1..]).unwrap();
        assert_eq!(key_id("sum.golang.org", &key), [0x03, 0x3d, 0xe0, 0xae]);
    }

    #[test]
    fn checkpoint_reads_back_what_was_signed() {
        let note = checkpoint().sign(&key()).unwrap();
        assert!(note.starts_with(&format!("{ORIGIN}\n1042\npaWl")), "{note}");
        assert!(note.contains("\ntime 1790000000123\nrestored 900 1041 1789000000000\n\n"));
        assert_eq!(verify(&note), Ok(checkpoint()));
    }

    #[test]
    fn extension_line_of_a_later_version_is_let_be_and_a_broken_one_is_not() {
        let signed = |text: String| {
            let mut signature = key_id(ORIGIN, &key().public()).to_vec();
            signature.extend(key().sign(text.as_bytes()));
            format!("{text}\n\u{2014} {ORIGIN} {}\n", base64::encode(&signature))
        };
        let later = signed(format!("{}moon full\n", checkpoint().text()));
        assert_eq!(verify(&later), Ok(checkpoint()));
        for line in [
            "time noon",
            "time +5",
            "time 05",
            "restored 900",
            "restored 900 1041 -",
            "restored 0900 1041 5",
        ] {
            let broken = signed(format!("{}{line}\n", checkpoint().text()));
            assert_eq!(verify(&broken), Err(CheckpointFault::NotACheckpoint));
        }
    }

    #[test]
    fn signatures_of_witnesses_are_let_be() {
        let note = checkpoint().sign(&key()).unwrap();
        assert_eq!(
            verify(&format!("{note}\u{2014} witness AAAAAAAA\n")),
            Ok(checkpoint())
        );
    }

    #[test]
    fn changed_checkpoint_is_refused() {
        let note = checkpoint().sign(&key()).unwrap();
        let changed = note.replace("1042", "1041");
        assert_eq!(verify(&changed), Err(CheckpointFault::BadSignature));
        let other = SoftKey::from_seed([4; 32]);
        assert_eq!(
            verify(&checkpoint().sign(&other).unwrap()),
            Err(CheckpointFault::Unsigned)
        );
    }

    #[test]
    fn checkpoint_of_another_log_is_refused() {
        let text = checkpoint().text().replace("/ship/", "/office/");
        let mut signature = key_id(ORIGIN, &key().public()).to_vec();
        signature.extend(key().sign(text.as_bytes()));
        let note = format!("{text}\n\u{2014} {ORIGIN} {}\n", base64::encode(&signature));
        assert!(matches!(
            verify(&note),
            Err(CheckpointFault::OtherLog { .. })
        ));
    }

    #[test]
    fn text_that_is_no_checkpoint_is_refused_though_signed() {
        for text in [
            format!("{ORIGIN}\n+5\n\n"),
            format!("{ORIGIN}\n05\nAAAA\n"),
            "\n\n\n".to_owned(),
        ] {
            let mut signature = key_id(ORIGIN, &key().public()).to_vec();
            signature.extend(key().sign(text.as_bytes()));
            let note = format!("{text}\n\u{2014} {ORIGIN} {}\n", base64::encode(&signature));
            assert_eq!(
                verify(&note),
                Err(CheckpointFault::NotACheckpoint),
                "{text:?}"
            );
        }
    }

    #[test]
    fn text_that_is_no_note_is_refused() {
        let note = checkpoint().sign(&key()).unwrap();
        for text in [
            "",
            "\n\n",
            "a\n\nb\n",
            note.trim_end(),
            &note.replace("1042", "10\r42"),
        ] {
            assert_eq!(verify(text), Err(CheckpointFault::NotANote), "{text:?}");
        }
        assert!(matches!(
            Checkpoint::verify(&note, "two words", &key().public()),
            Err(CheckpointFault::Origin { .. })
        ));
    }
}
