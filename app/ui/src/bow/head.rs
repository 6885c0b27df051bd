//! The head of every page at the bow: where I am, the light, the honest line about the ship, notices.

use super::emergency::{EmergencyKeys, Stops};
use super::phone_check::PhoneCheckLink;
use crate::journal_clock::CLOCK_TOLERANCE_S;
use crate::parts::{Banner, LightButton, Notice, SyncLine, SyncState};
use crate::port::{DeviceState, SystemCommand, device};
use crate::unlock_sheet::PersonMark;
use journal::Ledger;
use leptos::prelude::*;
use leptos_router::NavigateOptions;
use leptos_router::components::A;
use leptos_router::hooks::use_navigate;

fn seconds(ms: i64) -> u64 {
    u64::try_from(ms / 1000).unwrap_or(0)
}

/// Returns what the line about the ship says.
pub fn sync_state() -> Signal<SyncState> {
    let device = device();
    Signal::derive(move || {
        let now = device.system.now_ms.get();
        device.link.state.with(|link| SyncState {
            waiting: link.waiting,
            refused: link.refused.len(),
            is_withdrawn: device.identity.withdrawn.with(Option::is_some),
            heard_s: link.heard_ms.map(|heard| seconds(now - heard)),
        })
    })
}

/// The head of a page at the bow.
#[component]
pub fn BowHead(
    /// What the page is about.
    #[prop(into)]
    title: Signal<String>,
    /// Where the way back leads.
    #[prop(optional)]
    back: Option<&'static str>,
    /// What stands beside the line about the ship.
    #[prop(optional)]
    children: Option<Children>,
) -> impl IntoView {
    let device = device();
    let navigate = use_navigate();
    Effect::new(move |_| {
        if let Some(run) = device.records.started.get() {
            device.records.started.set(None);
            navigate(&format!("/bow/run/{run}"), NavigateOptions::default());
        }
    });
    let ship = move || {
        device.records.ledger.with(|ledger| {
            ledger
                .as_ref()
                .and_then(|ledger| ledger.particulars())
                .map(|body| body.name.clone())
                .unwrap_or_default()
        })
    };
    let at = if back == Some("/") {
        At::List
    } else {
        At::Work
    };
    let way_back = back.map(|href| {
        view! { <A href=href attr:class="bow-back" attr:aria-label=crate::words::BACK>"‹"</A> }
    });
    let stops = match children {
        Some(_) => Stops::Itself,
        None => Stops::All,
    };
    view! {
        <header class="bow-head">
            <div class="bow-where">
                {way_back}
                <h1>{move || title.get()}</h1>
                <span class="bow-ship">{ship}</span>
                <PersonMark />
                <LightButton
                    chosen=device.system.light
                    on_choose=move |light| device.dispatch(SystemCommand::Light(light))
                />
            </div>
            <div class="bow-beside">
                <SyncLine state=sync_state() />
                {match children {
                    Some(children) => children(),
                    None if at == At::List => view! { <PhoneCheckLink /> }.into_any(),
                    None => ().into_any(),
                }}
            </div>
            <EmergencyKeys stops />
        </header>
        <Notices at />
    }
}

/// Where notices stand: at work only what concerns the work itself takes room from it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum At {
    List,
    Work,
}

/// What the device has to say about itself.
#[component]
fn Notices(at: At) -> impl IntoView {
    let device = device();
    let enrolled = move || matches!(device.identity.state.get(), DeviceState::Enrolled(_));
    let not_saved = move || device.records.trouble.get();
    let keeping = device.system.keeping;
    let clock_off = move || {
        device
            .link
            .state
            .with(|link| link.offset_ms)
            .map(|ms| ms / 1000)
            .filter(|s| s.abs() > CLOCK_TOLERANCE_S)
    };
    let no_run_open = move || {
        device.records.ledger.with(|ledger| {
            let mut open = ledger.iter().flat_map(Ledger::open_runs);
            open.next().is_none()
        })
    };
    let dismissed = RwSignal::new(false);
    view! {
        <div class="bow-notices">
            {move || {
                not_saved()
                    .map(|why| {
                        view! {
                            <Banner
                                notice=Notice::NotSaved(why)
                                on_act=move |()| device.dispatch(SystemCommand::Understood)
                            />
                        }
                    })
            }}
            {move || {
                (at == At::List && enrolled() && !keeping.with(|k| k.persistent) && !dismissed.get())
                    .then(|| {
                        view! {
                            <Banner
                                notice=Notice::StorageNotPersistent
                                on_act=move |()| {
                                    dismissed.set(true);
                                    device.dispatch(SystemCommand::Persist);
                                }
                            />
                        }
                    })
            }}
            {move || {
                keeping
                    .with(|k| k.low)
                    .then(|| view! { <Banner notice=Notice::StorageLow(20) /> })
            }}
            {move || clock_off().map(|s| view! { <Banner notice=Notice::ClockOff(s) /> })}
            {move || {
                keeping
                    .with(|k| k.update_ready)
                    .then(|| {
                        if no_run_open() {
                            view! {
                                <Banner
                                    notice=Notice::UpdateReady
                                    on_act=move |()| device.dispatch(SystemCommand::TakeUpdate)
                                />
                            }
                                .into_any()
                        } else {
                            view! { <Banner notice=Notice::UpdateReady /> }.into_any()
                        }
                    })
            }}
        </div>
    }
}
