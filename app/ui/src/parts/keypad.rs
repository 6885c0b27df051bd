//! The bow's own keypad for readings, so that no system keyboard covers the step.

use leptos::prelude::*;

use super::status_word::{Tone, ToneShape};
use crate::words::parts as words;

/// Whether a reading may be below zero.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Minus {
    /// It cannot.
    #[default]
    Never,
    /// It can: the keypad has a minus key.
    Allowed,
}

/// What the page says about the reading typed so far.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Verdict {
    /// How much it asks of the reader.
    pub tone: Tone,
    /// The sentence: what is wrong and what to do, or that all is well.
    pub sentence: String,
}

/// One key of the keypad.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Key {
    /// A digit, 0 to 9.
    Digit(u8),
    /// The decimal point.
    Point,
    /// The sign, put on or taken off.
    Minus,
    /// Takes the last sign away.
    Erase,
}

/// The most digits a reading may have, as a date has; more is a slip of the thumb.
const MOST_DIGITS: usize = 8;

/// Returns what stands in the display after `key` is pressed on `typed`.
///
/// The answer is always empty, or the beginning of a decimal number with a point, as the procedure reads it.
pub fn press(typed: &str, key: Key) -> String {
    let mut text = typed.to_owned();
    match key {
        Key::Digit(digit) => {
            let digits = text.chars().filter(char::is_ascii_digit).count();
            if digits < MOST_DIGITS && digit < 10 {
                if text == "0" || text == "-0" {
                    text.pop();
                }
                text.push(char::from(b'0' + digit));
            }
        }
        Key::Point => {
            if !text.contains('.') {
                if text.is_empty() || text == "-" {
                    text.push('0');
                }
                text.push('.');
            }
        }
        Key::Minus => {
            text = match text.strip_prefix('-') {
                Some(positive) => positive.to_owned(),
                None => format!("-{text}"),
            };
        }
        Key::Erase => {
            text.pop();
        }
    }
    text
}

/// Returns the key a physical keyboard's key stands for; comma counts as the point.
pub fn key_named(name: &str, minus: Minus) -> Option<Key> {
    match name {
        "." | "," => Some(Key::Point),
        "-" if minus == Minus::Allowed => Some(Key::Minus),
        "Backspace" => Some(Key::Erase),
        _ => {
            let mut signs = name.chars();
            let digit = signs.next()?.to_digit(10)?;
            signs
                .next()
                .is_none()
                .then(|| Key::Digit(u8::try_from(digit).unwrap_or(0)))
        }
    }
}

/// The keypad with its display, unit, limit and verdict.
#[component]
pub fn Keypad(
    /// What has been typed so far.
    #[prop(into)]
    value: Signal<String>,
    /// What the reading is of.
    #[prop(into)]
    label: Signal<String>,
    /// The unit beside the number.
    #[prop(into)]
    unit: Signal<String>,
    /// The limit in words, such as 'at least 0.30'.
    #[prop(optional, into)]
    limit: Signal<String>,
    /// What the page says about it; none while nothing can be said yet.
    #[prop(optional, into)]
    verdict: Signal<Option<Verdict>>,
    /// Whether there is a minus key.
    #[prop(optional)]
    minus: Minus,
    /// Called with the new text after each key.
    #[prop(into)]
    on_change: Callback<String>,
    /// What stands above the display and stays with it, such as the points of the reading.
    #[prop(optional)]
    children: Option<Children>,
) -> impl IntoView {
    let typed = move |key: Key| on_change.run(press(&value.get_untracked(), key));
    let digit = move |digit: u8| {
        view! {
            <button type="button" class="key" on:click=move |_| typed(Key::Digit(digit))>
                {digit}
            </button>
        }
    };
    let class = move || {
        format!(
            "keypad {}",
            verdict.get().map_or("is-calm", |said| said.tone.class())
        )
    };
    view! {
        <div
            class=class
            role="group"
            aria-label=move || label.get()
            tabindex="0"
            on:keydown=move |pressed| {
                if let Some(key) = key_named(&pressed.key(), minus) {
                    pressed.prevent_default();
                    typed(key);
                }
            }
        >
            {children.map(|children| children())}
            <div class="keypad-display">
                <output class="keypad-value" aria-live="polite">
                    {move || {
                        let text = value.get();
                        if text.is_empty() {
                            view! { <span class="keypad-nothing">{words::NOTHING_TYPED}</span> }.into_any()
                        } else {
                            view! { <span>{text.replace('-', "\u{2212}")}</span> }.into_any()
                        }
                    }}
                </output>
                <span class="keypad-unit">{move || unit.get()}</span>
                <span class="keypad-limit">{move || limit.get()}</span>
            </div>
            <p class="keypad-verdict" role="status">
                {move || {
                    verdict
                        .get()
                        .map(|said| view! { <ToneShape tone=said.tone /> <span>{said.sentence}</span> })
                }}
            </p>
            <div class="keypad-keys" class:has-minus=minus == Minus::Allowed>
                {(1..=9).map(digit).collect_view()}
                <button
                    type="button"
                    class="key"
                    aria-label=words::KEY_POINT
                    on:click=move |_| typed(Key::Point)
                >
                    "."
                </button>
                {digit(0)}
                {(minus == Minus::Allowed)
                    .then(|| {
                        view! {
                            <button
                                type="button"
                                class="key is-minus"
                                aria-label=words::KEY_MINUS
                                on:click=move |_| typed(Key::Minus)
                            >
                                "\u{2212}"
                            </button>
                        }
                    })}
                <button type="button" class="key is-word" on:click=move |_| typed(Key::Erase)>
                    {words::KEY_ERASE}
                </button>
            </div>
        </div>
    }
    .into_any()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn typing(keys: &[Key]) -> String {
        keys.iter()
            .fold(String::new(), |text, key| press(&text, *key))
    }

    #[test]
    fn what_is_typed_is_always_the_beginning_of_a_number() {
        let rows: &[(&[Key], &str)] = &[
            (&[Key::Point, Key::Digit(6), Key::Digit(2)], "0.62"),
            (&[Key::Digit(0), Key::Digit(0), Key::Digit(7)], "7"),
            (
                &[Key::Digit(2), Key::Point, Key::Point, Key::Digit(5)],
                "2.5",
            ),
            (&[Key::Minus, Key::Point, Key::Digit(4)], "-0.4"),
            (&[Key::Digit(4), Key::Minus, Key::Minus], "4"),
            (&[Key::Minus, Key::Digit(0), Key::Digit(3)], "-3"),
            (&[Key::Erase], ""),
            (&[Key::Digit(8), Key::Erase, Key::Erase], ""),
        ];
        for (keys, expected) in rows {
            assert_eq!(&typing(keys), expected, "{keys:?}");
        }
    }

    #[test]
    fn a_thumb_that_stays_on_a_key_stops_at_eight_digits() {
        assert_eq!(typing(&[Key::Digit(9); 20]), "99999999");
    }

    #[test]
    fn a_keyboard_beside_the_screen_types_the_same_keys() {
        assert_eq!(key_named("7", Minus::Never), Some(Key::Digit(7)));
        assert_eq!(key_named(",", Minus::Never), Some(Key::Point));
        assert_eq!(key_named("-", Minus::Never), None);
        assert_eq!(key_named("-", Minus::Allowed), Some(Key::Minus));
        assert_eq!(key_named("F5", Minus::Allowed), None);
        assert_eq!(key_named("Tab", Minus::Allowed), None);
    }
}
