//! A word with its shape: how a state is told without leaning on colour.

use leptos::prelude::*;

/// How much a word asks of the reader.
///
/// The shapes follow the alert icons of bridge practice: a triangle calls, a square waits. Red belongs
/// to [`Tone::Alarm`] alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Tone {
    /// Nothing to do.
    #[default]
    Calm,
    /// Finished and good.
    Done,
    /// Waits for somebody, or has grown old.
    Wait,
    /// Out of limits, or someone may be hurt.
    Alarm,
}

impl Tone {
    /// Returns the class that colours whatever carries this tone.
    pub fn class(self) -> &'static str {
        match self {
            Self::Calm => "is-calm",
            Self::Done => "is-good",
            Self::Wait => "is-wait",
            Self::Alarm => "is-alarm",
        }
    }
}

/// Draws the shape of a tone; hidden from assistive technology, for a word always stands beside it.
#[component]
pub fn ToneShape(tone: Tone) -> impl IntoView {
    let shape = match tone {
        Tone::Calm => view! { <circle cx="12" cy="12" r="5.5" class="tone-open" /> }.into_any(),
        Tone::Done => view! {
            <rect x="6" y="2" width="12" height="20" rx="6" class="tone-solid" />
            <path d="M12 7v3M12 14v3" class="tone-cut" />
        }
        .into_any(),
        Tone::Wait => view! {
            <rect x="3" y="3" width="18" height="18" rx="2" class="tone-solid" />
            <path d="M9 8v8M15 8v8" class="tone-cut" />
        }
        .into_any(),
        Tone::Alarm => view! {
            <path d="M12 2 23 21H1Z" class="tone-solid" />
            <path d="M12 9v6M12 17.2v1.6" class="tone-cut" />
        }
        .into_any(),
    };
    view! {
        <svg class="tone-shape" viewBox="0 0 24 24" aria-hidden="true" focusable="false">
            {shape}
        </svg>
    }
    .into_any()
}

/// A state in one or two words, with its shape before it.
#[component]
pub fn StatusWord(
    /// How much the word asks of the reader.
    #[prop(into)]
    tone: Signal<Tone>,
    /// The word itself.
    #[prop(into)]
    word: Signal<String>,
) -> impl IntoView {
    view! {
        <span class=move || format!("status-word {}", tone.get().class())>
            {move || view! { <ToneShape tone=tone.get() /> }} <span>{move || word.get()}</span>
        </span>
    }
    .into_any()
}
