//! What each role may do: one table, for the ship's server, the office's and the fold of records alike.

use procedure::{Role, Roles};
use serde::{Deserialize, Serialize};

/// Something that not everyone may do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Permission {
    /// Read the records, boards and pages of the vessel that gave the credential.
    Read,
    /// Read those of the other vessels whose records are kept here.
    ReadOthers,
    /// Send and fetch records and photographs of that vessel.
    Sync,
    /// Have the server reckon a sum.
    Reckon,
    /// Put procedures, settings and plans in force.
    PutInForce,
    /// Keep the register of the ship's gear: put items on, change, restrict, put back and take off. Anybody of the crew
    /// may take an item out of service.
    KeepGear,
    /// Enrol people, hand out codes, withdraw keys.
    Muster,
}

impl Permission {
    /// Every permission, in order.
    pub const ALL: [Self; 7] = [
        Self::Read,
        Self::ReadOthers,
        Self::Sync,
        Self::Reckon,
        Self::PutInForce,
        Self::KeepGear,
        Self::Muster,
    ];

    /// Says whether whoever uses it must sign the request with the key itself: a session shows that the key was
    /// open within the last hours, and who may do what is not changed by that alone.
    pub const fn is_signed(self) -> bool {
        match self {
            Self::PutInForce | Self::Muster => true,
            // The register is kept by records alone, each of which the key signs.
            Self::Read | Self::ReadOthers | Self::Sync | Self::Reckon | Self::KeepGear => false,
        }
    }

    /// Returns the permission in words, as it stands after 'may not'.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Read => "read the vessel's records",
            Self::ReadOthers => "read the records of other vessels",
            Self::Sync => "send or fetch the vessel's records",
            Self::Reckon => "have sums reckoned",
            Self::PutInForce => "put procedures, settings and plans in force",
            Self::KeepGear => "keep the register of the ship's gear",
            Self::Muster => "enrol people or withdraw keys",
        }
    }
}

/// The roles that may do a permission, and whether a ship's own server may, which signs in to the office to
/// relay her records. Which steps of a procedure a role may sign stands in the procedure.
const fn row(permission: Permission) -> (&'static [Role], bool) {
    use Role::{Crew, Master, OfficeAdministrator, OfficeReader, Officer};
    match permission {
        Permission::Read | Permission::Reckon => (
            &[Crew, Officer, Master, OfficeReader, OfficeAdministrator],
            false,
        ),
        Permission::ReadOthers => (&[OfficeReader, OfficeAdministrator], false),
        Permission::Sync => (
            &[Crew, Officer, Master, OfficeReader, OfficeAdministrator],
            true,
        ),
        Permission::PutInForce => (&[Master], false),
        Permission::KeepGear => (&[Officer, Master], false),
        Permission::Muster => (&[Master, OfficeAdministrator], false),
    }
}

/// Says whether someone with these roles may do it.
pub fn has_permission(roles: Roles, permission: Permission) -> bool {
    row(permission).0.iter().any(|role| roles.has(*role))
}

/// Says whether a ship's own server may do it.
pub const fn ship_has_permission(permission: Permission) -> bool {
    row(permission).1
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The same table once more, cell by cell, written down independently: a changed cell must be changed
    /// in two places.
    #[test]
    fn every_cell_of_the_table_is_as_it_was_decided() {
        let table = "
            permission          crew officer master reader administrator ship
            Read          yes  yes     yes    yes    yes           no
            ReadOthers    no   no      no     yes    yes           no
            Sync          yes  yes     yes    yes    yes           yes
            Reckon        yes  yes     yes    yes    yes           no
            PutInForce    no   no      yes    no     no            no
            KeepGear      no   yes     yes    no     no            no
            Muster        no   no      yes    no     yes           no";
        let rows: Vec<Vec<&str>> = table
            .lines()
            .skip(2)
            .map(|line| line.split_whitespace().collect())
            .collect();
        assert_eq!(rows.len(), Permission::ALL.len());
        for (permission, cells) in Permission::ALL.into_iter().zip(rows) {
            assert_eq!(cells[0], format!("{permission:?}"));
            for (role, cell) in Role::ALL.into_iter().zip(&cells[1..]) {
                let said = has_permission(Roles::of(&[role]), permission);
                assert_eq!(said, *cell == "yes", "{permission:?} by {role:?}");
            }
            assert_eq!(
                ship_has_permission(permission),
                cells[6] == "yes",
                "{permission:?} by the ship"
            );
            assert!(
                !has_permission(Roles::NONE, permission),
                "{permission:?} by nobody in particular"
            );
        }
    }
}
