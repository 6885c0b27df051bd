//! The messages of sync on the wire: deterministic CBOR arrays that begin with their version.

use super::{Missing, Vector};
use crate::Refusal;
use crate::cbor::{Reader, Writer};
use crate::id::{DeviceId, RecordId, VesselId};

const VERSION: u64 = 1;
/// More chains than one vessel has in her life; a bound for what a message may ask to hold.
const MAX_DEVICES: usize = 10_000;
const MAX_ITEMS: usize = 10_000;

/// Says what a side has and asks what the other lacks: `[1, vessel, [[device, seq], …]]`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Have {
    /// Whose records.
    pub vessel: VesselId,
    /// What the asking side has.
    pub vector: Vector,
}

/// Answers [`Have`]: `[1, [[device, seq], …], [[device, from, to], …], server_time_ms]`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HaveReply {
    /// What the answering side has.
    pub vector: Vector,
    /// What the answering side lacks of what the asking side has.
    pub need: Vec<Missing>,
    /// The answering side's clock, milliseconds UTC since 1970, to measure the offset by.
    pub server_time_ms: i64,
}

/// A record that was set aside.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rejected {
    /// Which item of the page, from 0.
    pub position: u64,
    /// The record's id, where the bytes could be read so far.
    pub id: Option<RecordId>,
    /// Why, in words.
    pub reason: String,
}

/// Answers a pushed page: `[1, stored, known, waiting, [[position, id or null, reason], …],
/// [receipt, …], [[device, seq], …], server_time_ms, cut_at or null]`.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct PushReply {
    /// How many records were new and follow from what was there.
    pub stored: u64,
    /// How many were there already.
    pub known: u64,
    /// How many are kept until one before them arrives.
    pub waiting: u64,
    /// What was set aside, and why.
    pub rejected: Vec<Rejected>,
    /// A signed receipt for each chain of the page that the server holds.
    pub receipts: Vec<Vec<u8>>,
    /// What the server has now.
    pub vector: Vector,
    /// The server's clock, milliseconds UTC since 1970.
    pub server_time_ms: i64,
    /// The byte at which the page was cut, if it was.
    pub cut_at: Option<u64>,
}

/// Asks for a page of what the asking side lacks: `[1, vessel, [[device, seq], …], max_bytes]`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PullRequest {
    /// Whose records.
    pub vessel: VesselId,
    /// What the asking side has.
    pub vector: Vector,
    /// The most bytes of a page.
    pub max_bytes: u64,
}

fn begin(reader: &mut Reader, expected: usize) -> Result<(), Refusal> {
    let fields = reader.array()?;
    let version = reader.uint()?;
    if version != VERSION {
        return Err(Refusal::Version { version });
    }
    if fields != expected {
        return Err(Refusal::FieldCount { fields, expected });
    }
    Ok(())
}

fn fields(reader: &mut Reader, expected: usize) -> Result<(), Refusal> {
    let fields = reader.array()?;
    if fields == expected {
        Ok(())
    } else {
        Err(Refusal::FieldCount { fields, expected })
    }
}

fn count(reader: &mut Reader, limit: usize) -> Result<usize, Refusal> {
    let items = reader.array()?;
    if items > limit {
        Err(Refusal::TooManyItems { items, limit })
    } else {
        Ok(items)
    }
}

fn read_vessel(reader: &mut Reader) -> Result<VesselId, Refusal> {
    VesselId::from_slice(reader.bytes()?).ok_or(Refusal::IdLength { field: "vessel" })
}

fn read_device(reader: &mut Reader) -> Result<DeviceId, Refusal> {
    DeviceId::from_slice(reader.bytes()?).ok_or(Refusal::IdLength { field: "device" })
}

fn write_vector(writer: &mut Writer, vector: &Vector) {
    writer.array(vector.len());
    for (device, seq) in vector {
        writer.array(2).bytes(&device.0).uint(*seq);
    }
}

fn read_vector(reader: &mut Reader) -> Result<Vector, Refusal> {
    let mut vector = Vector::new();
    for _ in 0..count(reader, MAX_DEVICES)? {
        fields(reader, 2)?;
        let device = read_device(reader)?;
        if vector
            .last_key_value()
            .is_some_and(|(last, _)| *last >= device)
        {
            return Err(Refusal::VectorOrder);
        }
        vector.insert(device, reader.uint()?);
    }
    Ok(vector)
}

impl Have {
    /// Writes the message.
    pub fn encode(&self) -> Vec<u8> {
        let mut writer = Writer::new();
        writer.array(3).uint(VERSION).bytes(&self.vessel.0);
        write_vector(&mut writer, &self.vector);
        writer.into_bytes()
    }

    /// Reads the message.
    ///
    /// # Errors
    /// [`Refusal`] names the first rule that the bytes break.
    pub fn decode(bytes: &[u8]) -> Result<Self, Refusal> {
        let mut reader = Reader::new(bytes);
        begin(&mut reader, 3)?;
        let have = Self {
            vessel: read_vessel(&mut reader)?,
            vector: read_vector(&mut reader)?,
        };
        reader.end()?;
        Ok(have)
    }
}

impl HaveReply {
    /// Writes the message.
    pub fn encode(&self) -> Vec<u8> {
        let mut writer = Writer::new();
        writer.array(4).uint(VERSION);
        write_vector(&mut writer, &self.vector);
        writer.array(self.need.len());
        for Missing { device, from, to } in &self.need {
            writer.array(3).bytes(&device.0).uint(*from).uint(*to);
        }
        writer.int(self.server_time_ms);
        writer.into_bytes()
    }

    /// Reads the message.
    ///
    /// # Errors
    /// [`Refusal`] names the first rule that the bytes break.
    pub fn decode(bytes: &[u8]) -> Result<Self, Refusal> {
        let mut reader = Reader::new(bytes);
        begin(&mut reader, 4)?;
        let vector = read_vector(&mut reader)?;
        let mut need = Vec::new();
        for _ in 0..count(&mut reader, MAX_ITEMS)? {
            fields(&mut reader, 3)?;
            let device = read_device(&mut reader)?;
            need.push(Missing {
                device,
                from: reader.uint()?,
                to: reader.uint()?,
            });
        }
        let server_time_ms = reader.int()?;
        reader.end()?;
        Ok(Self {
            vector,
            need,
            server_time_ms,
        })
    }
}

impl PushReply {
    /// Writes the message.
    pub fn encode(&self) -> Vec<u8> {
        let mut writer = Writer::new();
        writer
            .array(9)
            .uint(VERSION)
            .uint(self.stored)
            .uint(self.known)
            .uint(self.waiting);
        writer.array(self.rejected.len());
        for Rejected {
            position,
            id,
            reason,
        } in &self.rejected
        {
            writer.array(3).uint(*position);
            writer
                .optional_bytes(id.as_ref().map(RecordId::as_bytes))
                .text(reason);
        }
        writer.array(self.receipts.len());
        for receipt in &self.receipts {
            writer.bytes(receipt);
        }
        write_vector(&mut writer, &self.vector);
        writer.int(self.server_time_ms);
        match self.cut_at {
            Some(at) => writer.uint(at),
            None => writer.null(),
        };
        writer.into_bytes()
    }

    /// Reads the message.
    ///
    /// # Errors
    /// [`Refusal`] names the first rule that the bytes break.
    pub fn decode(bytes: &[u8]) -> Result<Self, Refusal> {
        let mut reader = Reader::new(bytes);
        begin(&mut reader, 9)?;
        let (stored, known, waiting) = (reader.uint()?, reader.uint()?, reader.uint()?);
        let mut rejected = Vec::new();
        for _ in 0..count(&mut reader, MAX_ITEMS)? {
            fields(&mut reader, 3)?;
            let position = reader.uint()?;
            let id = reader.optional_bytes()?;
            let id = match id {
                None => None,
                Some(id) => {
                    Some(RecordId::from_slice(id).ok_or(Refusal::IdLength { field: "id" })?)
                }
            };
            rejected.push(Rejected {
                position,
                id,
                reason: reader.text()?.to_owned(),
            });
        }
        let mut receipts = Vec::new();
        for _ in 0..count(&mut reader, MAX_ITEMS)? {
            receipts.push(reader.bytes()?.to_vec());
        }
        let vector = read_vector(&mut reader)?;
        let server_time_ms = reader.int()?;
        let cut_at = reader.optional_uint()?;
        reader.end()?;
        Ok(Self {
            stored,
            known,
            waiting,
            rejected,
            receipts,
            vector,
            server_time_ms,
            cut_at,
        })
    }
}

impl PullRequest {
    /// Writes the message.
    pub fn encode(&self) -> Vec<u8> {
        let mut writer = Writer::new();
        writer.array(4).uint(VERSION).bytes(&self.vessel.0);
        write_vector(&mut writer, &self.vector);
        writer.uint(self.max_bytes);
        writer.into_bytes()
    }

    /// Reads the message.
    ///
    /// # Errors
    /// [`Refusal`] names the first rule that the bytes break.
    pub fn decode(bytes: &[u8]) -> Result<Self, Refusal> {
        let mut reader = Reader::new(bytes);
        begin(&mut reader, 4)?;
        let vessel = read_vessel(&mut reader)?;
        let vector = read_vector(&mut reader)?;
        let max_bytes = reader.uint()?;
        reader.end()?;
        Ok(Self {
            vessel,
            vector,
            max_bytes,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn vector() -> Vector {
        [(DeviceId([1; 16]), 3), (DeviceId([2; 16]), 70_000)].into()
    }

    #[test]
    fn messages_read_back_what_was_written() {
        let vessel = VesselId([9; 16]);
        let have = Have {
            vessel,
            vector: vector(),
        };
        assert_eq!(Have::decode(&have.encode()), Ok(have));
        let need = vec![Missing {
            device: DeviceId([1; 16]),
            from: 4,
            to: 9,
        }];
        let reply = HaveReply {
            vector: vector(),
            need,
            server_time_ms: -1,
        };
        assert_eq!(HaveReply::decode(&reply.encode()), Ok(reply));
        let pull = PullRequest {
            vessel,
            vector: Vector::new(),
            max_bytes: 262_144,
        };
        assert_eq!(PullRequest::decode(&pull.encode()), Ok(pull));
        let rejected = |id| Rejected {
            position: 4,
            id,
            reason: "bad signature".into(),
        };
        let mut push = PushReply {
            stored: 1,
            known: 2,
            waiting: 3,
            rejected: vec![rejected(None), rejected(Some(RecordId([5; 32])))],
            receipts: vec![vec![1, 2, 3]],
            vector: vector(),
            server_time_ms: 1_764_072_000_000,
            cut_at: None,
        };
        assert_eq!(PushReply::decode(&push.encode()), Ok(push.clone()));
        push.cut_at = Some(1000);
        assert_eq!(PushReply::decode(&push.encode()), Ok(push));
    }

    #[test]
    fn message_that_is_cut_or_goes_on_is_refused() {
        let bytes = Have {
            vessel: VesselId([9; 16]),
            vector: vector(),
        }
        .encode();
        for end in 0..bytes.len() {
            assert!(
                matches!(Have::decode(&bytes[..end]), Err(Refusal::Malformed(_))),
                "{end}"
            );
        }
        let longer = [bytes.as_slice(), &[0]].concat();
        assert!(matches!(Have::decode(&longer), Err(Refusal::Malformed(_))));
    }

    #[test]
    fn vector_out_of_order_or_with_a_device_twice_is_refused() {
        for second in [[1; 16], [0; 16]] {
            let mut writer = Writer::new();
            writer.array(3).uint(1).bytes(&[9; 16]).array(2);
            writer
                .array(2)
                .bytes(&[1; 16])
                .uint(1)
                .array(2)
                .bytes(&second)
                .uint(1);
            assert_eq!(
                Have::decode(&writer.into_bytes()),
                Err(Refusal::VectorOrder)
            );
        }
    }

    #[test]
    fn message_of_another_version_is_refused() {
        let mut bytes = Have {
            vessel: VesselId([9; 16]),
            vector: vector(),
        }
        .encode();
        bytes[1] = 2;
        assert_eq!(Have::decode(&bytes), Err(Refusal::Version { version: 2 }));
    }
}
