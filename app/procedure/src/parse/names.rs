//! Checks names of what stands outside the file: a guard that names what nobody knows would silently guard nothing.

use super::Notes;
use crate::definition::{Bound, Span};
use crate::settings::Settings;

/// The lengths of time that the engine computes for a run; see `run_at/computed.rs`. No limit is computed.
const COMPUTED_SPANS: &[&str] = &["vent_time"];

impl Notes<'_> {
    /// Checks what a limit names.
    pub(super) fn check_bound(&mut self, at: usize, key: &str, bound: &Bound) {
        match bound {
            Bound::Setting(name) => self.check_setting(at, key, name),
            Bound::Computed(name) if self.slugs.is_some() => self.mistake(
                at,
                format!(
                    "'{key}' names the computed value \"{name}\", but no limit is computed; give a number or a setting"
                ),
            ),
            Bound::Number(_) | Bound::Computed(_) | Bound::Read { .. } => {}
        }
    }

    /// Checks what a length of time names; a round's interval is never computed.
    pub(super) fn check_span(&mut self, at: usize, key: &str, span: &Span) {
        match span {
            Span::Fixed(_) => {}
            Span::Setting(name) => {
                self.check_setting(at, key, name);
                let is_time = Settings::default_of(name).is_none_or(|set| set.span_ms().is_some());
                if self.slugs.is_some() && !is_time {
                    self.mistake(
                        at,
                        format!("'{key}' names the setting \"{name}\", which is no length of time"),
                    );
                }
            }
            Span::Computed(name) => {
                let known = if key == "every" && self.step.is_none() {
                    &[]
                } else {
                    COMPUTED_SPANS
                };
                if self.slugs.is_some() && !known.contains(&name.as_str()) {
                    self.unknown(at, key, "computed value", name, known);
                }
            }
        }
    }

    /// Checks that the ship has a setting of that name.
    pub(super) fn check_setting(&mut self, at: usize, key: &str, name: &str) {
        if self.slugs.is_some() && Settings::words(name).is_none() {
            let known: Vec<&str> = Settings::names().collect();
            self.unknown(at, key, "setting", name, &known);
        }
    }

    /// Checks that there is a procedure of that short name.
    pub(super) fn check_slug(&mut self, at: usize, key: &str, name: &str) {
        let Some(slugs) = self.slugs else { return };
        let library: Vec<&str> = crate::library::slugs().collect();
        let own = self.own_slug.as_deref();
        let is_known = library.contains(&name) || slugs.contains(&name) || own == Some(name);
        if !is_known {
            let known: Vec<&str> = library.iter().chain(slugs).copied().collect();
            self.unknown(at, key, "procedure", name, &known);
        }
    }

    fn unknown(&mut self, at: usize, key: &str, what: &str, name: &str, known: &[&str]) {
        let known = match known {
            [] => "there are none here".to_owned(),
            known => format!("known are {}", known.join(", ")),
        };
        self.mistake(
            at,
            format!("'{key}' names the {what} \"{name}\", which does not exist; {known}"),
        );
    }
}
