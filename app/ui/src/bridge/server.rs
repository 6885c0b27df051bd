//! What is wrong with the ship's server, for as long as it lasts.

use super::board::heard;
use crate::parts::Tone;
use crate::parts::status_word::ToneShape;
use crate::words::server_trouble;
use journal::Board;
use leptos::prelude::*;

/// Says what is wrong with the server that the board comes from.
#[component]
pub fn ServerStands() -> impl IntoView {
    let heard = heard();
    let troubles = Memo::new(move |_| {
        let troubles = |board: &Board| board.server.clone();
        heard
            .board
            .with(|board| board.as_ref().map(troubles).unwrap_or_default())
    });
    move || {
        let troubles = troubles.get();
        (!troubles.is_empty()).then(|| {
            let lines = troubles.iter().map(|trouble| {
                view! {
                    <div class=format!("banner {}", Tone::Alarm.class()) role="alert">
                        <ToneShape tone=Tone::Alarm />
                        <p class="banner-text">{server_trouble(trouble)}</p>
                    </div>
                }
            });
            view! { <section class="bridge-roll">{lines.collect_view()}</section> }
        })
    }
}
