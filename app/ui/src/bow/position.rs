//! The ship's position: the phone's own fix with its accuracy, or typed from the ship's receiver.

use super::sheet::{AnswerSheet, SheetMode};
use crate::port::{Fix, Fixing, MediaCommand, device};
use crate::words::{self, Word};
use leptos::prelude::*;
use procedure::{Decimal, Outcome, StepView};

/// Decimal places of a degree that are written down: 1e-5 degrees of latitude are 1.1 m.
const PLACES: u8 = 5;

/// Decimal places of a minute that are shown: 1e-4 minutes are 0.2 m.
const MINUTE_PLACES: usize = 4;

/// An angle as receivers show it: degrees and minutes, and which way. A phone's keys for numbers have no minus.
#[derive(Debug, Clone, Copy)]
struct Angle {
    degrees: RwSignal<String>,
    minutes: RwSignal<String>,
    is_minus: RwSignal<bool>,
    most_deg: u8,
}

impl Angle {
    fn empty(most_deg: u8) -> Self {
        Self {
            degrees: RwSignal::new(String::new()),
            minutes: RwSignal::new(String::new()),
            is_minus: RwSignal::new(false),
            most_deg,
        }
    }

    fn show(self, degrees: f64) {
        let (whole, minutes) = parts(degrees);
        self.degrees.set(whole);
        self.minutes.set(minutes);
        self.is_minus.set(degrees < 0.0);
    }

    fn read(self) -> Option<Decimal> {
        let (degrees, minutes) = (self.degrees.get(), self.minutes.get());
        read(&degrees, &minutes, self.is_minus.get(), self.most_deg)
    }
}

/// Returns degrees and minutes as they are shown.
fn parts(degrees: f64) -> (String, String) {
    let minutes = format!("{:.MINUTE_PLACES$}", degrees.abs().fract() * 60.0);
    let whole = degrees.abs().trunc();
    if minutes.starts_with("60") {
        return (
            format!("{}", whole + 1.0),
            format!("{:.MINUTE_PLACES$}", 0.0),
        );
    }
    (format!("{whole}"), minutes)
}

/// Reads degrees and minutes. Only degrees with a fraction need no minutes: what is left empty is not zero.
fn read(degrees: &str, minutes: &str, is_minus: bool, most_deg: u8) -> Option<Decimal> {
    let number = |text: &str| text.trim().parse().ok().map(Decimal::to_f64);
    let whole = number(degrees)?;
    let minutes = match minutes.trim() {
        "" if degrees.contains('.') => 0.0,
        typed => number(typed)?,
    };
    let is_mixed = whole.fract() != 0.0 && minutes != 0.0;
    let is_read = (0.0..60.0).contains(&minutes) && whole >= 0.0 && !is_mixed;
    let angle = whole + minutes / 60.0;
    let signed = if is_minus { -angle } else { angle };
    (is_read && angle <= f64::from(most_deg)).then_some(())?;
    Decimal::from_f64(signed, PLACES)
}

/// The sheet of a step that asks for the position.
#[component]
pub fn PositionSheet(step: StepView, side: RwSignal<SheetMode>) -> impl IntoView {
    let device = device();
    let latitude = Angle::empty(90);
    let longitude = Angle::empty(180);
    // The fix that the fields show; none once they were typed in.
    let from_phone = RwSignal::new(None::<Fix>);
    device.media.fix.set(Fixing::Idle);
    Effect::new(move |_| {
        if let Fixing::Got(fix) = device.media.fix.get() {
            latitude.show(fix.lat_deg);
            longitude.show(fix.lon_deg);
            from_phone.set(Some(fix));
        }
    });
    let answer = Signal::derive(move || {
        // The fix itself, where it stands as it came: the fields show it in minutes.
        let of_phone = from_phone.get();
        let (lat_deg, lon_deg) = match &of_phone {
            Some(fix) => (
                Decimal::from_f64(fix.lat_deg, PLACES)?,
                Decimal::from_f64(fix.lon_deg, PLACES)?,
            ),
            None => (latitude.read()?, longitude.read()?),
        };
        let accuracy_m = of_phone.and_then(|fix| Decimal::from_f64(fix.accuracy_m, 0));
        Some(Outcome::Position {
            lat_deg,
            lon_deg,
            accuracy_m,
        })
    });
    let fields = move |label: &'static str, angle: Angle, signs: [Word; 2]| {
        let part = move |name: &'static str, value: RwSignal<String>| {
            view! {
                <label class="field">
                    <span>{name}</span>
                    <input
                        type="text"
                        inputmode="decimal"
                        aria-label=format!("{label}, {name}")
                        prop:value=value
                        on:input:target=move |event| {
                            value.set(event.target().value());
                            from_phone.set(None);
                        }
                    />
                </label>
            }
        };
        let sign = move |is_minus: bool, word: Word| {
            view! {
                <button
                    type="button"
                    class="button"
                    aria-pressed=move || (angle.is_minus.get() == is_minus).to_string()
                    on:click=move |_| {
                        angle.is_minus.set(is_minus);
                        from_phone.set(None);
                    }
                >
                    {word}
                </button>
            }
        };
        view! {
            <fieldset class="angle">
                <legend>{label}</legend>
                {part(words::DEGREES.text(), angle.degrees)}
                {part(words::MINUTES.text(), angle.minutes)}
                {sign(false, signs[0])}
                {sign(true, signs[1])}
            </fieldset>
        }
    };
    let said = move || match (from_phone.get(), device.media.fix.get()) {
        (Some(fix), _) => Some(words::fix_accuracy(fix.accuracy_m)),
        (None, Fixing::Failed(why)) => Some(why),
        _ => None,
    };
    let asking = move || device.media.fix.get() == Fixing::Asked;
    view! {
        <AnswerSheet step side answer without=words::POSITION_FORM.text()>
            <button
                type="button"
                class="button"
                disabled=asking
                on:click=move |_| device.dispatch(MediaCommand::Fix)
            >
                {move || if asking() { words::FIX_ASKED.text() } else { words::FIX_TAKE.text() }}
            </button>
            <p class="sheet-words" role="status">
                {said}
            </p>
            {fields(words::LATITUDE.text(), latitude, words::NORTH_SOUTH)}
            {fields(words::LONGITUDE.text(), longitude, words::EAST_WEST)}
        </AnswerSheet>
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn degrees_and_minutes_are_read_either_way() {
        let said = |degrees: &str, minutes: &str, is_minus| {
            read(degrees, minutes, is_minus, 180).map(|n| n.to_string())
        };
        assert_eq!(said("7", "3.66", true).as_deref(), Some("-7.06100"));
        assert_eq!(said("7.061", "", true).as_deref(), Some("-7.06100"));
        assert_eq!(said(" 180 ", "0", false).as_deref(), Some("180.00000"));
        for (degrees, minutes) in [
            ("", "3"),
            ("7", "60"),
            ("7", "-1"),
            ("-7", "3"),
            ("7.5", "3"),
            ("180", "0.1"),
            ("x", ""),
            ("7", ""),
            ("180", " "),
        ] {
            assert_eq!(said(degrees, minutes, false), None, "{degrees} {minutes}");
        }
        assert_eq!(read("91", "", false, 90), None);
    }

    #[test]
    fn a_fix_is_shown_in_minutes_and_read_again_within_a_metre() {
        for degrees in [43.512, -7.061, 0.0, -0.000_01, 59.999_999_9, 179.99] {
            let (whole, minutes) = parts(degrees);
            let again = read(&whole, &minutes, degrees < 0.0, 180).unwrap();
            assert!(
                (again.to_f64() - degrees).abs() < 1e-5,
                "{degrees}: {whole} {minutes}"
            );
        }
    }
}
