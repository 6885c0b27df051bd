//! The cable out, to scale, with the ship's own marks as flags on it.

use leptos::prelude::*;
use procedure::cable::Paint;

use crate::words::parts as words;

fn class_of(paint: Paint) -> &'static str {
    match paint {
        Paint::White => "paint-white",
        Paint::Red => "paint-red",
        Paint::Blue => "paint-blue",
        Paint::Yellow => "paint-yellow",
        Paint::Green => "paint-green",
        Paint::Orange => "paint-orange",
        Paint::Black => "paint-black",
    }
}

/// A mark on the cable.
#[derive(Debug, Clone, PartialEq)]
pub struct CableMark {
    /// How far from the anchor, m.
    pub at_m: f64,
    /// What the crew calls it: the number of the shackle.
    pub label: String,
    /// The paints of the mark, in order; may be empty.
    pub paints: Vec<Paint>,
}

/// Length of the drawing from the anchor to the bitter end, in its own units.
const LONG: f64 = 520.0;

/// The cable from the gypsy to the anchor and what is left aboard.
#[component]
pub fn CableScale(
    /// Cable out, measured from the anchor to the gypsy, m.
    #[prop(into)]
    out_m: Signal<f64>,
    /// Cable aboard, all of it, m.
    aboard_m: f64,
    /// Cable that must stay inboard before the bitter end, m.
    keep_m: f64,
    /// Cable the plan asks for, m.
    #[prop(optional, into)]
    planned_m: Signal<Option<f64>>,
    /// The ship's marks.
    marks: Vec<CableMark>,
    /// What the crew says of the cable out: '4 shackles on deck'.
    #[prop(into)]
    said: Signal<String>,
) -> impl IntoView {
    let whole = if aboard_m.is_finite() && aboard_m > 0.0 {
        aboard_m
    } else {
        1.0
    };
    let at = move |m: f64| (m / whole * LONG).clamp(0.0, LONG);
    let out = move || {
        let m = out_m.get();
        if m.is_finite() {
            m.clamp(0.0, whole)
        } else {
            0.0
        }
    };
    let flags = marks
        .into_iter()
        .map(|mark| {
            let x = at(mark.at_m);
            let paints = mark.paints.len().max(1);
            let stripe = 22.0 / f64::from(u32::try_from(paints).unwrap_or(1));
            let stripes = mark
                .paints
                .iter()
                .zip(0u32..)
                .map(|(paint, n)| {
                    view! {
                        <rect
                            x=format!("{:.1}", 1.0 + f64::from(n) * stripe)
                            y="0"
                            width=format!("{stripe:.1}")
                            height="18"
                            class=class_of(*paint)
                        />
                    }
                })
                .collect_view();
            let at_m = mark.at_m;
            let class = move || {
                if at_m <= out() + 0.05 {
                    "cable-mark is-out"
                } else {
                    "cable-mark"
                }
            };
            view! {
                <g transform=format!("translate({x:.1} 0)") class=class>
                    <path d="M0 8V58" class="cable-staff" />
                    <g transform="translate(0 8)">
                        {stripes} <rect x="1" y="0" width="22" height="18" class="cable-flag" />
                    </g>
                    <text x="26" y="24" class="cable-number">{mark.label}</text>
                </g>
            }
        })
        .collect_view();
    let drawn_out = move || {
        let end = at(out());
        // Links of even pitch from the anchor to the gypsy; the last may be cut by the gypsy, as it is on deck.
        let pitch = 16.0;
        let mut links = Vec::new();
        let mut x = 0.0;
        while x + pitch * 0.5 < end {
            let long = pitch.min(end - x);
            links.push(view! {
                <rect x=format!("{x:.1}") y="63" width=format!("{:.1}", long - 2.0) height="10" rx="5" class="cable-link" />
            });
            x += pitch;
        }
        links.collect_view()
    };
    let kept_from = at(whole - keep_m.clamp(0.0, whole));
    view! {
        <figure class="cable-scale">
            <figcaption class="cable-said">
                <strong>{move || said.get()}</strong>
                <span>{move || words::cable_out(out_m.get().min(whole), whole)}</span>
            </figcaption>
            <svg class="cable-drawing" viewBox="-20 0 560 106" role="img" aria-label=move || words::cable_out(out_m.get().min(whole), whole)>
                <path d=format!("M0 68H{LONG}") class="cable-rest" />
                <rect x=format!("{kept_from:.1}") y="58" width=format!("{:.1}", LONG - kept_from) height="20" class="cable-kept" />
                <text x=LONG.to_string() y="98" text-anchor="end" class="cable-note">{words::KEPT_INBOARD}</text>
                {drawn_out}
                {flags}
                {move || {
                    planned_m
                        .get()
                        .map(|m| {
                            let x = at(m);
                            // On the side where there is room: beyond stands what is kept inboard.
                            let (word_at, anchor) = if x > LONG / 3.0 {
                                (x - 14.0, "end")
                            } else {
                                (x + 14.0, "start")
                            };
                            view! {
                                <path d=format!("M{x:.1} 84l-8 14h16Z") class="cable-planned" />
                                <text x=format!("{word_at:.1}") y="98" text-anchor=anchor class="cable-note">{words::PLANNED}</text>
                            }
                        })
                }}
                <g transform="translate(-6 68)" class="cable-anchor">
                    <path d="M4 0H-8M-12-12C-4-10 0-5 0 0C0 5-4 10-12 12" />
                </g>
                <path d=move || { let x = at(out()); format!("M{x:.1} 40A28 28 0 0 1 {x:.1} 96Z") } class="cable-gypsy" />
            </svg>
        </figure>
    }
    .into_any()
}
