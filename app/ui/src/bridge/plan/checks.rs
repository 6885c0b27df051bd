//! The plan's checks as lines: a word with its shape, what was checked, a figure, and what it rests on.

use super::draft::Worked;
use super::fields::label_of;
use super::order::short_by_m;
use crate::parts::Tone;
use crate::time;
use crate::words::{Word, plan as words};
use seamanship::catenary::Status;
use seamanship::plan::{Part, Problem};
use std::borrow::Cow;

/// One line.
#[derive(Debug, Clone, PartialEq)]
pub struct Check {
    /// How it stands.
    pub tone: Tone,
    /// The same as a word.
    pub word: Word,
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
    word: Word,
    what: String,
    figure: String,
    unit: &'static str,
}

fn judged(is_good: bool) -> (Tone, Word) {
    if is_good {
        (Tone::Done, words::IN_LIMITS)
    } else {
        (Tone::Alarm, words::OUT_OF_LIMITS)
    }
}

fn said(
    (tone, word): (Tone, Word),
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

fn check<T>(name: Word, part: &Part<T>, say: impl FnOnce(&T) -> Said) -> Check {
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

fn nothing(name: Word, problem: &Problem) -> Said {
    Said {
        tone: Tone::Wait,
        word: words::NO_FIGURE,
        what: words::rests_on(&name, &label_of(&problem.field)),
        figure: "\u{2014}".to_owned(),
        unit: "",
    }
}

/// Returns the lines, always as many and in the same order.
pub fn checks(worked: &Worked) -> Vec<Check> {
    let (input, output) = (&worked.input, &worked.output);
    vec![
        check(words::CHECK_CABLE, &output.proposed, |proposed| {
            let short = short_by_m(proposed);
            if short > 0.0 {
                let what = words::CABLE_SHORT.to_owned();
                said((Tone::Alarm, words::SHORT), what, short, 1, "m")
            } else {
                let spare = proposed.length.fit.usable_m - proposed.length.length_m;
                let what = words::CABLE_LEAVES.to_owned();
                said((Tone::Done, words::FITS), what, spare, 1, "m")
            }
        }),
        check(words::CHECK_KEEL, &output.depth, |depth| {
            let what = words::keel_least(
                &time::date_clock(depth.under_keel_least_at.0),
                &input.ship.least_under_keel_m.to_string(),
            );
            said(
                judged(depth.is_enough),
                what,
                depth.under_keel_least_m,
                1,
                "m",
            )
        }),
        check(words::CHECK_WEATHER, &output.limits, |limits| {
            let first = limits.smallest();
            let what = words::first_limit(
                first
                    .map_or(words::NO_LIMIT, |row| words::limit(row.kind))
                    .text(),
                &format!("{:.0}", input.weather.gust_kn),
            );
            let gust = first.map_or(f64::INFINITY, |row| row.gust_kn);
            said(judged(!limits.is_exceeded), what, gust, 0, "kn")
        }),
        check(
            words::CHECK_HOLDING,
            &output.holding,
            |holding| match holding.margin {
                None => said(
                    (Tone::Calm, words::NO_PULL),
                    words::NOTHING_PULLS.to_owned(),
                    holding.low_kilonewtons,
                    0,
                    "kN",
                ),
                Some(margin) => {
                    let what = words::holding_over(
                        &format!("{:.0}", holding.low_kilonewtons),
                        &format!("{:.0}", holding.high_kilonewtons),
                        &format!("{:.0}", holding.chain_kilonewtons),
                    );
                    said(judged(margin >= 1.0), what, margin, 1, "×")
                }
            },
        ),
        check(
            words::CHECK_CHAIN,
            &output.hanging,
            |hanging| match hanging.status {
                Status::Lifted | Status::TooShort => said(
                    (Tone::Alarm, words::LIFTS),
                    words::PULLED_UP.to_owned(),
                    hanging.angle_at_anchor_deg,
                    1,
                    "°",
                ),
                Status::Grounded | Status::Vertical => said(
                    (Tone::Done, words::IN_LIMITS),
                    words::chain_down(&format!("{:.0}", hanging.suspended_m)),
                    hanging.grounded_m,
                    0,
                    "m",
                ),
            },
        ),
        check(words::CHECK_ROOM, &output.room, |room| {
            let swept = format!("{:.0}", room.swing_radius_m);
            let what = match input.place.room_radius_m {
                None => words::room_needed(&swept),
                Some(clear) => words::room_needed_of(&swept, &clear.to_string()),
            };
            said(judged(room.is_clear), what, room.needed_radius_m, 0, "m")
        }),
        check(words::CHECK_WINDLASS, &output.windlass, |windlass| {
            let what = words::windlass_pull(
                &windlass.certificate_kilonewtons.to_string(),
                &format!("{:.0}", windlass.class_kilonewtons),
                &format!("{:.0}", windlass.greatest_depth_m),
                &format!("{:.0}", windlass.heave_minutes),
            );
            said(
                judged(windlass.is_enough),
                what,
                windlass.needed_kilonewtons,
                1,
                "kN",
            )
        }),
        check(words::CHECK_BRAKE, &output.brake, |brake| {
            let what = words::brake_against(
                &format!("{:.0}", brake.brake_asked_kilonewtons),
                &format!("{:.0}", brake.breaking_kilonewtons),
            );
            said(
                judged(brake.brake_is_enough),
                what,
                brake.brake_kilonewtons,
                0,
                "kN",
            )
        }),
        check(words::CHECK_STOPPER, &output.brake, |brake| {
            match (brake.stopper_kilonewtons, brake.stopper_is_enough) {
                (Some(rating), Some(is_enough)) => {
                    let what =
                        words::stopper_against(&format!("{:.0}", brake.stopper_asked_kilonewtons));
                    said(judged(is_enough), what, rating, 0, "kN")
                }
                _ => Said {
                    tone: Tone::Wait,
                    word: words::NO_STOPPER,
                    what: words::NO_STOPPER_FITTED.to_owned(),
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
