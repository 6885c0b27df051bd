//! What the master enters: place, tide, stay, weather, ship, cable, gear and choice.

use serde::{Deserialize, Serialize};

use crate::chain::{Grade, LinkForm};
use crate::holding::{AnchorType, Ground};
use crate::rules::{CableRule, RuleDepth};
use crate::time::UtcMs;

/// Everything that a plan is worked out from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlanInput {
    /// Where she anchors.
    pub place: Place,
    /// How long she stays and how the tide runs.
    pub stay: Stay,
    /// What is expected to pull on her.
    pub weather: Weather,
    /// The ship.
    pub ship: Ship,
    /// The anchor and its cable, port and starboard.
    pub cable: Cable,
    /// Windlass, brake and stopper.
    pub gear: Gear,
    /// What the master has chosen.
    pub choice: Choice,
    /// What lies near.
    pub dangers: Vec<Danger>,
}

/// Where she anchors.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Place {
    /// Name of the anchorage.
    pub name: String,
    /// Where the anchor is to lie, degrees north.
    pub latitude_deg: f64,
    /// Where the anchor is to lie, degrees east.
    pub longitude_deg: f64,
    /// Depth below chart datum.
    pub charted_depth_m: f64,
    /// What the bottom is.
    pub ground: Ground,
    /// Radius of clear water around the anchor, where the chart or a berth gives one.
    pub room_radius_m: Option<f64>,
    /// How wrong the fix of the anchor may be.
    pub position_error_m: f64,
    /// Distance to be kept from dangers beyond the swinging circle.
    pub clearance_m: f64,
}

/// How long she stays and how the tide runs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Stay {
    /// From when.
    pub from_utc_ms: UtcMs,
    /// Until when.
    pub to_utc_ms: UtcMs,
    /// High and low waters of the official table, in order, from before to after the stay.
    pub tide: Vec<TideMark>,
    /// Pressure of the air, if it is to be counted: 1 cm of water for each hPa.
    pub pressure_hpa: Option<f64>,
}

/// One high or low water.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct TideMark {
    /// When.
    pub at_utc_ms: UtcMs,
    /// Height above chart datum.
    pub height_m: f64,
}

/// What is expected to pull on her.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Weather {
    /// Mean wind at 10 m.
    pub wind_kn: f64,
    /// Gusts.
    pub gust_kn: f64,
    /// Where the wind comes from, degrees true.
    pub wind_from_deg: f64,
    /// Current.
    pub current_kn: f64,
    /// Where the current sets to, degrees true.
    pub current_toward_deg: f64,
    /// Significant wave height.
    pub wave_height_m: f64,
    /// Pull at the end of a sheer over the steady pull: 1.5 snubbed and calm, 3 usual, up to 5.
    pub yaw_factor: f64,
}

/// The ship.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Ship {
    /// Name.
    pub name: String,
    /// Length overall.
    pub length_overall_m: f64,
    /// Length on the waterline.
    pub waterline_length_m: f64,
    /// Breadth.
    pub breadth_m: f64,
    /// Greatest draught.
    pub draught_m: f64,
    /// Displacement.
    pub displacement_t: f64,
    /// Frontal area above water.
    pub frontal_area_m2: f64,
    /// Wind drag coefficient on the frontal area.
    pub wind_coefficient: f64,
    /// Hawse lip above the water.
    pub hawse_height_m: f64,
    /// Hawse to the antenna of the position receiver, along the ship.
    pub bow_to_antenna_m: f64,
    /// Least depth under the keel that the ship or company keeps.
    pub least_under_keel_m: f64,
}

/// The anchor and its cable.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Cable {
    /// Which anchor is used.
    pub side: Side,
    /// Port cable.
    pub port: SideCable,
    /// Starboard cable.
    pub starboard: SideCable,
}

impl Cable {
    /// Returns the cable of the side in use.
    pub const fn in_use(&self) -> &SideCable {
        match self.side {
            Side::Port => &self.port,
            Side::Starboard => &self.starboard,
        }
    }
}

/// One side of the ship.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// Port.
    #[default]
    Port,
    /// Starboard.
    Starboard,
}

/// The anchor and cable of one side.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SideCable {
    /// Type of the anchor.
    pub anchor_type: AnchorType,
    /// Mass of the anchor.
    pub anchor_mass_kg: f64,
    /// Nominal diameter of the chain.
    pub chain_diameter_mm: f64,
    /// Grade of the chain.
    pub chain_grade: Grade,
    /// With or without studs.
    pub link_form: LinkForm,
    /// Lengths aboard on this side.
    pub shackles_aboard: f64,
    /// Length of one of them.
    pub shackle_length_m: f64,
    /// What must stay inboard of the gypsy, to the bitter end.
    pub kept_inboard_m: f64,
    /// Gypsy to hawse lip.
    pub deck_lead_m: f64,
}

/// Windlass, brake and stopper.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Gear {
    /// Continuous pull by the windlass's certificate.
    pub windlass_pull_kilonewtons: f64,
    /// Speed of the chain over the gypsy.
    pub windlass_speed_m_per_min: f64,
    /// Holding load of the brake.
    pub brake_holding_kilonewtons: f64,
    /// Rating of the chain stopper; none if there is none.
    pub stopper_rating_kilonewtons: Option<f64>,
    /// Deeper than this (hawse to bottom) the master does not let go but walks out.
    pub walk_out_beyond_m: f64,
}

/// What the master has chosen.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Choice {
    /// The ship's own handbook rule.
    pub rule: CableRule,
    /// Which depth the handbook rules count.
    pub rule_depth: RuleDepth,
    /// Length to lie on the bottom beyond what the pull lifts.
    pub length_on_bottom_m: f64,
    /// Mark at the gypsy already ordered, if it is settled.
    pub ordered_shackles: Option<f64>,
}

/// What lies near.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Danger {
    /// Name.
    pub name: String,
    /// Degrees north.
    pub latitude_deg: f64,
    /// Degrees east.
    pub longitude_deg: f64,
    /// Depth below chart datum; negative for what dries; none for what is never to be touched.
    pub charted_depth_m: Option<f64>,
}

impl PlanInput {
    /// An example: the invented motor yacht *Aldermere* in an invented bay, placed in the open South Atlantic, where there
    /// is neither land nor ground to anchor on.
    pub fn aldermere_demo() -> Self {
        const HOUR: i64 = 3_600_000;
        // 2026-11-25 12:00 UTC.
        const NOON: i64 = 1_795_608_000_000;
        let mark = |hours: i64, minutes: i64, height_m: f64| TideMark {
            at_utc_ms: UtcMs(NOON + hours * HOUR + minutes * 60_000),
            height_m,
        };
        let side = SideCable {
            anchor_type: AnchorType::HighHolding,
            anchor_mass_kg: 585.0,
            chain_diameter_mm: 22.0,
            chain_grade: Grade::Grade3,
            link_form: LinkForm::Stud,
            shackles_aboard: 6.0,
            shackle_length_m: 27.5,
            kept_inboard_m: 10.0,
            deck_lead_m: 4.5,
        };
        Self {
            place: Place {
                name: "Sorrel Bay".to_owned(),
                latitude_deg: -43.416_70,
                longitude_deg: -20.856_70,
                charted_depth_m: 11.5,
                ground: Ground::Sand,
                room_radius_m: None,
                position_error_m: 8.0,
                clearance_m: 60.0,
            },
            stay: Stay {
                from_utc_ms: UtcMs(NOON + 4 * HOUR),
                to_utc_ms: UtcMs(NOON + 20 * HOUR),
                tide: vec![
                    mark(1, 12, 0.21),
                    mark(7, 24, 0.62),
                    mark(13, 41, 0.18),
                    mark(19, 50, 0.58),
                    mark(26, 2, 0.20),
                ],
                pressure_hpa: None,
            },
            weather: Weather {
                wind_kn: 16.0,
                gust_kn: 22.0,
                wind_from_deg: 305.0,
                current_kn: 0.3,
                current_toward_deg: 95.0,
                wave_height_m: 0.4,
                yaw_factor: 2.0,
            },
            ship: Ship {
                name: "Aldermere".to_owned(),
                length_overall_m: 49.2,
                waterline_length_m: 43.5,
                breadth_m: 9.1,
                draught_m: 2.9,
                displacement_t: 520.0,
                frontal_area_m2: 105.0,
                wind_coefficient: 0.75,
                hawse_height_m: 3.8,
                bow_to_antenna_m: 24.0,
                least_under_keel_m: 1.5,
            },
            cable: Cable {
                side: Side::Port,
                port: side.clone(),
                starboard: side,
            },
            gear: Gear {
                windlass_pull_kilonewtons: 23.0,
                windlass_speed_m_per_min: 9.0,
                brake_holding_kilonewtons: 185.0,
                stopper_rating_kilonewtons: Some(325.0),
                walk_out_beyond_m: 12.0,
            },
            choice: Choice {
                rule: CableRule::Scope6,
                rule_depth: RuleDepth::Hawse,
                length_on_bottom_m: 27.5,
                ordered_shackles: None,
            },
            dangers: vec![
                Danger {
                    name: "Wren Rock".to_owned(),
                    latitude_deg: -43.414_50,
                    longitude_deg: -20.854_30,
                    charted_depth_m: Some(1.4),
                },
                Danger {
                    name: "Moored fish cages".to_owned(),
                    latitude_deg: -43.419_80,
                    longitude_deg: -20.861_00,
                    charted_depth_m: None,
                },
                Danger {
                    name: "Two-metre contour".to_owned(),
                    latitude_deg: -43.413_60,
                    longitude_deg: -20.858_90,
                    charted_depth_m: Some(2.0),
                },
            ],
        }
    }
}
