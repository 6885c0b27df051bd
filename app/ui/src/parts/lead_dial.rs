//! How the cable leads, against the ship's head.

use leptos::prelude::*;

use crate::words::parts as words;

/// A dial with the ship's head up: the bow, the hours, and the cable's lead.
///
/// The weight on the cable is drawn as the thickness of the lead, and said in the sentence beside it.
#[component]
pub fn LeadDial(
    /// Where the cable leads, degrees clockwise from the ship's head; none before the first report.
    #[prop(into)]
    lead_deg: Signal<Option<f64>>,
    /// How the cable weighs, from 0 (slack) to 4 (very heavy).
    #[prop(optional, into)]
    weight: Signal<u8>,
    /// The report in words: 'Leads two o'clock, growing medium, light weight.'
    #[prop(into)]
    said: Signal<String>,
) -> impl IntoView {
    let hours = (0..12)
        .map(|hour| {
            let long = if hour % 3 == 0 { 12 } else { 6 };
            let d = format!("M0-92v{long}");
            view! { <path d=d transform=format!("rotate({})", hour * 30) class="dial-hour" /> }
        })
        .collect_view();
    let numbers = [(12, 0.0, -66.0), (3, 68.0, 6.0), (6, 0.0, 78.0), (9, -68.0, 6.0)]
        .map(|(hour, x, y)| view! { <text x=x.to_string() y=y.to_string() class="dial-number">{hour}</text> })
        .into_iter()
        .collect_view();
    let lead = move || {
        lead_deg.get().filter(|deg| deg.is_finite()).map(|deg| {
            let class = format!("dial-lead weighs-{}", weight.get().min(4));
            view! {
                <g transform=format!("translate(0 -26) rotate({deg:.0})")>
                    <path d="M0 0V-58" class=class />
                    <path d="M-8-52 0-66 8-52Z" class="dial-head" />
                </g>
            }
        })
    };
    view! {
        <figure class="lead-dial">
            <svg class="dial-drawing" viewBox="-100 -100 200 200" aria-hidden="true" focusable="false">
                <circle r="92" class="dial-ring" />
                {hours}
                {numbers}
                <path d="M0-30C16-14 18 6 18 46H-18C-18 6-16-14 0-30Z" class="dial-ship" />
                {lead}
            </svg>
            <figcaption class="dial-said">
                {move || if lead_deg.get().is_some() { said.get() } else { words::LEAD_NOT_REPORTED.to_owned() }}
            </figcaption>
        </figure>
    }
    .into_any()
}
