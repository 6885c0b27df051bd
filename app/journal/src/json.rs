//! One reader of JSON for every message.
//!
//! The text is read into a tree first, by code that is made once; then each type takes its fields out of the
//! tree. Reading each type straight from the text is faster, and makes a text reader anew for each of a
//! hundred types, which a phone has to fetch. What is accepted is the same.

mod tree;

use serde::de::value::StrDeserializer;
use serde::de::{self, DeserializeOwned, DeserializeSeed, IntoDeserializer as _, Visitor};
use std::fmt;
use tree::Tree;

/// Why a text is not what was expected: what, and where in it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JsonFault {
    /// The way to the place, the innermost part first.
    way: Vec<String>,
    what: String,
}

impl JsonFault {
    fn new(what: String) -> Self {
        Self {
            way: Vec::new(),
            what,
        }
    }

    fn below(mut self, part: String) -> Self {
        self.way.push(part);
        self
    }
}

impl fmt::Display for JsonFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.way.is_empty() {
            return f.write_str(&self.what);
        }
        let way: Vec<&str> = self.way.iter().rev().map(String::as_str).collect();
        write!(f, "{}: {}", way.join("."), self.what)
    }
}

impl std::error::Error for JsonFault {}

impl de::Error for JsonFault {
    fn custom<T: fmt::Display>(words: T) -> Self {
        Self::new(words.to_string())
    }

    fn invalid_type(is: de::Unexpected, _: &dyn de::Expected) -> Self {
        Self::new(format!("{} stands where another kind is wanted", kind(is)))
    }

    fn invalid_value(is: de::Unexpected, _: &dyn de::Expected) -> Self {
        Self::new(format!("{} is not one that may stand here", kind(is)))
    }

    fn invalid_length(is: usize, _: &dyn de::Expected) -> Self {
        Self::new(format!("{is} is not how many there have to be"))
    }

    fn unknown_variant(is: &str, _: &'static [&'static str]) -> Self {
        Self::new(format!("`{is}` is not known here"))
    }

    fn unknown_field(is: &str, _: &'static [&'static str]) -> Self {
        Self::new(format!("`{is}` is not known here"))
    }

    fn missing_field(name: &'static str) -> Self {
        Self::new(format!("`{name}` is missing"))
    }

    fn duplicate_field(name: &'static str) -> Self {
        Self::new(format!("`{name}` stands there twice"))
    }
}

fn kind(is: de::Unexpected) -> &'static str {
    match is {
        de::Unexpected::Bool(_) => "yes or no",
        de::Unexpected::Unsigned(_) | de::Unexpected::Signed(_) => "a whole number",
        de::Unexpected::Float(_) => "a number",
        de::Unexpected::Str(_) => "a text",
        de::Unexpected::Seq => "a list",
        de::Unexpected::Map => "an object",
        de::Unexpected::Unit => "null",
        _ => "something else",
    }
}

/// Reads a message.
///
/// # Errors
/// What is wrong, and where.
pub fn read<T: DeserializeOwned>(text: &str) -> Result<T, JsonFault> {
    let tree = tree::parse(text).map_err(JsonFault::new)?;
    T::deserialize(At(&tree))
}

/// A place in the tree, to be read from.
#[derive(Clone, Copy)]
struct At<'a>(&'a Tree<'a>);

impl At<'_> {
    fn refuse<T>(self) -> Result<T, JsonFault> {
        let is = match self.0 {
            Tree::Null => de::Unexpected::Unit,
            Tree::Bool(is) => de::Unexpected::Bool(*is),
            Tree::Natural(is) => de::Unexpected::Unsigned(*is),
            Tree::Whole(is) => de::Unexpected::Signed(*is),
            Tree::Number(is) => de::Unexpected::Float(*is),
            Tree::Text(is) => de::Unexpected::Str(is),
            Tree::List(_) => de::Unexpected::Seq,
            Tree::Object(_) => de::Unexpected::Map,
        };
        Err(de::Error::invalid_type(is, &""))
    }
}

fn list<'de, V: Visitor<'de>>(all: &'de [Tree<'de>], visitor: V) -> Result<V::Value, JsonFault> {
    let mut list = List { all, next: 0 };
    let value = visitor.visit_seq(&mut list)?;
    if list.next < all.len() {
        return Err(de::Error::invalid_length(all.len(), &""));
    }
    Ok(value)
}

fn object<'de, V: Visitor<'de>>(
    all: &'de [(tree::Text<'de>, Tree<'de>)],
    visitor: V,
) -> Result<V::Value, JsonFault> {
    let mut object = Object { all, next: 0 };
    let value = visitor.visit_map(&mut object)?;
    if object.next < all.len() {
        return Err(de::Error::invalid_length(all.len(), &""));
    }
    Ok(value)
}

/// The elements of a list that have not been taken.
struct List<'a> {
    all: &'a [Tree<'a>],
    next: usize,
}

impl<'de> de::SeqAccess<'de> for &mut List<'de> {
    type Error = JsonFault;

    fn next_element_seed<T: DeserializeSeed<'de>>(
        &mut self,
        seed: T,
    ) -> Result<Option<T::Value>, JsonFault> {
        let Some(element) = self.all.get(self.next) else {
            return Ok(None);
        };
        self.next += 1;
        match seed.deserialize(At(element)) {
            Ok(value) => Ok(Some(value)),
            Err(fault) => Err(fault.below(self.next.to_string())),
        }
    }

    fn size_hint(&self) -> Option<usize> {
        Some(self.all.len() - self.next)
    }
}

/// The fields of an object that have not been taken.
struct Object<'a> {
    all: &'a [(tree::Text<'a>, Tree<'a>)],
    next: usize,
}

impl<'de> de::MapAccess<'de> for &mut Object<'de> {
    type Error = JsonFault;

    fn next_key_seed<K: DeserializeSeed<'de>>(
        &mut self,
        seed: K,
    ) -> Result<Option<K::Value>, JsonFault> {
        match self.all.get(self.next) {
            Some((name, _)) => seed.deserialize(Name(name)).map(Some),
            None => Ok(None),
        }
    }

    fn next_value_seed<V: DeserializeSeed<'de>>(&mut self, seed: V) -> Result<V::Value, JsonFault> {
        let Some((name, value)) = self.all.get(self.next) else {
            return Err(JsonFault::new("there is no further field".to_owned()));
        };
        self.next += 1;
        seed.deserialize(At(value))
            .map_err(|fault| fault.below(name.to_string()))
    }
}

/// The name of a field. As the key of a map it may stand for a number.
struct Name<'a>(&'a str);

macro_rules! numbers_in_names {
    ($($read:ident $visit:ident $type:ty;)+) => {
        $(fn $read<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, JsonFault> {
            match self.0.parse::<$type>() {
                Ok(number) => visitor.$visit(number),
                Err(_) => visitor.visit_borrowed_str(self.0),
            }
        })+
    };
}

impl<'de> de::Deserializer<'de> for Name<'de> {
    type Error = JsonFault;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, JsonFault> {
        visitor.visit_borrowed_str(self.0)
    }

    numbers_in_names! {
        deserialize_u8 visit_u64 u64;
        deserialize_u16 visit_u64 u64;
        deserialize_u32 visit_u64 u64;
        deserialize_u64 visit_u64 u64;
        deserialize_i8 visit_i64 i64;
        deserialize_i16 visit_i64 i64;
        deserialize_i32 visit_i64 i64;
        deserialize_i64 visit_i64 i64;
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, JsonFault> {
        visitor.visit_some(self)
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        visitor: V,
    ) -> Result<V::Value, JsonFault> {
        visitor.visit_newtype_struct(self)
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _: &'static str,
        _: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, JsonFault> {
        let name: StrDeserializer<'_, JsonFault> = self.0.into_deserializer();
        visitor.visit_enum(name)
    }

    serde::forward_to_deserialize_any! {
        bool i128 u128 f32 f64 char str string bytes byte_buf unit unit_struct seq tuple tuple_struct map
        struct identifier ignored_any
    }
}

/// One of several: by its name alone, or by its name and what belongs to it.
struct Variant<'a> {
    name: &'a str,
    content: Option<At<'a>>,
}

impl<'de> Variant<'de> {
    fn content(self) -> Result<At<'de>, JsonFault> {
        self.content
            .ok_or_else(|| JsonFault::new(format!("`{}` lacks what belongs to it", self.name)))
    }

    fn below<T>(name: &str, read: Result<T, JsonFault>) -> Result<T, JsonFault> {
        read.map_err(|fault| fault.below(name.to_owned()))
    }
}

impl<'de> de::EnumAccess<'de> for Variant<'de> {
    type Error = JsonFault;
    type Variant = Self;

    fn variant_seed<V: DeserializeSeed<'de>>(self, seed: V) -> Result<(V::Value, Self), JsonFault> {
        Ok((seed.deserialize(Name(self.name))?, self))
    }
}

impl<'de> de::VariantAccess<'de> for Variant<'de> {
    type Error = JsonFault;

    fn unit_variant(self) -> Result<(), JsonFault> {
        match self.content {
            None | Some(At(Tree::Null)) => Ok(()),
            Some(at) => at.refuse(),
        }
    }

    fn newtype_variant_seed<T: DeserializeSeed<'de>>(self, seed: T) -> Result<T::Value, JsonFault> {
        Self::below(self.name, seed.deserialize(self.content()?))
    }

    fn tuple_variant<V: Visitor<'de>>(self, _: usize, visitor: V) -> Result<V::Value, JsonFault> {
        let name = self.name;
        Self::below(
            name,
            de::Deserializer::deserialize_seq(self.content()?, visitor),
        )
    }

    fn struct_variant<V: Visitor<'de>>(
        self,
        fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, JsonFault> {
        let name = self.name;
        let content = self.content()?;
        Self::below(
            name,
            de::Deserializer::deserialize_struct(content, "", fields, visitor),
        )
    }
}

impl<'de> de::Deserializer<'de> for At<'de> {
    type Error = JsonFault;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, JsonFault> {
        match self.0 {
            Tree::Null => visitor.visit_unit(),
            Tree::Bool(is) => visitor.visit_bool(*is),
            Tree::Natural(is) => visitor.visit_u64(*is),
            Tree::Whole(is) => visitor.visit_i64(*is),
            Tree::Number(is) => visitor.visit_f64(*is),
            Tree::Text(is) => visitor.visit_borrowed_str(is),
            Tree::List(all) => list(all, visitor),
            Tree::Object(all) => object(all, visitor),
        }
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, JsonFault> {
        match self.0 {
            Tree::Null => visitor.visit_none(),
            _ => visitor.visit_some(self),
        }
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        visitor: V,
    ) -> Result<V::Value, JsonFault> {
        visitor.visit_newtype_struct(self)
    }

    fn deserialize_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        _: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, JsonFault> {
        match self.0 {
            Tree::Object(all) => object(all, visitor),
            Tree::List(all) => list(all, visitor),
            _ => self.refuse(),
        }
    }

    fn deserialize_map<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, JsonFault> {
        match self.0 {
            Tree::Object(all) => object(all, visitor),
            _ => self.refuse(),
        }
    }

    fn deserialize_seq<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, JsonFault> {
        match self.0 {
            Tree::List(all) => list(all, visitor),
            _ => self.refuse(),
        }
    }

    fn deserialize_str<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, JsonFault> {
        match self.0 {
            Tree::Text(is) => visitor.visit_borrowed_str(is),
            _ => self.refuse(),
        }
    }

    fn deserialize_string<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, JsonFault> {
        self.deserialize_str(visitor)
    }

    fn deserialize_identifier<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, JsonFault> {
        self.deserialize_str(visitor)
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _: &'static str,
        _: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, JsonFault> {
        match self.0 {
            Tree::Text(name) => visitor.visit_enum(Variant {
                name,
                content: None,
            }),
            Tree::Object(all) => match all.as_slice() {
                [(name, content)] => visitor.visit_enum(Variant {
                    name,
                    content: Some(At(content)),
                }),
                _ => Err(de::Error::invalid_length(all.len(), &"")),
            },
            _ => self.refuse(),
        }
    }

    fn deserialize_ignored_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, JsonFault> {
        visitor.visit_unit()
    }

    serde::forward_to_deserialize_any! {
        bool i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 f32 f64 char bytes byte_buf unit unit_struct tuple
        tuple_struct
    }
}

#[cfg(test)]
mod tests;
