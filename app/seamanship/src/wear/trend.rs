//! When wear reaches the limit, by the line through the measurements, and how sure that is.

use serde::{Deserialize, Serialize};

use crate::error::{OutOfRange, above_zero};
use crate::root::crossing;
use crate::time::UtcMs;
use crate::units::Millimetres;

/// A diameter on a day.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Measured {
    /// When.
    pub at: UtcMs,
    /// Mean diameter.
    pub diameter: Millimetres,
}

/// When wear reaches the limit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Renewal {
    /// Wear in a year.
    pub mm_per_year: f64,
    /// When the line reaches the limit.
    pub expected: UtcMs,
    /// Not before this, with 95 % confidence; none with only two measurements.
    pub earliest: Option<UtcMs>,
    /// Not after this, with 95 % confidence; none if the trend is not sure enough to say.
    pub latest: Option<UtcMs>,
}

/// A year of 365.25 days, seconds. Source: by definition.
const YEAR_S: f64 = 365.25 * 86_400.0;
/// Beyond this many years from the last measurement nothing is said.
/// Source: our own.
const HORIZON_YEARS: f64 = 60.0;

/// Student's t for 95 %, two-sided, 1 to 10 degrees of freedom: any statistical table.
/// Source: computed from the definition; any statistical table has them.
const STUDENT_95: [f64; 10] = [
    12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228,
];

/// Returns when wear reaches a diameter, by a straight line through the measurements.
///
/// Least squares `d = a + b t`; the bounds are where the 95 % confidence band of the line,
/// `± t s √(1/n + (t − t̄)²/Sxx)`, meets the limit.
///
/// # Source
/// Linear regression as in any statistics handbook (Draper and Smith, *Applied Regression
/// Analysis*, ch. 1, from memory). That wear is even in time is common practice, no source.
///
/// # Errors
/// [`OutOfRange`] with fewer than two days of measurement, a diameter not above 0, a chain that
/// does not get thinner, or a limit more than 60 years off.
pub fn renewal(measured: &[Measured], limit: Millimetres) -> Result<Renewal, OutOfRange> {
    let limit = above_zero("limit_mm", limit.0)?;
    let (first, points) = in_years(measured)?;
    let line = Line::through(&points)?;
    let last = points.iter().fold(0.0_f64, |last, p| last.max(p.0));
    let expected = (limit - line.at_mean) / line.slope + line.mean_t;
    if expected > last + HORIZON_YEARS {
        return Err(OutOfRange::no_answer(
            "measured",
            "wears so slowly that the limit is more than 60 years off",
        ));
    }
    let moment = |years: f64| first.plus_seconds(years * YEAR_S);
    let bound = |side: f64| {
        let t = line.student?;
        let off = |years: f64| line.at(years) + side * t * line.error_at(years) - limit;
        crossing(off, line.mean_t, last + HORIZON_YEARS).map(moment)
    };
    Ok(Renewal {
        mm_per_year: -line.slope,
        expected: moment(expected),
        earliest: bound(-1.0),
        latest: bound(1.0),
    })
}

/// The line through the measurements on a day, for a drawing.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct TrendAt {
    /// What the line says.
    pub diameter: Millimetres,
    /// Half the width of its 95 % band, mm; none with only two measurements.
    pub half_width_mm: Option<f64>,
}

/// Returns what the line through the measurements says on a day.
///
/// # Source
/// As [`renewal`].
///
/// # Errors
/// [`OutOfRange`] with fewer than two days of measurement, a diameter not above 0, or a chain that does not get thinner.
pub fn trend_at(measured: &[Measured], at: UtcMs) -> Result<TrendAt, OutOfRange> {
    let (first, points) = in_years(measured)?;
    let line = Line::through(&points)?;
    let years = at.seconds_since(first) / YEAR_S;
    Ok(TrendAt {
        diameter: Millimetres(line.at(years)),
        half_width_mm: line.student.map(|t| t * line.error_at(years)),
    })
}

/// Returns the first day of measurement, and each measurement in years after it and in mm.
fn in_years(measured: &[Measured]) -> Result<(UtcMs, Vec<(f64, f64)>), OutOfRange> {
    let Some(first) = measured.iter().map(|m| m.at).min() else {
        return Err(OutOfRange::no_answer(
            "measured",
            "nothing has been measured",
        ));
    };
    let points = measured.iter().map(|m| {
        let d = above_zero("diameter_mm", m.diameter.0)?;
        Ok((m.at.seconds_since(first) / YEAR_S, d))
    });
    Ok((first, points.collect::<Result<Vec<_>, OutOfRange>>()?))
}

struct Line {
    mean_t: f64,
    at_mean: f64,
    slope: f64,
    n: f64,
    sxx: f64,
    /// Scatter about the line.
    s: f64,
    student: Option<f64>,
}

impl Line {
    fn through(points: &[(f64, f64)]) -> Result<Self, OutOfRange> {
        let n = points.len() as f64;
        let mean = |of: fn(&(f64, f64)) -> f64| points.iter().map(of).sum::<f64>() / n;
        let (mean_t, at_mean) = (mean(|p| p.0), mean(|p| p.1));
        let sxx: f64 = points.iter().map(|p| (p.0 - mean_t).powi(2)).sum();
        // Less than a day between all of them shows no trend.
        if sxx < 1e-5 {
            return Err(OutOfRange::no_answer(
                "measured",
                "a trend needs measurements on two days at least",
            ));
        }
        let sxy: f64 = points
            .iter()
            .map(|p| (p.0 - mean_t) * (p.1 - at_mean))
            .sum();
        let slope = sxy / sxx;
        if slope >= -1e-6 {
            return Err(OutOfRange::no_answer(
                "measured",
                "the chain does not get thinner: no trend towards the limit",
            ));
        }
        let freedom = points.len().saturating_sub(2);
        let squares: f64 = points
            .iter()
            .map(|p| (p.1 - at_mean - slope * (p.0 - mean_t)).powi(2))
            .sum();
        let s = if freedom > 0 {
            (squares / freedom as f64).sqrt()
        } else {
            0.0
        };
        // Beyond the table the last value is kept: a little too wide, never too narrow.
        let student = (freedom > 0).then(|| STUDENT_95[(freedom - 1).min(STUDENT_95.len() - 1)]);
        Ok(Self {
            mean_t,
            at_mean,
            slope,
            n,
            sxx,
            s,
            student,
        })
    }

    fn at(&self, years: f64) -> f64 {
        self.at_mean + self.slope * (years - self.mean_t)
    }

    fn error_at(&self, years: f64) -> f64 {
        self.s * (1.0 / self.n + (years - self.mean_t).powi(2) / self.sxx).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn on(years: f64, mm: f64) -> Measured {
        Measured {
            at: UtcMs(0).plus_seconds(years * YEAR_S),
            diameter: Millimetres(mm),
        }
    }

    fn years(at: UtcMs) -> f64 {
        at.seconds_since(UtcMs(0)) / YEAR_S
    }

    #[test]
    fn an_even_wear_reaches_the_limit_when_it_should() {
        let all = [on(0.0, 28.0), on(2.5, 27.5), on(5.0, 27.0)];
        let got = renewal(&all, Millimetres(24.64)).unwrap();
        assert!((got.mm_per_year - 0.2).abs() < 1e-9);
        assert!((years(got.expected) - 16.8).abs() < 1e-6);
        // No scatter, no doubt.
        assert!((years(got.earliest.unwrap()) - 16.8).abs() < 1e-6);
        assert!((years(got.latest.unwrap()) - 16.8).abs() < 1e-6);
    }

    #[test]
    fn scatter_widens_the_time_of_renewal_on_both_sides() {
        let all = [on(0.0, 28.0), on(2.5, 27.4), on(5.0, 27.1), on(7.5, 26.5)];
        let got = renewal(&all, Millimetres(24.64)).unwrap();
        let (early, late) = (got.earliest.unwrap(), got.latest.unwrap());
        assert!(early < got.expected && got.expected < late, "{got:?}");
    }

    /// `tests/golden/wear.py` made the cases with statsmodels' regression and its confidence band.
    #[test]
    fn trends_and_times_of_renewal_agree_with_a_statistics_library() {
        let text = include_str!("../../tests/golden/wear.json");
        let cases: serde_json::Value = serde_json::from_str(text).unwrap();
        let cases = cases["cases"].as_array().unwrap();
        assert!(cases.len() >= 12);
        let year_ms = YEAR_S * 1000.0;
        for case in cases {
            let all: Vec<Measured> = case["measured"]
                .as_array()
                .unwrap()
                .iter()
                .map(|one| Measured {
                    at: UtcMs(one[0].as_i64().unwrap()),
                    diameter: Millimetres(one[1].as_f64().unwrap()),
                })
                .collect();
            let limit = Millimetres(case["limit_mm"].as_f64().unwrap());
            let got = renewal(&all, limit).unwrap();
            let near = |name: &str, got: f64, off: f64| {
                let want = case[name].as_f64().unwrap();
                assert!(
                    (got - want).abs() <= off,
                    "{name}: {got}, expected {want} in {case}"
                );
            };
            near("mm_per_year", got.mm_per_year, 1e-9);
            near("expected_ms", got.expected.0 as f64, 2.0);
            // Our table of Student's t has three decimals.
            let earliest = got.earliest.unwrap();
            near("earliest_ms", earliest.0 as f64, 2e-3 * year_ms);
            match (case["latest_ms"].as_f64(), got.latest) {
                (None, None) => {}
                (Some(want), Some(latest)) => {
                    let span = (want - earliest.0 as f64) / year_ms;
                    let off = (latest.0 as f64 - want).abs() / year_ms;
                    assert!(off <= 5e-3 * (1.0 + span), "latest {latest:?} in {case}");
                }
                (want, got) => panic!("latest {got:?}, expected {want:?} in {case}"),
            }
            for at in case["band"].as_array().unwrap() {
                let trend = trend_at(&all, UtcMs(at[0].as_i64().unwrap())).unwrap();
                let (mean, half) = (at[1].as_f64().unwrap(), at[2].as_f64().unwrap());
                assert!((trend.diameter.0 - mean).abs() < 1e-9, "{case}");
                let got = trend.half_width_mm.unwrap();
                assert!(
                    (got - half).abs() < 5e-4 * half.max(1e-6),
                    "{got}, expected {half} in {case}"
                );
            }
        }
    }

    #[test]
    fn two_measurements_give_a_date_but_no_doubt_to_show() {
        let got = renewal(&[on(0.0, 28.0), on(5.0, 27.0)], Millimetres(24.64)).unwrap();
        assert_eq!((got.earliest, got.latest), (None, None));
    }

    #[test]
    fn no_trend_is_said_to_be_none() {
        for bad in [
            vec![],
            vec![on(0.0, 28.0)],
            vec![on(0.0, 28.0), on(0.0, 27.0)],
            vec![on(0.0, 27.0), on(5.0, 28.0)],
            vec![on(0.0, 28.0), on(5.0, f64::NAN)],
            vec![on(0.0, 28.0), on(5.0, 27.99)],
        ] {
            assert!(renewal(&bad, Millimetres(24.64)).is_err(), "{bad:?}");
        }
    }
}
