//! Credentials: the vessel's authority says who holds a key, in which roles, from when to when.
//!
//! A CBOR Web Token (RFC 8392) with the key in its `cnf` claim (RFC 8747), signed as a COSE_Sign1
//! without external data, so that any CWT library can check it.

use crate::cbor::{Reader, Writer};
use crate::cose::{Frame, Sign1};
use crate::cose_key::{cose_key, read_cose_key};
use crate::envelope::{MAX_AUTHOR_BYTES, MAX_NUMBER, check_text};
use crate::id::{DeviceId, PersonId, VesselId};
use crate::key::{PublicKey, SoftKey};
use crate::refusal::Refusal;

/// The kind of the record whose body is a signed credential.
pub const KIND_CREDENTIAL: &str = "credential";

/// RFC 8392 section 4: issuer, subject, expiration, not before, token id; RFC 8747: confirmation.
const ISS: i64 = 1;
const SUB: i64 = 2;
const EXP: i64 = 4;
const NBF: i64 = 5;
const CTI: i64 = 7;
const CNF: i64 = 8;
/// Claims of our own, in the range that RFC 8392 section 9.1 leaves to private use.
const NAME: i64 = -65_537;
const RANK: i64 = -65_538;
const ROLES: i64 = -65_539;
const PROTECTION: i64 = -65_540;

const MAX_BYTES: usize = 4096;
const MAX_NAME_BYTES: usize = 128;
const MAX_ROLES: usize = 16;
const MAX_ROLE_BYTES: usize = 32;
const MAX_ID_BYTES: usize = 32;

/// How a private key is kept on its device.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, serde::Serialize, serde::Deserialize,
)]
#[serde(rename_all = "lowercase")]
pub enum KeyProtection {
    /// Made by the browser and not extractable.
    WebCrypto,
    /// A software key, wrapped while it rests but in memory while it signs.
    Software,
}

impl KeyProtection {
    /// Returns the word that stands in a credential.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::WebCrypto => "webcrypto",
            Self::Software => "software",
        }
    }

    fn read(text: &str) -> Result<Self, Refusal> {
        match text {
            "webcrypto" => Ok(Self::WebCrypto),
            "software" => Ok(Self::Software),
            _ => Err(Refusal::Claim {
                claim: "key protection",
            }),
        }
    }
}

/// What a credential says.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Credential {
    /// The vessel whose authority speaks (`iss`).
    pub vessel: VesselId,
    /// Who holds the key (`sub`).
    pub person: PersonId,
    /// The key (`cnf`).
    pub key: PublicKey,
    /// From when, seconds UTC since 1970 (`nbf`).
    pub not_before_s: i64,
    /// Until when, exclusive, seconds UTC since 1970 (`exp`).
    pub expires_s: i64,
    /// A number that tells two otherwise equal credentials apart (`cti`).
    pub id: Option<Vec<u8>>,
    /// The person's name, for people to read.
    pub name: String,
    /// The person's rank, for people to read.
    pub rank: String,
    /// The roles, ascending.
    pub roles: Vec<String>,
    /// How the private key is kept.
    pub protection: KeyProtection,
}

/// A credential whose signature was found good, with its bytes as received.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SignedCredential {
    credential: Credential,
    bytes: Vec<u8>,
}

impl Credential {
    /// Returns the device id of the key spoken for.
    pub fn device(&self) -> DeviceId {
        self.key.device()
    }

    /// Says whether the person has this role.
    pub fn has_role(&self, role: &str) -> bool {
        self.roles.iter().any(|own| own == role)
    }

    /// Checks that the credential holds at a time, milliseconds UTC since 1970.
    ///
    /// # Errors
    /// [`Refusal::NotYetValid`] or [`Refusal::Expired`].
    pub fn check_time(&self, time_ms: i64) -> Result<(), Refusal> {
        let time_s = time_ms.div_euclid(1000);
        if time_s < self.not_before_s {
            return Err(Refusal::NotYetValid {
                not_before_s: self.not_before_s,
            });
        }
        if time_s >= self.expires_s {
            return Err(Refusal::Expired {
                expires_s: self.expires_s,
            });
        }
        Ok(())
    }

    /// Signs the credential; `vessel` becomes that of the authority.
    ///
    /// # Errors
    /// The same [`Refusal`]s with which a reader would refuse it.
    pub fn sign(mut self, authority: &SoftKey) -> Result<SignedCredential, Refusal> {
        self.vessel = authority.public().vessel();
        self.check()?;
        let frame = Frame::new(authority.device(), self.claims());
        let bytes = frame.seal(&authority.sign(&frame.to_be_signed(&[])));
        check_size(&bytes)?;
        Ok(SignedCredential {
            credential: self,
            bytes,
        })
    }

    /// Lays the claims out as a map, its keys in the order of their encoded bytes.
    fn claims(&self) -> Vec<u8> {
        let mut writer = Writer::new();
        writer.map(9 + usize::from(self.id.is_some()));
        writer.int(ISS).text(&self.vessel.to_string());
        writer.int(SUB).text(&self.person.0);
        writer.int(EXP).int(self.expires_s);
        writer.int(NBF).int(self.not_before_s);
        if let Some(id) = &self.id {
            writer.int(CTI).bytes(id);
        }
        writer.int(CNF).map(1).int(1).item(&cose_key(&self.key));
        writer.int(NAME).text(&self.name);
        writer.int(RANK).text(&self.rank);
        writer.int(ROLES).array(self.roles.len());
        for role in &self.roles {
            writer.text(role);
        }
        writer.int(PROTECTION).text(self.protection.as_str());
        writer.into_bytes()
    }

    fn from_claims(payload: &[u8]) -> Result<Self, Refusal> {
        let mut reader = Reader::new(payload);
        let claims = reader.map()?;
        let has_id = match claims {
            9 => false,
            10 => true,
            fields => {
                return Err(Refusal::FieldCount {
                    fields,
                    expected: 9,
                });
            }
        };
        expect_claim(&mut reader, ISS, "iss")?;
        let issuer = reader.text()?;
        let vessel: VesselId = issuer
            .parse()
            .map_err(|_| Refusal::Claim { claim: "iss" })?;
        if vessel.to_string() != issuer {
            return Err(Refusal::Claim { claim: "iss" });
        }
        expect_claim(&mut reader, SUB, "sub")?;
        let person = PersonId::from(reader.text()?);
        expect_claim(&mut reader, EXP, "exp")?;
        let expires_s = reader.int()?;
        expect_claim(&mut reader, NBF, "nbf")?;
        let not_before_s = reader.int()?;
        let mut id = None;
        if has_id {
            expect_claim(&mut reader, CTI, "cti")?;
            id = Some(reader.bytes()?.to_vec());
        }
        expect_claim(&mut reader, CNF, "cnf")?;
        if reader.map()? != 1 || reader.int()? != 1 {
            return Err(Refusal::Claim { claim: "cnf" });
        }
        let key = read_cose_key(&mut reader)?;
        expect_claim(&mut reader, NAME, "name")?;
        let name = reader.text()?.to_owned();
        expect_claim(&mut reader, RANK, "rank")?;
        let rank = reader.text()?.to_owned();
        expect_claim(&mut reader, ROLES, "roles")?;
        let count = reader.array()?;
        if count > MAX_ROLES {
            return Err(Refusal::Claim { claim: "roles" });
        }
        let mut roles = Vec::with_capacity(count);
        for _ in 0..count {
            roles.push(reader.text()?.to_owned());
        }
        expect_claim(&mut reader, PROTECTION, "key protection")?;
        let protection = KeyProtection::read(reader.text()?)?;
        reader.end()?;
        let credential = Self {
            vessel,
            person,
            key,
            not_before_s,
            expires_s,
            id,
            name,
            rank,
            roles,
            protection,
        };
        credential.check()?;
        Ok(credential)
    }

    fn check(&self) -> Result<(), Refusal> {
        check_text("sub", &self.person.0, MAX_AUTHOR_BYTES)?;
        check_text("name", &self.name, MAX_NAME_BYTES)?;
        check_text("rank", &self.rank, MAX_NAME_BYTES)?;
        for role in &self.roles {
            check_text("role", role, MAX_ROLE_BYTES)?;
        }
        if self.roles.len() > MAX_ROLES || !self.roles.is_sorted_by(|a, b| a < b) {
            return Err(Refusal::Claim { claim: "roles" });
        }
        if self.id.as_ref().is_some_and(|id| id.len() > MAX_ID_BYTES) {
            return Err(Refusal::Claim { claim: "cti" });
        }
        for (field, number) in [("nbf", self.not_before_s), ("exp", self.expires_s)] {
            // Whole seconds, yet their milliseconds must fit as well.
            if number.unsigned_abs() > MAX_NUMBER / 1000 {
                return Err(Refusal::NumberTooLarge { field });
            }
        }
        if self.expires_s <= self.not_before_s {
            return Err(Refusal::Claim { claim: "exp" });
        }
        Ok(())
    }
}

fn expect_claim(reader: &mut Reader, key: i64, claim: &'static str) -> Result<(), Refusal> {
    if reader.int()? == key {
        Ok(())
    } else {
        Err(Refusal::Claim { claim })
    }
}

fn check_size(bytes: &[u8]) -> Result<(), Refusal> {
    if bytes.len() > MAX_BYTES {
        return Err(Refusal::TooLarge {
            bytes: bytes.len(),
            limit: MAX_BYTES,
        });
    }
    Ok(())
}

impl SignedCredential {
    /// Reads a credential and checks that `authority` signed it for its own vessel.
    ///
    /// Whether it holds at a certain time is another question: [`Credential::check_time`].
    ///
    /// # Errors
    /// [`Refusal`] for malformed bytes, another signer or vessel, or a signature that does not fit.
    pub fn verify(bytes: &[u8], authority: &PublicKey) -> Result<Self, Refusal> {
        check_size(bytes)?;
        let sign1 = Sign1::decode(bytes)?;
        let credential = Credential::from_claims(sign1.payload)?;
        if sign1.kid != authority.device() {
            return Err(Refusal::WrongKey {
                device: sign1.kid,
                offered: authority.device(),
            });
        }
        if credential.vessel != authority.vessel() {
            return Err(Refusal::Claim { claim: "iss" });
        }
        if !authority.accepts(&sign1.to_be_signed(&[]), &sign1.signature) {
            return Err(Refusal::BadCredential {
                device: credential.device(),
            });
        }
        Ok(Self {
            credential,
            bytes: bytes.to_vec(),
        })
    }

    /// Returns what the credential says.
    pub fn credential(&self) -> &Credential {
        &self.credential
    }

    /// Returns the bytes, signature and all.
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }
}
