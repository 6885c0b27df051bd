//! How a hash that may be missing stands in a record: as a byte string, or not at all.

#![expect(
    clippy::ref_option,
    clippy::option_option,
    clippy::unnecessary_wraps,
    reason = "minicbor's `with` and `has_nil` say how these look"
)]

use minicbor::decode::{self, Decoder};
use minicbor::encode::{self, Encoder, Write};

pub fn encode<C, W: Write>(
    hash: &Option<[u8; 32]>,
    to: &mut Encoder<W>,
    context: &mut C,
) -> Result<(), encode::Error<W::Error>> {
    minicbor::bytes::encode(hash, to, context)
}

pub fn decode<C>(
    from: &mut Decoder<'_>,
    context: &mut C,
) -> Result<Option<[u8; 32]>, decode::Error> {
    minicbor::bytes::decode(from, context)
}

/// What a record without the field says.
pub const fn nil() -> Option<Option<[u8; 32]>> {
    Some(None)
}

pub const fn is_nil(hash: &Option<[u8; 32]>) -> bool {
    hash.is_none()
}
