//! The plan: the master types what is known and expected, and sees at once how much cable, which way and
//! what limits. Worked out on the device itself, so that it needs no network.

mod blank;
pub mod checks;
pub mod draft;
mod drawn;
mod entry;
mod example;
pub(crate) mod fields;
mod form;
mod from_gear;
pub mod order;
pub mod outcome;
mod rule_table;
mod sign;

use crate::parts::{Banner, Defer, Empty, LightSwitch, Notice, StatusWord, Tone};
use crate::port::{Device, DeviceState, LinkCommand, SystemCommand, device};
use crate::time;
use crate::unlock_sheet::PersonMark;
use crate::words::plan as words;
use draft::{Draft, Worked};
use example::ExampleBeside;
use fields::Group;
use form::{Form, is_in};
use journal::board::{PlanCard, signed_plans};
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::components::A;
use outcome::{Also, Checks, DepthOverStay, Hanging, Proposal, Swing, WindLimits, Work};
use rule_table::RulesBesideEachOther;
use seamanship::plan::{PlanInput, Side};
use seamanship::time::UtcMs;
use sign::{Earlier, Sign};
use std::time::Duration;

/// How many of the plans signed are listed.
const LISTED: usize = 8;

/// What every part of the page shares.
#[derive(Debug, Clone, Copy)]
pub struct Desk {
    draft: RwSignal<Option<Draft>>,
    work: Work,
    order: Memo<Option<String>>,
    offers: from_gear::Offers,
}

impl Desk {
    fn new(draft: RwSignal<Option<Draft>>) -> Self {
        let work = Memo::new(move |_| draft.with(|draft| draft.as_ref().map(Draft::work)));
        let order = Memo::new(move |_| {
            let own = draft.with(|draft| {
                draft
                    .as_ref()
                    .map(|draft| draft.own_order.trim().to_owned())
                    .unwrap_or_default()
            });
            let proposed = work.with(|work| {
                work.as_ref()
                    .and_then(|work| order::order(&work.input, &work.output))
            });
            // Words of one's own stand only where the sums stand too.
            if own.is_empty() {
                proposed
            } else {
                proposed.map(|_| own)
            }
        });
        Self {
            draft,
            work,
            order,
            offers: from_gear::known(),
        }
    }

    fn with_worked<T>(&self, look: impl FnOnce(&Worked) -> T) -> Option<T> {
        self.work.with(|work| work.as_ref().map(look))
    }

    fn text(&self, path: &str) -> Signal<String> {
        let (draft, path) = (self.draft, path.to_owned());
        Signal::derive(move || {
            draft.with(|draft| {
                draft
                    .as_ref()
                    .map(|draft| draft.text(&path))
                    .unwrap_or_default()
            })
        })
    }

    fn wrong(&self, path: &str) -> Signal<Option<String>> {
        let (work, path) = (self.work, path.to_owned());
        Memo::new(move |_| {
            work.with(|work| {
                work.as_ref()
                    .and_then(|work| work.wrong.get(&path).cloned())
            })
        })
        .into()
    }

    /// How much of a group has to be typed still.
    fn missing_in(&self, group: Group) -> Memo<usize> {
        let work = self.work;
        Memo::new(move |_| {
            work.with(|work| {
                let work = work.as_ref()?;
                let side = work.input.cable.side;
                let missing = work.missing.iter();
                Some(missing.filter(|path| is_in(group, side, path)).count())
            })
            .unwrap_or(0)
        })
    }

    fn rows(&self, list: &'static str) -> Memo<usize> {
        let draft = self.draft;
        Memo::new(move |_| draft.with(|draft| draft.as_ref().map_or(0, |draft| draft.rows(list))))
    }

    fn side(&self) -> Memo<Side> {
        let work = self.work;
        Memo::new(move |_| {
            work.with(|work| {
                work.as_ref()
                    .map(|work| work.input.cable.side)
                    .unwrap_or_default()
            })
        })
    }

    fn change(&self, change: impl FnOnce(&mut Draft)) {
        self.draft.update(|draft| {
            if let Some(draft) = draft {
                change(draft);
            }
        });
    }

    fn type_in(&self, path: &str, text: String) {
        self.change(|draft| draft.type_in(path, text));
    }
}

/// Returns the plans signed, newest first: those on this device, or those that the ship tells.
pub fn plans(device: Device) -> Memo<Vec<PlanCard>> {
    Memo::new(move |_| {
        let own: Vec<_> = device.records.ledger.with(|ledger| {
            ledger
                .as_ref()
                .map(|ledger| signed_plans(ledger).take(LISTED).collect())
                .unwrap_or_default()
        });
        if own.is_empty() {
            device.link.board.with(|board| {
                board
                    .as_ref()
                    .map(|board| board.plans.clone())
                    .unwrap_or_default()
            })
        } else {
            own
        }
    })
}

/// Reads a plan's figures; none where they are of another version.
pub fn figures(plan: &PlanCard) -> Option<PlanInput> {
    journal::json::read(&plan.input_json).ok()
}

/// Fills the page with the plan signed last, as long as nothing is typed. Without one it starts empty: nothing that
/// somebody invented may be signed as the ship's.
fn fill(device: Device, plans: Memo<Vec<PlanCard>>) {
    Effect::new(move |_| {
        let is_open = device
            .identity
            .state
            .with(|standing| *standing != DeviceState::Opening);
        let newest = plans.with(|plans| plans.iter().find_map(figures));
        let is_touched = device
            .records
            .plan
            .with_untracked(|draft| draft.as_ref().is_some_and(|draft| draft.is_touched));
        if !is_open || is_touched {
            return;
        }
        let kept = device.records.kept_plan.with_untracked(|kept| {
            let draft: Draft = journal::json::read(kept.as_ref()?).ok()?;
            (!draft.is_example).then_some(draft)
        });
        if let Some(draft) = kept {
            device.records.plan.set(Some(draft));
            return;
        }
        let now = UtcMs(device.system.now_ms.get_untracked());
        let draft = newest.map_or_else(Draft::empty, |plan| Draft::taken_up(plan, now));
        device.records.plan.set(Some(draft));
    });
}

/// Keeps what is typed over a start of the page, after the frame that shows it.
fn keep(device: Device, late: Work) {
    Effect::new(move |_| {
        late.track();
        let text = device.records.plan.with_untracked(|draft| {
            let draft = draft.as_ref().filter(|draft| draft.is_touched)?;
            serde_json::to_string(draft).ok()
        });
        if text.is_some() {
            device.dispatch(SystemCommand::KeepPlan(text));
        }
    });
}

/// The bridge's page of the plan.
#[component]
pub fn PlanPage() -> impl IntoView {
    let device = device();
    let plans = plans(device);
    let desk = Desk::new(device.records.plan);
    Effect::new(move |_| device.dispatch(LinkCommand::Watch));
    fill(device, plans);
    // What is filled in comes from this device, so the server draws none of it.
    let is_filled = Memo::new(move |_| device.records.plan.with(Option::is_some));
    let stay = move || {
        desk.with_worked(|work| {
            let stay = &work.input.stay;
            let depth = work.output.depth.result.as_ref().ok()?;
            depth.series.first()?;
            Some(format!(
                "{}, {} to {}",
                work.input.place.name,
                time::date_clock(stay.from_utc_ms.0),
                time::date_clock(stay.to_utc_ms.0)
            ))
        })
        .flatten()
        .unwrap_or_default()
    };
    view! {
        <Title text=words::TITLE />
        <div class="plan">
            <header class="plan-head">
                <div>
                    <h1>{words::TITLE}</h1>
                    <p class="quiet">{stay}</p>
                </div>
                <A href="/bridge" attr:class="plan-way">
                    {words::BACK_TO_BOARD}
                </A>
                <PersonMark />
                <LightSwitch
                    chosen=device.system.light
                    on_choose=move |light| device.dispatch(SystemCommand::Light(light))
                />
            </header>
            {move || {
                if is_filled.get() {
                    view! { <Filled desk plans /> }.into_any()
                } else {
                    view! {
                        <main class="plan-out">
                            <Empty head=words::OPENING body="" />
                        </main>
                    }
                    .into_any()
                }
            }}
        </div>
    }
}

/// Where the figures came from.
#[component]
fn From(desk: Desk) -> impl IntoView {
    let said = Memo::new(move |_| {
        desk.draft.with(|draft| {
            let draft = draft.as_ref()?;
            match (draft.is_begun_empty(), draft.is_touched) {
                (true, false) => Some((Tone::Wait, words::EMPTY)),
                (false, false) => Some((Tone::Calm, words::FROM_LAST)),
                (_, true) => None,
            }
        })
    });
    move || {
        said.get().map(|(tone, word)| {
            view! {
                <p class="plan-from" role="status">
                    <StatusWord tone word=word />
                </p>
            }
        })
    }
}

/// Returns the plan as it stood when a frame was last shown: what is drawn from it does not keep the next
/// keystroke waiting, and is drawn once for all that were typed within a frame.
fn after_the_frame(work: Work) -> Work {
    let shown = RwSignal::new(0_u32);
    let is_asked = StoredValue::new(false);
    Effect::new(move |_| {
        work.track();
        if is_asked.get_value() {
            return;
        }
        is_asked.set_value(true);
        request_animation_frame(move || {
            // The frame is on the screen when the next task begins.
            set_timeout(
                move || {
                    // The page may be gone by then.
                    is_asked.try_set_value(false);
                    shown.try_update(|count| *count = count.wrapping_add(1));
                },
                Duration::ZERO,
            );
        });
    });
    Memo::new(move |_| {
        shown.track();
        work.get_untracked()
    })
}

#[component]
fn Filled(desk: Desk, plans: Memo<Vec<PlanCard>>) -> impl IntoView {
    let device = device();
    let work = desk.work;
    let late = after_the_frame(work);
    keep(device, late);
    let failing =
        Memo::new(move |_| late.with(|work| work.as_ref().map_or_else(Vec::new, checks::failing)));
    view! {
        // On a phone the form is long: the order stays in sight above it. It is read out where it stands below.
        <p class="plan-brief" aria-hidden="true">
            {move || desk.order.get().unwrap_or_else(|| words::NO_ORDER.to_owned())}
        </p>
        <Form desk />
        <main class="plan-out">
            {move || {
                device
                    .records.trouble
                    .get()
                    .map(|why| {
                        view! {
                            <Banner
                                notice=Notice::NotSaved(why)
                                on_act=move |()| device.dispatch(SystemCommand::Understood)
                            />
                        }
                    })
            }}
            <From desk />
            <from_gear::TakeAll desk />
            {move || plans.with(Vec::is_empty).then(|| view! { <ExampleBeside /> })}
            <section class="plan-proposal" aria-label=words::THE_PLAN>
                {move || checks::failing_lines(failing.get())}
                <Proposal work order=desk.order />
                <Sign desk plans />
            </section>
            <Checks work=late />
            <Hanging work=late />
            <WindLimits work=late />
            <div class="plan-pair">
                <Swing work=late />
                <DepthOverStay work=late />
            </div>
            <RulesBesideEachOther work=late />
            <Also work=late />
            <Earlier desk plans />
            <Defer />
        </main>
    }
}
