//! What the signatures and the log prove, and what they do not: in plain words.

use crate::office::head::OfficeHead;
use crate::words::{Word, proof as words, roll};
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::components::A;

/// A part of the page: its heading, then pairs of what is said and what is said of it.
type Part = (Word, &'static [(Word, Word)]);

const PARTS: [Part; 4] = [
    (
        words::PROVES,
        &[
            (words::UNCHANGED, words::UNCHANGED_BODY),
            (words::COMPLETE, words::COMPLETE_BODY),
            (words::VOUCHED, words::VOUCHED_BODY),
        ],
    ),
    (
        words::PROVES_NOT,
        &[
            (words::DONE, words::DONE_BODY),
            (words::THUMB, words::THUMB_BODY),
            (words::TIME, words::TIME_BODY),
        ],
    ),
    (
        words::CHEATS,
        &[
            (words::SERVER_FILES, words::SERVER_FILES_BODY),
            (words::SHIPS_KEY, words::SHIPS_KEY_BODY),
            (words::OLD_BACKUP, words::OLD_BACKUP_BODY),
            (words::LOST_PHONE, words::LOST_PHONE_BODY),
            (words::ALL_TOGETHER, words::ALL_TOGETHER_BODY),
        ],
    ),
    (
        words::TO_DO,
        &[
            (words::EVERY_DAY, words::EVERY_DAY_BODY),
            (words::AT_HANDOVER, words::AT_HANDOVER_BODY),
            (words::ROLL_CHANGED, words::ROLL_CHANGED_BODY),
            (words::PHONE_LOST, words::PHONE_LOST_BODY),
        ],
    ),
];

/// The page about proof.
#[component]
pub fn ProofPage() -> impl IntoView {
    let pair = |(said, of_it): &(Word, Word)| {
        view! {
            <dt>{*said}</dt>
            <dd>{*of_it}</dd>
        }
    };
    let part = |(heading, pairs): Part| {
        view! {
            <section class="proof-part">
                <h2>{heading}</h2>
                <dl class="proof-list">{pairs.iter().map(pair).collect_view()}</dl>
            </section>
        }
    };
    view! {
        <Title text=words::TITLE />
        <div class="office ship">
            <OfficeHead />
            <main class="office-main">
                <div class="office-title">
                    <h1>{words::TITLE}</h1>
                    <p class="quiet">{words::INTRO}</p>
                    <p>
                        <A href="/roll">{roll::ROLL}</A>
                    </p>
                </div>
                {PARTS.into_iter().map(part).collect_view()}
            </main>
        </div>
    }
}
