//! Values that the engine computes from a run's own readings and the ship's settings.

use seamanship::units::{CubicMetres, CubicMetresPerHour};
use seamanship::ventilation::{Reached, Space};

use super::RunAt;
use crate::definition::Span;
use crate::event::Outcome;

/// The point of a reading that gives the fan's flow, m³/h.
const FAN_FLOW: &str = "fan-flow";

/// What is left of the foul air when a test becomes useful, % of what there was.
///
/// Common practice, no source.
const LEFT_PCT: f64 = 1.0;

impl RunAt<'_> {
    /// Finds a length of time in ms: fixed, set by the ship, or computed.
    pub fn span_ms(&self, span: &Span) -> Option<i64> {
        let known = self.run.settings.span_ms(span);
        match span {
            Span::Computed(key) if known.is_none() && key == "vent_time" => self.vent_time_ms(),
            _ => known,
        }
    }

    /// Returns the earliest useful time to test a ventilated space, from the flow that was read and the ship's
    /// settings, and never less than the ship's setting for it.
    ///
    /// `t = (KV/Q) ln(100/1)`: the time in which a hundredth of the foul air is left.
    ///
    /// # Units
    /// Flow in m³/h, volume in m³; returns ms.
    ///
    /// # Source
    /// [`seamanship::ventilation::SOURCE`]; the hundredth is common practice, no source.
    fn vent_time_ms(&self) -> Option<i64> {
        let least = self
            .run
            .settings
            .get("vent_time")
            .and_then(crate::SettingValue::span_ms)?;
        let volume = self
            .run
            .settings
            .get("locker_volume")
            .filter(|set| set.unit == "m³")?;
        let mixing = self.run.settings.get("locker_mixing")?;
        let space = Space {
            at_start: 100.0,
            of_supply: 0.0,
            volume: CubicMetres(volume.value.to_f64()),
            flow: CubicMetresPerHour(self.fan_flow()?),
            mixing_factor: mixing.value.to_f64(),
            generation: 0.0,
        };
        let Ok(Reached::After(minutes)) = space.time_to(LEFT_PCT) else {
            return None;
        };
        #[expect(clippy::cast_possible_truncation, reason = "a cast from f64 saturates")]
        let ms = (minutes.0 * 60_000.0).ceil() as i64;
        Some(ms.max(least))
    }

    fn fan_flow(&self) -> Option<f64> {
        let mut steps = self.run.procedure.steps().iter().enumerate();
        let (s, _) = steps.find(|(_, step)| {
            let rules = step.kind.rules();
            let mut points = rules.points().iter();
            rules.answered_by_point() && points.any(|point| point.key == FAN_FLOW)
        })?;
        match self.outcome(self.pick(s, Some(FAN_FLOW)).event?)? {
            Outcome::Reading { value, .. } => Some(value.to_f64()),
            _ => None,
        }
    }
}
