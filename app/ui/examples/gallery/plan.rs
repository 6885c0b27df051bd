//! The plan: figures in, the proposal and its drawings out.

use leptos::prelude::*;
use ui::parts::*;

/// A cable in 16 m of water with the hawse 4.2 m up, a catenary of parameter 118 m, for the drawing only.
fn cable() -> Vec<(f64, f64)> {
    let (a, hawse, grounded) = (118.0f64, 20.2f64, 62.0f64);
    let reach = a * (hawse / a + 1.0).acosh();
    let hanging = (0..=40).map(|n| {
        let x = reach * f64::from(n) / 40.0;
        (grounded + x, a * ((x / a).cosh() - 1.0))
    });
    std::iter::once((0.0, 0.0)).chain(hanging).collect()
}

fn depths() -> Vec<(f64, f64)> {
    (0..=96)
        .map(|n| {
            let h = f64::from(n) / 4.0;
            (
                h,
                14.6 + 1.9 * ((h - 3.0) * std::f64::consts::TAU / 12.42).cos(),
            )
        })
        .collect()
}

fn field(
    id: &'static str,
    label: &'static str,
    value: &'static str,
    unit: &'static str,
) -> impl IntoView {
    view! {
        <div class="field">
            <label for=id>{label}</label>
            <span class="field-entry"><input id=id inputmode="decimal" value=value /><span class="unit">{unit}</span></span>
        </div>
    }
}

pub fn page() -> AnyView {
    let swinging = Swinging {
        radius_m: 216.0,
        room_m: Some(290.0),
        ship_m: 58.0,
        bow: Some((96.0, 118.0)),
        head_deg: 219.0,
        track: (0..30u32)
            .map(|n| {
                let a = 0.5 + f64::from(n) * 0.012;
                let r = 150.0 + f64::from(n % 5);
                (r * a.sin(), r * a.cos())
            })
            .collect(),
        dangers: vec![
            Danger {
                name: "Wreck, 3.1 m".into(),
                east_m: -260.0,
                north_m: 120.0,
                radius_m: 40.0,
            },
            Danger {
                name: "Pier head".into(),
                east_m: 240.0,
                north_m: -210.0,
                radius_m: 0.0,
            },
        ],
    };
    view! {
        <div class="plan">
            <header class="plan-head">
                <div><h1>"Plan: Selwick Roads, port anchor"</h1><p class="quiet">"Stay from 25 Nov 18:00 to 26 Nov 18:00, UTC+2"</p></div>
                <LightSwitch chosen=Light::Day on_choose=|_| () />
            </header>
            <form class="plan-in">
                <fieldset class="plan-group">
                    <legend>"Water"</legend>
                    <div class="plan-fields">
                    {field("d", "Charted depth", "12.8", "m")}
                    {field("hw", "High water", "3.7", "m")}
                    {field("lw", "Low water", "0.4", "m")}
                    {field("dr", "Draught", "3.6", "m")}
                    </div>
                </fieldset>
                <fieldset class="plan-group">
                    <legend>"Weather"</legend>
                    <div class="plan-fields">
                    {field("w", "Wind", "28", "kn")}
                    {field("g", "Gusts", "38", "kn")}
                    <div class="field is-whole">
                        <label for="c">"Current"</label>
                        <span class="field-entry"><input id="c" value="14" aria-invalid="true" aria-describedby="c-wrong" /><span class="unit">"kn"</span></span>
                        <p class="field-wrong" id="c-wrong">"Current must be from 0 to 8 kn; 14 is outside what the formula covers."</p>
                    </div>
                    </div>
                </fieldset>
                <fieldset class="plan-group">
                    <legend>"Ground"</legend>
                    <div class="plan-fields">
                    <div class="field is-whole"><label for="gr">"Bottom"</label><select id="gr"><option>"Sand over clay"</option></select></div>
                    </div>
                </fieldset>
            </form>
            <main class="plan-out">
                <section class="plan-proposal">
                    <p class="plan-order">"Port anchor, 6 shackles on deck, lower all the way with the windlass."</p>
                    <p class="plan-reason">"The catenary at 38 kn keeps 24 m on the ground with 6 shackles. The handbook's rule asks for 5 and a half; the larger is proposed. It fits: 10 aboard, 1 kept inboard."</p>
                    <Caution text="A reckoned figure, not a promise. Watch the cable; the ship's safety management system and the master's judgement stand above it." />
                    <HoldButton label="Sign this plan" on_held=|()| () />
                </section>
                <ul class="plan-checks">
                    <li class="plan-check"><StatusWord tone=Tone::Done word="In limits" /><span class="plan-what">"Under the keel at low water, 05:12"</span><span class="plan-figure">"9.1 " <small class="unit">"m"</small></span><span class="source plan-source">"Height by the cosine between high and low water."</span></li>
                    <li class="plan-check"><StatusWord tone=Tone::Wait word="Near" /><span class="plan-what">"Wind at which she begins to drag"</span><span class="plan-figure">"41 " <small class="unit">"kn"</small></span><span class="source plan-source">"Holding of a stockless anchor in sand over clay; a wide estimate."</span></li>
                    <li class="plan-check"><StatusWord tone=Tone::Alarm word="Out of limits" /><span class="plan-what">"Swinging circle against the wreck"</span><span class="plan-figure">"\u{2212}12 " <small class="unit">"m"</small></span><span class="source plan-source">"Circle of 216 m; the wreck's clear distance is 40 m."</span></li>
                </ul>
                <section class="plan-drawing">
                    <h2>"How she lies at 38 kn"</h2>
                    <CatenaryView cable=cable() depth_m=16.0 grounded_m=62.0 />
                </section>
                <div class="plan-pair">
                    <section class="plan-drawing"><h2>"Room"</h2><SwingView swinging=swinging /></section>
                    <section class="plan-drawing"><h2>"Depth over the stay"</h2>
                        <DepthView depths=depths() draught_m=3.6 times=vec![(0.0, "18:00".to_owned()), (6.0, "00:00".to_owned()), (12.0, "06:00".to_owned()), (18.0, "12:00".to_owned())] />
                        <table class="table">
                            <caption>"Shackles by each rule"</caption>
                            <thead><tr><th>"Rule"</th><th class="is-number">"Cable"</th><th class="is-number">"Shackles"</th></tr></thead>
                            <tbody>
                                <tr><th scope="row">"Catenary, 38 kn"</th><td class="is-number">"165 " <small class="unit">"m"</small></td><td class="is-number">"6"</td></tr>
                                <tr><th scope="row">"Three times the depth and 90 m"</th><td class="is-number">"138 " <small class="unit">"m"</small></td><td class="is-number">"5 and a bit"</td></tr>
                            </tbody>
                        </table>
                    </section>
                </div>
            </main>
        </div>
    }
    .into_any()
}
