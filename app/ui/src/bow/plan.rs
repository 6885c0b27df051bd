//! The master's plan at the bow: the order, large, and the plan behind it to read.

use super::head::BowHead;
use crate::bridge::plan::outcome::{
    Also, Checks, DepthOverStay, Hanging, Proposal, Swing, WindLimits,
};
use crate::bridge::plan::{draft::Draft, figures, plans};
use crate::parts::{Defer, Empty, StatusWord, Tone};
use crate::port::device;
use crate::time;
use crate::words::plan as words;
use journal::RunCard;
use journal::board::PlanCard;
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::components::A;
use procedure::ChoiceOption;
use serde::Deserialize;

const DAY_MS: i64 = 86_400_000;

/// What an order needs of a plan's figures: reading all of them is for the page of the plan.
#[derive(Deserialize)]
struct WhileStaying {
    stay: Until,
}

#[derive(Deserialize)]
struct Until {
    to_utc_ms: i64,
}

/// Returns when the stay ends that a plan is for; none where its figures are of another version.
fn ends_ms(plan: &PlanCard) -> Option<i64> {
    let figures = journal::json::read::<WhileStaying>(&plan.input_json);
    figures.ok().map(|figures| figures.stay.to_utc_ms)
}

/// The procedures that the order is for.
const ANCHORING: [&str; 2] = ["letting-go", "anchors-ready"];

/// Returns the plan that a run works to: the newest signed before the run ended, and not more than a day
/// before it began. `plans` are newest first.
fn plan_for(plans: &[PlanCard], started_ms: i64, ended_ms: Option<i64>) -> Option<&PlanCard> {
    let signed_in = started_ms - DAY_MS..=ended_ms.unwrap_or(i64::MAX);
    plans
        .iter()
        .find(|plan| signed_in.contains(&plan.signed_ms))
}

/// Returns the plan that this run works to, if it is one that a plan is for.
pub(crate) fn plan_of(plans: &[PlanCard], run: &RunCard) -> Option<PlanCard> {
    if !ANCHORING.contains(&run.slug.as_str()) {
        return None;
    }
    let ended_ms = run.view.closed.is_some().then_some(run.newest_ms);
    plan_for(plans, run.started_ms, ended_ms).cloned()
}

/// Returns which of a choice's answers an order names, by its words; none where it names none of them, or several.
pub(crate) fn ordered<'o>(order: &str, options: &'o [ChoiceOption]) -> Option<&'o ChoiceOption> {
    let plain = |text: &str| {
        let words = text.split(|letter: char| !letter.is_alphanumeric());
        let words: Vec<String> = words
            .filter(|word| !word.is_empty())
            .map(str::to_lowercase)
            .collect();
        format!(" {} ", words.join(" "))
    };
    let said = plain(order);
    let mut named = options
        .iter()
        .filter(|option| said.contains(&plain(&option.label)));
    let found = named.next();
    found.filter(|_| named.next().is_none())
}

/// One order, with who gave it.
#[component]
fn Order(plan: PlanCard) -> impl IntoView {
    let device = device();
    let ends_ms = ends_ms(&plan);
    let fails = plan
        .reason
        .as_ref()
        .map(|reason| view! { <StatusWord tone=Tone::Alarm word=words::order_fails(reason) /> });
    let over = move || {
        ends_ms
            .is_some_and(|ends| ends < device.system.now_ms.get())
            .then(|| view! { <StatusWord tone=Tone::Wait word=words::STAY_OVER /> })
    };
    view! {
        <aside class="bow-order" aria-label=words::MASTERS_ORDER>
            <A href="/bow/plan" attr:class="bow-order-link">
                <span class="bow-order-said">{plan.order}</span>
                {fails}
                <span class="bow-order-who">
                    {over} " " {plan.by} ", " {time::date_clock(plan.signed_ms)} ". "
                    <span class="bow-order-more">{words::SEE_PLAN} " ›"</span>
                </span>
            </A>
        </aside>
    }
}

/// The newest order, on the bow's first page.
#[component]
pub fn NewestOrder() -> impl IntoView {
    let plans = plans(device());
    let newest = Memo::new(move |_| plans.with(|plans| plans.first().cloned()));
    move || newest.get().map(|plan| view! { <Order plan /> })
}

/// The order that a run works to, above its steps.
#[component]
pub fn OrderOfRun(
    /// The run.
    #[prop(into)]
    card: Signal<Option<RunCard>>,
) -> impl IntoView {
    let plans = plans(device());
    let mine = Memo::new(move |_| {
        card.with(|card| plans.with(|plans| card.as_ref().and_then(|card| plan_of(plans, card))))
    });
    move || mine.get().map(|plan| view! { <Order plan /> })
}

/// The plan to read at the bow.
#[component]
pub fn BowPlanPage() -> impl IntoView {
    let plans = plans(device());
    let newest = Memo::new(move |_| plans.with(|plans| plans.first().cloned()));
    let work = Memo::new(move |_| {
        newest
            .with(|plan| plan.as_ref().and_then(figures))
            .map(|input| Draft::of(&input).work())
    });
    let order =
        Signal::derive(move || newest.with(|plan| plan.as_ref().map(|plan| plan.order.clone())));
    let has_plan = Memo::new(move |_| newest.with(Option::is_some));
    let has_figures = Memo::new(move |_| work.with(Option::is_some));
    let signed = move || {
        newest.with(|plan| {
            plan.as_ref().map(|plan| {
                format!(
                    "{}. {}",
                    plan.title,
                    words::signed(&plan.by, &time::date_clock(plan.signed_ms))
                )
            })
        })
    };
    view! {
        <Title text=words::TITLE />
        <div class="bow is-list">
            <BowHead title=words::TITLE back="/bow" />
            <main class="plan-out is-bow">
                {move || {
                    if !has_plan.get() {
                        return view! { <Empty head=words::NO_PLAN body=words::NO_PLAN_BODY /> }.into_any();
                    }
                    if !has_figures.get() {
                        return view! {
                            <p class="plan-order">{order}</p>
                            <p>{signed}</p>
                            <p>{words::UNREADABLE}</p>
                        }
                        .into_any();
                    }
                    view! {
                        <section class="plan-proposal" aria-label=words::MASTERS_ORDER>
                            <Proposal work order />
                            <p class="quiet">{signed}</p>
                        </section>
                        <WindLimits work />
                        <Checks work />
                        <Hanging work />
                        <Swing work />
                        <DepthOverStay work />
                        <Also work />
                        <Defer />
                    }
                    .into_any()
                }}
            </main>
        </div>
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn signed_at(signed_ms: i64) -> PlanCard {
        PlanCard {
            id: record::RecordId([0; 32]),
            by: "Maren Holt".to_owned(),
            signed_ms,
            title: String::new(),
            order: format!("the order of {signed_ms}"),
            input_json: String::new(),
            reason: None,
        }
    }

    #[test]
    fn an_order_names_one_of_the_answers_by_its_words() {
        let all = procedure::library::all();
        let found = all
            .iter()
            .find(|procedure| procedure.slug() == "letting-go");
        let named = |order: &str, step: &str| {
            let options = found.unwrap().step(&step.into()).unwrap().kind.options();
            ordered(order, options).map(|option| option.key.clone())
        };
        let order = "port, 6 on deck, lower to just above the bottom, then let go";
        assert_eq!(named(order, "anchor").as_deref(), Some("port"));
        assert_eq!(named(order, "method").as_deref(), Some("walk-back"));
        assert_eq!(named(order, "counted-at").as_deref(), Some("deck"));
        let own = "Starboard anchor. Report when ready.";
        assert_eq!(named(own, "anchor").as_deref(), Some("starboard"));
        assert_eq!(named(own, "method"), None, "it says nothing of the way");
        assert_eq!(
            named("port, then starboard", "anchor"),
            None,
            "which is which is not told"
        );
    }

    #[test]
    fn a_run_works_to_the_newest_plan_of_its_day() {
        let started = 10 * DAY_MS;
        let plans = [
            signed_at(started + 7),
            signed_at(started - 5),
            signed_at(started - 3 * DAY_MS),
        ];
        let found = |ended| plan_for(&plans, started, ended).map(|plan| plan.signed_ms - started);
        assert_eq!(found(None), Some(7));
        assert_eq!(
            found(Some(started + 6)),
            Some(-5),
            "what came later was not its order"
        );
        let old = &plans[2..];
        assert_eq!(
            plan_for(old, started, None),
            None,
            "an old plan is no order for today"
        );
    }
}
