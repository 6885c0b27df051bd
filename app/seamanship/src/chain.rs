//! Anchor chain: mass, weight in water, and the loads it is proved and breaks at.

use serde::{Deserialize, Serialize};

use crate::error::{OutOfRange, above_zero, at_least_zero, finite, within};
use crate::units::{
    Kilograms, KilogramsPerMetre, Metres, Millimetres, Newtons, NewtonsPerMetre, STANDARD_GRAVITY,
};

/// What the loads and masses of chain come from, as shown beside them.
pub const SOURCE: &str = "IACS UR W18, formulas of the table of test loads, and 0.0219 d² kg/m \
    from chain handbooks, both from memory";

/// What a person must know before relying on a chain load.
pub const CAUTION: &str = "For new chain. A worn chain is weaker; the certificate and the class \
    rules in force decide.";

/// The part of its weight in air that steel keeps in sea water, 1 − 1025/7850, rounded.
/// Source: common practice, no source; the densities are those of steel and of the sea as the rules of thumb count.
pub const SUBMERGED_PART: f64 = 0.87;

/// The quality of the steel, by which a chain of one diameter is stronger than another.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Grade {
    /// Mild steel.
    Grade1,
    /// Special quality steel.
    Grade2,
    /// Extra special quality steel, made from 20.5 mm up.
    Grade3,
}

impl Grade {
    /// The three ship grades, weakest first.
    pub const ALL: [Self; 3] = [Self::Grade1, Self::Grade2, Self::Grade3];

    /// Returns the coefficients of breaking and proof load, N/mm².
    const fn coefficients(self) -> (f64, f64) {
        match self {
            Self::Grade1 => (9.81, 6.86),
            Self::Grade2 => (13.73, 9.81),
            Self::Grade3 => (19.61, 13.73),
        }
    }
}

/// Whether the links have a stud across them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LinkForm {
    /// With a stud: the usual ship's cable.
    #[default]
    Stud,
    /// Without a stud.
    Studless,
}

/// Checks a diameter against the sizes that the class table covers.
fn diameter(d: Millimetres) -> Result<f64, OutOfRange> {
    within("chain_diameter_mm", d.0, 12.5, 162.0)
}

/// Returns the mass of a metre of chain in air.
///
/// `m = 0.0219 d²` with studs, `0.0200 d²` without; joining shackles not counted.
///
/// # Units
/// `d` in mm · returns kg/m.
///
/// # Source
/// Common practice, no source; from memory of chain handbooks. The chart in the tests agrees within 2 %.
///
/// # Errors
/// [`OutOfRange`] unless `d` is above 0.
pub fn mass_per_metre(d: Millimetres, form: LinkForm) -> Result<KilogramsPerMetre, OutOfRange> {
    let d = above_zero("chain_diameter_mm", d.0)?;
    let coefficient = match form {
        LinkForm::Stud => 0.0219,
        LinkForm::Studless => 0.0200,
    };
    Ok(KilogramsPerMetre(coefficient * d * d))
}

/// Returns the weight in sea water of a metre of chain of mass `m`.
///
/// `w = 0.87 m g`.
///
/// # Source
/// Archimedes, with steel of 7850 and sea water of 1025 kg/m³: 1 − 1025/7850 = 0.869.
///
/// # Errors
/// [`OutOfRange`] unless `m` is above 0.
pub fn submerged_weight(m: KilogramsPerMetre) -> Result<NewtonsPerMetre, OutOfRange> {
    let m = above_zero("chain_mass_kg_per_m", m.0)?;
    Ok(NewtonsPerMetre(SUBMERGED_PART * m * STANDARD_GRAVITY))
}

/// Returns the weight in sea water of a metre of chain of diameter `d`.
///
/// # Source
/// As [`mass_per_metre`] and [`submerged_weight`].
///
/// # Errors
/// [`OutOfRange`] unless `d` is above 0.
pub fn submerged_weight_of(d: Millimetres, form: LinkForm) -> Result<NewtonsPerMetre, OutOfRange> {
    submerged_weight(mass_per_metre(d, form)?)
}

/// Returns the load at which new stud-link chain breaks.
///
/// `B = k d² (44 − 0.08 d)` newtons, `k` = 9.81, 13.73, 19.61 for grades 1, 2, 3.
///
/// # Source
/// IACS UR W18, table of test loads, from memory.
///
/// # Validity
/// New chain of 12.5 to 162 mm.
///
/// # Errors
/// [`OutOfRange`] outside those sizes.
pub fn breaking_load(d: Millimetres, grade: Grade) -> Result<Newtons, OutOfRange> {
    let d = diameter(d)?;
    Ok(Newtons(grade.coefficients().0 * d * d * (44.0 - 0.08 * d)))
}

/// Returns the load at which new stud-link chain is proved.
///
/// `P = k d² (44 − 0.08 d)` newtons, `k` = 6.86, 9.81, 13.73 for grades 1, 2, 3.
///
/// # Source
/// IACS UR W18, table of test loads, from memory.
///
/// # Errors
/// [`OutOfRange`] outside 12.5 to 162 mm.
pub fn proof_load(d: Millimetres, grade: Grade) -> Result<Newtons, OutOfRange> {
    let d = diameter(d)?;
    Ok(Newtons(grade.coefficients().1 * d * d * (44.0 - 0.08 * d)))
}

/// Returns a rough breaking load of chain worn from `d` to `worn`.
///
/// The new chain's load by the ratio of the areas of metal, `(worn/d)²`.
///
/// # Source
/// Common practice, no source: a guide, not a rule.
///
/// # Errors
/// [`OutOfRange`] if `worn` is more than `d` or not above 0.
pub fn worn_breaking_load(
    d: Millimetres,
    worn: Millimetres,
    grade: Grade,
) -> Result<Newtons, OutOfRange> {
    let new = breaking_load(d, grade)?;
    let worn = above_zero("worn_diameter_mm", worn.0)?;
    if worn > d.0 {
        return Err(OutOfRange::outside(
            "worn_diameter_mm",
            worn,
            format!("at most the nominal diameter, {}", d.0),
        ));
    }
    Ok(new * (worn / d.0).powi(2))
}

/// Returns the stiffness EA of stud-link chain, the force that would double its length.
///
/// `EA = 88·10⁹ d²` newtons, `d` in metres.
///
/// # Source
/// Stud-link coefficient of MoorPy 1.3.0's line-type library (BSD-3), 0.88·10⁸ kN per m².
///
/// # Errors
/// [`OutOfRange`] unless `d` is above 0.
pub fn stiffness(d: Millimetres) -> Result<Newtons, OutOfRange> {
    let d_m = above_zero("chain_diameter_mm", d.0)? / 1000.0;
    Ok(Newtons(88.0e9 * d_m * d_m))
}

/// Returns the mass of a length of chain.
///
/// # Source
/// Arithmetic: length times mass per metre.
///
/// # Errors
/// [`OutOfRange`] unless the length is 0 or more and the mass per metre above 0.
pub fn mass_of(length: Metres, m: KilogramsPerMetre) -> Result<Kilograms, OutOfRange> {
    let length = at_least_zero("chain_length_m", length.0)?;
    Ok(Kilograms(length * above_zero("chain_mass_kg_per_m", m.0)?))
}

/// The bounds that class sets on the strength of the bitter end's securing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BitterEndStrength {
    /// Not weaker than this: 15 % of the breaking load.
    pub least: Newtons,
    /// Not stronger than this: 30 % of the breaking load, so that it gives before the ship does.
    pub most: Newtons,
}

/// Returns between what loads the securing of the bitter end should give way.
///
/// # Source
/// Class rules, from memory: not less than 15 % and not more than 30 % of the breaking load.
///
/// # Errors
/// [`OutOfRange`] if the breaking load is not a number.
pub fn bitter_end_strength(breaking: Newtons) -> Result<BitterEndStrength, OutOfRange> {
    let breaking = finite("breaking_load_N", breaking.0)?;
    Ok(BitterEndStrength {
        least: Newtons(0.15 * breaking),
        most: Newtons(0.30 * breaking),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One row of a chart of stud-link chain whose title was not kept: size in inches, then pounds-force.
    struct ChartRow {
        size_in: f64,
        proof1_lbf: f64,
        break1_lbf: f64,
        break2_lbf: f64,
        break3_lbf: f64,
    }

    /// A chart of stud-link chain in inches, loads in pounds-force, read in excerpt; its title, publisher and year were not
    /// kept. Inch sizes converted exactly. Each grade's breaking load is the next grade's proof load.
    const CHART_IN_INCHES: [ChartRow; 6] = [
        row(0.875, 32_200.0, 46_000.0, 64_400.0, 91_800.0),
        row(1.0, 41_800.0, 59_700.0, 83_600.0, 119_500.0),
        row(1.25, 64_500.0, 92_200.0, 129_000.0, 184_000.0),
        row(1.5, 91_700.0, 131_000.0, 183_500.0, 262_000.0),
        row(1.75, 123_500.0, 176_000.0, 247_000.0, 352_000.0),
        row(1.875, 140_500.0, 201_000.0, 281_000.0, 402_000.0),
    ];

    const fn row(size_in: f64, p1: f64, b1: f64, b2: f64, b3: f64) -> ChartRow {
        ChartRow {
            size_in,
            proof1_lbf: p1,
            break1_lbf: b1,
            break2_lbf: b2,
            break3_lbf: b3,
        }
    }

    fn check(what: &str, got: f64, published: f64, relative: f64) {
        assert!(
            (got - published).abs() <= relative * published.abs(),
            "{what}: {got}, published {published}"
        );
    }

    #[test]
    fn loads_agree_with_a_chart_in_inches_within_its_rounding() {
        const NEWTONS_PER_LBF: f64 = 4.448_221_615;
        for row in &CHART_IN_INCHES {
            let d = Millimetres(row.size_in * 25.4);
            let lbf = |n: Newtons| n.0 / NEWTONS_PER_LBF;
            let name = format!("{} in", row.size_in);
            let proof = |g| lbf(proof_load(d, g).unwrap());
            let breaks = |g| lbf(breaking_load(d, g).unwrap());
            check(&name, proof(Grade::Grade1), row.proof1_lbf, 0.003);
            check(&name, breaks(Grade::Grade1), row.break1_lbf, 0.003);
            check(&name, proof(Grade::Grade2), row.break1_lbf, 0.003);
            check(&name, breaks(Grade::Grade2), row.break2_lbf, 0.003);
            check(&name, proof(Grade::Grade3), row.break2_lbf, 0.003);
            check(&name, breaks(Grade::Grade3), row.break3_lbf, 0.003);
        }
    }

    #[test]
    fn mass_agrees_with_a_chart_in_inches_per_shot_of_15_fathoms() {
        // The chart of the loads above: pounds for a shot of 15 fathoms.
        for (size_in, shot_lb) in [(1.25, 1350.0), (1.5, 1940.0), (1.75, 2590.0)] {
            let m = mass_per_metre(Millimetres(size_in * 25.4), LinkForm::Stud).unwrap();
            let shot = mass_of(Metres(27.432), m).unwrap().0 / 0.453_592_37;
            check(&format!("{size_in} in"), shot, shot_lb, 0.02);
        }
    }

    #[test]
    fn an_impossible_diameter_is_refused_by_name() {
        for bad in [f64::NAN, f64::INFINITY, -28.0, 0.0, 12.0, 163.0] {
            let error = breaking_load(Millimetres(bad), Grade::Grade2).unwrap_err();
            assert_eq!(error.field(), "chain_diameter_mm", "{bad}");
        }
        assert!(mass_per_metre(Millimetres(-1.0), LinkForm::Stud).is_err());
        assert!(stiffness(Millimetres(f64::NAN)).is_err());
    }

    #[test]
    fn a_worn_chain_is_never_stronger_than_a_new_one() {
        let new = breaking_load(Millimetres(28.0), Grade::Grade2).unwrap();
        let worn = worn_breaking_load(Millimetres(28.0), Millimetres(24.64), Grade::Grade2);
        check("area at 12 %", worn.unwrap() / new, 0.7744, 1e-12);
        assert!(worn_breaking_load(Millimetres(28.0), Millimetres(29.0), Grade::Grade2).is_err());
    }

    #[test]
    fn the_bitter_end_gives_way_between_15_and_30_percent() {
        let got = bitter_end_strength(Newtons(449_500.0)).unwrap();
        check("least", got.least.0, 67_425.0, 1e-12);
        check("most", got.most.0, 134_850.0, 1e-12);
    }
}
