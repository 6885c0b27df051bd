//! The messages of sync and the withdrawal: the first byte says which.

use record::sync::{Have, HaveReply, Missing, PullRequest, PushReply, Rejected};
use record::{DeviceId, Vector, VesselId, Withdrawal};

/// A message that is read is written again as the same bytes.
pub fn message(bytes: &[u8]) {
    let Some((which, bytes)) = bytes.split_first() else {
        return;
    };
    let again = match which % 5 {
        0 => Have::decode(bytes).ok().map(|message| message.encode()),
        1 => HaveReply::decode(bytes)
            .ok()
            .map(|message| message.encode()),
        2 => PushReply::decode(bytes)
            .ok()
            .map(|message| message.encode()),
        3 => PullRequest::decode(bytes)
            .ok()
            .map(|message| message.encode()),
        _ => Withdrawal::decode(bytes).ok().map(|body| {
            body.encode()
                .expect("what a reader takes a writer may write")
        }),
    };
    if let Some(again) = again {
        assert_eq!(again, bytes, "there is one way to write it");
    }
}

pub fn message_seeds() -> Vec<Vec<u8>> {
    let (vessel, device) = (VesselId([9; 16]), DeviceId([1; 16]));
    let vector: Vector = [(device, 3), (DeviceId([2; 16]), 70_000)].into();
    let have = Have {
        vessel,
        vector: vector.clone(),
    };
    let have_reply = HaveReply {
        vector: vector.clone(),
        need: vec![Missing {
            device,
            from: 4,
            to: 9,
        }],
        server_time_ms: 1_795_600_000_000,
    };
    let push_reply = PushReply {
        stored: 4,
        known: 1,
        waiting: 2,
        rejected: vec![Rejected {
            position: 7,
            id: None,
            reason: "the signature does not fit".to_owned(),
        }],
        receipts: vec![vec![0xd2]],
        vector: vector.clone(),
        server_time_ms: -1,
        cut_at: Some(900),
    };
    let pull = PullRequest {
        vessel,
        vector,
        max_bytes: 1 << 18,
    };
    let withdrawal = Withdrawal {
        device,
        from_ms: 1_764_072_000_000,
        last_seq: 41,
        reason: "phone lost ashore".to_owned(),
    };
    let written = [
        have.encode(),
        have_reply.encode(),
        push_reply.encode(),
        pull.encode(),
        withdrawal.encode().expect("a short reason"),
    ];
    let numbered = (0_u8..).zip(written);
    numbered
        .map(|(which, bytes)| [vec![which], bytes].concat())
        .collect()
}
