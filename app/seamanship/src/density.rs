//! How heavy air and sea water are.

use crate::error::{OutOfRange, within};
use crate::units::KilogramsPerCubicMetre;

/// Density of sea water that the rules of thumb count with.
/// Source: common practice, no source.
pub const SEA_WATER: KilogramsPerCubicMetre = KilogramsPerCubicMetre(1025.0);
/// Density of air at 15 °C and 1013.25 hPa: ISO 2533 standard atmosphere.
/// Source: ISO 2533:1975, *Standard Atmosphere*, sea level; from memory, not opened.
pub const STANDARD_AIR: KilogramsPerCubicMetre = KilogramsPerCubicMetre(1.225);

/// Returns the density of dry air.
///
/// `ρ = p/(R T)` with `R` = 287.05 J/(kg K).
///
/// # Units
/// °C, hPa · returns kg/m³.
///
/// # Source
/// Equation of state of an ideal gas; moist air is up to about 1 % lighter.
///
/// # Errors
/// [`OutOfRange`] outside −60 to 60 °C and 800 to 1100 hPa.
pub fn dry_air(
    temperature_c: f64,
    pressure_hpa: f64,
) -> Result<KilogramsPerCubicMetre, OutOfRange> {
    let t = within("temperature_C", temperature_c, -60.0, 60.0)?;
    let p = within("pressure_hPa", pressure_hpa, 800.0, 1100.0)?;
    Ok(KilogramsPerCubicMetre(p * 100.0 / (287.05 * (t + 273.15))))
}

/// Practical salinity and temperature of surface water, checked.
fn surface(salinity: f64, temperature_c: f64) -> Result<(f64, f64), OutOfRange> {
    Ok((
        within("practical_salinity", salinity, 0.0, 42.0)?,
        within("temperature_C", temperature_c, -2.0, 40.0)?,
    ))
}

/// Coefficients of specific volume at the surface, m³/kg: row = power of the reduced
/// temperature, column = power of the reduced root of salinity.
/// Source: Roquet and others, Ocean Modelling, 2015, the polynomial of 75 terms; from memory of its published code, checked against gsw 3.6.23.
#[rustfmt::skip]
const ROQUET_2015: [&[f64]; 7] = [
    &[1.076_999_586_2e-3, -3.103_898_197_6e-4, 6.692_806_703_8e-4, -8.504_793_393_7e-4,
      5.808_606_994_3e-4, -2.109_237_050_7e-4, 3.193_245_730_5e-5],
    &[-1.564_973_467_5e-5, 3.500_959_976_4e-5, -4.359_267_856_1e-5, 3.453_246_182_8e-5,
      -1.195_940_978_8e-5, 1.386_459_458_1e-6],
    &[2.776_210_648_4e-5, -3.743_584_234_4e-5, 3.590_782_276_0e-5, -1.869_858_418_7e-5,
      3.859_533_924_4e-6],
    &[-1.652_115_925_9e-5, 2.414_147_948_3e-5, -1.435_363_304_8e-5, 2.286_332_455_6e-6],
    &[6.911_132_270_2e-6, -8.759_587_315_4e-6, 4.370_368_059_8e-6],
    &[-8.053_961_554_0e-7, -3.305_275_890_0e-7],
    &[2.054_309_426_8e-7],
];

/// Coefficients of potential enthalpy, J/kg: row = power of the reduced root of salinity,
/// column = power of temperature/40 °C.
/// Source: IOC, SCOR and IAPSO, *TEOS-10 Manual*, 2010; from memory of its published code, checked against gsw 3.6.23.
#[rustfmt::skip]
const POTENTIAL_ENTHALPY: [&[f64]; 8] = [
    &[61.013_624_206_810_71, 168_776.461_380_480_15, -2_735.278_560_511_962_5,
      2_574.216_445_382_143_3, -1_536.664_443_497_754_3, 545.734_049_793_162_9,
      -50.910_917_284_743_31, -18.304_898_789_278_02],
    &[],
    &[268.552_026_584_507_1, -12_019.028_203_559_312, 3_734.858_026_725_145,
      -2_046.767_114_505_761_8, 465.286_556_238_262_34, -0.637_082_030_237_635_9,
      -10.650_848_542_359_153],
    &[937.209_911_062_070_7, 588.180_281_217_010_8, 248.394_765_229_712_85,
      -3.871_557_904_936_333, -2.626_801_985_426_835_6],
    &[-1_687.914_374_187_449, 936.320_654_446_033_6, -942.782_730_454_443_9,
      369.438_943_750_900_2, -33.836_649_478_952_48, -9.987_880_382_780_322],
    &[246.959_888_878_137_7],
    &[123.595_765_824_579_64],
    &[-48.589_106_902_540_9],
];

fn polynomial(coefficients: &[f64], x: f64) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, c| sum * x + c)
}

fn double_polynomial(rows: &[&[f64]], of_row: f64, of_column: f64) -> f64 {
    rows.iter()
        .rev()
        .fold(0.0, |sum, row| sum * of_row + polynomial(row, of_column))
}

/// Returns the density of surface sea water by TEOS-10.
///
/// Reference salinity `S_R = (35.16504/35) S`, Conservative Temperature from the potential
/// enthalpy, then the polynomial for specific volume; at the surface only its pressure-free terms.
///
/// # Units
/// Practical salinity (no unit), °C · returns kg/m³.
///
/// # Source
/// IOC, SCOR and IAPSO (2010), *The international thermodynamic equation of seawater – 2010*;
/// Roquet, Madec, McDougall and Barker, *Accurate polynomial expressions for the density and
/// specific volume of seawater using the TEOS-10 standard*, Ocean Modelling 90 (2015), table of
/// the 75 terms. No correction for the place's own salt composition.
///
/// # Errors
/// [`OutOfRange`] outside salinity 0 to 42 and −2 to 40 °C.
pub fn teos10(salinity: f64, temperature_c: f64) -> Result<KilogramsPerCubicMetre, OutOfRange> {
    const PSU_TO_G_PER_KG: f64 = 35.165_04 / 35.0;
    const SALINITY_SCALE: f64 = 1.0 / (40.0 * PSU_TO_G_PER_KG);
    const HEAT_CAPACITY: f64 = 3_991.867_957_119_63;
    let (s, t) = surface(salinity, temperature_c)?;
    let scaled = SALINITY_SCALE * s * PSU_TO_G_PER_KG;
    let enthalpy = double_polynomial(&POTENTIAL_ENTHALPY, scaled.sqrt(), t / 40.0);
    let conservative_c = enthalpy / HEAT_CAPACITY;
    let x = (scaled + 24.0 * SALINITY_SCALE).sqrt();
    let volume = double_polynomial(&ROQUET_2015, conservative_c / 40.0, x);
    Ok(KilogramsPerCubicMetre(1.0 / volume))
}

/// Returns the density of surface sea water by the older EOS-80.
///
/// # Units
/// Practical salinity (no unit), °C (ITS-90, taken to IPTS-68 by 1.00024) · returns kg/m³.
///
/// # Source
/// Fofonoff and Millard, *Algorithms for computation of fundamental properties of seawater*,
/// UNESCO Technical Papers in Marine Science 44 (1983), one-atmosphere equation of state; check
/// value there: S 35, 25 °C (IPTS-68): 1023.343.
///
/// # Errors
/// [`OutOfRange`] outside salinity 0 to 42 and −2 to 40 °C.
pub fn eos80(salinity: f64, temperature_c: f64) -> Result<KilogramsPerCubicMetre, OutOfRange> {
    let (s, t90) = surface(salinity, temperature_c)?;
    let t = t90 * 1.000_24;
    let pure = polynomial(
        &[
            999.842_594,
            6.793_952e-2,
            -9.095_290e-3,
            1.001_685e-4,
            -1.120_083e-6,
            6.536_332e-9,
        ],
        t,
    );
    let a = polynomial(
        &[8.244_93e-1, -4.0899e-3, 7.6438e-5, -8.2467e-7, 5.3875e-9],
        t,
    );
    let b = polynomial(&[-5.724_66e-3, 1.0227e-4, -1.6546e-6], t);
    Ok(KilogramsPerCubicMetre(
        pure + a * s + b * s * s.sqrt() + 4.8314e-4 * s * s,
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn eos80_gives_the_check_value_of_fofonoff_and_millard() {
        let got = eos80(35.0, 25.0 / 1.000_24).unwrap().0;
        assert!((got - 1023.343).abs() < 5e-4, "{got}");
    }

    #[test]
    fn water_that_does_not_exist_is_refused_by_name() {
        assert_eq!(
            teos10(-1.0, 10.0).unwrap_err().field(),
            "practical_salinity"
        );
        assert_eq!(eos80(35.0, f64::NAN).unwrap_err().field(), "temperature_C");
        assert_eq!(dry_air(15.0, 0.0).unwrap_err().field(), "pressure_hPa");
    }
}
