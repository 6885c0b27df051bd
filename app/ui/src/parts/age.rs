//! How old a piece of news is: it fades as it ages, and says so in words.

use leptos::prelude::*;

use crate::words::parts as words;

/// How far news has faded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fading {
    /// Heard within half a minute.
    Fresh,
    /// Heard within two minutes.
    Fading,
    /// Not heard for two minutes or more.
    Old,
    /// Never heard.
    Never,
}

/// Seconds after which news is no longer fresh.
const FRESH_S: u64 = 30;
/// Seconds after which news is old and must be said to be.
const OLD_S: u64 = 120;

impl Fading {
    /// Returns how far news of this age has faded.
    pub fn after(heard_s: Option<u64>) -> Self {
        match heard_s {
            None => Self::Never,
            Some(s) if s < FRESH_S => Self::Fresh,
            Some(s) if s < OLD_S => Self::Fading,
            Some(_) => Self::Old,
        }
    }

    /// Returns the class that fades it.
    pub fn class(self) -> &'static str {
        match self {
            Self::Fresh => "is-fresh",
            Self::Fading => "is-fading",
            Self::Old => "is-old",
            Self::Never => "is-never",
        }
    }
}

/// The age of the last news, such as 'heard 4 s ago' or 'not heard for 6 min'.
#[component]
pub fn Age(
    /// Seconds since it was heard; none when it never was.
    #[prop(into)]
    heard_s: Signal<Option<u64>>,
) -> impl IntoView {
    view! {
        <span class=move || format!("age {}", Fading::after(heard_s.get()).class())>
            <svg class="age-shape" viewBox="0 0 16 16" aria-hidden="true" focusable="false">
                {move || match Fading::after(heard_s.get()) {
                    Fading::Fresh => view! { <circle cx="8" cy="8" r="6" class="age-full" /> }.into_any(),
                    Fading::Fading => {
                        view! {
                            <circle cx="8" cy="8" r="6" class="age-ring" />
                            <path d="M8 2a6 6 0 0 1 0 12Z" class="age-full" />
                        }
                            .into_any()
                    }
                    Fading::Old => {
                        view! {
                            <circle cx="8" cy="8" r="6" class="age-ring" />
                            <path d="M8 4.5V8l2.5 2" class="age-ring" />
                        }
                            .into_any()
                    }
                    Fading::Never => view! { <path d="M3 3l10 10M13 3 3 13" class="age-ring" /> }.into_any(),
                }}
            </svg>
            <span>{move || words::heard(heard_s.get())}</span>
        </span>
    }
    .into_any()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn news_fades_and_then_says_it_is_old() {
        assert_eq!(Fading::after(Some(4)), Fading::Fresh);
        assert_eq!(Fading::after(Some(30)), Fading::Fading);
        assert_eq!(Fading::after(Some(120)), Fading::Old);
        assert_eq!(Fading::after(None), Fading::Never);
        assert_eq!(words::heard(Some(4)), "heard 4 s ago");
        assert_eq!(words::heard(Some(375)), "not heard for 6 min");
        assert_eq!(words::heard(Some(7 * 3600 + 5)), "not heard for 7 h");
        assert_eq!(words::heard(None), "not heard yet");
    }
}
