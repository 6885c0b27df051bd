//! The bridge's board, 1280 x 800.

use leptos::prelude::*;
use ui::parts::*;

use crate::sample;

/// The ship's own marks: a scheme invented for the gallery.
pub fn marks() -> Vec<CableMark> {
    use procedure::cable::Paint::{Blue, Red, White, Yellow};
    let paints = [
        vec![White],
        vec![Blue],
        vec![Red],
        vec![Red, White],
        vec![White, White],
        vec![Blue, White],
        vec![Red, Blue],
        vec![Yellow],
        vec![Yellow, Red],
    ];
    paints
        .into_iter()
        .zip(1u32..)
        .map(|(paints, n)| CableMark {
            at_m: f64::from(n) * 27.5,
            label: n.to_string(),
            paints,
        })
        .collect()
}

fn bridge_head(heard_s: u64) -> impl IntoView {
    view! {
        <header class="bridge-head">
            <h1>"Aldermere, forward"</h1>
            <span class="bridge-time">"09:34 " <small class="unit">"UTC+2"</small></span>
            <Age heard_s=Some(heard_s) />
            <LightSwitch chosen=Light::BySun on_choose=|_| () />
        </header>
    }
}

pub fn board() -> AnyView {
    let oxygen = Limits {
        least: Some(20.6),
        most: Some(21.5),
        decimals: 1,
    };
    let pressure = Limits {
        least: Some(0.27),
        most: None,
        decimals: 2,
    };
    view! {
        <div class="bridge">
            {bridge_head(4)}
            <section class="bridge-holds" aria-label="Holds">
                <article class="hold-card">
                    <LinkMark state=LinkState::Hold />
                    <p class="hold-what">"Take the stoppers off, port anchor"</p>
                    <p class="hold-why">"Asked by Tam Orrin at 09:33, 1 min ago. Everything before it is done; 1 defect open."</p>
                    <div class="hold-act">
                        <HoldButton label="Give consent" on_held=|()| () />
                        <button type="button" class="button">"Not yet"</button>
                    </div>
                </article>
            </section>
            <section class="bridge-runs" aria-label="Runs">
                <BridgeCard
                    title="Anchors ready"
                    step="Fire main charged to the bow"
                    who="Tam Orrin with Wen Salter"
                    elapsed="at this step 2 min, run 30 min"
                    links=with_out()
                    heard_s=Some(4)
                >
                    <ReadingBar label="Oxygen, locker bottom" value=20.7 unit="%" limits=oxygen />
                    <ReadingBar label="Wash water" value=0.62 unit="MPa" limits=Limits { least: Some(0.3), most: None, decimals: 2 } />
                    <ReadingBar label="Fire main, bow" value=0.21 unit="MPa" limits=pressure />
                </BridgeCard>
                <BridgeCard
                    title="Hose and hydrant test"
                    step="Hose 3, couplings dry under pressure"
                    who="Wen Salter"
                    elapsed="at this step 9 min, run 41 min"
                    links=sample::run(6, 11, LinkState::Stale)
                    heard_s=Some(375)
                />
            </section>
            <aside class="bridge-side">
                <section class="bridge-cable">
                    <h2 class="bridge-heading">"Port cable"</h2>
                    <CableScale out_m=110.0 aboard_m=275.0 keep_m=27.5 planned_m=Some(165.0) marks=marks() said="4 shackles at the gypsy" />
                    <LeadDial lead_deg=Some(38.0) weight=2 said="Leads one o'clock, growing medium, moderate weight." />
                </section>
                <section class="bridge-defects">
                    <h2 class="bridge-heading">"Open defects"</h2>
                    {defects()}
                </section>
            </aside>
        </div>
    }
    .into_any()
}

pub fn quiet() -> AnyView {
    view! {
        <div class="bridge">
            {bridge_head(41)}
            <section class="bridge-runs" aria-label="Runs">
                <Empty head="Nothing is being worked forward" body="The last run, secured for sea, was closed at 08:12. Both anchors are held by brake, claw and lashing." />
            </section>
            <aside class="bridge-side">
                <section class="bridge-cable">
                    <LeadDial lead_deg=None said="" />
                </section>
            </aside>
        </div>
    }
    .into_any()
}

fn with_out() -> Vec<ChainLink> {
    let mut links = sample::anchors_ready();
    for link in &mut links[8..13] {
        link.state = LinkState::Done;
    }
    links[3].state = LinkState::Stale;
    links[12].state = LinkState::OutOfLimits;
    links[13].state = LinkState::Next;
    links
}

pub fn defects() -> impl IntoView {
    [
        (
            "Fire main at the bow gives 0.21 MPa",
            "Bow hydrant",
            "Tam Orrin, 09:32",
            "Open. The work waits.",
            2,
        ),
        (
            "Drip under the windlass, one drop in 4 s",
            "Windlass, port gearbox",
            "Wen Salter, 09:24",
            "Handed to the engineers 09:29.",
            1,
        ),
    ]
    .map(|(title, place, raised, standing, weight)| {
        let severity = if weight == 2 {
            ui::parts::defect_card::Severity::Stop
        } else {
            ui::parts::defect_card::Severity::Repair
        };
        let defect = Defect {
            id: title.into(),
            title: title.into(),
            place: place.into(),
            raised: raised.into(),
            standing: standing.into(),
            severity,
        };
        view! { <DefectCard defect=defect /> }
    })
    .into_iter()
    .collect_view()
}
