//! The cable as it hangs, to scale: the part on the ground, the bight, the hawse.

use leptos::prelude::*;

use super::plot::{all_finite, axis, path, round_step, ticks};
use crate::words::parts as words;

/// Width of the drawing, in its own units.
const WIDE: f64 = 760.0;
/// Room left of the drawing for the depth's numbers.
const LEFT: f64 = 92.0;

/// The hanging cable between the anchor and the hawse, one scale for both directions.
#[component]
pub fn CatenaryView(
    /// Points of the cable from the anchor to the hawse: distance from the anchor over the ground and height over
    /// the ground, m.
    #[prop(into)]
    cable: Signal<Vec<(f64, f64)>>,
    /// Depth of water, m.
    #[prop(into)]
    depth_m: Signal<f64>,
    /// Length of cable that lies on the ground, m.
    #[prop(into)]
    grounded_m: Signal<f64>,
) -> impl IntoView {
    let drawn = move || {
        let (points, depth_m, grounded_m) = (cable.get(), depth_m.get(), grounded_m.get());
        let reach = points.last().map_or(0.0, |last| last.0);
        let hawse = points.last().map_or(0.0, |last| last.1);
        let can_draw = points.len() >= 2
            && all_finite(&points)
            && [depth_m, grounded_m]
                .iter()
                .all(|m| m.is_finite() && *m >= 0.0)
            && reach >= 0.0
            && depth_m > 0.0;
        if !can_draw {
            return view! { <p class="view-nothing">{words::NOTHING_TO_DRAW}</p> }.into_any();
        }
        // Room above the hawse for the stemhead, and beyond it for the bow.
        let tall = hawse.max(depth_m) + (hawse - depth_m).max(2.0) * 0.9;
        let span = (reach * 1.2).max(tall * 0.7);
        let scale = ((WIDE - LEFT - 14.0) / span).min(460.0 / tall);
        let ground = tall * scale + 8.0;
        let x = move |m: f64| LEFT + 14.0 + m * scale;
        let y = move |m: f64| ground - m * scale;
        let high = ground + 46.0;
        let grounded_m = grounded_m.min(reach);
        let (step_x, step_y) = (round_step(span, 5.0), round_step(depth_m, 2.0));
        let across = axis(&ticks(0.0, (WIDE - 40.0 - LEFT) / scale, step_x), step_x, words::METRES.text())
            .into_iter()
            .map(|(m, text)| {
                view! {
                    <path d=format!("M{:.1} {ground:.1}v10", x(m)) class="axis-tick" />
                    <text x=format!("{:.1}", x(m)) y=format!("{:.1}", ground + 10.0) dy="1em" class="axis-number is-middle">
                        {text}
                    </text>
                }
            })
            .collect_view();
        let up = axis(&ticks(0.0, depth_m, step_y), step_y, words::METRES.text())
            .into_iter()
            .map(|(m, text)| {
                let at = y(depth_m - m);
                view! {
                    <path d=format!("M{LEFT} {at:.1}h-8") class="axis-tick" />
                    <text x=format!("{:.1}", LEFT - 12.0) y=format!("{at:.1}") dy="0.35em" class="axis-number is-end">
                        {text}
                    </text>
                }
            })
            .collect_view();
        let (bow_x, bow_y, water) = (x(reach), y(hawse), y(depth_m));
        // The bow about the hawse: flared to the stemhead above, raked to the forefoot below; her depth is not to scale.
        let over = (water - bow_y).max(8.0);
        let (rise, foot) = (
            (bow_y - over * 0.8).max(3.0),
            (water + over * 0.7).min(ground - 6.0),
        );
        let ship = format!(
            "M{WIDE} {:.1}Q{:.1} {:.1} {:.1} {rise:.1}L{bow_x:.1} {bow_y:.1}Q{:.1} {:.1} {:.1} {foot:.1}H{WIDE}Z",
            rise + over * 0.25,
            f64::midpoint(bow_x, WIDE),
            rise + over * 0.22,
            bow_x - over * 0.42,
            bow_x + over * 0.45,
            water,
            bow_x + over * 0.95,
        );
        let line = points.iter().map(|(along, over)| (x(*along), y(*over)));
        let says = words::catenary_in_words(depth_m, grounded_m, reach);
        let ground_text = (grounded_m * scale > 230.0).then(|| {
            view! {
                <text x=format!("{:.1}", x(grounded_m / 2.0)) y=format!("{:.1}", ground - 10.0) class="view-note view-grounded is-middle">
                    {format!("{grounded_m:.0} m {}", words::ON_THE_GROUND)}
                </text>
            }
        });
        view! {
            <svg class="view-drawing" viewBox=format!("0 0 {WIDE} {high:.0}") role="img" aria-label=says>
                <rect x=format!("{LEFT}") y=format!("{water:.1}") width=format!("{:.1}", WIDE - LEFT) height=format!("{:.1}", ground - water) class="view-water" />
                <path d=format!("M{LEFT} {water:.1}H{WIDE}") class="view-surface" />
                <rect x=format!("{LEFT}") y=format!("{ground:.1}") width=format!("{:.1}", WIDE - LEFT) height="5" class="view-ground" />
                {across} {up}
                <path d=path(line.clone()) class="view-cable" />
                <path d=path(line) class="view-cable-links" />
                <path d=ship class="view-ship" />
                {ground_text}
                <g transform=format!("translate({:.1} {:.1})", x(0.0), ground)>
                    <path d="M0-2H16M-4-14C2-12 4-6 0-2C-4 0-10 0-13-4" class="view-anchor" />
                </g>
            </svg>
        }
        .into_any()
    };
    view! { <figure class="catenary-view view">{drawn}</figure> }.into_any()
}
