//! Photographs and voice notes on pages: what is taken or spoken, and what records name.

use crate::port::{MediaCommand, Picture, Speaking, Taking, device};
use crate::words;
use journal::address;
use leptos::prelude::*;
use procedure::ProcedureHash;

/// A photograph as this device has it; fetched from the ship where it is not here.
#[component]
pub fn DevicePhoto(
    /// SHA-256 of the picture.
    hash: [u8; 32],
    /// What it shows, in words.
    #[prop(into)]
    alt: String,
) -> impl IntoView {
    let picture = found(hash);
    move || match picture.get() {
        Some(Picture::Here(address)) => {
            view! { <img class="photo" src=address alt=alt.clone() /> }.into_any()
        }
        Some(Picture::NotHere) => {
            view! { <p class="photo-missing">{words::PHOTO_NOT_HERE}</p> }.into_any()
        }
        None | Some(Picture::Looking) => {
            view! { <p class="photo-missing">{words::PHOTO_LOOKING}</p> }.into_any()
        }
    }
}

/// Between looks for what was not here, ms: a record comes before what it names.
const LOOK_MS: i64 = 5_000;

/// Has what a record names looked for until it is here; returns how it stands.
fn found(hash: [u8; 32]) -> Memo<Option<Picture>> {
    let device = device();
    let how = Memo::new(move |_| device.media.pictures.with(|all| all.get(&hash).cloned()));
    let turn = Memo::new(move |_| device.system.now_ms.get() / LOOK_MS);
    Effect::new(move |_| {
        match how.get() {
            Some(Picture::Here(_) | Picture::Looking) => return,
            Some(Picture::NotHere) => turn.track(),
            None => {}
        }
        device.dispatch(MediaCommand::FindPhoto(hash));
    });
    how
}

/// A voice note as this device has it, with what plays it; fetched from the ship where it is not here.
#[component]
pub fn DeviceVoice(
    /// SHA-256 of the note.
    hash: [u8; 32],
) -> impl IntoView {
    let note = found(hash);
    move || {
        let words = match note.get() {
            Some(Picture::Here(address)) => return player(address),
            Some(Picture::NotHere) => words::VOICE_NOT_HERE,
            None | Some(Picture::Looking) => words::VOICE_LOOKING,
        };
        view! { <p class="photo-missing">{words}</p> }.into_any()
    }
}

/// What plays the voice note at an address: the browser's own.
pub fn player(address: String) -> AnyView {
    view! { <audio class="voice" controls preload="metadata" src=address aria-label=words::VOICE_NOTE></audio> }
        .into_any()
}

/// The key that turns the microphone on and off; what was said stands in `spoken` once it is on the disk.
#[component]
pub fn SpeakNote(
    /// SHA-256 of what was said.
    spoken: RwSignal<Option<[u8; 32]>>,
) -> impl IntoView {
    let device = device();
    let how = device.media.speaking;
    how.set(Speaking::Idle);
    Effect::new(move |_| {
        if let Speaking::Kept(hash) = how.get() {
            spoken.set(Some(hash));
        }
    });
    let is_on = move || how.with(|how| *how == Speaking::Listening);
    let label = move || match how.get() {
        Speaking::Listening => words::VOICE_END.text(),
        Speaking::Working => words::VOICE_WORKING.text(),
        _ if spoken.get().is_some() => words::VOICE_AGAIN.text(),
        _ => words::VOICE_SPEAK.text(),
    };
    // A page that is left listens no more.
    on_cleanup(move || device.dispatch(MediaCommand::Speak(false)));
    view! {
        <div class="take-photo">
            <button
                type="button"
                class="button"
                aria-pressed=move || is_on().to_string()
                on:click=move |_| {
                    device.dispatch(MediaCommand::Speak(!how.with_untracked(|how| *how == Speaking::Listening)));
                }
            >
                {label}
            </button>
            <p class="sheet-source">{words::VOICE_RULE}</p>
            {move || match how.get() {
                Speaking::Failed(why) => Some(view! { <p class="sheet-blocked">{why}</p> }),
                _ => None,
            }}
            {move || spoken.get().map(|hash| view! { <DeviceVoice hash /> })}
        </div>
    }
}

/// A photograph as the server has it; its words stand where it has not arrived.
#[component]
pub fn ServerPhoto(
    /// SHA-256 of the picture.
    hash: [u8; 32],
    /// What it shows, in words.
    #[prop(into)]
    alt: String,
) -> impl IntoView {
    let missing = RwSignal::new(false);
    let address = address::PHOTO.at([&ProcedureHash(hash)]).into_string();
    move || {
        if missing.get() {
            view! { <p class="photo-missing">{words::PHOTO_NOT_HERE}</p> }.into_any()
        } else {
            view! {
                <img
                    class="photo"
                    loading="lazy"
                    src=address.clone()
                    alt=format!("{}. {}", alt, words::PHOTO_NOT_HERE)
                    on:error=move |_| missing.set(true)
                />
            }
            .into_any()
        }
    }
}

/// The key that takes a photograph; what it took stands in `taken` once it is on the disk.
#[component]
pub fn TakePhoto(
    /// The input's id, one on a page.
    input: &'static str,
    /// SHA-256 of what was taken.
    taken: RwSignal<Option<[u8; 32]>>,
) -> impl IntoView {
    let device = device();
    device.media.taking.set(Taking::Idle);
    Effect::new(move |_| {
        if let Taking::Kept(hash) = device.media.taking.get() {
            taken.set(Some(hash));
        }
    });
    let label = move || match device.media.taking.get() {
        Taking::Working => words::PHOTO_WORKING.text(),
        Taking::Idle | Taking::Failed(_) if taken.get().is_none() => words::PHOTO_TAKE.text(),
        _ => words::PHOTO_AGAIN.text(),
    };
    let trouble = move || match device.media.taking.get() {
        Taking::Failed(why) => Some(view! { <p class="sheet-blocked">{why}</p> }),
        _ => None,
    };
    view! {
        <div class="take-photo">
            <input
                type="file"
                id=input
                class="take-photo-input"
                accept="image/*"
                capture="environment"
                on:change=move |_| device.dispatch(MediaCommand::TakePhoto { input: input.to_owned() })
            />
            <label for=input class="button">
                {label}
            </label>
            {trouble}
            {move || {
                taken
                    .get()
                    .map(|hash| view! { <DevicePhoto hash alt=words::PHOTO_TAKEN /> })
            }}
        </div>
    }
}
