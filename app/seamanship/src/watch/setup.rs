//! What is known of the ship and her anchor, as JSON. What is missing is unknown.

use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::Limits;
use crate::error::{OutOfRange, within};
use crate::position::Position;

/// What is known of the ship and her anchor.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Setup {
    /// Where the anchor lies.
    pub anchor: Option<Place>,
    /// Cable from the hawse to the anchor, metres.
    pub cable_m: Option<f64>,
    /// Depth of the water at the anchor, metres.
    pub depth_m: Option<f64>,
    /// The hawse above the water, metres.
    pub hawse_height_m: Option<f64>,
    /// The ship's length, metres.
    pub length_m: Option<f64>,
    /// Where the antenna stands, counted from the hawse.
    pub antenna: Option<Antenna>,
    /// The master's limits for this anchorage.
    pub wind_limits_kn: WindLimits,
    /// The least water under the keel, metres.
    pub ukc_min_m: Option<f64>,
    /// The ship's draught, metres.
    pub draught_m: Option<f64>,
    /// Numbers of the watch itself, where they are not the program's.
    pub settings: Limits,
}

/// A place, degrees.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Place {
    /// Latitude, north positive.
    pub lat: f64,
    /// Longitude, east positive.
    pub lon: f64,
}

/// Where the antenna stands, counted from the hawse: one aft of it has `forward_m` below 0.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Antenna {
    /// Metres forward of the hawse.
    pub forward_m: f64,
    /// Metres to starboard of the hawse.
    #[serde(default)]
    pub starboard_m: f64,
}

/// The master's limits of wind.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct WindLimits {
    /// The master is called.
    pub call: Option<f64>,
    /// Engines are made ready.
    pub engines: Option<f64>,
    /// She weighs.
    pub weigh: Option<f64>,
}

/// Why a setup cannot be taken.
#[derive(Debug, thiserror::Error)]
pub enum BadSetup {
    /// It is not the JSON that was asked for; the cause says where.
    #[error("the setup cannot be read")]
    NotReadable(#[source] serde_json::Error),
    /// A number is one that cannot be.
    #[error("the setup cannot be right")]
    Outside(#[source] OutOfRange),
}

/// The keys of a setup, and those within them.
const KEYS: &[(&str, &[&str])] = &[
    ("anchor", &["lat", "lon"]),
    ("cable_m", &[]),
    ("depth_m", &[]),
    ("hawse_height_m", &[]),
    ("length_m", &[]),
    ("antenna", &["forward_m", "starboard_m"]),
    ("wind_limits_kn", &["call", "engines", "weigh"]),
    ("ukc_min_m", &[]),
    ("draught_m", &[]),
    ("settings", &[]),
];

impl Setup {
    /// Reads a setup, and names the keys that mean nothing.
    ///
    /// # Errors
    /// [`BadSetup`] says what is wrong, and where.
    pub fn read(text: &str) -> Result<(Self, Vec<String>), BadSetup> {
        // Read as text first: its errors name a line and a column.
        let setup: WithNulls = serde_json::from_str(text).map_err(BadSetup::NotReadable)?;
        let value: Value = serde_json::from_str(text).map_err(BadSetup::NotReadable)?;
        let setup = setup.into_setup();
        setup.check().map_err(BadSetup::Outside)?;
        Ok((setup, unknown_keys(&value)))
    }

    fn check(&self) -> Result<(), OutOfRange> {
        if let Some(anchor) = self.anchor {
            within("anchor.lat", anchor.lat, -90.0, 90.0)?;
            within("anchor.lon", anchor.lon, -180.0, 180.0)?;
        }
        let most = |name, value: Option<f64>, low, high| match value {
            Some(value) => within(name, value, low, high).map(drop),
            None => Ok(()),
        };
        most("cable_m", self.cable_m, 0.1, 2000.0)?;
        most("depth_m", self.depth_m, 0.0, 1000.0)?;
        most("hawse_height_m", self.hawse_height_m, 0.0, 50.0)?;
        most("length_m", self.length_m, 1.0, 600.0)?;
        if let Some(antenna) = self.antenna {
            within("antenna.forward_m", antenna.forward_m, -600.0, 600.0)?;
            within("antenna.starboard_m", antenna.starboard_m, -100.0, 100.0)?;
        }
        let wind = self.wind_limits_kn;
        most("wind_limits_kn.call", wind.call, 0.0, 250.0)?;
        most("wind_limits_kn.engines", wind.engines, 0.0, 250.0)?;
        most("wind_limits_kn.weigh", wind.weigh, 0.0, 250.0)?;
        most("ukc_min_m", self.ukc_min_m, 0.0, 100.0)?;
        most("draught_m", self.draught_m, 0.0, 50.0)?;
        for (number, value) in Limits::NUMBERS.iter().zip(self.settings.values()) {
            within(number.name, value, 0.0, 1e6)
                .map_err(|error| error.at(format!("settings.{}", number.name)))?;
        }
        if let (Some(cable), Some(height)) = (self.cable_m, self.height_m())
            && cable < height
        {
            let height = format!("at least {height} m, from the hawse down to the bottom");
            return Err(OutOfRange::outside("cable_m", cable, height));
        }
        Ok(())
    }

    /// Where the anchor lies.
    pub fn anchor_place(&self) -> Option<Position> {
        self.anchor.map(|anchor| Position {
            latitude_deg: anchor.lat,
            longitude_deg: anchor.lon,
        })
    }

    /// The hawse above the bottom, as far as it is known: the water alone where the hawse is not.
    pub fn height_m(&self) -> Option<f64> {
        self.depth_m
            .map(|depth| depth + self.hawse_height_m.unwrap_or(0.0))
    }

    /// How far the cable reaches: `√(L² − h²)`; the whole cable where the height is not known.
    pub fn reach_m(&self, height_m: Option<f64>) -> Option<f64> {
        let cable = self.cable_m?;
        let height = height_m.unwrap_or(0.0).min(cable);
        Some(((cable - height) * (cable + height)).sqrt())
    }

    /// How far the antenna can be from the hawse: the ship's length where nobody says, and `None` where that is
    /// not known either.
    pub fn offset_m(&self) -> Option<f64> {
        match self.antenna {
            Some(antenna) => Some(antenna.forward_m.hypot(antenna.starboard_m)),
            None => self.length_m,
        }
    }
}

/// A setup in which an unknown may stand as `null` too.
#[derive(Deserialize)]
struct WithNulls {
    #[serde(default)]
    anchor: Option<Place>,
    #[serde(default)]
    cable_m: Option<f64>,
    #[serde(default)]
    depth_m: Option<f64>,
    #[serde(default)]
    hawse_height_m: Option<f64>,
    #[serde(default)]
    length_m: Option<f64>,
    #[serde(default)]
    antenna: Option<Antenna>,
    #[serde(default)]
    wind_limits_kn: Option<WindLimits>,
    #[serde(default)]
    ukc_min_m: Option<f64>,
    #[serde(default)]
    draught_m: Option<f64>,
    #[serde(default)]
    settings: Option<Limits>,
}

impl WithNulls {
    fn into_setup(self) -> Setup {
        Setup {
            anchor: self.anchor,
            cable_m: self.cable_m,
            depth_m: self.depth_m,
            hawse_height_m: self.hawse_height_m,
            length_m: self.length_m,
            antenna: self.antenna,
            wind_limits_kn: self.wind_limits_kn.unwrap_or_default(),
            ukc_min_m: self.ukc_min_m,
            draught_m: self.draught_m,
            settings: self.settings.unwrap_or_default(),
        }
    }
}

fn unknown_keys(value: &Value) -> Vec<String> {
    let mut unknown = Vec::new();
    for (key, within) in value.as_object().into_iter().flatten() {
        let Some((_, known)) = KEYS.iter().find(|(known, _)| known == key) else {
            unknown.push(key.clone());
            continue;
        };
        for (inner, _) in within.as_object().into_iter().flatten() {
            if !known.is_empty() && !known.contains(&inner.as_str()) {
                unknown.push(format!("{key}.{inner}"));
            }
        }
    }
    unknown
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::error::Error as _;

    fn told(text: &str) -> String {
        let error = Setup::read(text).expect_err("it is refused");
        let cause = error.source().map(ToString::to_string);
        format!("{error}: {}", cause.unwrap_or_default())
    }

    #[test]
    fn what_is_missing_or_null_is_unknown() {
        for text in [
            "{}",
            r#"{"anchor":null,"wind_limits_kn":null,"cable_m":null}"#,
        ] {
            let (setup, unknown) = Setup::read(text).expect("a setup");
            assert_eq!((setup, unknown), (Setup::default(), Vec::new()));
        }
        let (setup, _) =
            Setup::read(r#"{"cable_m":110,"depth_m":15,"hawse_height_m":5}"#).expect("a setup");
        let reach = setup.reach_m(setup.height_m()).expect("a reach");
        // By hand: √(110² − 20²) = 108.17 m level.
        assert!((reach - 108.17).abs() < 0.01, "{reach}");
        assert_eq!(setup.offset_m(), None);
    }

    #[test]
    fn a_bad_setup_says_what_and_where() {
        assert!(told("{\"cable_m\":\n \"long\"}").contains("line 2"));
        assert!(told("[1]").contains("line 1"));
        assert!(told(r#"{"anchor":{"lat":95,"lon":0}}"#).contains("anchor.lat is 95"));
        assert!(told(r#"{"anchor":{"lat":5}}"#).contains("lon"));
        assert!(told(r#"{"cable_m":10,"depth_m":20}"#).contains("cable_m is 10"));
        assert!(told(r#"{"settings":{"no_fix_s":-1}}"#).contains("settings.no_fix_s"));
    }

    #[test]
    fn keys_that_mean_nothing_are_named() {
        let (_, unknown) =
            Setup::read(r#"{"cabel_m":1,"antenna":{"forward_m":-9,"up_m":3}}"#).expect("a setup");
        assert_eq!(unknown, ["antenna.up_m", "cabel_m"]);
    }
}
