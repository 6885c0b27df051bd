//! Faults, and the defects that they raise.

use procedure::*;

use super::plain::PLAIN;
use super::scene::*;

pub fn not_so(step: &str, severity: Severity) -> Event {
    Event::NotSo {
        step: step.into(),
        severity,
        text: "lining worn".into(),
        photo: Some([9; 32]),
        terms: None,
    }
}

#[test]
fn a_fault_raises_a_defect_and_keeps_the_step_open() {
    let mut scene = Scene::started(PLAIN);
    let fault = scene
        .does(1, ANA, not_so("brake", Severity::Restricted))
        .unwrap();
    assert_eq!(scene.status("brake"), Status::NotSo("lining worn".into()));
    let view = scene.view();
    assert_eq!(view.defects.len(), 1);
    assert_eq!(
        (view.defects[0].id, view.defects[0].gear.clone()),
        (fault, vec!["brake".to_owned()])
    );
    assert_eq!(scene.step("brake").defects.len(), 1);
    scene.does(1, OLGA, goes_on("brake")).unwrap();
    assert!(scene.step("brake").passed);
    assert!(
        scene.view().defects[0].open,
        "letting the work go on does not close the defect"
    );

    let close = Event::Defect {
        defect: fault,
        change: DefectChange::Closed,
        text: "new lining".into(),
    };
    assert_eq!(
        scene.does(1, ANA, close.clone()),
        Err(Refusal::NotTheirs("officer"))
    );
    let hand = Event::Defect {
        defect: fault,
        change: DefectChange::HandedOver { to: BEN.into() },
        text: String::new(),
    };
    scene.does(1, ANA, hand).unwrap();
    scene.does(1, OLGA, close).unwrap();
    let defect = scene.view().defects[0].clone();
    assert_eq!(
        (defect.open, defect.handed_to, defect.history.len()),
        (false, Some(BEN.into()), 3)
    );
}

#[test]
fn an_open_defect_of_another_run_stands_on_the_steps_of_its_gear() {
    let mut scene = Scene::started(PLAIN);
    scene
        .does(1, ANA, not_so("brake", Severity::Watch))
        .unwrap();
    let known = scene.view().defects;
    let other = Scene::started(&PLAIN.replace("slug = \"plain\"", "slug = \"other\""));
    let context = Context {
        settings: Settings::defaults(),
        defects: known,
        ..Context::default()
    };
    let view = fold_in(&other.procedure, &context, &other.events).view(other.now);
    assert_eq!(step_in(&view, "brake").defects.len(), 1);
    assert!(step_in(&view, "look").defects.is_empty());
}

#[test]
fn doing_the_step_right_clears_its_fault() {
    let mut scene = Scene::started(PLAIN);
    scene.does(1, ANA, done("look")).unwrap();
    scene
        .does(1, ANA, not_so("gas", Severity::OutOfService))
        .unwrap();
    assert_eq!(
        scene.does(1, OLGA, goes_on("gas")),
        Err(Refusal::MustBeRight)
    );
    scene.does(1, ANA, reads("gas", "co2", "0.1")).unwrap();
    assert_eq!(scene.status("gas"), Status::Done);
}
