//! The core of sync, without I/O: what each side lacks, in which order it travels, in what form.

use std::collections::BTreeMap;

use crate::id::DeviceId;

/// What a side has: each device's highest number up to which none is missing.
pub type Vector = BTreeMap<DeviceId, u64>;
