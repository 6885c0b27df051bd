//! The table of the cables' marks, to print and hang at both brakes and on the bridge: the ship's own, from her settings.

use crate::parts::{Caution, Empty};
use crate::time;
use crate::words::{self as common, forward as words};
use journal::address;
use journal::catalogue::{SettingsPage, settings_page};
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::components::A;
use procedure::Cable;
use procedure::cable::{BOTH, Side, side_word};

/// One line of the table: the mark, how it is painted, and how much cable has passed with it, m from the anchor.
#[derive(Debug, Clone, PartialEq)]
struct Line {
    mark: usize,
    paints: Vec<&'static str>,
    out_m: f64,
    left_m: f64,
}

/// Lists the marks of a cable, the anchor's first, with what is out and what is left when each passes.
fn lines(cable: &Cable) -> Vec<Line> {
    let total_m = cable.total_m();
    (1..=cable.joints())
        .map(|mark| {
            #[expect(clippy::cast_precision_loss, reason = "at most forty")]
            let out_m = cable.metres_at(mark as f64);
            Line {
                mark,
                paints: cable
                    .paints_of(mark)
                    .iter()
                    .map(|paint| paint.name())
                    .collect(),
                out_m,
                left_m: total_m - out_m - cable.keep_m.to_f64(),
            }
        })
        .collect()
}

fn row(line: &Line) -> impl IntoView + use<> {
    let swatches = line.paints.iter().map(|paint| {
        view! { <span class=format!("marks-paint is-{paint}") aria-hidden="true"></span> }
    });
    let named = if line.paints.is_empty() {
        words::NOT_PAINTED.to_string()
    } else {
        line.paints.join(&common::AND)
    };
    // What is to stay inboard is reached before this mark: nothing more may go out.
    let is_end = line.left_m < 0.0;
    let left = if is_end {
        words::NEVER_OUT.to_string()
    } else {
        format!("{:.1} m", line.left_m)
    };
    view! {
        <tr class:is-end=is_end data-mark=line.mark.to_string()>
            <th scope="row">{line.mark.to_string()}</th>
            <td>
                {swatches.collect_view()} " " <span data-text="procedure">{named}</span>
            </td>
            <td class="is-number">{format!("{:.1} m", line.out_m)}</td>
            <td class="is-number" data-text="procedure">{left}</td>
        </tr>
    }
}

fn table(side: Side, cable: Option<&Cable>) -> impl IntoView + use<> {
    let name = match side {
        Side::Port => words::PORT_CABLE,
        Side::Starboard => words::STARBOARD_CABLE,
    };
    let drawn = match cable {
        None => {
            view! { <Empty head=words::NOT_DESCRIBED body=words::NOT_DESCRIBED_BODY /> }.into_any()
        }
        Some(cable) => {
            let rows = lines(cable).iter().map(row).collect_view();
            let total = format!("{:.1}", cable.total_m());
            view! {
                <p>{words::cable_whole(&total, &cable.keep_m.to_string())}</p>
                <table class="table marks-table">
                    <thead>
                        <tr>
                            <th scope="col">{words::MARK}</th>
                            <th scope="col">{words::PAINT}</th>
                            <th scope="col">{words::OUT}</th>
                            <th scope="col">{words::LEFT}</th>
                        </tr>
                    </thead>
                    <tbody>{rows}</tbody>
                </table>
            }
            .into_any()
        }
    };
    view! {
        <section class="marks-cable" data-side=side_word(side)>
            <h2>{name}</h2>
            {drawn}
        </section>
    }
}

fn body(page: &SettingsPage, ship: &str, now_ms: i64) -> impl IntoView + use<> {
    let cables = &page.settings.cables;
    let tables = BOTH.map(|side| table(side, cables.of(side)));
    view! {
        <div class="office-title">
            <h1>{words::MARKS} " " <span data-text="name">{ship.to_owned()}</span></h1>
            <p class="quiet not-printed">
                {words::MARKS_BODY} " " <A href="/procedures/cable-marks">{words::MARKS_PROCEDURE}</A>
            </p>
            <p>{words::printed_on(&time::date_clock(now_ms))}</p>
        </div>
        <div class="marks">{tables.into_iter().collect_view()}</div>
        <Caution text=words::MARKS_CAUTION.to_string() />
    }
}

/// The page.
#[component]
pub fn MarksPage() -> impl IntoView {
    let device = crate::port::device();
    let ship = move || {
        device.records.ledger.with(|ledger| {
            let particulars = ledger.as_ref()?.particulars()?;
            Some(particulars.name.clone())
        })
    };
    view! {
        <Title text=words::MARKS />
        {super::shown(
            || address::SETTINGS.at([]),
            |ledger| Some(settings_page(ledger)),
            move |page: SettingsPage| {
                let now_ms = device.system.now_ms.get_untracked();
                body(&page, &ship().unwrap_or_default(), now_ms)
            },
        )}
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_mark_says_what_is_out_and_what_may_still_go() {
        let cable = Cable::parse("27.5 red\n27 white blue\n27.5 yellow\n27.5", "30").unwrap();
        let lines = lines(&cable);
        let marks: Vec<usize> = lines.iter().map(|line| line.mark).collect();
        assert_eq!(marks, [1, 2, 3]);
        assert_eq!(lines[1].paints, ["white", "blue"]);
        assert!((lines[1].out_m - 54.5).abs() < 1e-9);
        assert!((lines[1].left_m - 25.0).abs() < 1e-9);
        assert!(lines[2].left_m < 0.0, "the last mark never goes out");
    }
}
