//! The frame of one run on the bridge's board.

use leptos::prelude::*;

use super::{
    age::Age,
    chain::{ChainLink, ChainStrip, LinkState, StripSize},
};

/// One run: its chain, its step in words, who is at it and for how long, and how old the news is.
#[component]
pub fn BridgeCard(
    /// The run's name.
    #[prop(into)]
    title: String,
    /// The step at hand, in words.
    #[prop(into)]
    step: Signal<String>,
    /// Who is at it.
    #[prop(into)]
    who: Signal<String>,
    /// How long they have been at it.
    #[prop(into)]
    elapsed: Signal<String>,
    /// The run's links.
    #[prop(into)]
    links: Signal<Vec<ChainLink>>,
    /// Seconds since the phone was heard.
    #[prop(into)]
    heard_s: Signal<Option<u64>>,
    /// The last readings, as bars; a consent button at a hold.
    #[prop(optional)]
    children: Option<Children>,
) -> impl IntoView {
    let class = move || {
        let links = links.read();
        let has = |state| links.iter().any(|link: &ChainLink| link.state == state);
        if has(LinkState::OutOfLimits) {
            "bridge-card is-alarm"
        } else if has(LinkState::Stale) {
            "bridge-card is-wait"
        } else {
            "bridge-card"
        }
    };
    view! {
        <article class=class>
            <header class="bridge-card-head">
                <h2 class="bridge-card-title">{title}</h2>
                <Age heard_s=heard_s />
            </header>
            <ChainStrip links=links size=StripSize::Large />
            <p class="bridge-card-step">{move || step.get()}</p>
            <p class="bridge-card-who">
                <span>{move || who.get()}</span>
                <span class="bridge-card-elapsed">{move || elapsed.get()}</span>
            </p>
            {children.map(|children| view! { <div class="bridge-card-readings">{children()}</div> })}
        </article>
    }
    .into_any()
}
