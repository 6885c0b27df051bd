use super::ais::Assembly;
use super::*;

/// Puts a sentence's checksum behind it.
fn summed(sentence: &str) -> String {
    let sum = sentence[1..].bytes().fold(0, |sum, byte| sum ^ byte);
    format!("{sentence}*{sum:02X}")
}

fn said(sentence: &str) -> Result<Said, Refused> {
    read(summed(sentence).as_bytes()).map(|sentence| sentence.said)
}

fn field(refused: Result<Said, Refused>) -> &'static str {
    match refused {
        Err(Refused::Field { field, .. }) => field,
        other => panic!("{other:?}"),
    }
}

fn near(got: Option<f64>, want: f64) {
    let got = got.expect("a number");
    assert!((got - want).abs() < 1e-6, "{got}, expected {want}");
}

#[test]
fn a_receivers_place_is_read_with_its_quality() {
    // A sentence that manuals of receivers print, with its checksum.
    let read = read(b"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\r\n");
    let Ok(Sentence {
        talker,
        said: Said::Fix(fix),
    }) = read
    else {
        panic!("{read:?}");
    };
    assert_eq!(&talker, b"GP");
    let place = fix.place.expect("a fix");
    near(Some(place.latitude_deg), 48.0 + 7.038 / 60.0);
    near(Some(place.longitude_deg), 11.0 + 31.0 / 60.0);
    assert_eq!(fix.time_of_day_ms, Some(45_319_000));
    assert_eq!((fix.quality, fix.decimals), (Quality::Alone, 3));
    near(fix.hdop, 0.9);
    let south = said("$GNGNS,000000.25,3301.5,S,01825.5,W,DA,12,0.8,1,1,2,");
    let Ok(Said::Fix(fix)) = south else {
        panic!("{south:?}")
    };
    near(fix.place.map(|place| place.latitude_deg), -33.025);
    near(fix.place.map(|place| place.longitude_deg), -18.425);
    assert_eq!(fix.quality, Quality::Differential);
    assert_eq!(fix.time_of_day_ms, Some(250));
}

#[test]
fn no_fix_and_a_reckoned_one_are_no_place_and_not_wrong() {
    for sentence in [
        "$GPGGA,123519,,,,,0,00,99.9,,,,,,",
        "$GPGGA,123519,4807.038,N,01131.000,E,6,00,,,M,,M,,",
        "$GPGGA,123519,4807.038,N,01131.000,E,8,08,0.9,,M,,M,,",
        "$GPGLL,4807.038,N,01131.000,E,123519,V,N",
        "$GPGLL,4807.038,N,01131.000,E,123519,A,E",
        "$GNGNS,123519,,,,,NN,00,,,,,",
    ] {
        let Ok(Said::Fix(fix)) = said(sentence) else {
            panic!("{sentence}")
        };
        assert_eq!(fix.place, None, "{sentence}");
    }
    let Ok(Said::Least { fix, .. }) = said("$GPRMC,123519,V,,,,,,,231126,,,N") else {
        panic!("it can be read");
    };
    assert_eq!(fix.place, None);
}

#[test]
fn least_data_have_place_motion_and_variation() {
    // As manuals print it, with its checksum.
    let line = b"$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A";
    let Ok(Said::Least {
        fix,
        motion,
        variation_deg,
    }) = read(line).map(|read| read.said)
    else {
        panic!("it can be read");
    };
    assert!(fix.place.is_some());
    near(motion.speed_kn, 22.4);
    near(motion.course_deg, 84.4);
    near(variation_deg, -3.1);
}

#[test]
fn headings_winds_and_depths_are_read_in_their_units() {
    let Ok(Said::Heading { heading_deg, north }) = said("$HCHDG,101.1,1.1,E,7.1,W") else {
        panic!("it can be read");
    };
    near(heading_deg, 102.2);
    assert_eq!(north, North::Magnetic(Some(-7.1)));
    assert_eq!(
        said("$HETHS,12.5,V"),
        Ok(Said::Heading {
            heading_deg: None,
            north: North::True
        })
    );
    let heading = said("$HEHDT,360.0,T");
    assert_eq!(
        heading,
        Ok(Said::Heading {
            heading_deg: Some(0.0),
            north: North::True
        })
    );
    for (sentence, angle, from, knots) in [
        (
            "$WIMWV,10.5,R,10.0,M,A",
            10.5,
            WindFrom::Apparent,
            19.438_444_924,
        ),
        ("$WIMWV,350,T,18.52,K,A", 350.0, WindFrom::Bow, 10.0),
        (
            "$WIMWD,210.0,T,212.0,M,22.0,N,11.3,M",
            210.0,
            WindFrom::North,
            22.0,
        ),
    ] {
        let Ok(Said::Wind {
            angle_deg,
            from: got,
            speed_kn,
        }) = said(sentence)
        else {
            panic!("{sentence}");
        };
        near(angle_deg, angle);
        near(speed_kn, knots);
        assert_eq!(got, from);
    }
    let depth = |sentence| match said(sentence) {
        Ok(Said::Depth { depth_m, from }) => (depth_m, from),
        other => panic!("{sentence}: {other:?}"),
    };
    assert_eq!(
        depth("$SDDPT,12.5,-1.5,100"),
        (Some(12.5), DepthFrom::Transducer(Some(-1.5)))
    );
    assert_eq!(
        depth("$SDDBT,,f,,M,,F"),
        (None, DepthFrom::Transducer(None))
    );
    near(depth("$SDDBS,41.0,f,,M,,F").0, 12.4968);
    assert_eq!(said("$TIROT,-3.2,A"), Ok(Said::Turn(Some(-3.2))));
    assert_eq!(
        said("$GPVTG,54.7,T,34.4,M,5.5,N,10.2,K,A"),
        Ok(Said::Motion(Motion {
            speed_kn: Some(5.5),
            course_deg: Some(54.7),
        }))
    );
}

#[test]
fn another_datum_is_known_by_its_name_or_its_shift() {
    for (sentence, expected) in [
        ("$GPDTM,W84,,0.0,N,0.0,E,0.0,W84", true),
        ("$GPDTM,W84,,0.05,N,0.0,E,0.0,W84", false),
        ("$GPDTM,EUR,,0.01,N,0.08,W,-47.7,W84", false),
        ("$GPDTM,999,,,,,,,W84", false),
    ] {
        let Ok(Said::Datum { is_wgs84, .. }) = said(sentence) else {
            panic!("{sentence}")
        };
        assert_eq!(is_wgs84, expected, "{sentence}");
    }
}

#[test]
fn what_cannot_be_right_is_refused_by_its_field() {
    for (sentence, expected) in [
        (
            "$GPGGA,123519,9107.038,N,01131.000,E,1,08,0.9,,M,,M,,",
            "latitude",
        ),
        (
            "$GPGGA,123519,4860.000,N,01131.000,E,1,08,0.9,,M,,M,,",
            "latitude",
        ),
        (
            "$GPGGA,123519,4807.038,X,01131.000,E,1,08,0.9,,M,,M,,",
            "latitude",
        ),
        (
            "$GPGGA,123519,-4807.038,N,01131.000,E,1,08,0.9,,M,,M,,",
            "latitude",
        ),
        (
            "$GPGGA,123519,4807.038,N,18131.000,E,1,08,0.9,,M,,M,,",
            "longitude",
        ),
        ("$GPGGA,123519,4807.038,N,,,1,08,0.9,,M,,M,,", "longitude"),
        ("$GPGGA,123519,,,,,1,08,0.9,,M,,M,,", "latitude"),
        (
            "$GPGGA,246519,4807.038,N,01131.000,E,1,08,0.9,,M,,M,,",
            "time",
        ),
        (
            "$GPGGA,123519,4807.038,N,01131.000,E,1,08,-0.9,,M,,M,,",
            "HDOP",
        ),
        (
            "$GPGGA,123519,4807.038,N,01131.000,E,,08,0.9,,M,,M,,",
            "quality",
        ),
        ("$GPGLL,4807.038,N,01131.000,E,123519", "status"),
        ("$HEHDT,361.0,T", "heading"),
        ("$HEHDT,1e2,T", "heading"),
        ("$HEHDT,inf,T", "heading"),
        ("$WIMWV,10,R,10.0,X,A", "speed"),
        ("$WIMWV,10,R,300,N,A", "speed"),
        ("$WIMWV,10,Q,10.0,N,A", "reference"),
        ("$SDDPT,-3.0,0.0", "depth"),
        ("$TIROT,800,A", "rate of turn"),
        ("!AIVDM,1,2,,A,15RTgt0PAso;90TKcjM8h6g208CQ,0", "part"),
        ("!AIVDM,2,1,,A,15RTgt0PAso;90TKcjM8h6g208CQ,0", "part"),
        ("!AIVDM,1,1,,A,15RTgt0PAso;90TKcjM8h6g2 8CQ,0", "payload"),
    ] {
        assert_eq!(field(said(sentence)), expected, "{sentence}");
    }
}

#[test]
fn what_is_no_sentence_is_refused() {
    let refused = |line: &[u8]| read(line).expect_err("it is refused");
    let sum = refused(b"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*48");
    assert_eq!(
        sum,
        Refused::Checksum {
            given: 0x48,
            sum: 0x47
        }
    );
    assert_eq!(refused(b"$HEHDT,100.0,T"), Refused::NoChecksum);
    assert_eq!(refused(b"$HEHDT,100.0,T*2"), Refused::NoChecksum);
    assert_eq!(refused(b""), Refused::NotASentence);
    assert_eq!(refused(b"HEHDT,100.0,T*2E"), Refused::NotASentence);
    assert_eq!(refused(b"$HE\xff,1*00"), Refused::NotASentence);
    assert_eq!(refused(&[b'$'; LONGEST + 1]), Refused::TooLong);
    assert_eq!(
        read(summed("!HEHDT,100.0,T").as_bytes()),
        Err(Refused::NotASentence)
    );
    // A tag block in front is passed over, a maker's own sentence is whole and unused.
    let tagged = format!("\\s:gyro*17\\{}", summed("$HEHDT,100.0,T"));
    assert!(read(tagged.as_bytes()).is_ok());
    assert_eq!(said("$PASHR,1,2"), Ok(Said::Unused));
    assert_eq!(said("$GPGSV,1,1,00"), Ok(Said::Unused));
}

fn report(lines: &[&str]) -> Option<ais::Report> {
    let mut assembly = Assembly::default();
    let mut report = None;
    for line in lines {
        let said = read(line.as_bytes()).expect("a sentence").said;
        let part = ais::part_of(&said).expect("a part").clone();
        report = assembly.take(0, &part).expect("it can be right");
    }
    report
}

#[test]
fn places_of_others_agree_with_published_messages() {
    // Messages 1 and 18 that several open decoders have among their tests, with what they come to.
    let first = report(&["!AIVDM,1,1,,A,15RTgt0PAso;90TKcjM8h6g208CQ,0*4A"]).expect("a report");
    let told = first.told.expect("a place");
    assert_eq!(first.mmsi, 371_798_000);
    assert!((told.place.latitude_deg - 48.381_633).abs() < 1e-6);
    assert!((told.place.longitude_deg + 123.395_383).abs() < 1e-6);
    near(told.speed_kn, 12.3);
    near(told.course_deg, 224.0);
    near(told.heading_deg, 215.0);
    assert!(!told.is_at_rest);
    let small = report(&["!AIVDM,1,1,,A,B52K>;h00Fc>jpUlNV@ikwpUoP06,0*4C"]).expect("a report");
    let told = small.told.expect("a place");
    assert_eq!((small.mmsi, told.heading_deg), (338_087_471, None));
    near(told.speed_kn, 0.1);
    near(told.course_deg, 79.6);
}

/// Packs numbers of given widths, and text, as a transponder does.
#[derive(Default)]
struct Packed(Vec<u8>);

impl Packed {
    fn number(mut self, value: u32, bits: usize) -> Self {
        self.0
            .extend((0..bits).rev().map(|bit| u8::from(value >> bit & 1 == 1)));
        self
    }

    fn text(self, text: &str, characters: usize) -> Self {
        let padded = text.bytes().chain(std::iter::repeat(b'@')).take(characters);
        padded.fold(self, |packed, byte| {
            packed.number(u32::from(byte & 0x3f), 6)
        })
    }

    fn lines(mut self) -> Vec<String> {
        let fill = (6 - self.0.len() % 6) % 6;
        self.0.extend(std::iter::repeat_n(0, fill));
        let characters: Vec<char> = self
            .0
            .chunks(6)
            .map(|six| {
                let value = six.iter().fold(0, |value, bit| value << 1 | bit);
                char::from(if value < 40 { value + 48 } else { value + 56 })
            })
            .collect();
        let parts: Vec<String> = characters
            .chunks(60)
            .map(|part| part.iter().collect())
            .collect();
        let count = parts.len();
        (1..)
            .zip(&parts)
            .map(|(number, part)| {
                let group = if count > 1 { "3" } else { "" };
                let fill = if number == count { fill } else { 0 };
                summed(&format!("!AIVDM,{count},{number},{group},B,{part},{fill}"))
            })
            .collect()
    }
}

/// Message 5 of our own Brackwater.
fn of_brackwater() -> Vec<String> {
    let head = Packed::default()
        .number(5, 6)
        .number(0, 2)
        .number(990_000_001, 30)
        .number(0, 32);
    let named = head.text("BRACK1", 7).text("BRACKWATER", 20).number(70, 8);
    let sized = named.number(20, 9).number(15, 9).number(4, 6).number(4, 6);
    sized
        .number(1, 4)
        .number(0, 20)
        .number(30, 8)
        .text("", 20)
        .number(0, 2)
        .lines()
}

#[test]
fn a_message_in_two_parts_is_put_together_in_order_and_in_time() {
    let lines = of_brackwater();
    let [first, second] = &lines[..] else {
        panic!("{lines:?}")
    };
    let whole = report(&[first, second]).expect("a report");
    assert_eq!(whole.name.as_deref(), Some("BRACKWATER"));
    assert_eq!(whole.length_m, Some(35.0));
    assert_eq!(whole.told, None);
    let part = |line: &String| match read(line.as_bytes()).map(|read| read.said) {
        Ok(Said::Ais(part)) => part,
        other => panic!("{other:?}"),
    };
    let mut assembly = Assembly::default();
    assert!(assembly.take(0, &part(second)).is_err(), "it follows none");
    assert_eq!(assembly.take(0, &part(first)), Ok(None));
    assert!(
        assembly.take(60_000, &part(second)).is_err(),
        "it is too late"
    );
}

#[test]
fn parts_whose_rest_never_comes_do_not_pile_up() {
    let lines = of_brackwater();
    let Ok(Said::Ais(part)) = read(lines[0].as_bytes()).map(|read| read.said) else {
        panic!("a part");
    };
    let mut assembly = Assembly::default();
    for number in 0..10_000_u16 {
        let channel = char::from_u32(u32::from(number) + 0x100);
        let group = u8::try_from(number % 10).ok();
        let part = ais::Part {
            group,
            channel,
            ..part.clone()
        };
        assert_eq!(assembly.take(i64::from(number), &part), Ok(None));
    }
    let kept = serde_json::to_string(&assembly).expect("JSON").len();
    assert!(kept < 3_000, "{kept} bytes are kept");
}

#[test]
fn names_and_sizes_of_small_craft_come_in_two_messages() {
    let head = |part| {
        Packed::default()
            .number(24, 6)
            .number(0, 2)
            .number(990_000_002, 30)
            .number(part, 2)
    };
    let name = head(0).text("ALDERMERE", 20).lines();
    let name: Vec<&str> = name.iter().map(String::as_str).collect();
    assert_eq!(
        report(&name).and_then(|report| report.name).as_deref(),
        Some("ALDERMERE")
    );
    let size = head(1)
        .number(37, 8)
        .text("", 7)
        .text("", 7)
        .number(10, 9)
        .number(8, 9);
    let size = size.number(2, 6).number(3, 6).number(0, 6).lines();
    let size: Vec<&str> = size.iter().map(String::as_str).collect();
    assert_eq!(report(&size).and_then(|report| report.length_m), Some(18.0));
}

#[test]
fn a_place_that_a_ship_does_not_know_is_none_and_one_off_the_earth_is_refused() {
    let at = |longitude: i32, latitude: i32| {
        let field = |value: i32, bits: u32| value.cast_unsigned() & ((1 << bits) - 1);
        let head = Packed::default()
            .number(1, 6)
            .number(0, 2)
            .number(990_000_003, 30);
        let moving = head.number(1, 4).number(0, 8).number(5, 10).number(0, 1);
        let placed = moving
            .number(field(longitude, 28), 28)
            .number(field(latitude, 27), 27);
        let line = placed
            .number(900, 12)
            .number(511, 9)
            .number(0, 31)
            .lines()
            .remove(0);
        let Ok(Said::Ais(part)) = read(line.as_bytes()).map(|read| read.said) else {
            panic!("a part");
        };
        Assembly::default().take(0, &part)
    };
    let known = at(-600_000, 1_200_000)
        .expect("right")
        .expect("a report")
        .told;
    let known = known.expect("a place");
    assert!((known.place.longitude_deg + 1.0).abs() < 1e-9);
    assert!((known.place.latitude_deg - 2.0).abs() < 1e-9);
    assert!(known.is_at_rest);
    assert_eq!(known.heading_deg, None);
    let unknown = at(181 * 600_000, 91 * 600_000)
        .expect("right")
        .expect("a report");
    assert_eq!(unknown.told, None);
    assert!(at(200 * 600_000, 0).is_err());
}
