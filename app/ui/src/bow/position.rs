//! The ship's position: the phone's own fix with its accuracy, or typed from the ship's receiver.

use super::run::working;
use super::sheet::{Side, StepHead, sheet_state, to_fault};
use crate::parts::{ActionSheet, SheetState};
use crate::port::{Act, Fix, Fixing, phone};
use crate::words;
use leptos::prelude::*;
use procedure::{Decimal, Event, Outcome, StepView};

/// Decimal places of a degree that are written down: 1e-5 degrees of latitude are 1.1 m.
const PLACES: u8 = 5;

/// The sheet of a step that asks for the position.
#[component]
pub fn PositionSheet(step: StepView, side: RwSignal<Side>) -> impl IntoView {
    let working = working();
    let phone = phone();
    let latitude = RwSignal::new(String::new());
    let longitude = RwSignal::new(String::new());
    // The fix that the fields show; none once they were typed in.
    let from_phone = RwSignal::new(None::<Fix>);
    phone.fix.set(Fixing::Idle);
    let id = step.id.clone();
    Effect::new(move |_| {
        if let Fixing::Got(fix) = phone.fix.get() {
            let degrees = |value: f64| Decimal::from_f64(value, PLACES).map(|d| d.to_string());
            if let (Some(lat), Some(lon)) = (degrees(fix.lat_deg), degrees(fix.lon_deg)) {
                latitude.set(lat);
                longitude.set(lon);
                from_phone.set(Some(fix));
            }
        }
    });
    let event = move || {
        let lat_deg = latitude.get().trim().parse::<Decimal>().ok()?;
        let lon_deg = longitude.get().trim().parse::<Decimal>().ok()?;
        let fits = lat_deg.to_f64().abs() <= 90.0 && lon_deg.to_f64().abs() <= 180.0;
        let accuracy_m = from_phone
            .get()
            .and_then(|fix| Decimal::from_f64(fix.accuracy_m, 0));
        fits.then(|| Event::Done {
            step: id.clone(),
            outcome: Outcome::Position {
                lat_deg,
                lon_deg,
                accuracy_m,
            },
        })
    };
    let typed = event.clone();
    let refused = sheet_state(event.clone());
    let state = Signal::derive(move || match typed() {
        None => SheetState::Blocked(words::POSITION_FORM.to_owned()),
        Some(_) => refused.get(),
    });
    let field = move |label: &'static str, value: RwSignal<String>| {
        view! {
            <label class="field">
                <span>{label}</span>
                <input
                    type="text"
                    inputmode="decimal"
                    prop:value=value
                    on:input:target=move |event| {
                        value.set(event.target().value());
                        from_phone.set(None);
                    }
                />
            </label>
        }
    };
    let said = move || match (from_phone.get(), phone.fix.get()) {
        (Some(fix), _) => Some(words::fix_accuracy(fix.accuracy_m)),
        (None, Fixing::Failed(why)) => Some(why),
        _ => None,
    };
    let asking = move || phone.fix.get() == Fixing::Asked;
    view! {
        <ActionSheet
            primary=words::DONE
            on_primary=move |()| {
                if let Some(event) = event() {
                    working.say(event);
                }
            }
            secondary=words::NOT_SO
            on_secondary=to_fault(side)
            state
        >
            <StepHead step=step.clone() side />
            <button
                type="button"
                class="button"
                disabled=asking
                on:click=move |_| phone.ask(Act::Fix)
            >
                {move || if asking() { words::FIX_ASKED } else { words::FIX_TAKE }}
            </button>
            <p class="sheet-words" role="status">
                {said}
            </p>
            {field(words::LATITUDE, latitude)}
            {field(words::LONGITUDE, longitude)}
        </ActionSheet>
    }
}
