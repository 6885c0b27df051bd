//! The depth of water over the stay, with the keel in it.

use leptos::prelude::*;

use super::plot::{all_finite, axis, path, round_step, ticks};
use crate::words::parts as words;

/// Width and height of the drawing, in its own units.
const WIDE: f64 = 760.0;
/// Height of the drawing.
const HIGH: f64 = 320.0;
/// Room left of the drawing for the depth's numbers.
const LEFT: f64 = 92.0;
/// Where the ground lies.
const GROUND: f64 = HIGH - 46.0;

/// Depth against time, drawn up from the ground, and how far the keel stands above it.
#[component]
pub fn DepthView(
    /// Hours from the beginning of the stay, and depth of water, m.
    #[prop(into)]
    depths: Signal<Vec<(f64, f64)>>,
    /// Draught, m.
    #[prop(into)]
    draught_m: Signal<f64>,
    /// Hours from the beginning of the stay, and the time of day to write there.
    #[prop(into)]
    times: Signal<Vec<(f64, String)>>,
) -> impl IntoView {
    let drawn = move || {
        let (points, draught_m) = (depths.get(), draught_m.get());
        let first = points.first().map_or(0.0, |p| p.0);
        let last = points.last().map_or(0.0, |p| p.0);
        if points.len() < 2 || !all_finite(&points) || last <= first || !draught_m.is_finite() {
            return view! { <p class="view-nothing">{words::NOTHING_TO_DRAW}</p> }.into_any();
        }
        let least = points
            .iter()
            .copied()
            .fold(points[0], |a, b| if b.1 < a.1 { b } else { a });
        let deepest = points.iter().map(|p| p.1).fold(draught_m, f64::max);
        let top = deepest * 1.12;
        let x = move |h: f64| LEFT + (h - first) / (last - first) * (WIDE - LEFT - 10.0);
        let y = move |m: f64| GROUND - m / top * (GROUND - 10.0);
        let step = round_step(top, 4.0);
        let up = axis(&ticks(0.0, top, step), step, words::METRES.text())
            .into_iter()
            .map(|(m, text)| {
                view! {
                    <path d=format!("M{LEFT} {:.1}H{:.1}", y(m), WIDE - 10.0) class="axis-line" />
                    <text x=format!("{:.1}", LEFT - 12.0) y=format!("{:.1}", y(m)) dy="0.35em" class="axis-number is-end">
                        {text}
                    </text>
                }
            })
            .collect_view();
        let across = times
            .get()
            .into_iter()
            .filter(|(h, _)| *h >= first && *h <= last)
            .map(|(h, text)| {
                view! {
                    <path d=format!("M{:.1} {GROUND}v10", x(h)) class="axis-tick" />
                    <text x=format!("{:.1}", x(h)) y=format!("{:.1}", GROUND + 10.0) dy="1em" class="axis-number is-middle">{text}</text>
                }
            })
            .collect_view();
        let line: Vec<_> = points.iter().map(|(h, m)| (x(*h), y(*m))).collect();
        let area = format!(
            "{}L{:.1} {GROUND}L{:.1} {GROUND}Z",
            path(line.iter().copied()),
            x(last),
            x(first)
        );
        // The keel stands this far over the ground at each moment: the water less the draught.
        let keel = path(
            points
                .iter()
                .map(|(h, m)| (x(*h), y((*m - draught_m).max(0.0)))),
        );
        let clearance = least.1 - draught_m;
        let (least_x, least_top) = (x(least.0), y(clearance.max(0.0)));
        let (anchor, dx) = if least_x > WIDE * 0.7 {
            ("end", -10.0)
        } else {
            ("start", 10.0)
        };
        let class = if clearance > 0.0 {
            "depth-least"
        } else {
            "depth-least is-alarm"
        };
        view! {
            <svg class="view-drawing" viewBox=format!("0 0 {WIDE} {HIGH}") role="img" aria-label=words::depth_in_words(least.1, clearance)>
                <path d=area class="view-water" />
                {up}
                <path d=path(line) class="view-surface" />
                <path d=keel class="depth-keel" />
                <rect x=format!("{LEFT}") y=format!("{GROUND}") width=format!("{:.1}", WIDE - LEFT - 10.0) height="5" class="view-ground" />
                {across}
                <g class=class>
                    <path d=format!("M{least_x:.1} {GROUND}V{least_top:.1}m-6 8l6-8l6 8M{:.1} {:.1}l6 8l6-8", least_x - 6.0, GROUND - 8.0) class="depth-arrow" />
                    <text x=format!("{:.1}", least_x + dx) y=format!("{:.1}", (f64::midpoint(least_top, GROUND) + 6.0).min(GROUND - 6.0)) text-anchor=anchor class="view-note">
                        {words::under_keel(clearance)}
                    </text>
                </g>
                <text x=format!("{:.1}", WIDE - 16.0) y=format!("{:.1}", y(points[points.len() - 1].1) - 8.0) text-anchor="end" class="view-note">{words::SURFACE}</text>
                <text x=format!("{:.1}", WIDE - 16.0) y=format!("{:.1}", y((points[points.len() - 1].1 - draught_m).max(0.0)) - 8.0) text-anchor="end" class="view-note">{words::KEEL}</text>
            </svg>
        }
        .into_any()
    };
    view! { <figure class="depth-view view">{drawn}</figure> }.into_any()
}
