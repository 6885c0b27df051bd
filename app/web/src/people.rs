//! The people who share this phone: whose key is open, when it is put away, who takes over.

use crate::client::{Client, Waiting};
use crate::session;
use crate::timer::{BrowserClock, sleep, steady_ms};
use futures::channel::oneshot;
use journal::holder;
use journal::lock::{Moment, Opened};
use journal::port::{Clock as _, StoreError};
use journal::{Holder, Pin};
use leptos::prelude::*;
use record::DeviceId;
use std::rc::Rc;
use store::{BrowserKey, KeyError};
use ui::port::{DeviceState, DeviceUser, Lock, Me, PinAttempt, RecordCommand, UnlockView};
use ui::words::unlock_sheet as words;
use wasm_bindgen::JsCast;
use wasm_bindgen::closure::Closure;

/// The note that says whose turn it is, by their key's chain.
const NOTE_CURRENT: &str = "current";

#[expect(
    clippy::cast_possible_truncation,
    reason = "ms since the page was opened"
)]
fn moment() -> Moment {
    Moment {
        wall_ms: BrowserClock.now_ms(),
        steady_ms: steady_ms() as i64,
    }
}

fn is_hidden() -> bool {
    web_sys::window()
        .and_then(|window| window.document())
        .is_some_and(|document| document.hidden())
}

/// Returns what is shown of a key that did not open.
pub fn attempt(error: &KeyError) -> PinAttempt {
    let said = match error {
        KeyError::WrongPin => return PinAttempt::Wrong,
        KeyError::TooEarly { .. } => return PinAttempt::Idle, // the wait is shown
        KeyError::PhoneRefused => words::PHONE_REFUSED.to_owned(),
        KeyError::PhoneOther => words::PHONE_OTHER.to_owned(),
        KeyError::PhoneCannot => words::PHONE_CANNOT_OPEN.to_owned(),
        error => error.to_string(),
    };
    PinAttempt::Failed(said)
}

impl Client {
    /// Reads whose keys are on the phone, and shows whoever had it last; nobody's key is open then.
    pub async fn look_up_people(&self) -> Result<(), StoreError> {
        let key_failed = |error: KeyError| StoreError::Failed(error.to_string());
        if let Some(first) = self.store.take_up_first().await.map_err(key_failed)? {
            self.store.set_note(NOTE_CURRENT, &first.device).await?;
        }
        self.read_holders().await?;
        let current = self.store.note(NOTE_CURRENT).await?;
        let holder = holder::current(&self.holders.borrow(), current.as_deref()).cloned();
        match holder {
            Some(holder) => {
                let key = if holder.has_pin {
                    None
                } else {
                    Some(Rc::new(self.store.first_key().await.map_err(key_failed)?))
                };
                self.stand(&holder, key);
            }
            None => self.device.identity.state.set(DeviceState::Unknown),
        }
        Ok(())
    }

    /// Reads the rows again and shows them.
    pub async fn read_holders(&self) -> Result<(), StoreError> {
        *self.holders.borrow_mut() = self.store.holders().await?;
        self.show_people();
        Ok(())
    }

    fn show_people(&self) {
        let now_ms = BrowserClock.now_ms();
        let residents = self
            .holders
            .borrow()
            .iter()
            .filter(|one| one.is_usable())
            .map(|one| {
                let me = self.person_of(one);
                let roles = me.as_ref().map(|me| me.roles).unwrap_or_default();
                DeviceUser {
                    device: one.device.clone(),
                    person: one.person.clone(),
                    name: me.as_ref().map_or(one.person.clone(), |me| me.name.clone()),
                    rank: me.map(|me| me.rank).unwrap_or_default(),
                    has_pin: one.has_pin,
                    is_pin_short: one.is_pin_short(roles),
                    has_phone_lock: one.has_phone_lock,
                    wrong: one.tries.wrong,
                    until_ms: one.tries.until_ms(now_ms),
                }
            })
            .collect();
        self.device.identity.people.set(residents);
    }

    /// Returns whom a key belongs to, as the ship's crew list has them.
    fn person_of(&self, holder: &Holder) -> Option<Me> {
        let device = holder.device.parse::<DeviceId>().ok()?;
        self.device.records.ledger.with_untracked(|ledger| {
            let body = ledger.as_ref()?.particulars()?;
            let member = body.crew.iter().find(|member| member.id == holder.person)?;
            Some(Me {
                person: holder.person.clone(),
                name: member.name.clone(),
                rank: member.rank.clone(),
                roles: journal::roles_from_words(&member.roles),
                device,
                protection: holder.protection.clone(),
            })
        })
    }

    /// Makes somebody the one who has the phone, with their key open or not.
    pub fn stand(&self, holder: &Holder, key: Option<Rc<BrowserKey>>) {
        let me = self.person_of(holder);
        self.own.set(
            me.as_ref()
                .map(|me| me.device)
                .or_else(|| key.as_ref().map(|key| key.id())),
        );
        let lock = match (&key, holder.has_pin) {
            (_, false) => Lock::NoPin,
            (Some(_), true) => Lock::Open,
            (None, true) => Lock::Locked,
        };
        self.opened
            .set((lock == Lock::Open).then(|| Opened::at(moment())));
        *self.key.borrow_mut() = key;
        self.device.identity.lock.set(lock);
        let withdrawn = &self.device.identity.withdrawn;
        withdrawn.set(holder.withdrawal.clone());
        // Whoever has the phone already is not told anew: a form that hangs on it would be drawn again, and be closed.
        let state = me.map_or(DeviceState::Unknown, DeviceState::Enrolled);
        if self
            .device
            .identity
            .state
            .with_untracked(|known| *known != state)
        {
            self.device.identity.state.set(state);
        }
        self.show_people();
        self.count_waiting();
        self.look_at_trial();
    }

    /// Notes that the ship has withdrawn a key of this phone, so that it is known after a start out of range too.
    pub async fn withdraw(&self, device: DeviceId, withdrawal: record::Withdrawal) {
        let kept = self
            .store
            .change_holder(&device.to_string(), |holder| {
                holder.withdrawal = Some(withdrawal.clone());
            })
            .await;
        if let Err(error) = kept {
            // Known for as long as the page lives, and told again by the ship after that.
            self.device.records.trouble.set(Some(error.to_string()));
        } else if let Err(error) = self.read_holders().await {
            self.device.records.trouble.set(Some(error.to_string()));
        }
        if self.own.get() == Some(device) {
            self.device.identity.withdrawn.set(Some(withdrawal));
        }
    }

    /// Puts the key away; nothing is signed until a PIN is typed.
    pub fn lock(&self) {
        if self.device.identity.lock.get_untracked() == Lock::Open {
            self.opened.set(None);
            *self.key.borrow_mut() = None;
            self.device.identity.lock.set(Lock::Locked);
        }
    }

    /// Keeps a command until the key is open; says whether it has to wait.
    pub fn must_wait(&self, command: &RecordCommand, pressed_ms: f64) -> bool {
        let is_locked = self.is_locked();
        if is_locked {
            self.ask_for_pin(Waiting::Record(command.clone(), pressed_ms));
        }
        is_locked
    }

    /// Says whether the ship has withdrawn the key of whoever has the phone.
    pub fn is_withdrawn(&self) -> bool {
        let withdrawn = self.device.identity.withdrawn;
        withdrawn.with_untracked(Option::is_some)
    }

    fn is_locked(&self) -> bool {
        self.key.borrow().is_none()
            && matches!(
                self.device.identity.state.get_untracked(),
                DeviceState::Enrolled(_)
            )
    }

    fn ask_for_pin(&self, waiting: Waiting) {
        if let Some(own) = self.own.get() {
            *self.waits.borrow_mut() = Some(waiting);
            self.device.identity.attempt.set(PinAttempt::Idle);
            self.device
                .identity
                .sheet
                .set(Some(UnlockView::Pin(own.to_string())));
        }
    }

    /// Returns the key of whoever has the phone, once its PIN was typed where it is put away; none where nobody is
    /// enrolled, or the sheet is closed.
    pub async fn opened_key(&self) -> Option<Rc<BrowserKey>> {
        if !self.is_locked() {
            return self.key.borrow().clone();
        }
        let (tell, told) = oneshot::channel();
        self.ask_for_pin(Waiting::Key(tell));
        told.await.ok()
    }

    /// Closes the sheet; what it was asked for is not done.
    pub fn not_now(&self) {
        *self.waits.borrow_mut() = None;
        self.device.identity.attempt.set(PinAttempt::Idle);
        self.device.identity.sheet.set(None);
    }

    /// Opens somebody's key; returns the command that waited for it, if it is theirs.
    pub async fn unlock(&self, device: &str, pin: Pin) -> Option<(RecordCommand, f64)> {
        let holder = self
            .holders
            .borrow()
            .iter()
            .find(|one| one.device == device)
            .cloned()?;
        let keys = self.device.identity;
        keys.attempt.set(PinAttempt::Working);
        let opened = if holder.has_pin {
            self.store
                .open_key(device, &pin, BrowserClock.now_ms())
                .await
        } else {
            self.store.first_key().await
        };
        // What it costs the next try is on disk, whatever came of this one.
        let read = self.read_holders().await;
        match opened {
            Ok(key) => {
                keys.attempt
                    .set(read.err().map_or(PinAttempt::Idle, |error| {
                        PinAttempt::Failed(error.to_string())
                    }));
                let is_same = self.own.get().is_some_and(|own| own.to_string() == device);
                let key = Rc::new(key);
                self.stand(&holder, Some(Rc::clone(&key)));
                if !is_same {
                    sign_in_anew();
                }
                // If the disk does not take it, the one before is shown at the next start.
                let _ = self.store.set_note(NOTE_CURRENT, device).await;
                keys.sheet.set(None);
                self.wake.set(true);
                let waited = self.waits.borrow_mut().take();
                if waited.is_some() && !is_same {
                    self.device
                        .records
                        .trouble
                        .set(Some(words::ONE_PRESS_LOST.to_owned()));
                    return None;
                }
                match waited? {
                    Waiting::Record(command, pressed_ms) => Some((command, pressed_ms)),
                    Waiting::Key(tell) => {
                        // Whoever asked may be gone.
                        let _ = tell.send(key);
                        None
                    }
                }
            }
            Err(error) => {
                keys.attempt.set(attempt(&error));
                None
            }
        }
    }

    /// Puts somebody's key behind another PIN.
    pub async fn change_pin(&self, device: &str, old: &Pin, new: &Pin) {
        let keys = self.device.identity;
        keys.attempt.set(PinAttempt::Working);
        let now_ms = BrowserClock.now_ms();
        let changed = self.store.change_pin(device, old, new, now_ms).await;
        self.wrapped_anew(changed.map_err(|error| attempt(&error)))
            .await;
    }

    /// Shows what came of wrapping a key anew, and closes the sheet where all went well.
    pub async fn wrapped_anew(&self, wrapped: Result<(), PinAttempt>) {
        let keys = self.device.identity;
        // What it costs the next try is on disk, whatever came of this one.
        let read = self.read_holders().await;
        match wrapped {
            Ok(()) => {
                keys.attempt
                    .set(read.err().map_or(PinAttempt::Idle, |error| {
                        PinAttempt::Failed(error.to_string())
                    }));
                keys.sheet.set(None);
            }
            Err(attempt) => keys.attempt.set(attempt),
        }
    }

    /// Makes the newly enrolled the one who has the phone, and takes that person's other keys off it.
    pub async fn take_over(&self, holder: &Holder, key: Rc<BrowserKey>) -> Result<(), StoreError> {
        let others: Vec<Holder> = holder::superseded(&self.holders.borrow(), holder)
            .into_iter()
            .cloned()
            .collect();
        for other in others {
            self.store.retire_key(&other).await?;
        }
        self.store.set_note(NOTE_CURRENT, &holder.device).await?;
        self.read_holders().await?;
        self.stand(holder, Some(key));
        sign_in_anew();
        Ok(())
    }
}

/// Signs in as whoever has the phone now: until then the ship takes what is asked for as the one before.
fn sign_in_anew() {
    wasm_bindgen_futures::spawn_local(async {
        // Out of range it is done when the ship asks.
        let _ = session::open().await;
    });
}

/// Puts an opened key away when its time is over, for as long as the page lives.
pub async fn keep_lock(client: Rc<Client>) {
    listen(&client);
    loop {
        sleep(1000).await;
        client.look_at_lock();
    }
}

impl Client {
    fn look_at_lock(&self) {
        let Some(opened) = self.opened.get() else {
            return;
        };
        if opened.is_over(moment(), self.idle_ms.get()) {
            self.lock();
        }
    }

    fn with_opened(&self, change: impl FnOnce(&mut Opened)) {
        if let Some(mut opened) = self.opened.get() {
            change(&mut opened);
            self.opened.set(Some(opened));
        }
    }
}

/// Notes every press, and whether the page is in sight.
fn listen(client: &Rc<Client>) {
    let Some(document) = web_sys::window().and_then(|window| window.document()) else {
        return;
    };
    let touched = Rc::clone(client);
    let on_touch = Closure::<dyn FnMut()>::new(move || {
        // A press after the time is over must not keep the key open.
        touched.look_at_lock();
        touched.with_opened(|opened| opened.touch(moment()));
    });
    let seen = Rc::clone(client);
    let on_look = Closure::<dyn FnMut()>::new(move || {
        seen.look_at_lock();
        seen.with_opened(|opened| opened.look(is_hidden(), moment()));
    });
    for (name, listener) in [
        ("pointerdown", &on_touch),
        ("keydown", &on_touch),
        ("visibilitychange", &on_look),
    ] {
        // Before the page's own listeners, so that a press that comes too late finds the key put away.
        let _ = document.add_event_listener_with_callback_and_bool(
            name,
            listener.as_ref().unchecked_ref(),
            true,
        );
    }
    on_touch.forget(); // for as long as the page lives
    on_look.forget();
}
