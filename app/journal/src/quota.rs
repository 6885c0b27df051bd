//! Whether a device has room to go on.

/// Room that is always to be left, bytes.
const LEAST_BYTES: f64 = 20e6;

/// Says whether little room is left: less than 20 MB or less than a twentieth. A quota of 0 is one that the browser
/// does not tell.
pub fn is_room_low(used_bytes: f64, quota_bytes: f64) -> bool {
    let left = quota_bytes - used_bytes;
    quota_bytes > 0.0 && (left < LEAST_BYTES || left < quota_bytes / 20.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn room_is_low_below_20_mb_or_a_twentieth_and_unknown_room_is_not() {
        assert!(!is_room_low(0.0, 0.0));
        assert!(!is_room_low(380e6, 400.1e6));
        assert!(is_room_low(380.2e6, 400e6));
        assert!(is_room_low(960e6, 1_000e6));
        assert!(!is_room_low(940e6, 1_000e6));
    }
}
