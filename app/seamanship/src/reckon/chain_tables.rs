//! Chain-table cases.

use serde_json::{Map, Value};

use super::case::{Input, Output};
use super::{Field, Kinds, ReckonError, Sum, field};
use crate::chain::{
    self, Grade, LinkForm, breaking_load, mass_of, mass_per_metre, proof_load, stiffness,
    submerged_weight,
};
use crate::error::{above_zero, at_least_zero};
use crate::units::{Metres, Millimetres, STANDARD_GRAVITY};

pub(super) const SUM: Sum = Sum {
    name: "chain_tables",
    title: "Stud-link chain: mass, weight, proof and breaking loads",
    source: chain::SOURCE,
    caution: chain::CAUTION,
    kinds: &[
        Kinds {
            names: &["iacs_formulae"],
            inputs: DIAMETER,
            outputs: FORMULAE,
            compute: formulae,
        },
        Kinds {
            names: &["table_rows_from_memory"],
            inputs: DIAMETER,
            outputs: ROWS,
            compute: rows,
        },
        Kinds {
            // The second name is what it was called at first.
            names: &["offshore_studlink_r4", "moorpy_studlink_r4"],
            inputs: OFFSHORE_IN,
            outputs: OFFSHORE_OUT,
            compute: offshore,
        },
    ],
};

const DIAMETER: &[Field] = &[field("diameter_mm", "mm")];
const FORMULAE: &[Field] = &[
    field("proof_grade1_N", "N"),
    field("breaking_grade1_N", "N"),
    field("proof_grade2_N", "N"),
    field("breaking_grade2_N", "N"),
    field("proof_grade3_N", "N"),
    field("breaking_grade3_N", "N"),
    field("mass_kg_m", "kg/m"),
    field("weight_air_N_m", "N/m"),
    field("weight_sea_N_m", "N/m"),
    field("mass_27_5m_shackle_kg", "kg"),
    field("mass_27_432m_shackle_kg", "kg"),
];
const ROWS: &[Field] = &[
    field("proof_grade1_kN", "kN, whole"),
    field("breaking_grade1_kN", "kN, whole"),
    field("proof_grade2_kN", "kN, whole"),
    field("breaking_grade2_kN", "kN, whole"),
    field("proof_grade3_kN", "kN, whole"),
    field("breaking_grade3_kN", "kN, whole"),
    field("largest_difference_from_formula_kN", "kN"),
];
const OFFSHORE_IN: &[Field] = &[
    field("diameter_mm", "mm"),
    field("rho_water", "kg/m³"),
    field("g", "m/s²"),
];
const OFFSHORE_OUT: &[Field] = &[
    field("mass_kg_m", "kg/m"),
    field("weight_sea_N_m", "N/m"),
    field("EA_N", "N"),
    field("MBL_R4_N", "N, offshore grade R4: not a ship grade"),
];

fn diameter(input: &Input<'_>) -> Result<Millimetres, ReckonError> {
    Ok(Millimetres(input.number("diameter_mm")?))
}

/// Proof and breaking load of the three grades, newtons.
fn loads(d: Millimetres) -> Result<[(f64, f64); 3], ReckonError> {
    let of = |grade: Grade| -> Result<(f64, f64), crate::OutOfRange> {
        Ok((proof_load(d, grade)?.0, breaking_load(d, grade)?.0))
    };
    let [one, two, three] = Grade::ALL.map(of);
    let named = |error: crate::OutOfRange| error.at("diameter_mm");
    Ok([
        one.map_err(named)?,
        two.map_err(named)?,
        three.map_err(named)?,
    ])
}

fn formulae(input: &Input<'_>) -> Result<Map<String, Value>, ReckonError> {
    let d = diameter(input)?;
    let [one, two, three] = loads(d)?;
    let m = mass_per_metre(d, LinkForm::Stud)?;
    Ok(Output::new()
        .numbers([
            ("proof_grade1_N", one.0),
            ("breaking_grade1_N", one.1),
            ("proof_grade2_N", two.0),
            ("breaking_grade2_N", two.1),
            ("proof_grade3_N", three.0),
            ("breaking_grade3_N", three.1),
            ("mass_kg_m", m.0),
            ("weight_air_N_m", m.0 * STANDARD_GRAVITY),
            ("weight_sea_N_m", submerged_weight(m)?.0),
            ("mass_27_5m_shackle_kg", mass_of(Metres(27.5), m)?.0),
            ("mass_27_432m_shackle_kg", mass_of(Metres(27.432), m)?.0),
        ])?
        .done())
}

/// The loads rounded to whole kilonewtons, as class tables print them.
fn rows(input: &Input<'_>) -> Result<Map<String, Value>, ReckonError> {
    const NAMES: [[&str; 2]; 3] = [
        ["proof_grade1_kN", "breaking_grade1_kN"],
        ["proof_grade2_kN", "breaking_grade2_kN"],
        ["proof_grade3_kN", "breaking_grade3_kN"],
    ];
    let mut out = Output::new();
    let mut largest = 0.0_f64;
    for ([proof, breaks], load) in NAMES.into_iter().zip(loads(diameter(input)?)?) {
        for (name, newtons) in [(proof, load.0), (breaks, load.1)] {
            let kilonewtons = newtons / 1000.0;
            largest = largest.max((kilonewtons - kilonewtons.round()).abs());
            out = out.number(name, kilonewtons.round())?;
        }
    }
    Ok(out
        .number("largest_difference_from_formula_kN", largest)?
        .done())
}

/// Offshore stud-link chain by the coefficients of MoorPy 1.3.0's line-type library (BSD-3).
///
/// Mass as a ship's chain; the volume is that of a bar 1.89 times as thick; breaking load of grade
/// R4, 911 d + 1.21·10⁹ d² − 2.19·10⁹ d³ newtons, d in metres.
fn offshore(input: &Input<'_>) -> Result<Map<String, Value>, ReckonError> {
    let named = |error: crate::OutOfRange| error.at("diameter_mm");
    let d = diameter(input)?;
    let m = mass_per_metre(d, LinkForm::Stud).map_err(named)?.0;
    let rho = at_least_zero("rho_water", input.number("rho_water")?)?;
    let g = above_zero("g", input.number("g")?)?;
    let d_m = d.0 / 1000.0;
    let volume = std::f64::consts::PI * (1.89 * d_m).powi(2) / 4.0;
    Ok(Output::new()
        .numbers([
            ("mass_kg_m", m),
            ("weight_sea_N_m", (m - rho * volume) * g),
            ("EA_N", stiffness(d).map_err(named)?.0),
            (
                "MBL_R4_N",
                911.0 * d_m + 1.21e9 * d_m * d_m - 2.19e9 * d_m.powi(3),
            ),
        ])?
        .done())
}
