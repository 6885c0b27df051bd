//! The cable as it hangs, to scale: the part on the ground, the bight, the hawse.

use leptos::prelude::*;

use super::{
    plot::{all_finite, path, round_step, tick_text, ticks},
    words,
};

/// Width of the drawing, in its own units.
const WIDE: f64 = 760.0;
/// Room left of the drawing for the depth's numbers.
const LEFT: f64 = 46.0;

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
        let tall = hawse.max(depth_m) * 1.18;
        let span = (reach * 1.16).max(tall * 0.7);
        let scale = ((WIDE - LEFT - 14.0) / span).min(460.0 / tall);
        let ground = tall * scale + 8.0;
        let x = move |m: f64| LEFT + 10.0 + m * scale;
        let y = move |m: f64| ground - m * scale;
        let high = ground + 46.0;
        let grounded_m = grounded_m.min(reach);
        let step_x = round_step(span, 6.0);
        let step_y = round_step(tall, 4.0);
        let across = ticks(0.0, span, step_x)
            .into_iter()
            .map(|m| {
                view! {
                    <path d=format!("M{:.1} {:.1}v6", x(m), ground) class="axis-tick" />
                    <text x=format!("{:.1}", x(m)) y=format!("{:.1}", ground + 24.0) class="axis-number is-middle">
                        {tick_text(m, step_x)}
                    </text>
                }
            })
            .collect_view();
        let up = ticks(0.0, depth_m, step_y)
            .into_iter()
            .map(|m| {
                let at = y(depth_m - m);
                view! {
                    <path d=format!("M{:.1} {at:.1}h-6", LEFT) class="axis-tick" />
                    <text x=format!("{:.1}", LEFT - 10.0) y=format!("{:.1}", at + 5.0) class="axis-number is-end">
                        {tick_text(m, step_y)}
                    </text>
                }
            })
            .collect_view();
        let (bow_x, bow_y, water) = (x(reach), y(hawse), y(depth_m));
        // The stem below the hawse to under the waterline, and the bow's rake above it; not to scale beyond the hawse.
        let rise = (bow_y - 10.0).max(4.0);
        let foot = (water + (ground - water) * 0.22).min(water + 26.0);
        let ship = format!(
            "M{:.1} {rise:.1}L{:.1} {rise:.1}L{bow_x:.1} {bow_y:.1}Q{:.1} {water:.1} {:.1} {foot:.1}L{:.1} {foot:.1}Z",
            WIDE,
            bow_x - 8.0,
            bow_x + 12.0,
            bow_x + 22.0,
            WIDE,
        );
        let line = points.iter().map(|(along, over)| (x(*along), y(*over)));
        let says = words::catenary_in_words(depth_m, grounded_m, reach);
        let ground_text = (grounded_m * scale > 110.0).then(|| {
            view! {
                <text x=format!("{:.1}", x(grounded_m / 2.0)) y=format!("{:.1}", ground - 10.0) class="view-note is-middle">
                    {format!("{grounded_m:.0} m {}", words::ON_THE_GROUND)}
                </text>
            }
        });
        view! {
            <svg class="view-drawing" viewBox=format!("0 0 {WIDE} {high:.0}") role="img" aria-label=says>
                <rect x=format!("{LEFT}") y=format!("{water:.1}") width=format!("{:.1}", WIDE - LEFT) height=format!("{:.1}", ground - water) class="view-water" />
                <path d=ship class="view-ship" />
                <path d=format!("M{LEFT} {water:.1}H{WIDE}") class="view-surface" />
                <rect x=format!("{LEFT}") y=format!("{ground:.1}") width=format!("{:.1}", WIDE - LEFT) height="5" class="view-ground" />
                {across} {up}
                <text x=format!("{:.1}", LEFT - 10.0) y="14" class="axis-unit is-end">"m"</text>
                <text x=format!("{WIDE}") y=format!("{:.1}", high - 4.0) class="axis-unit is-end">"m from the anchor"</text>
                <path d=path(line.clone()) class="view-cable" />
                <path d=path(line) class="view-cable-links" />
                {ground_text}
                <g transform=format!("translate({:.1} {:.1})", x(0.0), ground)>
                    <path d="M0-2H16M-4-14C2-12 4-6 0-2C-4 0-10 0-13-4" class="view-anchor" />
                </g>
            </svg>
        }
        .into_any()
    };
    view! { <figure class="catenary-view view">{drawn}</figure> }
}
