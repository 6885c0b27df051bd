//! The survey pack: what the surveyor will ask for forward, and what of it is missing today; a sheet to print.

use crate::parts::{Caution, StatusWord, Tone};
use crate::port::device;
use crate::time;
use crate::words::{forward as words, ship as ship_words};
use journal::address;
use journal::survey::{Lack, SurveyPage as Page, SurveyPart, survey_page};
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::components::A;
use procedure::cable::side_word;

const DAY_MS: i64 = 86_400_000;

/// Says what is missing.
fn said(lack: &Lack) -> String {
    match lack {
        Lack::NoItem { kind } => words::lack_item(kind),
        Lack::NoMarks { side } => words::lack_marks(side_word(*side)),
        Lack::NoCertificate { code, name } => words::lack_certificate(name, code),
        Lack::Date {
            code,
            name,
            because,
            days,
        } => match (because, days) {
            (Some(because), _) => words::lack_not_usable(name, code, because),
            (None, Some(days)) => words::lack_ends(name, code, &days.to_string()),
            (None, None) => words::lack_not_usable(name, code, ""),
        },
        Lack::Service {
            code,
            name,
            is_out,
            because,
        } => {
            if *is_out {
                words::lack_out(name, code, because)
            } else {
                words::lack_restricted(name, code, because)
            }
        }
        Lack::Round { title, state, .. } => {
            words::lack_round(title, ship_words::round_state(*state).text())
        }
        Lack::Drill {
            title, who, state, ..
        } => words::lack_drill(who, title, words::date_state(*state).text()),
        Lack::Defect { text, by_survey } => {
            if *by_survey {
                words::lack_defect_survey(text)
            } else {
                words::lack_defect(text)
            }
        }
        Lack::Limits { count } => words::lack_limits(*count),
    }
}

/// Returns the page on which it is put right.
fn way(lack: &Lack) -> String {
    match lack {
        Lack::NoItem { .. } => "/gear".to_owned(),
        Lack::NoMarks { .. } | Lack::Limits { .. } => "/settings".to_owned(),
        Lack::NoCertificate { code, .. } | Lack::Date { code, .. } | Lack::Service { code, .. } => {
            format!("/gear/{code}")
        }
        Lack::Round { slug, .. } | Lack::Drill { slug, .. } => format!("/procedures/{slug}"),
        Lack::Defect { .. } => "/defects".to_owned(),
    }
}

fn part(part: &SurveyPart) -> impl IntoView + use<> {
    let missing = part.lacks.len();
    let (tone, word) = if missing == 0 {
        (Tone::Done, words::NOTHING_MISSING.to_string())
    } else {
        (Tone::Wait, words::things_missing(missing))
    };
    let lines = part.lacks.iter().map(|lack| {
        let (href, said) = (way(lack), said(lack));
        view! {
            <li>
                <A href=href>
                    <span data-text="procedure">{said}</span>
                </A>
                <span class="survey-by" aria-hidden="true"></span>
            </li>
        }
    });
    view! {
        <section class="procedure-part survey-part" data-about=format!("{:?}", part.about).to_lowercase()>
            <h2>{words::about(part.about)}</h2>
            <p>
                <StatusWord tone word />
                " "
                <span class="quiet">{words::looked_at(&part.of.to_string())}</span>
            </p>
            <ul class="survey-lines">{lines.collect_view()}</ul>
        </section>
    }
}

fn body(page: &Page) -> impl IntoView + use<> {
    let missing = page.missing();
    view! {
        <div class="office-title">
            <h1>{words::SURVEY} " " <span data-text="name">{page.ship.clone()}</span></h1>
            <p class="quiet">{words::SURVEY_BODY}</p>
        </div>
        <p class="survey-sum" data-missing=missing.to_string()>
            {words::missing_on(missing, &time::date_clock(page.now_ms))}
        </p>
        <Caution text=words::SURVEY_CAUTION.to_string() />
        <p class="quiet not-printed">
            {words::SURVEY_PRINT}
            " "
            <A href="/procedures/survey-pack">{words::SURVEY_PROCEDURE}</A>
        </p>
        {page.parts.iter().map(part).collect_view()}
    }
}

/// The page.
#[component]
pub fn SurveyPage() -> impl IntoView {
    let device = device();
    let today = Memo::new(move |_| device.system.now_ms.get().div_euclid(DAY_MS) * DAY_MS);
    view! {
        <Title text=words::SURVEY />
        {super::shown(
            || address::SURVEY.at([]),
            move |ledger| Some(survey_page(ledger, today.get())),
            |page: Page| body(&page),
        )}
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use procedure::cable::Side;

    #[test]
    fn each_lack_leads_to_where_it_is_put_right() {
        let item = Lack::NoCertificate {
            code: "HO-1".to_owned(),
            name: "bow hose".to_owned(),
        };
        assert_eq!(way(&item), "/gear/HO-1");
        assert!(said(&item).contains("bow hose") && said(&item).contains("HO-1"));
        let marks = Lack::NoMarks { side: Side::Port };
        assert_eq!(way(&marks), "/settings");
        assert!(said(&marks).contains("port"));
    }
}
