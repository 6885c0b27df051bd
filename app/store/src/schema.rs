//! What the database holds, and how one of an earlier version comes to hold it.

/// Records of all devices, by device and sequence number.
pub const RECORDS: &str = "records";
/// Keys, by name.
pub const KEYS: &str = "keys";
/// Small notes, by name: who this device is, the last receipt.
pub const NOTES: &str = "notes";
/// Photographs, by the SHA-256 of their bytes as hex. Since version 2.
pub const PHOTOS: &str = "photos";
/// The people whose keys are here, by the chain's name as hex. Since version 3.
pub const PEOPLE: &str = "people";
/// What is kept of runs that are put away, by name. Since version 4.
pub const KEPT: &str = "kept";

/// The database's name.
pub const NAME: &str = "clearhawse";
/// Its version. Only ever raised, and stores are only ever added.
pub const VERSION: u8 = 4;

const STORES: [&str; 6] = [RECORDS, KEYS, NOTES, PHOTOS, PEOPLE, KEPT];

/// Returns the stores that are to be made in a database that holds those `there`: a device may come from any version.
pub fn missing(there: &[String]) -> impl Iterator<Item = &'static str> {
    STORES
        .into_iter()
        .filter(|store| there.iter().all(|name| name != store))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_database_of_any_version_comes_to_hold_every_store_and_loses_none() {
        let rows: [(&[&str], &[&str]); 5] = [
            (&[], &STORES),
            (&[RECORDS, KEYS, NOTES], &[PHOTOS, PEOPLE, KEPT]),
            (&[KEYS, NOTES, PHOTOS, RECORDS], &[PEOPLE, KEPT]),
            (&[KEYS, NOTES, PEOPLE, PHOTOS, RECORDS], &[KEPT]),
            (&STORES, &[]),
        ];
        for (there, expected) in rows {
            let there: Vec<String> = there.iter().map(|name| (*name).to_owned()).collect();
            assert_eq!(missing(&there).collect::<Vec<_>>(), expected, "{there:?}");
        }
    }
}
