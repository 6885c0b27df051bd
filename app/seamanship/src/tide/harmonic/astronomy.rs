//! Where Sun, Moon, her node and her perigee stand, and Schureman's angles out of them.

/// Mean longitudes and the auxiliary angles, in degrees and radians as named.
pub(super) struct Sky {
    /// Hour angle of the mean Sun, from midnight, degrees.
    pub(super) hour_deg: f64,
    /// Moon's mean longitude, degrees.
    pub(super) s_deg: f64,
    /// Sun's mean longitude, degrees.
    pub(super) h_deg: f64,
    /// Longitude of the lunar perigee, degrees.
    pub(super) p_deg: f64,
    /// Obliquity of the ecliptic ω.
    pub(super) omega: f64,
    /// Inclination of the Moon's orbit to the ecliptic i.
    pub(super) i: f64,
    /// Inclination of the Moon's orbit to the equator I.
    pub(super) inclination: f64,
    /// ξ, degrees.
    pub(super) xi_deg: f64,
    /// ν, degrees.
    pub(super) nu_deg: f64,
}

fn polynomial(coefficients: &[f64], x: f64) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, c| sum * x + c)
}

impl Sky {
    pub(super) fn at(julian_date: f64) -> Self {
        let t = (julian_date - 2_451_545.0) / 36_525.0;
        let s_deg = polynomial(
            &[
                218.316_459_1,
                481_267.881_342_36,
                -0.001_326_8,
                1.0 / 538_841.0,
                -1.0 / 65_194_000.0,
            ],
            t,
        );
        let h_deg = polynomial(&[280.466_45, 36_000.769_83, 0.000_303_2], t);
        let p_deg = polynomial(
            &[
                83.353_243_0,
                4_069.013_711_1,
                -0.010_323_8,
                -1.0 / 80_053.0,
                1.0 / 18_999_000.0,
            ],
            t,
        );
        let node = polynomial(
            &[
                125.044_555_0,
                -1_934.136_184_9,
                0.002_076_2,
                1.0 / 467_410.0,
                -1.0 / 60_616_000.0,
            ],
            t,
        )
        .rem_euclid(360.0)
        .to_radians();
        // The higher terms of Meeus' obliquity are below a thousandth of an arc second here.
        let omega =
            (23.0 + 26.0 / 60.0 + (21.448 - 46.8093 * t - 0.000_155 * t * t) / 3600.0).to_radians();
        let i = 5.145_f64.to_radians();
        let cos_inclination = i.cos() * omega.cos() - i.sin() * omega.sin() * node.cos();
        let half = (node / 2.0).tan();
        let (less, more) = ((omega - i) / 2.0, f64::midpoint(omega, i));
        let e1 = (less.cos() / more.cos() * half).atan() - node / 2.0;
        let e2 = (less.sin() / more.sin() * half).atan() - node / 2.0;
        Self {
            hour_deg: (julian_date - julian_date.floor()) * 360.0,
            s_deg,
            h_deg,
            p_deg,
            omega,
            i,
            inclination: cos_inclination.acos(),
            xi_deg: (-(e1 + e2)).to_degrees(),
            nu_deg: (e1 - e2).to_degrees(),
        }
    }

    /// ν′ for K1, degrees: Schureman eq. 224.
    pub(super) fn nu_prime_deg(&self) -> f64 {
        let (nu, double) = (self.nu_deg.to_radians(), (2.0 * self.inclination).sin());
        (double * nu.sin() / (double * nu.cos() + 0.3347))
            .atan()
            .to_degrees()
    }

    /// 2ν″ for K2, degrees: Schureman eq. 232.
    pub(super) fn two_nu_second_deg(&self) -> f64 {
        let (nu, square) = (self.nu_deg.to_radians(), self.inclination.sin().powi(2));
        (square * (2.0 * nu).sin() / (square * (2.0 * nu).cos() + 0.0727))
            .atan()
            .to_degrees()
    }
}
