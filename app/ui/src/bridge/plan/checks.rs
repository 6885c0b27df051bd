//! The plan's checks as lines: a word with its shape, what was checked, a figure, and what it rests on.

use super::draft::Worked;
use super::fields::label_of;
use super::order::short_by_m;
use crate::parts::Tone;
use crate::time;
use crate::words::plan as words;
use seamanship::catenary::Status;
use seamanship::plan::{Part, Problem};
use std::borrow::Cow;

/// One line.
#[derive(Debug, Clone, PartialEq)]
pub struct Check {
    /// How it stands.
    pub tone: Tone,
    /// The same as a word.
    pub word: &'static str,
    /// What was checked.
    pub what: String,
    /// The figure that tells.
    pub figure: String,
    /// Its unit.
    pub unit: &'static str,
    /// Where it comes from.
    pub source: Cow<'static, str>,
    /// What to know before relying on it.
    pub caution: Cow<'static, str>,
}

/// What a part of a plan says in a line.
struct Said {
    tone: Tone,
    word: &'static str,
    what: String,
    figure: String,
    unit: &'static str,
}

const IN_LIMITS: &str = "In limits";
const OUT_OF_LIMITS: &str = "Out of limits";

fn judged(is_good: bool) -> (Tone, &'static str) {
    if is_good {
        (Tone::Done, IN_LIMITS)
    } else {
        (Tone::Alarm, OUT_OF_LIMITS)
    }
}

fn said(
    (tone, word): (Tone, &'static str),
    what: String,
    figure: f64,
    places: usize,
    unit: &'static str,
) -> Said {
    Said {
        tone,
        word,
        what,
        figure: format!("{figure:.places$}"),
        unit,
    }
}

fn check<T>(name: &str, part: &Part<T>, say: impl FnOnce(&T) -> Said) -> Check {
    let said = match &part.result {
        Ok(result) => say(result),
        Err(problem) => nothing(name, problem),
    };
    Check {
        tone: said.tone,
        word: said.word,
        what: said.what,
        figure: said.figure,
        unit: said.unit,
        source: part.source.clone(),
        caution: part.caution.clone(),
    }
}

fn nothing(name: &str, problem: &Problem) -> Said {
    Said {
        tone: Tone::Wait,
        word: words::NO_FIGURE.text(),
        what: format!("{name}: {} {}", words::WAITS_FOR, label_of(&problem.field)),
        figure: "\u{2014}".to_owned(),
        unit: "",
    }
}

/// Returns the lines, always as many and in the same order.
pub fn checks(worked: &Worked) -> Vec<Check> {
    let (input, output) = (&worked.input, &worked.output);
    vec![
        check("Cable aboard", &output.proposed, |proposed| {
            let short = short_by_m(proposed);
            if short > 0.0 {
                let what = "Cable aboard: short of what is wanted by".to_owned();
                said((Tone::Alarm, "Short"), what, short, 1, "m")
            } else {
                let spare = proposed.length.fit.usable_m - proposed.length.length_m;
                let what = "Cable aboard: it fits, and leaves".to_owned();
                said((Tone::Done, words::FITS.text()), what, spare, 1, "m")
            }
        }),
        check("Under the keel", &output.depth, |depth| {
            let what = format!(
                "Least under the keel, waves allowed for, at {}; kept: {} m",
                time::date_clock(depth.under_keel_least_at.0),
                input.ship.least_under_keel_m
            );
            said(
                judged(depth.is_enough),
                what,
                depth.under_keel_least_m,
                1,
                "m",
            )
        }),
        check(
            "Weather against the first limit",
            &output.limits,
            |limits| {
                let first = limits.smallest();
                let what = format!(
                    "First limit, {}; gusts expected: {:.0} kn",
                    first.map_or("none", |row| words::limit(row.kind).text()),
                    input.weather.gust_kn
                );
                let gust = first.map_or(f64::INFINITY, |row| row.gust_kn);
                said(judged(!limits.is_exceeded), what, gust, 0, "kn")
            },
        ),
        check("Holding", &output.holding, |holding| match holding.margin {
            None => said(
                (Tone::Calm, "No pull"),
                "Nothing pulls; she holds at least".to_owned(),
                holding.low_kilonewtons,
                0,
                "kN",
            ),
            Some(margin) => {
                let what = format!(
                    "Holding over the pull expected, by the lower figure: {:.0} to {:.0} kN, of it \
                     {:.0} kN the chain",
                    holding.low_kilonewtons, holding.high_kilonewtons, holding.chain_kilonewtons
                );
                said(judged(margin >= 1.0), what, margin, 1, "×")
            }
        }),
        check(
            "Chain on the bottom",
            &output.hanging,
            |hanging| match hanging.status {
                Status::Lifted | Status::TooShort => said(
                    (Tone::Alarm, "Lifts"),
                    "The anchor is pulled upwards under the pull expected, by".to_owned(),
                    hanging.angle_at_anchor_deg,
                    1,
                    "°",
                ),
                Status::Grounded | Status::Vertical => said(
                    (Tone::Done, IN_LIMITS),
                    format!(
                        "Chain on the bottom under the pull expected; {:.0} m hang",
                        hanging.suspended_m
                    ),
                    hanging.grounded_m,
                    0,
                    "m",
                ),
            },
        ),
        check("Room to swing", &output.room, |room| {
            let given = input
                .place
                .room_radius_m
                .map_or_else(String::new, |m| format!("; clear radius {m} m"));
            let what = format!(
                "Room needed about the anchor: stern sweeps {:.0} m, with the fix's error and the \
                 distance kept{given}",
                room.swing_radius_m
            );
            said(judged(room.is_clear), what, room.needed_radius_m, 0, "m")
        }),
        check("Windlass", &output.windlass, |windlass| {
            let what = format!(
                "Windlass: pull to lift anchor and chain; {} kN by certificate, class asks {:.0} kN, \
                 enough from {:.0} m; heaving in takes {:.0} min",
                windlass.certificate_kilonewtons,
                windlass.class_kilonewtons,
                windlass.greatest_depth_m,
                windlass.heave_minutes
            );
            said(
                judged(windlass.is_enough),
                what,
                windlass.needed_kilonewtons,
                1,
                "kN",
            )
        }),
        check("Brake", &output.brake, |brake| {
            let what = format!(
                "Brake against the {:.0} kN that class asks; the chain breaks at {:.0} kN",
                brake.brake_asked_kilonewtons, brake.breaking_kilonewtons
            );
            said(
                judged(brake.brake_is_enough),
                what,
                brake.brake_kilonewtons,
                0,
                "kN",
            )
        }),
        check("Stopper", &output.brake, |brake| {
            match (brake.stopper_kilonewtons, brake.stopper_is_enough) {
                (Some(rating), Some(is_enough)) => {
                    let what = format!(
                        "Stopper against the {:.0} kN that class asks",
                        brake.stopper_asked_kilonewtons
                    );
                    said(judged(is_enough), what, rating, 0, "kN")
                }
                _ => Said {
                    tone: Tone::Wait,
                    word: "None",
                    what: "No stopper is fitted: she rides to the brake".to_owned(),
                    figure: "\u{2014}".to_owned(),
                    unit: "",
                },
            }
        }),
    ]
}

#[cfg(test)]
mod tests {
    use super::super::draft::Draft;
    use super::*;
    use seamanship::plan::PlanInput;

    fn tone_of(plan: &PlanInput, what: &str) -> Tone {
        let lines = checks(&Draft::of(plan).work());
        let line = lines.iter().find(|line| line.what.starts_with(what));
        line.unwrap_or_else(|| panic!("no line {what}")).tone
    }

    #[test]
    fn a_line_turns_when_its_limit_is_passed() {
        let mut plan = PlanInput::aldermere_demo();
        assert_eq!(tone_of(&plan, "Least under the keel"), Tone::Done);
        plan.ship.least_under_keel_m = 12.0;
        assert_eq!(tone_of(&plan, "Least under the keel"), Tone::Alarm);
        assert_eq!(tone_of(&plan, "Stopper against"), Tone::Done);
        plan.gear.stopper_rating_kilonewtons = None;
        assert_eq!(tone_of(&plan, "No stopper"), Tone::Wait);
        plan.cable.port.shackles_aboard = 3.0;
        assert_eq!(tone_of(&plan, "Cable aboard: short"), Tone::Alarm);
        plan.weather.wind_kn = 90.0;
        plan.weather.gust_kn = 120.0;
        assert_eq!(tone_of(&plan, "First limit"), Tone::Alarm);
    }

    #[test]
    fn a_part_without_a_result_names_the_field_that_it_rests_on() {
        let mut draft = Draft::of(&PlanInput::aldermere_demo());
        draft.type_in("gear.windlass_pull_kilonewtons", String::new());
        let lines = checks(&draft.work());
        let windlass = lines
            .iter()
            .find(|line| line.what.starts_with("Windlass"))
            .unwrap();
        assert_eq!(windlass.tone, Tone::Wait);
        assert!(windlass.what.contains("Windlass pull"), "{}", windlass.what);
        assert_eq!(lines.len(), 9);
    }
}
