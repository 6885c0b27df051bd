//! A defect as it stands on the boards and on the step it touches.

use leptos::prelude::*;

use super::status_word::{StatusWord, Tone};
use crate::words::parts as words;

/// How much a defect weighs on the work.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Severity {
    /// To be known.
    #[default]
    Note,
    /// To be repaired.
    Repair,
    /// The work may not go on.
    Stop,
}

impl Severity {
    /// Returns how much the severity asks of the reader.
    pub fn tone(self) -> Tone {
        match self {
            Self::Note => Tone::Calm,
            Self::Repair => Tone::Wait,
            Self::Stop => Tone::Alarm,
        }
    }
}

/// What the card tells of a defect.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Defect {
    /// The defect's own id, handed back when it is opened.
    pub id: String,
    /// What is wrong, in a sentence.
    pub title: String,
    /// Where on the ship, or on which step.
    pub place: String,
    /// Who raised it and when.
    pub raised: String,
    /// What has become of it: open, handed over to whom, closed.
    pub standing: String,
    /// How much it weighs.
    pub severity: Severity,
}

/// One defect.
#[component]
pub fn DefectCard(
    /// What the card tells.
    defect: Defect,
    /// Called with the defect's id when it is opened.
    #[prop(optional, into)]
    on_open: Option<Callback<String>>,
) -> impl IntoView {
    let id = defect.id.clone();
    let title = match on_open {
        Some(on_open) => view! {
            <button type="button" class="defect-title is-link" on:click=move |_| on_open.run(id.clone())>
                {defect.title}
            </button>
        }
        .into_any(),
        None => view! { <span class="defect-title">{defect.title}</span> }.into_any(),
    };
    view! {
        <article class=format!("defect-card {}", defect.severity.tone().class())>
            <StatusWord tone=defect.severity.tone() word=words::severity(defect.severity) />
            {title}
            <span class="defect-place">{defect.place}</span>
            <span class="defect-raised">{defect.raised}</span>
            <span class="defect-standing">{defect.standing}</span>
        </article>
    }
    .into_any()
}
