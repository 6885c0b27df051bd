//! Every part in every state.

use leptos::prelude::*;
use ui::parts::*;

use crate::sample;

pub fn page() -> AnyView {
    let limits = Limits {
        least: Some(20.6),
        most: Some(21.5),
        decimals: 1,
    };
    let all: Vec<_> = LinkState::ALL
        .iter()
        .map(|state| sample::link(*state, state.word(), "Tam Orrin, 09:12"))
        .collect();
    view! {
        <main class="office-main">
            <h1>"Parts"</h1>
            <ChainLegend />
            <ChainLine links=all.clone() />
            <ChainStrip links=all.clone() />
            <ChainStrip links=all size=StripSize::Large />
            <ChainStrip links=sample::anchors_ready() size=StripSize::Large />
            <ChainStrip links=sample::run(20, 34, LinkState::Next) size=StripSize::Large />
            <CableScale out_m=151.0 aboard_m=275.0 keep_m=27.5 planned_m=Some(165.0) marks=crate::bridge::marks() said="5 and a half on deck" />
            <div class="plan-pair"><LeadDial lead_deg=Some(300.0) weight=4 said="Leads ten o'clock, growing long, heavy weight." /><LeadDial lead_deg=None said="" /></div>
            {[Tone::Calm, Tone::Done, Tone::Wait, Tone::Alarm].map(|tone| view! { <StatusWord tone=tone word=format!("{tone:?}") /> }).into_iter().collect_view()}
            {[Some(4), Some(45), Some(375), None].map(|s| view! { <Age heard_s=s /> }).into_iter().collect_view()}
            {[(0, 0, Some(4)), (14, 0, Some(745)), (2, 1, Some(31)), (1, 0, None)]
                .map(|(waiting, refused, heard_s)| view! { <SyncLine state=SyncState { is_withdrawn: false, waiting, refused, heard_s } /> })
                .into_iter()
                .collect_view()}
            {[
                Notice::StorageNotPersistent,
                Notice::StorageLow(12),
                Notice::NotSaved("The phone's storage is full.".into()),
                Notice::UpdateReady,
                Notice::OtherTab,
                Notice::ClockOff(-340),
                Notice::NotReached("It did not answer within 10 s.".into()),
            ]
                .map(|notice| view! { <Banner notice=notice on_act=|()| () /> })
                .into_iter()
                .collect_view()}
            {[20.8, 20.1, 22.4]
                .map(|value| view! { <ReadingBar label="Oxygen, locker bottom" value=value unit="%" limits=limits /> })
                .into_iter()
                .collect_view()}
            <Keypad value="" label="Trim" unit="m" limit="from -2.0 to 2.0" minus=Minus::Allowed on_change=|_| () />
            <Keypad value="-1.4" label="Trim" unit="m" verdict=Some(Verdict { tone: Tone::Done, sentence: "Within limits.".into() }) on_change=|_| () />
            <HoldButton label="Let go" on_held=|()| () />
            <HoldButton label="Let go" disabled=true on_held=|()| () />
            {crate::bridge::defects()}
            <Empty head="Nothing overdue" body="The next round is the hose test, due 3 December." />
            <CatenaryView cable=vec![] depth_m=f64::NAN grounded_m=0.0 />
        </main>
    }
    .into_any()
}
