//! Which item a defect is about, who puts it right, and by when.

use crate::port::device;
use crate::words;
use journal::{Person, RunId};
use leptos::prelude::*;
use procedure::gear::Day;
use procedure::{DefectTerms, Due, DueEvent, PersonId, StepId};

/// The events before which a defect can have to be gone, by their names in the form.
const EVENTS: [(&str, DueEvent); 4] = [
    ("launch", DueEvent::Launch),
    ("anchoring", DueEvent::Anchoring),
    ("entry", DueEvent::Entry),
    ("survey", DueEvent::Survey),
];

/// Says before what a defect must be gone.
const fn event_words(what: DueEvent) -> words::Word {
    match what {
        DueEvent::Launch => words::DUE_LAUNCH,
        DueEvent::Anchoring => words::DUE_ANCHORING,
        DueEvent::Entry => words::DUE_ENTRY,
        DueEvent::Survey => words::DUE_SURVEY,
    }
}

/// What is being said of a defect beside its words.
#[derive(Clone, Copy)]
pub struct Terms {
    item: RwSignal<String>,
    owner: RwSignal<String>,
    day: RwSignal<String>,
    before: RwSignal<String>,
    /// The items that the step's gear may be: code and name.
    items: StoredValue<Vec<(String, String)>>,
}

impl Terms {
    /// Makes it for a step, with the items of the gear that the step touches.
    pub fn of_step(run: Option<RunId>, step: &StepId) -> Self {
        let items = device().records.ledger.with_untracked(|ledger| {
            let ledger = ledger.as_ref()?;
            let procedure = ledger.run(run?)?.procedure.clone()?;
            let gear = &procedure.step(step)?.gear;
            let register = ledger.register();
            let is_of_step = |kind: &str| {
                let kind = register.kind(kind);
                kind.is_some_and(|kind| gear.iter().any(|name| kind.is_called(name)))
            };
            let items = register
                .items()
                .filter(|file| is_of_step(&file.now().card.kind));
            let named = items.map(|file| (file.code.clone(), file.now().card.name.clone()));
            Some(named.collect())
        });
        Self {
            item: RwSignal::default(),
            owner: RwSignal::default(),
            day: RwSignal::default(),
            before: RwSignal::default(),
            items: StoredValue::new(items.unwrap_or_default()),
        }
    }

    /// Returns what is said; none where nothing is.
    pub fn get(self) -> Option<DefectTerms> {
        let said = |text: RwSignal<String>| Some(text.get()).filter(|text| !text.is_empty());
        let day = said(self.day).and_then(|day| Day::parse(&day).ok());
        let what = said(self.before);
        let what = EVENTS
            .into_iter()
            .find(|(name, _)| what.as_deref() == Some(*name));
        let terms = DefectTerms {
            item: said(self.item),
            owner: said(self.owner).map(PersonId::new),
            due: day
                .map(|day| Due::On { day })
                .or_else(|| what.map(|(_, what)| Due::Before { what })),
        };
        (terms != DefectTerms::default()).then_some(terms)
    }

    /// Draws the fields.
    pub fn fields(self, crew: Vec<Person>) -> impl IntoView {
        let items = self.items.get_value();
        let which = (!items.is_empty()).then(|| {
            let named = items
                .into_iter()
                .map(|(code, name)| (code.clone(), format!("{name} ({code})")));
            select(
                words::WHICH_ITEM,
                words::NO_ITEM,
                "fault-item",
                self.item,
                named.collect(),
            )
        });
        let people = crew
            .into_iter()
            .map(|person| (person.id, person.name))
            .collect();
        let events = EVENTS
            .into_iter()
            .map(|(name, what)| (name.to_owned(), event_words(what).to_string()))
            .collect();
        view! {
            {which}
            <details class="order-more">
                <summary>{words::MUST_BE_GONE}</summary>
                {select(words::WHO_OWNS, words::NO_DUE, "fault-owner", self.owner, people)}
                {select(words::MUST_BE_GONE, words::NO_DUE, "fault-before", self.before, events)}
                <label class="field">
                    <span>{words::ON_DAY}</span>
                    <input
                        type="date"
                        id="fault-day"
                        prop:value=self.day
                        on:input:target=move |event| self.day.set(event.target().value())
                    />
                </label>
            </details>
        }
    }
}

fn select(
    label: words::Word,
    none: words::Word,
    id: &'static str,
    value: RwSignal<String>,
    options: Vec<(String, String)>,
) -> impl IntoView {
    let options = options
        .into_iter()
        .map(|(key, name)| view! { <option value=key>{name}</option> })
        .collect_view();
    view! {
        <label class="field">
            <span>{label}</span>
            <select id=id prop:value=value on:change:target=move |event| value.set(event.target().value())>
                <option value="">{none}</option>
                {options}
            </select>
        </label>
    }
}
