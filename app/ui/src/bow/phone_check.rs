//! Whether this phone is ready for the bow: what has to be so, and what to do about what is not.

use super::head::BowHead;
use crate::fitness::{Finding, Line, PinFit, What, judge, unfit};
use crate::parts::{StatusWord, Tone};
use crate::port::{
    Command, Device, DeviceState, MediaCommand, RecordCommand, SystemCommand, UnlockView, device,
};
use crate::unlock_sheet::short_pin;
use crate::words::unlock_sheet as words;
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::components::A;

/// Returns every line about this device.
pub fn lines(device: Device) -> Vec<Line> {
    judge(
        &device.identity.fitness.get(),
        &device.system.keeping.get(),
        &device.link.state.get(),
        device.identity.lock.get(),
        short_pin(device).map_or(PinFit::Enough, |_| PinFit::Short),
    )
}

/// Whether the device is fit, in a few words that lead to the page about it.
#[component]
pub fn PhoneCheckLink() -> impl IntoView {
    let device = device();
    let unfit = Memo::new(move |_| {
        matches!(device.identity.state.get(), DeviceState::Enrolled(_))
            .then(|| unfit(&lines(device)))
    });
    move || {
        unfit.get().map(|count| {
            let (tone, word) = match count {
                0 => (Tone::Done, words::READY.to_owned()),
                n => (Tone::Wait, words::not_ready(n)),
            };
            view! {
                <A href="/bow/phone" attr:class="phone-check-link">
                    <StatusWord tone word />
                </A>
            }
        })
    }
}

fn change_pin(device: Device) {
    if let Some(chain) = untrack(|| short_pin(device)) {
        let view = UnlockView::Change(chain);
        device.identity.sheet.set(Some(view));
    }
}

/// The page.
#[component]
pub fn PhoneCheckPage() -> impl IntoView {
    let device = device();
    // Not from the clock's tick: what the browser is asked changes seldom.
    Effect::new(move |_| {
        if matches!(device.identity.state.get(), DeviceState::Enrolled(_)) {
            device.dispatch(SystemCommand::Look);
        }
    });
    let lines = Memo::new(move |_| lines(device));
    let head = move || match unfit(&lines.get()) {
        0 => view! { <h2 class="phone-check-head">{words::READY}</h2> <p>{words::READY_BODY}</p> }
            .into_any(),
        count => view! {
            <h2 class="phone-check-head">{words::not_ready(count)}</h2>
            <p>{words::NOT_READY_BODY}</p>
        }
        .into_any(),
    };
    let row = move |line: Line| {
        let command = match line.what {
            What::Trial if !line.is_fine => Some((words::SEND_TRIAL, RecordCommand::Trial.into())),
            What::Kept if !line.is_fine => {
                Some((words::ASK_KEEP, Command::from(SystemCommand::Persist)))
            }
            _ => None,
        };
        let (tone, word) = if line.is_fine {
            (Tone::Done, words::FINE)
        } else {
            (Tone::Wait, words::NOT_FINE)
        };
        view! {
            <li class="phone-check-line" class:is-fine=line.is_fine>
                <span class="phone-check-name">{words::fitness(line.what)}</span>
                <StatusWord tone word=word.to_owned() />
                <p>{words::finding(line.what, line.finding)}</p>
                {(line.finding == Finding::PinShort)
                    .then(|| {
                        view! {
                            <button type="button" class="button" on:click=move |_| change_pin(device)>
                                {words::LONGER_PIN}
                            </button>
                        }
                    })}
                {command
                    .map(|(label, command)| {
                        view! {
                            <button
                                type="button"
                                class="button"
                                disabled=move || device.records.saving.get()
                                on:click=move |_| device.dispatch(command.clone())
                            >
                                {label}
                            </button>
                        }
                    })}
            </li>
        }
    };
    view! {
        <Title text=words::PHONE_CHECK />
        <div class="bow is-list">
            <BowHead title=words::PHONE_CHECK back="/bow" />
            <main class="bow-home phone-check">
                <div role="status">{head}</div>
                <ul class="phone-check-lines">{move || lines.get().into_iter().map(row).collect_view()}</ul>
                <button type="button" class="button" on:click=move |_| device.dispatch(SystemCommand::Look)>
                    {words::LOOK_AGAIN}
                </button>
                <p class="quiet">{words::ALARM_LIMITS}</p>
                <button type="button" class="button" on:click=move |_| device.dispatch(MediaCommand::Alert)>
                    {words::TRY_ALARM}
                </button>
                <A href="/bow" attr:class="button is-primary">
                    {words::TO_BOW}
                </A>
            </main>
        </div>
    }
}
