//! In which form something is sent or answered: markers for the table, and how each is named there.

use std::marker::PhantomData;

/// A form of a body.
pub trait Form {
    /// Its media type; empty where nothing is sent.
    const MEDIA: &'static str;

    /// Returns its name for the published description.
    fn name() -> String {
        Self::MEDIA.to_owned()
    }
}

/// No body.
#[derive(Debug)]
pub struct Nothing;

/// A value as JSON.
#[derive(Debug)]
pub struct Json<T>(PhantomData<T>);

/// A message of sync as deterministic CBOR.
#[derive(Debug)]
pub struct Cbor<T>(PhantomData<T>);

/// Server-sent events that carry a value as JSON.
#[derive(Debug)]
pub struct Events<T>(PhantomData<T>);

/// Signed records one after another (RFC 8742).
#[derive(Debug)]
pub struct CborSequence;

/// A JSON value on each line.
#[derive(Debug)]
pub struct JsonLines;

/// A table.
#[derive(Debug)]
pub struct Csv;

/// A photograph.
#[derive(Debug)]
pub struct Jpeg;

/// Bytes of a part.
#[derive(Debug)]
pub struct Octets;

/// Text.
#[derive(Debug)]
pub struct Text;

/// Returns a type's name without the modules that it lies in.
fn short<T>() -> String {
    let name = std::any::type_name::<T>();
    let mut short = String::new();
    for part in name.split_inclusive(|sign: char| !(sign.is_alphanumeric() || "_:".contains(sign)))
    {
        short.push_str(part.rsplit("::").next().unwrap_or(part));
    }
    short
}

impl Form for Nothing {
    const MEDIA: &'static str = "";
}

impl<T> Form for Json<T> {
    const MEDIA: &'static str = "application/json";

    fn name() -> String {
        format!("JSON `{}`", short::<T>())
    }
}

impl<T> Form for Cbor<T> {
    const MEDIA: &'static str = "application/cbor";

    fn name() -> String {
        format!("CBOR `{}`", short::<T>())
    }
}

impl<T> Form for Events<T> {
    const MEDIA: &'static str = "text/event-stream";

    fn name() -> String {
        format!("events of JSON `{}`", short::<T>())
    }
}

impl Form for CborSequence {
    const MEDIA: &'static str = "application/cbor-seq";
}

impl Form for JsonLines {
    const MEDIA: &'static str = "application/jsonl";
}

impl Form for Csv {
    const MEDIA: &'static str = "text/csv; charset=utf-8";
}

impl Form for Jpeg {
    const MEDIA: &'static str = "image/jpeg";
}

impl Form for Octets {
    const MEDIA: &'static str = "application/octet-stream";
}

impl Form for Text {
    const MEDIA: &'static str = "text/plain; charset=utf-8";
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_types_name_is_told_without_its_modules() {
        assert_eq!(
            short::<Vec<Option<crate::body::Person>>>(),
            "Vec<Option<Person>>"
        );
        assert_eq!(Json::<u8>::name(), "JSON `u8`");
    }
}
