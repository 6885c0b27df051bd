//! What comes out of a plan: told, and drawn. The bridge and the bow show the same.

use super::checks::{Check, checks};
use super::draft::Worked;
use super::drawn;
use super::fields::label_of;
use super::order::mark;
use crate::parts::{CatenaryView, Caution, DepthView, StatusWord, SwingView, Tone};
use crate::time;
use crate::words::plan as words;
use leptos::prelude::*;
use seamanship::plan::{DangerSeen, Limits, Part, Problem, Proposed};
use std::borrow::Cow;

/// A plan worked out; none while nothing is typed yet.
pub type Work = Memo<Option<Worked>>;

/// Returns one piece of a plan, told anew only when it changes.
pub fn piece<T>(work: Work, pick: impl Fn(&Worked) -> T + Send + Sync + 'static) -> Memo<Option<T>>
where
    T: PartialEq + Send + Sync + 'static,
{
    Memo::new(move |_| work.with(|work| work.as_ref().map(&pick)))
}

/// Shows what a result comes from and what to know before relying on it, folded.
pub(super) fn source_and_caution(
    source: Cow<'static, str>,
    caution: Cow<'static, str>,
) -> impl IntoView {
    view! {
        <details class="plan-source">
            <summary>{words::SOURCE_AND_CAUTION}</summary>
            <p class="source">{source.into_owned()} "."</p>
            <p class="source">{caution.into_owned()}</p>
        </details>
    }
}

fn no_figure(problem: &Problem) -> String {
    format!(
        "{}: {} {}.",
        words::NO_FIGURE,
        words::WAITS_FOR,
        label_of(&problem.field)
    )
}

/// Shows a part with its source and caution, or what it rests on.
fn part_view<T>(
    part: Memo<Option<Part<T>>>,
    show: impl Fn(&T) -> AnyView + Send + Sync + 'static,
) -> impl IntoView
where
    T: PartialEq + Send + Sync + 'static,
{
    move || {
        part.with(|part| {
            part.as_ref().map(|part| {
                let shown = match &part.result {
                    Ok(result) => show(result),
                    Err(problem) => {
                        view! { <p class="plan-none">{no_figure(problem)}</p> }.into_any()
                    }
                };
                view! {
                    {shown}
                    {source_and_caution(part.source.clone(), part.caution.clone())}
                }
            })
        })
    }
}

fn proposed_figures(proposed: &Proposed) -> AnyView {
    let length = &proposed.length;
    view! {
        <p class="plan-length">
            <strong class="plan-mark">{mark(length.at_gypsy_shackles)}</strong>
            " "
            {words::SHACKLES}
            " "
            {words::ON_DECK}
            <span class="plan-length-more">
                {format!("{:.1} ", length.length_m)}
                <small class="unit">"m"</small>
                {words::from_hawse(&format!("{:.1}", length.scope), &words::basis(proposed.basis))}
            </span>
        </p>
        <p class="plan-reason">{sentence(&proposed.reason)}</p>
    }
    .into_any()
}

/// Makes a sentence of a reason.
fn sentence(reason: &str) -> String {
    let mut letters = reason.chars();
    let first: String = letters
        .next()
        .map(|c| c.to_uppercase().collect())
        .unwrap_or_default();
    format!("{first}{}.", letters.as_str())
}

/// The order, the length, the reason.
#[component]
pub fn Proposal(
    work: Work,
    /// The order for the bow.
    #[prop(into)]
    order: Signal<Option<String>>,
) -> impl IntoView {
    let proposed = piece(work, |work| work.output.proposed.clone());
    view! {
        <p class="plan-order" role="status">
            {move || order.get().map_or_else(|| words::NO_ORDER.to_owned(), |said| sentence(&said))}
        </p>
        {move || order.with(Option::is_none).then(|| view! { <p>{words::NO_ORDER_BODY}</p> })}
        {part_view(proposed, proposed_figures)}
        <Caution text=words::LEAVE_TO />
    }
}

/// The checks, one a line.
#[component]
pub fn Checks(work: Work) -> impl IntoView {
    let lines = piece(work, checks);
    let count = Memo::new(move |_| lines.with(|lines| lines.as_ref().map_or(0, Vec::len)));
    let line = move |at: usize| {
        let line = Memo::new(move |_| {
            lines.with(|lines| lines.as_ref().and_then(|lines| lines.get(at).cloned()))
        });
        move || line.get().map(check_line)
    };
    view! {
        <section>
            <h2 class="plan-heading">{words::CHECKS}</h2>
            <ul class="plan-checks">
                {move || (0..count.get()).map(line).collect_view()}
            </ul>
        </section>
    }
}

fn check_line(check: Check) -> impl IntoView {
    view! {
        <li class="plan-check">
            <StatusWord tone=check.tone word=check.word />
            <span class="plan-what">{check.what}</span>
            <span class="plan-figure">
                {check.figure} " " <small class="unit">{check.unit}</small>
            </span>
            {source_and_caution(check.source, check.caution)}
        </li>
    }
}

/// The winds at which something gives, and what to do before.
#[component]
pub fn WindLimits(work: Work) -> impl IntoView {
    let limits = piece(work, |work| work.output.limits.clone());
    view! {
        <section class="plan-limits">
            <h2 class="plan-heading">{words::LIMITS}</h2>
            {part_view(limits, limits_view)}
        </section>
    }
}

fn limits_view(limits: &Limits) -> AnyView {
    let rows = limits
        .rows
        .iter()
        .map(|row| {
            let pull = row
                .pull_kilonewtons
                .map_or_else(|| "\u{2014}".to_owned(), |pull| format!("{pull:.0}"));
            view! {
                <tr>
                    <th scope="row">{words::limit(row.kind)}</th>
                    <td class="is-number">{format!("{:.0}", row.gust_kn)}</td>
                    <td class="is-number">{format!("{:.0}", row.mean_kn)}</td>
                    <td class="is-number">{pull}</td>
                </tr>
            }
        })
        .collect_view();
    let tone = if limits.is_exceeded {
        "plan-beyond is-alarm"
    } else {
        "plan-beyond"
    };
    view! {
        <p class=tone>{limits.beyond.clone()}</p>
        <div class="table-frame">
            <table class="table">
                <caption class="unseen">{words::LIMITS}</caption>
                <thead>
                    <tr>
                        <th scope="col">{words::GIVES}</th>
                        <th scope="col" class="is-number">{words::GUSTS} ", kn"</th>
                        <th scope="col" class="is-number">{words::MEAN} ", kn"</th>
                        <th scope="col" class="is-number">{words::PULL} ", kN"</th>
                    </tr>
                </thead>
                <tbody>{rows}</tbody>
            </table>
        </div>
    }
    .into_any()
}

/// How the cable hangs, to scale.
#[component]
pub fn Hanging(work: Work) -> impl IntoView {
    let cable = piece(work, drawn::cable);
    let depth_m = piece(work, |work| {
        work.output
            .depth
            .result
            .as_ref()
            .map_or(f64::NAN, |depth| depth.water_greatest_m)
    });
    let grounded_m = piece(work, |work| {
        work.output
            .hanging
            .result
            .as_ref()
            .map_or(f64::NAN, |hanging| hanging.grounded_m)
    });
    let hanging = piece(work, |work| work.output.hanging.clone());
    let pull = piece(work, |work| work.output.pull.clone());
    view! {
        <section class="plan-drawing">
            <h2 class="plan-heading">{words::HOW_SHE_LIES}</h2>
            <CatenaryView
                cable=Signal::derive(move || cable.get().unwrap_or_default())
                depth_m=Signal::derive(move || depth_m.get().unwrap_or(f64::NAN))
                grounded_m=Signal::derive(move || grounded_m.get().unwrap_or(f64::NAN))
            />
            {part_view(
                pull,
                |pull| {
                    view! {
                        <p>
                            {words::pull_expected(&format!("{:.0}", pull.design_kilonewtons), &format!("{:.1}", pull.wind_kilonewtons), &format!("{:.1}", pull.current_kilonewtons), &format!("{:.1}", pull.waves_kilonewtons))}
                        </p>
                    }
                        .into_any()
                },
            )}
            {part_view(
                hanging,
                |hanging| {
                    view! {
                        <p>
                            {words::hangs(&format!("{:.0}", hanging.suspended_m), &format!("{:.0}", hanging.grounded_m), &format!("{:.0}", hanging.angle_at_hawse_deg), &format!("{:.0}", hanging.tension_kilonewtons), &format!("{:.0}", hanging.lift_kilonewtons))}
                        </p>
                    }
                        .into_any()
                },
            )}
        </section>
    }
}

/// The swinging circle with the dangers.
#[component]
pub fn Swing(work: Work) -> impl IntoView {
    let swinging = piece(work, drawn::swinging);
    let room = piece(work, |work| work.output.room.clone());
    view! {
        <section class="plan-drawing">
            <h2 class="plan-heading">{words::ROOM}</h2>
            <SwingView swinging=Signal::derive(move || swinging.get().unwrap_or_default()) />
            {part_view(
                room,
                |room| {
                    let rows = room.dangers.iter().map(danger_row).collect_view();
                    let shown = if room.dangers.is_empty() {
                        view! { <p>{words::NO_DANGERS}</p> }.into_any()
                    } else {
                        view! { <div class="table-frame">{danger_table(rows)}</div> }.into_any()
                    };
                    view! {
                        <p>
                            {words::swings(&format!("{:.0}", room.swing_radius_m), &format!("{:.0}", room.swing_radius_expected_m), &format!("{:.0}", room.watch_radius_m))}
                        </p>
                        {shown}
                    }
                        .into_any()
                },
            )}
        </section>
    }
}

fn danger_table(rows: impl IntoView + 'static) -> impl IntoView {
    view! {
        <table class="table">
            <caption class="unseen">{words::DANGERS}</caption>
            <thead>
                <tr>
                    <th scope="col">{words::DANGERS}</th>
                    <th scope="col" class="is-number">{words::DISTANCE} ", m"</th>
                    <th scope="col" class="is-number">{words::BEARING} ", °T"</th>
                    <th scope="col" class="is-number">{words::CLEAR_BY} ", m"</th>
                </tr>
            </thead>
            <tbody>{rows}</tbody>
        </table>
    }
}

fn danger_row(danger: &DangerSeen) -> impl IntoView + use<> {
    let none = || "\u{2014}".to_owned();
    let (tone, word, distance, bearing, clear) = match &danger.seen {
        Err(_) => (Tone::Wait, words::NOT_PLACED, none(), none(), none()),
        Ok(seen) => {
            let (tone, word) = if !seen.is_foul {
                (Tone::Calm, words::DEEP_ENOUGH)
            } else if seen.clear_by_m < 0.0 {
                (Tone::Alarm, words::TOO_NEAR)
            } else {
                (Tone::Done, words::CLEAR)
            };
            let bearing = seen
                .bearing_deg
                .map_or_else(none, |deg| format!("{deg:03.0}"));
            (
                tone,
                word,
                format!("{:.0}", seen.distance_m),
                bearing,
                format!("{:.0}", seen.clear_by_m),
            )
        }
    };
    view! {
        <tr>
            <th scope="row">{danger.name.clone()} <br /> <StatusWord tone word=word /></th>
            <td class="is-number">{distance}</td>
            <td class="is-number">{bearing}</td>
            <td class="is-number">{clear}</td>
        </tr>
    }
}

/// The depth over the stay.
#[component]
pub fn DepthOverStay(work: Work) -> impl IntoView {
    let depths = piece(work, drawn::depths);
    let times = piece(work, drawn::times);
    let draught = piece(work, drawn::draught_m);
    let depth = piece(work, |work| work.output.depth.clone());
    view! {
        <section class="plan-drawing">
            <h2 class="plan-heading">{words::DEPTH}</h2>
            <DepthView
                depths=Signal::derive(move || depths.get().unwrap_or_default())
                draught_m=Signal::derive(move || draught.get().unwrap_or(f64::NAN))
                times=Signal::derive(move || times.get().unwrap_or_default())
            />
            {part_view(
                depth,
                |depth| {
                    view! {
                        <p>
                            {words::depths(&format!("{:.1}", depth.water_least_m), &format!("{:.1}", depth.water_greatest_m), &format!("{:.1}", depth.under_keel_least_m), &time::date_clock(depth.under_keel_least_at.0), &format!("{:.1}", depth.hawse_greatest_m))}
                        </p>
                    }
                        .into_any()
                },
            )}
        </section>
    }
}

/// Method, speeds, signals and the Sun.
#[component]
pub fn Also(work: Work) -> impl IntoView {
    let method = piece(work, |work| work.output.method.clone());
    let speeds = piece(work, |work| work.output.speeds.clone());
    let signals = piece(work, |work| work.output.signals.clone());
    let sun = piece(work, |work| work.output.sun.clone());
    let lines = |said: Vec<String>| {
        said.into_iter()
            .map(|line| view! { <p>{line}</p> })
            .collect_view()
            .into_any()
    };
    view! {
        <section class="plan-also">
            <h2 class="plan-heading">{words::ALSO}</h2>
            <dl class="plan-facts">
                <div>
                    <dt>{words::METHOD}</dt>
                    <dd>{part_view(method, move |method| lines(drawn::method(method)))}</dd>
                </div>
                <div>
                    <dt>{words::SPEED}</dt>
                    <dd>{part_view(speeds, move |speeds| lines(drawn::speeds(speeds)))}</dd>
                </div>
                <div>
                    <dt>{words::SIGNALS}</dt>
                    <dd>{part_view(signals, move |signals| lines(drawn::signals(signals)))}</dd>
                </div>
                <div>
                    <dt>{words::SUN}</dt>
                    <dd>{part_view(sun, move |sun| lines(drawn::sun(sun)))}</dd>
                </div>
            </dl>
        </section>
    }
}
