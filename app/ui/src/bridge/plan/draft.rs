//! A plan while it is being typed: every text as typed, so that nothing is lost where it is wrong.

use super::blank;
use super::entry::{self, Axis};
use super::fields::{self, Kind};
use seamanship::plan::{Danger, PlanInput, PlanOutput, Problem, Side, TideMark, work_out};
use seamanship::time::UtcMs;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// The tide's rows.
pub const TIDE: &str = "stay.tide";
/// The dangers' rows.
pub const DANGERS: &str = "dangers";

/// Stands where a time cannot be read: no sum holds for it.
const NO_TIME: UtcMs = UtcMs(i64::MIN);

/// The texts of a plan.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Draft {
    /// What the choices fall back on.
    base: PlanInput,
    /// What is typed, by path.
    texts: BTreeMap<String, String>,
    tide: usize,
    dangers: usize,
    /// What is of another day than the stay and has to be typed anew, by path.
    to_renew: BTreeSet<String>,
    /// The order in the master's own words; empty takes the one proposed.
    pub own_order: String,
    /// Whether anything has been typed.
    pub is_touched: bool,
    /// What nobody has typed yet, by path: it is missing, and not wrong.
    #[serde(default)]
    blank: BTreeSet<String>,
    /// Whether the figures began as an example's, which programs until 0.2 filled in.
    #[serde(default)]
    pub is_example: bool,
}

/// A plan worked out from what is typed.
#[derive(Debug, Clone, PartialEq)]
pub struct Worked {
    /// The input as read; not a number where a text is none.
    pub input: PlanInput,
    /// What comes out.
    pub output: PlanOutput,
    /// What is wrong, by path, in words.
    pub wrong: BTreeMap<String, String>,
    /// What has to be typed still, by path.
    pub missing: BTreeSet<String>,
}

impl Worked {
    /// Says whether every figure is there and in range.
    pub fn is_sound(&self) -> bool {
        self.wrong.is_empty() && self.missing.is_empty()
    }
}

/// Returns the path of one field of a row.
pub fn in_row(list: &str, index: usize, field: &str) -> String {
    format!("{list}[{index}].{field}")
}

/// The fields of a danger's row.
const DANGER_FIELDS: [&str; 4] = ["name", "latitude_deg", "longitude_deg", "charted_depth_m"];
/// What is a direction in degrees true.
const DIRECTIONS: [&str; 2] = ["weather.wind_from_deg", "weather.current_toward_deg"];
/// The fields of a tide's row.
const TIDE_FIELDS: [&str; 2] = ["at_utc_ms", "height_m"];

impl Draft {
    /// Writes out a plan.
    pub fn of(plan: &PlanInput) -> Self {
        let mut base = plan.clone();
        let mut texts = BTreeMap::new();
        for field in fields::all() {
            let text = match field.kind {
                Kind::Number(get) => entry::write_number(*get(&mut base)),
                Kind::Perhaps(get) => get(&mut base).map_or_else(String::new, entry::write_number),
                Kind::Angle(axis, get) => entry::write_angle(*get(&mut base), axis),
                Kind::Moment(get) => entry::write_moment(*get(&mut base)),
                Kind::Words(get) => get(&mut base).clone(),
                Kind::Choice(choices) => (choices.get)(&base),
            };
            texts.insert(field.path.to_owned(), text);
        }
        let mut draft = Self {
            base,
            texts,
            tide: 0,
            dangers: 0,
            to_renew: BTreeSet::new(),
            own_order: String::new(),
            is_touched: false,
            blank: BTreeSet::new(),
            is_example: false,
        };
        for side in [Side::Port, Side::Starboard] {
            if blank::is_undescribed(blank::cable_of(plan, side)) {
                draft.empty_all(fields::of_cable(side).iter().map(|field| field.path));
            }
        }
        for mark in &plan.stay.tide {
            draft.add_tide(mark);
        }
        for danger in &plan.dangers {
            draft.add_danger(danger);
        }
        draft
    }

    /// Makes a plan in which nothing is typed: no figure in it is anybody's.
    pub fn empty() -> Self {
        let mut draft = Self::of(&blank::plan());
        draft.empty_all(fields::all().map(|field| field.path));
        for _ in 0..blank::TIDE_ROWS {
            draft.add_row(TIDE);
        }
        let rows = (0..draft.tide).flat_map(|at| TIDE_FIELDS.map(|field| in_row(TIDE, at, field)));
        let rows: Vec<_> = rows.collect();
        draft.blank.extend(rows);
        draft.is_touched = false;
        draft
    }

    /// Says whether it was begun empty and has figures that nobody has typed yet.
    pub fn is_begun_empty(&self) -> bool {
        !self.blank.is_empty()
    }

    fn empty_all(&mut self, paths: impl Iterator<Item = &'static str>) {
        for path in paths {
            self.put(path.to_owned(), String::new());
            self.blank.insert(path.to_owned());
        }
    }

    /// Writes out an earlier plan for a stay that begins on the day of `now`. High and low waters of another day are
    /// moved along so that there is something to see, and have to be typed anew: no tide comes again a day later.
    pub fn taken_up(plan: PlanInput, now: UtcMs) -> Self {
        let before = plan.stay.from_utc_ms;
        let moved = moved_to(plan, now);
        let mut draft = Self::of(&moved);
        if moved.stay.from_utc_ms != before {
            let rows = 0..draft.tide;
            let paths = rows.flat_map(|at| TIDE_FIELDS.map(|field| in_row(TIDE, at, field)));
            draft.to_renew = paths.collect();
        }
        draft
    }

    fn put(&mut self, path: String, text: String) {
        self.texts.insert(path, text);
    }

    fn add_tide(&mut self, mark: &TideMark) {
        let at = self.tide;
        self.put(
            in_row(TIDE, at, "at_utc_ms"),
            entry::write_moment(mark.at_utc_ms),
        );
        self.put(
            in_row(TIDE, at, "height_m"),
            entry::write_number(mark.height_m),
        );
        self.tide += 1;
    }

    fn add_danger(&mut self, danger: &Danger) {
        let at = self.dangers;
        let charted = danger
            .charted_depth_m
            .map_or_else(String::new, entry::write_number);
        self.put(in_row(DANGERS, at, "name"), danger.name.clone());
        self.put(
            in_row(DANGERS, at, "latitude_deg"),
            entry::write_angle(danger.latitude_deg, Axis::Latitude),
        );
        self.put(
            in_row(DANGERS, at, "longitude_deg"),
            entry::write_angle(danger.longitude_deg, Axis::Longitude),
        );
        self.put(in_row(DANGERS, at, "charted_depth_m"), charted);
        self.dangers += 1;
    }

    /// Returns what is typed at a path.
    pub fn text(&self, path: &str) -> String {
        self.texts.get(path).cloned().unwrap_or_default()
    }

    /// Takes what was typed at a path.
    pub fn type_in(&mut self, path: &str, text: String) {
        self.put(path.to_owned(), text);
        self.to_renew.remove(path);
        self.blank.remove(path);
        self.is_touched = true;
    }

    /// Returns how many rows a list has.
    pub fn rows(&self, list: &str) -> usize {
        if list == TIDE {
            self.tide
        } else {
            self.dangers
        }
    }

    /// Adds an empty row to a list.
    pub fn add_row(&mut self, list: &str) {
        let (count, fields) = self.list(list);
        let at = *count;
        *count += 1;
        for field in fields {
            self.put(in_row(list, at, field), String::new());
        }
        self.is_touched = true;
    }

    /// Takes a row away; those behind it move up.
    pub fn remove_row(&mut self, list: &str, index: usize) {
        let (count, fields) = self.list(list);
        let last = count.saturating_sub(1);
        *count = last;
        for field in fields {
            for at in index..last {
                let (here, next) = (in_row(list, at, field), in_row(list, at + 1, field));
                let text = self.text(&next);
                for marks in [&mut self.to_renew, &mut self.blank] {
                    if marks.contains(&next) {
                        marks.insert(here.clone());
                    } else {
                        marks.remove(&here);
                    }
                }
                self.put(here, text);
            }
            let gone = in_row(list, last, field);
            self.texts.remove(&gone);
            self.to_renew.remove(&gone);
            self.blank.remove(&gone);
        }
        self.is_touched = true;
    }

    fn list(&mut self, list: &str) -> (&mut usize, &'static [&'static str]) {
        if list == TIDE {
            (&mut self.tide, &TIDE_FIELDS)
        } else {
            (&mut self.dangers, &DANGER_FIELDS)
        }
    }

    /// Reads every text; what is wrong is named by its path, and is not a number in the plan.
    pub fn read(&self) -> (PlanInput, BTreeMap<String, String>) {
        let mut plan = self.base.clone();
        let mut reader = Reader {
            texts: &self.texts,
            wrong: BTreeMap::new(),
        };
        let nobodys = |side| {
            fields::of_cable(side)
                .iter()
                .all(|field| reader.text(field.path).is_empty())
        };
        let (no_port, no_starboard) = (nobodys(Side::Port), nobodys(Side::Starboard));
        for field in fields::all() {
            // The cable that is not used need not be described. Its side is read before it.
            let left_out = match plan.cable.side {
                Side::Port => no_starboard && field.path.starts_with("cable.starboard."),
                Side::Starboard => no_port && field.path.starts_with("cable.port."),
            };
            if left_out {
                if let Kind::Number(get) = field.kind {
                    *get(&mut plan) = blank::UNDESCRIBED;
                }
                continue;
            }
            match field.kind {
                Kind::Number(get) => *get(&mut plan) = reader.number(field.path),
                Kind::Perhaps(get) => *get(&mut plan) = reader.perhaps(field.path),
                Kind::Angle(axis, get) => *get(&mut plan) = reader.angle(field.path, axis),
                Kind::Moment(get) => *get(&mut plan) = reader.moment(field.path),
                Kind::Words(get) => reader.text(field.path).clone_into(get(&mut plan)),
                Kind::Choice(choices) => match reader.choice(field.path) {
                    "" => {}
                    name => (choices.set)(&mut plan, name),
                },
            }
        }
        plan.stay.tide = (0..self.tide).map(|at| reader.tide_mark(at)).collect();
        plan.dangers = (0..self.dangers).map(|at| reader.danger(at)).collect();
        (plan, reader.wrong)
    }

    /// Reads and works out the plan.
    pub fn work(&self) -> Worked {
        let (input, mut wrong) = self.read();
        let mut output = work_out(&input);
        let unchosen = |path: &&String| {
            wrong
                .get(*path)
                .is_some_and(|said| said == entry::NOT_CHOSEN)
        };
        if let Some(path) = wrong.keys().find(unchosen) {
            blank::withhold(&mut output, path);
        }
        let missing: BTreeSet<String> = wrong
            .keys()
            .filter(|path| self.blank.contains(*path))
            .cloned()
            .collect();
        for problem in problems(&output) {
            // What is wrong already is said in its own words; what rests on it adds nothing. All of the
            // stay rests on its times.
            let said = |path: &String| {
                path.starts_with(&problem.field)
                    || (path.starts_with("stay.") && problem.field.starts_with("stay."))
            };
            if !wrong.keys().any(said) {
                wrong.insert(problem.field.clone(), plain(&problem.words));
            }
        }
        // A rule knows depths for which it is not meant; that matters where it is the ship's.
        let chosen = output.by_rule.iter().find(|row| row.is_chosen);
        if let (Some(Err(problem)), true) = (
            chosen.map(|row| &row.length.result),
            output.depth.result.is_ok(),
        ) && !wrong.contains_key(&problem.field)
        {
            wrong.insert("choice.rule".to_owned(), plain(&problem.words));
        }
        for path in DIRECTIONS {
            let typed = entry::number(&self.text(path)).ok();
            if typed.is_some_and(|degrees| !(0.0..=360.0).contains(&degrees)) {
                wrong.insert(path.to_owned(), entry::NO_DIRECTION.to_owned());
            }
        }
        wrong.retain(|path, _| !missing.contains(path));
        for path in &self.to_renew {
            wrong
                .entry(path.clone())
                .or_insert_with(|| entry::OF_ANOTHER_DAY.to_owned());
        }
        Worked {
            input,
            output,
            wrong,
            missing,
        }
    }
}

/// Says it without the sums' names of their inputs.
fn plain(words: &str) -> String {
    words.replace("t_from_utc", "the one before it")
}

/// Returns every problem of a plan's parts; a rule's own stand with the rules.
fn problems(output: &PlanOutput) -> Vec<&Problem> {
    let dangers = output.room.result.as_ref().map(|room| &room.dangers);
    let dangers = dangers
        .into_iter()
        .flatten()
        .filter_map(|danger| danger.seen.as_ref().err());
    [
        output.depth.result.as_ref().err(),
        output.pull.result.as_ref().err(),
        output.by_catenary.result.as_ref().err(),
        output.proposed.result.as_ref().err(),
        output.hanging.result.as_ref().err(),
        output.holding.result.as_ref().err(),
        output.limits.result.as_ref().err(),
        output.room.result.as_ref().err(),
        output.windlass.result.as_ref().err(),
        output.brake.result.as_ref().err(),
        output.method.result.as_ref().err(),
        output.speeds.result.as_ref().err(),
        output.signals.result.as_ref().err(),
        output.sun.result.as_ref().err(),
    ]
    .into_iter()
    .flatten()
    .chain(dangers)
    .collect()
}

/// Reads texts by their paths, and notes what is wrong with them.
struct Reader<'a> {
    texts: &'a BTreeMap<String, String>,
    wrong: BTreeMap<String, String>,
}

impl<'a> Reader<'a> {
    fn text(&self, path: &str) -> &'a str {
        self.texts.get(path).map_or("", |text| text.trim())
    }

    fn noted<T>(&mut self, path: &str, read: Result<T, String>, instead: T) -> T {
        read.unwrap_or_else(|words| {
            self.wrong.insert(path.to_owned(), words);
            instead
        })
    }

    fn number(&mut self, path: &str) -> f64 {
        self.noted(path, entry::number(self.text(path)), f64::NAN)
    }

    fn choice(&mut self, path: &str) -> &'a str {
        let text = self.text(path);
        let read = if text.is_empty() {
            Err(entry::NOT_CHOSEN.to_owned())
        } else {
            Ok(text)
        };
        self.noted(path, read, "")
    }

    fn perhaps(&mut self, path: &str) -> Option<f64> {
        (!self.text(path).is_empty()).then(|| self.number(path))
    }

    fn angle(&mut self, path: &str, axis: Axis) -> f64 {
        self.noted(path, entry::angle(self.text(path), axis), f64::NAN)
    }

    fn moment(&mut self, path: &str) -> UtcMs {
        self.noted(path, entry::moment(self.text(path)), NO_TIME)
    }

    fn tide_mark(&mut self, at: usize) -> TideMark {
        TideMark {
            at_utc_ms: self.moment(&in_row(TIDE, at, "at_utc_ms")),
            height_m: self.number(&in_row(TIDE, at, "height_m")),
        }
    }

    fn danger(&mut self, at: usize) -> Danger {
        Danger {
            name: self.text(&in_row(DANGERS, at, "name")).to_owned(),
            latitude_deg: self.angle(&in_row(DANGERS, at, "latitude_deg"), Axis::Latitude),
            longitude_deg: self.angle(&in_row(DANGERS, at, "longitude_deg"), Axis::Longitude),
            charted_depth_m: self.perhaps(&in_row(DANGERS, at, "charted_depth_m")),
        }
    }
}

/// Moves a plan's times by whole days, so that its stay begins on the day of `now` or after it.
pub fn moved_to(mut plan: PlanInput, now: UtcMs) -> PlanInput {
    const DAY_MS: i64 = 86_400_000;
    let days = now.0.div_euclid(DAY_MS) - plan.stay.from_utc_ms.0.div_euclid(DAY_MS);
    let by = days.max(0).saturating_mul(DAY_MS);
    let move_on = |at: &mut UtcMs| at.0 = at.0.saturating_add(by);
    move_on(&mut plan.stay.from_utc_ms);
    move_on(&mut plan.stay.to_utc_ms);
    for mark in &mut plan.stay.tide {
        move_on(&mut mark.at_utc_ms);
    }
    plan
}

#[cfg(test)]
mod tests;
