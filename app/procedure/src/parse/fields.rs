//! Takes values out of a TOML table, noting what is missing, wrong or unknown.

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::Notes;
use crate::Decimal;
use crate::definition::{Bound, Limits, Span};
use crate::ids::StepId;

/// The values of one table, and which of them have been taken.
pub(crate) struct Fields<'a, 't> {
    table: &'a DeTable<'t>,
    at: usize,
    taken: Vec<&'static str>,
}

impl<'a, 't> Fields<'a, 't> {
    pub fn new(table: &'a DeTable<'t>, at: usize) -> Self {
        Self {
            table,
            at,
            taken: Vec::new(),
        }
    }

    /// Returns whether the table has a key at all.
    pub fn has(&self, key: &str) -> bool {
        self.table.contains_key(key)
    }

    /// Returns where the table stands in the file.
    pub fn at(&self) -> usize {
        self.at
    }

    /// Returns where a key's value stands in the file, or the table.
    pub fn place(&self, key: &str) -> usize {
        super::place(self.table, key, self.at)
    }

    fn value(&mut self, key: &'static str) -> Option<&'a Spanned<DeValue<'t>>> {
        self.taken.push(key);
        self.table.get(key)
    }

    /// Notes every key that nobody asked for.
    pub fn no_others(&self, notes: &mut Notes<'_>) {
        for key in self.table.keys() {
            let name = key.get_ref().as_ref();
            if !self.taken.contains(&name) {
                let known = self.taken.join(", ");
                notes.mistake(
                    key.span().start,
                    format!("'{name}' is not known here; known are {known}"),
                );
            }
        }
    }

    pub fn text(&mut self, notes: &mut Notes<'_>, key: &'static str) -> Option<String> {
        let value = self.value(key)?;
        match value.get_ref().as_str() {
            Some(text) if !text.trim().is_empty() => Some(text.trim().to_owned()),
            Some(_) => {
                notes.mistake(value.span().start, format!("'{key}' is empty"));
                None
            }
            None => {
                notes.mistake(
                    value.span().start,
                    format!("'{key}' must be text in quotes"),
                );
                None
            }
        }
    }

    pub fn need_text(&mut self, notes: &mut Notes<'_>, key: &'static str) -> Option<String> {
        if !self.table.contains_key(key) {
            self.taken.push(key);
            notes.mistake(self.at, format!("'{key}' is missing"));
            return None;
        }
        self.text(notes, key)
    }

    pub fn need_name(&mut self, notes: &mut Notes<'_>, key: &'static str) -> Option<String> {
        let name = self.need_text(notes, key)?;
        self.check_name(notes, key, name)
    }

    fn check_name(&self, notes: &mut Notes<'_>, key: &str, name: String) -> Option<String> {
        let good = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
        if name.chars().all(good) {
            return Some(name);
        }
        notes.mistake(
            self.place(key),
            format!("'{key}' is \"{name}\": only small letters, digits and hyphens"),
        );
        None
    }

    /// Takes the short name of a kind of gear, where the key is there. A ship may have kinds of her own, so any name goes.
    pub fn need_kind(&mut self, notes: &mut Notes<'_>, key: &'static str) -> Option<String> {
        let name = self.text(notes, key)?;
        self.check_name(notes, key, name)
    }

    pub fn texts(&mut self, notes: &mut Notes<'_>, key: &'static str) -> Option<Vec<String>> {
        let value = self.value(key)?;
        let Some(array) = value.get_ref().as_array() else {
            notes.mistake(
                value.span().start,
                format!("'{key}' must be a list, such as [\"…\"]"),
            );
            return None;
        };
        let mut texts = Vec::with_capacity(array.len());
        for item in array {
            match item.get_ref().as_str() {
                Some(text) if !text.trim().is_empty() => texts.push(text.trim().to_owned()),
                _ => notes.mistake(
                    item.span().start,
                    format!("'{key}' must hold texts in quotes, none empty"),
                ),
            }
        }
        Some(texts)
    }

    pub fn steps(&mut self, notes: &mut Notes<'_>, key: &'static str) -> Option<Vec<StepId>> {
        Some(
            self.texts(notes, key)?
                .into_iter()
                .map(StepId::new)
                .collect(),
        )
    }

    pub fn yes_or_no(&mut self, notes: &mut Notes<'_>, key: &'static str) -> bool {
        let Some(value) = self.value(key) else {
            return false;
        };
        value.get_ref().as_bool().unwrap_or_else(|| {
            notes.mistake(value.span().start, format!("'{key}' must be true or false"));
            false
        })
    }

    /// Reads whether a second person signs, and whether that may be later.
    pub fn second(&mut self, notes: &mut Notes<'_>) -> (bool, bool) {
        let Some(value) = self.value("second") else {
            return (false, false);
        };
        match value.get_ref() {
            DeValue::Boolean(second) => (*second, false),
            DeValue::String(word) if word == "later" => (true, true),
            _ => {
                let what = "'second' must be true, false or \"later\"";
                notes.mistake(value.span().start, what);
                (false, false)
            }
        }
    }

    pub fn whole(&mut self, notes: &mut Notes<'_>, key: &'static str) -> Option<u32> {
        let value = self.value(key)?;
        let whole = match value.get_ref() {
            DeValue::Integer(n) if n.radix() == 10 => n.as_str().replace('_', "").parse().ok(),
            _ => None,
        };
        if whole.is_none() {
            notes.mistake(
                value.span().start,
                format!("'{key}' must be a whole number, 0 or more"),
            );
        }
        whole
    }

    pub fn word<T: Copy>(
        &mut self,
        notes: &mut Notes<'_>,
        key: &'static str,
        words: &[(&str, T)],
    ) -> Option<T> {
        let value = self.value(key)?;
        let text = value.get_ref().as_str();
        let found = words.iter().find(|(word, _)| text == Some(word));
        if found.is_none() {
            let list: Vec<_> = words
                .iter()
                .map(|(word, _)| format!("\"{word}\""))
                .collect();
            let given = text.map_or_else(String::new, |text| format!(", not \"{text}\""));
            let list = list.join(", ");
            notes.mistake(
                value.span().start,
                format!("'{key}' must be one of {list}{given}"),
            );
        }
        found.map(|(_, meant)| *meant)
    }

    pub fn span(&mut self, notes: &mut Notes<'_>, key: &'static str) -> Option<Span> {
        let value = self.value(key)?;
        let read = value.get_ref().as_str().and_then(read_span);
        if read.is_none() {
            notes.mistake(
                value.span().start,
                format!(
                    "'{key}' must be a time such as \"90 s\", \"30 min\", \"8 h\", \"7 d\", or \"setting:…\" or \"computed:…\""
                ),
            );
        }
        if let Some(span) = &read {
            notes.check_span(value.span().start, key, span);
        }
        read
    }

    pub fn limits(&mut self, notes: &mut Notes<'_>) -> Limits {
        let at = self.at;
        let limits = Limits {
            min: self.bound(notes, "min"),
            above: self.bound(notes, "above"),
            max: self.bound(notes, "max"),
            below: self.bound(notes, "below"),
            not_past: self.yes_or_no(notes, "not_past").then_some(true),
        };
        let others = [&limits.min, &limits.above, &limits.max, &limits.below];
        if limits.not_past.is_some() && others.iter().any(|other| other.is_some()) {
            notes.mistake(at, "'not_past' takes no other limit beside it");
        }
        if limits.min.is_some() && limits.above.is_some() {
            notes.mistake(
                at,
                "'min' and 'above' are both given; one lower limit is enough",
            );
        }
        if limits.max.is_some() && limits.below.is_some() {
            notes.mistake(
                at,
                "'max' and 'below' are both given; one upper limit is enough",
            );
        }
        let lower = limits.min.as_ref().or(limits.above.as_ref());
        let upper = limits.max.as_ref().or(limits.below.as_ref());
        if let (Some(Bound::Number(low)), Some(Bound::Number(high))) = (lower, upper) {
            let strict = limits.above.is_some() || limits.below.is_some();
            if low > high || (strict && low == high) {
                notes.mistake(
                    at,
                    format!("the limits {low} and {high} leave no number between them"),
                );
            }
        }
        limits
    }

    pub fn bound(&mut self, notes: &mut Notes<'_>, key: &'static str) -> Option<Bound> {
        let value = self.value(key)?;
        let bound = match value.get_ref() {
            DeValue::Integer(n) if n.radix() == 10 => number(n.as_str()),
            DeValue::Float(n) => number(n.as_str()),
            DeValue::String(text) => read_here(text).or_else(|| {
                named(text).map(|(computed, name)| {
                    if computed {
                        Bound::Computed(name)
                    } else {
                        Bound::Setting(name)
                    }
                })
            }),
            _ => None,
        };
        if bound.is_none() {
            notes.mistake(
                value.span().start,
                format!(
                    "'{key}' must be a number of at most 18 digits, \"setting:…\", \"computed:…\" or \"reading:STEP/POINT\""
                ),
            );
        }
        if let Some(bound) = &bound {
            notes.check_bound(value.span().start, key, bound);
        }
        bound
    }

    pub fn numbers(&mut self, notes: &mut Notes<'_>, key: &'static str) -> Option<Vec<Decimal>> {
        let value = self.value(key)?;
        let array = value.get_ref().as_array();
        let read = array.and_then(|array| {
            let number = |item: &Spanned<DeValue<'_>>| match item.get_ref() {
                DeValue::Integer(n) if n.radix() == 10 => n.as_str().replace('_', "").parse().ok(),
                DeValue::Float(n) => n.as_str().replace('_', "").parse().ok(),
                _ => None,
            };
            array.iter().map(number).collect::<Option<Vec<Decimal>>>()
        });
        if read.is_none() {
            notes.mistake(
                value.span().start,
                format!("'{key}' must be a list of numbers"),
            );
        }
        read
    }

    /// Takes a list of tables: `[[key]]` in the file, or one table alone.
    pub fn tables(
        &mut self,
        notes: &mut Notes<'_>,
        key: &'static str,
    ) -> Vec<(&'a DeTable<'t>, usize)> {
        let Some(value) = self.value(key) else {
            return Vec::new();
        };
        if let Some(table) = value.get_ref().as_table() {
            return vec![(table, value.span().start)];
        }
        let Some(array) = value.get_ref().as_array() else {
            notes.mistake(
                value.span().start,
                format!("'{key}' must be a table or a list of tables"),
            );
            return Vec::new();
        };
        let mut tables = Vec::with_capacity(array.len());
        for item in array {
            match item.get_ref().as_table() {
                Some(table) => tables.push((table, item.span().start)),
                None => notes.mistake(item.span().start, format!("'{key}' must hold tables")),
            }
        }
        tables
    }
}

fn number(text: &str) -> Option<Bound> {
    text.replace('_', "").parse().ok().map(Bound::Number)
}

/// Reads `reading:step/point`.
fn read_here(text: &str) -> Option<Bound> {
    let (step, point) = text.strip_prefix("reading:")?.trim().split_once('/')?;
    let good = |name: &str| {
        let mut all = name.chars();
        !name.is_empty() && all.all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-')
    };
    (good(step) && good(point)).then(|| Bound::Read {
        step: StepId::new(step),
        point: point.to_owned(),
    })
}

/// Splits `setting:name` and `computed:name`; the flag says that it is computed.
fn named(text: &str) -> Option<(bool, String)> {
    let (computed, name) = match text.split_once(':')? {
        ("setting", name) => (false, name.trim()),
        ("computed", name) => (true, name.trim()),
        _ => return None,
    };
    let good = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_';
    (!name.is_empty() && name.chars().all(good)).then(|| (computed, name.to_owned()))
}

fn read_span(text: &str) -> Option<Span> {
    if let Some((computed, name)) = named(text) {
        return Some(if computed {
            Span::Computed(name)
        } else {
            Span::Setting(name)
        });
    }
    let text = text.trim();
    let split = text.find(|c: char| !c.is_ascii_digit())?;
    let count: i64 = text[..split].parse().ok()?;
    let unit_ms = match text[split..].trim() {
        "s" => 1_000,
        "min" => 60_000,
        "h" => 3_600_000,
        "d" => 86_400_000,
        _ => return None,
    };
    let ms = count.checked_mul(unit_ms)?;
    (ms > 0 && ms <= 3_200_000_000_000).then_some(Span::Fixed(ms))
}
