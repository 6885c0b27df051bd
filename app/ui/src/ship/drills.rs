//! Who is in date for what: each of the crew beside each drill and induction, by the records alone.

use crate::parts::{Caution, Empty, StatusWord, Tone};
use crate::port::device;
use crate::time;
use crate::words::forward as words;
use journal::address;
use journal::drills::{DrillsPage as Page, DrillsRow, drills_page};
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::components::A;
use procedure::in_date::{DateState, InDate};

const DAY_MS: i64 = 86_400_000;

fn tone(state: DateState) -> Tone {
    match state {
        DateState::Past => Tone::Alarm,
        DateState::Never | DateState::NotSet | DateState::Soon => Tone::Wait,
        DateState::In => Tone::Done,
    }
}

/// Returns the day of a moment, with its year.
fn date(ms: i64) -> String {
    let whole = time::date_clock(ms);
    whole.split(' ').next().unwrap_or_default().to_owned()
}

fn cell(stands: &InDate) -> impl IntoView + use<> {
    let last = stands.last_at_ms.map(|last| words::last_held(&date(last)));
    let until = stands
        .until_ms
        .map(|until| words::counts_until(&date(until)));
    let said = [last, until].into_iter().flatten().collect::<Vec<_>>();
    view! {
        <td data-drill=stands.slug.clone() data-state=format!("{:?}", stands.state).to_lowercase()>
            <StatusWord tone=tone(stands.state) word=words::date_state(stands.state).to_string() />
            {said.into_iter().map(|line| view! { <p class="quiet">{line}</p> }).collect_view()}
        </td>
    }
}

fn row(row: &DrillsRow) -> impl IntoView + use<> {
    let cells = row.dates.iter().map(cell).collect_view();
    view! {
        <tr data-person=row.person.id.clone()>
            <th scope="row">
                <span data-text="name">{row.person.name.clone()}</span>
                <p class="quiet" data-text="name">{row.person.rank.clone()}</p>
            </th>
            {cells}
        </tr>
    }
}

fn body(page: &Page) -> impl IntoView + use<> {
    let heads = page.drills.iter().map(|(slug, title)| {
        let title = title.clone();
        view! {
            <th scope="col">
                <A href=format!("/procedures/{slug}")>
                    <span data-text="procedure">{title}</span>
                </A>
            </th>
        }
    });
    let heads = heads.collect_view();
    let rows = page.rows.iter().map(row).collect_view();
    let nobody = page.rows.is_empty();
    view! {
        <div class="office-title">
            <h1>{words::DRILLS} " " <span data-text="name">{page.ship.clone()}</span></h1>
            <p class="quiet">{words::DRILLS_BODY}</p>
        </div>
        <Caution text=words::DRILLS_CAUTION.to_string() />
        {nobody.then(|| view! { <Empty head=words::NOBODY_ABOARD body="" /> })}
        <div class="table-frame">
            <table class="table drills">
                <thead>
                    <tr>
                        <th scope="col">{words::WHO}</th>
                        {heads}
                    </tr>
                </thead>
                <tbody>{rows}</tbody>
            </table>
        </div>
        <p class="not-printed">
            <A href="/foredeck">{words::FOREDECK}</A>
            " "
            <A href="/survey">{words::SURVEY}</A>
        </p>
    }
}

/// The page.
#[component]
pub fn DrillsPage() -> impl IntoView {
    let device = device();
    let today = Memo::new(move |_| device.system.now_ms.get().div_euclid(DAY_MS) * DAY_MS);
    view! {
        <Title text=words::DRILLS />
        {super::shown(
            || address::DRILLS.at([]),
            move |ledger| Some(drills_page(ledger, today.get())),
            |page: Page| body(&page),
        )}
    }
}
