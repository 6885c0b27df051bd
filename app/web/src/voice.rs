//! Voice notes: what a microphone hears for half a minute at most, kept like a photograph under the hash of its bytes.

use crate::client::Client;
use crate::photo::data_url;
use crate::timer::sleep;
use journal::voice::{LONGEST_S, RATE, write};
use js_sys::{ArrayBuffer, Promise};
use leptos::prelude::*;
use record::hex;
use sha2::{Digest, Sha256};
use std::cell::RefCell;
use ui::port::{Picture, Speaking};
use wasm_bindgen::closure::Closure;
use wasm_bindgen::{JsCast, JsValue};
use wasm_bindgen_futures::{JsFuture, spawn_local};
use web_sys::{
    AudioBuffer, Blob, BlobEvent, MediaRecorder, MediaStream, MediaStreamConstraints,
    MediaStreamTrack, OfflineAudioContext, RecordingState,
};

thread_local! {
    /// What listens now.
    static RECORDER: RefCell<Option<MediaRecorder>> = const { RefCell::new(None) };
}

/// Turns the microphone on, and keeps what it heard when it is turned off; says how it stands in `device.media.speaking`.
pub async fn speak(client: &Client, is_on: bool) {
    if !is_on {
        stop();
        return;
    }
    let media = client.device.media;
    let Ok(bytes) = spoken(media.speaking).await else {
        media.speaking.set(Speaking::Failed(
            "Nothing was heard. Allow this page the microphone, or write it.".to_owned(),
        ));
        return;
    };
    let hash: [u8; 32] = Sha256::digest(&bytes).into();
    let how = match client.store.keep_photo(&hex::encode(&hash), &bytes).await {
        Ok(()) => {
            media.pictures.update(|known| {
                known.insert(hash, Picture::Here(data_url(&bytes)));
            });
            Speaking::Kept(hash)
        }
        Err(error) => Speaking::Failed(format!("The voice note is NOT kept: {error}")),
    };
    media.speaking.set(how);
}

fn stop() {
    let recorder = RECORDER.with_borrow_mut(Option::take);
    if let Some(recorder) = recorder.filter(|one| one.state() != RecordingState::Inactive) {
        // One that has ended of itself has nothing to stop.
        let _ = recorder.stop();
    }
}

/// Listens until it is stopped, or the longest time is over; returns the voice note.
async fn spoken(speaking: RwSignal<Speaking>) -> Result<Vec<u8>, JsValue> {
    stop();
    let navigator = web_sys::window().ok_or(JsValue::NULL)?.navigator();
    let wanted = MediaStreamConstraints::new();
    wanted.set_audio(&JsValue::TRUE);
    let asked = navigator
        .media_devices()?
        .get_user_media_with_constraints(&wanted)?;
    let stream: MediaStream = JsFuture::from(asked).await?.dyn_into()?;
    let heard = heard(&stream, speaking).await;
    for track in stream.get_tracks().iter() {
        track.unchecked_into::<MediaStreamTrack>().stop();
    }
    speaking.set(Speaking::Working);
    let buffer: ArrayBuffer = JsFuture::from(heard?.array_buffer()).await?.dyn_into()?;
    // Decoding brings what was heard to the rate of the context.
    #[expect(clippy::cast_precision_loss, reason = "8,000")]
    let rate = RATE as f32;
    let context =
        OfflineAudioContext::new_with_number_of_channels_and_length_and_sample_rate(1, 1, rate)?;
    let sound: AudioBuffer = JsFuture::from(context.decode_audio_data(&buffer)?)
        .await?
        .dyn_into()?;
    let samples = sound.get_channel_data(0)?;
    if samples.is_empty() {
        return Err(JsValue::NULL);
    }
    Ok(write(&samples))
}

async fn heard(stream: &MediaStream, speaking: RwSignal<Speaking>) -> Result<Blob, JsValue> {
    let recorder = MediaRecorder::new_with_media_stream(stream)?;
    let data = Promise::new(&mut |resolve, _| {
        let given = Closure::once_into_js(move |event: BlobEvent| {
            // A resolver takes anything.
            let _ = resolve.call1(&JsValue::NULL, &event.data().into());
        });
        recorder.set_ondataavailable(Some(given.unchecked_ref()));
    });
    recorder.start()?;
    RECORDER.with_borrow_mut(|known| *known = Some(recorder.clone()));
    speaking.set(Speaking::Listening);
    spawn_local(async move {
        #[expect(clippy::cast_possible_wrap, reason = "half a minute")]
        sleep(LONGEST_S as i32 * 1_000).await;
        if recorder.state() != RecordingState::Inactive {
            // One that has ended meanwhile has nothing to stop.
            let _ = recorder.stop();
        }
    });
    JsFuture::from(data).await?.dyn_into()
}
