//! The form of an item's card: for one that is put on, and for what is changed of it.

use crate::parts::HoldButton;
use crate::port::{RecordCommand, device};
use crate::words::{self as common, gear as words};
use journal::gear::new_code;
use leptos::prelude::*;
use procedure::Decimal;
use procedure::gear::{
    DateKind, Day, GearChange, GearKind, ItemCard, ItemChange, ItemSide, Register, Room, Where,
    check_card, check_code,
};
use std::collections::BTreeMap;

/// A card as it is being typed.
#[derive(Clone, Copy)]
struct Draft {
    /// None where an item is changed: its code stays.
    code: Option<RwSignal<String>>,
    kind: RwSignal<String>,
    name: RwSignal<String>,
    side: RwSignal<String>,
    room: RwSignal<String>,
    certificate: RwSignal<String>,
    serial: RwSignal<String>,
    dates: RwSignal<BTreeMap<&'static str, String>>,
    figures: RwSignal<BTreeMap<String, String>>,
    under: RwSignal<String>,
    reason: RwSignal<String>,
}

impl Draft {
    fn empty() -> Self {
        Self {
            code: Some(RwSignal::default()),
            kind: RwSignal::default(),
            name: RwSignal::default(),
            side: RwSignal::default(),
            room: RwSignal::default(),
            certificate: RwSignal::default(),
            serial: RwSignal::default(),
            dates: RwSignal::default(),
            figures: RwSignal::default(),
            under: RwSignal::default(),
            reason: RwSignal::default(),
        }
    }

    fn of(card: &ItemCard) -> Self {
        let dates = card
            .dates
            .iter()
            .map(|(date, day)| (date.name(), day.to_string()));
        let figures = card.figures.iter();
        let figures = figures.map(|(key, value)| (key.clone(), value.to_string()));
        Self {
            code: None,
            kind: RwSignal::new(card.kind.clone()),
            name: RwSignal::new(card.name.clone()),
            side: RwSignal::new(card.side.map(ItemSide::name).unwrap_or_default().to_owned()),
            room: RwSignal::new(card.room.name().to_owned()),
            certificate: RwSignal::new(card.certificate.clone()),
            serial: RwSignal::new(card.serial.clone()),
            dates: RwSignal::new(dates.collect()),
            figures: RwSignal::new(figures.collect()),
            under: RwSignal::new(card.under.clone().unwrap_or_default()),
            reason: RwSignal::default(),
        }
    }

    /// Reads what was typed; what is no date and no number is said by the field's own words.
    fn card(self, kinds: &[GearKind]) -> Result<ItemCard, String> {
        let kind = self.kind.get();
        let Some(found) = kinds.iter().find(|known| known.key == kind) else {
            return Err(words::KIND_FIRST.to_string());
        };
        let typed = |text: RwSignal<String>| text.with(|text| text.trim().to_owned());
        let mut dates = Vec::new();
        for date in DateKind::ALL {
            let text = self.dates.with(|dates| dates.get(date.name()).cloned());
            if let Some(text) = text.filter(|text| !text.trim().is_empty()) {
                let day =
                    Day::parse(&text).map_err(|why| format!("{}: {why}", words::date(date)))?;
                dates.push((date, day));
            }
        }
        let mut figures = Vec::new();
        for figure in &found.figures {
            let text = self
                .figures
                .with(|figures| figures.get(&figure.key).cloned());
            if let Some(text) = text.filter(|text| !text.trim().is_empty()) {
                let value = text.trim().parse::<Decimal>();
                let value = value.map_err(|why| format!("{}: {why}", figure.label))?;
                figures.push((figure.key.clone(), value));
            }
        }
        let (side, room) = (self.side.get(), self.room.get());
        let room = Room::ALL.into_iter().find(|known| known.name() == room);
        Ok(ItemCard {
            name: typed(self.name),
            side: ItemSide::ALL.into_iter().find(|known| known.name() == side),
            room: room.unwrap_or(found.room),
            certificate: typed(self.certificate),
            serial: typed(self.serial),
            dates,
            figures,
            under: Some(typed(self.under)).filter(|under| !under.is_empty()),
            kind,
        })
    }
}

fn place(place: &Where, kinds: &[GearKind], kind: &str) -> String {
    match place {
        Where::Code => words::CODE.to_string(),
        Where::Kind => words::KIND.to_string(),
        Where::Name => words::ITEM_NAME.to_string(),
        Where::Side => words::SIDE.to_string(),
        Where::Certificate => words::CERTIFICATE.to_string(),
        Where::Serial => words::SERIAL.to_string(),
        Where::Date(date) => words::date(*date).to_string(),
        Where::Figure(key) => {
            let kind = kinds.iter().find(|known| known.key == kind);
            let figure = kind.and_then(|kind| kind.figure(key));
            figure.map_or_else(|| key.clone(), |figure| figure.label.clone())
        }
        Where::Under => words::UNDER.to_string(),
    }
}

/// Says what is wrong with a card first.
fn first_fault(
    register: &Register,
    code: &str,
    card: &ItemCard,
    kinds: &[GearKind],
    now_ms: i64,
) -> Option<String> {
    let faults = check_card(register, code, card, &[], Day::of_ms(now_ms));
    let first = faults.first();
    first.map(|(at, why)| format!("{}: {why}", place(at, kinds, &card.kind)))
}

fn input(label: common::Word, id: &'static str, value: RwSignal<String>) -> impl IntoView {
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
}

fn choice(
    label: common::Word,
    id: &'static str,
    value: RwSignal<String>,
    options: Vec<(String, String)>,
) -> impl IntoView {
    let options = options
        .into_iter()
        .map(|(key, said)| {
            let mine = key.clone();
            let chosen = move || value.with_untracked(|value| *value == mine);
            view! { <option value=key selected=chosen()>{said}</option> }
        })
        .collect_view();
    view! {
        <label class="field">
            <span>{label}</span>
            <select id=id on:change:target=move |event| value.set(event.target().value())>
                {options}
            </select>
        </label>
    }
}

/// The fields of a card.
fn fields(
    draft: Draft,
    kinds: StoredValue<Vec<GearKind>>,
    others: Vec<(String, String)>,
) -> impl IntoView {
    let sides = ItemSide::ALL
        .into_iter()
        .map(|side| (side.name().to_owned(), words::side(side).to_string()));
    let sides = std::iter::once((String::new(), words::NO_SIDE.to_string()))
        .chain(sides)
        .collect();
    let rooms = move || {
        let usual = draft.kind.with(|kind| {
            kinds.with_value(|kinds| {
                kinds
                    .iter()
                    .find(|known| known.key == *kind)
                    .map(|kind| kind.room)
            })
        });
        if draft.room.with_untracked(String::is_empty)
            && let Some(usual) = usual
        {
            draft.room.set(usual.name().to_owned());
        }
        let all = Room::ALL
            .into_iter()
            .map(|room| (room.name().to_owned(), words::room(room).to_string()));
        choice(words::PLACE, "item-room", draft.room, all.collect())
    };
    let under = others
        .into_iter()
        .map(|(code, name)| (code.clone(), format!("{name} ({code})")));
    let under = std::iter::once((String::new(), words::UNDER_NOTHING.to_string()))
        .chain(under)
        .collect();
    let dates = DateKind::ALL.map(|date| {
        view! {
            <label class="field">
                <span>{words::date(date)}</span>
                <input
                    type="date"
                    id=format!("item-{}", date.name())
                    prop:value=move || draft.dates.with(|dates| dates.get(date.name()).cloned())
                    on:input:target=move |event| {
                        draft.dates.update(|dates| {
                            dates.insert(date.name(), event.target().value());
                        });
                    }
                />
            </label>
        }
    });
    let figures = move || {
        let kind = draft.kind.get();
        let found = kinds.with_value(|kinds| kinds.iter().find(|known| known.key == kind).cloned());
        let figures = found
            .into_iter()
            .flat_map(|kind| kind.figures)
            .map(|figure| {
                let (key, mine) = (figure.key.clone(), figure.key.clone());
                view! {
                    <label class="field">
                        <span data-text="kind">{figure.label} " " {figure.unit}</span>
                        <input
                            type="text"
                            inputmode="decimal"
                            id=format!("figure-{}", figure.key)
                            prop:value=move || draft.figures.with(|all| all.get(&mine).cloned())
                            on:input:target=move |event| {
                                draft.figures.update(|all| {
                                    all.insert(key.clone(), event.target().value());
                                });
                            }
                        />
                    </label>
                }
            });
        figures.collect_view()
    };
    view! {
        {input(words::ITEM_NAME, "item-name", draft.name)}
        {choice(words::SIDE, "item-side", draft.side, sides)}
        {rooms}
        {input(words::CERTIFICATE, "item-certificate", draft.certificate)}
        {input(words::SERIAL, "item-serial", draft.serial)}
        <div class="gear-fields">{dates.into_iter().collect_view()}</div>
        <div class="gear-fields">{figures}</div>
        {choice(words::UNDER, "item-under", draft.under, under)}
        {input(words::WHY, "item-why", draft.reason)}
    }
}

/// The key of a form, and why it cannot be held.
#[component]
fn Key(
    label: common::Word,
    #[prop(into)] why_not: Signal<Option<String>>,
    #[prop(into)] on_held: Callback<()>,
) -> impl IntoView {
    let device = device();
    view! {
        {move || why_not.get().map(|why| view! { <p class="sheet-blocked" data-text="why">{why}</p> })}
        <HoldButton
            label=label.text()
            disabled=Signal::derive(move || device.records.saving.get() || why_not.get().is_some())
            on_held
        />
    }
}

/// Puts an item on the register.
#[component]
pub fn PutOn(kinds: StoredValue<Vec<GearKind>>) -> impl IntoView {
    let device = device();
    let draft = RwSignal::new(Draft::empty());
    let form = move || {
        let draft_now = draft.get();
        let code = draft_now.code.unwrap_or_default();
        let others = device.records.ledger.with_untracked(|ledger| {
            let items = ledger.iter().flat_map(|ledger| ledger.register().items());
            items
                .map(|file| (file.code.clone(), file.now().card.name.clone()))
                .collect()
        });
        let names = kinds.with_value(|kinds| {
            let named = kinds
                .iter()
                .map(|kind| (kind.key.clone(), kind.name.clone()));
            let first = (String::new(), words::CHOOSE_KIND.to_string());
            std::iter::once(first).chain(named).collect()
        });
        let read = Memo::new(move |_| {
            let card = kinds.with_value(|kinds| draft_now.card(kinds))?;
            let now_ms = device.system.now_ms.get_untracked();
            let me = device.me().map(|me| me.person).unwrap_or_default();
            device.records.ledger.with(|ledger| {
                let ledger = ledger
                    .as_ref()
                    .ok_or_else(|| common::NO_STORE.to_string())?;
                let register = ledger.register();
                let typed = code.with(|code| code.trim().to_uppercase());
                let code = if typed.is_empty() {
                    new_code(register, &card.kind, &format!("{me} {now_ms}"), &[])
                } else {
                    check_code(register, &typed)
                        .map_err(|why| format!("{}: {why}", words::CODE))?;
                    typed
                };
                let fault =
                    kinds.with_value(|kinds| first_fault(register, &code, &card, kinds, now_ms));
                fault.map_or(Ok((code, card)), Err)
            })
        });
        let why_not = Signal::derive(move || {
            let is_blank = draft_now.reason.with(|reason| reason.trim().is_empty());
            read.get()
                .err()
                .or_else(|| is_blank.then(|| words::WHY_FIRST.to_string()))
        });
        let put = move |()| {
            if let Ok((item, card)) = read.get_untracked() {
                device.dispatch(RecordCommand::Gear {
                    changes: vec![ItemChange {
                        item,
                        change: GearChange::PutOn { card },
                    }],
                    reason: draft_now.reason.get_untracked().trim().to_owned(),
                });
                draft.set(Draft::empty());
            }
        };
        view! {
            {choice(words::KIND, "item-kind", draft_now.kind, names)}
            {input(words::CODE, "item-new-code", code)}
            {fields(draft_now, kinds, others)}
            <Key label=words::PUT_ON_KEY why_not on_held=put />
        }
    };
    view! {
        <details class="order-more gear-put-on">
            <summary>{words::PUT_ON}</summary>
            <div class="order">{form}</div>
        </details>
    }
}

/// Changes what stands of an item.
#[component]
pub fn Change(
    code: String,
    card: ItemCard,
    kinds: StoredValue<Vec<GearKind>>,
    others: Vec<(String, String)>,
) -> impl IntoView {
    let device = device();
    let draft = Draft::of(&card);
    let code = StoredValue::new(code);
    let before = StoredValue::new(card);
    let read = Memo::new(move |_| {
        let mut card = kinds.with_value(|kinds| draft.card(kinds))?;
        // What the kind does not know, a later edition's figure above all, stays as it is.
        before.with_value(|before| {
            let kept = before.figures.iter().filter(|(key, _)| {
                kinds.with_value(|kinds| {
                    let kind = kinds.iter().find(|kind| kind.key == before.kind);
                    kind.is_none_or(|kind| kind.figure(key).is_none())
                })
            });
            card.figures.extend(kept.cloned());
        });
        let now_ms = device.system.now_ms.get_untracked();
        device.records.ledger.with(|ledger| {
            let ledger = ledger
                .as_ref()
                .ok_or_else(|| common::NO_STORE.to_string())?;
            let fault = kinds.with_value(|kinds| {
                code.with_value(|code| first_fault(ledger.register(), code, &card, kinds, now_ms))
            });
            fault.map_or(Ok(card), Err)
        })
    });
    let why_not = Signal::derive(move || {
        let is_blank = draft.reason.with(|reason| reason.trim().is_empty());
        read.get()
            .err()
            .or_else(|| is_blank.then(|| words::WHY_FIRST.to_string()))
    });
    let keep = move |()| {
        if let Ok(card) = read.get_untracked() {
            device.dispatch(RecordCommand::Gear {
                changes: vec![ItemChange {
                    item: code.get_value(),
                    change: GearChange::Changed { card },
                }],
                reason: draft.reason.get_untracked().trim().to_owned(),
            });
        }
    };
    view! {
        <details class="order-more gear-change">
            <summary>{words::CHANGE}</summary>
            <div class="order">
                {fields(draft, kinds, others)}
                <Key label=words::CHANGE_KEY why_not on_held=keep />
            </div>
        </details>
    }
}
