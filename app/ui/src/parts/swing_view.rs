//! The swinging room: her reach about the anchor drawn as links, how far the stern sweeps, and the dangers near.

use leptos::prelude::*;

use super::{
    plot::{path, round_step, tick_text},
    status_word::{StatusWord, Tone},
};
use crate::words::parts as words;

/// Something the ship must keep clear of, from the anchor.
#[derive(Debug, Clone, PartialEq)]
pub struct Danger {
    /// What it is.
    pub name: String,
    /// East of the anchor, m.
    pub east_m: f64,
    /// North of the anchor, m.
    pub north_m: f64,
    /// Radius to keep clear of it, m; 0 for a point.
    pub radius_m: f64,
}

/// The circle and the ship in it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Swinging {
    /// Radius the stern sweeps, m.
    pub radius_m: f64,
    /// Radius the plan allows, m; none where there is open water.
    pub room_m: Option<f64>,
    /// Length of the ship, m.
    pub ship_m: f64,
    /// The bow from the anchor: east and north, m; none before she lies to it.
    pub bow: Option<(f64, f64)>,
    /// The ship's head, degrees true.
    pub head_deg: f64,
    /// Where the bow has been, oldest first: east and north, m.
    pub track: Vec<(f64, f64)>,
    /// What to keep clear of.
    pub dangers: Vec<Danger>,
}

/// Half the drawing's side, in its own units.
const HALF: f64 = 300.0;

/// Returns whether a danger, with the distance to keep from it, reaches into the circle.
fn is_inside(danger: &Danger, radius_m: f64) -> bool {
    danger.east_m.hypot(danger.north_m) - danger.radius_m.max(0.0) < radius_m
}

/// Returns where at the drawing's edge an arrow to something beyond it stands, and how far it is turned, degrees from north.
fn at_the_edge(east_m: f64, north_m: f64) -> (f64, f64, f64) {
    const EDGE: f64 = HALF * 0.93;
    let farther = east_m.abs().max(north_m.abs());
    let scale = EDGE / farther;
    (
        east_m * scale,
        -north_m * scale,
        east_m.atan2(north_m).to_degrees(),
    )
}

/// Returns the links of a reach of `long` from the anchor: where each begins and how long it is; the last is cut at the hawse.
fn links(long: f64) -> Vec<(f64, f64)> {
    const PITCH: f64 = 14.0;
    const LINK: f64 = 12.0;
    std::iter::successors(Some(0.0), |from| Some(from + PITCH))
        .take_while(|from| from + LINK / 2.0 < long)
        .map(|from| (from, LINK.min(long - from)))
        .collect()
}

/// The swinging circle, north up.
#[component]
pub fn SwingView(
    /// The circle and the ship in it.
    #[prop(into)]
    swinging: Signal<Swinging>,
) -> impl IntoView {
    let drawn = move || {
        let seen = swinging.get();
        let can_draw = seen.radius_m.is_finite()
            && seen.radius_m > 0.0
            && seen.ship_m.is_finite()
            && seen.ship_m >= 0.0;
        if !can_draw {
            return view! { <p class="view-nothing">{words::NOTHING_TO_DRAW}</p> }.into_any();
        }
        let room = seen.room_m.filter(|m| m.is_finite() && *m > 0.0);
        let dangers: Vec<_> = seen
            .dangers
            .iter()
            .filter(|d| d.east_m.is_finite() && d.north_m.is_finite() && d.radius_m.is_finite())
            .collect();
        // Dangers up to twice the circle away are drawn where they lie; to those beyond an arrow points from the edge.
        let near =
            |d: &&&Danger| d.east_m.hypot(d.north_m) < seen.radius_m.max(room.unwrap_or(0.0)) * 2.0;
        let farthest = dangers
            .iter()
            .filter(near)
            .map(|d| d.east_m.abs().max(d.north_m.abs()) + d.radius_m)
            .fold(seen.radius_m.max(room.unwrap_or(0.0)), f64::max);
        let span = farthest * 1.14;
        let scale = HALF / span;
        let x = move |east: f64| east * scale;
        let y = move |north: f64| -north * scale;
        let step = round_step(span, 3.0);
        let ruler = view! {
            <path d=format!("M-288 276v10h{:.1}v-10", step * scale) class="swing-ruler" />
            <text x="-282" y="274" class="axis-number">{tick_text(step, step)} " m"</text>
        };
        let marks = dangers
            .iter()
            .filter(near)
            .map(|d| {
                let (px, py) = (x(d.east_m), y(d.north_m));
                let radius = d.radius_m.max(0.0) * scale;
                // The name stands below its mark, or above it near the lower edge, and never outside the drawing.
                let (text_x, drop) = (px.clamp(-HALF * 0.72, HALF * 0.72), radius.max(9.0) + 4.0);
                let (text_y, dy) = if py + drop > HALF * 0.86 { (py - drop, "-0.2em") } else { (py + drop, "0.9em") };
                let class = if is_inside(d, seen.radius_m) { "swing-mark is-alarm" } else { "swing-mark" };
                view! {
                    <g class=class>
                        <circle cx=format!("{px:.1}") cy=format!("{py:.1}") r=format!("{radius:.1}") class="swing-clear" />
                        <path d=format!("M{:.1} {:.1}l14 14m0-14l-14 14", px - 7.0, py - 7.0) class="swing-danger" />
                        <text x=format!("{text_x:.1}") y=format!("{text_y:.1}") dy=dy class="view-note is-middle">
                            {d.name.clone()}
                        </text>
                    </g>
                }
            })
            .collect_view();
        let beyond = dangers
            .iter()
            .filter(|d| !near(d))
            .map(|d| {
                let (px, py, turn) = at_the_edge(d.east_m, d.north_m);
                let text_x = px.clamp(-HALF * 0.72, HALF * 0.72);
                let text_y = if py > 0.0 { py - 14.0 } else { py + 24.0 };
                let place = format!("translate({px:.1} {py:.1}) rotate({turn:.1})");
                let away = d.east_m.hypot(d.north_m);
                view! {
                    <g class="swing-mark">
                        <path d="M0 -11L7 7H-7Z" transform=place class="swing-beyond" />
                        <text x=format!("{text_x:.1}") y=format!("{text_y:.1}") class="view-note is-middle">
                            {words::beyond(&d.name, &format!("{away:.0}"))}
                        </text>
                    </g>
                }
            })
            .collect_view();
        let ship = seen.bow.filter(|(e, n)| e.is_finite() && n.is_finite() && seen.head_deg.is_finite()).map(|(east, north)| {
            let long = (seen.ship_m * scale).max(14.0);
            // Her fore-and-aft line: the notch of the hawse at one end, the transom at the other.
            let keel = format!("M-8 5A8 8 0 0 1 8 5M0-3V{long:.1}M-8 {long:.1}H8");
            let place = format!("translate({:.1} {:.1}) rotate({:.1})", x(east), y(north), seen.head_deg);
            let lead = format!("rotate({:.1})", east.atan2(north).to_degrees());
            let links = links(east.hypot(north) * scale)
                .into_iter()
                .map(|(from, long)| {
                    view! { <rect x="-4" y=format!("{:.1}", -from - long) width="8" height=format!("{long:.1}") rx="4" class="swing-link" /> }
                })
                .collect_view();
            view! {
                <g transform=lead>{links}</g>
                <path d=keel transform=place class="swing-ship" />
            }
        });
        let track = (seen.track.len() > 1).then(|| {
            let line = path(
                seen.track
                    .iter()
                    .filter(|(e, n)| e.is_finite() && n.is_finite())
                    .map(|(e, n)| (x(*e), y(*n))),
            );
            view! { <path d=line class="swing-track" /> }
        });
        let inside = dangers
            .iter()
            .filter(|d| is_inside(d, seen.radius_m))
            .map(|d| view! { <StatusWord tone=Tone::Alarm word=words::inside_the_circle(&d.name) /> })
            .collect_view();
        let says = words::swing_in_words(seen.radius_m, dangers.len());
        view! {
            <svg class="view-drawing" viewBox="-304 -304 608 608" role="img" aria-label=says>
                <rect x="-304" y="-304" width="608" height="608" class="view-water" />
                {ruler}
                {room.map(|m| view! { <circle r=format!("{:.1}", m * scale) class="swing-room" /> })}
                <circle r=format!("{:.1}", seen.radius_m * scale) class="swing-circle" />
                {marks} {beyond} {track} {ship}
                <path d="M0-9V9M-9 0H9" class="swing-anchor" />
                <path d="M0-296l8 22h-16Z" class="swing-north" />
                <text x="13" y="-276" class="view-note">"N"</text>
            </svg>
            <figcaption class="swing-inside">{inside}</figcaption>
        }
        .into_any()
    };
    view! { <figure class="swing-view view">{drawn}</figure> }.into_any()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_lies_beyond_the_drawing_is_pointed_to_from_its_edge() {
        let (x, y, turn) = at_the_edge(4_000.0, 0.0);
        assert!((x - 279.0).abs() < 0.1 && y.abs() < 0.1 && (turn - 90.0).abs() < 0.1);
        let (x, y, turn) = at_the_edge(-1_000.0, -2_000.0);
        assert!(
            (x + 139.5).abs() < 0.1 && (y - 279.0).abs() < 0.1,
            "{x} {y}"
        );
        assert!((turn + 153.4).abs() < 0.1, "{turn}");
    }

    #[test]
    fn a_reach_is_links_one_after_the_other_and_none_beyond_the_hawse() {
        for long in [0.0, 5.0, 13.0, 100.0, 283.7] {
            let links = links(long);
            assert!(
                links
                    .iter()
                    .all(|(from, link)| *link > 0.0 && from + link <= long + 1e-9)
            );
            assert!(
                links
                    .windows(2)
                    .all(|pair| pair[0].0 + pair[0].1 < pair[1].0)
            );
            let end = links.last().map_or(0.0, |(from, link)| from + link);
            assert!(long - end < 14.0, "{long}: {end}");
        }
    }

    #[test]
    fn a_danger_is_inside_when_its_clear_distance_reaches_the_circle() {
        let at = |east_m, radius_m| Danger {
            name: "Rock".into(),
            east_m,
            north_m: 0.0,
            radius_m,
        };
        assert!(is_inside(&at(-230.0, 40.0), 200.0));
        assert!(!is_inside(&at(-250.0, 40.0), 200.0));
        assert!(!is_inside(&at(200.0, 0.0), 200.0));
    }
}
