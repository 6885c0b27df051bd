//! What each sentence says, by its three letters.

use super::ais::Part;
use super::{
    DepthFrom, Fields, Fix, FixKind, Motion, North, Quality, Refused, Said, Sentence, WindFrom,
};
use crate::position::Position;

/// The deepest water that an echo sounder aboard tells of, with some to spare.
/// Source: our own; the deepest sounding known is under 11 000 m, from memory, not opened.
const DEEPEST_M: f64 = 12_000.0;
/// Metres in a foot and in a fathom, for sounders that send no metres.
/// Source: the international foot, by definition.
const FOOT_M: f64 = 0.3048;

/// Reads a sentence whose checksum was right; `begin` is its first character.
pub(super) fn read(begin: u8, text: &str) -> Result<Sentence, Refused> {
    let (address, rest) = text.split_once(',').ok_or(Refused::NotASentence)?;
    if !address.bytes().all(|byte| byte.is_ascii_alphanumeric()) || address.len() < 2 {
        return Err(Refused::NotASentence);
    }
    if address.starts_with('P') {
        return Ok(Sentence {
            talker: *b"P ",
            said: Said::Unused,
        });
    }
    let &[first, second, ..] = address.as_bytes() else {
        return Err(Refused::NotASentence);
    };
    if address.len() != 5 {
        return Err(Refused::NotASentence);
    }
    let letters = &address[2..];
    let fields = Fields::new(letters, rest);
    let is_packed = matches!(letters, "VDM" | "VDO");
    // Packed messages begin with `!` and nothing else does.
    if is_packed != (begin == b'!') {
        return Err(Refused::NotASentence);
    }
    let said = match letters {
        "GGA" => Said::Fix(gga(&fields)?),
        "GNS" => Said::Fix(gns(&fields)?),
        "GLL" => Said::Fix(gll(&fields)?),
        "RMC" => rmc(&fields)?,
        "VTG" => vtg(&fields)?,
        "DTM" => dtm(&fields)?,
        "HDT" => heading(fields.angle(0, "heading")?, North::True),
        "THS" => ths(&fields)?,
        "HDG" => hdg(&fields)?,
        "ROT" => rot(&fields)?,
        "MWV" => mwv(&fields)?,
        "MWD" => mwd(&fields)?,
        "DPT" => dpt(&fields)?,
        "DBT" => below(&fields, DepthFrom::Transducer(None))?,
        "DBS" => below(&fields, DepthFrom::Surface)?,
        "DBK" => below(&fields, DepthFrom::Keel)?,
        "VDM" | "VDO" => Said::Ais(Part::read(&fields, letters == "VDO")?),
        _ => Said::Unused,
    };
    Ok(Sentence {
        talker: [first, second],
        said,
    })
}

/// Reads a place whose latitude is the field `at`; none where all four fields are empty.
fn place(fields: &Fields, at: usize) -> Result<Option<(Position, u8)>, Refused> {
    let latitude = fields.degrees(at, "latitude", (90.0, 'N', 'S'))?;
    let longitude = fields.degrees(at + 2, "longitude", (180.0, 'E', 'W'))?;
    match (latitude, longitude) {
        (Some((latitude_deg, decimals)), Some((longitude_deg, _))) => Ok(Some((
            Position {
                latitude_deg,
                longitude_deg,
            },
            decimals,
        ))),
        (None, None) => Ok(None),
        (None, _) => Err(fields.wrong("latitude")),
        (_, None) => Err(fields.wrong("longitude")),
    }
}

/// Makes a fix; a place that the receiver does not vouch for is left out.
fn fix(
    fields: &Fields,
    kind: FixKind,
    (time, place_at): (usize, usize),
    quality: Option<Quality>,
) -> Result<Fix, Refused> {
    let place = place(fields, place_at)?;
    let is_told = quality.is_some();
    if is_told && place.is_none() {
        return Err(fields.wrong("latitude"));
    }
    Ok(Fix {
        kind,
        time_of_day_ms: fields.time_of_day(time)?,
        place: place.filter(|_| is_told).map(|(place, _)| place),
        quality: quality.unwrap_or(Quality::Alone),
        hdop: None,
        decimals: place.map_or(0, |(_, decimals)| decimals),
    })
}

/// What a mode letter vouches for: reckoned, typed, simulated and invalid places are none.
fn by_mode(letter: char) -> Option<Quality> {
    match letter {
        'A' => Some(Quality::Alone),
        'D' | 'P' | 'R' | 'F' => Some(Quality::Differential),
        _ => None,
    }
}

const MODES: &str = "ADEFMNPRS";

fn gga(fields: &Fields) -> Result<Fix, Refused> {
    let quality = match fields.letter(5, "quality", "0123456789")? {
        '1' => Some(Quality::Alone),
        // 3 is the precise positioning service, 4 and 5 real-time kinematics, 9 a correction from space.
        '2' | '3' | '4' | '5' | '9' => Some(Quality::Differential),
        // 6 is reckoned, 7 typed by hand, 8 simulated.
        _ => None,
    };
    fields.number(6, "satellites", (0.0, 99.0))?;
    let hdop = fields.number(7, "HDOP", (0.0, 100.0))?;
    Ok(Fix {
        hdop,
        ..fix(fields, FixKind::Full, (0, 1), quality)?
    })
}

fn gns(fields: &Fields) -> Result<Fix, Refused> {
    let modes = fields.text(5);
    if modes.is_empty() || !modes.chars().all(|mode| MODES.contains(mode)) {
        return Err(fields.wrong("mode"));
    }
    // One letter for each system of satellites; one that has a fix will do.
    let best = modes.chars().filter_map(by_mode);
    let quality = best.max_by_key(|quality| *quality == Quality::Differential);
    let hdop = fields.number(7, "HDOP", (0.0, 100.0))?;
    Ok(Fix {
        hdop,
        ..fix(fields, FixKind::Full, (0, 1), quality)?
    })
}

/// What a status letter and the mode, which newer receivers send, vouch for together.
fn vouched(fields: &Fields, status: usize, mode: usize) -> Result<Option<Quality>, Refused> {
    let is_valid = fields.letter(status, "status", "ADV")? != 'V';
    let quality = match fields.text(mode) {
        "" => Some(Quality::Alone),
        _ => by_mode(fields.letter(mode, "mode", MODES)?),
    };
    Ok(quality.filter(|_| is_valid))
}

fn gll(fields: &Fields) -> Result<Fix, Refused> {
    let quality = vouched(fields, 5, 6)?;
    fix(fields, FixKind::PlaceAlone, (4, 0), quality)
}

fn rmc(fields: &Fields) -> Result<Said, Refused> {
    let quality = vouched(fields, 1, 11)?;
    let fix = fix(fields, FixKind::Least, (0, 2), quality)?;
    let motion = Motion {
        speed_kn: fields.number(6, "speed", (0.0, 200.0))?,
        course_deg: fields.angle(7, "course")?,
    };
    let variation = fields.number(9, "variation", (0.0, 180.0))?;
    let variation_deg = match variation {
        Some(variation) if fields.letter(10, "variation", "EW")? == 'W' => Some(-variation),
        other => other,
    };
    Ok(Said::Least {
        fix,
        motion,
        variation_deg,
    })
}

fn vtg(fields: &Fields) -> Result<Said, Refused> {
    let course_deg = fields.angle(0, "course")?;
    let speed_kn = fields.number(4, "speed", (0.0, 200.0))?;
    let is_vouched = match fields.text(8) {
        "" => true,
        _ => by_mode(fields.letter(8, "mode", MODES)?).is_some(),
    };
    let told = |value: Option<f64>| value.filter(|_| is_vouched);
    Ok(Said::Motion(Motion {
        speed_kn: told(speed_kn),
        course_deg: told(course_deg),
    }))
}

fn dtm(fields: &Fields) -> Result<Said, Refused> {
    let name = fields.text(0);
    if name.len() > 8 {
        return Err(fields.wrong("datum"));
    }
    let minutes = |at, field| fields.number(at, field, (-60.0, 60.0));
    let (north, east) = (minutes(2, "offset")?, minutes(4, "offset")?);
    let reference = fields.text(7);
    // Places that are shifted from the datum they name are not on it.
    let is_shifted = [north, east].iter().flatten().any(|by| by.abs() > 1e-4);
    let is_wgs84 = name == "W84" && matches!(reference, "" | "W84") && !is_shifted;
    Ok(Said::Datum {
        is_wgs84,
        name: if name.is_empty() { "none" } else { name }.to_owned(),
    })
}

fn heading(heading_deg: Option<f64>, north: North) -> Said {
    Said::Heading { heading_deg, north }
}

fn ths(fields: &Fields) -> Result<Said, Refused> {
    let told = fields.angle(0, "heading")?;
    let is_vouched = fields.letter(1, "mode", "AEMSV")? == 'A';
    Ok(heading(told.filter(|_| is_vouched), North::True))
}

/// Returns an amount whose letter `E` or `W` stands in the next field, east positive.
fn eastward(fields: &Fields, at: usize, field: &'static str) -> Result<Option<f64>, Refused> {
    let Some(amount) = fields.number(at, field, (0.0, 180.0))? else {
        return Ok(None);
    };
    let is_west = fields.letter(at + 1, field, "EW")? == 'W';
    Ok(Some(if is_west { -amount } else { amount }))
}

fn hdg(fields: &Fields) -> Result<Said, Refused> {
    let sensor = fields.angle(0, "heading")?;
    let deviation = eastward(fields, 1, "deviation")?.unwrap_or(0.0);
    let variation = eastward(fields, 3, "variation")?;
    let magnetic = sensor.map(|sensor| (sensor + deviation).rem_euclid(360.0));
    Ok(heading(magnetic, North::Magnetic(variation)))
}

fn rot(fields: &Fields) -> Result<Said, Refused> {
    let turn = fields.number(0, "rate of turn", (-720.0, 720.0))?;
    let is_valid = fields.letter(1, "status", "AV")? == 'A';
    Ok(Said::Turn(turn.filter(|_| is_valid)))
}

fn mwv(fields: &Fields) -> Result<Said, Refused> {
    let angle = fields.angle(0, "angle")?;
    let from = match fields.letter(1, "reference", "RT")? {
        'R' => WindFrom::Apparent,
        _ => WindFrom::Bow,
    };
    let speed = fields.speed_kn(2, "speed")?;
    let is_valid = fields.letter(4, "status", "AV")? == 'A';
    Ok(Said::Wind {
        angle_deg: angle.filter(|_| is_valid),
        from,
        speed_kn: speed.filter(|_| is_valid),
    })
}

fn mwd(fields: &Fields) -> Result<Said, Refused> {
    let angle_deg = fields.angle(0, "direction")?;
    fields.angle(2, "direction")?;
    let in_knots = fields.number(4, "speed", (0.0, 250.0))?;
    let in_metres = fields.number(6, "speed", (0.0, 130.0))?;
    Ok(Said::Wind {
        angle_deg,
        from: WindFrom::North,
        speed_kn: in_knots.or(in_metres.map(|speed| speed * 3600.0 / 1852.0)),
    })
}

fn dpt(fields: &Fields) -> Result<Said, Refused> {
    let depth_m = fields.number(0, "depth", (0.0, DEEPEST_M))?;
    let offset = fields.number(1, "offset", (-50.0, 50.0))?;
    Ok(Said::Depth {
        depth_m,
        from: DepthFrom::Transducer(offset),
    })
}

/// DBT, DBS and DBK: the same depth in feet, metres and fathoms.
fn below(fields: &Fields, from: DepthFrom) -> Result<Said, Refused> {
    let feet = fields.number(0, "depth", (0.0, DEEPEST_M / FOOT_M))?;
    let metres = fields.number(2, "depth", (0.0, DEEPEST_M))?;
    let fathoms = fields.number(4, "depth", (0.0, DEEPEST_M / FOOT_M / 6.0))?;
    let depth_m = metres
        .or(feet.map(|feet| feet * FOOT_M))
        .or(fathoms.map(|fathoms| fathoms * FOOT_M * 6.0));
    Ok(Said::Depth { depth_m, from })
}
