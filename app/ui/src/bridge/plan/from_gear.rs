//! What the register knows for the plan: offered beside each figure with where it comes from, and never put in by itself.

use super::{Desk, fields};
use crate::port::device;
use crate::words::plan as words;
use journal::plan_gear::{Offer, offers};
use leptos::prelude::*;

/// What is offered, for both anchors.
pub type Offers = Memo<Vec<Offer>>;

/// Reads what this device's records know.
pub fn known() -> Offers {
    let device = device();
    Memo::new(move |_| {
        let ledger = device.records.ledger;
        ledger.with(|ledger| ledger.as_ref().map(offers).unwrap_or_default())
    })
}

/// Says whether two texts are the same figure.
fn is_same(a: &str, b: &str) -> bool {
    let (a, b) = (a.trim(), b.trim());
    let numbers = (a.parse::<f64>(), b.parse::<f64>());
    a == b || matches!(numbers, (Ok(a), Ok(b)) if (a - b).abs() < 1e-9)
}

/// What the register offers for one figure: a key that takes it, or where the figure comes from.
#[component]
pub fn Offered(desk: Desk, #[prop(into)] path: String) -> impl IntoView {
    let side = desk.side();
    let text = desk.text(&path);
    let asked = path.clone();
    let mine = Memo::new(move |_| {
        let side = side.get();
        desk.offers.with(|all| {
            let is_mine =
                |offer: &&Offer| offer.path == asked && offer.side.is_none_or(|of| of == side);
            all.iter().find(is_mine).cloned()
        })
    });
    move || {
        let offer = mine.get()?;
        if is_same(&offer.text, &text.get()) {
            return Some(
                view! { <p class="field-help">{words::from_gear(&offer.from)}</p> }.into_any(),
            );
        }
        let (path, take) = (path.clone(), offer.text.clone());
        let said = words::offer(&shown(&path, &offer.text), &offer.from);
        Some(
            view! {
                <button
                    type="button"
                    class="button is-quiet plan-offer"
                    on:click=move |_| desk.type_in(&path, take.clone())
                >
                    {said}
                </button>
            }
            .into_any(),
        )
    }
}

/// Returns a figure as it is shown: one of several by its words.
fn shown(path: &str, text: &str) -> String {
    let field = fields::all().find(|field| field.path == path);
    match field.map(|field| field.kind) {
        Some(fields::Kind::Choice(choices)) => {
            let options = (choices.options)();
            let found = options.into_iter().find(|(name, _)| name == text);
            found.map_or_else(|| text.to_owned(), |(_, said)| said)
        }
        _ => text.to_owned(),
    }
}

/// The key that takes everything for which nothing is typed yet.
#[component]
pub fn TakeAll(desk: Desk) -> impl IntoView {
    let side = desk.side();
    let open = Memo::new(move |_| {
        let side = side.get();
        desk.draft.with(|draft| {
            let Some(draft) = draft else {
                return Vec::new();
            };
            desk.offers.with(|all| {
                let is_open = |offer: &&Offer| {
                    offer.side.is_none_or(|of| of == side)
                        && draft.text(&offer.path).trim().is_empty()
                };
                all.iter().filter(is_open).cloned().collect::<Vec<_>>()
            })
        })
    });
    let take = move |_| {
        let all = open.get_untracked();
        desk.change(|draft| {
            for offer in all {
                draft.type_in(&offer.path, offer.text);
            }
        });
    };
    move || {
        let count = open.with(Vec::len);
        (count > 0).then(|| {
            view! {
                <p class="plan-from">
                    <button type="button" class="button plan-take-all" on:click=take>
                        {words::take_all(count)}
                    </button>
                </p>
            }
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bridge::plan::draft::Draft;

    /// Every place to which a figure of the register goes is one of the plan's, and a grade is one of its choices.
    #[test]
    fn what_is_offered_has_its_place_in_a_plan() {
        let places = [
            "ship.name",
            "cable.port.anchor_mass_kg",
            "cable.starboard.chain_diameter_mm",
            "cable.port.shackles_aboard",
            "cable.port.shackle_length_m",
            "cable.starboard.kept_inboard_m",
            "gear.windlass_pull_kilonewtons",
            "gear.windlass_speed_m_per_min",
            "gear.brake_holding_kilonewtons",
            "ship.hawse_height_m",
            "cable.port.chain_grade",
        ];
        for path in places {
            assert!(fields::all().any(|field| field.path == path), "{path}");
        }
        for grade in ["grade1", "grade2", "grade3"] {
            assert_ne!(shown("cable.port.chain_grade", grade), grade);
        }
    }

    #[test]
    fn a_figure_that_is_taken_is_typed_and_missing_no_more() {
        let mut draft = Draft::empty();
        let path = "gear.windlass_speed_m_per_min";
        assert!(draft.work().missing.contains(path));
        draft.type_in(path, "9".to_owned());
        assert!(!draft.work().missing.contains(path));
        assert!(is_same("9.0", "9") && !is_same("9", "") && is_same("grade3", "grade3"));
    }
}
