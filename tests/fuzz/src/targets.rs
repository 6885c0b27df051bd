//! The targets by name.

mod aboard;
mod asked;
mod bodies;
mod frames;
mod messages;
mod night;
mod records;
mod texts;

use crate::Target;

/// Every target. A new reader of foreign bytes gets its line here.
pub const TARGETS: [Target; 14] = [
    Target {
        name: "cbor",
        check: records::cbor,
        seeds: records::cbor_seeds,
    },
    Target {
        name: "record",
        check: records::record,
        seeds: records::record_seeds,
    },
    Target {
        name: "sequence",
        check: records::sequence,
        seeds: records::sequence_seeds,
    },
    Target {
        name: "export",
        check: records::export,
        seeds: records::export_seeds,
    },
    Target {
        name: "credential",
        check: frames::credential,
        seeds: frames::credential_seeds,
    },
    Target {
        name: "receipt",
        check: frames::receipt,
        seeds: frames::receipt_seeds,
    },
    Target {
        name: "checkpoint",
        check: frames::checkpoint,
        seeds: frames::checkpoint_seeds,
    },
    Target {
        name: "message",
        check: messages::message,
        seeds: messages::message_seeds,
    },
    Target {
        name: "body",
        check: bodies::body,
        seeds: bodies::body_seeds,
    },
    Target {
        name: "procedure",
        check: texts::procedure,
        seeds: texts::procedure_seeds,
    },
    Target {
        name: "json",
        check: texts::json,
        seeds: texts::json_seeds,
    },
    Target {
        name: "words",
        check: texts::words,
        seeds: texts::words_seeds,
    },
    Target {
        name: "night",
        check: night::night,
        seeds: night::night_seeds,
    },
    Target {
        name: "asked",
        check: asked::asked,
        seeds: asked::asked_seeds,
    },
];
