//! Chooses the records of a page, oldest first.

/// A record that could go on a page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Candidate {
    /// Its place in the order of arrival.
    pub(crate) arrival: i64,
    /// How many bytes it has.
    pub(crate) len: usize,
}

/// Chooses from the devices' lacking records, each list ascending by sequence number, what goes on
/// the page: at least one, if there is any.
///
/// Devices are merged by arrival, but no record goes before its predecessor, also where that one
/// arrived later; otherwise a reader might never get past the gap.
pub(crate) fn choose(
    devices: Vec<Vec<Candidate>>,
    max_bytes: usize,
    max_records: usize,
) -> Vec<i64> {
    let mut merged: Vec<(i64, usize, usize, Candidate)> = Vec::new();
    for (device, records) in devices.into_iter().enumerate() {
        let mut latest = i64::MIN;
        for (place, record) in records.into_iter().enumerate() {
            latest = latest.max(record.arrival);
            merged.push((latest, device, place, record));
        }
    }
    merged.sort_unstable_by_key(|(latest, device, place, _)| (*latest, *device, *place));
    let mut page = Vec::new();
    let mut bytes = 0;
    for (.., record) in merged {
        bytes += record.len;
        if !page.is_empty() && (bytes > max_bytes || page.len() >= max_records) {
            break;
        }
        page.push(record.arrival);
    }
    page
}

#[cfg(test)]
mod tests {
    use super::*;

    fn records(arrivals: &[i64]) -> Vec<Candidate> {
        arrivals
            .iter()
            .map(|arrival| Candidate {
                arrival: *arrival,
                len: 100,
            })
            .collect()
    }

    #[test]
    fn devices_are_merged_by_arrival() {
        let page = choose(vec![records(&[1, 4, 5]), records(&[2, 3, 6])], 10_000, 500);
        assert_eq!(page, [1, 2, 3, 4, 5, 6]);
    }

    #[test]
    fn record_never_goes_before_its_predecessor() {
        // Numbers 2 and 3 of the first device arrived before number 1 did.
        let page = choose(vec![records(&[9, 1, 2]), records(&[5])], 10_000, 2);
        assert_eq!(page, [5, 9]);
    }

    #[test]
    fn page_keeps_to_its_limits_but_is_never_empty() {
        let page = |bytes, count| choose(vec![records(&[1, 2, 3])], bytes, count).len();
        assert_eq!((page(250, 9), page(300, 9), page(999, 1)), (2, 3, 1));
        assert_eq!((page(1, 9), page(0, 0)), (1, 1));
        assert_eq!(choose(vec![], 100, 10), []);
    }
}
