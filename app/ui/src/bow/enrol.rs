//! Enrolment: a PIN, a key that the phone proves to have kept, a code; then the ship says who it is.

use super::head::BowHead;
use crate::parts::pin_pad::PinPad;
use crate::parts::{Empty, LinkMark, LinkState};
use crate::port::{
    Device, DeviceState, KeyCommand, PinAttempt, Stage, SystemCommand, UnlockView, device, source,
};
use crate::unlock_sheet::{PhoneLockOffer, about_pin, may_try, short_pin};
use crate::words::unlock_sheet as words;
use crate::words::{self as common, Word};
use journal::address;
use journal::auth_messages::{CODE_DIGITS, FirstMaster, ServerCard};
use journal::{Pin, WeakPin};
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::components::A;

/// The page where somebody is enrolled on this phone.
#[component]
pub fn EnrolPage() -> impl IntoView {
    let device = device();
    // Somebody was enrolled here before: this time it is somebody else.
    device.identity.enrolment.update(|enrolment| {
        if enrolment.stage == Stage::Done {
            enrolment.stage = Stage::Choose;
        }
    });
    // Whether it runs as an installed app is said before a key is made.
    Effect::new(move |_| device.dispatch(SystemCommand::Look));
    let stage = Memo::new(move |_| device.identity.enrolment.with(|enrolment| enrolment.stage));
    let is_secure = Memo::new(move |_| {
        device
            .identity
            .enrolment
            .with(|enrolment| enrolment.is_secure)
    });
    let body = move || match (device.identity.state.get(), stage.get()) {
        (DeviceState::NoStore(why), _) => {
            view! { <Empty head=common::NO_STORE body=why /> }.into_any()
        }
        (_, Stage::Opening) => {
            view! { <Empty head=common::OPENING body=common::OPENING_BODY /> }.into_any()
        }
        _ if !is_secure.get() => {
            view! { <Empty head=words::NO_KEYS body=words::NOT_SECURE /> }.into_any()
        }
        (_, Stage::Choose) => view! { <Choose device /> }.into_any(),
        (_, Stage::Prove) => view! { <Prove device /> }.into_any(),
        (_, Stage::Ask) => view! { <Ask device /> }.into_any(),
        (_, Stage::Done) => view! { <Done device /> }.into_any(),
    };
    view! {
        <Title text=words::ENROL_TITLE />
        <div class="bow is-list">
            <BowHead title=words::ENROL_TITLE back="/bow" />
            <main class="bow-home enrol">
                <Steps stage />
                {body}
            </main>
        </div>
    }
}

/// How far the enrolment is, as links of a short chain.
#[component]
fn Steps(stage: Memo<Stage>) -> impl IntoView {
    let at = move || match stage.get() {
        Stage::Opening | Stage::Choose => 0,
        Stage::Prove => 1,
        Stage::Ask => 2,
        Stage::Done => 3,
    };
    let names = [
        words::STEP_PIN,
        words::STEP_AGAIN,
        words::STEP_CODE,
        words::STEP_DONE,
    ];
    let step = move |(n, name): (usize, Word)| {
        let state = move || match n.cmp(&at()) {
            std::cmp::Ordering::Less => LinkState::Done,
            std::cmp::Ordering::Equal if n == 3 => LinkState::Done,
            std::cmp::Ordering::Equal => LinkState::Next,
            std::cmp::Ordering::Greater => LinkState::Open,
        };
        let is_now = move || (n == at()).then_some("step");
        view! {
            <li aria-current=is_now>
                {move || view! { <LinkMark state=state() /> }}
                <span>{name}</span>
            </li>
        }
    };
    view! { <ol class="enrol-steps chain">{names.into_iter().enumerate().map(step).collect_view()}</ol> }
}

fn is_working(device: Device) -> bool {
    device
        .identity
        .attempt
        .with(|trying| *trying == PinAttempt::Working)
}

#[component]
fn Choose(device: Device) -> impl IntoView {
    let typed = RwSignal::new(String::new());
    let judged = Memo::new(move |_| typed.with(|typed| Pin::chosen(typed).map(|_| ())));
    let said = Signal::derive(move || {
        let enough = typed.with(|typed| typed.len() >= journal::pin::LEAST_DIGITS);
        match judged.get() {
            Err(why) if enough => Some(words::weak(why)),
            _ => match device.identity.attempt.get() {
                PinAttempt::Failed(why) => Some(why),
                _ => None,
            },
        }
    });
    let ready = Signal::derive(move || judged.get().is_ok() && !is_working(device));
    let end = Signal::derive(move || {
        if is_working(device) {
            words::MAKING.to_owned()
        } else {
            words::MAKE_KEY.to_owned()
        }
    });
    let make = move |()| {
        if let Ok(pin) = typed.with_untracked(|typed| Pin::chosen(typed)) {
            device.dispatch(KeyCommand::ChoosePin(pin));
        }
    };
    let to_install = move || {
        (device.identity.fitness.with(|fitness| fitness.is_installed) == Some(false))
            .then(|| view! { <p class="quiet">{words::INSTALL_FIRST}</p> })
    };
    view! {
        <p>{words::CHOOSE_BODY}</p>
        <p class="quiet">{words::CHOOSE_LONG}</p>
        <PinPad
            label=words::STEP_PIN
            typed
            said
            end
            ready
            count=words::digits
            erase=words::ERASE.text()
            on_end=make
        />
        {to_install}
    }
}

#[component]
fn StartOver(device: Device) -> impl IntoView {
    view! {
        <button
            type="button"
            class="button"
            disabled=move || is_working(device)
            on:click=move |_| device.dispatch(KeyCommand::DropEnrolment)
        >
            {words::START_OVER}
        </button>
    }
}

#[component]
fn Prove(device: Device) -> impl IntoView {
    let typed = RwSignal::new(String::new());
    let until = Signal::derive(move || {
        device
            .identity
            .enrolment
            .with(|enrolment| enrolment.until_ms)
    });
    Effect::new(move |_| {
        if device.identity.attempt.get() == PinAttempt::Wrong {
            typed.set(String::new());
        }
    });
    let said = Signal::derive(move || about_pin(device, until.get()));
    let ready = Signal::derive(move || may_try(device, typed, until.get()));
    let end = Signal::derive(move || {
        if is_working(device) {
            words::WORKING.to_owned()
        } else {
            words::PROVE.to_owned()
        }
    });
    view! {
        <p>{words::PROVE_BODY}</p>
        <PinPad
            label=words::STEP_AGAIN
            typed
            said
            end
            ready
            count=words::digits
            erase=words::ERASE.text()
            on_end=move |()| device.dispatch(KeyCommand::ProvePin(Pin::typed(&typed.get_untracked())))
        />
        <StartOver device />
    }
}

#[component]
fn Ask(device: Device) -> impl IntoView {
    let source = source();
    let tries = RwSignal::new(0_u32);
    let before = LocalResource::new(move || {
        tries.track();
        let source = source.clone();
        async move { source.get(address::SERVER.at([])).await }
    });
    move || match before.get() {
        None => view! { <Empty head=common::LOADING body="" /> }.into_any(),
        Some(Ok(before)) => view! { <AskForm device before /> }.into_any(),
        Some(Err(_)) => view! {
            <Empty head=common::BOARD_UNREACHED body=words::SHIP_UNREACHED>
                <button
                    type="button"
                    class="button is-primary"
                    on:click=move |_| tries.update(|n| *n += 1)
                >
                    {common::TRY_AGAIN}
                </button>
            </Empty>
        }
        .into_any(),
    }
}

/// One line of what a ship without a name is asked.
fn field(name: &'static str, value: RwSignal<String>) -> impl IntoView {
    view! {
        <label class="field">
            <span>{name}</span>
            <input
                type="text"
                maxlength="80"
                prop:value=value
                on:input:target=move |event| value.set(event.target().value())
            />
        </label>
    }
}

#[component]
fn AskForm(device: Device, before: ServerCard) -> impl IntoView {
    let came = device
        .identity
        .enrolment
        .with_untracked(|enrolment| enrolment.code.clone());
    let has_come = !came.is_empty();
    let code = RwSignal::new(came);
    let [ship, particulars, name] = [(); 3].map(|()| RwSignal::new(String::new()));
    let (is_new, is_ashore) = (before.is_new, before.is_ashore);
    let first_rank = if is_ashore {
        words::ADMINISTRATOR
    } else {
        words::MASTER
    };
    let rank = RwSignal::new(first_rank.to_owned());
    let filled = move |signal: RwSignal<String>| signal.with(|text| !text.trim().is_empty());
    let ready = move || {
        let digits = code.with(|code| code.chars().filter(char::is_ascii_digit).count());
        let named = !is_new || [ship, name, rank].into_iter().all(filled);
        digits == CODE_DIGITS && named && !is_working(device)
    };
    let ask = move |_| {
        let text = |signal: RwSignal<String>| signal.with_untracked(|text| text.trim().to_owned());
        device.dispatch(KeyCommand::Enrol {
            code: code.with_untracked(|code| code.chars().filter(char::is_ascii_digit).collect()),
            first: is_new.then(|| FirstMaster {
                ship: text(ship),
                particulars: text(particulars),
                name: text(name),
                rank: text(rank),
            }),
        });
    };
    let new_ship = move || {
        let [said, house, person] = if is_ashore {
            let person = words::ADMINISTRATORS_NAME;
            [words::NEW_OFFICE, words::OFFICES_NAME, person]
        } else {
            [words::NEW_SHIP, words::SHIPS_NAME, words::MASTERS_NAME]
        };
        is_new.then(|| {
            view! {
                <p>{said}</p>
                {field(house.text(), ship)}
                {(!is_ashore).then(|| field(words::PARTICULARS.text(), particulars))}
                {field(person.text(), name)}
                {field(words::MASTERS_RANK.text(), rank)}
            }
        })
    };
    let failed = move || match device.identity.attempt.get() {
        PinAttempt::Failed(why) => {
            Some(view! { <p class="pin-said is-said" role="alert">{why}</p> })
        }
        _ => None,
    };
    view! {
        <h2>{before.ship.clone()}</h2>
        <p>{if has_come { words::CODE_CAME } else { words::CODE_BODY }}</p>
        <label class="field">
            <span>{words::CODE}</span>
            <input
                class="code-input"
                type="text"
                inputmode="numeric"
                autocomplete="one-time-code"
                maxlength="9"
                prop:value=code
                on:input:target=move |event| code.set(event.target().value())
            />
        </label>
        {new_ship()}
        {failed}
        <button
            type="button"
            class="button is-primary enrol-button"
            disabled=move || !ready()
            on:click=ask
        >
            {move || if is_working(device) { words::ASKING.text() } else { words::ASK.text() }}
        </button>
        <StartOver device />
    }
}

#[component]
fn Done(device: Device) -> impl IntoView {
    let told = move || {
        let me = device.me()?;
        let (ship, fingerprint) = device.records.ledger.with(|ledger| {
            let ledger = ledger.as_ref()?;
            let name = ledger.particulars().map(|body| body.name.clone());
            Some((name.unwrap_or_default(), ledger.authority().fingerprint()))
        })?;
        Some(view! {
            <h2>{words::you_are(&me.name, &me.rank, &ship)}</h2>
            <h3>{words::FINGERPRINT}</h3>
            <p class="fingerprint">{fingerprint}</p>
            <p>{words::FINGERPRINT_BODY}</p>
        })
    };
    let go_on = move || {
        let Some(chain) = short_pin(device) else {
            return view! {
                <A href="/bow/phone" attr:class="button is-primary enrol-button">
                    {words::TO_PHONE_CHECK}
                </A>
            }
            .into_any();
        };
        let change = move |_| {
            let view = UnlockView::Change(chain.clone());
            device.identity.sheet.set(Some(view));
        };
        view! {
            <p class="pin-said is-said" role="alert">
                {words::LONGER_FIRST} " " {words::weak(WeakPin::ShortForRoles)}
            </p>
            <button type="button" class="button is-primary enrol-button" on:click=change>
                {words::LONGER_PIN}
            </button>
        }
        .into_any()
    };
    view! {
        {told}
        {go_on}
        <PhoneLockOffer device />
    }
}
