//! A button for what cannot be undone: it is held, not tapped.

use std::time::Duration;

use leptos::prelude::*;

use crate::words::parts as words;

/// How long it must be held. The style sheet draws the progress over the same time.
pub const HOLD_MS: u64 = 800;

/// A button that answers only after it has been held, by thumb or by the space or enter key.
#[component]
pub fn HoldButton(
    /// What it does, in the imperative.
    #[prop(into)]
    label: Signal<String>,
    /// Whether it can be pressed now.
    #[prop(optional, into)]
    disabled: Signal<bool>,
    /// Called once for each full hold.
    #[prop(into)]
    on_held: Callback<()>,
) -> impl IntoView {
    let holding = RwSignal::new(false);
    // Each press has a number, so that a timer left over from a press let go too soon finds itself out of date.
    let press = StoredValue::new(0u32);
    let begin = move || {
        if disabled.get_untracked() || holding.get_untracked() {
            return;
        }
        press.update_value(|number| *number = number.wrapping_add(1));
        let mine = press.get_value();
        holding.set(true);
        set_timeout(
            move || {
                if press.try_get_value() == Some(mine) && holding.try_get_untracked() == Some(true)
                {
                    holding.set(false);
                    on_held.run(());
                }
            },
            Duration::from_millis(HOLD_MS),
        );
    };
    // A held button may be gone by the time it loses the focus: what it kept is gone with it.
    let leave = move || {
        press.try_update_value(|number| *number = number.wrapping_add(1));
        holding.try_set(false);
    };
    let is_hold_key = |name: &str| matches!(name, "Enter" | " ");
    view! {
        <button
            type="button"
            class="hold-button"
            class:is-holding=holding
            disabled=move || disabled.get()
            on:pointerdown=move |_| begin()
            on:pointerup=move |_| leave()
            on:pointercancel=move |_| leave()
            on:pointerleave=move |_| leave()
            on:contextmenu=move |opened| opened.prevent_default()
            on:keydown=move |pressed| {
                if is_hold_key(&pressed.key()) {
                    pressed.prevent_default();
                    if !pressed.repeat() {
                        begin();
                    }
                }
            }
            on:keyup=move |released| {
                if is_hold_key(&released.key()) {
                    leave();
                }
            }
            on:blur=move |_| leave()
        >
            <span class="hold-fill" aria-hidden="true"></span>
            <span class="hold-label">{move || label.get()}</span>
            <span class="hold-how" aria-live="polite">
                {move || if holding.get() { words::KEEP_HOLDING.text() } else { words::PRESS_AND_HOLD.text() }}
            </span>
        </button>
    }
    .into_any()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_drawn_progress_lasts_as_long_as_the_hold() {
        let style = include_str!("../../../../style/parts/hold_button.css");
        assert!(
            style.contains(&format!("{HOLD_MS}ms")),
            "hold_button.css does not say {HOLD_MS}ms"
        );
    }
}
