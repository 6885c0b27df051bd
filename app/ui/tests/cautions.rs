//! Each page on which somebody can be hurt shows what can come of it, and what the program defers to.

use std::path::Path;

/// What people decide, the file that draws it, and what has to stand there.
const PAGES: &[(&str, &str, &[&str])] = &[
    ("the first page", "start.rs", &["<Defer />"]),
    (
        "which work is begun",
        "bow/begin.rs",
        &["procedure.cautions()", "<Defer />"],
    ),
    (
        "the head of a run at the bow",
        "bow/run.rs",
        &["<RunCautions card=working.card begins_open=true />"],
    ),
    (
        "the head of a run on the bridge",
        "bridge/card.rs",
        &["<RunCautions card />"],
    ),
    (
        "a step",
        "bow/sheet.rs",
        &["step.cautions.iter()", "<StandsOn"],
    ),
    (
        "a step that is left undone, or gone past, at the bow",
        "bow/fault.rs",
        &["NOT_DONE_CAUTION", "GO_ON_CAUTION"],
    ),
    (
        "going on all the same, and taking work up again",
        "orders.rs",
        &["GO_ON_CAUTION", "RESUME_CAUTION", "<Defer />"],
    ),
    (
        "a consent",
        "bridge/holds.rs",
        &["step.cautions.iter()", "<StandsOn", "<Defer />"],
    ),
    (
        "who goes in, and who goes in after somebody",
        "bow/people.rs",
        &["ENTRY_CAUTION", "RESCUE_CAUTION"],
    ),
    ("the plan", "bridge/plan.rs", &["<Proposal", "<Defer />"]),
    (
        "what comes of a plan",
        "bridge/plan/outcome.rs",
        &["LEAVE_TO", "source_and_caution"],
    ),
    (
        "the plan at the bow",
        "bow/plan.rs",
        &["<Proposal", "<Defer />"],
    ),
    (
        "the ship's settings",
        "ship/settings.rs",
        &["SETTINGS_CAUTION", "<Defer />"],
    ),
    (
        "the first hour",
        "ship/setup.rs",
        &["SETTINGS_CAUTION", "<Defer />"],
    ),
    (
        "defects",
        "ship/defects.rs",
        &["ACCEPT_CAUTION", "CLOSE_CAUTION", "<Defer />"],
    ),
    (
        "an item of the gear",
        "ship/gear/item.rs",
        &["SERVICE_CAUTION", "<Defer />"],
    ),
    (
        "a procedure",
        "ship/procedure.rs",
        &[".cautions()", "<Defer />"],
    ),
    (
        "a change of a procedure",
        "ship/editor.rs",
        &["OWN_CAUTION"],
    ),
    ("rounds", "ship/rounds.rs", &["<Defer />"]),
];

#[test]
fn each_page_on_which_somebody_can_be_hurt_says_so() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut silent = Vec::new();
    for (page, file, wanted) in PAGES {
        let text = std::fs::read_to_string(folder.join(file))
            .unwrap_or_else(|error| panic!("{file}: {error}"));
        // What stands in tests is on no page.
        let shown = text.split("#[cfg(test)]").next().unwrap_or_default();
        let shown = shown.split("#[cfg(all(test").next().unwrap_or_default();
        let missing = wanted.iter().filter(|wanted| !shown.contains(**wanted));
        silent.extend(missing.map(|missing| format!("{page} ({file}): {missing}")));
    }
    assert!(silent.is_empty(), "these say nothing: {silent:#?}");
}

#[test]
fn what_the_program_defers_to_is_named() {
    let words = include_str!("../words/en.txt");
    let line = words
        .lines()
        .find(|line| line.starts_with("DEFER = "))
        .expect("the sentence");
    for named in [
        "safety management system",
        "master's orders",
        "local rules",
        "licensed practice",
    ] {
        assert!(line.contains(named), "{named}: {line}");
    }
}
