//! A run's alarms in words, the same at the bow and on the bridge.

use crate::parts::{StatusWord, Tone};
use leptos::prelude::*;
use procedure::{Alarm, AlarmLevel};

/// Draws each alarm as a line of a list.
pub fn alarm_lines(alarms: Vec<Alarm>) -> impl IntoView {
    let line = |alarm: Alarm| {
        let tone = match alarm.level {
            AlarmLevel::Danger => Tone::Alarm,
            AlarmLevel::Warning => Tone::Wait,
            AlarmLevel::Notice => Tone::Calm,
        };
        view! {
            <li>
                <StatusWord tone word=alarm.words />
            </li>
        }
    };
    alarms.into_iter().map(line).collect_view()
}
