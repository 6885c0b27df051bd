//! A keypad for a PIN: the digits never show, and no system keyboard covers the page.

use leptos::prelude::*;

/// The most digits that are taken up; a thumb that stays on a key stops here.
const MOST: usize = journal::pin::MOST_DIGITS;

/// Returns what was typed after a key of a physical keyboard; `None` where the key is not one of the pad's.
pub fn typed_after(typed: &str, key: &str) -> Option<String> {
    let mut text = typed.to_owned();
    if key == "Backspace" {
        text.pop();
        return Some(text);
    }
    let mut signs = key.chars();
    let digit = signs.next().filter(char::is_ascii_digit)?;
    if signs.next().is_some() {
        return None;
    }
    if text.len() < MOST {
        text.push(digit);
    }
    Some(text)
}

/// The pad: a display that shows how many digits stand there, ten digits, and a key that ends.
#[component]
pub fn PinPad(
    /// What the PIN is for, for those who hear the page.
    #[prop(into)]
    label: Signal<String>,
    /// What has been typed.
    typed: RwSignal<String>,
    /// What is to be said about it, and whether it is amiss.
    #[prop(optional, into)]
    said: Signal<Option<String>>,
    /// What the key that ends is called.
    #[prop(into)]
    end: Signal<String>,
    /// Whether it can be pressed now.
    #[prop(into)]
    ready: Signal<bool>,
    /// How many digits stand there, in words.
    #[prop(into)]
    count: Callback<usize, String>,
    /// What the key that takes the last digit away is called.
    erase: &'static str,
    /// Called when the key that ends is pressed.
    #[prop(into)]
    on_end: Callback<()>,
) -> impl IntoView {
    let press = move |key: &str| {
        if let Some(text) = typed_after(&typed.get_untracked(), key) {
            typed.set(text);
        }
    };
    let end_now = move || {
        if ready.get_untracked() {
            on_end.run(());
        }
    };
    let digit = move |digit: u8| {
        view! {
            <button type="button" class="key" on:click=move |_| press(&digit.to_string())>
                {digit}
            </button>
        }
    };
    let dots = move || {
        let count = typed.with(String::len);
        (0..count.max(6))
            .map(|at| view! { <span class="pin-dot" class:is-typed=at < count></span> })
            .collect_view()
    };
    view! {
        <div
            class="pin-pad"
            role="group"
            aria-label=move || label.get()
            tabindex="0"
            on:keydown=move |pressed| {
                let key = pressed.key();
                if key == "Enter" {
                    pressed.prevent_default();
                    end_now();
                } else if typed_after("", &key).is_some() {
                    pressed.prevent_default();
                    press(&key);
                }
            }
        >
            <p class="pin-display" aria-hidden="true">{dots}</p>
            <output class="unseen">{move || count.run(typed.with(String::len))}</output>
            <p class="pin-said" role="status" class:is-said=move || said.with(Option::is_some)>
                {move || said.get()}
            </p>
            <div class="keypad-keys">
                {(1..=9).map(digit).collect_view()}
                <button type="button" class="key is-word" on:click=move |_| press("Backspace")>
                    {erase}
                </button>
                {digit(0)}
                <button
                    type="button"
                    class="key is-word is-end"
                    disabled=move || !ready.get()
                    on:click=move |_| end_now()
                >
                    {move || end.get()}
                </button>
            </div>
        </div>
    }
    .into_any()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_digits_are_taken_up_and_not_more_than_a_pin_has() {
        let typed = |keys: &[&str]| {
            keys.iter().fold(String::new(), |text, key| {
                typed_after(&text, key).unwrap_or(text)
            })
        };
        assert_eq!(typed(&["7", "3", "a", "Tab", "F5", "٣", "9"]), "739");
        assert_eq!(typed(&["7", "3", "Backspace", "9"]), "79");
        assert_eq!(typed(&["Backspace"]), "");
        assert_eq!(typed(&["5"; 30]).len(), MOST);
    }
}
