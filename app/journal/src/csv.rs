//! Tables of comma-separated values, as they go out and come in.

/// More letters than a table of the ship's has.
const MOST_BYTES: usize = 256 * 1024;

/// What is wrong with a table, and where.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("line {line}, column {column}: {what}")]
pub struct TableFault {
    /// The line, from 1.
    pub line: usize,
    /// The column's heading, or its number where it has none.
    pub column: String,
    /// What is wrong.
    pub what: String,
}

impl TableFault {
    /// Says what is wrong with the whole of a table.
    pub(crate) fn of_all(what: String) -> Self {
        Self {
            line: 1,
            column: "1".to_owned(),
            what,
        }
    }
}

/// Writes a field: quoted where it must be, and so that no spreadsheet takes it for a formula.
pub(crate) fn field(text: &str) -> String {
    let is_formula = text.starts_with(['=', '+', '-', '@', '\t', '\r']);
    let text = if is_formula {
        format!("'{text}")
    } else {
        text.to_owned()
    };
    if text.contains(['"', ',', ';', '\n', '\r', '\t']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text
    }
}

/// A row of a table, with the line on which it begins.
pub(crate) struct Row {
    pub line: usize,
    pub fields: Vec<String>,
}

/// Cuts a table into rows, by RFC 4180. The sign between fields is a comma, or a semicolon or a tab where the headings
/// have that and no comma, as spreadsheets of some countries write.
fn rows(text: &str) -> Result<Vec<Row>, TableFault> {
    let first = text.lines().next().unwrap_or_default();
    let between = [',', ';', '\t']
        .into_iter()
        .find(|sign| first.contains(*sign))
        .unwrap_or(',');
    let mut rows = Vec::new();
    let (mut fields, mut text_of, mut is_quoted) = (Vec::new(), String::new(), false);
    let (mut line, mut begins) = (1, 1);
    let mut signs = text
        .strip_prefix('\u{feff}')
        .unwrap_or(text)
        .chars()
        .peekable();
    while let Some(sign) = signs.next() {
        match sign {
            '"' if is_quoted && signs.peek() == Some(&'"') => {
                signs.next();
                text_of.push('"');
            }
            '"' if is_quoted => is_quoted = false,
            '"' if text_of.trim().is_empty() => {
                text_of.clear();
                is_quoted = true;
            }
            '\r' if !is_quoted && signs.peek() == Some(&'\n') => {}
            '\n' | '\r' if !is_quoted => {
                fields.push(std::mem::take(&mut text_of));
                rows.push(Row {
                    line: begins,
                    fields: std::mem::take(&mut fields),
                });
                line += 1;
                begins = line;
            }
            _ if sign == between && !is_quoted => fields.push(std::mem::take(&mut text_of)),
            _ => {
                line += usize::from(sign == '\n');
                text_of.push(sign);
            }
        }
    }
    if is_quoted {
        return Err(TableFault {
            line: begins,
            column: (fields.len() + 1).to_string(),
            what: "a quotation mark is opened and not closed".to_owned(),
        });
    }
    if !text_of.is_empty() || !fields.is_empty() {
        fields.push(text_of);
        rows.push(Row {
            line: begins,
            fields,
        });
    }
    rows.retain(|row| row.fields.iter().any(|field| !field.trim().is_empty()));
    Ok(rows)
}

/// Reads a table: its headings' row and the others.
///
/// # Errors
/// What is wrong with the whole of it.
pub(crate) fn read(text: &str) -> Result<(Row, Vec<Row>), Vec<TableFault>> {
    let whole = |what: String| vec![TableFault::of_all(what)];
    if text.len() > MOST_BYTES {
        return Err(whole(format!("the table has more than {MOST_BYTES} bytes")));
    }
    let mut rows = rows(text).map_err(|fault| vec![fault])?;
    if rows.is_empty() {
        return Err(whole("there is nothing in it".to_owned()));
    }
    let head = rows.remove(0);
    Ok((head, rows))
}

/// Returns the headings as they are compared.
pub(crate) fn headings(head: &Row) -> Vec<String> {
    let texts = head.fields.iter();
    let texts = texts.map(|text| text.trim().to_lowercase().replace(' ', "-"));
    texts.collect()
}

/// Lists what is wrong with a table's headings.
pub(crate) fn wrong_headings(head: &Row, known: &[&str], needed: &[&str]) -> Vec<TableFault> {
    let headings = headings(head);
    let mut faults = Vec::new();
    let mut fault = |column: String, what: String| {
        let line = head.line;
        faults.push(TableFault { line, column, what });
    };
    for (at, heading) in headings.iter().enumerate() {
        let column = (at + 1).to_string();
        if !known.contains(&heading.as_str()) {
            let known = known.join(", ");
            fault(
                column,
                format!("{heading:?} is no heading; known are {known}"),
            );
        } else if headings[..at].contains(heading) {
            fault(column, format!("{heading:?} stands twice"));
        }
    }
    for needed in needed {
        if !headings.iter().any(|heading| heading == needed) {
            fault((*needed).to_owned(), "there is no such column".to_owned());
        }
    }
    faults
}

/// Returns what stands in a row under a heading.
pub(crate) fn get<'r>(headings: &[String], row: &'r Row, heading: &str) -> &'r str {
    let at = headings.iter().position(|known| known == heading);
    let text = at
        .and_then(|at| row.fields.get(at))
        .map_or("", |text| text.trim());
    // What was put before a formula when the table went out.
    let rest = text.strip_prefix('\'');
    rest.filter(|rest| rest.starts_with(['=', '+', '-', '@']))
        .unwrap_or(text)
}
