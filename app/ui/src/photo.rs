//! Photographs on pages: the one that is taken, and those that records name.

use crate::port::{MediaCommand, Picture, Taking, device};
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
    let device = device();
    Effect::new(move |_| {
        let known = device
            .media
            .pictures
            .with_untracked(|pictures| matches!(pictures.get(&hash), Some(Picture::Here(_))));
        if !known {
            device.dispatch(MediaCommand::FindPhoto(hash));
        }
    });
    let picture = Memo::new(move |_| device.media.pictures.with(|all| all.get(&hash).cloned()));
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
