//! The plan's fields: where each stands in the input, what it is called, its unit, how it is read.

use super::entry::Axis;
use crate::words::{Word, plan as words};
use seamanship::chain::{Grade, LinkForm};
use seamanship::holding::{AnchorType, Ground};
use seamanship::plan::{PlanInput, Side};
use seamanship::rules::{CableRule, RuleDepth};
use seamanship::time::UtcMs;
use serde::Serialize;
use serde::de::DeserializeOwned;

/// What belongs together on the page.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Group {
    /// Depth and tide.
    Depth,
    /// Stay.
    Stay,
    /// Wind and current.
    Weather,
    /// Ground, anchor and how much cable.
    Anchor,
    /// Place, room and dangers.
    Room,
    /// Cable aboard.
    Cable,
    /// The ship.
    Ship,
    /// Windlass, brake and stopper.
    Gear,
}

impl Group {
    /// The groups in the order in which they stand.
    pub const ALL: [Self; 8] = [
        Self::Depth,
        Self::Stay,
        Self::Weather,
        Self::Anchor,
        Self::Room,
        Self::Cable,
        Self::Ship,
        Self::Gear,
    ];

    /// Says whether its figures change from one anchorage to the next, so that it stands open.
    pub const fn is_of_the_day(self) -> bool {
        !matches!(self, Self::Cable | Self::Ship | Self::Gear)
    }
}

/// How a field is read.
#[derive(Clone, Copy)]
pub enum Kind {
    /// A number.
    Number(fn(&mut PlanInput) -> &mut f64),
    /// A number that may be left out.
    Perhaps(fn(&mut PlanInput) -> &mut Option<f64>),
    /// Degrees and minutes.
    Angle(Axis, fn(&mut PlanInput) -> &mut f64),
    /// A moment in UTC.
    Moment(fn(&mut PlanInput) -> &mut UtcMs),
    /// Words.
    Words(fn(&mut PlanInput) -> &mut String),
    /// One of several.
    Choice(&'static Choices),
}

/// One of several, by the name it has in stored data.
pub struct Choices {
    /// Names and words, in order.
    pub options: fn() -> Vec<(String, String)>,
    /// Returns the name chosen.
    pub get: fn(&PlanInput) -> String,
    /// Chooses by name; a name that is none changes nothing.
    pub set: fn(&mut PlanInput, &str),
}

impl std::fmt::Debug for Kind {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Number(_) => "Number",
            Self::Perhaps(_) => "Perhaps",
            Self::Angle(..) => "Angle",
            Self::Moment(_) => "Moment",
            Self::Words(_) => "Words",
            Self::Choice(_) => "Choice",
        })
    }
}

/// One field.
#[derive(Debug, Clone, Copy)]
pub struct Field {
    /// Where it stands in the input: `weather.wind_kn`.
    pub path: &'static str,
    /// Where it stands on the page.
    pub group: Group,
    /// What it is called.
    pub label: Word,
    /// Its unit; empty if it has none.
    pub unit: &'static str,
    /// How it is read.
    pub kind: Kind,
}

/// Returns the name that a choice has in stored data.
pub fn name_of<T: Serialize>(value: T) -> String {
    match serde_json::to_value(value) {
        Ok(serde_json::Value::String(name)) => name,
        _ => String::new(),
    }
}

fn by_name<T: DeserializeOwned>(name: &str) -> Option<T> {
    journal::json::read(&serde_json::Value::from(name).to_string()).ok()
}

macro_rules! choices {
    ($options:expr, $($path:ident).+) => {
        &Choices {
            options: $options,
            get: |plan| name_of(&plan.$($path).+),
            set: |plan, name| {
                if let Some(value) = by_name(name) {
                    plan.$($path).+ = value;
                }
            },
        }
    };
}

fn pairs<T: Serialize>(options: &[(T, Word)]) -> Vec<(String, String)> {
    options
        .iter()
        .map(|(value, words)| (name_of(value), words.text().to_owned()))
        .collect()
}

fn grounds() -> Vec<(String, String)> {
    pairs(&[
        (Ground::Sand, words::GROUND_SAND),
        (Ground::Mud, words::GROUND_MUD),
        (Ground::Clay, words::GROUND_CLAY),
        (Ground::Shingle, words::GROUND_SHINGLE),
        (Ground::Weed, words::GROUND_WEED),
        (Ground::Rock, words::GROUND_ROCK),
    ])
}

fn sides() -> Vec<(String, String)> {
    pairs(&[
        (Side::Port, words::SIDE_PORT),
        (Side::Starboard, words::SIDE_STARBOARD),
    ])
}

fn rules() -> Vec<(String, String)> {
    CableRule::ALL
        .iter()
        .map(|rule| {
            (
                name_of(rule),
                format!("{}: {}", rule.name(), rule.formula()),
            )
        })
        .collect()
}

fn rule_depths() -> Vec<(String, String)> {
    pairs(&[
        (RuleDepth::Hawse, words::RULE_DEPTH_HAWSE),
        (RuleDepth::Water, words::RULE_DEPTH_WATER),
    ])
}

fn anchor_types() -> Vec<(String, String)> {
    pairs(&[
        (AnchorType::Stockless, words::ANCHOR_STOCKLESS),
        (AnchorType::HighHolding, words::ANCHOR_HIGH_HOLDING),
        (
            AnchorType::SuperHighHolding,
            words::ANCHOR_SUPER_HIGH_HOLDING,
        ),
    ])
}

fn grades() -> Vec<(String, String)> {
    pairs(&[
        (Grade::Grade1, words::GRADE_1),
        (Grade::Grade2, words::GRADE_2),
        (Grade::Grade3, words::GRADE_3),
    ])
}

fn link_forms() -> Vec<(String, String)> {
    pairs(&[
        (LinkForm::Stud, words::LINK_FORM_STUD),
        (LinkForm::Studless, words::LINK_FORM_STUDLESS),
    ])
}

const fn field(
    path: &'static str,
    group: Group,
    label: Word,
    unit: &'static str,
    kind: Kind,
) -> Field {
    Field {
        path,
        group,
        label,
        unit,
        kind,
    }
}

macro_rules! number {
    ($group:ident, $($path:ident).+, $label:expr, $unit:literal) => {
        field(
            stringify_path!($($path).+),
            Group::$group,
            $label,
            $unit,
            Kind::Number(|plan| &mut plan.$($path).+),
        )
    };
}

macro_rules! perhaps {
    ($group:ident, $($path:ident).+, $label:expr, $unit:literal) => {
        field(
            stringify_path!($($path).+),
            Group::$group,
            $label,
            $unit,
            Kind::Perhaps(|plan| &mut plan.$($path).+),
        )
    };
}

macro_rules! choice {
    ($group:ident, $options:expr, $($path:ident).+, $label:expr) => {
        field(
            stringify_path!($($path).+),
            Group::$group,
            $label,
            "",
            Kind::Choice(choices!($options, $($path).+)),
        )
    };
}

macro_rules! stringify_path {
    ($first:ident $(. $rest:ident)*) => {
        concat!(stringify!($first) $(, ".", stringify!($rest))*)
    };
}

macro_rules! side_cable {
    ($side:ident) => {
        [
            choice!(
                Cable,
                anchor_types,
                cable.$side.anchor_type,
                words::FIELD_ANCHOR_TYPE
            ),
            number!(
                Cable,
                cable.$side.anchor_mass_kg,
                words::FIELD_ANCHOR_MASS,
                "kg"
            ),
            number!(
                Cable,
                cable.$side.chain_diameter_mm,
                words::FIELD_CHAIN_DIAMETER,
                "mm"
            ),
            choice!(
                Cable,
                grades,
                cable.$side.chain_grade,
                words::FIELD_CHAIN_GRADE
            ),
            choice!(Cable, link_forms, cable.$side.link_form, words::FIELD_LINKS),
            number!(
                Cable,
                cable.$side.shackles_aboard,
                words::FIELD_SHACKLES_ABOARD,
                "shackles"
            ),
            number!(
                Cable,
                cable.$side.shackle_length_m,
                words::FIELD_ONE_SHACKLE,
                "m"
            ),
            number!(
                Cable,
                cable.$side.kept_inboard_m,
                words::FIELD_KEPT_INBOARD,
                "m"
            ),
            number!(
                Cable,
                cable.$side.deck_lead_m,
                words::FIELD_GYPSY_TO_HAWSE,
                "m"
            ),
        ]
    };
}

/// The fields of the port cable.
static PORT: [Field; 9] = side_cable!(port);
/// The fields of the starboard cable.
static STARBOARD: [Field; 9] = side_cable!(starboard);

/// Every other field, in the order in which it stands in its group.
static FIELDS: &[Field] = &[
    field(
        "place.name",
        Group::Room,
        words::FIELD_ANCHORAGE,
        "",
        Kind::Words(|plan| &mut plan.place.name),
    ),
    number!(
        Depth,
        place.charted_depth_m,
        words::FIELD_CHARTED_DEPTH,
        "m"
    ),
    perhaps!(
        Depth,
        stay.pressure_hpa,
        words::FIELD_PRESSURE_IF_COUNTED,
        "hPa"
    ),
    field(
        "stay.from_utc_ms",
        Group::Stay,
        words::FIELD_FROM,
        "UTC",
        Kind::Moment(|plan| &mut plan.stay.from_utc_ms),
    ),
    field(
        "stay.to_utc_ms",
        Group::Stay,
        words::FIELD_UNTIL,
        "UTC",
        Kind::Moment(|plan| &mut plan.stay.to_utc_ms),
    ),
    number!(Weather, weather.wind_kn, words::FIELD_MEAN_WIND, "kn"),
    number!(Weather, weather.gust_kn, words::FIELD_GUSTS, "kn"),
    number!(Weather, weather.wind_from_deg, words::FIELD_WIND_FROM, "°T"),
    number!(Weather, weather.current_kn, words::FIELD_CURRENT, "kn"),
    number!(
        Weather,
        weather.current_toward_deg,
        words::FIELD_CURRENT_SETS,
        "°T"
    ),
    number!(
        Weather,
        weather.wave_height_m,
        words::FIELD_WAVE_HEIGHT,
        "m"
    ),
    number!(Weather, weather.yaw_factor, words::FIELD_YAW_FACTOR, "×"),
    choice!(Anchor, sides, cable.side, words::FIELD_ANCHOR),
    choice!(Anchor, grounds, place.ground, words::FIELD_GROUND),
    choice!(Anchor, rules, choice.rule, words::FIELD_THE_SHIP_S_RULE),
    choice!(
        Anchor,
        rule_depths,
        choice.rule_depth,
        words::FIELD_THE_RULE_COUNTS
    ),
    number!(
        Anchor,
        choice.length_on_bottom_m,
        words::FIELD_TO_LIE_ON_THE_BOTTOM,
        "m"
    ),
    perhaps!(
        Anchor,
        choice.ordered_shackles,
        words::FIELD_ORDERED_IF_SETTLED,
        "shackles"
    ),
    field(
        "place.latitude_deg",
        Group::Room,
        words::FIELD_LATITUDE,
        "",
        Kind::Angle(Axis::Latitude, |plan| &mut plan.place.latitude_deg),
    ),
    field(
        "place.longitude_deg",
        Group::Room,
        words::FIELD_LONGITUDE,
        "",
        Kind::Angle(Axis::Longitude, |plan| &mut plan.place.longitude_deg),
    ),
    perhaps!(
        Room,
        place.room_radius_m,
        words::FIELD_CLEAR_RADIUS_IF_KNOWN,
        "m"
    ),
    number!(
        Room,
        place.position_error_m,
        words::FIELD_ERROR_OF_THE_FIX,
        "m"
    ),
    number!(Room, place.clearance_m, words::FIELD_DISTANCE_KEPT, "m"),
    field(
        "ship.name",
        Group::Ship,
        words::FIELD_SHIP,
        "",
        Kind::Words(|plan| &mut plan.ship.name),
    ),
    number!(
        Ship,
        ship.length_overall_m,
        words::FIELD_LENGTH_OVERALL,
        "m"
    ),
    number!(
        Ship,
        ship.waterline_length_m,
        words::FIELD_WATERLINE_LENGTH,
        "m"
    ),
    number!(Ship, ship.breadth_m, words::FIELD_BREADTH, "m"),
    number!(Ship, ship.draught_m, words::FIELD_DRAUGHT, "m"),
    number!(Ship, ship.displacement_t, words::FIELD_DISPLACEMENT, "t"),
    number!(Ship, ship.frontal_area_m2, words::FIELD_FRONTAL_AREA, "m²"),
    number!(
        Ship,
        ship.wind_coefficient,
        words::FIELD_WIND_COEFFICIENT,
        ""
    ),
    number!(
        Ship,
        ship.hawse_height_m,
        words::FIELD_HAWSE_ABOVE_WATER,
        "m"
    ),
    number!(
        Ship,
        ship.bow_to_antenna_m,
        words::FIELD_HAWSE_TO_ANTENNA,
        "m"
    ),
    number!(
        Ship,
        ship.least_under_keel_m,
        words::FIELD_LEAST_UNDER_KEEL,
        "m"
    ),
    number!(
        Gear,
        gear.windlass_pull_kilonewtons,
        words::FIELD_WINDLASS_PULL,
        "kN"
    ),
    number!(
        Gear,
        gear.windlass_speed_m_per_min,
        words::FIELD_WINDLASS_SPEED,
        "m/min"
    ),
    number!(
        Gear,
        gear.brake_holding_kilonewtons,
        words::FIELD_BRAKE_HOLDS,
        "kN"
    ),
    perhaps!(
        Gear,
        gear.stopper_rating_kilonewtons,
        words::FIELD_STOPPER_IF_FITTED,
        "kN"
    ),
    number!(
        Gear,
        gear.walk_out_beyond_m,
        words::FIELD_LET_GO_DOWN_TO,
        "m"
    ),
];

/// Returns every field that stands alone; those in lists have their own.
pub fn all() -> impl Iterator<Item = &'static Field> {
    FIELDS.iter().chain(&PORT).chain(&STARBOARD)
}

/// Returns the fields of the cable of one side.
pub fn of_cable(side: Side) -> &'static [Field] {
    match side {
        Side::Port => &PORT,
        Side::Starboard => &STARBOARD,
    }
}

/// Returns the fields of a group; of the cables only the one in use.
pub fn of(group: Group, side: Side) -> impl Iterator<Item = &'static Field> {
    FIELDS
        .iter()
        .chain(of_cable(side))
        .filter(move |field| field.group == group)
}

/// Returns what the input at a path is called on the page.
pub fn label_of(path: &str) -> String {
    let row = |rest: &str| {
        rest.split(']')
            .next()
            .and_then(|at| at.parse::<usize>().ok())
    };
    if let Some(field) = all().find(|field| field.path == path) {
        field.label.to_owned()
    } else if let Some(at) = path.strip_prefix("stay.tide[").and_then(row) {
        words::row_of(&words::TIDE, &(at + 1).to_string())
    } else if path.starts_with("stay.tide") {
        words::TIDE.to_owned()
    } else if let Some(at) = path.strip_prefix("dangers[").and_then(row) {
        words::row_of(&words::DANGERS, &(at + 1).to_string())
    } else {
        path.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    /// Every path of the input as JSON has it; lists by their name only.
    fn paths_in(value: &serde_json::Value, at: &str, into: &mut BTreeSet<String>) {
        match value {
            serde_json::Value::Object(map) => {
                for (key, inner) in map {
                    let path = if at.is_empty() {
                        key.clone()
                    } else {
                        format!("{at}.{key}")
                    };
                    paths_in(inner, &path, into);
                }
            }
            _ => {
                into.insert(at.to_owned());
            }
        }
    }

    #[test]
    fn every_input_of_the_plan_has_a_field_and_every_field_an_input() {
        let mut wanted = BTreeSet::new();
        let plan = serde_json::to_value(PlanInput::aldermere_demo()).unwrap();
        paths_in(&plan, "", &mut wanted);
        let lists = ["stay.tide", "dangers"];
        let shown: BTreeSet<String> = all().map(|field| field.path.to_owned()).collect();
        let wanted: BTreeSet<String> = wanted
            .into_iter()
            .filter(|path| !lists.contains(&path.as_str()))
            .collect();
        assert_eq!(shown, wanted);
    }

    #[test]
    fn a_choice_that_is_taken_by_its_name_is_the_one_shown() {
        let mut plan = PlanInput::aldermere_demo();
        for field in all() {
            if let Kind::Choice(choices) = field.kind {
                for (name, _) in (choices.options)() {
                    (choices.set)(&mut plan, &name);
                    assert_eq!((choices.get)(&plan), name, "{}", field.path);
                }
                let before = (choices.get)(&plan);
                (choices.set)(&mut plan, "no such thing");
                assert_eq!((choices.get)(&plan), before);
            }
        }
    }
}
