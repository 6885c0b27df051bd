//! The kinds of gear: the program's, and the ship's own, which a master describes here.

use super::super::shown;
use super::{device, today};
use crate::parts::HoldButton;
use crate::port::{RecordCommand, device as port_device};
use crate::words::gear as words;
use journal::address;
use journal::gear::{GearPage as Page, gear_page};
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::components::A;
use procedure::gear::{DateKind, Figure, GearKind, Room, kinds};
use procedure::{Decimal, Role};
use std::collections::BTreeSet;

/// So many figures a kind of the ship's own has at most.
const MOST_FIGURES: usize = 12;

/// Makes a short name of a name: small letters, digits and hyphens.
fn short(name: &str) -> String {
    let signs = name.trim().to_lowercase();
    let signs = signs.chars().map(|sign| {
        if sign.is_ascii_alphanumeric() {
            sign
        } else {
            '-'
        }
    });
    let signs: String = signs.collect();
    let parts: Vec<&str> = signs.split('-').filter(|part| !part.is_empty()).collect();
    parts.join("-")
}

/// One figure as it is typed.
#[derive(Clone, Copy, PartialEq, Eq)]
struct FigureDraft {
    label: RwSignal<String>,
    unit: RwSignal<String>,
    min: RwSignal<String>,
    max: RwSignal<String>,
}

impl FigureDraft {
    fn empty() -> Self {
        Self {
            label: RwSignal::default(),
            unit: RwSignal::default(),
            min: RwSignal::default(),
            max: RwSignal::default(),
        }
    }

    fn read(self) -> Result<Figure, String> {
        let text = |text: RwSignal<String>| text.with(|text| text.trim().to_owned());
        let label = text(self.label);
        let number = |signal| {
            let typed = text(signal);
            typed
                .parse::<Decimal>()
                .map_err(|why| format!("{label}: {why}"))
        };
        Ok(Figure {
            key: short(&label),
            unit: text(self.unit),
            min: number(self.min)?,
            max: number(self.max)?,
            label,
        })
    }
}

fn field(label: crate::words::Word, id: &'static str, value: RwSignal<String>) -> AnyView {
    view! {
        <label class="field">
            <span>{label}</span>
            <input
                type="text"
                id=id
                autocomplete="off"
                prop:value=value
                on:input:target=move |event| value.set(event.target().value())
            />
        </label>
    }
    .into_any()
}

/// The form in which a master describes a kind.
#[component]
fn Describe() -> impl IntoView {
    let device = port_device();
    let (name, job, source) = (
        RwSignal::<String>::default(),
        RwSignal::<String>::default(),
        RwSignal::<String>::default(),
    );
    let room = RwSignal::new(Room::Deck.name().to_owned());
    let sided = RwSignal::new(false);
    let dates = RwSignal::new(BTreeSet::<DateKind>::new());
    let figures = RwSignal::new(Vec::<FigureDraft>::new());
    let read = Memo::new(move |_| {
        let text = |text: RwSignal<String>| text.with(|text| text.trim().to_owned());
        let named = text(name);
        let kind = GearKind {
            key: short(&named),
            gear: vec![named.to_lowercase()],
            name: named,
            job: text(job),
            room: room.with(|name| {
                Room::ALL
                    .into_iter()
                    .find(|room| room.name() == name)
                    .unwrap_or(Room::Deck)
            }),
            sided: sided.get(),
            dates: dates.with(|dates| dates.iter().copied().collect()),
            figures: figures
                .get()
                .into_iter()
                .map(FigureDraft::read)
                .collect::<Result<_, _>>()?,
            intervals: Vec::new(),
            source: text(source),
        };
        if kinds()
            .iter()
            .any(|known| known.key == kind.key || known.name == kind.name)
        {
            return Err(words::KIND_TAKEN.to_string());
        }
        let text = kind.text();
        match procedure::parse_gear_kinds("kinds.toml", &text) {
            Ok(_) => Ok(text),
            Err(mistakes) => Err(mistakes
                .first()
                .map(ToString::to_string)
                .unwrap_or_default()),
        }
    });
    let put = move |()| {
        if let Ok(text) = read.get_untracked() {
            device.dispatch(RecordCommand::GearKinds { text });
            for field in [name, job, source] {
                field.set(String::new());
            }
            figures.set(Vec::new());
            dates.set(BTreeSet::new());
        }
    };
    let rooms = Room::ALL.map(|one| {
        view! { <option value=one.name()>{words::room(one)}</option> }
    });
    let ends = DateKind::ALL.into_iter().filter(|date| date.is_end());
    let ends: Vec<_> = ends
        .map(|date| {
            let press = move |_| {
                dates.update(|all| {
                    if !all.remove(&date) {
                        all.insert(date);
                    }
                });
            };
            view! {
                <label class="crew-role">
                    <input
                        type="checkbox"
                        id=format!("kind-{}", date.name())
                        prop:checked=move || dates.with(|all| all.contains(&date))
                        on:change=press
                    />
                    {words::date(date)}
                </label>
            }
        })
        .collect();
    let rows = move || {
        let rows = figures.get().into_iter().enumerate().map(|(at, row)| {
            let part = |label, part: &str, value: RwSignal<String>| {
                view! {
                    <label class="field">
                        <span>{label}</span>
                        <input
                            type="text"
                            id=format!("kind-figure-{at}-{part}")
                            prop:value=value
                            on:input:target=move |event| value.set(event.target().value())
                        />
                    </label>
                }
            };
            view! {
                <div class="gear-fields">
                    {part(words::FIGURE_NAME, "name", row.label)} {part(words::FIGURE_UNIT, "unit", row.unit)}
                    {part(words::FIGURE_LEAST, "least", row.min)} {part(words::FIGURE_MOST, "most", row.max)}
                </div>
            }
        });
        rows.collect_view()
    };
    view! {
        <details class="order-more gear-kind-form">
            <summary>{words::DESCRIBE_KIND}</summary>
            <div class="order">
                {field(words::KIND_NAME, "kind-name", name)} {field(words::KIND_JOB, "kind-job", job)}
                <label class="field">
                    <span>{words::PLACE}</span>
                    <select id="kind-room" prop:value=room on:change:target=move |event| room.set(event.target().value())>
                        {rooms.into_iter().collect_view()}
                    </select>
                </label>
                <label class="crew-role">
                    <input
                        type="checkbox"
                        id="kind-sided"
                        prop:checked=sided
                        on:change:target=move |event| sided.set(event.target().checked())
                    />
                    {words::KIND_SIDED}
                </label>
                <fieldset class="crew-roles">
                    <legend>{words::KIND_DATES}</legend>
                    {ends}
                </fieldset>
                {rows}
                <button
                    type="button"
                    class="button is-quiet"
                    disabled=move || figures.with(|all| all.len() >= MOST_FIGURES)
                    on:click=move |_| figures.update(|all| all.push(FigureDraft::empty()))
                >
                    {words::ADD_FIGURE}
                </button>
                {field(words::KIND_SOURCE, "kind-source", source)}
                {move || read.get().err().map(|why| view! { <p class="sheet-blocked" data-text="why">{why}</p> })}
                <HoldButton
                    label=words::DESCRIBE_KIND.text()
                    disabled=Signal::derive(move || device.records.saving.get() || read.with(Result::is_err))
                    on_held=put
                />
            </div>
        </details>
    }
}

fn kind(kind: &GearKind) -> impl IntoView + use<> {
    let figures = kind.figures.iter().map(|figure| {
        let (unit, min, max) = (&figure.unit, figure.min.to_string(), figure.max.to_string());
        let said = words::figure_between(&figure.label, &min, &max, unit);
        view! { <li data-text="kind">{said}</li> }
    });
    let dates = kind.dates.iter().map(|date| words::date(*date).to_string());
    let dates = dates.collect::<Vec<_>>().join(", ");
    let dates = (!dates.is_empty()).then(|| view! { <p>{words::needs_dates(&dates)}</p> });
    view! {
        <details class="order-more" data-kind=kind.key.clone()>
            <summary data-text="kind">{kind.name.clone()}</summary>
            <p data-text="kind">{kind.job.clone()}</p>
            {dates}
            <ul>{figures.collect_view()}</ul>
            <p class="quiet" data-text="source">{kind.source.clone()}</p>
        </details>
    }
}

fn body(page: Page) -> impl IntoView {
    let device = port_device();
    let is_master = move || device.me().is_some_and(|me| me.roles.has(Role::Master));
    let is_own = |one: &&GearKind| !kinds().iter().any(|known| known.key == one.key);
    let own: Vec<_> = page.kinds.iter().filter(is_own).map(kind).collect();
    let others: Vec<_> = page
        .kinds
        .iter()
        .filter(|one| !is_own(one))
        .map(kind)
        .collect();
    view! {
        <div class="office-title">
            <h1>{words::KINDS}</h1>
            <p class="quiet">{words::KINDS_BODY}</p>
            <A href="/gear">{words::BACK_TO_GEAR}</A>
        </div>
        <section class="procedure-part">
            <h2>{words::OWN_KINDS}</h2>
            {own}
            {move || is_master().then(|| view! { <Describe /> })}
        </section>
        <section class="procedure-part">
            <h2>{words::PROGRAMS_KINDS}</h2>
            {others}
        </section>
    }
}

/// The page of the kinds.
#[component]
pub fn KindsPage() -> impl IntoView {
    let today = today(device());
    view! {
        <Title text=words::KINDS />
        {shown(
            || address::GEAR.at([]),
            move |ledger| Some(gear_page(ledger, today.get())),
            body,
        )}
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_short_name_is_made_of_what_people_write() {
        assert_eq!(short(" Rope cutter, big "), "rope-cutter-big");
        assert_eq!(short("--"), "");
    }
}
