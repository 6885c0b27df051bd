//! Reads JSON: parsed once into a tree, and each type out of the tree.
//!
//! A reader of text is compiled anew for each type that it reads, a tenth of all the code that a phone fetches. One over a tree is
//! a fraction of that. It reads what `serde_json` reads, but for this: of a field that stands twice the last counts, and what is
//! wrong with a value is said without its place in the text.

use serde::de::{
    self, DeserializeOwned, DeserializeSeed, EnumAccess, Error as _, Expected, MapAccess,
    SeqAccess, Unexpected, VariantAccess, Visitor,
};
use serde::forward_to_deserialize_any;
use serde_json::Value;
use std::fmt::Display;

/// Why a text was not read.
#[derive(Debug, thiserror::Error)]
pub enum BadJson {
    /// It is no JSON.
    #[error(transparent)]
    Syntax(#[from] serde_json::Error),
    /// It is not what was to be read.
    #[error("{0}")]
    Shape(Box<str>),
}

/// Reads a text.
///
/// # Errors
/// [`BadJson`], with what is wrong in words.
pub fn read<T: DeserializeOwned>(text: &str) -> Result<T, BadJson> {
    T::deserialize(Tree(&serde_json::from_str(text)?))
}

/// Reads the bytes of a text.
///
/// # Errors
/// [`BadJson`], with what is wrong in words.
pub fn read_bytes<T: DeserializeOwned>(bytes: &[u8]) -> Result<T, BadJson> {
    T::deserialize(Tree(&serde_json::from_slice(bytes)?))
}

// The words are made here, once for all types.
impl de::Error for BadJson {
    fn custom<M: Display>(words: M) -> Self {
        Self::Shape(words.to_string().into())
    }

    fn invalid_type(found: Unexpected<'_>, wanted: &dyn Expected) -> Self {
        Self::Shape(format!("{found} stands where {wanted} should").into())
    }

    fn invalid_value(found: Unexpected<'_>, wanted: &dyn Expected) -> Self {
        Self::invalid_type(found, wanted)
    }

    fn invalid_length(_: usize, wanted: &dyn Expected) -> Self {
        Self::Shape(format!("this should be {wanted}").into())
    }

    fn unknown_variant(found: &str, _: &'static [&'static str]) -> Self {
        Self::Shape(format!("nothing is called `{found}` here").into())
    }

    fn unknown_field(found: &str, known: &'static [&'static str]) -> Self {
        Self::unknown_variant(found, known)
    }

    fn missing_field(name: &'static str) -> Self {
        Self::Shape(format!("`{name}` is missing").into())
    }

    fn duplicate_field(name: &'static str) -> Self {
        Self::Shape(format!("`{name}` stands twice").into())
    }
}

/// A part of what was parsed.
#[derive(Clone, Copy)]
struct Tree<'de>(&'de Value);

impl Tree<'_> {
    #[cold]
    fn is_no(self, wanted: &str) -> BadJson {
        let found = match self.0 {
            Value::Null => "nothing",
            Value::Bool(_) => "a yes or no",
            Value::Number(_) => "a number",
            Value::String(_) => "a text",
            Value::Array(_) => "a list",
            Value::Object(_) => "an object",
        };
        BadJson::Shape(format!("{found} stands where {wanted} should").into())
    }
}

impl<'de> de::Deserializer<'de> for Tree<'de> {
    type Error = BadJson;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, BadJson> {
        match self.0 {
            Value::Null => visitor.visit_unit(),
            Value::Bool(is_so) => visitor.visit_bool(*is_so),
            Value::Number(number) => {
                if let Some(whole) = number.as_u64() {
                    visitor.visit_u64(whole)
                } else if let Some(whole) = number.as_i64() {
                    visitor.visit_i64(whole)
                } else {
                    visitor.visit_f64(number.as_f64().unwrap_or(f64::NAN))
                }
            }
            Value::String(text) => visitor.visit_borrowed_str(text),
            Value::Array(items) => visitor.visit_seq(Items(items.iter())),
            Value::Object(fields) => visitor.visit_map(Fields(fields.iter(), None)),
        }
    }

    fn deserialize_bool<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, BadJson> {
        match self.0 {
            Value::Bool(is_so) => visitor.visit_bool(*is_so),
            _ => Err(self.is_no("a yes or no")),
        }
    }

    fn deserialize_str<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, BadJson> {
        match self.0 {
            Value::String(text) => visitor.visit_borrowed_str(text),
            _ => Err(self.is_no("a text")),
        }
    }

    fn deserialize_string<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, BadJson> {
        self.deserialize_str(visitor)
    }

    fn deserialize_identifier<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, BadJson> {
        self.deserialize_str(visitor)
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, BadJson> {
        match self.0 {
            Value::Null => visitor.visit_none(),
            _ => visitor.visit_some(self),
        }
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        visitor: V,
    ) -> Result<V::Value, BadJson> {
        visitor.visit_newtype_struct(self)
    }

    fn deserialize_seq<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, BadJson> {
        let Value::Array(items) = self.0 else {
            return Err(self.is_no("a list"));
        };
        let mut items = Items(items.iter());
        let read = visitor.visit_seq(&mut items)?;
        if items.0.len() == 0 {
            Ok(read)
        } else {
            Err(BadJson::custom("the list is too long"))
        }
    }

    fn deserialize_tuple<V: Visitor<'de>>(self, _: usize, visitor: V) -> Result<V::Value, BadJson> {
        self.deserialize_seq(visitor)
    }

    fn deserialize_tuple_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        _: usize,
        visitor: V,
    ) -> Result<V::Value, BadJson> {
        self.deserialize_seq(visitor)
    }

    fn deserialize_map<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, BadJson> {
        match self.0 {
            Value::Object(fields) => visitor.visit_map(Fields(fields.iter(), None)),
            _ => Err(self.is_no("an object")),
        }
    }

    fn deserialize_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        _: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, BadJson> {
        match self.0 {
            Value::Array(_) => self.deserialize_seq(visitor),
            _ => self.deserialize_map(visitor),
        }
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _: &'static str,
        _: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, BadJson> {
        match self.0 {
            Value::String(name) => visitor.visit_enum(Variant(name, None)),
            Value::Object(fields) if fields.len() == 1 => {
                let (name, value) = fields
                    .iter()
                    .next()
                    .ok_or_else(|| self.is_no("one of several"))?;
                visitor.visit_enum(Variant(name, Some(Tree(value))))
            }
            _ => Err(self.is_no("one of several")),
        }
    }

    fn deserialize_ignored_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, BadJson> {
        visitor.visit_unit()
    }

    forward_to_deserialize_any! {
        i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 f32 f64 char bytes byte_buf unit unit_struct
    }
}

/// What of a list is still to be read.
struct Items<'de>(std::slice::Iter<'de, Value>);

impl<'de> SeqAccess<'de> for Items<'de> {
    type Error = BadJson;

    fn next_element_seed<T: DeserializeSeed<'de>>(
        &mut self,
        seed: T,
    ) -> Result<Option<T::Value>, BadJson> {
        self.0
            .next()
            .map(|item| seed.deserialize(Tree(item)))
            .transpose()
    }

    fn size_hint(&self) -> Option<usize> {
        Some(self.0.len())
    }
}

/// What of an object is still to be read, and the value whose name was read last.
struct Fields<'de>(serde_json::map::Iter<'de>, Option<&'de Value>);

impl<'de> MapAccess<'de> for Fields<'de> {
    type Error = BadJson;

    fn next_key_seed<K: DeserializeSeed<'de>>(
        &mut self,
        seed: K,
    ) -> Result<Option<K::Value>, BadJson> {
        let Some((name, value)) = self.0.next() else {
            return Ok(None);
        };
        self.1 = Some(value);
        seed.deserialize(Name(name)).map(Some)
    }

    fn next_value_seed<V: DeserializeSeed<'de>>(&mut self, seed: V) -> Result<V::Value, BadJson> {
        let value = self
            .1
            .take()
            .ok_or_else(|| BadJson::custom("a value before its name"))?;
        seed.deserialize(Tree(value))
    }
}

/// The name of a field; where the names are numbers, the number.
struct Name<'de>(&'de str);

macro_rules! numbers {
    ($($method:ident $visit:ident),*) => {$(
        fn $method<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, BadJson> {
            match self.0.parse() {
                Ok(number) => visitor.$visit(number),
                Err(_) => Err(BadJson::invalid_type(Unexpected::Str(self.0), &visitor)),
            }
        }
    )*};
}

impl<'de> de::Deserializer<'de> for Name<'de> {
    type Error = BadJson;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, BadJson> {
        visitor.visit_borrowed_str(self.0)
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, BadJson> {
        visitor.visit_some(self)
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        visitor: V,
    ) -> Result<V::Value, BadJson> {
        visitor.visit_newtype_struct(self)
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _: &'static str,
        _: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, BadJson> {
        visitor.visit_enum(Variant(self.0, None))
    }

    numbers! {
        deserialize_i8 visit_i8, deserialize_i16 visit_i16, deserialize_i32 visit_i32, deserialize_i64 visit_i64,
        deserialize_u8 visit_u8, deserialize_u16 visit_u16, deserialize_u32 visit_u32, deserialize_u64 visit_u64
    }

    forward_to_deserialize_any! {
        bool i128 u128 f32 f64 char str string bytes byte_buf unit unit_struct seq tuple tuple_struct map struct
        identifier ignored_any
    }
}

/// One of several, by its name, and what stands with it.
struct Variant<'de>(&'de str, Option<Tree<'de>>);

impl<'de> EnumAccess<'de> for Variant<'de> {
    type Error = BadJson;
    type Variant = With<'de>;

    fn variant_seed<V: DeserializeSeed<'de>>(
        self,
        seed: V,
    ) -> Result<(V::Value, With<'de>), BadJson> {
        let name = seed.deserialize(Name(self.0))?;
        Ok((name, With(self.1)))
    }
}

/// What stands with the name of one of several.
struct With<'de>(Option<Tree<'de>>);

impl<'de> With<'de> {
    fn tree(self) -> Result<Tree<'de>, BadJson> {
        self.0
            .ok_or_else(|| BadJson::custom("a name stands alone where more should stand with it"))
    }
}

impl<'de> VariantAccess<'de> for With<'de> {
    type Error = BadJson;

    fn unit_variant(self) -> Result<(), BadJson> {
        match self.0 {
            None | Some(Tree(Value::Null)) => Ok(()),
            Some(tree) => Err(tree.is_no("nothing")),
        }
    }

    fn newtype_variant_seed<T: DeserializeSeed<'de>>(self, seed: T) -> Result<T::Value, BadJson> {
        seed.deserialize(self.tree()?)
    }

    fn tuple_variant<V: Visitor<'de>>(
        self,
        length: usize,
        visitor: V,
    ) -> Result<V::Value, BadJson> {
        de::Deserializer::deserialize_tuple(self.tree()?, length, visitor)
    }

    fn struct_variant<V: Visitor<'de>>(
        self,
        names: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, BadJson> {
        de::Deserializer::deserialize_struct(self.tree()?, "", names, visitor)
    }
}

#[cfg(test)]
mod tests;
