//! The office's pages: a table of vessels, a vessel's runs, one record.

use leptos::prelude::*;
use ui::parts::*;

use crate::sample;

fn office_head() -> impl IntoView {
    view! {
        <header class="office-head">
            <a class="office-home" href="/office">"Clearhawse, office"</a>
            <nav class="office-ways" aria-label="Office">
                <a href="/office" aria-current="page">"Vessels"</a>
                <a href="/office/runs">"Runs"</a>
                <a href="/office/defects">"Defects"</a>
                <a href="/office/due">"Due"</a>
            </nav>
            <LightSwitch chosen=Light::Day on_choose=|_| () />
        </header>
    }
}

pub fn vessels() -> AnyView {
    view! {
        <div class="office">
            {office_head()}
            <main class="office-main">
                <div class="office-title">
                    <h1>"Vessels"</h1>
                    <p class="quiet">"Two vessels, 1,284 records, all signatures checked 09:30 UTC."</p>
                </div>
                <div class="table-frame">
                    <table class="table">
                        <thead>
                            <tr><th>"Vessel"</th><th>"Last run"</th><th>"Its chain"</th><th class="is-number">"Open defects"</th><th>"Overdue"</th><th>"Last heard"</th></tr>
                        </thead>
                        <tbody>
                            <tr>
                                <th scope="row"><a href="/v/1">"Aldermere"</a></th>
                                <td>"Anchors ready"</td>
                                <td><ChainStrip links=sample::anchors_ready() /></td>
                                <td class="is-number">"2"</td>
                                <td><StatusWord tone=Tone::Alarm word="Fire main, bow" /></td>
                                <td class="is-time"><Age heard_s=Some(12) /></td>
                            </tr>
                            <tr>
                                <th scope="row"><a href="/v/2">"Brackwater"</a></th>
                                <td>"Weighing"</td>
                                <td><ChainStrip links=sample::run(18, 18, LinkState::Done) /></td>
                                <td class="is-number">"0"</td>
                                <td><StatusWord tone=Tone::Wait word="Chain measurement, 9 days" /></td>
                                <td class="is-time"><Age heard_s=Some(26_400) /></td>
                            </tr>
                        </tbody>
                    </table>
                </div>
                <h2>"Aldermere's runs"</h2>
                <form class="filters">
                    <div class="field"><label for="from">"From"</label><input id="from" type="date" value="2026-11-01" /></div>
                    <div class="field"><label for="what">"Procedure"</label><select id="what"><option>"All"</option><option>"Anchors ready"</option></select></div>
                    <button type="submit" class="button is-quiet">"Show"</button>
                </form>
                <ol class="time-line">
                    {row("25 Nov 2026, 09:04", "Anchors ready", sample::anchors_ready(), Tone::Wait, "Under way")}
                    {row("22 Nov 2026, 17:20", "Weighing", sample::run(18, 18, LinkState::Done), Tone::Done, "Sound")}
                    {row("20 Nov 2026, 06:41", "Letting go, bringing up", sample::run(14, 21, LinkState::NotDone), Tone::Calm, "Broken off")}
                    {row("16 Nov 2026, 10:00", "Chain-locker entry", sample::run(12, 26, LinkState::OutOfLimits), Tone::Alarm, "Out of limits")}
                </ol>
            </main>
        </div>
    }
    .into_any()
}

fn row(
    when: &'static str,
    what: &'static str,
    links: Vec<ChainLink>,
    tone: Tone,
    word: &'static str,
) -> impl IntoView {
    view! {
        <li class="time-row">
            <time class="time-when">{when}</time>
            <div class="time-what"><a href="/run">{what}</a><ChainStrip links=links /></div>
            <StatusWord tone=tone word=word />
        </li>
    }
}

pub fn record() -> AnyView {
    let entries = sample::anchors_ready()
        .into_iter()
        .zip(4u32..)
        .filter(|(link, _)| !matches!(link.state, LinkState::Open | LinkState::Next | LinkState::Hold))
        .map(|(link, minute)| {
            view! {
                <li class=format!("record-entry {}", link.state.class())>
                    <time class="entry-time">{format!("09:{minute:02}")}</time>
                    <LinkMark state=link.state />
                    <div class="entry-what">{link.title} " " <span class="entry-reading">{(minute == 7).then_some("20.8, 20.7, 20.7 %")}</span></div>
                    <div class="entry-who">{link.note.split(',').next().unwrap_or("").to_owned()}</div>
                </li>
            }
        })
        .collect_view();
    let seal = Sealed {
        held: vec![
            "31 records of 2 devices, each signature checked against the ship's authority key."
                .into(),
            "Each device's chain is whole: no number is missing and none appears twice.".into(),
            "The roll of records of 25 Nov 2026 holds all of them.".into(),
        ],
        broken: vec![],
        checked: "Checked 25 Nov 2026, 09:40 UTC.".into(),
    };
    let broken = Sealed {
        held: vec!["30 of 31 signatures hold.".into()],
        broken: vec!["Record 17 of Tam Orrin's phone does not match its signature.".into()],
        checked: "Checked 25 Nov 2026, 09:40 UTC.".into(),
    };
    view! {
        <div class="office">
            {office_head()}
            <main class="office-main">
                <article class="record-page chain">
                    <header class="record-head">
                        <h1>"Anchors ready"</h1>
                        <p class="record-of">"Motor yacht Aldermere, 25 November 2026, times in UTC+2"</p>
                    </header>
                    <ChainStrip links=sample::anchors_ready() size=StripSize::Large />
                    <dl class="facts record-facts">
                        <dt>"Begun"</dt><dd>"09:04, Tam Orrin"</dd>
                        <dt>"Master"</dt><dd>"Maren Holt"</dd>
                        <dt>"Anchor"</dt><dd>"Port"</dd>
                        <dt>"Procedure"</dt><dd>"Anchors ready, ship's copy 3"</dd>
                    </dl>
                    <ol class="record-entries">{entries}</ol>
                    <p class="entry-struck"><s>"09:22 Air measured: 20.1 %."</s> " Struck out by Wen Salter 09:23: wrong level."</p>
                    <Seal seal=seal />
                    <Seal seal=broken />
                </article>
            </main>
        </div>
    }
    .into_any()
}
