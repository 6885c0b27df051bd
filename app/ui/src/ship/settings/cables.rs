//! The ship's cables: their lengths and marks, as the master describes them.

use super::super::in_force::{InForceForm, change_settings};
use crate::port::device;
use crate::words::ship as words;
use leptos::prelude::*;
use leptos_router::components::A;
use procedure::cable::{BOTH, Side, side_word};
use procedure::{Cable, Role, Settings};

/// Both cables, each with the master's form.
#[component]
pub fn CableRows(settings: StoredValue<Settings>) -> impl IntoView {
    let rows = BOTH.map(|side| cable_row(side, settings));
    view! {
        <section class="roll-part">
            <h2>{words::CABLES}</h2>
            <p class="quiet">
                {words::CABLES_BODY} " " <A href="/marks">{crate::words::forward::MARKS}</A>
            </p>
            <div class="table-frame">
                <table class="table">
                    <thead>
                        <tr>
                            <th scope="col">{words::CABLE_SIDE}</th>
                            <th scope="col">{words::CABLE_MARKS}</th>
                        </tr>
                    </thead>
                    <tbody>{rows.into_iter().collect_view()}</tbody>
                </table>
            </div>
        </section>
    }
}

fn cable_row(side: Side, settings: StoredValue<Settings>) -> impl IntoView {
    let device = device();
    let is_master = move || device.me().is_some_and(|me| me.roles.has(Role::Master));
    let described = settings.with_value(|settings| settings.cables.of(side).cloned());
    let said = described.as_ref().map_or_else(
        || view! { <p>{words::CABLE_UNKNOWN}</p> }.into_any(),
        |cable| {
            let total = words::cable_total(cable.total_m(), cable.keep_m.to_f64());
            let marks = (1..=cable.joints()).map(|number| {
                let paints = cable.paints_of(number).iter().map(|paint| paint.name());
                let paints: Vec<&str> = paints.collect();
                words::cable_mark(number, &paints.join(&crate::words::AND))
            });
            let marks: Vec<String> = marks.collect();
            view! {
                <p>{total}</p>
                <p class="quiet">{marks.join(", ")}</p>
            }
            .into_any()
        },
    );
    view! {
        <tr>
            <th scope="row">{side_word(side)}</th>
            <td>
                {said}
                {move || {
                    is_master()
                        .then(|| view! { <Describe side kept=described.clone() settings /> })
                }}
            </td>
        </tr>
    }
}

#[component]
fn Describe(side: Side, kept: Option<Cable>, settings: StoredValue<Settings>) -> impl IntoView {
    let device = device();
    // What nobody has described begins empty: an invented cable would be put in force with one press.
    let text = RwSignal::new(kept.as_ref().map(Cable::text).unwrap_or_default());
    let keep = RwSignal::new(
        kept.map(|cable| cable.keep_m.to_string())
            .unwrap_or_default(),
    );
    let read = move || Cable::parse(&text.get(), &keep.get());
    let why_not = Memo::new(move |_| read().err().map(|error| error.to_string()));
    let put = move |()| {
        let read = text.with_untracked(|text| Cable::parse(text, &keep.get_untracked()));
        if let Ok(cable) = read {
            device.dispatch(change_settings(settings, |all| all.cables.set(side, cable)));
        }
    };
    view! {
        <InForceForm summary=words::CHANGE.text() why_not on_held=put>
                <label class="field">
                    <span>{words::CABLE_LINES}</span>
                    <textarea
                        rows="10"
                        spellcheck="false"
                        prop:value=text
                        on:input:target=move |event| text.set(event.target().value())
                    ></textarea>
                </label>
                <label class="field">
                    <span>{words::CABLE_KEEP}</span>
                    <input
                        type="text"
                        prop:value=keep
                        on:input:target=move |event| keep.set(event.target().value())
                    />
                </label>
        </InForceForm>
    }
}
