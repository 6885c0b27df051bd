//! Events in, records out: what happens when another tab was first, or the disk is full.

use crate::aboard::{START_MS, empty, key};
use journal::body::PlanBody;
use journal::memory::{MemoryStore, SetClock, finish};
use journal::port::{ChainEnd, LocalStore, SignError, Signer, StoreError};
use journal::{Body, Intent, Place, WriteError, write};
use record::{DeviceId, PublicKey, SoftKey, VerifiedRecord, check_link};
use std::cell::Cell;

fn intent(title: &str) -> Intent {
    Intent {
        author: "orrin".into(),
        run: None,
        body: Body::Plan(PlanBody {
            title: title.to_owned(),
            input_json: "{}".to_owned(),
            order: "port, 6 on deck".to_owned(),
        }),
        receipt: None,
    }
}

fn put(
    store: &impl LocalStore,
    signer: &impl Signer,
    title: &str,
) -> Result<VerifiedRecord, WriteError> {
    let clock = SetClock::at(START_MS);
    let place = Place::in_ledger(&empty(), None, signer.public_key().device(), START_MS);
    finish(write(store, signer, &clock, &place, &intent(title)))
}

#[test]
fn each_record_follows_the_one_before_it() {
    let store = MemoryStore::default();
    let mut last: Option<VerifiedRecord> = None;
    for number in 1..=20_u64 {
        let record = put(&store, &key(0), "plan").expect("memory takes it");
        assert_eq!(record.seq(), number);
        assert_eq!(check_link(last.as_ref(), &record), Ok(()));
        last = Some(record);
    }
    let on_disk = finish(store.all()).expect("memory reads");
    assert_eq!(on_disk.len(), 20);
}

#[test]
fn two_devices_on_one_disk_have_a_chain_each() {
    let store = MemoryStore::default();
    for (device, number) in [(0, 1), (1, 1), (0, 2), (1, 2)] {
        let record = put(&store, &key(device), "plan").expect("memory takes it");
        assert_eq!(
            (record.device(), record.seq()),
            (key(device).device(), number)
        );
    }
}

/// A store in which another tab writes first, so many times.
struct Contended {
    inner: MemoryStore,
    others: Cell<u32>,
}

impl LocalStore for Contended {
    async fn chain_end(&self, device: DeviceId) -> Result<Option<ChainEnd>, StoreError> {
        self.inner.chain_end(device).await
    }

    async fn append(
        &self,
        after: Option<ChainEnd>,
        device: DeviceId,
        record: ChainEnd,
        envelope: &[u8],
        is_sound: &dyn Fn() -> bool,
    ) -> Result<(), StoreError> {
        if self.others.get() > 0 {
            self.others.set(self.others.get() - 1);
            put(&self.inner, &key(0), "of the other tab").expect("memory takes it");
        }
        self.inner
            .append(after, device, record, envelope, is_sound)
            .await
    }

    async fn keep(&self, records: &[(DeviceId, u64, Vec<u8>)]) -> Result<(), StoreError> {
        self.inner.keep(records).await
    }

    async fn all(&self) -> Result<Vec<Vec<u8>>, StoreError> {
        self.inner.all().await
    }
}

#[test]
fn where_another_tab_was_first_the_record_is_made_again_on_the_new_end() {
    for others in 1..=7 {
        let store = Contended {
            inner: MemoryStore::default(),
            others: Cell::new(others),
        };
        let record = put(&store, &key(0), "mine").expect("there are tries left");
        assert_eq!(record.seq(), u64::from(others) + 1);
        let mut bytes = finish(store.all()).expect("memory reads");
        assert_eq!(bytes.len(), others as usize + 1, "nothing is lost");
        assert_eq!(bytes.pop().as_deref(), Some(record.bytes()));
    }
}

/// A key whose signatures do not fit.
struct Broken(SoftKey);

impl Signer for Broken {
    fn public_key(&self) -> PublicKey {
        self.0.public()
    }

    async fn sign(&self, _bytes: &[u8]) -> Result<[u8; 64], SignError> {
        Ok([7; 64])
    }
}

#[test]
fn what_does_not_verify_is_taken_back_before_the_disk_has_it() {
    let store = MemoryStore::default();
    let answer = put(&store, &Broken(key(0)), "unsound");
    assert!(matches!(answer, Err(WriteError::Refused(_))), "{answer:?}");
    assert!(store.is_empty());
    assert_eq!(
        put(&store, &key(0), "sound")
            .expect("memory takes it")
            .seq(),
        1
    );
}

#[test]
fn a_store_that_never_stands_still_is_given_up_and_all_that_was_written_stands() {
    let store = Contended {
        inner: MemoryStore::default(),
        others: Cell::new(u32::MAX),
    };
    let answer = put(&store, &key(0), "mine");
    assert_eq!(answer, Err(WriteError::Store(StoreError::EndMoved)));
    let written = store.inner.len();
    assert!(written > 1, "it was tried more than once");
    let next = put(&store.inner, &key(0), "later").expect("the chain goes on");
    assert_eq!(next.seq(), written as u64 + 1);
}

#[test]
fn a_full_or_failing_disk_leaves_all_that_is_on_it_and_the_chain_goes_on() {
    let store = MemoryStore::default();
    put(&store, &key(0), "before").expect("memory takes it");
    let before = finish(store.all()).expect("memory reads");
    for error in [StoreError::Full, StoreError::Failed("torn".to_owned())] {
        store.fail_next_write(error.clone());
        assert_eq!(put(&store, &key(0), "lost?"), Err(WriteError::Store(error)));
        assert_eq!(finish(store.all()).as_ref(), Ok(&before));
    }
    let after = put(&store, &key(0), "after").expect("there is room again");
    assert_eq!(after.seq(), 2);
}

/// A key that is locked.
struct Locked(SoftKey);

impl Signer for Locked {
    fn public_key(&self) -> PublicKey {
        self.0.public()
    }

    async fn sign(&self, _bytes: &[u8]) -> Result<[u8; 64], SignError> {
        Err(SignError("the PIN is needed".to_owned()))
    }
}

/// A key whose signatures are another's.
struct Wrong(SoftKey, SoftKey);

impl Signer for Wrong {
    fn public_key(&self) -> PublicKey {
        self.0.public()
    }

    async fn sign(&self, bytes: &[u8]) -> Result<[u8; 64], SignError> {
        Ok(self.1.sign(bytes))
    }
}

#[test]
fn a_key_that_does_not_sign_or_signs_wrongly_puts_nothing_on_disk() {
    let store = MemoryStore::default();
    let locked = put(&store, &Locked(key(0)), "plan");
    assert!(matches!(locked, Err(WriteError::Sign(_))), "{locked:?}");
    let wrong = put(&store, &Wrong(key(0), key(1)), "plan");
    assert!(matches!(wrong, Err(WriteError::Refused(_))), "{wrong:?}");
    assert!(store.is_empty());
}

#[test]
fn what_the_format_forbids_is_said_and_nothing_is_written() {
    let store = MemoryStore::default();
    let too_long = put(&store, &key(0), &"x".repeat(70_000));
    assert!(
        matches!(too_long, Err(WriteError::Refused(_))),
        "{too_long:?}"
    );
    assert!(store.is_empty());
}

#[test]
fn a_stamp_follows_what_the_device_has_seen_but_no_clock_that_is_days_ahead() {
    let clock = SetClock::at(START_MS);
    let mut ledger = empty();
    let stamp_after = |ledger: &journal::Ledger| {
        let store = MemoryStore::default();
        let place = Place::in_ledger(ledger, None, key(0).device(), START_MS);
        finish(write(&store, &key(0), &clock, &place, &intent("plan")))
            .expect("memory takes it")
            .hlc()
    };
    let authority = crate::aboard::authority();
    for (ahead_ms, followed) in [(60_000, true), (3 * 86_400_000, false)] {
        let store = MemoryStore::default();
        let place = Place::in_ledger(&ledger, None, authority.device(), START_MS + ahead_ms);
        let fast = SetClock::at(START_MS + ahead_ms);
        let intent = Intent {
            author: "ship".into(),
            ..intent("of a fast clock")
        };
        let theirs =
            finish(write(&store, &authority, &fast, &place, &intent)).expect("memory takes it");
        ledger.admit_verified(theirs.clone(), None);
        assert_eq!(stamp_after(&ledger) > theirs.hlc(), followed, "{ahead_ms}");
    }
}
