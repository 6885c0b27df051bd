//! Messages between bow and bridge: signed, read, and no part of the work.

use procedure::*;

use super::scene::*;

const WORK: &str = r#"
slug = "work"
title = "Work"
edition = "1"
purpose = "For tests."

[[step]]
id = "first"
do = "Do the first"
"#;

fn message(text: &str) -> Event {
    Event::Message {
        step: Some("first".into()),
        text: text.to_owned(),
        photo: None,
        voice: None,
    }
}

#[test]
fn a_message_is_read_once_by_each_other_person_with_name_and_time() {
    let mut scene = Scene::started(WORK);
    let id = scene.does(1, ANA, message("swivel looks dry")).unwrap();
    assert_eq!(
        scene.does(1, ANA, Event::Read { event: id }),
        Err(Refusal::NothingToGoOn),
        "one's own is not read"
    );
    scene.now += MINUTE;
    scene.does(1, MAX, Event::Read { event: id }).unwrap();
    assert_eq!(
        scene.does(1, MAX, Event::Read { event: id }),
        Err(Refusal::NothingToGoOn)
    );
    let view = scene.view();
    let [message] = &view.messages[..] else {
        panic!("{:?}", view.messages);
    };
    assert_eq!(
        (message.text.as_str(), message.by.as_str()),
        ("swivel looks dry", ANA)
    );
    let read: Vec<_> = message.read.iter().map(|read| read.by.as_str()).collect();
    assert_eq!(read, [MAX]);
    assert_eq!(message.read[0].at_ms, scene.now);
    assert_eq!(
        view.next,
        ["first".into()],
        "the work stands where it stood"
    );
}

#[test]
fn a_message_says_something_or_shows_something() {
    let mut scene = Scene::started(WORK);
    assert_eq!(scene.does(1, ANA, message("  ")), Err(Refusal::NoReason));
    let shown = Event::Message {
        step: None,
        text: String::new(),
        photo: Some([7; 32]),
        voice: None,
    };
    scene.does(1, ANA, shown).unwrap();
    assert_eq!(scene.view().messages[0].photo, Some([7; 32]));
    let spoken = Event::Message {
        step: None,
        text: String::new(),
        photo: None,
        voice: Some([8; 32]),
    };
    scene.does(1, ANA, spoken).unwrap();
    assert_eq!(scene.view().messages[1].voice, Some([8; 32]));
    assert_eq!(
        scene.does(1, MAX, Event::Read { event: [9; 32] }),
        Err(Refusal::NoSuchEvent)
    );
}

#[test]
fn messages_that_crossed_are_all_there_on_every_device() {
    let mut scene = Scene::started(WORK);
    scene.sync(1, 2);
    let bow = scene.does(1, ANA, message("two shackles on deck")).unwrap();
    scene.does(2, MAX, message("stand by")).unwrap();
    scene.sync_both(1, 2);
    scene.does(2, MAX, Event::Read { event: bow }).unwrap();
    scene.sync_both(1, 2);
    let said = |view: RunView| -> Vec<(String, usize)> {
        let all = view.messages.into_iter();
        all.map(|message| (message.text, message.read.len()))
            .collect()
    };
    assert_eq!(said(scene.view_of(1)), said(scene.view_of(2)));
    let mut all = said(scene.view_of(1));
    all.sort();
    let pair = |text: &str, read| (text.to_owned(), read);
    assert_eq!(all, [pair("stand by", 0), pair("two shackles on deck", 1)]);
}
