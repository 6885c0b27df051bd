//! Points an error in a sum at the input that it came from.

use super::{PlanInput, Problem, Side};
use crate::OutOfRange;

/// Where each input of a sum stands in the plan; `cable.in_use` is the side in use.
const PATHS: &[(&str, &str)] = &[
    ("anchor_mass_kg", "cable.in_use.anchor_mass_kg"),
    ("area_m2", "ship.frontal_area_m2"),
    ("bow_forward_of_antenna_m", "ship.bow_to_antenna_m"),
    ("breadth_m", "ship.breadth_m"),
    ("breaking_load_N", "cable.in_use.chain_diameter_mm"),
    ("cable_total_m", "cable.in_use.shackles_aboard"),
    ("cd", "ship.wind_coefficient"),
    ("chain_diameter_mm", "cable.in_use.chain_diameter_mm"),
    ("chain_length_m", "choice.ordered_shackles"),
    ("chain_mass_kg_per_m", "cable.in_use.chain_diameter_mm"),
    ("charted_depth_m", "place.charted_depth_m"),
    ("current_m_s", "weather.current_kn"),
    ("current_toward_deg", "weather.current_toward_deg"),
    ("deck_lead_m", "cable.in_use.deck_lead_m"),
    ("depth_hawse_m", "place.charted_depth_m"),
    ("depth_m", "place.charted_depth_m"),
    ("displacement_t", "ship.displacement_t"),
    ("draught_m", "ship.draught_m"),
    ("h_from_m", "stay.tide"),
    ("h_to_m", "stay.tide"),
    ("kept_inboard_m", "cable.in_use.kept_inboard_m"),
    ("latitude_deg", "place.latitude_deg"),
    ("length_on_bottom_m", "choice.length_on_bottom_m"),
    ("length_overall_m", "ship.length_overall_m"),
    ("longitude_deg", "place.longitude_deg"),
    ("margin_m", "place.position_error_m"),
    ("pressure_hPa", "stay.pressure_hpa"),
    ("shackle_length_m", "cable.in_use.shackle_length_m"),
    ("speed_m_s", "weather.gust_kn"),
    ("stay_to_utc_ms", "stay.to_utc_ms"),
    ("t_to_utc", "stay.tide"),
    ("t_utc", "stay.tide"),
    ("tide", "stay.tide"),
    ("time_utc", "stay.from_utc_ms"),
    ("walk_out_beyond_m", "gear.walk_out_beyond_m"),
    ("waterline_length_m", "ship.waterline_length_m"),
    ("wave_height_m", "weather.wave_height_m"),
    ("wind_from_deg", "weather.wind_from_deg"),
    ("windlass_pull_N", "gear.windlass_pull_kilonewtons"),
    ("windlass_speed_m_per_min", "gear.windlass_speed_m_per_min"),
    ("yaw_factor", "weather.yaw_factor"),
];

impl From<OutOfRange> for Problem {
    fn from(error: OutOfRange) -> Self {
        let name = error.field();
        let path = PATHS
            .iter()
            .find(|(sum, _)| *sum == name)
            .map_or(name, |(_, path)| path);
        Self {
            field: path.to_owned(),
            words: error.words(),
        }
    }
}

impl Problem {
    /// Names the side that is in use.
    pub(super) fn on_side(mut self, input: &PlanInput) -> Self {
        let side = match input.cable.side {
            Side::Port => "cable.port",
            Side::Starboard => "cable.starboard",
        };
        if let Some(rest) = self.field.strip_prefix("cable.in_use") {
            self.field = format!("{side}{rest}");
        }
        self
    }
}

/// A part that rests on another carries that one's problem.
impl From<&Problem> for Problem {
    fn from(problem: &Problem) -> Self {
        problem.clone()
    }
}
