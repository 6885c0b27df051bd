//! What is typed into a plan, and what becomes of it.

use super::*;

fn demo() -> Draft {
    Draft::of(&PlanInput::aldermere_demo())
}

#[test]
fn what_is_written_out_reads_back_as_the_same_plan() {
    let plan = PlanInput::aldermere_demo();
    let (again, wrong) = demo().read();
    assert!(wrong.is_empty(), "{wrong:?}");
    let near = |a: f64, b: f64| (a - b).abs() < 1e-6;
    assert!(near(again.place.latitude_deg, plan.place.latitude_deg));
    assert!(near(
        again.dangers[2].longitude_deg,
        plan.dangers[2].longitude_deg
    ));
    assert_eq!(again.stay, plan.stay);
    assert_eq!((again.ship, again.cable), (plan.ship, plan.cable));
    assert_eq!((again.gear, again.choice), (plan.gear, plan.choice));
    assert!(demo().work().wrong.is_empty());
}

#[test]
fn a_wrong_text_stays_as_typed_and_blanks_only_what_rests_on_it() {
    let mut draft = demo();
    draft.type_in("gear.brake_holding_kilonewtons", "18x".to_owned());
    let worked = draft.work();
    assert_eq!(draft.text("gear.brake_holding_kilonewtons"), "18x");
    assert_eq!(worked.wrong.len(), 1, "{:?}", worked.wrong);
    assert!(worked.wrong["gear.brake_holding_kilonewtons"].contains("18x"));
    assert!(worked.output.brake.result.is_err());
    assert!(worked.output.proposed.result.is_ok());
}

#[test]
fn a_figure_out_of_range_is_told_at_its_field() {
    let mut draft = demo();
    draft.type_in("place.charted_depth_m", "400".to_owned());
    let worked = draft.work();
    let words = &worked.wrong["place.charted_depth_m"];
    assert!(
        words.contains("400") && words.contains("from 0 to 300"),
        "{words}"
    );
    assert!(worked.output.proposed.result.is_err());
}

#[test]
fn a_rule_that_is_not_meant_for_the_depth_says_so_where_it_is_chosen() {
    let mut draft = demo();
    draft.type_in("choice.rule", "deep_water".to_owned());
    let worked = draft.work();
    assert!(
        worked.wrong["choice.rule"].contains("50 to 150 m"),
        "{:?}",
        worked.wrong
    );
    assert_eq!(worked.wrong.len(), 1);
}

#[test]
fn the_words_about_a_cable_stand_at_the_side_in_use() {
    let mut draft = demo();
    draft.type_in("cable.side", "starboard".to_owned());
    draft.type_in("cable.starboard.shackles_aboard", "90".to_owned());
    assert!(
        draft
            .work()
            .wrong
            .contains_key("cable.starboard.shackles_aboard")
    );
}

#[test]
fn a_time_that_is_none_gives_no_depth_and_says_so_once() {
    let mut draft = demo();
    draft.type_in("stay.tide[0].at_utc_ms", "at noon".to_owned());
    let worked = draft.work();
    assert!(worked.output.depth.result.is_err());
    assert_eq!(
        worked.wrong.keys().collect::<Vec<_>>(),
        ["stay.tide[0].at_utc_ms"]
    );
}

#[test]
fn tides_of_another_day_have_to_be_typed_anew_before_a_plan_is_sound() {
    let plan = PlanInput::aldermere_demo();
    let count = plan.stay.tide.len();
    let same_day = UtcMs(plan.stay.from_utc_ms.0 + 1);
    assert!(
        Draft::taken_up(plan.clone(), same_day)
            .work()
            .wrong
            .is_empty()
    );
    let later = UtcMs(plan.stay.from_utc_ms.0 + 3 * 86_400_000);
    let mut draft = Draft::taken_up(plan, later);
    let worked = draft.work();
    assert_eq!(worked.wrong.len(), 2 * count, "{:?}", worked.wrong);
    assert!(
        worked.output.proposed.result.is_ok(),
        "it is shown all the same"
    );
    // One that is taken away takes its mark along, and the others keep theirs.
    let of_rows = |draft: &Draft| {
        let wrong = draft.work().wrong;
        let rows = wrong.keys().filter(|path| path.starts_with("stay.tide["));
        rows.count()
    };
    draft.remove_row(TIDE, 0);
    assert_eq!(of_rows(&draft), 2 * (count - 1));
    for at in 0..count - 1 {
        for field in TIDE_FIELDS {
            let path = in_row(TIDE, at, field);
            let text = draft.text(&path);
            draft.type_in(&path, text);
        }
    }
    assert_eq!(of_rows(&draft), 0);
}

#[test]
fn what_is_typed_is_the_same_after_it_was_kept_as_text() {
    let later = UtcMs(PlanInput::aldermere_demo().stay.from_utc_ms.0 + 86_400_000);
    let mut draft = Draft::taken_up(PlanInput::aldermere_demo(), later);
    draft.type_in("weather.gust_kn", "22,5".to_owned());
    draft.add_row(DANGERS);
    let text = serde_json::to_string(&draft).unwrap();
    assert_eq!(serde_json::from_str::<Draft>(&text).unwrap(), draft);
}

#[test]
fn a_wind_from_370_degrees_is_refused_in_words() {
    let mut draft = demo();
    for (text, is_right) in [("370", false), ("-10", false), ("360", true), ("0", true)] {
        draft.type_in("weather.wind_from_deg", text.to_owned());
        let wrong = draft.work().wrong;
        assert_eq!(wrong.is_empty(), is_right, "{text}: {wrong:?}");
    }
    draft.type_in("weather.current_toward_deg", "361".to_owned());
    assert!(
        draft
            .work()
            .wrong
            .contains_key("weather.current_toward_deg")
    );
}

#[test]
fn rows_come_and_go_without_touching_the_others() {
    let mut draft = demo();
    let third = draft.text("dangers[2].name");
    draft.remove_row(DANGERS, 1);
    assert_eq!(
        (draft.rows(DANGERS), draft.text("dangers[1].name")),
        (2, third)
    );
    assert_eq!(draft.read().0.dangers.len(), 2);
    draft.add_row(TIDE);
    assert_eq!(draft.rows(TIDE), 6);
    assert!(draft.work().wrong.contains_key("stay.tide[5].at_utc_ms"));
    draft.remove_row(TIDE, 5);
    assert!(draft.work().wrong.is_empty());
}

#[test]
fn an_old_plan_is_moved_by_whole_days_and_a_coming_one_is_left() {
    let plan = PlanInput::aldermere_demo();
    let from = plan.stay.from_utc_ms;
    let later = UtcMs(from.0 + 5 * 86_400_000 + 3_600_000);
    let moved = moved_to(plan.clone(), later);
    assert_eq!(moved.stay.from_utc_ms.0 - from.0, 5 * 86_400_000);
    assert!(work_out(&moved).depth.result.is_ok());
    assert_eq!(moved_to(plan.clone(), UtcMs(0)), plan);
}

/// Every path of the demo's plan with its text, in the order in which the form shows them.
fn as_typed() -> Vec<(String, String)> {
    let draft = demo();
    let fields = fields::Group::ALL
        .into_iter()
        .flat_map(|group| fields::of(group, Side::Port));
    let fields = fields.map(|field| field.path.to_owned());
    let rows = (0..2).flat_map(|at| TIDE_FIELDS.map(|field| in_row(TIDE, [0, 4][at], field)));
    let rows = rows.zip((0..2).flat_map(|at| TIDE_FIELDS.map(|field| in_row(TIDE, at, field))));
    let rows: Vec<_> = rows.map(|(from, to)| (to, draft.text(&from))).collect();
    fields
        .map(|path| (path.clone(), draft.text(&path)))
        .chain(rows)
        .collect()
}

#[test]
fn an_empty_plan_holds_no_figure_proposes_nothing_and_is_not_sound() {
    let draft = Draft::empty();
    assert!(draft.is_begun_empty() && !draft.is_touched);
    assert!(
        draft.texts.values().all(String::is_empty),
        "{:?}",
        draft.texts
    );
    assert_eq!((draft.rows(TIDE), draft.rows(DANGERS)), (2, 0));
    let worked = draft.work();
    assert_eq!(worked.wrong, BTreeMap::new(), "missing is not wrong");
    assert!(!worked.is_sound());
    let out = &worked.output;
    assert!(
        out.proposed.result.is_err() && out.depth.result.is_err() && out.holding.result.is_err()
    );
    assert!(out.by_rule.iter().all(|row| row.length.result.is_err()));
    assert!(out.sun.result.is_err() && out.signals.result.is_err() && out.windlass.result.is_err());
}

#[test]
fn an_empty_plan_is_typed_field_by_field_and_nothing_is_called_wrong_on_the_way() {
    let mut draft = Draft::empty();
    let mut left = draft.work().missing.len();
    for (path, text) in as_typed() {
        if text.is_empty() {
            continue;
        }
        draft.type_in(&path, text);
        let worked = draft.work();
        assert_eq!(worked.wrong, BTreeMap::new(), "after {path}");
        assert!(worked.missing.len() <= left, "{path}");
        left = worked.missing.len();
    }
    let worked = draft.work();
    assert!(worked.is_sound(), "{:?}", worked.missing);
    assert!(worked.output.proposed.result.is_ok());
    // It travels: a cable that is not used has no figures, and reads back as one that nobody has described.
    let text = serde_json::to_string(&worked.input).unwrap();
    let back: PlanInput = serde_json::from_str(&text).unwrap();
    let mut again = Draft::of(&back);
    assert!(again.work().is_sound());
    assert_eq!(again.text("cable.starboard.shackles_aboard"), "");
    again.type_in("cable.side", "starboard".to_owned());
    let missing = again.work().missing;
    assert_eq!(
        missing.len(),
        fields::of_cable(Side::Starboard).len(),
        "{missing:?}"
    );
    assert!(again.work().output.proposed.result.is_err());
}

#[test]
fn no_figure_stands_on_a_choice_that_nobody_has_made() {
    for choice in [
        "cable.side",
        "place.ground",
        "choice.rule",
        "cable.port.chain_grade",
    ] {
        let mut draft = Draft::empty();
        for (path, text) in as_typed() {
            if path != choice && !text.is_empty() {
                draft.type_in(&path, text);
            }
        }
        let worked = draft.work();
        assert_eq!(worked.missing.iter().collect::<Vec<_>>(), [choice]);
        assert!(worked.output.proposed.result.is_err(), "{choice}");
        assert!(worked.output.holding.result.is_err(), "{choice}");
        assert!(
            worked.output.depth.result.is_ok(),
            "the depth rests on none"
        );
    }
}

#[test]
fn what_was_typed_and_taken_away_again_is_wrong_and_not_only_missing() {
    let mut draft = Draft::empty();
    draft.type_in("weather.gust_kn", "22".to_owned());
    draft.type_in("weather.gust_kn", String::new());
    assert!(draft.work().wrong.contains_key("weather.gust_kn"));
}

#[test]
fn a_draft_that_an_older_program_kept_is_read() {
    let mut kept = serde_json::to_value(demo()).unwrap();
    kept.as_object_mut().unwrap().remove("blank");
    kept["is_example"] = true.into();
    let draft: Draft = serde_json::from_value(kept).unwrap();
    assert!(draft.is_example && !draft.is_begun_empty());
}
