//! The phone's own lock on somebody's key, beside the PIN: whether there is one to be had, put on, taken off.

use crate::client::Client;
use crate::people::attempt;
use crate::timer::BrowserClock;
use journal::Pin;
use journal::port::Clock as _;
use leptos::prelude::*;
use store::KeyError;
use ui::port::PinAttempt;
use ui::words::unlock_sheet as words;

impl Client {
    /// Finds out whether a key can be locked to this phone.
    pub async fn look_for_phone_lock(&self) {
        let can = store::can_lock_to_phone().await;
        self.device.identity.can_lock_to_phone.set(can);
    }

    /// Locks somebody's key to the phone too, or takes that off again.
    pub async fn set_phone_lock(&self, device: &str, pin: &Pin, is_wanted: bool) {
        let keys = self.device.identity;
        keys.attempt.set(PinAttempt::Working);
        let now_ms = BrowserClock.now_ms();
        let done = if is_wanted {
            let name = self.name_of(device);
            let done = self.store.lock_to_phone(device, pin, &name, now_ms).await;
            done.map_err(|error| match error {
                KeyError::PhoneRefused => PinAttempt::Failed(words::PHONE_NOT_MADE.to_owned()),
                KeyError::PhoneCannot => PinAttempt::Failed(words::PHONE_CANNOT.to_owned()),
                error => attempt(&error),
            })
        } else {
            let done = self.store.take_phone_lock_off(device, pin, now_ms).await;
            done.map_err(|error| attempt(&error))
        };
        self.wrapped_anew(done).await;
    }

    fn name_of(&self, device: &str) -> String {
        self.device.identity.people.with_untracked(|people| {
            let one = people.iter().find(|one| one.device == device);
            one.map(|one| one.name.clone()).unwrap_or_default()
        })
    }
}
