//! The messages that are unpacked: 1 to 3, 5, 18, 19 and 24 of ITU-R M.1371-5, annex 8.
//!
//! # Source
//! That annex, from memory, checked against published sentences in the tests.

use super::Part;
use crate::nmea::Refused;
use crate::position::Position;

/// What a ship told of herself.
#[derive(Debug, Clone, PartialEq)]
pub struct Report {
    /// Her number.
    pub mmsi: u32,
    /// Whether it is our own transponder that says so.
    pub is_own: bool,
    /// Where she is and how she moves (1, 2, 3, 18, 19).
    pub told: Option<Told>,
    /// Her name, if the message has it (5, 19, 24).
    pub name: Option<String>,
    /// Her length in metres, if the message has it (5, 19, 24).
    pub length_m: Option<f64>,
}

/// Where a ship is and how she moves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Told {
    /// Where.
    pub place: Position,
    /// Knots over the ground.
    pub speed_kn: Option<f64>,
    /// Degrees true over the ground.
    pub course_deg: Option<f64>,
    /// Degrees true.
    pub heading_deg: Option<f64>,
    /// Whether she says that she lies at anchor or is moored.
    pub is_at_rest: bool,
}

/// The bits of a message.
struct Bits(Vec<u8>);

impl Bits {
    fn of(part: &Part) -> Self {
        let mut bits = Vec::with_capacity(part.packed.len() * 6);
        for byte in part.packed.bytes() {
            let value = byte.wrapping_sub(48);
            let value = if value > 40 {
                value.wrapping_sub(8)
            } else {
                value
            };
            bits.extend((0..6).rev().map(|bit| value >> bit & 1));
        }
        bits.truncate(bits.len().saturating_sub(usize::from(part.fill)));
        Self(bits)
    }

    /// Returns an unsigned number; bits beyond the end count as none sent.
    fn number(&self, from: usize, length: usize) -> Option<u32> {
        let bits = self.0.get(from..from + length)?;
        Some(
            bits.iter()
                .fold(0, |number, bit| number << 1 | u32::from(*bit)),
        )
    }

    /// Returns a number in two's complement.
    fn signed(&self, from: usize, length: usize) -> Option<i32> {
        let number = i64::from(self.number(from, length)?);
        let half = 1_i64 << (length - 1);
        i32::try_from(if number >= half {
            number - 2 * half
        } else {
            number
        })
        .ok()
    }

    /// Returns text of six-bit characters without the padding; none where it is empty.
    fn text(&self, from: usize, characters: usize) -> Option<String> {
        let mut text = String::new();
        for at in 0..characters {
            let Some(value) = self.number(from + at * 6, 6) else {
                break;
            };
            let value = u8::try_from(value).ok()?;
            let character = if value < 32 { value + 64 } else { value };
            if character == b'@' {
                break;
            }
            text.push(char::from(character));
        }
        let text = text.trim_end();
        (!text.is_empty()).then(|| text.to_owned())
    }
}

/// Unpacks a whole message; none for kinds that nothing is made of.
///
/// # Errors
/// [`Refused`] where it is too short for what it says it is, or tells of a place that is not on Earth.
pub fn unpack(whole: &Part) -> Result<Option<Report>, Refused> {
    let bits = Bits::of(whole);
    let wrong = |field| Refused::Field {
        sentence: if whole.is_own { "VDO" } else { "VDM" }.to_owned(),
        field,
    };
    let kind = bits.number(0, 6).ok_or_else(|| wrong("payload"))?;
    let (least, told, name, size) = match kind {
        1..=3 => (144, Some(CLASS_A), None, None),
        5 => (420, None, Some((112, 20)), Some(240)),
        18 => (139, Some(CLASS_B), None, None),
        19 => (301, Some(CLASS_B), Some((143, 20)), Some(271)),
        24 => match bits.number(38, 2) {
            Some(0) => (160, None, Some((40, 20)), None),
            Some(1) => (162, None, None, Some(132)),
            _ => return Ok(None),
        },
        _ => return Ok(None),
    };
    if bits.0.len() < least {
        return Err(wrong("length"));
    }
    let mmsi = bits
        .number(8, 30)
        .filter(|mmsi| (1..=999_999_999).contains(mmsi));
    let mmsi = mmsi.ok_or_else(|| wrong("MMSI"))?;
    // A craft that belongs to a mother ship sends that ship's number where others send their size.
    let is_auxiliary = kind == 24 && mmsi / 10_000_000 == 98;
    Ok(Some(Report {
        mmsi,
        is_own: whole.is_own,
        told: match told {
            Some(layout) => motion(&bits, &layout).map_err(wrong)?,
            None => None,
        },
        name: name.and_then(|(from, characters)| bits.text(from, characters)),
        length_m: size.filter(|_| !is_auxiliary).and_then(|from| {
            let length = bits.number(from, 9)? + bits.number(from + 9, 9)?;
            (length > 0).then(|| f64::from(length))
        }),
    }))
}

/// Where the bits of a position report lie.
struct Layout {
    status: Option<usize>,
    speed: usize,
    longitude: usize,
    latitude: usize,
    course: usize,
    heading: usize,
}

const CLASS_A: Layout = Layout {
    status: Some(38),
    speed: 50,
    longitude: 61,
    latitude: 89,
    course: 116,
    heading: 128,
};

const CLASS_B: Layout = Layout {
    status: None,
    speed: 46,
    longitude: 57,
    latitude: 85,
    course: 112,
    heading: 124,
};

/// Returns where she is; none where she does not know herself.
fn motion(bits: &Bits, layout: &Layout) -> Result<Option<Told>, &'static str> {
    let minutes = |from, length| {
        bits.signed(from, length)
            .map(|part| f64::from(part) / 600_000.0)
    };
    let longitude_deg = minutes(layout.longitude, 28).ok_or("longitude")?;
    let latitude_deg = minutes(layout.latitude, 27).ok_or("latitude")?;
    let is_unknown = |degrees: f64, unknown: f64| (degrees - unknown).abs() < 1e-9;
    if is_unknown(longitude_deg, 181.0) || is_unknown(latitude_deg, 91.0) {
        return Ok(None);
    }
    let place = Position::new(latitude_deg, longitude_deg).map_err(|_| "place")?;
    // What is out of its range is as unknown as what says that it is not available: transponders of class B
    // are known to send headings of 480°.
    let upto = |from, length, most| bits.number(from, length).filter(|number| *number < most);
    Ok(Some(Told {
        place,
        speed_kn: upto(layout.speed, 10, 1023).map(|tenths| f64::from(tenths) / 10.0),
        course_deg: upto(layout.course, 12, 3600).map(|tenths| f64::from(tenths) / 10.0),
        heading_deg: upto(layout.heading, 9, 360).map(f64::from),
        is_at_rest: layout
            .status
            .and_then(|from| bits.number(from, 4))
            .is_some_and(|status| matches!(status, 1 | 5)),
    }))
}
