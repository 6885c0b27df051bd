//! The order for the bow, in the words in which it is given: 'port, 6 on deck, lower all the way with the windlass'.

use seamanship::plan::{Basis, PlanInput, PlanOutput, Proposed, Side};
use seamanship::windlass::Laying;

/// Returns a mark at the gypsy as it is called: `6`, `5½`, `5.7`.
pub fn mark(shackles: f64) -> String {
    let halves = (shackles * 2.0).round();
    if (shackles * 2.0 - halves).abs() > 0.02 {
        // Never more than is there.
        return format!("{:.1}", (shackles * 10.0 + 1e-6).floor() / 10.0);
    }
    let whole = (halves / 2.0).floor();
    if halves % 2.0 == 0.0 {
        format!("{whole}")
    } else if whole == 0.0 {
        "½".to_owned()
    } else {
        format!("{whole}½")
    }
}

/// Returns the way of laying, in the imperative.
pub fn laying(laying: Laying) -> &'static str {
    match laying {
        Laying::LetGo => "let go from just outside the pipe",
        Laying::WalkBackLetGo => "lower to just above the bottom, then let go",
        Laying::WalkBack => "lower all the way with the windlass",
    }
}

/// Returns a side as it is called.
pub fn side(side: Side) -> &'static str {
    match side {
        Side::Port => "port",
        Side::Starboard => "starboard",
    }
}

/// Returns the order, or `None` while the length or the method is not known.
pub fn order(input: &PlanInput, output: &PlanOutput) -> Option<String> {
    let proposed = output.proposed.result.as_ref().ok()?;
    let method = output.method.result.as_ref().ok()?;
    Some(format!(
        "{}, {} on deck, {}",
        side(input.cable.side),
        mark(proposed.length.at_gypsy_shackles),
        laying(method.laying)
    ))
}

/// Returns how much is missing of what is ordered, or else of what is wanted; 0 if all of it is aboard.
pub fn short_by_m(proposed: &Proposed) -> f64 {
    let fit = proposed.length.fit;
    if proposed.basis == Basis::Ordered {
        return fit.short_by_m;
    }
    fit.short_by_m
        .max(proposed.wanted_m - fit.usable_m)
        .max(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use seamanship::plan::work_out;

    #[test]
    fn a_mark_is_called_by_halves_and_never_rounded_up() {
        for (shackles, called) in [
            (6.0, "6"),
            (5.5, "5½"),
            (0.5, "½"),
            (5.636_363, "5.6"),
            (5.98, "5.9"),
            (5.999_999, "6"),
        ] {
            assert_eq!(mark(shackles), called);
        }
    }

    #[test]
    fn the_order_says_side_mark_and_way() {
        let mut plan = PlanInput::aldermere_demo();
        plan.cable.port.shackles_aboard = 9.0;
        plan.choice.ordered_shackles = Some(6.0);
        let said = order(&plan, &work_out(&plan)).unwrap();
        assert_eq!(
            said,
            "port, 6 on deck, lower to just above the bottom, then let go"
        );
        plan.cable.side = Side::Starboard;
        plan.cable.starboard.shackles_aboard = 9.0;
        plan.place.ground = seamanship::holding::Ground::Rock;
        let said = order(&plan, &work_out(&plan)).unwrap();
        assert_eq!(
            said,
            "starboard, 6 on deck, lower all the way with the windlass"
        );
    }

    #[test]
    fn the_plan_and_the_procedure_say_the_way_with_the_same_words() {
        let all = procedure::library::all();
        let found = all
            .iter()
            .find(|procedure| procedure.slug() == "letting-go");
        let method = found.unwrap().step(&"method".into()).unwrap();
        let said: Vec<&str> = method
            .kind
            .options()
            .iter()
            .map(|o| o.label.as_str())
            .collect();
        let ways = [Laying::WalkBack, Laying::WalkBackLetGo, Laying::LetGo].map(laying);
        assert_eq!(said, ways);
    }

    #[test]
    fn there_is_no_order_without_a_length() {
        let mut plan = PlanInput::aldermere_demo();
        plan.place.charted_depth_m = f64::NAN;
        assert_eq!(order(&plan, &work_out(&plan)), None);
    }

    #[test]
    fn what_is_wanted_and_not_aboard_is_short() {
        let mut plan = PlanInput::aldermere_demo();
        plan.cable.port.shackles_aboard = 3.0;
        let proposed = work_out(&plan).proposed.result.unwrap();
        assert!(short_by_m(&proposed) > 1.0);
    }
}
