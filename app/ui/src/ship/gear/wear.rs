//! How an item wears, drawn: what was measured, the line through it with its band, the least, and when it meets that.

use crate::parts::plot::{axis, path, round_step, ticks};
use crate::parts::{StatusWord, Tone};
use crate::time;
use crate::words::gear as words;
use journal::gear::Wear;
use leptos::prelude::*;

/// Width of the drawing, in its own units.
const WIDE: f64 = 720.0;
/// Height of the drawing.
const HIGH: f64 = 300.0;
/// Room for the numbers on the left, and for the years below.
const LEFT: f64 = 84.0;
const LOW: f64 = HIGH - 40.0;
const YEAR_MS: i64 = 31_557_600_000;

/// Returns the day of a moment, with its year.
fn day(ms: i64) -> String {
    let whole = time::date_clock(ms);
    whole.split(' ').next().unwrap_or_default().to_owned()
}

/// Says when it must be renewed, and how sure that is.
fn said(wear: &Wear) -> (Tone, String) {
    match &wear.renewal {
        Err(why) => (Tone::Calm, words::wear_unknown(why)),
        Ok(found) => {
            let on = day(found.expected.0);
            let said = match (found.earliest, found.latest) {
                (Some(from), Some(to)) => words::renew_between(&on, &day(from.0), &day(to.0)),
                (Some(from), None) => words::renew_not_before(&on, &day(from.0)),
                _ => words::renew_on(&on),
            };
            (Tone::Wait, said)
        }
    }
}

fn drawing(wear: &Wear) -> Option<AnyView> {
    let (first, last) = (wear.line.first()?.0, wear.line.last()?.0);
    let values = wear.line.iter().flat_map(|(_, mm, half)| {
        let half = half.unwrap_or(0.0);
        [mm - half, mm + half]
    });
    let values = values
        .chain(wear.points.iter().map(|point| point.1))
        .chain(wear.least);
    let (low, high) = values.fold((f64::MAX, f64::MIN), |(low, high), mm| {
        (low.min(mm), high.max(mm))
    });
    let room = ((high - low) * 0.06).max(0.05);
    let (low, high) = (low - room, high + room);
    #[expect(clippy::cast_precision_loss, reason = "a drawing has no milliseconds")]
    let x =
        |at: i64| LEFT + (at - first) as f64 / (last - first).max(1) as f64 * (WIDE - LEFT - 16.0);
    let y = |mm: f64| 8.0 + (high - mm) / (high - low) * (LOW - 8.0);
    let step = round_step(high - low, 4.0);
    let up = axis(&ticks(low, high, step), step, "mm").into_iter().map(|(mm, text)| {
        view! {
            <path d=format!("M{LEFT} {:.1}H{WIDE}", y(mm)) class="axis-line" />
            <text x=format!("{:.1}", LEFT - 10.0) y=format!("{:.1}", y(mm)) dy="0.35em" class="axis-number is-end">{text}</text>
        }
    });
    let years = (last - first) / YEAR_MS / 6 + 1;
    let across = (0..)
        .map(|n| first + n * years * YEAR_MS)
        .take_while(|at| *at <= last);
    let across = across.map(|at| {
        let year: String = day(at).chars().take(4).collect();
        view! {
            <path d=format!("M{:.1} {LOW}v8", x(at)) class="axis-tick" />
            <text x=format!("{:.1}", x(at)) y=format!("{:.1}", LOW + 10.0) dy="1em" class="axis-number is-middle">{year}</text>
        }
    });
    let edge = |side: f64| {
        wear.line
            .iter()
            .filter_map(move |(at, mm, half)| Some((*at, mm + side * (*half)?)))
    };
    let mut band: Vec<(f64, f64)> = edge(1.0).map(|(at, mm)| (x(at), y(mm))).collect();
    let lower: Vec<(f64, f64)> = edge(-1.0).map(|(at, mm)| (x(at), y(mm))).collect();
    band.extend(lower.into_iter().rev());
    let band = (!band.is_empty()).then(|| {
        view! { <path d=format!("{}Z", path(band)) class="wear-band" /> }
    });
    let line = path(wear.line.iter().map(|(at, mm, _)| (x(*at), y(*mm))));
    let dots = wear.points.iter().map(|(at, mm)| {
        view! { <circle cx=format!("{:.1}", x(*at)) cy=format!("{:.1}", y(*mm)) r="6" class="wear-point" /> }
    });
    let least = wear.least.map(|mm| {
        view! { <path d=format!("M{LEFT} {:.1}H{WIDE}", y(mm)) class="wear-least" /> }
    });
    let renew = wear
        .renewal
        .as_ref()
        .ok()
        .map(|found| found.expected.0)
        .filter(|at| *at <= last);
    let renew = renew.map(|at| {
        view! { <path d=format!("M{:.1} 8V{LOW}", x(at)) class="wear-renew" /> }
    });
    let label = said(wear).1;
    Some(view! {
        <svg class="view-drawing" viewBox=format!("0 0 {WIDE} {HIGH}") role="img" aria-label=label>
            {up.collect_view()} {across.collect_view()} {band} <path d=line class="wear-line" /> {least} {renew}
            {dots.collect_view()}
        </svg>
    }
    .into_any())
}

/// One figure's wear.
pub fn wear(wear: &Wear) -> impl IntoView + use<> {
    let (tone, said) = said(wear);
    let measured = wear.points.iter().map(|(at, mm)| {
        let (at, mm) = (day(*at), format!("{mm} mm"));
        view! { <li>{at} ": " {mm}</li> }
    });
    let least = wear.least.map(|mm| {
        let said = words::wear_least(&format!("{mm:.1}"), &wear.source);
        view! { <p class="quiet" data-text="source">{said}</p> }
    });
    view! {
        <section class="procedure-part gear-wear">
            <h2>{words::WEAR} ": " <span data-text="kind">{wear.label.clone()}</span></h2>
            <StatusWord tone word=said />
            <figure class="view">{drawing(wear)}</figure>
            <ol class="gear-measured">{measured.collect_view()}</ol>
            {least}
            <p class="quiet">{words::WEAR_CAUTION}</p>
        </section>
    }
}
