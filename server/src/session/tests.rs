//! Challenges, lengths of sessions, and their limits.

use super::*;

/// Sessions of a folder that is gone: what cannot be written down is good all the same.
fn in_memory() -> Sessions {
    let data = tempfile::tempdir().unwrap();
    Sessions::open(data.path(), 0).unwrap()
}

fn session(begun_ms: i64) -> Session {
    Session {
        vessel: record::SoftKey::from_seed([2; 32]).public().vessel(),
        device: record::SoftKey::from_seed([1; 32]).public().device(),
        begun_ms,
        used_ms: begun_ms,
        bucket: TokenBucket::whole(RATE, begun_ms),
    }
}

#[test]
fn sessions_outlive_the_server_but_not_their_time() {
    let data = tempfile::tempdir().unwrap();
    let before = Sessions::open(data.path(), 0).unwrap();
    before.keep([1; 32], session(0), 0);
    before.keep([2; 32], session(0), 0);
    before.end(&[2; 32], 1);
    before.touch([1; 32], IDLE_MS).unwrap();
    drop(before);
    let text = std::fs::read_to_string(data.path().join("sessions.json")).unwrap();
    assert!(text.contains(&record::hex::encode(&[1; 32])), "{text}");
    // Its use an hour after its beginning is known too.
    let after = Sessions::open(data.path(), IDLE_MS + 1).unwrap();
    assert!(after.touch([1; 32], IDLE_MS + 2).is_ok());
    assert!(after.touch([2; 32], IDLE_MS + 2).is_err(), "it was ended");
    let late = Sessions::open(data.path(), 2 * IDLE_MS + 3).unwrap();
    assert!(late.touch([1; 32], 2 * IDLE_MS + 3).is_err(), "idle");

    std::fs::write(data.path().join("sessions.json"), "[{").unwrap();
    let broken = Sessions::open(data.path(), IDLE_MS + 2).unwrap();
    assert!(broken.touch([1; 32], IDLE_MS + 2).is_err());
}

#[test]
fn a_challenge_is_good_once_in_time_and_only_here() {
    let (here, elsewhere) = (in_memory(), in_memory());
    let server = record::SoftKey::from_seed([1; 32]).public();
    let challenge = here.challenge(&server, 0).unwrap().challenge;
    assert!(elsewhere.redeem(&challenge, 0).is_err(), "another server's");
    assert!(here.redeem(&challenge, CHALLENGE_MS + 1).is_err(), "late");
    assert!(here.redeem(&challenge, CHALLENGE_MS).is_ok());
    assert!(here.redeem(&challenge, 0).is_err(), "again");
    assert!(here.redeem(&challenge.to_uppercase(), 0).is_err(), "again");
    let other = here.challenge(&server, 0).unwrap().challenge;
    let mut bytes = record::hex::decode(&other).unwrap();
    bytes[20] ^= 1; // a later end
    assert!(here.redeem(&record::hex::encode(&bytes), 0).is_err());
    assert!(here.redeem("", 0).is_err());
    assert!(here.redeem("zz", 0).is_err());
}

#[test]
fn a_device_has_no_more_than_so_many_sessions_and_the_oldest_ends() {
    let sessions = in_memory();
    for number in 0..=MOST_OF_ONE {
        let begun_ms = i64::try_from(number).unwrap();
        let token = [u8::try_from(number).unwrap(); 32];
        sessions.keep(token, session(begun_ms), begun_ms);
    }
    assert!(sessions.touch([0; 32], 10).is_err(), "the oldest has ended");
    assert!(sessions.touch([1; 32], 10).is_ok());
    assert!(sessions.touch([1; 32], 10 + IDLE_MS + 1).is_err(), "idle");
    let mut now = 2;
    while now <= LONGEST_MS {
        now += IDLE_MS;
        if now <= LONGEST_MS {
            assert!(sessions.touch([2; 32], now).is_ok(), "used within the hour");
        }
    }
    assert!(sessions.touch([2; 32], now + 3).is_err(), "at most so long");
}

#[test]
fn a_device_that_asks_without_end_has_to_wait() {
    let sessions = in_memory();
    sessions.keep([1; 32], session(0), 0);
    let granted = (0..1000)
        .filter(|_| sessions.touch([1; 32], 0).is_ok())
        .count();
    assert_eq!(granted, 300);
    assert!(sessions.touch([1; 32], 1000).is_ok(), "a second later");
}
