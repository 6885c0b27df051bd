//! What a master fills in on the crew's page.

use super::{Counter, Sending, told};
use crate::parts::HoldButton;
use crate::words::{crew as words, engine};
use chrono::NaiveDate;
use journal::address;
use journal::crew::{Doubt, DoubtQuestion, PersonDraft, ShipDraft, WithdrawQuestion, words_of};
use journal::{Person, VesselBody, roles_from_words};
use leptos::prelude::*;
use procedure::{Role, Roles};
use record::DeviceId;

fn field(label: &'static str, kind: &'static str, text: RwSignal<String>) -> impl IntoView {
    view! {
        <label class="field">
            <span>{label}</span>
            <input
                type=kind
                prop:value=text
                on:input:target=move |event| text.set(event.target().value())
            />
        </label>
    }
}

/// Returns a moment of a day that was typed, ms UTC.
fn moment(typed: &str, (hour, minute, second): (u32, u32, u32)) -> Option<i64> {
    let day = NaiveDate::parse_from_str(typed.trim(), "%Y-%m-%d").ok()?;
    let moment = day.and_hms_opt(hour, minute, second)?;
    Some(moment.and_utc().timestamp_millis())
}

/// Returns a moment as a field for days takes it.
fn typed(ms: Option<i64>) -> String {
    ms.and_then(chrono::DateTime::from_timestamp_millis)
        .map_or_else(String::new, |at| at.format("%Y-%m-%d").to_string())
}

fn role_box(role: Role, roles: RwSignal<Roles>) -> impl IntoView {
    let bit = Roles::of(&[role]).bits();
    view! {
        <label class="crew-role">
            <input
                type="checkbox"
                prop:checked=move || roles.get().has(role)
                on:change:target=move |event| {
                    let is_on = event.target().checked();
                    roles
                        .update(|roles| {
                            let rest = roles.bits() & !bit;
                            *roles = Roles::from_bits(if is_on { rest | bit } else { rest });
                        });
                }
            />
            {engine::role(role)}
        </label>
    }
}

/// An entry of the crew list: a new one, or one that is changed.
#[component]
pub fn PersonForm(of: Option<Person>) -> impl IntoView {
    let counter = Counter::here();
    let state = counter.state;
    let text =
        |pick: fn(&Person) -> String| RwSignal::new(of.as_ref().map(pick).unwrap_or_default());
    let name = text(|person| person.name.clone());
    let rank = text(|person| person.rank.clone());
    let joins = text(|person| typed(person.joins_ms));
    let leaves = text(|person| typed(person.leaves_ms));
    let roles = of.as_ref().map(|person| roles_from_words(&person.roles));
    let roles = RwSignal::new(roles.unwrap_or(Roles::of(&[Role::Crew])));
    let id = of.map(|person| person.id);
    let is_new = id.is_none();
    let put = move |()| {
        let draft = PersonDraft {
            id: id.clone(),
            name: name.get_untracked(),
            rank: rank.get_untracked(),
            roles: words_of(roles.get_untracked()),
            joins_ms: moment(&joins.get_untracked(), (0, 0, 0)),
            leaves_ms: moment(&leaves.get_untracked(), (23, 59, 59)),
        };
        counter.send(address::CREW_PERSON.at([]), draft, move |_| {
            if is_new {
                let _ = name.try_set(String::new());
                let _ = rank.try_set(String::new());
            }
        });
    };
    view! {
        <div class="order">
            {field(words::NAME.text(), "text", name)} {field(words::RANK.text(), "text", rank)}
            <fieldset class="crew-roles">
                <legend>{words::ROLES}</legend>
                {Role::ALL.map(|role| role_box(role, roles)).into_iter().collect_view()}
            </fieldset>
            {field(words::JOINS.text(), "date", joins)} {field(words::LEAVES.text(), "date", leaves)}
            {told(state)}
            <HoldButton
                label=words::SAVE
                disabled=Signal::derive(move || state.get() == Sending::Sent)
                on_held=put
            />
        </div>
    }
}

/// Returns a moment that was typed, ms UTC; none for nothing.
///
/// # Errors
/// What to write instead.
fn moment_or_now(typed: &str) -> Result<Option<i64>, &'static str> {
    let typed = typed.trim().trim_end_matches(['Z', 'z']).trim_end();
    if typed.is_empty() {
        return Ok(None);
    }
    ["%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M:%S"]
        .into_iter()
        .find_map(|form| chrono::NaiveDateTime::parse_from_str(typed, form).ok())
        .map(|at| Some(at.and_utc().timestamp_millis()))
        .ok_or(words::NO_MOMENT.text())
}

/// The withdrawal of a device. The time is text: a browser's own field for times hides what it cannot read,
/// and shows the phone's zone.
#[component]
pub fn WithdrawForm(device: DeviceId) -> impl IntoView {
    let counter = Counter::here();
    let state = counter.state;
    let reason = RwSignal::new(String::new());
    let from = RwSignal::new(String::new());
    let doubt = RwSignal::new(None::<Doubt>);
    let keep_seq = RwSignal::new(None::<u64>);
    let forget = move || {
        doubt.set(None);
        keep_seq.set(None);
    };
    let from_ms = move || {
        let typed = moment_or_now(&from.get_untracked());
        typed.map_err(|why| state.set(Sending::Refused(why.to_owned())))
    };
    let asking = counter.clone();
    let ask = move |_| {
        let Ok(from_ms) = from_ms() else { return };
        forget();
        let question = DoubtQuestion { device, from_ms };
        asking.send(address::CREW_DOUBT.at([]), question, move |found| {
            // The form may be gone.
            let _ = doubt.try_set(Some(found));
        });
    };
    let put = move |()| {
        let Ok(from_ms) = from_ms() else { return };
        let question = WithdrawQuestion {
            device,
            reason: reason.get_untracked(),
            from_ms,
            keep_seq: keep_seq.get_untracked(),
        };
        counter.send(address::CREW_WITHDRAW.at([]), question, |_| {});
    };
    // From a time that has passed: first the master sees what is in doubt.
    let is_unseen = move || {
        let is_past = from.with(|from| !from.trim().is_empty());
        is_past && doubt.with(Option::is_none)
    };
    view! {
        <details class="order-more">
            <summary>{words::WITHDRAW}</summary>
            <div class="order">
                <p>{words::WITHDRAW_BODY}</p>
                <p>{words::WITHDRAW_RULE}</p>
                {field(words::REASON.text(), "text", reason)}
                <div on:input=move |_| forget()>{field(words::FROM.text(), "text", from)}</div>
                <p class="field-help">{words::FROM_HELP}</p>
                <button type="button" class="button" on:click=ask>
                    {words::SHOW_DOUBT}
                </button>
                {move || doubt.get().map(|doubt| in_doubt(&doubt, keep_seq))}
                {told(state)}
                <HoldButton
                    label=words::WITHDRAW
                    disabled=Signal::derive(move || {
                        state.get() == Sending::Sent || is_unseen()
                            || reason.with(|reason| reason.trim().is_empty())
                    })
                    on_held=put
                />
            </div>
        </details>
    }
}

/// The records in doubt, oldest first: the master chooses up to which they are true.
fn in_doubt(doubt: &Doubt, keep_seq: RwSignal<Option<u64>>) -> AnyView {
    if doubt.records.is_empty() {
        return view! { <p role="status">{words::NO_DOUBT}</p> }.into_any();
    }
    let choices = std::iter::once((None, words::KEEP_NONE.to_owned()));
    let rows = doubt
        .records
        .iter()
        .map(|row| (Some(row.seq), words::keep_to(row)));
    let choice = |(seq, says): (Option<u64>, String)| {
        view! {
            <label class="crew-role">
                <input
                    type="radio"
                    name="keep"
                    prop:checked=move || keep_seq.get() == seq
                    on:change=move |_| keep_seq.set(seq)
                />
                <span>{says}</span>
            </label>
        }
    };
    view! {
        <fieldset class="doubt">
            <legend>{words::DOUBT_BODY}</legend>
            {choices.chain(rows).map(choice).collect_view()}
        </fieldset>
    }
    .into_any()
}

/// The ship's particulars.
#[component]
pub fn ShipForm(ship: VesselBody) -> impl IntoView {
    let counter = Counter::here();
    let state = counter.state;
    let degrees = |e7: i32| RwSignal::new(format!("{:.4}", f64::from(e7) / 1e7));
    let (latitude, longitude) = (degrees(ship.latitude_e7), degrees(ship.longitude_e7));
    let name = RwSignal::new(ship.name);
    let particulars = RwSignal::new(ship.particulars);
    let put = move |()| {
        let number = |text: RwSignal<String>| text.get_untracked().trim().parse::<f64>();
        let (Ok(north), Ok(east)) = (number(latitude), number(longitude)) else {
            state.set(Sending::Refused(words::NO_NUMBER.to_owned()));
            return;
        };
        let draft = ShipDraft {
            name: name.get_untracked(),
            particulars: particulars.get_untracked(),
            latitude: north,
            longitude: east,
        };
        counter.send(address::CREW_SHIP.at([]), draft, |_| {});
    };
    view! {
        <div class="order">
            {field(words::NAME.text(), "text", name)} {field(words::PARTICULARS.text(), "text", particulars)}
            {field(words::LATITUDE.text(), "text", latitude)} {field(words::LONGITUDE.text(), "text", longitude)}
            <p class="field-help">{words::POSITION_HELP}</p>
            {told(state)}
            <HoldButton
                label=words::SAVE
                disabled=Signal::derive(move || state.get() == Sending::Sent)
                on_held=put
            />
        </div>
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_goes_into_its_field_and_comes_back() {
        let from = moment("2026-11-25", (0, 0, 0));
        assert_eq!(from, Some(1_795_564_800_000));
        assert_eq!(typed(from), "2026-11-25");
        let until = moment("2026-11-25", (23, 59, 59));
        assert_eq!(typed(until), "2026-11-25");
        assert_eq!(moment("", (0, 0, 0)), None);
        assert_eq!(typed(None), "");
    }

    #[test]
    fn a_moment_is_read_in_utc_or_refused_and_never_taken_for_now() {
        let half_past_two = Ok(Some(1_795_617_000_000));
        for typed in [
            "2026-11-25 14:30",
            " 2026-11-25T14:30 ",
            "2026-11-25 14:30Z",
            "2026-11-25 14:30:00",
        ] {
            assert_eq!(moment_or_now(typed), half_past_two, "{typed:?}");
        }
        assert_eq!(moment_or_now("  "), Ok(None));
        for typed in [
            "14:30",
            "yesterday",
            "2026-11-25",
            "25.11.2026 14:30",
            "2026-11-25 24:30",
            "Z2026",
        ] {
            assert_eq!(
                moment_or_now(typed),
                Err(words::NO_MOMENT.text()),
                "{typed:?}"
            );
        }
    }
}
