//! JSON as it stands, whatever it means.

use serde::de::{Deserialize, Deserializer, MapAccess, SeqAccess, Visitor};
use std::borrow::Cow;
use std::fmt;

/// A text, out of the JSON itself where nothing in it is escaped.
pub type Text<'a> = Cow<'a, str>;

/// Any JSON.
#[derive(Debug, Clone, PartialEq)]
pub enum Tree<'a> {
    Null,
    Bool(bool),
    Natural(u64),
    Whole(i64),
    Number(f64),
    Text(Text<'a>),
    List(Vec<Tree<'a>>),
    /// In the order in which they stand; a name may stand there twice.
    Object(Vec<(Text<'a>, Tree<'a>)>),
}

/// Reads any JSON.
///
/// # Errors
/// Words that name the line and the column.
pub fn parse(text: &str) -> Result<Tree<'_>, String> {
    serde_json::from_str(text).map_err(|error| error.to_string())
}

impl<'de> Deserialize<'de> for Tree<'de> {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        from.deserialize_any(Builder)
    }
}

struct Builder;

impl<'de> Visitor<'de> for Builder {
    type Value = Tree<'de>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("JSON")
    }

    fn visit_unit<E>(self) -> Result<Tree<'de>, E> {
        Ok(Tree::Null)
    }

    fn visit_bool<E>(self, is: bool) -> Result<Tree<'de>, E> {
        Ok(Tree::Bool(is))
    }

    fn visit_u64<E>(self, is: u64) -> Result<Tree<'de>, E> {
        Ok(Tree::Natural(is))
    }

    fn visit_i64<E>(self, is: i64) -> Result<Tree<'de>, E> {
        Ok(Tree::Whole(is))
    }

    fn visit_f64<E>(self, is: f64) -> Result<Tree<'de>, E> {
        Ok(Tree::Number(is))
    }

    fn visit_str<E>(self, is: &str) -> Result<Tree<'de>, E> {
        Ok(Tree::Text(Cow::Owned(is.to_owned())))
    }

    fn visit_borrowed_str<E>(self, is: &'de str) -> Result<Tree<'de>, E> {
        Ok(Tree::Text(Cow::Borrowed(is)))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut from: A) -> Result<Tree<'de>, A::Error> {
        let mut all = Vec::new();
        while let Some(element) = from.next_element()? {
            all.push(element);
        }
        Ok(Tree::List(all))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut from: A) -> Result<Tree<'de>, A::Error> {
        let mut all = Vec::new();
        while let Some(Name(name)) = from.next_key()? {
            all.push((name, from.next_value()?));
        }
        Ok(Tree::Object(all))
    }
}

/// A field's name, borrowed where it can be.
struct Name<'a>(Text<'a>);

impl<'de> Deserialize<'de> for Name<'de> {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct Reader;
        impl<'de> Visitor<'de> for Reader {
            type Value = Name<'de>;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a name")
            }

            fn visit_str<E>(self, is: &str) -> Result<Name<'de>, E> {
                Ok(Name(Cow::Owned(is.to_owned())))
            }

            fn visit_borrowed_str<E>(self, is: &'de str) -> Result<Name<'de>, E> {
                Ok(Name(Cow::Borrowed(is)))
            }
        }
        from.deserialize_str(Reader)
    }
}
