//! The master's signature under a plan, and the plans signed before.

use super::draft::{Draft, Worked};
use super::fields::{self, Group, label_of};
use super::form::id_of;
use super::{Desk, checks, figures};
use crate::parts::{HoldButton, StatusWord, Tone};
use crate::port::{DeviceState, RecordCommand, SystemCommand, device};
use crate::time;
use crate::words::plan as words;
use journal::board::PlanCard;
use leptos::prelude::*;
use procedure::Role;
use seamanship::plan::PlanInput;

/// Returns what a plan is for, in words.
fn title(plan: &PlanInput) -> String {
    let from = time::date_clock(plan.stay.from_utc_ms.0);
    if plan.place.name.is_empty() {
        words::from_when(&from)
    } else {
        words::place_from(&plan.place.name, &from)
    }
}

/// Returns what has to be typed first: the fields in their order, then the rows.
fn first_missing(work: &Worked) -> Option<String> {
    let side = work.input.cable.side;
    let fields = Group::ALL
        .into_iter()
        .flat_map(|group| fields::of(group, side));
    let field = fields
        .map(|field| field.path)
        .find(|path| work.missing.contains(*path));
    field
        .map(ToOwned::to_owned)
        .or_else(|| work.missing.first().cloned())
}

/// The key with which the master signs; others are told why they cannot.
#[component]
pub fn Sign(desk: Desk, plans: Memo<Vec<PlanCard>>) -> impl IntoView {
    let device = device();
    let sent = RwSignal::new(None::<String>);
    let reason = RwSignal::new(String::new());
    let fails = Memo::new(move |_| {
        desk.with_worked(|work| !checks::failing(work).is_empty())
            .unwrap_or(false)
    });
    let refusal = Memo::new(move |_| {
        let who = device.identity.state.with(|standing| match standing {
            DeviceState::Enrolled(me) if me.roles.has(Role::Master) => None,
            DeviceState::Enrolled(_) => Some(words::ONLY_MASTER),
            _ => Some(words::NOBODY_HERE),
        });
        who.or_else(|| {
            let missing = desk.with_worked(|work| work.missing.len()).unwrap_or(0);
            if missing > 0 {
                return Some(words::TYPE_FIRST);
            }
            let is_sound = desk.with_worked(Worked::is_sound).unwrap_or(false);
            if !is_sound || desk.order.with(Option::is_none) {
                return Some(words::WRONG_FIRST);
            }
            let is_said = reason.with(|reason| !reason.trim().is_empty());
            (fails.get() && !is_said).then_some(words::REASON_FIRST)
        })
    });
    // The first figure that is missing or refused: where it stands, and what is said of it.
    let refused = Memo::new(move |_| {
        desk.with_worked(|work| {
            let missing = first_missing(work).map(|path| {
                let label = label_of(&path);
                (path, label)
            });
            missing.or_else(|| {
                let (path, said) = work.wrong.iter().next()?;
                Some((path.clone(), words::wrong(&label_of(path), said)))
            })
        })
        .flatten()
    });
    let jump = |(path, said): (String, String)| {
        let to = format!("#{}", id_of(&path));
        view! {
            " "
            <a class="plan-jump" href=to rel="external">
                {said}
            </a>
        }
    };
    let is_signed = Memo::new(move |_| {
        let sent = sent.get();
        plans.with(|plans| {
            plans
                .first()
                .is_some_and(|newest| Some(&newest.input_json) == sent.as_ref())
        })
    });
    let sign = move |()| {
        let read = desk
            .work
            .with_untracked(|work| work.as_ref().map(|work| work.input.clone()));
        let (Some(plan), Some(order)) = (read, desk.order.get_untracked()) else {
            return;
        };
        // Only sound figures come here, and those have a place in JSON.
        let Ok(input_json) = serde_json::to_string(&plan) else {
            return;
        };
        sent.set(Some(input_json.clone()));
        device.dispatch(SystemCommand::KeepPlan(None));
        let reason = reason.get_untracked().trim().to_owned();
        device.dispatch(RecordCommand::Plan {
            title: title(&plan),
            input_json,
            order,
            reason: fails.get_untracked().then_some(reason),
        });
    };
    let own_order = move || {
        desk.draft.with(|draft| {
            draft
                .as_ref()
                .map(|draft| draft.own_order.clone())
                .unwrap_or_default()
        })
    };
    view! {
        <div class="plan-sign">
        <div class="field">
            <label for="plan-own-order">{words::OWN_ORDER}</label>
            <input
                id="plan-own-order"
                type="text"
                prop:value=own_order
                on:input=move |typed| {
                    let text = event_target_value(&typed);
                    desk.change(|draft| {
                        draft.own_order = text;
                        draft.is_touched = true;
                    });
                }
            />
        </div>
        <Show when=move || fails.get()>
            <label class="field">
                <span>{words::WHY_ALL_THE_SAME}</span>
                <input
                    type="text"
                    prop:value=reason
                    on:input:target=move |typed| reason.set(typed.target().value())
                />
            </label>
        </Show>
        <HoldButton
            label=Signal::derive(move || {
                let label = match (device.records.saving.get(), fails.get()) {
                    (true, _) => words::SAVING,
                    (false, true) => words::SIGN_ALL_THE_SAME,
                    (false, false) => words::SIGN,
                };
                label.to_owned()
            })
            disabled=Signal::derive(move || refusal.get().is_some() || device.records.saving.get())
            on_held=sign
        />
        <p class="plan-sign-note" role="status">
            {move || {
                if is_signed.get() {
                    Some(view! { <StatusWord tone=Tone::Done word=words::SIGNED /> }.into_any())
                } else {
                    refusal
                        .get()
                        .map(|why| {
                            view! {
                                <span>{why}</span>
                                {refused.get().map(jump)}
                            }
                            .into_any()
                        })
                }
            }}
        </p>
        </div>
    }
}

/// The plans signed, newest first; the figures of one can be taken up again.
#[component]
pub fn Earlier(desk: Desk, plans: Memo<Vec<PlanCard>>) -> impl IntoView {
    let before = RwSignal::new(None::<Draft>);
    let take = move |plan: &PlanInput| {
        let mut draft = Draft::of(plan);
        draft.is_touched = true;
        before.set(desk.draft.get_untracked());
        desk.draft.set(Some(draft));
    };
    let line = move |plan: PlanCard| {
        let said = words::signed(&plan.by, &time::date_clock(plan.signed_ms));
        let act = match figures(&plan) {
            Some(input) => view! {
                <button
                    type="button"
                    class="button is-quiet"
                    aria-label=format!("{}: {}", words::TAKE_FIGURES, plan.title)
                    on:click=move |_| take(&input)
                >
                    {words::TAKE_FIGURES}
                </button>
            }
            .into_any(),
            None => view! { <p class="quiet">{words::UNREADABLE}</p> }.into_any(),
        };
        view! {
            <li class="plan-earlier-line">
                <div>
                    <p class="plan-earlier-order">{plan.order}</p>
                    <p class="quiet">{plan.title} ". " {said}</p>
                </div>
                {act}
            </li>
        }
    };
    view! {
        <section class="plan-earlier">
            <h2 class="plan-heading">{words::EARLIER}</h2>
            {move || {
                before
                    .with(Option::is_some)
                    .then(|| {
                        view! {
                            <button
                                type="button"
                                class="button is-quiet"
                                on:click=move |_| {
                                    desk.draft.set(before.get_untracked());
                                    before.set(None);
                                }
                            >
                                {words::GIVE_BACK}
                            </button>
                        }
                    })
            }}
            {move || plans.with(Vec::is_empty).then(|| view! { <p>{words::NONE_SIGNED}</p> })}
            <ul>{move || plans.get().into_iter().map(line).collect_view()}</ul>
        </section>
    }
}
