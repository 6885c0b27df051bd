//! The sheet at the foot of the bow's screen that holds the step and its action, under the thumb.

use leptos::prelude::*;

use super::words;

/// Whether the sheet's first action can be taken now.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum SheetState {
    /// It can.
    #[default]
    Ready,
    /// The last press is on its way to the disk.
    Saving,
    /// It cannot, and this sentence says why.
    Blocked(String),
}

/// The bottom sheet: the step above, one or two large actions below, and the gypsy at its upper edge.
#[component]
pub fn ActionSheet(
    /// What the first action is called.
    #[prop(into)]
    primary: Signal<String>,
    /// Called when the first action is pressed.
    #[prop(into)]
    on_primary: Callback<()>,
    /// What the second action is called; empty when there is none.
    #[prop(optional, into)]
    secondary: Signal<String>,
    /// Called when the second action is pressed.
    #[prop(optional, into)]
    on_secondary: Option<Callback<()>>,
    /// Whether the first action can be taken now.
    #[prop(optional, into)]
    state: Signal<SheetState>,
    /// The step: its title, caution, keypad.
    children: Children,
) -> impl IntoView {
    let is_saving = move || state.get() == SheetState::Saving;
    let cannot = move || state.get() != SheetState::Ready;
    let why = move || match state.get() {
        SheetState::Blocked(why) => Some(view! { <p class="sheet-why">{why}</p> }),
        _ => None,
    };
    view! {
        <section class="action-sheet" aria-label=words::THIS_STEP>
            <svg class="sheet-gypsy" viewBox="0 0 96 52" aria-hidden="true" focusable="false">
                <path class="gypsy-well" d="M6 0C10 0 12 3 12 8A36 36 0 0 0 84 8C84 3 86 0 90 0Z" />
                <path class="gypsy-rim" d="M0 1H4C10 1 12 4 12 9A36 36 0 0 0 84 9C84 4 86 1 92 1H96" />
                <path class="gypsy-snug" d="M20 27l8-5M34 40l5-8M62 40l-5-8M76 27l-8-5" />
            </svg>
            <div class="sheet-body">{children()}</div>
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
                <button
                    type="button"
                    class="button is-first"
                    disabled=cannot
                    on:click=move |_| on_primary.run(())
                >
                    {move || if is_saving() { words::SAVING.to_owned() } else { primary.get() }}
                </button>
            </div>
        </section>
    }
}
