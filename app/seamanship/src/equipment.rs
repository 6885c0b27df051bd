//! Equipment number and its table, for information: a ship's own equipment letter decides.

use crate::error::{OutOfRange, above_zero, at_least_zero};
use crate::units::{Kilograms, Metres, Millimetres, SquareMetres};

/// What the equipment table comes from, as shown beside it.
pub const SOURCE: &str = "IACS UR A1 table 1 and Rec. 10: masses, lengths and diameters from an \
    equipment-table scan, breakpoints from 205 up from memory";

/// What a person must know before relying on the table.
pub const CAUTION: &str = "For information: the ship's approved equipment letter decides.";

/// The hull as the equipment number counts it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HullForm {
    /// Moulded displacement to the summer load line, tonnes.
    pub displacement_t: f64,
    /// Moulded breadth.
    pub breadth: Metres,
    /// Freeboard amidships and the heights of tiers broader than a quarter of the breadth.
    pub height: Metres,
    /// Frontal area of funnels, in the newer form; 0 in the older.
    pub funnel_area: SquareMetres,
    /// Side area above the water of hull and houses broader than a quarter of the breadth.
    pub side_area: SquareMetres,
}

/// Returns the equipment number.
///
/// `EN = Δ^⅔ + 2(hB + S_fun) + A/10`.
///
/// # Source
/// IACS UR A1; the funnel term of the newer form from memory.
///
/// # Errors
/// [`OutOfRange`] unless displacement and breadth are above 0 and the rest 0 or more.
pub fn equipment_number(hull: &HullForm) -> Result<f64, OutOfRange> {
    let displacement = above_zero("displacement_t", hull.displacement_t)?;
    let b = above_zero("breadth_m", hull.breadth.0)?;
    let h = at_least_zero("height_m", hull.height.0)?;
    let funnels = at_least_zero("funnel_area_m2", hull.funnel_area.0)?;
    let side = at_least_zero("side_area_m2", hull.side_area.0)?;
    Ok(displacement.powf(2.0 / 3.0) + 2.0 * (h * b + funnels) + side / 10.0)
}

/// A row of the equipment table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EquipmentRow {
    /// For numbers above this.
    pub over: f64,
    /// Up to and with this.
    pub up_to: f64,
    /// Mass of each stockless bower anchor; 75 % for high holding power.
    pub anchor: Kilograms,
    /// Chain for both anchors together.
    pub chain_total: Metres,
    /// Diameter in grades 1, 2 and 3; none where the grade is not made so thin.
    pub diameters: [Option<Millimetres>; 3],
}

const fn row(over: f64, up_to: f64, anchor: f64, total: f64, diameters: [f64; 3]) -> EquipmentRow {
    let [one, two, three] = diameters;
    EquipmentRow {
        over,
        up_to,
        anchor: Kilograms(anchor),
        chain_total: Metres(total),
        diameters: [
            Some(Millimetres(one)),
            Some(Millimetres(two)),
            if three > 0.0 {
                Some(Millimetres(three))
            } else {
                None
            },
        ],
    }
}

/// The equipment table from 50 to 1060.
pub const TABLE: [EquipmentRow; 23] = [
    row(50.0, 70.0, 180.0, 220.0, [14.0, 12.5, 0.0]),
    row(70.0, 90.0, 240.0, 220.0, [16.0, 14.0, 0.0]),
    row(90.0, 110.0, 300.0, 247.5, [17.5, 16.0, 0.0]),
    row(110.0, 130.0, 360.0, 247.5, [19.0, 17.5, 0.0]),
    row(130.0, 150.0, 420.0, 275.0, [20.5, 17.5, 0.0]),
    row(150.0, 175.0, 480.0, 275.0, [22.0, 19.0, 0.0]),
    row(175.0, 205.0, 570.0, 302.5, [24.0, 20.5, 0.0]),
    row(205.0, 240.0, 660.0, 302.5, [26.0, 22.0, 20.5]),
    row(240.0, 280.0, 780.0, 330.0, [28.0, 24.0, 22.0]),
    row(280.0, 320.0, 900.0, 357.5, [30.0, 26.0, 24.0]),
    row(320.0, 360.0, 1020.0, 357.5, [32.0, 28.0, 24.0]),
    row(360.0, 400.0, 1140.0, 385.0, [34.0, 30.0, 26.0]),
    row(400.0, 450.0, 1290.0, 385.0, [36.0, 32.0, 28.0]),
    row(450.0, 500.0, 1440.0, 412.5, [38.0, 34.0, 30.0]),
    row(500.0, 550.0, 1590.0, 412.5, [40.0, 34.0, 30.0]),
    row(550.0, 600.0, 1740.0, 440.0, [42.0, 36.0, 32.0]),
    row(600.0, 660.0, 1920.0, 440.0, [44.0, 38.0, 34.0]),
    row(660.0, 720.0, 2100.0, 440.0, [46.0, 40.0, 36.0]),
    row(720.0, 780.0, 2280.0, 467.5, [48.0, 42.0, 36.0]),
    row(780.0, 840.0, 2460.0, 467.5, [50.0, 44.0, 38.0]),
    row(840.0, 910.0, 2640.0, 467.5, [52.0, 46.0, 40.0]),
    row(910.0, 980.0, 2850.0, 495.0, [54.0, 48.0, 42.0]),
    row(980.0, 1060.0, 3060.0, 495.0, [56.0, 50.0, 44.0]),
];

/// Returns the row of an equipment number: greater than the first, not exceeding the second.
///
/// # Source
/// As [`SOURCE`] says: IACS UR A1, table 1, partly from memory.
///
/// # Errors
/// [`OutOfRange`] outside the table.
pub fn equipment(number: f64) -> Result<&'static EquipmentRow, OutOfRange> {
    let number = above_zero("equipment_number", number)?;
    TABLE
        .iter()
        .find(|row| row.over < number && number <= row.up_to)
        .ok_or_else(|| {
            OutOfRange::outside(
                "equipment_number",
                number,
                format!("above {} and at most {}", TABLE[0].over, last().up_to),
            )
        })
}

const fn last() -> &'static EquipmentRow {
    &TABLE[TABLE.len() - 1]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_worked_example_finds_its_row() {
        let number = equipment_number(&HullForm {
            displacement_t: 1000.0,
            breadth: Metres(11.0),
            height: Metres(9.0),
            funnel_area: SquareMetres(0.0),
            side_area: SquareMetres(420.0),
        })
        .unwrap();
        assert!((number - 340.0).abs() < 1e-9, "{number}");
        let row = equipment(number).unwrap();
        assert_eq!(row.anchor, Kilograms(1020.0));
        assert_eq!(row.chain_total, Metres(357.5));
        assert_eq!(
            row.diameters,
            [32.0, 28.0, 24.0].map(|d| Some(Millimetres(d)))
        );
    }

    #[test]
    fn a_number_on_a_breakpoint_belongs_to_the_lower_row() {
        assert_eq!(equipment(205.0).unwrap().anchor, Kilograms(570.0));
        assert_eq!(equipment(205.1).unwrap().anchor, Kilograms(660.0));
        assert!(equipment(50.0).is_err());
        assert!(equipment(f64::NAN).is_err());
    }

    #[test]
    fn the_table_has_no_gap_and_grows() {
        for pair in TABLE.windows(2) {
            assert!((pair[0].up_to - pair[1].over).abs() < 1e-12);
            assert!(pair[0].anchor < pair[1].anchor);
            assert!(pair[0].chain_total <= pair[1].chain_total);
        }
    }
}
