//! Every vessel, and what is known of her at a glance.

use super::head::OfficeHead;
use crate::parts::{Empty, StatusWord, Tone};
use crate::port::source;
use crate::{time, words};
use journal::address;
use journal::board::VesselCard;
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::components::A;

fn row(card: VesselCard) -> AnyView {
    let (tone, said) = if card.forks > 0 {
        (Tone::Alarm, words::forked(card.forks))
    } else if card.defects > 0 {
        (Tone::Wait, words::open_defects(card.defects))
    } else {
        (Tone::Done, words::NO_DEFECT.to_owned())
    };
    // Of one of whom nothing has come nothing is known: neither that all is well, nor that nothing was done.
    let Some(heard_ms) = card.last_received_ms else {
        return view! {
            <tr>
                <th scope="row">
                    <A href=format!("/office/{}", card.id)>{card.name.clone()}</A>
                </th>
                <td colspan="6">
                    <StatusWord tone=Tone::Wait word=words::NEVER_HEARD.to_owned() />
                </td>
            </tr>
        }
        .into_any();
    };
    let rounds = words::ship::overdue(card.overdue, card.never_done);
    let round_tone = if card.overdue > 0 {
        Tone::Alarm
    } else if card.never_done > 0 {
        Tone::Wait
    } else {
        Tone::Done
    };
    let rounds = rounds.unwrap_or_else(|| words::NO_ROUND_DUE.to_owned());
    let class = if card.forks > 0 { "is-alarm" } else { "" };
    view! {
        <tr class=class>
            <th scope="row">
                <A href=format!("/office/{}", card.id)>{card.name.clone()}</A>
                <span class="quiet">{card.particulars.clone()}</span>
            </th>
            <td class="is-number">{card.open_runs}</td>
            <td class="is-number">{card.closed_runs}</td>
            <td>
                <StatusWord tone word=said />
                {(card.seconds > 0)
                    .then(|| {
                        view! {
                            <StatusWord tone=Tone::Wait word=words::seconds_wanted(card.seconds) />
                        }
                    })}
            </td>
            <td>
                <StatusWord tone=round_tone word=rounds />
            </td>
            <td class="is-number">{card.records}</td>
            <td class="is-time">{time::date_clock(heard_ms)}</td>
        </tr>
    }
    .into_any()
}

/// The office's first page.
#[component]
pub fn VesselsPage() -> impl IntoView {
    let source = source();
    let vessels = Resource::new(
        || (),
        move |()| {
            let source = source.clone();
            async move { source.get(address::VESSELS.at([])).await }
        },
    );
    view! {
        <Title text=words::VESSELS />
        <div class="office">
            <OfficeHead />
            <main class="office-main">
                <div class="office-title">
                    <h1>{words::VESSELS}</h1>
                    <p class="quiet">{words::VESSELS_BODY}</p>
                </div>
                <Suspense fallback=|| view! { <Empty head=words::LOADING body="" /> }>
                    {move || Suspend::new(async move {
                        match vessels.await {
                            Err(why) => {
                                view! { <Empty head=words::BOARD_UNREACHED body=why /> }.into_any()
                            }
                            Ok(cards) if cards.is_empty() => {
                                view! { <Empty head=words::NO_VESSEL body=words::NO_VESSEL_BODY /> }
                                    .into_any()
                            }
                            Ok(cards) => view! {
                                <div class="table-frame">
                                    <table class="table">
                                        <thead>
                                            <tr>
                                                <th scope="col">{words::VESSEL}</th>
                                                <th scope="col">{words::UNDER_WAY}</th>
                                                <th scope="col">{words::CLOSED}</th>
                                                <th scope="col">{words::DEFECTS}</th>
                                                <th scope="col">{words::ROUNDS_DUE}</th>
                                                <th scope="col">{words::RECORDS}</th>
                                                <th scope="col">{words::LAST_HEARD}</th>
                                            </tr>
                                        </thead>
                                        <tbody>{cards.into_iter().map(row).collect_view()}</tbody>
                                    </table>
                                </div>
                            }
                            .into_any(),
                        }
                    })}
                </Suspense>
            </main>
        </div>
    }
}
