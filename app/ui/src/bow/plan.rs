//! The master's plan at the bow: the order, large, and the plan behind it to read.

use super::head::BowHead;
use crate::bridge::plan::outcome::{
    Also, Checks, DepthOverStay, Hanging, Proposal, Swing, WindLimits,
};
use crate::bridge::plan::{draft::Draft, figures, plans, words};
use crate::parts::{Empty, StatusWord, Tone};
use crate::port::phone;
use crate::time;
use journal::RunCard;
use journal::board::PlanCard;
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::components::A;

const DAY_MS: i64 = 86_400_000;

/// The procedures that the order is for.
const ANCHORING: [&str; 2] = ["letting-go", "anchors-ready"];

/// Returns the plan that a run works to: the newest signed before the run ended, and not more than a day
/// before it began.
fn plan_for(plans: &[PlanCard], run: &RunCard) -> Option<PlanCard> {
    if !ANCHORING.contains(&run.slug.as_str()) {
        return None;
    }
    let last = if run.view.closed.is_some() {
        run.newest_ms
    } else {
        i64::MAX
    };
    let first = run.started_ms - DAY_MS;
    plans
        .iter()
        .find(|plan| (first..=last).contains(&plan.signed_ms))
        .cloned()
}

/// Returns whether the stay that a plan is for has ended.
fn is_over(plan: &PlanCard, now_ms: i64) -> bool {
    figures(plan).is_some_and(|input| input.stay.to_utc_ms.0 < now_ms)
}

/// One order, with who gave it.
#[component]
fn Order(plan: PlanCard) -> impl IntoView {
    let phone = phone();
    let over = {
        let plan = plan.clone();
        move || {
            let is_over = is_over(&plan, phone.now_ms.get());
            is_over.then(|| view! { <StatusWord tone=Tone::Wait word=words::STAY_OVER /> })
        }
    };
    view! {
        <aside class="bow-order" aria-label=words::MASTERS_ORDER>
            <A href="/bow/plan" attr:class="bow-order-link">
                <span class="bow-order-said">{plan.order}</span>
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
    let plans = plans(phone());
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
    let plans = plans(phone());
    let mine = Memo::new(move |_| {
        card.with(|card| plans.with(|plans| card.as_ref().and_then(|card| plan_for(plans, card))))
    });
    move || mine.get().map(|plan| view! { <Order plan /> })
}

/// The plan to read at the bow.
#[component]
pub fn BowPlanPage() -> impl IntoView {
    let plans = plans(phone());
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
                        <p class="plan-defer">{crate::words::DEFER}</p>
                    }
                    .into_any()
                }}
            </main>
        </div>
    }
}
