//! A run's alarms in words, the same at the bow and on the bridge.

use crate::parts::{StatusWord, Tone};
use crate::run_links::name_in;
use crate::{time, words};
use journal::Person;
use leptos::prelude::*;
use procedure::{Alarm, AlarmLevel};

/// Draws each alarm as a line of a list, with the officer who has seen it.
pub fn alarm_lines(alarms: Vec<Alarm>, crew: &[Person]) -> impl IntoView + use<> {
    let line = |alarm: Alarm| {
        let tone = match alarm.level {
            AlarmLevel::Danger => Tone::Alarm,
            AlarmLevel::Warning => Tone::Wait,
            AlarmLevel::Notice => Tone::Calm,
        };
        let seen = alarm.seen.map(|seen| {
            let said = words::alarm_seen_by(&name_in(crew, &seen.by), &time::clock(seen.at_ms));
            view! { <small class="quiet">{said}</small> }
        });
        view! {
            <li>
                <StatusWord tone word=alarm.words />
                {seen}
            </li>
        }
    };
    alarms.into_iter().map(line).collect_view()
}
