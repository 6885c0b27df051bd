//! Any order, any duplication, any interleaving of devices' records gives the same state.

use crate::aboard::{
    AUTHORITY, Aboard, START_MS, Shown, act, assert_same, credential, empty, forged, put_on, shown,
};
use journal::body::{GearBody, PlanBody, ProcedureBody};
use journal::{Body, Ledger, RunId, SettingsBody};
use procedure::Settings;
use procedure::gear::{GearChange, ItemChange};
use proptest::prelude::*;
use record::{Envelope, Withdrawal};

/// One thing that happens aboard.
#[derive(Debug, Clone, Copy)]
pub enum Deed {
    /// Somebody does something at a step of a run.
    Act {
        device: usize,
        run: usize,
        step: u16,
        choice: u16,
    },
    /// Two devices come in range of each other.
    Sync { from: usize, to: usize },
    /// The ship, or someone aboard, changes what the runs are judged by.
    Standing { what: u8 },
}

pub fn deed() -> impl Strategy<Value = Deed> {
    prop_oneof![
        8 => (0..3_usize, 0..2_usize, any::<u16>(), any::<u16>())
            .prop_map(|(device, run, step, choice)| Deed::Act { device, run, step, choice }),
        2 => (0..4_usize, 0..4_usize).prop_map(|(from, to)| Deed::Sync { from, to }),
        1 => (0..13_u8).prop_map(|what| Deed::Standing { what }),
    ]
}

/// Somebody changes the register of the ship's gear, or tries to without the right to it.
fn gear(aboard: &mut Aboard, what: u8) {
    let of = |item: &str, change| ItemChange {
        item: item.to_owned(),
        change,
    };
    let (pen, change) = match what {
        6 => (2, put_on("GM-1")),
        7 => (0, put_on("GM-2")),
        8 => (2, put_on("GM-2")),
        9 => (0, of("GM-1", GearChange::OutOfService)),
        10 => (2, of("GM-1", GearChange::PutBack)),
        11 => {
            let words = "outside only".to_owned();
            (2, of("GM-1", GearChange::Restricted { words }))
        }
        _ => (1, of("GM-2", GearChange::OutOfService)),
    };
    let body = GearBody {
        changes: vec![change],
        reason: "seen so".to_owned(),
    };
    aboard.says(pen, None, Body::Gear(body));
}

fn standing(aboard: &mut Aboard, what: u8) {
    match what {
        // The officer's key is given another person's roles; then back.
        0 => drop(aboard.says(AUTHORITY, None, credential(2, &["crew"]))),
        1 => drop(aboard.says(AUTHORITY, None, credential(2, &["crew", "master"]))),
        2 => {
            let device = crate::aboard::key(1).device();
            let last_seq = aboard.ledger(1).vector().get(&device).copied().unwrap_or(0);
            let withdrawal = Withdrawal {
                device,
                from_ms: aboard.now_ms,
                last_seq,
                reason: "phone over the side".to_owned(),
            };
            aboard.says(AUTHORITY, None, Body::Withdrawal(withdrawal));
        }
        3 => {
            let mut settings = Settings::defaults();
            let (name, mut value) = settings
                .iter()
                .next()
                .map(|(name, value)| (name.to_owned(), value.clone()))
                .expect("there are settings");
            value.value = "3.5".parse().expect("a number");
            settings.set(name, value);
            let json = serde_json::to_string(&settings).expect("settings are JSON");
            aboard.says(2, None, Body::Settings(SettingsBody { json }));
        }
        4 => {
            let plan = PlanBody {
                title: "Corrow Sound".to_owned(),
                input_json: "{}".to_owned(),
                order: "port, 6 on deck".to_owned(),
                reason: None,
            };
            aboard.says(2, None, Body::Plan(plan));
        }
        6..13 => gear(aboard, what),
        _ => {
            let text = aboard
                .ledger(2)
                .text_of("anchors-ready")
                .expect("the library's");
            let own = ProcedureBody {
                published: true,
                text: text.text.replacen("title = \"", "title = \"Aldermere: ", 1),
                ..text
            };
            aboard.says(2, None, Body::Procedure(own));
        }
    }
}

pub fn play(deeds: &[Deed]) -> Aboard {
    let mut aboard = Aboard::mustered();
    let runs: [RunId; 2] = [
        aboard.starts(0, "anchors-ready"),
        aboard.starts(1, "locker-entry"),
    ];
    aboard.sync(0, 1);
    aboard.sync(1, 2);
    for deed in deeds {
        match *deed {
            Deed::Sync { from, to } if from != to => aboard.sync(from, to),
            Deed::Sync { .. } => {}
            Deed::Standing { what } => standing(&mut aboard, what),
            Deed::Act {
                device,
                run,
                step,
                choice,
            } => {
                let file = aboard.ledger(device).run(runs[run]);
                let Some(state) = file.and_then(|file| file.state.clone()) else {
                    continue; // The run has not reached this device.
                };
                let view = state.view(aboard.now_ms);
                let step = &view.steps[usize::from(step) % view.steps.len()];
                let newest = view.history.last().map(|line| line.id);
                let event = act(&view, step, newest, choice);
                aboard.says(device, Some(runs[run]), Body::Run(Box::new(event)));
            }
        }
    }
    aboard
}

/// Mixes as splitmix64 does: the order tells nothing of what is put in order.
fn mixed(mut seed: u64) -> u64 {
    seed = seed.wrapping_add(0x9e37_79b9_7f4a_7c15);
    seed = (seed ^ (seed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    seed = (seed ^ (seed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    seed ^ (seed >> 31)
}

/// Every envelope at least once, some twice, in an order that the seed decides.
fn shuffled(envelopes: &[Envelope], seed: u64) -> Vec<Envelope> {
    let mut all: Vec<(u64, Envelope)> = Vec::new();
    for (at, envelope) in (0_u64..).zip(envelopes) {
        let place = mixed(seed ^ mixed(at));
        all.push((place, envelope.clone()));
        if place.is_multiple_of(3) {
            all.push((mixed(place), envelope.clone()));
        }
    }
    all.sort_by_key(|(place, _)| *place);
    all.into_iter().map(|(_, envelope)| envelope).collect()
}

fn in_order(envelopes: &[Envelope]) -> Shown {
    let mut ledger = empty();
    for envelope in envelopes {
        ledger.admit(envelope.clone()).expect("a good record");
    }
    shown(&ledger)
}

/// Takes pages of `page` records up, as they come from a store.
fn in_pages(envelopes: Vec<Envelope>, page: usize) -> Ledger {
    let mut ledger = empty();
    for page in envelopes.chunks(page) {
        ledger.admit_all(page.iter().cloned().map(|envelope| (envelope, None)));
    }
    ledger
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 16,
        max_shrink_iters: 100,
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    #[test]
    fn any_order_and_any_duplication_gives_the_same_state(
        deeds in prop::collection::vec(deed(), 1..40),
        seeds in prop::collection::vec(any::<u64>(), 3),
        page in 1..30_usize,
    ) {
        let aboard = play(&deeds);
        let envelopes = aboard.envelopes();
        let expected = in_order(&envelopes);
        for seed in seeds {
            let ledger = in_pages(shuffled(&envelopes, seed), page);
            prop_assert_eq!(ledger.waiting(), 0);
            prop_assert_eq!(ledger.len(), envelopes.len());
            assert_same(&shown(&ledger), &expected);
        }
    }

    #[test]
    fn any_interleaving_of_two_devices_gives_the_same_state(
        deeds in prop::collection::vec(deed(), 1..40),
        turns in prop::collection::vec(any::<bool>(), 120),
    ) {
        let aboard = play(&deeds);
        let envelopes = aboard.envelopes();
        let first = crate::aboard::key(0).device();
        let (one, rest): (Vec<_>, Vec<_>) =
            envelopes.iter().cloned().partition(|envelope| envelope.device() == first);
        let (mut one, mut rest) = (one.into_iter(), rest.into_iter());
        let mut woven: Vec<Envelope> = Vec::new();
        for turn in turns {
            woven.extend(if turn { one.next() } else { rest.next() });
        }
        woven.extend(one.chain(rest));
        assert_same(&in_order(&woven), &in_order(&envelopes));
    }

    #[test]
    fn forged_copies_and_forks_among_the_records_change_nothing_by_their_order(
        deeds in prop::collection::vec(deed(), 4..30),
        seeds in prop::collection::vec(any::<u64>(), 2),
        which in any::<usize>(),
    ) {
        let aboard = play(&deeds);
        let mut envelopes = aboard.envelopes();
        let own = crate::aboard::key(0).device();
        let made: Vec<_> = aboard.records.iter().filter(|r| r.device() == own).collect();
        let victim = made[which % made.len()];
        envelopes.push(Aboard::forked(victim, 0).envelope().clone());
        let expected = in_order(&envelopes);
        for record in aboard.records.iter().step_by(3) {
            envelopes.push(forged(record));
        }
        for seed in seeds {
            let ledger = in_pages(shuffled(&envelopes, seed), 7);
            assert_same(&shown(&ledger), &expected);
            prop_assert!(ledger.forks().contains(&(own, victim.seq())));
        }
    }

    #[test]
    fn a_part_of_the_records_is_a_state_that_the_rest_completes(
        deeds in prop::collection::vec(deed(), 1..30),
        seed in any::<u64>(),
        cut in any::<usize>(),
    ) {
        let aboard = play(&deeds);
        let envelopes = aboard.envelopes();
        let mixed = shuffled(&envelopes, seed);
        let (before, after) = mixed.split_at(cut % mixed.len());
        let mut ledger = in_pages(before.to_vec(), 5);
        // Looking changes nothing.
        let halfway = shown(&ledger);
        assert_same(&shown(&ledger), &halfway);
        for envelope in after {
            ledger.admit(envelope.clone()).expect("a good record");
        }
        assert_same(&shown(&ledger), &in_order(&envelopes));
    }
}

#[test]
fn a_received_time_is_the_earliest_of_all_that_came() {
    let aboard = play(&[]);
    let record = &aboard.records[5];
    for times in [[3, 7], [7, 3]] {
        let mut ledger = in_pages(aboard.envelopes()[..5].to_vec(), 9);
        for after_ms in times {
            let at = Some(START_MS + after_ms);
            ledger
                .admit_received(record.envelope().clone(), at)
                .expect("a good record");
        }
        let entry = ledger.entry(record.id()).expect("it is there");
        assert_eq!(entry.received_ms, Some(START_MS + 3));
    }
}
