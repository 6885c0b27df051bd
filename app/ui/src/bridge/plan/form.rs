//! What the master types: every field with its unit, and what is wrong with it beside it.

use super::Desk;
use super::draft::{DANGERS, TIDE, in_row};
use super::fields::{self, Field, Group, Kind};
use super::from_gear::Offered;
use crate::words::plan as words;
use leptos::prelude::*;
use seamanship::plan::Side;

/// Returns a path as an element's identity.
pub fn id_of(path: &str) -> String {
    let plain: String = path
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() { c } else { '-' })
        .collect();
    format!("plan-{plain}")
}

/// Everything that is typed.
#[component]
pub fn Form(desk: Desk) -> impl IntoView {
    view! {
        <form
            class="plan-in"
            aria-label=words::INPUTS
            novalidate
            autocomplete="off"
            on:submit=|sent| sent.prevent_default()
        >
            {Group::ALL.into_iter().map(|group| view! { <GroupOfFields desk group /> }).collect_view()}
        </form>
    }
}

/// Returns whether a path stands in a group.
pub(super) fn is_in(group: Group, side: Side, path: &str) -> bool {
    match group {
        Group::Depth if path.starts_with(TIDE) => true,
        Group::Room if path.starts_with(DANGERS) => true,
        _ => fields::of(group, side).any(|field| field.path == path),
    }
}

/// One group; those that stay the same from one anchorage to the next are folded until they are wanted.
#[component]
fn GroupOfFields(desk: Desk, group: Group) -> impl IntoView {
    let side = desk.side();
    let missing = desk.missing_in(group);
    // What nobody has typed yet stands open, the ship's own figures too.
    let opened = RwSignal::new(group.is_of_the_day() || missing.get_untracked() > 0);
    let still = move || {
        let count = missing.get();
        (count > 0).then(|| view! { <span class="plan-still">{words::still_to_type(count)}</span> })
    };
    let has_wrong = Memo::new(move |_| {
        desk.with_worked(|worked| {
            worked
                .wrong
                .keys()
                .any(|path| is_in(group, side.get(), path))
        })
        .unwrap_or(false)
    });
    let is_open = Signal::derive(move || opened.get() || has_wrong.get());
    let id = id_of(&format!("{group:?}"));
    let heading = if group.is_of_the_day() {
        view! { <legend>{words::group(group)} {still}</legend> }.into_any()
    } else {
        view! {
            <legend>
                <button
                    type="button"
                    class="plan-fold"
                    aria-expanded=move || is_open.get().to_string()
                    aria-controls=id.clone()
                    on:click=move |_| opened.update(|open| *open = !*open)
                >
                    <span class="plan-fold-mark" aria-hidden="true">
                        {move || if is_open.get() { "\u{2212}" } else { "+" }}
                    </span>
                    {words::group(group)}
                    {still}
                </button>
            </legend>
        }
        .into_any()
    };
    let rows = match group {
        Group::Depth => Some(view! { <TideRows desk /> }.into_any()),
        Group::Room => Some(view! { <DangerRows desk /> }.into_any()),
        _ => None,
    };
    view! {
        <fieldset class="plan-group">
            {heading}
            <div class="plan-fields" id=id hidden=move || !is_open.get()>
                {move || {
                    fields::of(group, if group == Group::Cable { side.get() } else { Side::Port })
                        .map(|field| view! { <OneField desk field /> })
                        .collect_view()
                }}
                {rows}
                {words::group_help(group).map(|help| view! { <p class="field-help is-whole">{help}</p> })}
            </div>
        </fieldset>
    }
}

/// What is wrong at a path, in a sentence with the field's name.
#[component]
fn Wrong(wrong: Signal<Option<String>>, #[prop(into)] id: String, label: String) -> impl IntoView {
    view! {
        <p class="field-wrong" id=id role="status">
            {move || wrong.get().map(|said| words::wrong(&label, &said))}
        </p>
    }
}

/// One line in which something is typed.
#[component]
fn Entry(
    desk: Desk,
    #[prop(into)] path: String,
    #[prop(into)] label: String,
    /// Name for those who hear the page; where the label stands only at the head of a column.
    #[prop(optional, into)]
    spoken: Option<String>,
    #[prop(optional)] unit: &'static str,
    #[prop(optional)] is_number: bool,
    #[prop(optional)] is_whole: bool,
) -> impl IntoView {
    let id = id_of(&path);
    let wrong_id = format!("{id}-wrong");
    let wrong = desk.wrong(&path);
    let text = desk.text(&path);
    let asked = path.clone();
    let named = spoken.clone();
    let is_shown = spoken.is_none();
    let said = spoken.unwrap_or_else(|| label.clone());
    view! {
        <div class="field" class:is-whole=is_whole>
            {is_shown.then(|| view! { <label for=id.clone()>{label.clone()}</label> })}
            <span class="field-entry">
                <input
                    id=id.clone()
                    type="text"
                    inputmode=if is_number { "decimal" } else { "text" }
                    spellcheck="false"
                    aria-label=named
                    aria-invalid=move || wrong.get().is_some().then_some("true")
                    aria-describedby=wrong_id.clone()
                    prop:value=move || text.get()
                    on:input=move |typed| desk.type_in(&path, event_target_value(&typed))
                />
                {(!unit.is_empty()).then(|| view! { <span class="unit">{unit}</span> })}
            </span>
            <Offered desk path=asked />
            <Wrong wrong id=wrong_id label=said />
        </div>
    }
}

#[component]
fn OneField(desk: Desk, field: &'static Field) -> impl IntoView {
    match field.kind {
        Kind::Choice(choices) => {
            let id = id_of(field.path);
            let wrong_id = format!("{id}-wrong");
            let wrong = desk.wrong(field.path);
            let text = desk.text(field.path);
            let unchosen = text;
            let options = (choices.options)()
                .into_iter()
                .map(|(name, said)| {
                    let mine = name.clone();
                    view! { <option value=name selected=move || text.get() == mine>{said}</option> }
                })
                .collect_view();
            view! {
                <div class="field is-whole">
                    <label for=id.clone()>{field.label}</label>
                    <select
                        id=id
                        aria-invalid=move || wrong.get().is_some().then_some("true")
                        aria-describedby=wrong_id.clone()
                        on:change=move |chosen| desk.type_in(field.path, event_target_value(&chosen))
                    >
                        {move || {
                            unchosen.get().is_empty().then(|| view! { <option value="" selected=true>{words::CHOOSE}</option> })
                        }}
                        {options}
                    </select>
                    <Offered desk path=field.path />
                    <Wrong wrong id=wrong_id label=field.label.to_owned() />
                </div>
            }
            .into_any()
        }
        Kind::Words(_) | Kind::Moment(_) | Kind::Angle(..) => view! {
            <Entry desk path=field.path label=field.label unit=field.unit is_whole=true />
        }
        .into_any(),
        Kind::Number(_) | Kind::Perhaps(_) => view! {
            <Entry desk path=field.path label=field.label unit=field.unit is_number=true />
        }
        .into_any(),
    }
}

/// The key that takes a row away.
#[component]
fn TakeAway(desk: Desk, list: &'static str, at: usize, what: &'static str) -> impl IntoView {
    view! {
        <button
            type="button"
            class="button is-quiet plan-take-away"
            aria-label=format!("{}: {what}, {}", words::TAKE_AWAY, at + 1)
            on:click=move |_| desk.change(|draft| draft.remove_row(list, at))
        >
            "×"
        </button>
    }
}

#[component]
fn TideRows(desk: Desk) -> impl IntoView {
    let count = desk.rows(TIDE);
    let wrong = desk.wrong(TIDE);
    view! {
        <div class="plan-rows is-whole" role="group" aria-label=words::TIDE>
            <p class="field-label">{words::TIDE}</p>
            <p class="plan-row-head is-tide" aria-hidden="true">
                <span>{words::TIDE_AT}</span>
                <span>{words::TIDE_HEIGHT}</span>
            </p>
            {move || {
                (0..count.get())
                    .map(|at| {
                        view! {
                            <div class="plan-row is-tide">
                                <Entry
                                    desk
                                    path=in_row(TIDE, at, "at_utc_ms")
                                    label=words::TIDE_AT
                                    spoken=format!("{} {}", words::TIDE_AT, at + 1)
                                />
                                <Entry
                                    desk
                                    path=in_row(TIDE, at, "height_m")
                                    label=words::TIDE_HEIGHT
                                    spoken=format!("{} {}", words::TIDE_HEIGHT, at + 1)
                                    is_number=true
                                />
                                <TakeAway desk list=TIDE at what=words::TIDE.text() />
                            </div>
                        }
                    })
                    .collect_view()
            }}
            <Wrong wrong id=id_of("tide-wrong") label=words::TIDE.to_owned() />
            <button
                type="button"
                class="button is-quiet"
                on:click=move |_| desk.change(|draft| draft.add_row(TIDE))
            >
                {words::ADD_TIDE}
            </button>
        </div>
    }
}

#[component]
fn DangerRows(desk: Desk) -> impl IntoView {
    let count = desk.rows(DANGERS);
    let cell =
        move |at: usize, field: &str, label: &'static str, is_number: bool, is_whole: bool| {
            view! {
                <Entry
                    desk
                    path=in_row(DANGERS, at, field)
                    label=label
                    is_number
                    is_whole
                />
            }
        };
    view! {
        <div class="plan-rows is-whole" role="group" aria-label=words::DANGERS>
            <p class="field-label">{words::DANGERS}</p>
            {move || {
                (0..count.get())
                    .map(|at| {
                        view! {
                            <div
                                class="plan-row is-danger"
                                role="group"
                                aria-label=format!("{}, {}", words::DANGERS, at + 1)
                            >
                                {cell(at, "name", words::DANGER_NAME.text(), false, false)}
                                <TakeAway desk list=DANGERS at what=words::DANGERS.text() />
                                {cell(at, "latitude_deg", words::LATITUDE.text(), false, false)}
                                {cell(at, "longitude_deg", words::LONGITUDE.text(), false, false)}
                                {cell(at, "charted_depth_m", words::CHARTED.text(), true, true)}
                            </div>
                        }
                    })
                    .collect_view()
            }}
            <button
                type="button"
                class="button is-quiet"
                on:click=move |_| desk.change(|draft| draft.add_row(DANGERS))
            >
                {words::ADD_DANGER}
            </button>
        </div>
    }
}
