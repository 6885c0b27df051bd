//! Every procedure of the library, worked to its end by people who do what it asks.

use procedure::rehearsal::{self, Answers, Next, Plainly, within};
use procedure::{
    Decimal, End, Event, LogEntry, Outcome, PastRun, PersonId, PointView, Procedure, RunView,
    Status, StepView, library,
};

use super::scene::*;

/// Works a procedure to its end and closes it. `chosen` names options other than the first good one.
pub fn walk(procedure: Procedure, chosen: &[(&str, &str)]) -> Scene {
    walk_from(Scene::new(procedure), chosen)
}

/// More than any procedure takes. Each act folds the run anew: a walk that goes in a ring has to end soon.
const MOST_ACTS: usize = 400;

/// The same, in a scene that is set already.
pub fn walk_from(mut scene: Scene, chosen: &[(&str, &str)]) -> Scene {
    // What the library's procedures need of each other was done an hour ago.
    scene.past = library::all()
        .iter()
        .map(|other| PastRun {
            slug: other.slug().to_owned(),
            started_at_ms: scene.now - 2 * HOUR,
            closed_at_ms: Some(scene.now - HOUR),
            completed: true,
            named: Vec::new(),
            items: Vec::new(),
        })
        .collect();
    scene.start();
    for _ in 0..MOST_ACTS {
        let view = scene.view();
        scene.now += 20_000;
        match rehearsal::next(&view) {
            Next::Second { event, .. } => someone(&mut scene, &Event::Second { event }),
            Next::Work(step) => work(&mut scene, &view, step, chosen),
            Next::Wait(until_ms) => scene.now = until_ms,
            Next::Close => {
                someone(
                    &mut scene,
                    &Event::Close {
                        end: End::Completed,
                        remark: String::new(),
                    },
                );
                return scene;
            }
            Next::Stuck(open) => panic!("{}: stuck at {open:#?}", view.slug),
        }
    }
    panic!(
        "{} does not end: {:?}",
        scene.procedure.slug(),
        scene.view().open_before_close
    );
}

/// The first of the people aboard who may.
fn someone(scene: &mut Scene, event: &Event) {
    let mut refusals = Vec::new();
    for person in [ANA, BEN, OLGA, MAX] {
        match scene.does(1, person, event.clone()) {
            Ok(_) => return,
            Err(refusal) => refusals.push(format!("{person}: {refusal}")),
        }
    }
    panic!(
        "{}: nobody may {event:?}: {refusals:#?}",
        scene.procedure.slug()
    );
}

/// Answers rightly, choosing what is named and the first good option otherwise.
struct Chosen<'a>(&'a [(&'a str, &'a str)]);

impl Answers for Chosen<'_> {
    fn reading(&self, point: &PointView) -> Decimal {
        let unknown = &point.limits.unknown;
        assert!(unknown.is_empty(), "{}: {unknown:?}", point.key);
        within(&point.limits)
    }

    fn option(&self, step: &StepView) -> String {
        let named = self.0.iter().find(|(id, _)| *id == step.id.as_str());
        let named = named.map(|(_, option)| (*option).to_owned());
        named.unwrap_or_else(|| Plainly.option(step))
    }

    fn photo(&self) -> Option<[u8; 32]> {
        Some([7; 32])
    }

    fn entries(&self, step: &StepView) -> Vec<LogEntry> {
        let mark = |mark| LogEntry {
            mark: Some(Decimal::whole(mark)),
            strain: Some(1),
            ..LogEntry::default()
        };
        match step.kind.people() {
            Some(_) => vec![LogEntry::default()],
            None => (1..=3).map(mark).collect(),
        }
    }

    fn names(&self, at_least: usize) -> Vec<PersonId> {
        let aboard = [ANA, BEN, OLGA, MAX].into_iter();
        aboard.take(at_least.max(1)).map(PersonId::new).collect()
    }

    fn people(&self) -> (PersonId, Vec<PersonId>) {
        (MAX.into(), vec![ANA.into(), BEN.into()])
    }
}

fn work(scene: &mut Scene, view: &RunView, step: &StepView, chosen: &[(&str, &str)]) {
    let events = rehearsal::work(view, step, &Chosen(chosen));
    assert!(!events.is_empty(), "{}: nobody works it", step.id);
    for event in events {
        someone(scene, &event);
        if matches!(event, Event::Log { .. }) {
            scene.now += MINUTE;
        }
    }
}

pub fn named(slug: &str) -> Procedure {
    let mut all = library::all().into_iter();
    all.find(|procedure| procedure.slug() == slug)
        .unwrap_or_else(|| panic!("no procedure {slug}"))
}

fn assert_ended(scene: &Scene) {
    let view = scene.view();
    let closed = view.closed.as_ref().expect("the run is closed");
    assert_eq!(closed.end, End::Completed, "{}", view.slug);
    // What went stale after all that stood on it was done need not be done again.
    let open: Vec<_> = view
        .steps
        .iter()
        .filter(|s| s.applies && !s.passed && !s.spent)
        .collect();
    assert!(open.is_empty(), "{}: {open:#?}", view.slug);
    assert_eq!(view.progress.passed, view.progress.total, "{}", view.slug);
    assert!(
        view.questions.is_empty() && view.inside.is_empty() && view.defects.is_empty(),
        "{}",
        view.slug
    );
    let odd: Vec<_> = view
        .history
        .iter()
        .filter(|line| line.out_of_sequence || line.without_right)
        .collect();
    assert!(odd.is_empty(), "{}: {odd:#?}", view.slug);
}

#[test]
fn every_procedure_of_the_library_can_be_worked_to_its_end() {
    for procedure in library::all() {
        assert_ended(&walk(procedure, &[]));
    }
}

/// Runs pin the text with which they were started, so what older editions said must be read and worked for ever:
/// the text, and the identity that runs of that edition pinned, as the program of then reckoned it.
const OLDER: &[(&str, &str, &str)] = &[
    (
        "locker-entry",
        include_str!("../golden/locker-entry-1.toml"),
        "4f30ec83b5167933c731587a66867196d8c1a239f7d2d8fc2167971f00244805",
    ),
    (
        "locker-entry",
        include_str!("../golden/locker-entry-2.toml"),
        "a9868c0b27e2fe5b402e905c1d904493bf19ceeddcdbd69152ffdd491b6ff655",
    ),
    (
        "locker-entry",
        include_str!("../golden/locker-entry-3.toml"),
        "a3821f2fafbc595ab6ea6b9b4f2cd626a03a4cf59be2c2828c0ef346ae7bed61",
    ),
    (
        "hose-test",
        include_str!("../golden/hose-test-2.toml"),
        "c72dbf621e412a16f5d66d7001acd26ec30067c601dee2c11f01a25fd13b6964",
    ),
    (
        "letting-go",
        include_str!("../golden/letting-go-1.toml"),
        "8214d9fa56ad60e5fb06cfb2b34110f21c6e2c4481497c626305d3f4ce33f249",
    ),
    (
        "locker-entry",
        include_str!("../golden/locker-entry-4.toml"),
        "397506579e1b0eadeb082403d7dbde0527a9ec0f2dbf2aa802668353978f0e02",
    ),
    (
        "locker-entry",
        include_str!("../golden/locker-entry-5.toml"),
        "20a4fab58813c11135ddfc17028f97038bc43f4f6c7dabcf15b789fc7316637a",
    ),
    (
        "locker-entry",
        include_str!("../golden/locker-entry-6.toml"),
        "39f684a4720933ad52ade25cb0611e0886d8762e152b2fe3c65fa400f8ba1eab",
    ),
    (
        "anchors-ready",
        include_str!("../golden/anchors-ready-3.toml"),
        "0f3b292b6f17860420644999ab30278684ecb782d1550b803f14bfb8cb97362b",
    ),
    (
        "letting-go",
        include_str!("../golden/letting-go-2.toml"),
        "5a9412f7adfb2ed2340c70fabb2b25e807447f4de304e77dfa625e10afad4221",
    ),
    (
        "at-anchor",
        include_str!("../golden/at-anchor-3.toml"),
        "998a02b315e001b50f86ebb918635024fba83fa3089e2f272262b8369e0d1c4a",
    ),
    (
        "weighing",
        include_str!("../golden/weighing-2.toml"),
        "2393c8b54562a50d33ca4079aee384fc0a576e6e388c8ecf3695035b208b286d",
    ),
    (
        "foul-hawse",
        include_str!("../golden/foul-hawse-2.toml"),
        "2c1003c47c35a540364f0d26e519bad5a0b87fa480b36832813118f8d7fab18f",
    ),
    (
        "dragging",
        include_str!("../golden/dragging-2.toml"),
        "6cb1aee2e09c4dada393a43fabde7c61d7cf6fb49ec558fc3e9a2e163e8940e9",
    ),
    (
        "secured-for-sea",
        include_str!("../golden/secured-for-sea-2.toml"),
        "b7e028f6467a9660f92b554319d26e63f2a567200c43afe65d23fb81291484e9",
    ),
    (
        "mooring-forward",
        include_str!("../golden/mooring-forward-2.toml"),
        "cd2f30c7b2e26f7097f5d93edb7b8ee70717e77d3c2410555aef913aad3ce5ac",
    ),
    (
        "hose-test",
        include_str!("../golden/hose-test-3.toml"),
        "1d5cff959f308ff3d7d01bf3a662b173f994bd7b4fb131e464f12611e789d8ae",
    ),
    (
        "windlass-weekly",
        include_str!("../golden/windlass-weekly-2.toml"),
        "b9ac71d6fac46d1f6ea6bd15e63e4e90d0ec52b74c9ff44208d7dcfe706d3ad3",
    ),
    (
        "windlass-monthly",
        include_str!("../golden/windlass-monthly-2.toml"),
        "5c7148ad438a2a168a933d1eb6acacee59457273cf5fb23385a980747adbb6b2",
    ),
    (
        "chain-measurement",
        include_str!("../golden/chain-measurement-2.toml"),
        "b024a72f00beced4314316874398e1f94d7d48184028d139928088f6dcd1c33b",
    ),
    (
        "defect-handover",
        include_str!("../golden/defect-handover-2.toml"),
        "4c5382f95b0a8b2a0f73b69f33fbd475a712f785176cda5cab7c7b8490988110",
    ),
    (
        "anchors-ready",
        include_str!("../golden/anchors-ready-4.toml"),
        "95590be2cc8eb2a9f387e15699d0588671e815694c5209eeb2e5df7f0f21ed17",
    ),
    (
        "letting-go",
        include_str!("../golden/letting-go-3.toml"),
        "1b2a229effacc9d6e0673f204d4a7d106f04cdaa7806793217f289e7e502a8b5",
    ),
    (
        "hose-test",
        include_str!("../golden/hose-test-4.toml"),
        "95b0da59de9cd2e155451e190f92f8e22cc881e6dc890b925e64dce0961302c5",
    ),
    (
        "windlass-weekly",
        include_str!("../golden/windlass-weekly-3.toml"),
        "ecb7b9cc56b85d5d69d0fa8d4f76d69074eb896acbd69e7cd79e7f8f68d197a7",
    ),
    (
        "anchors-ready",
        include_str!("../golden/anchors-ready-5.toml"),
        "5bd31fe79d86e4dc0b11af5e2b7f89496ece4ad97e5e382a62cebc9ad6705f58",
    ),
    (
        "anchors-ready",
        include_str!("../golden/anchors-ready-6.toml"),
        "cada41db7297882045a17a35f2891829a02025da001bbc0b2fdfcada960bc7ec",
    ),
    (
        "hose-drill",
        include_str!("../golden/hose-drill-1.toml"),
        "1deaa35ea36f3ceeeeac6ee9f453fc81097d2e88c45e196f25746c5ef9963d0a",
    ),
    (
        "cable-marks",
        include_str!("../golden/cable-marks-1.toml"),
        "e7dfc6495f5a6c6229adf12ca5ae1b69fcece5d9955565a3702953d56e71a967",
    ),
];

#[test]
fn older_editions_are_still_read_as_they_were_and_worked_to_their_end() {
    for (slug, text, identity) in OLDER {
        let older = procedure::parse_on_record(&format!("{slug}.toml"), text).expect("it reads");
        assert_eq!(older.hash().to_string(), *identity);
        assert_ne!(older.hash(), named(slug).hash());
        assert_ended(&walk(older, &[]));
    }
}

#[test]
fn every_branch_of_the_library_can_be_worked_to_its_end() {
    for procedure in library::all() {
        for step in procedure.steps() {
            let options = step.kind.options().iter();
            for option in options.filter(|option| !option.bad).skip(1) {
                assert_ended(&walk(procedure.clone(), &[(step.id.as_str(), &option.key)]));
            }
        }
    }
}

#[test]
fn a_foul_anchor_is_held_for_the_master_and_worked_on_when_it_is_clear() {
    let mut scene = Scene::new(named("weighing"));
    scene.start();
    scene.writes(1, ANA, chooses("sighted", "foul"));
    assert!(scene.step("foul-hold").applies);
    assert_eq!(scene.status("sighted"), Status::OutOfLimits);
    scene.writes(1, ANA, chooses("sighted", "clear"));
    assert!(!scene.step("foul-hold").applies);
}

#[test]
fn anchors_ready_asks_only_for_what_every_screen_can_show() {
    let procedure = named("anchors-ready");
    // A ship has the holds of her register, or the choice in their place.
    let shown = procedure
        .steps()
        .iter()
        .filter(|step| step.kind.each().is_none());
    assert!(shown.count() < 30);
    for step in procedure.steps() {
        assert!(
            ["confirm", "reading", "choice", "hold", "each"].contains(&step.kind.name()),
            "{}",
            step.id
        );
    }
    let mut holds = procedure.steps().iter();
    let hold = holds.rposition(|step| step.kind.consent().is_some());
    let after = &procedure.steps()[hold.expect("a hold") + 1..];
    let after: Vec<&str> = after.iter().map(|step| step.id.as_str()).collect();
    assert_eq!(after, ["left-port", "left-starboard"], "how they are left");
}

#[test]
fn every_consent_in_the_library_is_bound_to_what_it_is_asked_over() {
    for procedure in library::all() {
        for step in &procedure.steps()[1..] {
            let is_hold = step.kind.consent().is_some();
            let free = is_hold && step.stands_on.is_empty();
            assert!(!free, "{}: {}", procedure.slug(), step.id);
        }
    }
}

#[test]
fn the_cable_log_is_open_as_soon_as_the_cable_can_move() {
    let opens = [
        ("walk-out", "gear-in"),
        ("walk-back", "gear-in"),
        ("let-go", "brake-only"),
    ];
    for (method, last) in opens {
        let scene = walk(named("letting-go"), &[("method", method)]);
        let at = |wanted: &dyn Fn(&Event) -> bool| {
            let found = scene
                .events
                .iter()
                .position(|stamped| wanted(&stamped.event));
            found.unwrap_or_else(|| panic!("{method}: it happened"))
        };
        let ticked =
            at(&|event| matches!(event, Event::Done { step, .. } if step.as_str() == last));
        // A second person signs right after.
        let signed = ticked + 1;
        let view = |count: usize| {
            let events = &scene.events[..count];
            let context = procedure::Context {
                settings: scene.settings.clone(),
                past: scene.past.clone(),
                ..procedure::Context::default()
            };
            let state = procedure::fold_in(&scene.procedure, &context, events);
            step_in(&state.view(events[count - 1].at_ms), "cable")
        };
        assert!(!view(ticked).open, "{method}");
        assert!(view(signed + 1).open, "{method}");
        let touched = at(&|event| {
            matches!(
                event,
                Event::Done {
                    outcome: Outcome::Position { .. },
                    ..
                }
            )
        });
        assert!(touched > signed + 1, "{method}: long before");
    }
}

#[test]
fn another_way_of_anchoring_is_ordered_anew_however_far_the_work_is() {
    let mut scene = walk(named("letting-go"), &[("method", "walk-out")]);
    let done_at = |step: &str| {
        let done =
            |event: &Event| matches!(event, Event::Done { step: of, .. } if of.as_str() == step);
        let found = scene.events.iter().position(|stamped| done(&stamped.event));
        found.unwrap_or_else(|| panic!("{step} was done"))
    };
    let gear_in = done_at("walk-to-water");
    scene.cut(gear_in + 1);
    assert!(scene.step("may-go").passed);
    scene
        .does(1, ANA, chooses("method", "walk-back"))
        .expect("the master changed the way");
    // The speed for that way is asked for first.
    assert_eq!(scene.view().next.first(), Some(&"speed-let-go".into()));
    let order = "not yet: first: ";
    let refused = |scene: &mut Scene, step: &str| {
        let asked = scene.does(1, ANA, done(step));
        asked.expect_err("it is not ordered").to_string()
    };
    assert!(refused(&mut scene, "let-go").starts_with(order));
    scene
        .does(1, ANA, reads("speed-let-go", "sog", "0.2"))
        .expect("it is read");
    assert_eq!(scene.view().holds, vec!["may-go".into()]);
    let words = format!("{order}Wait for the master's order to put the anchor down");
    for step in ["a-cockbill", "let-go"] {
        assert_eq!(refused(&mut scene, step), words);
    }
    scene
        .does(1, MAX, consents("may-go"))
        .expect("ordered anew");
    assert!(scene.view().holds.is_empty());
    scene
        .does(1, ANA, done("a-cockbill"))
        .expect("back to just above the ground");
}
