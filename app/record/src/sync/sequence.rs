//! Takes a CBOR sequence apart, whole or cut.

use minicbor::Decoder;

/// One item of a sequence with the place where it begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Item<'a> {
    /// Where it begins, in bytes from 0.
    pub at: usize,
    /// Its bytes.
    pub bytes: &'a [u8],
}

/// Where and why the reading of a sequence stopped.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Stop {
    /// The sequence ends with a whole item.
    #[error("the sequence is whole")]
    Whole,
    /// The sequence ends inside an item: send again from here.
    #[error("the sequence is cut inside the item at byte {at}")]
    Cut {
        /// Where the item that is cut begins.
        at: usize,
    },
    /// Bytes that begin no CBOR item; what follows cannot be told apart.
    #[error("no CBOR item begins at byte {at}")]
    Unreadable {
        /// Where they stand.
        at: usize,
    },
}

/// Yields the whole items of a CBOR sequence (RFC 8742); [`stop`](Self::stop) then says how it ended.
///
/// Any well-formed item is told apart, deterministic or not, so that one bad record does not hide
/// those behind it. Nothing is copied and no length in the bytes is trusted with memory.
#[derive(Debug, Clone)]
pub struct Sequence<'a> {
    bytes: &'a [u8],
    at: usize,
    stop: Option<Stop>,
}

impl<'a> Sequence<'a> {
    /// Begins at the first byte.
    pub fn new(bytes: &'a [u8]) -> Self {
        Self {
            bytes,
            at: 0,
            stop: None,
        }
    }

    /// Returns how many bytes of whole items were read.
    pub fn at(&self) -> usize {
        self.at
    }

    /// Says how the sequence ended; `None` while items are left.
    pub fn stop(&self) -> Option<Stop> {
        self.stop
    }
}

impl<'a> Iterator for Sequence<'a> {
    type Item = Item<'a>;

    fn next(&mut self) -> Option<Item<'a>> {
        if self.stop.is_some() {
            return None;
        }
        let at = self.at;
        let left = &self.bytes[at..];
        if left.is_empty() {
            self.stop = Some(Stop::Whole);
            return None;
        }
        let mut decoder = Decoder::new(left);
        match decoder.skip() {
            Ok(()) => {
                let len = decoder.position();
                self.at = at + len;
                Some(Item {
                    at,
                    bytes: &left[..len],
                })
            }
            Err(error) if error.is_end_of_input() => {
                self.stop = Some(Stop::Cut { at });
                None
            }
            Err(_) => {
                self.stop = Some(Stop::Unreadable { at });
                None
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(bytes: &[u8]) -> (Vec<usize>, Option<Stop>) {
        let mut sequence = Sequence::new(bytes);
        let items = sequence.by_ref().map(|item| item.bytes.len()).collect();
        (items, sequence.stop())
    }

    #[test]
    fn whole_items_are_yielded_before_a_cut_is_reported() {
        let page = [0x82, 1, 2, 0x43, 1, 2, 3, 0x19, 1];
        assert_eq!(read(&page[..7]), (vec![3, 4], Some(Stop::Whole)));
        assert_eq!(read(&page), (vec![3, 4], Some(Stop::Cut { at: 7 })));
        assert_eq!(read(&page[..5]), (vec![3], Some(Stop::Cut { at: 3 })));
        assert_eq!(read(&[]), (vec![], Some(Stop::Whole)));
    }

    #[test]
    fn item_that_breaks_our_rules_does_not_hide_the_next() {
        // 23 not in its shortest form, then an array without a stated length, then 1.
        let page = [0x18, 23, 0x9f, 1, 0xff, 1];
        assert_eq!(read(&page), (vec![2, 3, 1], Some(Stop::Whole)));
    }

    #[test]
    fn bytes_that_are_no_cbor_stop_the_reading() {
        assert_eq!(
            read(&[1, 0xfc, 1]),
            (vec![1], Some(Stop::Unreadable { at: 1 }))
        );
    }

    #[test]
    fn huge_lengths_and_deep_nesting_take_no_memory() {
        let huge = [0x5b, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0];
        assert_eq!(read(&huge), (vec![], Some(Stop::Cut { at: 0 })));
        let array = [0x9b, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0];
        assert!(matches!(
            read(&array).1,
            Some(Stop::Cut { at: 0 } | Stop::Unreadable { at: 0 })
        ));
        let deep = vec![0x81; 300_000];
        assert_eq!(read(&deep), (vec![], Some(Stop::Cut { at: 0 })));
    }
}
