//! Windlass, brake and stopper: what they lift and hold, how fast, and how the anchor is laid.

use serde::{Deserialize, Serialize};

use crate::chain::{Grade, LinkForm, SUBMERGED_PART, mass_per_metre};
use crate::error::{OutOfRange, above_zero, at_least_zero, within};
use crate::holding::Ground;
use crate::units::{
    Kilograms, Knots, Metres, MetresPerMinute, MetresPerSecond, Millimetres, Minutes, Newtons,
    STANDARD_GRAVITY, Watts,
};

/// What the windlass checks come from, as shown beside them.
pub const SOURCE: &str = "IACS UR A3 Rev.1 (2019): 37.5, 42.5, 47.5 d² N to 82.5 m, 0.27 d² N \
    more for each metre beyond; brake 45 or 80 %, stopper 80 % of breaking; first formula from \
    memory";

/// What a person must know before relying on a windlass check.
pub const CAUTION: &str = "A dead lift: mud, a foul anchor, breaking out and the ship's motion \
    are not in it, nor are a tired motor or hot oil. Never drive the ship with the windlass.";

/// Part of the pull that is left after hawse pipe and bearings, in the class formula.
/// Source: follows from IACS UR A3 Rev.1, 2019: 0.27 d² for each metre is the weight in water over 0.70; from memory, not opened.
pub const HAWSE_EFFICIENCY: f64 = 0.70;
/// Depth up to which class fixes the continuous pull.
/// Source: IACS UR A3 Rev.1, 2019; from memory, not opened.
pub const CLASS_DEPTH: Metres = Metres(82.5);

/// Returns the continuous pull that class asks of a windlass.
///
/// `Z = k d²`, `k` = 37.5, 42.5, 47.5 N/mm² for grades 1, 2, 3; deeper than 82.5 m
/// `+ 0.27 d² (D − 82.5)`.
///
/// # Source
/// IACS UR A3 Rev.1 (2019), 3.1.2; `k` from memory (older texts: 36.8, 41.7, 46.6).
///
/// # Errors
/// [`OutOfRange`] unless the chain is 12.5 to 162 mm and the depth from 0 to 400 m.
pub fn class_pull(d: Millimetres, grade: Grade, depth: Metres) -> Result<Newtons, OutOfRange> {
    let d = within("chain_diameter_mm", d.0, 12.5, 162.0)?;
    let depth = within("depth_m", depth.0, 0.0, 400.0)?;
    let k = match grade {
        Grade::Grade1 => 37.5,
        Grade::Grade2 => 42.5,
        Grade::Grade3 => 47.5,
    };
    let deeper = (depth - CLASS_DEPTH.0).max(0.0);
    Ok(Newtons((k + 0.27 * deeper) * d * d))
}

/// Returns the short-term pull that class asks for, 1.5 times the continuous.
///
/// # Source
/// IACS UR A3: for 2 minutes at least, the speed may fall.
///
/// # Errors
/// As [`class_pull`].
pub fn overload_pull(d: Millimetres, grade: Grade, depth: Metres) -> Result<Newtons, OutOfRange> {
    Ok(class_pull(d, grade, depth)? * 1.5)
}

/// What hangs from the gypsy.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hanging {
    /// Nominal diameter of the chain.
    pub diameter: Millimetres,
    /// With or without studs.
    pub form: LinkForm,
    /// Mass of the anchor.
    pub anchor: Kilograms,
}

impl Hanging {
    /// Returns the pull at the gypsy that lifts anchor and chain hanging straight down.
    ///
    /// `(m L + M) · 0.87 g / 0.70`.
    ///
    /// # Source
    /// Weight in water over the hawse-pipe efficiency that IACS UR A3 includes; 0.27 d² N per
    /// metre there is the same sum.
    ///
    /// # Errors
    /// [`OutOfRange`] unless chain and anchor are above 0 and the length 0 or more.
    pub fn lift_needed(&self, length: Metres) -> Result<Newtons, OutOfRange> {
        let l = at_least_zero("depth_m", length.0)?;
        let anchor = above_zero("anchor_mass_kg", self.anchor.0)?;
        let m = mass_per_metre(self.diameter, self.form)?.0;
        Ok(Newtons(
            (m * l + anchor) * SUBMERGED_PART * STANDARD_GRAVITY / HAWSE_EFFICIENCY,
        ))
    }

    /// Returns the greatest depth from which a pull lifts anchor and chain.
    ///
    /// `D = (0.70 Z/(0.87 g) − M)/m`.
    ///
    /// # Source
    /// [`lift_needed`](Self::lift_needed) solved for the length.
    ///
    /// # Errors
    /// [`OutOfRange`] as there, and if the pull does not lift the anchor alone.
    pub fn greatest_depth(&self, pull: Newtons) -> Result<Metres, OutOfRange> {
        let z = above_zero("windlass_pull_N", pull.0)?;
        let alone = self.lift_needed(Metres(0.0))?.0;
        if z <= alone {
            return Err(OutOfRange::outside(
                "windlass_pull_N",
                z,
                format!("above {alone:.0}, which the anchor alone needs"),
            ));
        }
        let m = mass_per_metre(self.diameter, self.form)?.0;
        Ok(Metres(
            (HAWSE_EFFICIENCY * z / (SUBMERGED_PART * STANDARD_GRAVITY) - self.anchor.0) / m,
        ))
    }
}

/// Whether a chain stopper shares the load with the brake.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stopper {
    /// One is fitted.
    Fitted,
    /// None is fitted.
    None,
}

/// Returns the load that class asks a brake to hold.
///
/// 45 % of the chain's breaking load with a stopper, 80 % without.
///
/// # Source
/// IACS UR A3.
///
/// # Errors
/// [`OutOfRange`] unless the breaking load is above 0.
pub fn brake_asked(breaking: Newtons, stopper: Stopper) -> Result<Newtons, OutOfRange> {
    let part = match stopper {
        Stopper::Fitted => 0.45,
        Stopper::None => 0.80,
    };
    Ok(Newtons(part * above_zero("breaking_load_N", breaking.0)?))
}

/// Returns the load that class asks a chain stopper to hold, 80 % of the breaking load.
///
/// # Source
/// IACS UR A3, the figure from memory.
///
/// # Errors
/// [`OutOfRange`] unless the breaking load is above 0.
pub fn stopper_asked(breaking: Newtons) -> Result<Newtons, OutOfRange> {
    brake_asked(breaking, Stopper::None)
}

/// Returns how long it takes to heave or walk out a length.
///
/// # Source
/// Arithmetic: length by speed.
///
/// # Errors
/// [`OutOfRange`] unless the length is 0 or more and the speed above 0.
pub fn heaving_time(length: Metres, speed: MetresPerMinute) -> Result<Minutes, OutOfRange> {
    let l = at_least_zero("chain_length_m", length.0)?;
    Ok(Minutes(
        l / above_zero("windlass_speed_m_per_min", speed.0)?,
    ))
}

/// Returns the speed over the ground beyond which the chain drives the motor.
///
/// The speed of the chain over the gypsy: 9 m/min is 0.29 kn.
///
/// # Source
/// Arithmetic; that a ship faster than her chain drives the motor is common practice, no source.
///
/// # Errors
/// [`OutOfRange`] unless the speed is from 1 to 60 m/min.
pub fn walk_out_speed(speed: MetresPerMinute) -> Result<Knots, OutOfRange> {
    let v = within("windlass_speed_m_per_min", speed.0, 1.0, 60.0)?;
    Ok(Knots::from(MetresPerSecond::from(MetresPerMinute(v))))
}

/// Speed over the ground when the anchor touches: nearly stopped; common practice, no source.
pub const TOUCH_SPEED: Knots = Knots(0.1);
/// Speed over the ground while the chain is laid out under the brake: common practice, no source.
pub const LAY_OUT_SPEED: Knots = Knots(0.5);

/// Returns the power that a pull at a speed takes, without losses.
///
/// # Source
/// Mechanics: force times speed.
///
/// # Errors
/// [`OutOfRange`] unless both are 0 or more.
pub fn power(pull: Newtons, speed: MetresPerMinute) -> Result<Watts, OutOfRange> {
    let z = at_least_zero("windlass_pull_N", pull.0)?;
    Ok(Watts(
        z * at_least_zero("windlass_speed_m_per_min", speed.0)? / 60.0,
    ))
}

/// How to lay the anchor.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Laying {
    /// Let go from just outside the pipe, hanging clear.
    LetGo,
    /// Lower to just above the bottom with the windlass, then let go.
    WalkBackLetGo,
    /// Lower all the way with the windlass.
    WalkBack,
}

/// A proposal with its reason.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LayingProposal {
    /// Which way.
    pub laying: Laying,
    /// Why, in words.
    pub reason: String,
}

/// Returns how to lay the anchor at a depth on a ground.
///
/// To the master's own limit: let go; to 30 m: lower to just above the bottom and let go; deeper:
/// lower all of it. Rock and shingle: lower all of it, so that nothing is dropped on them. Which way is said with the
/// words of the procedure for letting go: "walk out" and "walk back" are two things in IMO's phrases, and crews mix them.
///
/// # Source
/// 12 and 30 m: common practice for large ships, no source; ILO, Accident prevention on board ship at sea and in port, 2nd
/// edition, 1996, 19.2.2: lowered to a suitable position rather than let go from the pipe; rock and shingle: common practice, no
/// source. A yacht may always lower all of it.
///
/// # Errors
/// [`OutOfRange`] unless both depths are 0 or more; deeper than 82.5 m a windlass is not made for.
pub fn laying(
    hawse_to_bottom: Metres,
    walk_out_beyond: Metres,
    ground: Ground,
) -> Result<LayingProposal, OutOfRange> {
    let depth = at_least_zero("depth_m", hawse_to_bottom.0)?;
    let limit = at_least_zero("walk_out_beyond_m", walk_out_beyond.0)?;
    if depth > CLASS_DEPTH.0 {
        return Err(OutOfRange::outside(
            "depth_m",
            depth,
            "at most 82.5: no class windlass is made for more",
        ));
    }
    let (laying, reason) = if matches!(ground, Ground::Rock | Ground::Shingle) {
        (
            Laying::WalkBack,
            "hard bottom: an anchor dropped on it or a chain run out over it is damaged".to_owned(),
        )
    } else if depth > 30.0 {
        (
            Laying::WalkBack,
            format!("{depth:.0} m from hawse to bottom, over 30 m: a running chain gets away"),
        )
    } else if depth > limit {
        (
            Laying::WalkBackLetGo,
            format!(
                "{depth:.0} m from hawse to bottom, over the ship's {limit:.0} m: lower to \
                 just above the bottom, then let go, or lower all the way"
            ),
        )
    } else {
        (
            Laying::LetGo,
            format!(
                "{depth:.0} m from hawse to bottom, within the ship's {limit:.0} m; from \
                 just outside the pipe, never from inside it"
            ),
        )
    };
    Ok(LayingProposal { laying, reason })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chain::breaking_load;

    const MM28: Millimetres = Millimetres(28.0);

    fn near(got: f64, want: f64, tolerance: f64) {
        assert!((got - want).abs() <= tolerance, "{got}, expected {want}");
    }

    #[test]
    fn class_pull_agrees_with_ur_a3() {
        for (grade, kn) in Grade::ALL.into_iter().zip([29.40, 33.32, 37.24]) {
            let pull = class_pull(MM28, grade, Metres(50.0)).unwrap();
            near(pull.0 / 1000.0, kn, 1e-9);
        }
        let deep = class_pull(MM28, Grade::Grade2, Metres(120.0)).unwrap();
        near(deep.0 / 1000.0, 41.26, 0.01);
        let overload = overload_pull(MM28, Grade::Grade2, Metres(50.0)).unwrap();
        near(overload.0 / 1000.0, 49.98, 1e-9);
    }

    #[test]
    fn brake_and_stopper_are_asked_for_parts_of_the_breaking_load() {
        let breaking = breaking_load(MM28, Grade::Grade2).unwrap();
        near(
            brake_asked(breaking, Stopper::Fitted).unwrap().0 / 1e3,
            202.3,
            0.1,
        );
        near(
            brake_asked(breaking, Stopper::None).unwrap().0 / 1e3,
            359.6,
            0.1,
        );
        near(stopper_asked(breaking).unwrap().0 / 1e3, 359.6, 0.1);
    }

    #[test]
    fn the_lift_and_its_greatest_depth_are_each_others_inverse() {
        for (mm, grade, kg, depth) in [
            (28.0, Grade::Grade2, 1020.0, 99.8),
            (32.0, Grade::Grade2, 1290.0, 101.6),
            (24.0, Grade::Grade2, 780.0, 97.3),
        ] {
            let hanging = Hanging {
                diameter: Millimetres(mm),
                form: LinkForm::Stud,
                anchor: Kilograms(kg),
            };
            let pull = class_pull(Millimetres(mm), grade, Metres(0.0)).unwrap();
            let deepest = hanging.greatest_depth(pull).unwrap();
            near(deepest.0, depth, 0.2);
            near(hanging.lift_needed(deepest).unwrap().0, pull.0, 1e-6);
        }
        let hanging = Hanging {
            diameter: MM28,
            form: LinkForm::Stud,
            anchor: Kilograms(1020.0),
        };
        near(
            hanging.lift_needed(Metres(82.5)).unwrap().0 / 1e3,
            29.71,
            0.05,
        );
        assert!(hanging.greatest_depth(Newtons(100.0)).is_err());
    }

    #[test]
    fn a_shackle_takes_three_minutes_and_the_ship_must_not_outrun_it() {
        let nine = MetresPerMinute(9.0);
        near(heaving_time(Metres(27.5), nine).unwrap().0, 3.06, 0.01);
        near(
            heaving_time(Metres(110.0), nine).unwrap().0 * 60.0,
            733.0,
            0.5,
        );
        near(walk_out_speed(nine).unwrap().0, 0.2916, 0.001);
        near(power(Newtons(33_300.0), nine).unwrap().0, 4995.0, 1.0);
        assert!(walk_out_speed(MetresPerMinute(0.0)).is_err());
    }

    #[test]
    fn deeper_water_and_harder_ground_ask_for_more_care() {
        let by = |depth, ground| laying(Metres(depth), Metres(12.0), ground);
        assert_eq!(by(12.0, Ground::Sand).unwrap().laying, Laying::LetGo);
        assert_eq!(
            by(12.1, Ground::Sand).unwrap().laying,
            Laying::WalkBackLetGo
        );
        assert_eq!(by(30.1, Ground::Mud).unwrap().laying, Laying::WalkBack);
        assert_eq!(by(5.0, Ground::Rock).unwrap().laying, Laying::WalkBack);
        assert!(by(83.0, Ground::Sand).is_err());
        assert!(by(f64::NAN, Ground::Sand).is_err());
    }
}
