//! The bow's pages: one gloved thumb, 390 wide.

use leptos::prelude::*;
use ui::parts::*;

use crate::sample;

fn head(title: &'static str, light: Light, sync: SyncState) -> impl IntoView {
    view! {
        <header class="bow-head">
            <div class="bow-where">
                <h1>{title}</h1>
                <span class="bow-ship">"Aldermere"</span>
                <LightButton chosen=light on_choose=|_| () />
            </div>
            <SyncLine state=sync />
        </header>
    }
}

fn away() -> SyncState {
    SyncState {
        is_withdrawn: false,
        waiting: 3,
        refused: 0,
        heard_s: Some(745),
    }
}

pub fn confirm() -> AnyView {
    view! {
        <div class="bow">
            {head("Anchors ready", Light::BySun, SyncState { is_withdrawn: false, waiting: 3, refused: 0, heard_s: Some(4) })}
            <main class="bow-list">
                <ChainLine links=upto(9) on_open=|_| () />
            </main>
            <ActionSheet primary="Done" secondary="Not so" on_primary=|()| () on_secondary=|()| ()>
                <h2 class="sheet-title">"Claw stopper on, port"</h2>
                <p class="sheet-more">"Jaw over a flat link, pin in and locked."</p>
                <Caution text="Stand clear of the chain's line; nobody forward of the windlass." />
                <p class="sheet-then">"Then: claw stopper on, starboard."</p>
            </ActionSheet>
        </div>
    }
    .into_any()
}

/// The links that fit above the sheet: those worked last, and what comes.
fn upto(shown: usize) -> Vec<ChainLink> {
    let mut links = sample::anchors_ready();
    links.truncate(shown - 1);
    links
}

pub fn reading() -> AnyView {
    let verdict = Verdict {
        tone: Tone::Alarm,
        sentence: "Too low by 0.06 MPa. Ask for the second pump, then read again.".into(),
    };
    view! {
        <div class="bow">
            {head("Anchors ready", Light::Day, away())}
            <main class="bow-list">
                <ChainLine links=upto(9) on_open=|_| () />
            </main>
            <ActionSheet
                primary="Keep this reading"
                secondary="Not so"
                on_primary=|()| ()
                on_secondary=|()| ()
            >
                <h2 class="sheet-title">"Fire main at the bow hydrant"</h2>
                <Keypad
                    value="0.21"
                    label="Fire main at the bow hydrant"
                    unit="MPa"
                    limit="at least 0.27"
                    verdict=Some(verdict)
                    on_change=|_| ()
                />
            </ActionSheet>
        </div>
    }
    .into_any()
}

pub fn hold() -> AnyView {
    let mut links = upto(15);
    for link in &mut links {
        if link.state == LinkState::Next || link.state == LinkState::Open {
            link.state = LinkState::Done;
            link.note = "Tam Orrin, 09:31".into();
        }
    }
    links.drain(..6);
    links.pop();
    view! {
        <div class="bow">
            {head("Anchors ready", Light::Night, away())}
            <div class="bow-notices">
                <Banner notice=Notice::StorageNotPersistent on_act=|()| () />
            </div>
            <main class="bow-list">
                <ChainLine links=links on_open=|_| () />
            </main>
            <ActionSheet
                secondary="Not so"
                on_secondary=|()| ()
                link=Some(LinkState::Hold)
                state=SheetState::Blocked("Held for the officer's consent, asked 09:33.".into())
            >
                <h2 class="sheet-title">"Hold: stoppers stay on"</h2>
                <p class="sheet-more">"Wait for the officer of the watch. If consent comes by voice, hold the key below."</p>
                <HoldButton label="Consent heard by radio" on_held=|()| () />
            </ActionSheet>
        </div>
    }
    .into_any()
}

pub fn choice() -> AnyView {
    view! {
        <div class="bow">
            {head("Letting go", Light::Dusk, SyncState { is_withdrawn: false, waiting: 0, refused: 0, heard_s: Some(9) })}
            <main class="bow-list">
                <ChainLine links=upto(9) on_open=|_| () />
            </main>
            <ActionSheet primary="Done" on_primary=|()| () state=SheetState::Saving>
                <h2 class="sheet-title">"How does the cable lead?"</h2>
                <Choice answers=answers() chosen="Ahead, short" on_choose=|_| () />
            </ActionSheet>
        </div>
    }
    .into_any()
}

fn answers() -> Vec<Answer> {
    [
        "Up and down",
        "Ahead, short",
        "Ahead, long",
        "Under the forefoot",
    ]
    .map(|text| Answer {
        id: text.into(),
        text: text.into(),
        note: String::new(),
    })
    .to_vec()
}

pub fn cable_log() -> AnyView {
    view! {
        <div class="bow">
            {head("Letting go", Light::Day, SyncState { is_withdrawn: false, waiting: 1, refused: 0, heard_s: Some(4) })}
            <main class="bow-detail">
                <CableScale
                    out_m=110.0
                    aboard_m=275.0
                    keep_m=27.5
                    planned_m=Some(165.0)
                    marks=crate::bridge::marks()
                    said="4 shackles at the gypsy"
                />
                <LeadDial lead_deg=Some(32.0) weight=1 said="Leads one o'clock, growing medium, light weight." />
                <p class="log-said">"09:41 Third mark passed, red. 09:43 leads one o'clock, medium."</p>
            </main>
            <ActionSheet>
                <h2 class="sheet-title">"Log the cable"</h2>
                <div class="cable-log">
                    <div class="log-keys">
                        <button type="button" class="log-key is-whole">
                            <span class="log-name">"Next mark passes: 5, white"</span>
                            <span class="log-note">"then 6, blue, and the plan's end"</span>
                        </button>
                        <button type="button" class="log-key">
                            <span class="log-name">"Lead"</span>
                            <span class="log-note">"one o'clock, medium"</span>
                        </button>
                        <button type="button" class="log-key">
                            <span class="log-name">"Weight"</span>
                            <span class="log-note">"light"</span>
                        </button>
                    </div>
                    <HoldButton label="Brake on, brought up" on_held=|()| () />
                </div>
            </ActionSheet>
        </div>
    }
    .into_any()
}

pub fn people() -> AnyView {
    let people = [
        ("Tam Orrin", "Bosun"),
        ("Wen Salter", "Deckhand"),
        ("Ravi Thorne", "Officer of the watch"),
        ("Maren Holt", "Master"),
    ]
    .map(|(name, role)| Person {
        id: name.into(),
        name: name.into(),
        role: role.into(),
    })
    .to_vec();
    view! {
        <div class="bow-plain">
            <h1>"Who is working?"</h1>
            <PersonPick people=people chosen="Wen Salter" on_pick=|_| () />
        </div>
    }
    .into_any()
}

pub fn empty() -> AnyView {
    view! {
        <div class="bow-plain">
            <Banner notice=Notice::NotSaved("The phone's storage is full.".into()) on_act=|()| () />
            <Banner notice=Notice::UpdateReady />
            <Empty head="No run is being worked" body="Start one from a procedure. It stays on this phone and goes to the ship when she is in range.">
                <button type="button" class="button is-first">"Start anchors ready"</button>
            </Empty>
        </div>
    }
    .into_any()
}

pub fn start() -> AnyView {
    view! {
        <div class="start">
            <header class="start-head">
                <h1 class="start-name">"Clearhawse"</h1>
                <p class="quiet">"Motor yacht Aldermere"</p>
                <LightSwitch chosen=Light::BySun on_choose=|_| () />
            </header>
            <nav class="start-places" aria-label="Places">
                <a class="start-place" href="/bow"><span class="start-where">"Bow"</span><span class="start-for">"Work a run, with or without the ship in range."</span></a>
                <a class="start-place" href="/bridge"><span class="start-where">"Bridge"</span><span class="start-for">"See forward, and consent to the holds."</span></a>
                <a class="start-place" href="/office"><span class="start-where">"Office"</span><span class="start-for">"Read the signed records."</span></a>
            </nav>
            <section class="start-runs">
                <h2>"Being worked"</h2>
                <a class="start-run" href="/bow/1">
                    <span class="start-run-title">"Anchors ready"</span>
                    <ChainStrip links=sample::anchors_ready() />
                    <span class="quiet">"Tam Orrin, since 09:04"</span>
                </a>
            </section>
            <p class="defer">"This program helps the crew keep the order of the work and the proof of it. The ship's safety management system, local rules and the master's judgement stand above it."</p>
        </div>
    }
    .into_any()
}

/// The fullest sheet: a long instruction, a reason, a caution, three points and the keypad.
pub fn points() -> AnyView {
    view! {
        <div class="bow">
            {head("Chain-locker entry", Light::Day, away())}
            <main class="bow-list">
                <ChainLine links=upto(9) opened="Locker ventilated 30 min" on_open=|_| () />
            </main>
            <ActionSheet primary="Keep this reading" secondary="Not so" on_primary=|()| () on_secondary=|()| ()>
                <h2 class="sheet-title">"Measure the oxygen at the three levels of the locker"</h2>
                <p class="sheet-more">"Rusting chain eats oxygen; the bottom is the worst."</p>
                <Caution text="Lower the hose; nobody goes in to measure. Meter tried in fresh air first." />
                <Keypad
                    value="20.7"
                    label="Oxygen"
                    unit="%"
                    limit="20.6 to 21.5"
                    verdict=Some(Verdict { tone: Tone::Done, sentence: "Within limits, 0.1 % above the least.".into() })
                    minus=Minus::Allowed
                    on_change=|_| ()
                >
                <div class="points">
                    {["Top", "Middle", "Bottom"]
                        .map(|level| {
                            view! {
                                <button type="button" class="point" aria-pressed=(level == "Middle").to_string()>
                                    <span>{level}</span>
                                    <span class="point-value">"20.8"</span>
                                </button>
                            }
                        })
                        .into_iter()
                        .collect_view()}
                </div>
                </Keypad>
                <p class="sheet-source">"MSC.581(110): 20.9 % is fresh air; the ship's setting."</p>
            </ActionSheet>
        </div>
    }
    .into_any()
}
