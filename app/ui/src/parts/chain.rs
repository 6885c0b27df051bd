//! The one motif: a run's progress drawn as a length of stud-link chain.
//!
//! Shape tells first and colour second, so each state is a different drawing. Vertical at the bow, where each
//! link is a step of the run; horizontal on the bridge and in the office's lists.

use leptos::prelude::*;

use crate::words::parts as words;

/// What one link shows of its step.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum LinkState {
    /// Done: closed and solid.
    Done,
    /// To do: an outline.
    #[default]
    Open,
    /// The next to do: the link in the gypsy.
    Next,
    /// A hold that waits for consent: a stopper across the chain.
    Hold,
    /// Done, but its result has gone stale: an opened link.
    Stale,
    /// A reading out of limits: a bar through the link.
    OutOfLimits,
    /// Not done, with a reason: a hollow link with a stroke.
    NotDone,
    /// A fault was raised on it: a cracked link.
    Fault,
}

impl LinkState {
    /// Returns every state, in the order of a legend.
    pub const ALL: [Self; 8] = [
        Self::Done,
        Self::Next,
        Self::Open,
        Self::Hold,
        Self::Stale,
        Self::OutOfLimits,
        Self::NotDone,
        Self::Fault,
    ];

    /// Returns the class that styles a link in this state.
    pub fn class(self) -> &'static str {
        match self {
            Self::Done => "is-done",
            Self::Open => "is-open",
            Self::Next => "is-next",
            Self::Hold => "is-hold",
            Self::Stale => "is-stale",
            Self::OutOfLimits => "is-out",
            Self::NotDone => "is-not-done",
            Self::Fault => "is-fault",
        }
    }

    /// Returns the state in words, for the text beside the drawing.
    pub fn word(self) -> &'static str {
        words::link_state(self).text()
    }

    /// Returns whether the chain has passed this link, so that the length up to it is solid.
    fn is_past(self) -> bool {
        matches!(
            self,
            Self::Done | Self::NotDone | Self::Fault | Self::OutOfLimits | Self::Stale
        )
    }

    /// Returns whether the state needs its word written beside the step, not only read aloud.
    fn needs_word(self) -> bool {
        !matches!(self, Self::Done | Self::Open | Self::Next)
    }
}

/// One link: a step as the chain shows it.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ChainLink {
    /// The step's own id, handed back when the link is opened.
    pub id: String,
    /// What the link shows.
    pub state: LinkState,
    /// The step in words.
    pub title: String,
    /// Who and when, or why not; may be empty.
    pub note: String,
}

/// Counts what a reader asks of a chain first: how many links are done, of how many.
fn progress(links: &[ChainLink]) -> (usize, usize) {
    (
        links.iter().filter(|link| link.state.is_past()).count(),
        links.len(),
    )
}

/// Draws one stud link upright, its middle at the origin, 24 wide and 40 high.
pub(super) fn glyph(state: LinkState) -> AnyView {
    // A stud link seen flat: the bar bent to a long round, and the stud across its waist.
    let whole = "M0-20A12 12 0 0 1 12-8V8A12 12 0 0 1-12 8V-8A12 12 0 0 1 0-20Z";
    match state {
        LinkState::Done => view! {
            <path d=whole class="link-solid" />
            <path d="M0-14.5a5.5 5.5 0 0 1 5.5 5.5v5.4h-11V-9A5.5 5.5 0 0 1 0-14.5Z" class="link-eye" />
            <path d="M0 14.5a5.5 5.5 0 0 1-5.5-5.5V3.6h11V9A5.5 5.5 0 0 1 0 14.5Z" class="link-eye" />
        }
        .into_any(),
        LinkState::Open => view! { <path d=whole class="link-outline" /> }.into_any(),
        LinkState::Next => view! {
            <path d=whole class="link-bold" />
            <path d="M-9 0H9" class="link-bold" />
        }
        .into_any(),
        LinkState::Hold => view! {
            <path d=whole class="link-outline" />
            <path d="M-20-6H20V6H-20Z" class="link-stopper" />
            <path d="M-13-11V11M13-11V11" class="link-claw" />
        }
        .into_any(),
        LinkState::Stale => view! {
            // The upper arm has sprung out: the link no longer closes.
            <path d="M19-4C18-13 12-20 0-20A12 12 0 0 0-12-8V8A12 12 0 0 0 12 8V5" class="link-bold is-open-arm" />
        }
        .into_any(),
        LinkState::OutOfLimits => view! {
            <path d=whole class="link-bold" />
            <path d="M-19 9.5 19-9.5" class="link-bar-edge" />
            <path d="M-19 9.5 19-9.5" class="link-bar" />
        }
        .into_any(),
        LinkState::NotDone => view! {
            <path d=whole class="link-outline" />
            <path d="M-7 10 7-10" class="link-stroke" />
        }
        .into_any(),
        LinkState::Fault => view! {
            <path d="M-12-3V-8A12 12 0 0 1 12-8V-6L5-2-2-7-7-1Z" class="link-solid" />
            <path d="M12 3V8A12 12 0 0 1-12 8V5L-6 7-1 2 6 7Z" class="link-solid" />
        }
        .into_any(),
    }
}

/// One link by itself, upright, for a legend or beside a heading.
#[component]
pub fn LinkMark(
    /// What the link shows.
    state: LinkState,
) -> impl IntoView {
    view! {
        <svg
            class=format!("link-mark {}", state.class())
            viewBox="-22 -24 44 48"
            aria-hidden="true"
            focusable="false"
        >
            {glyph(state)}
        </svg>
    }
    .into_any()
}

/// Whether a list of links keeps the next one at its lower edge.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Follow {
    /// It stays where the reader left it.
    #[default]
    Nothing,
    /// It scrolls so that the last link before the next stands at the lower edge, above the gypsy.
    Next,
}

/// Returns the place of the link that should stand lowest: the one before the first that waits to be worked.
fn last_before_next(links: &[ChainLink]) -> Option<usize> {
    links
        .iter()
        .position(|link| matches!(link.state, LinkState::Next | LinkState::Hold))
        .map(|at| at.saturating_sub(1))
}

/// A run as a length of chain down the left edge, one step beside each link.
#[component]
pub fn ChainLine(
    /// The links, first to last.
    #[prop(into)]
    links: Signal<Vec<ChainLink>>,
    /// Called with the step's id when a link is opened; without it the list is only read.
    #[prop(optional, into)]
    on_open: Option<Callback<String>>,
    /// Whether the list scrolls so that the chain runs down into the sheet.
    #[prop(optional)]
    follow: Follow,
    /// The id of the step that the sheet shows, where it is not the next; empty when it is.
    #[prop(optional, into)]
    opened: Signal<String>,
) -> impl IntoView {
    let row = move |link: ChainLink, is_last_before: bool| {
        let here = NodeRef::<leptos::html::Li>::new();
        if is_last_before {
            Effect::new(move || {
                if let Some(here) = here.get() {
                    here.scroll_into_view_with_bool(false);
                }
            });
        }
        let word = link
            .state
            .needs_word()
            .then(|| view! { <span class="chain-word">{link.state.word()}</span> });
        let spoken = (!link.state.needs_word())
            .then(|| view! { <span class="unseen">{words::link_spoken(link.state)}</span> });
        let note = (!link.note.is_empty())
            .then(|| view! { <span class="chain-note">{link.note.clone()}</span> });
        let text = view! {
            <span class="chain-title">{link.title.clone()}{spoken}</span>
            <span class="chain-under">{word}{note}</span>
        };
        let body = match on_open {
            Some(on_open) => {
                let id = link.id.clone();
                view! {
                    <button type="button" class="chain-text" on:click=move |_| on_open.run(id.clone())>
                        {text}
                    </button>
                }
                .into_any()
            }
            None => view! { <div class="chain-text">{text}</div> }.into_any(),
        };
        let (id, state) = (link.id.clone(), link.state.class());
        let class = move || {
            let opened = if !id.is_empty() && opened.get() == id {
                " is-opened"
            } else {
                ""
            };
            format!("chain-row {state}{opened}")
        };
        let step = link.id.clone();
        let current = (link.state == LinkState::Next).then_some("step");
        view! {
            <li node_ref=here class=class aria-current=current data-step=step>
                <span class="chain-drawn">
                    <LinkMark state=link.state />
                </span>
                {body}
            </li>
        }
    };
    let rows = move || {
        let links = links.get();
        let stop = match follow {
            Follow::Nothing => None,
            Follow::Next => last_before_next(&links),
        };
        links
            .into_iter()
            .enumerate()
            .map(|(at, link)| row(link, stop == Some(at)))
            .collect_view()
    };
    view! {
        <div class="chain chain-line">
            <ol class="chain-rows">{rows}</ol>
        </div>
    }
    .into_any()
}

/// How large a strip of chain is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum StripSize {
    /// In a table's row.
    #[default]
    Small,
    /// On the bridge, readable from 2 m.
    Large,
}

/// Length of chain that one link takes in a strip, in the drawing's units: the link and the one on edge after it.
const PITCH: i32 = 54;

/// A run as a length of chain lying across, with the same told in words.
#[component]
pub fn ChainStrip(
    /// The links, first to last.
    #[prop(into)]
    links: Signal<Vec<ChainLink>>,
    /// How large.
    #[prop(optional)]
    size: StripSize,
) -> impl IntoView {
    let class = match size {
        StripSize::Small => "chain chain-strip is-small",
        StripSize::Large => "chain chain-strip is-large",
    };
    let drawn = move || {
        let links = links.get();
        let count = i32::try_from(links.len()).unwrap_or(i32::MAX / PITCH);
        let (done, all) = progress(&links);
        let width = (count * PITCH).max(PITCH);
        let middle = |at: i32| at * PITCH + PITCH / 2 - 6;
        let flat = links
            .iter()
            .zip(0i32..)
            .map(|(link, at)| {
                let x = middle(at);
                // The gypsy: a half-round below the link that is next.
                let gypsy = (link.state == LinkState::Next).then(|| {
                    let d = format!("M{} 2A23 23 0 0 0 {} 2Z", x - 23, x + 23);
                    view! { <path d=d class="link-gypsy" /> }
                });
                view! {
                    <g class=link.state.class()>
                        {gypsy} <g transform=format!("translate({x} 0) rotate(90)")>{glyph(link.state)}</g>
                    </g>
                }
            })
            .collect_view();
        // The links on edge lie over the ends of the flat ones that they join.
        let edge = links
            .iter()
            .zip(0i32..count - 1)
            .map(|(link, at)| {
                let class = if link.state.is_past() { "link-joint is-past" } else { "link-joint" };
                view! { <rect x=middle(at) + 10 y="-3.5" width=PITCH - 20 height="7" rx="3.5" class=class /> }
            })
            .collect_view();
        view! {
            <svg
                class="chain-drawing"
                viewBox=format!("0 -26 {width} 52")
                preserveAspectRatio="xMinYMid meet"
                role="img"
                aria-label=words::chain_in_words(done, all, &links)
            >
                {flat} {edge}
            </svg>
            <span class="chain-count">{words::done_of(done, all)}</span>
        }
    };
    view! { <div class=class>{drawn}</div> }.into_any()
}

/// Draws the legend of the chain's states, for the help page and the printed card.
#[component]
pub fn ChainLegend() -> impl IntoView {
    view! {
        <ul class="chain chain-legend">
            {LinkState::ALL
                .into_iter()
                .map(|state| {
                    view! {
                        <li class=state.class()>
                            <LinkMark state=state />
                            {state.word()}
                        </li>
                    }
                })
                .collect_view()}
        </ul>
    }
    .into_any()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn link(state: LinkState) -> ChainLink {
        ChainLink {
            id: "a".into(),
            state,
            title: "Brake set".into(),
            note: String::new(),
        }
    }

    #[test]
    fn every_state_has_a_class_and_a_word_of_its_own() {
        let classes: std::collections::HashSet<_> =
            LinkState::ALL.iter().map(|s| s.class()).collect();
        let words: std::collections::HashSet<_> = LinkState::ALL.iter().map(|s| s.word()).collect();
        assert_eq!(
            (classes.len(), words.len()),
            (LinkState::ALL.len(), LinkState::ALL.len())
        );
    }

    #[test]
    fn a_strip_tells_in_words_what_it_draws() {
        let links = [
            link(LinkState::Done),
            link(LinkState::OutOfLimits),
            link(LinkState::Next),
            link(LinkState::Open),
        ];
        let said = words::chain_in_words(2, 4, &links);
        assert_eq!(
            said,
            "2 of 4 steps worked. Next: Brake set. Out of limits: 1."
        );
    }

    #[test]
    fn the_list_stops_at_the_link_before_the_next() {
        let links = [
            link(LinkState::Done),
            link(LinkState::Stale),
            link(LinkState::Next),
            link(LinkState::Hold),
        ];
        assert_eq!(last_before_next(&links), Some(1));
        assert_eq!(last_before_next(&links[2..]), Some(0));
        assert_eq!(last_before_next(&links[..2]), None);
    }

    #[test]
    fn an_empty_chain_has_no_progress() {
        assert_eq!(progress(&[]), (0, 0));
    }
}
