//! Worked examples and tables that others have published, or that follow from published formulas.
//!
//! The source stands beside each row; 'by hand' is the published formula worked on paper.

use seamanship::catenary::{
    Hang, Status, greatest_height, hang, least_length, length_for, lift_force,
};
use seamanship::chain::{LinkForm, submerged_weight_of};
use seamanship::tide::{Extreme, Interval, pressure_rise};
use seamanship::time::UtcMs;
use seamanship::units::{
    KilogramsPerCubicMetre, Knots, LitresPerMinute, Metres, MetresPerSecond, Millimetres, Newtons,
    NewtonsPerMetre, Pascals,
};
use seamanship::water::{Nozzle, hazen_williams, static_head};

/// Newtons in a tonne-force.
const TONNE: f64 = 9806.65;

#[track_caller]
fn near(what: &str, got: f64, published: f64, tolerance: f64) {
    assert!(
        (got - published).abs() <= tolerance,
        "{what}: {got}, published {published}"
    );
}

/// The weight in water as the worked rows take it, with g = 9.81.
fn weight(diameter_mm: f64) -> NewtonsPerMetre {
    let w = submerged_weight_of(Millimetres(diameter_mm), LinkForm::Stud).expect("in range");
    w * (9.81 / 9.806_65)
}

fn inelastic(length: f64, height: f64, weight: NewtonsPerMetre) -> Hang {
    Hang {
        height: Metres(height),
        length: Metres(length),
        weight,
        stiffness: None,
    }
}

#[test]
fn suspended_length_agrees_with_a_ships_worksheet() {
    // "Critical wind velocity for dragging anchor", a worksheet of one ship, publisher and year not known, read in excerpt:
    // y 26.9 m, T 38.30 t, wc 0.233 t/m, L 137.5 m.
    let w = NewtonsPerMetre(0.233 * TONNE);
    let chain = inelastic(137.5, 26.9, w);
    let hung = hang(&chain, Newtons(38.30 * TONNE)).expect("in range");
    near("S", hung.suspended.0, 97.81, 0.01);
    near("on the bottom", hung.grounded.0, 39.69, 0.01);
    // The same ship's wind at lift-off, from T = 38.3 t at 10 m/s.
    let lift_t = lift_force(&chain).expect("in range").0 / TONNE;
    near("lift in t", lift_t, 78.75, 0.05);
    near(
        "wind at lift-off",
        10.0 * (lift_t / 38.3).sqrt(),
        14.34,
        0.02,
    );
    // Where its anchor alone, 133.5 t, would hold: beyond lift-off, so no answer to plan with.
    near(
        "wind at holding",
        10.0 * (133.5_f64 / 38.3).sqrt(),
        18.67,
        0.02,
    );
}

#[test]
fn grounded_chains_agree_with_the_formula_by_hand() {
    // d mm, h m, H kN: s m, x m, T kN, θ°.
    for (d, h, kn, s, x, t, theta) in [
        (28.0, 25.0, 20.0, 86.31, 81.40, 23.66, 32.31),
        (28.0, 25.0, 50.0, 132.99, 129.83, 53.66, 21.29),
        (28.0, 25.0, 100.0, 186.40, 184.16, 103.66, 15.28),
        (32.0, 20.0, 30.0, 81.67, 78.36, 33.83, 27.52),
        (24.0, 15.0, 10.0, 54.88, 52.10, 11.61, 30.58),
    ] {
        let hung = hang(&inelastic(275.0, h, weight(d)), Newtons(kn * 1000.0)).expect("in range");
        near("s", hung.suspended.0, s, 0.05);
        near("x", hung.reach.0 - hung.grounded.0, x, 0.05);
        near("T", hung.tension_at_hawse.0 / 1000.0, t, 0.05);
        near("θ", hung.angle_at_hawse.0, theta, 0.05);
        assert_eq!(hung.status, Status::Grounded);
    }
}

#[test]
fn doubled_depth_and_force_double_the_chain() {
    let once = hang(&inelastic(275.0, 20.0, weight(32.0)), Newtons(30e3)).expect("in range");
    let twice = hang(&inelastic(550.0, 40.0, weight(32.0)), Newtons(60e3)).expect("in range");
    near("s", twice.suspended.0, 2.0 * once.suspended.0, 1e-9);
    near("X", twice.reach.0, 2.0 * once.reach.0, 1e-9);
    near("θ", twice.angle_at_hawse.0, once.angle_at_hawse.0, 1e-9);
}

#[test]
fn lifted_chains_agree_with_the_formula_by_hand() {
    // L m, H kN: X m, φ°, V at the anchor kN, T at the hawse kN; h 20 m, 28 mm.
    for (l, kn, x, phi, v, t) in [
        (110.0, 150.0, 108.12, 7.49, 19.71, 154.2),
        (82.5, 60.0, 79.91, 8.55, 9.02, 63.60),
    ] {
        let chain = inelastic(l, 20.0, weight(28.0));
        let hung = hang(&chain, Newtons(kn * 1000.0)).expect("in range");
        assert_eq!(hung.status, Status::Lifted);
        near("X", hung.reach.0, x, 0.05);
        near("φ", hung.angle_at_anchor.0, phi, 0.05);
        near(
            "V at the anchor",
            hung.vertical_at_anchor.0 / 1000.0,
            v,
            0.05,
        );
        near("T at the hawse", hung.tension_at_hawse.0 / 1000.0, t, 0.05);
        let carried = hung.vertical_at_hawse.0 - hung.vertical_at_anchor.0;
        near("weight", carried, weight(28.0).0 * l, 1e-6);
    }
}

#[test]
fn lift_force_agrees_with_the_formula_by_hand() {
    // H = w (L² − h²)/(2 h) by hand.
    for (l, kn) in [(110.0, 42.86), (137.5, 67.80)] {
        let lift = lift_force(&inelastic(l, 20.0, weight(28.0))).expect("in range");
        near("H", lift.0 / 1000.0, kn, 0.01);
    }
}

#[test]
fn the_root_rule_is_a_catenary_with_one_pull() {
    // s = √(2a)·√h for small h: 1.5 shackles of 27.43 m mean a = 847 m, 39 √D 760 m.
    for (factor, a) in [(41.15, 847.0), (39.0, 760.0)] {
        let w = NewtonsPerMetre(100.0);
        let s = least_length(Metres(0.01), Newtons(a * w.0), w, None).expect("in range");
        near("factor", s.0 / 0.01_f64.sqrt(), factor, 0.03);
    }
}

#[test]
fn slack_short_and_lifted_chains_are_told_apart() {
    let w = weight(24.0);
    let slack = hang(&inelastic(55.0, 12.0, w), Newtons(0.0)).expect("in range");
    assert_eq!(slack.status, Status::Vertical);
    near("hangs", slack.suspended.0, 12.0, 1e-12);
    near("reaches", slack.reach.0, 43.0, 1e-12);
    let short = hang(&inelastic(10.0, 12.0, w), Newtons(5e3)).expect("in range");
    assert_eq!(short.status, Status::TooShort);
    let flat = hang(&inelastic(55.0, 0.0, w), Newtons(5e3)).expect("in range");
    assert_eq!(flat.status, Status::Grounded);
    near("flat", flat.reach.0, 55.0, 1e-12);
    assert!(lift_force(&inelastic(55.0, 0.0, w)).is_err());
    for bad in [f64::NAN, f64::INFINITY, -1.0] {
        assert!(hang(&inelastic(55.0, 12.0, w), Newtons(bad)).is_err());
        assert!(hang(&inelastic(bad, 12.0, w), Newtons(1.0)).is_err());
        assert!(hang(&inelastic(55.0, bad, w), Newtons(1.0)).is_err());
        assert!(hang(&inelastic(55.0, 12.0, NewtonsPerMetre(bad)), Newtons(1.0)).is_err());
        assert!(length_for(Metres(12.0), Newtons(1.0), w, Metres(bad)).is_err());
        assert!(greatest_height(Metres(bad), Newtons(1.0), w).is_err());
    }
}

fn interval(from: (&str, f64), to: (&str, f64)) -> Interval {
    let extreme = |(clock, height): (&str, f64)| Extreme {
        at: at(clock),
        height: Metres(height),
    };
    Interval::new(extreme(from), extreme(to)).expect("in order")
}

fn at(clock: &str) -> UtcMs {
    UtcMs::parse("clock", &format!("2026-11-25T{clock}:00Z")).expect("a time")
}

#[test]
fn tides_agree_with_worked_examples() {
    // By hand with the cosine, from an example whose official table gives 5.8 ft; its place was not kept (feet: only ratios count).
    let morning = interval(("03:27", 2.2), ("11:41", 11.4));
    near(
        "07:00",
        morning.height_cosine(at("07:00")).expect("inside").0,
        5.8,
        0.1,
    );
    // Course notes, a derived port: cosine at the true time, by hand.
    let ebb = interval(("11:11", 9.5), ("17:12", 0.475));
    near(
        "14:00",
        ebb.height_cosine(at("14:00")).expect("inside").0,
        5.44,
        0.02,
    );
    // A nautical school's page: HW 4.0 m at 00:45 falls 0.33 and 0.66 m in two hours.
    let school = interval(("00:45", 4.0), ("06:45", 0.0));
    near(
        "02:45",
        school.height_twelfths(at("02:45")).expect("inside").0,
        3.01,
        0.02,
    );
    near(
        "983 hPa",
        pressure_rise(983.0).expect("in range").0,
        0.30,
        0.01,
    );
}

#[test]
fn hourly_shares_of_the_range_are_those_of_the_handbooks() {
    let rise = interval(("06:00", 0.0), ("12:00", 1.0));
    for (clock, cosine, twelfths) in [
        ("07:00", 0.067, 1.0 / 12.0),
        ("08:00", 0.25, 0.25),
        ("09:00", 0.5, 0.5),
        ("10:00", 0.75, 0.75),
        ("11:00", 0.933, 11.0 / 12.0),
    ] {
        near(
            clock,
            rise.height_cosine(at(clock)).expect("inside").0,
            cosine,
            5e-4,
        );
        near(
            clock,
            rise.height_twelfths(at(clock)).expect("inside").0,
            twelfths,
            1e-9,
        );
    }
}

const FRESH: KilogramsPerCubicMetre = KilogramsPerCubicMetre(1000.0);

#[test]
fn nozzles_agree_with_the_discharge_formula() {
    // 0.666 d² √p by hand, Cd 1, fresh water: mm, bar, l/min, m³/h.
    for (mm, bar, litres, cubic) in [
        (12.0, 2.5, 151.7, 9.10),
        (16.0, 2.7, 280.3, 16.82),
        (19.0, 2.7, 395.3, 23.72),
        (19.0, 4.0, 481.2, 28.87),
    ] {
        let nozzle = Nozzle {
            diameter: Metres(mm / 1000.0),
            cd: 1.0,
        };
        let jet = nozzle.jet(Pascals(bar * 1e5), FRESH).expect("in range");
        // The published factor 0.666 is itself rounded by 0.1 %.
        near("l/min", jet.flow.0, litres, 0.6);
        near("m³/h", jet.flow.0 * 0.06, cubic, 0.04);
    }
    let nozzle = Nozzle {
        diameter: Metres(0.016),
        cd: 1.0,
    };
    let jet = nozzle.jet(Pascals(4e5), FRESH).expect("in range");
    near("reaction", jet.reaction.0, 160.8, 0.5);
    // Fire-ground card: bore in inches at 50 psi, US gallons a minute by 29.7 d² √P and rounded.
    for (inches, formula, rounded) in [
        (1.0, 210.0, 200.0),
        (1.125, 265.8, 250.0),
        (1.25, 328.1, 325.0),
    ] {
        let nozzle = Nozzle {
            diameter: Metres(inches * 0.0254),
            cd: 0.995,
        };
        let jet = nozzle
            .jet(Pascals(50.0 * 6894.757), FRESH)
            .expect("in range");
        let gallons = jet.flow.0 / 3.785_411_784;
        near("gal/min", gallons, formula, 0.005 * formula);
        near("gal/min, rounded", gallons, rounded, 0.07 * rounded);
    }
}

#[test]
fn pipe_losses_agree_with_hazen_and_williams_by_hand() {
    let head = |mm: f64, length: f64, c: f64, cubic: f64| {
        hazen_williams(
            Metres(mm / 1000.0),
            Metres(length),
            c,
            LitresPerMinute(cubic / 0.06),
        )
        .expect("in range")
    };
    near(
        "50 m³/h",
        head(80.0, 70.0, 120.0, 50.0).0,
        8.42,
        0.005 * 8.42,
    );
    // 0.754 bar of fresh water in the bar form of NFPA 13.
    near(
        "25 m³/h",
        head(65.0, 60.0, 100.0, 25.0).0 * 0.0981,
        0.754,
        0.005 * 0.754,
    );
    // 6 bar at the pump, 12 m of sea water up, 0.824 bar lost.
    let up = static_head(Metres(12.0), KilogramsPerCubicMetre(1025.0)).expect("in range");
    near("left", 6.0 - up.0 / 1e5 - 0.824, 3.97, 0.01);
}

#[test]
fn a_drifting_ship_covers_two_hundred_metres_while_heaving() {
    // 110 m at 0.15 m/s takes 733 s; at half a knot she drifts 188.6 m in it.
    let drift = MetresPerSecond::from(Knots(0.5)) * (110.0 / 0.15);
    near("drift", drift.0, 188.6, 0.1);
}
