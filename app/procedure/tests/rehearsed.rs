//! Procedures played with invented people and an invented clock, as `clearhawse rehearse` does.

use procedure::rehearsal::{Act, Rehearsal, plain_acts};
use procedure::{Procedure, Settings, library};

fn played(procedure: &Procedure, acts: &[Act]) -> Vec<procedure::rehearsal::Played> {
    let mut run = Rehearsal::begin(procedure, Settings::defaults());
    acts.iter().map(|act| run.play(act)).collect()
}

#[test]
fn every_procedure_of_the_library_is_rehearsed_to_its_end_and_plays_the_same_from_its_lines() {
    for procedure in library::all() {
        let acts = plain_acts(&procedure, &Settings::defaults());
        let acts = acts.unwrap_or_else(|open| panic!("{}: {open:#?}", procedure.slug()));
        let line = |act: &Act| {
            let line = serde_json::to_string(act).expect("writing to memory");
            serde_json::from_str::<Act>(&line).expect("what was written")
        };
        let again: Vec<Act> = acts.iter().map(line).collect();
        assert_eq!(again, acts, "{}", procedure.slug());
        let played = played(&procedure, &again);
        let refused = played.iter().find(|played| played.refused.is_some());
        assert_eq!(refused, None, "{}", procedure.slug());
        assert!(played.last().expect("an act").closed);
    }
}

/// A line as a mate writes it.
fn act(line: &str) -> Act {
    serde_json::from_str(line).expect("an act")
}

#[test]
fn what_is_refused_says_why_and_is_not_written() {
    let all = library::all();
    let weighing = all.iter().find(|one| one.slug() == "weighing");
    let weighing = weighing.expect("it is in the library");
    let lines = [
        r#"{"at_s":60,"who":"hand","what":{"done":{"step":"gear-in","outcome":"confirmed"}}}"#,
        r#"{"at_s":70,"who":"hand","what":{"done":{"step":"party","outcome":"confirmed"}}}"#,
        r#"{"at_s":80,"who":"cook","what":{"done":{"step":"anchor","outcome":{"chosen":{"option":"port"}}}}}"#,
        r#"{"at_s":90,"who":"hand","what":{"done":{"step":"anchor","outcome":{"chosen":{"option":"port"}}}}}"#,
        r#"{"at_s":95,"who":"hand","what":{"strike-out":{"event":"0000000000000000000000000000000000000000000000000000000000000004","reason":"it is starboard"}}}"#,
    ];
    let acts = lines.map(act);
    let played = played(weighing, &acts);
    let refused: Vec<Option<&str>> = played.iter().map(|one| one.refused.as_deref()).collect();
    assert!(refused[0].expect("refused").starts_with("not yet: first: "));
    assert_eq!(refused[1], None);
    assert_eq!(refused[2], Some("there is nobody called cook"));
    assert_eq!((refused[3], refused[4]), (None, None));
    assert_eq!(played[3].open, ["bridge-ready".into()]);
    assert_eq!(played[4].open, ["anchor".into()], "it is asked again");
}
