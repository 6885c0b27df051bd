//! The sheet of a second person, who looks at what another did and signs for it, or says that it is not so.

use super::super::run::working;
use super::{SheetMode, StepHead, sheet_state, to_fault};
use crate::parts::ActionSheet;
use crate::port::{UnlockView, device};
use crate::run_links::link_note;
use crate::words;
use leptos::prelude::*;
use procedure::{Event, PersonId, StepView};

/// What was done, by whom and when; the key to sign for it, and the one to say that it is not so.
#[component]
pub fn SecondSheet(
    step: StepView,
    event: [u8; 32],
    not_by: Vec<PersonId>,
    side: RwSignal<SheetMode>,
) -> impl IntoView {
    let working = working();
    let crew = working.crew.get_untracked();
    let is_later = step.second_later;
    let found = StepView {
        second_later: false,
        ..step.clone()
    };
    let by = working.card.with_untracked(|card| {
        card.as_ref()
            .map(|card| link_note(&card.view, &found, &crew))
            .unwrap_or_default()
    });
    let asked = Event::Second { event };
    // Whoever did it cannot sign: another of those whose keys are on this phone may, or on their own, later.
    let device = device();
    let is_mine = Memo::new(move |_| {
        let me = device.me().map(|me| PersonId::new(me.person));
        me.is_some_and(|me| not_by.contains(&me))
    });
    view! {
        <ActionSheet
            primary=words::SIGN_SECOND
            on_primary=move |()| working.say(Event::Second { event })
            secondary=words::NOT_SO
            on_secondary=to_fault(side)
            state=sheet_state(move || Some(asked.clone()))
        >
            <StepHead step=step.clone() side />
            // Whoever did it reads over the keys that they cannot sign; the others who did it and when.
            {move || {
                if is_mine.get() {
                    view! {
                        <button
                            type="button"
                            class="button"
                            on:click=move |_| device.identity.sheet.set(Some(UnlockView::People))
                        >
                            {words::SIGN_AS_ANOTHER}
                        </button>
                    }
                        .into_any()
                } else {
                    let by = by.clone();
                    view! {
                        <p class="sheet-words sheet-second">{by} ". " {words::SECOND_WANTED}</p>
                        {is_later.then(|| view! { <p class="sheet-more">{words::SECOND_LATER}</p> })}
                    }
                        .into_any()
                }
            }}
            {is_later
                .then(|| {
                    view! {
                        <button
                            type="button"
                            class="button is-quiet"
                            on:click=move |_| working.opened.set(None)
                        >
                            {words::CLOSE_STEP}
                        </button>
                    }
                })}
        </ActionSheet>
    }
}
