//! The table of addresses as a document.

use super::{Access, Gate, PAGES, Row, TABLE, Whose};
use std::fmt::Write as _;

const HEAD: &str = "\
# The HTTP interface

Made from the table of addresses in `app/journal/src/address.rs`; a test compares the two, and
`CLEARHAWSE_WRITE=1 cargo test -p journal --test api` writes this file anew. What each role may do stands in
SECURITY.md.

Unless the table says *anybody*, a request carries the cookie of a session: without one the answer is 401,
without the permission 403. What went wrong is told in one line of plain text. A request that changes
something is refused when another site's page sends it. JSON types are named as the crates `journal` and
`record` define them; keys, signatures and hashes in them are hexadecimal.
";

fn who(access: Access) -> String {
    match access {
        Access::Open => "anybody".to_owned(),
        Access::Gated(Gate::SignedIn) => "whoever is signed in".to_owned(),
        Access::Gated(Gate::Needs(permission, whose)) => {
            let whose = match whose {
                Whose::OwnVessel => "this server's vessel",
                Whose::CallersVessel => "the caller's vessel",
                Whose::PathVessel => "the vessel in the path",
                Whose::BodyVessel => "the vessel in the body",
                Whose::EachVessel => "each vessel shown",
            };
            format!("{permission:?}, {whose}")
        }
    }
}

fn line(text: &mut String, row: &Row) {
    let names: Vec<String> = row.query.iter().map(|name| format!("{name}=")).collect();
    let sign = if names.is_empty() { "" } else { "?" };
    let query = names.join("&");
    // Writing to text cannot fail.
    let _ = writeln!(
        text,
        "| {} | `{}{sign}{query}` | {} | {} | {} | {} |",
        row.method.name(),
        row.path,
        who(row.access),
        (row.request)(),
        (row.answer)(),
        row.summary,
    );
}

/// Returns the document: a line for each address, then the pages.
pub fn description() -> String {
    let mut text = format!(
        "{HEAD}\n| method | path | permission | request | answer | what it does |\n|---|---|---|---|---|---|\n"
    );
    for row in TABLE {
        line(&mut text, row);
    }
    text.push_str("\n## Pages\n\nWithout a session the server draws none of them: it answers with an empty shell, in which the program signs\nin; with 200 where the page needs no record, else with 401.\n\n| path | without a session |\n|---|---|\n");
    for page in PAGES {
        let status = if page.is_open { 200 } else { 401 };
        let _ = writeln!(text, "| `{}` | {status} |", page.path);
    }
    text
}
