//! Messages between bow and bridge, on the run's page and on its card: what was said, and who has read it.

use crate::parts::HoldButton;
use crate::photo::{DevicePhoto, DeviceVoice, SpeakNote, TakePhoto};
use crate::port::{MediaCommand, RecordCommand, device};
use crate::run_links::name_in;
use crate::{time, words};
use journal::{Person, RunCard, RunId};
use leptos::prelude::*;
use procedure::{Event, MessageView, PersonId, Role};

/// How many that were read are shown; those that nobody here has read always are.
const READ_SHOWN: usize = 3;

/// Says whether `me` has still to read a message.
fn is_unread(message: &MessageView, me: &PersonId) -> bool {
    !message.by.is_same(me) && !message.read.iter().any(|read| read.by.is_same(me))
}

/// Returns what is shown, oldest first: all that is unread, and the last of the others.
fn shown(messages: &[MessageView], me: &PersonId) -> Vec<MessageView> {
    let read = messages.iter().filter(|one| !is_unread(one, me)).count();
    let mut left_out = read.saturating_sub(READ_SHOWN);
    let keep = |one: &&MessageView| {
        let is_old = !is_unread(one, me) && left_out > 0;
        if is_old {
            left_out -= 1;
        }
        !is_old
    };
    messages.iter().filter(keep).cloned().collect()
}

/// Says who has read a message and when, or that nobody has.
fn read_by(message: &MessageView, crew: &[Person]) -> String {
    let one = |read: &procedure::SeenView| {
        format!("{} {}", name_in(crew, &read.by), time::clock(read.at_ms))
    };
    let all: Vec<String> = message.read.iter().map(one).collect();
    if all.is_empty() {
        words::MESSAGE_UNREAD.to_owned()
    } else {
        words::message_read(&all.join(", "))
    }
}

/// The oldest message that is still to be read, over the step at hand, with the key that says so.
#[component]
pub fn UnreadMessage(
    /// The run.
    #[prop(into)]
    run: Signal<Option<RunId>>,
    /// Its card.
    #[prop(into)]
    card: Signal<Option<RunCard>>,
    /// The crew, for names.
    #[prop(into)]
    crew: Signal<Vec<Person>>,
) -> impl IntoView {
    let device = device();
    let oldest = Memo::new(move |_| {
        let me = PersonId::new(device.me()?.person);
        card.with(|card| {
            let messages = &card.as_ref()?.view.messages;
            messages.iter().find(|one| is_unread(one, &me)).cloned()
        })
    });
    move || {
        let (message, run) = (oldest.get()?, run.get()?);
        let event = message.event;
        let who = name_in(&crew.get(), &message.by);
        Some(view! {
            <div class="bow-message" role="status">
                <p>
                    <span class="message-head">{who} ": "</span>
                    <span class="message-text">{message.text.clone()}</span>
                    {message.photo.is_some().then_some(words::MESSAGE_HAS_PHOTO.text())}
                </p>
                {message.voice.map(|hash| view! { <DeviceVoice hash /> })}
                <button
                    type="button"
                    class="button"
                    on:click=move |_| {
                        let event = Box::new(Event::Read { event });
                        device.dispatch(RecordCommand::Say { run, event });
                    }
                >
                    {words::MESSAGE_IS_READ}
                </button>
            </div>
        })
    }
}

/// The messages of one run, a key for each that is still to be read, and the form for another.
#[component]
pub fn Messages(
    /// The run.
    run: RunId,
    /// Its card.
    #[prop(into)]
    card: Signal<Option<RunCard>>,
    /// The crew, for names.
    #[prop(into)]
    crew: Signal<Vec<Person>>,
    /// The id of the input for a photograph, one on a page; none where this device takes none.
    #[prop(optional)]
    photo: Option<&'static str>,
) -> impl IntoView {
    let device = device();
    let me = Memo::new(move |_| PersonId::new(device.me().map(|me| me.person).unwrap_or_default()));
    let may_write = Memo::new(move |_| {
        let is_crew = device
            .me()
            .is_some_and(|me| me.roles.may_act_as(Role::Crew));
        is_crew && card.with(|card| card.as_ref().is_some_and(|c| c.view.closed.is_none()))
    });
    let all = Memo::new(move |_| {
        let me = me.get();
        card.with(|card| card.as_ref().map(|card| shown(&card.view.messages, &me)))
            .unwrap_or_default()
    });
    let unread = Memo::new(move |_| {
        let me = me.get();
        all.with(|all| all.iter().filter(|one| is_unread(one, &me)).count())
    });
    Effect::new(move |before: Option<usize>| {
        let now = unread.get();
        if before.is_some_and(|before| now > before) {
            device.dispatch(MediaCommand::Alert);
        }
        now
    });
    let line = move |message: MessageView| {
        let crew = crew.get();
        let is_mine = is_unread(&message, &me.get()) && may_write.get();
        let event = message.event;
        let read = is_mine.then(|| {
            view! {
                <button
                    type="button"
                    class="button"
                    on:click=move |_| {
                        let event = Box::new(Event::Read { event });
                        device.dispatch(RecordCommand::Say { run, event });
                    }
                >
                    {words::MESSAGE_IS_READ}
                </button>
            }
        });
        let head = format!(
            "{}, {}",
            name_in(&crew, &message.by),
            time::clock(message.at_ms)
        );
        let picture = message
            .photo
            .map(|hash| view! { <DevicePhoto hash alt=words::PHOTO_TAKEN /> });
        let voice = message.voice.map(|hash| view! { <DeviceVoice hash /> });
        view! {
            <li class="message" class:is-unread=is_mine>
                <p class="message-head">{head}</p>
                <p class="message-text">{message.text.clone()}</p>
                {picture}
                {voice}
                <p class="message-read">{read_by(&message, &crew)}</p>
                {read}
            </li>
        }
    };
    // What is being written stays where another message comes in meanwhile.
    let is_shown = Memo::new(move |_| may_write.get() || !all.with(Vec::is_empty));
    move || {
        is_shown.get().then(|| {
            view! {
                <section class="messages" aria-label=words::MESSAGES>
                    <ul>{move || all.get().into_iter().map(line).collect_view()}</ul>
                    {move || may_write.get().then(|| view! { <Write run photo /> })}
                </section>
            }
        })
    }
}

/// The form for a message.
#[component]
fn Write(run: RunId, photo: Option<&'static str>) -> impl IntoView {
    let device = device();
    let text = RwSignal::new(String::new());
    let taken = RwSignal::new(None::<[u8; 32]>);
    let spoken = RwSignal::new(None::<[u8; 32]>);
    let is_open = RwSignal::new(false);
    let blank =
        move || text.with(|text| text.trim().is_empty()) && taken.get().or(spoken.get()).is_none();
    let send = move |()| {
        let said = text.with_untracked(|text| text.trim().to_owned());
        let event = Box::new(Event::Message {
            step: None,
            text: said,
            photo: taken.get_untracked(),
            voice: spoken.get_untracked(),
        });
        device.dispatch(RecordCommand::Say { run, event });
        text.set(String::new());
        taken.set(None);
        spoken.set(None);
        is_open.set(false);
    };
    move || {
        if !is_open.get() {
            return view! {
                <button type="button" class="button is-quiet" on:click=move |_| is_open.set(true)>
                    {words::MESSAGE_WRITE}
                </button>
            }
            .into_any();
        }
        let picture = photo.map(|input| view! { <TakePhoto input taken /> });
        view! {
            <div class="message-form">
                <label class="field">
                    <span>{words::MESSAGE_LABEL}</span>
                    <textarea
                        class="sheet-text"
                        rows="2"
                        prop:value=text
                        on:input:target=move |event| text.set(event.target().value())
                    ></textarea>
                </label>
                {picture}
                <SpeakNote spoken />
                <HoldButton
                    label=words::MESSAGE_SEND
                    disabled=Signal::derive(move || device.records.saving.get() || blank())
                    on_held=send
                />
                <button type="button" class="button" on:click=move |_| is_open.set(false)>
                    {words::CANCEL}
                </button>
            </div>
        }
        .into_any()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use procedure::SeenView;

    fn message(number: u8, by: &str, read: &[&str]) -> MessageView {
        MessageView {
            event: [number; 32],
            step: None,
            by: by.into(),
            at_ms: i64::from(number),
            text: format!("message {number}"),
            photo: None,
            voice: None,
            read: read
                .iter()
                .map(|by| SeenView {
                    by: (*by).into(),
                    at_ms: 0,
                })
                .collect(),
        }
    }

    #[test]
    fn what_is_unread_is_always_shown_and_of_the_rest_the_last() {
        let me = PersonId::new("thorne");
        let all = [
            message(1, "orrin", &[]),
            message(2, "orrin", &["thorne"]),
            message(3, "thorne", &[]),
            message(4, "orrin", &["thorne"]),
            message(5, "thorne", &["orrin"]),
        ];
        let seen: Vec<u8> = shown(&all, &me).iter().map(|one| one.event[0]).collect();
        assert_eq!(seen, [1, 3, 4, 5]);
        assert!(is_unread(&all[0], &me) && !is_unread(&all[2], &me));
    }
}
