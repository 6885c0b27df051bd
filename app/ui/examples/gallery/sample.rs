//! Invented figures for the gallery: the motor yacht Aldermere, her crew and a run half done.

use ui::parts::{ChainLink, LinkState};

/// Returns one link.
pub fn link(state: LinkState, title: &str, note: &str) -> ChainLink {
    ChainLink {
        id: title.to_owned(),
        state,
        title: title.to_owned(),
        note: note.to_owned(),
    }
}

/// Returns the pre-anchoring run, worked as far as the claw stopper.
pub fn anchors_ready() -> Vec<ChainLink> {
    use LinkState::{Done, Fault, Hold, Next, NotDone, Open};
    vec![
        link(Done, "Voice link with the bridge tried", "Tam Orrin, 09:04"),
        link(
            Done,
            "Gloves, helmet, eye protection on",
            "Tam Orrin, 09:05",
        ),
        link(Done, "Locker ventilated 30 min", "Wen Salter, 09:12"),
        link(
            Done,
            "Air measured at three levels",
            "Wen Salter, 09:21. 20.8, 20.7, 20.7 % oxygen",
        ),
        link(
            Fault,
            "Locker looked over",
            "Wen Salter, 09:24. Drip under the windlass, defect raised",
        ),
        link(
            NotDone,
            "Bitter end pin greased",
            "Left for the yard, Tam Orrin 09:25",
        ),
        link(Done, "Band brakes hard on, both", "Tam Orrin, 09:26"),
        link(Done, "Clutches out, both", "Tam Orrin, 09:27"),
        link(Next, "Claw stopper on, port", ""),
        link(Open, "Claw stopper on, starboard", ""),
        link(Open, "Windlass power on, pressure in the green", ""),
        link(Open, "Wash water at the hawse", ""),
        link(Open, "Fire main charged to the bow", ""),
        link(Open, "Anchor ball at hand", ""),
        link(Hold, "Officer's consent to take the stoppers off", ""),
        link(Open, "Anchors ready reported", ""),
    ]
}

/// Returns a run of `done` links out of `all`, with one state where it stands.
pub fn run(done: usize, all: usize, at: LinkState) -> Vec<ChainLink> {
    (0..all)
        .map(|n| {
            let state = match n.cmp(&done) {
                std::cmp::Ordering::Less => LinkState::Done,
                std::cmp::Ordering::Equal => at,
                std::cmp::Ordering::Greater => LinkState::Open,
            };
            link(state, "Step", "")
        })
        .collect()
}
