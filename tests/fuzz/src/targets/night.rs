//! A night's sentences, as instruments and files send them.

use seamanship::nmea;
use seamanship::watch::{Replay, Setup};
use std::fmt::Write as _;

/// The most bytes that a stored watch may grow to.
const MOST_STORED: usize = 400_000;

/// No lines bring the watch down; every line is counted once; what is said comes in order of time; a watch that is stored and
/// taken up again goes on alike. The first line is the setup.
pub fn night(bytes: &[u8]) {
    let mut lines = bytes.split(|byte| *byte == b'\n');
    let setup = lines.next().and_then(|line| std::str::from_utf8(line).ok());
    let setup = setup.and_then(|text| Setup::read(text).ok());
    let mut replay = Replay::new(setup.map(|(setup, _)| setup).unwrap_or_default());
    let mut other = replay.clone();
    let mut last = i64::MIN;
    let mut given = 0_u64;
    for line in lines {
        // A checksum is a lock that bytes by chance do not open: each line is tried with the right one as well.
        for line in [line.to_vec(), summed(line)] {
            given += u64::from(!line.trim_ascii().is_empty());
            let said = replay.line(&line);
            assert_eq!(other.line(&line), said);
            for call in said {
                assert!(call.ms >= last, "{call:?} after {last}");
                assert!(!call.text.is_empty() && call.text.len() < 2_000);
                last = call.ms;
            }
            let text = line.splitn(2, |byte| *byte == b' ').nth(1);
            if let Some(Ok(read)) = text.map(nmea::read) {
                assert!(read.talker[0].is_ascii_alphanumeric());
            }
        }
        let stored = serde_json::to_string(&other).expect("a watch can be stored");
        assert!(stored.len() < MOST_STORED, "{} bytes", stored.len());
        other = serde_json::from_str(&stored).expect("what is stored can be taken up");
    }
    let (_, end) = replay.end();
    assert_eq!(end.sentences + end.refused, given);
}

/// Puts the right checksum behind a line's sentence.
fn summed(line: &[u8]) -> Vec<u8> {
    let mut line = line.trim_ascii_end().to_vec();
    let end = line.iter().rposition(|byte| *byte == b'*');
    line.truncate(end.unwrap_or(line.len()));
    let begin = line.iter().position(|byte| b"$!".contains(byte));
    let body = begin.map_or(&[][..], |begin| &line[begin + 1..]);
    let sum = body.iter().fold(0, |sum, byte| sum ^ byte);
    line.extend(format!("*{sum:02X}").bytes());
    line
}

pub fn night_seeds() -> Vec<Vec<u8>> {
    let setup = r#"{"anchor":{"lat":-43.5,"lon":-20.02},"cable_m":110,"depth_m":16,"hawse_height_m":4,"length_m":38,"antenna":{"forward_m":-24,"starboard_m":1},"wind_limits_kn":{"call":25,"engines":30,"weigh":35},"ukc_min_m":3,"draught_m":3.2}"#;
    let sentences = [
        "$GPGGA,180000.00,4330.0000,S,02001.2000,W,1,09,0.9,12.0,M,47.0,M,,",
        "$GNGNS,180001.00,4330.0010,S,02001.2000,W,AD,09,0.9,12.0,47.0,,",
        "$GPRMC,180002.00,A,4330.0000,S,02001.2010,W,0.1,84.4,271126,3.1,W,A",
        "$GPGLL,4330.0000,S,02001.2000,W,180003.00,A,A",
        "$GPVTG,54.7,T,34.4,M,0.5,N,1.0,K,A",
        "$GPDTM,EUR,,0.0120,N,0.0810,W,-47.0,W84",
        "$HEHDT,300.1,T",
        "$HETHS,300.1,A",
        "$HCHDG,297.0,1.0,E,3.1,W",
        "$TIROT,-3.2,A",
        "$WIMWV,5.0,R,12.0,N,A",
        "$WIMWD,305.0,T,308.0,M,12.0,N,6.2,M",
        "$SDDPT,13.0,3.0",
        "$SDDBT,42.6,f,13.0,M,7.1,F",
        "!AIVDM,1,1,,A,15RTgt0PAso;90TKcjM8h6g208CQ,0",
        "!AIVDM,1,1,,A,B52K>;h00Fc>jpUlNV@ikwpUoP06,0",
        "!AIVDM,1,1,,A,H42O55i18tMET00000000000000,2",
        "!AIVDM,2,1,1,B,53`soB8000010KSOW<0P4eDp4l6000000000000U0p<24t@P05H3S833CDP00000,0",
        "!AIVDM,2,2,1,B,0000000,2",
    ];
    let lines = |step: i64, times: i64| {
        let mut text = setup.to_owned();
        for round in 0..times {
            for (at, sentence) in (0..).zip(sentences) {
                let ms = 1_795_802_400_000 + (round * 19 + at) * step;
                let _ = write!(text, "\n{ms} {sentence}*00");
            }
        }
        text.into_bytes()
    };
    vec![
        lines(500, 1),
        lines(9_000, 2),
        b"{}\n5 $\n\n-1 !\n6".to_vec(),
    ]
}
