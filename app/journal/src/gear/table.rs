//! The register as a table of comma-separated values, out and in: for a spreadsheet, for paper, and for a sister ship.
//!
//! What goes out comes in again. A table is taken in whole or not at all; what is wrong is said by line and column.
//! How far an item may be used goes out and is not taken in: a sister ship takes the gear without its history.

use super::new_code;
use crate::csv::{self, Row, TableFault, field};
use procedure::Decimal;
use procedure::gear::{
    DateKind, Day, GearChange, ItemCard, ItemChange, ItemFault, ItemSide, Register, Room, Service,
    Where, check_card, check_code, is_described,
};
use std::fmt::Write as _;

/// The headings, in the order in which they go out.
pub const HEADINGS: [&str; 15] = [
    "code",
    "kind",
    "name",
    "side",
    "place",
    "certificate",
    "serial",
    "made",
    "fitted",
    "tested-until",
    "calibrated-until",
    "renew-by",
    "figures",
    "under",
    "state",
];

/// As many rows as one record holds, so that they are taken in together.
const MOST_ROWS: usize = 300;

/// A table that was read: the items to be put on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Filled {
    /// What is put on, in the table's order.
    pub changes: Vec<ItemChange>,
}

/// Says how far an item may be used.
fn service_word(service: &Service) -> String {
    match service {
        Service::In => "in service".to_owned(),
        Service::Restricted(words) => format!("restricted: {words}"),
        Service::Out(words) if words.is_empty() => "out of service".to_owned(),
        Service::Out(words) => format!("out of service: {words}"),
        Service::Off => "taken off".to_owned(),
    }
}

/// Writes the register's items as a table.
pub fn write_table(register: &Register) -> String {
    let mut out = HEADINGS.join(",");
    out.push_str("\r\n");
    for file in register.items() {
        let state = file.now();
        let card = &state.card;
        let kind = register.kind(&card.kind);
        let date = |kind| {
            card.date(kind)
                .map(|day| day.to_string())
                .unwrap_or_default()
        };
        let figures: Vec<String> = card
            .figures
            .iter()
            .map(|(key, value)| {
                let unit = kind
                    .and_then(|kind| kind.figure(key))
                    .map(|figure| figure.unit.as_str());
                match unit.unwrap_or_default() {
                    "" => format!("{key} {value}"),
                    unit => format!("{key} {value} {unit}"),
                }
            })
            .collect();
        let fields = [
            file.code.clone(),
            card.kind.clone(),
            card.name.clone(),
            card.side.map(ItemSide::name).unwrap_or_default().to_owned(),
            card.room.name().to_owned(),
            card.certificate.clone(),
            card.serial.clone(),
            date(DateKind::Made),
            date(DateKind::Fitted),
            date(DateKind::TestedUntil),
            date(DateKind::CalibratedUntil),
            date(DateKind::RenewBy),
            figures.join("; "),
            card.under.clone().unwrap_or_default(),
            service_word(&state.service),
        ];
        let fields: Vec<String> = fields.iter().map(|text| field(text)).collect();
        // Writing to memory cannot fail.
        let _ = write!(out, "{}\r\n", fields.join(","));
    }
    out
}

/// Reads one table for one ship.
struct Reader<'a> {
    register: &'a Register,
    headings: Vec<String>,
    today: Day,
    faults: Vec<TableFault>,
}

impl Reader<'_> {
    fn fault(&mut self, line: usize, column: &str, what: impl Into<String>) {
        self.faults.push(TableFault {
            line,
            column: column.to_owned(),
            what: what.into(),
        });
    }

    fn get<'r>(&self, row: &'r Row, heading: &str) -> &'r str {
        csv::get(&self.headings, row, heading)
    }

    /// Finds the kind of that short name or that name.
    fn kind(&self, text: &str) -> Option<String> {
        let mut kinds = self.register.kinds();
        let found = kinds.find(|kind| kind.key == text || kind.name.eq_ignore_ascii_case(text));
        found.map(|kind| kind.key.clone())
    }

    fn card(&mut self, row: &Row) -> ItemCard {
        let line = row.line;
        let kind_text = self.get(row, "kind").to_owned();
        let kind = self.kind(&kind_text).unwrap_or(kind_text);
        let side_text = self.get(row, "side").to_lowercase().replace(' ', "-");
        let side = ItemSide::ALL
            .into_iter()
            .find(|side| side.name() == side_text);
        if side.is_none() && !side_text.is_empty() {
            let what = format!("{side_text:?} is not port, starboard or centre-line");
            self.fault(line, "side", what);
        }
        let room_text = self.get(row, "place").to_lowercase();
        let usual = self
            .register
            .kind(&kind)
            .map_or(Room::Deck, |kind| kind.room);
        let found = Room::ALL.into_iter().find(|room| room.name() == room_text);
        if found.is_none() && !room_text.is_empty() {
            let what = format!("{room_text:?} is not deck, locker, bridge or store");
            self.fault(line, "place", what);
        }
        let mut dates = Vec::new();
        for date in DateKind::ALL {
            match self.get(row, date.name()) {
                "" => {}
                text => match Day::parse(text) {
                    Ok(day) => dates.push((date, day)),
                    Err(why) => self.fault(line, date.name(), why.to_string()),
                },
            }
        }
        let figures = self.figures(row, &kind);
        let text = |heading: &str| self.get(row, heading).to_owned();
        ItemCard {
            name: text("name"),
            side,
            room: found.unwrap_or(usual),
            certificate: text("certificate"),
            serial: text("serial"),
            dates,
            figures,
            under: Some(text("under")).filter(|under| !under.is_empty()),
            kind,
        }
    }

    /// Reads figures as `length 27.5 m; grade 3`.
    fn figures(&mut self, row: &Row, kind: &str) -> Vec<(String, Decimal)> {
        let mut figures = Vec::new();
        let text = self.get(row, "figures").to_owned();
        for part in text
            .split(';')
            .map(str::trim)
            .filter(|part| !part.is_empty())
        {
            let mut words = part.split_whitespace();
            let (key, value) = (
                words.next().unwrap_or_default(),
                words.next().unwrap_or_default(),
            );
            let unit = words.collect::<Vec<_>>().join(" ");
            match value.parse::<Decimal>() {
                Ok(value) => {
                    let known = self.register.kind(kind).and_then(|kind| kind.figure(key));
                    if let Some(figure) = known
                        && unit != figure.unit
                        && !unit.is_empty()
                    {
                        let what = format!("{key} is in {}, not in {unit}", figure.unit);
                        self.fault(row.line, "figures", what);
                    }
                    figures.push((key.to_owned(), value));
                }
                Err(why) => self.fault(row.line, "figures", format!("{part:?}: {why}")),
            }
        }
        figures
    }
}

impl Reader<'_> {
    fn take(
        mut self,
        rows: &[Row],
        given: &[String],
        seed: &str,
    ) -> Result<Filled, Vec<TableFault>> {
        // A cable that the sister's settings describe becomes an item like others, where this ship describes none.
        let mut codes: Vec<String> = given.to_vec();
        codes.retain(|code| !code.is_empty() && !is_described(code));
        let mut described: Vec<(&str, String)> = Vec::new();
        let mut changes: Vec<ItemChange> = Vec::with_capacity(rows.len());
        let mut places = Vec::with_capacity(rows.len());
        for (at, (row, code)) in rows.iter().zip(given).enumerate() {
            if row.fields.len() > self.headings.len() {
                let column = (self.headings.len() + 1).to_string();
                let what = "there is more in this line than there are headings";
                self.fault(row.line, &column, what);
            }
            if is_described(code) && self.register.item(code).is_some() {
                continue;
            }
            let card = self.card(row);
            let is_new = code.is_empty() || is_described(code);
            let new = if is_new {
                let new = new_code(self.register, &card.kind, &format!("{seed} {at}"), &codes);
                codes.push(new.clone());
                described.push((code, new.clone()));
                new
            } else {
                if let Err(why) = check_code(self.register, code) {
                    self.fault(row.line, "code", why.to_string());
                }
                if given[..at].contains(code) {
                    let why = ItemFault::CodeTaken(code.clone());
                    self.fault(row.line, "code", why.to_string());
                }
                code.clone()
            };
            changes.push(ItemChange {
                item: new,
                change: GearChange::PutOn { card },
            });
            places.push(row.line);
        }
        for (change, line) in changes.iter_mut().zip(places) {
            let GearChange::PutOn { card } = &mut change.change else {
                continue;
            };
            if let Some(under) = &mut card.under
                && let Some((_, new)) = described.iter().find(|(old, _)| old == under)
            {
                under.clone_from(new);
            }
            for (place, why) in check_card(self.register, &change.item, card, &codes, self.today) {
                self.fault(line, heading(&place), why.to_string());
            }
        }
        self.faults.sort_by_key(|fault| fault.line);
        if changes.is_empty() && self.faults.is_empty() {
            self.fault(1, "1", "there is no item in it that is not here already");
        }
        if self.faults.is_empty() {
            Ok(Filled { changes })
        } else {
            Err(self.faults)
        }
    }
}

/// Returns the heading under which a part of a card stands.
fn heading(place: &Where) -> &'static str {
    match place {
        Where::Code => "code",
        Where::Kind => "kind",
        Where::Name => "name",
        Where::Side => "side",
        Where::Certificate => "certificate",
        Where::Serial => "serial",
        Where::Date(date) => date.name(),
        Where::Figure(_) => "figures",
        Where::Under => "under",
    }
}

/// Reads a table of items to be put on the register.
///
/// # Errors
/// Everything that is wrong with it, by line and column; then nothing is taken.
pub fn read_table(
    register: &Register,
    text: &str,
    seed: &str,
    now_ms: i64,
) -> Result<Filled, Vec<TableFault>> {
    let whole = |what: String| vec![TableFault::of_all(what)];
    let (head, rows) = csv::read(text)?;
    let mut reader = Reader {
        register,
        headings: csv::headings(&head),
        today: Day::of_ms(now_ms),
        faults: Vec::new(),
    };
    reader.faults = csv::wrong_headings(&head, &HEADINGS, &["kind", "name"]);
    if !reader.faults.is_empty() {
        return Err(reader.faults);
    }
    if rows.is_empty() {
        return Err(whole("there is no item in it".to_owned()));
    }
    if rows.len() > MOST_ROWS {
        return Err(whole(format!(
            "{} items are more than {MOST_ROWS}",
            rows.len()
        )));
    }
    let mut given: Vec<String> = Vec::with_capacity(rows.len());
    for row in &rows {
        given.push(reader.get(row, "code").to_owned());
    }
    reader.take(&rows, &given, seed)
}
