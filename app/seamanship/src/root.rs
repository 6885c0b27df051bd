//! Finds where a rising or falling function crosses zero.

/// Returns a zero of `f` between `a` and `b`, where it must change sign.
///
/// Chandrupatla's method: a step of inverse quadratic interpolation where it is safe, a
/// bisection where it is not, so that it never leaves the bracket.
///
/// # Source
/// T. R. Chandrupatla, *A new hybrid quadratic/bisection algorithm for finding the zero of a
/// nonlinear function without using derivatives*, Advances in Engineering Software 28 (1997),
/// from memory of the paper.
///
/// # Validity
/// `None` if the ends have one sign, or a value is not a number.
pub(crate) fn crossing(f: impl Fn(f64) -> f64, a: f64, b: f64) -> Option<f64> {
    let (mut x0, mut x1) = (b, a);
    let (mut f0, mut f1) = (f(x0), f(x1));
    if f0 == 0.0 {
        return Some(x0);
    }
    if f1 == 0.0 {
        return Some(x1);
    }
    // Also false when either is not a number.
    if !(f0.is_finite() && f1.is_finite()) || f0.signum() == f1.signum() {
        return None;
    }
    let mut t = 0.5;
    for _ in 0..200 {
        let x = x1 + t * (x0 - x1);
        let fx = f(x);
        if fx.is_nan() {
            return None;
        }
        let (x2, f2);
        if fx.signum() == f1.signum() {
            (x2, f2) = (x1, f1);
        } else {
            (x2, f2) = (x0, f0);
            (x0, f0) = (x1, f1);
        }
        (x1, f1) = (x, fx);
        let (best, f_best) = if f1.abs() < f0.abs() {
            (x1, f1)
        } else {
            (x0, f0)
        };
        let tolerance = 2.0 * f64::EPSILON * best.abs() + f64::MIN_POSITIVE;
        let t_least = tolerance / (x0 - x1).abs();
        if f_best == 0.0 || t_least > 0.5 {
            return Some(best);
        }
        let xi = (x1 - x0) / (x2 - x0);
        let phi = (f1 - f0) / (f2 - f0);
        let quadratic = phi * phi < xi && (1.0 - phi) * (1.0 - phi) < 1.0 - xi;
        t = if quadratic {
            f1 / (f0 - f1) * (f2 / (f0 - f2))
                + (x2 - x1) / (x0 - x1) * (f1 / (f2 - f1)) * (f0 / (f2 - f0))
        } else {
            0.5
        };
        t = t.clamp(t_least, 1.0 - t_least);
    }
    Some(x1)
}

#[cfg(test)]
mod tests {
    use super::crossing;

    #[test]
    fn the_root_of_a_steep_and_of_a_flat_function_is_found() {
        let steep = crossing(|x| x.exp() - 5.0, -10.0, 100.0).expect("changes sign");
        assert!((steep - 5.0_f64.ln()).abs() < 1e-12, "{steep}");
        let flat = crossing(|x| (x - 1.0).powi(3), 0.0, 1.7).expect("changes sign");
        assert!((flat - 1.0).abs() < 1e-5, "{flat}");
    }

    #[test]
    fn a_function_that_does_not_change_sign_has_no_root() {
        assert_eq!(crossing(|x| x * x + 1.0, -1.0, 1.0), None);
        assert_eq!(crossing(|_| f64::NAN, -1.0, 1.0), None);
    }
}
