//! Photographs: made smaller on the phone, kept under the hash of their bytes, sent when nothing else waits.
//!
//! A record carries the hash alone, so that a tick never waits for a picture.

use crate::answer::{PhotoSent, photo_sent};
use crate::client::Client;
use crate::http;
use crate::timer::sleep;
use journal::address;
use js_sys::{Promise, Uint8Array};
use leptos::prelude::*;
use record::hex;
use sha2::{Digest, Sha256};
use std::collections::BTreeSet;
use std::rc::Rc;
use ui::port::{Picture, Taking};
use wasm_bindgen::closure::Closure;
use wasm_bindgen::{JsCast, JsValue};
use wasm_bindgen_futures::JsFuture;
use web_sys::{
    Blob, CanvasRenderingContext2d, File, HtmlCanvasElement, HtmlInputElement, ImageBitmap,
};

/// The longer side of a photograph as it is kept, pixels.
const LONGEST_PX: f64 = 1280.0;
/// The JPEG quality with which it is kept.
const QUALITY: f64 = 0.7;
/// Between looks whether there is a photograph to send, ms.
const LOOK_MS: i32 = 4_000;
/// The note that says that a photograph is aboard.
const NOTE_SENT: &str = "photo/";

/// Takes up the photograph that was chosen in an input; says how it went in `device.media.taking`.
pub async fn take(client: &Client, input: &str) {
    let device = client.device;
    device.media.taking.set(Taking::Working);
    let done = match shrunk(input).await {
        Ok(bytes) => {
            let hash: [u8; 32] = Sha256::digest(&bytes).into();
            let kept = client.store.keep_photo(&hex::encode(&hash), &bytes).await;
            kept.map(|()| (hash, bytes))
                .map_err(|error| format!("the photograph is NOT kept: {error}"))
        }
        Err(_) => Err("this phone could not make the photograph smaller: take it again".to_owned()),
    };
    match done {
        Ok((hash, bytes)) => {
            let here = Picture::Here(data_url(&bytes));
            device.media.pictures.update(|pictures| {
                pictures.insert(hash, here);
            });
            device.media.taking.set(Taking::Kept(hash));
        }
        Err(why) => device.media.taking.set(Taking::Failed(why)),
    }
}

/// Returns an input, and the file that was chosen in it.
fn chosen(input: &str) -> Result<(HtmlInputElement, File), JsValue> {
    let document = web_sys::window().and_then(|window| window.document());
    let input: HtmlInputElement = document
        .and_then(|document| document.get_element_by_id(input))
        .ok_or(JsValue::NULL)?
        .dyn_into()?;
    let files = input.files();
    let file = files.and_then(|files| files.get(0)).ok_or(JsValue::NULL)?;
    Ok((input, file))
}

/// Reads the text of the file that was chosen in an input; what cannot be read leaves no text.
pub async fn read_text(client: &Client, input: &str) {
    let Ok((input, file)) = chosen(input) else {
        return;
    };
    let read = JsFuture::from(file.text()).await;
    // The same file may be chosen again once it was put right.
    input.set_value("");
    let text = read.ok().and_then(|text| text.as_string());
    client.device.media.text.set(text);
}

/// Reads the input's picture, draws it smaller, and returns it as JPEG.
async fn shrunk(input: &str) -> Result<Vec<u8>, JsValue> {
    let window = web_sys::window().ok_or(JsValue::NULL)?;
    let document = window.document().ok_or(JsValue::NULL)?;
    let (input, file) = chosen(input)?;
    let bitmap: ImageBitmap = JsFuture::from(window.create_image_bitmap_with_blob(&file)?)
        .await?
        .dyn_into()?;
    let (width, height) = (f64::from(bitmap.width()), f64::from(bitmap.height()));
    let scale = (LONGEST_PX / width.max(height)).min(1.0);
    let canvas: HtmlCanvasElement = document.create_element("canvas")?.dyn_into()?;
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a side is at most 1,280 pixels, and at least one"
    )]
    let side = |length: f64| (length * scale).round().max(1.0) as u32;
    canvas.set_width(side(width));
    canvas.set_height(side(height));
    let brush: CanvasRenderingContext2d =
        canvas.get_context("2d")?.ok_or(JsValue::NULL)?.dyn_into()?;
    brush.draw_image_with_image_bitmap_and_dw_and_dh(
        &bitmap,
        0.0,
        0.0,
        f64::from(canvas.width()),
        f64::from(canvas.height()),
    )?;
    input.set_value("");
    let blob: Blob = JsFuture::from(jpeg(&canvas)).await?.dyn_into()?;
    let buffer = JsFuture::from(blob.array_buffer()).await?;
    Ok(Uint8Array::new(&buffer).to_vec())
}

fn jpeg(canvas: &HtmlCanvasElement) -> Promise {
    Promise::new(&mut |resolve, reject| {
        let made = Closure::once_into_js(move |blob: JsValue| {
            // A resolver takes anything.
            let _ = resolve.call1(&JsValue::NULL, &blob);
        });
        let asked = canvas.to_blob_with_type_and_encoder_options(
            made.unchecked_ref(),
            "image/jpeg",
            &QUALITY.into(),
        );
        if let Err(error) = asked {
            let _ = reject.call1(&JsValue::NULL, &error);
        }
    })
}

/// The picture, or the voice note, as an address: pages take both from here only, pictures from the ship too.
pub fn data_url(bytes: &[u8]) -> String {
    let text: String = bytes.iter().map(|byte| char::from(*byte)).collect();
    let packed = web_sys::window().and_then(|window| window.btoa(&text).ok());
    let kind = if bytes.starts_with(b"RIFF") {
        "audio/wav"
    } else {
        "image/jpeg"
    };
    format!("data:{kind};base64,{}", packed.unwrap_or_default())
}

/// Looks for a photograph on this device, then aboard; keeps what it finds aboard.
pub async fn find(client: &Client, hash: [u8; 32]) {
    let device = client.device;
    let show = |picture: Picture| {
        device.media.pictures.update(|pictures| {
            pictures.insert(hash, picture);
        });
    };
    // What is looked for again is said to be missing until it is here.
    let is_new = device
        .media
        .pictures
        .with_untracked(|pictures| !pictures.contains_key(&hash));
    if is_new {
        show(Picture::Looking);
    }
    let name = hex::encode(&hash);
    if let Ok(Some(bytes)) = client.store.photo(&name).await {
        show(Picture::Here(data_url(&bytes)));
        return;
    }
    match http::get(address::PHOTO.at([&name]).as_str()).await {
        Ok(reply) if <[u8; 32]>::from(Sha256::digest(&reply.bytes)) == hash => {
            // It is aboard: neither is it sent again, nor does it matter much if the disk is full.
            let kept = client.store.keep_photo(&name, &reply.bytes).await;
            if kept.is_ok() {
                let _ = client
                    .store
                    .set_note(&format!("{NOTE_SENT}{name}"), "aboard")
                    .await;
            }
            show(Picture::Here(data_url(&reply.bytes)));
        }
        _ => show(Picture::NotHere),
    }
}

/// Sends photographs one by one whenever no record waits, for as long as the page lives.
pub async fn keep_sending(client: Rc<Client>) {
    let mut sent: BTreeSet<String> = BTreeSet::new();
    loop {
        sleep(LOOK_MS).await;
        let in_touch = client
            .device
            .link
            .state
            .with_untracked(|link| link.waiting == 0 && link.trouble.is_none() && !link.busy);
        if !in_touch || client.own.get().is_none() {
            continue;
        }
        let Ok(names) = client.store.photo_names().await else {
            continue;
        };
        // One that no record names yet waits: its step is still being worked.
        let is_named = |name: &String| {
            let hash = hex::decode(name).and_then(|bytes| <[u8; 32]>::try_from(bytes).ok());
            let ledger = client.device.records.ledger;
            hash.is_some_and(|hash| {
                ledger.with_untracked(|ledger| {
                    ledger
                        .as_ref()
                        .is_some_and(|ledger| ledger.names_photo(&hash))
                })
            })
        };
        let wanted = |name: &String| !sent.contains(name) && is_named(name);
        let Some(name) = names.into_iter().find(wanted) else {
            continue;
        };
        if is_aboard(&client, &name).await {
            sent.insert(name);
        }
    }
}

/// Sends one photograph unless it is aboard; returns whether there is no more to do for it now.
async fn is_aboard(client: &Client, name: &str) -> bool {
    let note = format!("{NOTE_SENT}{name}");
    if let Ok(Some(_)) = client.store.note(&note).await {
        return true;
    }
    let Ok(Some(bytes)) = client.store.photo(name).await else {
        return true;
    };
    let answer = http::put_jpeg(address::PHOTO_PUT.at([&name]).as_str(), &bytes).await;
    match photo_sent(answer.map(drop)) {
        PhotoSent::Aboard => {
            // If the disk does not take the note, the ship is asked once more at the next start.
            let _ = client.store.set_note(&note, "aboard").await;
            true
        }
        PhotoSent::Later => false,
        PhotoSent::Refused(message) => {
            client
                .device
                .link
                .state
                .update(|link| link.refused.push((name.to_owned(), message)));
            true
        }
    }
}
