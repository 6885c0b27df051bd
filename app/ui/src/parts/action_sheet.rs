//! The sheet at the foot of the bow's screen that holds the step and its action, under the thumb.

use leptos::prelude::*;

use super::chain::{LinkState, glyph};
use crate::words::parts as words;

/// Whether the sheet's first action can be taken now.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum SheetState {
    /// It can.
    #[default]
    Ready,
    /// The last press is on its way to the disk.
    Saving,
    /// It cannot, and this sentence says why; an empty one where the sheet says it itself.
    Blocked(String),
}

/// The bottom sheet: the step above, one or two large actions below, and the gypsy at its upper edge.
#[component]
pub fn ActionSheet(
    /// What the first action is called; empty when the step is worked by a key inside the sheet.
    #[prop(optional, into)]
    primary: Signal<String>,
    /// Called when the first action is pressed.
    #[prop(optional, into)]
    on_primary: Option<Callback<()>>,
    /// What the second action is called; empty when there is none.
    #[prop(optional, into)]
    secondary: Signal<String>,
    /// Called when the second action is pressed.
    #[prop(optional, into)]
    on_secondary: Option<Callback<()>>,
    /// Whether the first action can be taken now.
    #[prop(optional, into)]
    state: Signal<SheetState>,
    /// The link that lies in the gypsy: the step's own state.
    #[prop(optional, into)]
    link: Signal<Option<LinkState>>,
    /// The step: its title, caution, keypad.
    children: Children,
) -> impl IntoView {
    let is_saving = move || state.get() == SheetState::Saving;
    let cannot = move || state.get() != SheetState::Ready;
    let why = move || match state.get() {
        SheetState::Blocked(why) if !why.is_empty() => {
            Some(view! { <p class="sheet-why">{why}</p> })
        }
        _ => None,
    };
    view! {
        <section class="action-sheet" aria-label=words::THIS_STEP>
            <svg class="sheet-gypsy chain" viewBox="0 0 80 50" aria-hidden="true" focusable="false">
                <path class="gypsy-well" d="M6 0C10 0 11 3 11 7A29 29 0 0 0 69 7C69 3 70 0 74 0Z" />
                <path class="gypsy-rim" d="M0 1.5H4C9 1.5 11 4 11 8A29 29 0 0 0 69 8C69 4 71 1.5 76 1.5H80" />
                <path class="gypsy-snug" d="M17.5 24.5l4.5-3.5M62.5 24.5l-4.5-3.5" />
                {move || {
                    let state = link.get().unwrap_or(LinkState::Next);
                    view! {
                        <g class=state.class() transform="translate(40 17) scale(0.84)">
                            {glyph(state)}
                        </g>
                    }
                }}
                <rect x="36.7" y="-26" width="6.6" height="36" rx="3.3" class="link-joint is-past" />
            </svg>
            <div class="sheet-body" tabindex="0">{children()}</div>
            {why}
            <div class="sheet-actions" aria-busy=move || is_saving().to_string()>
                {move || {
                    let label = secondary.get();
                    (!label.is_empty())
                        .then(|| {
                            view! {
                                <button
                                    type="button"
                                    class="button is-second"
                                    disabled=is_saving
                                    on:click=move |_| {
                                        if let Some(call) = on_secondary {
                                            call.run(());
                                        }
                                    }
                                >
                                    {label}
                                </button>
                            }
                        })
                }}
                {move || {
                    let label = primary.get();
                    (!label.is_empty())
                        .then(|| {
                            view! {
                                <button
                                    type="button"
                                    class="button is-first"
                                    disabled=cannot
                                    on:click=move |_| {
                                        if let Some(call) = on_primary {
                                            call.run(());
                                        }
                                    }
                                >
                                    {move || if is_saving() { words::SAVING.to_owned() } else { label.clone() }}
                                </button>
                            }
                        })
                }}
            </div>
        </section>
    }
    .into_any()
}
