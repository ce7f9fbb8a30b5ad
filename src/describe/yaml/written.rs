//! Words, lists and points as they are written, before anything is known of what they mean.

use std::borrow::Cow;
use std::fmt;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Deserialize;
use serde::de::{self, Deserializer};

use super::quantity::Quantity;
use crate::tolerance::LONGEST_WORD;

/// The error for a text longer than any name or quantity.
pub(super) fn too_long<E: de::Error>(value: &str, expected: &dyn de::Expected) -> E {
    let found = format!("a text of {} letters, more than {LONGEST_WORD},", value.chars().count());
    E::invalid_value(de::Unexpected::Other(&found), expected)
}

/// A name; a number is read as one.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Name(pub String);

impl<'de> Deserialize<'de> for Name {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Visitor;
        impl de::Visitor<'_> for Visitor {
            type Value = Name;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a name")
            }
            fn visit_str<E: de::Error>(self, value: &str) -> Result<Name, E> {
                if value.len() > LONGEST_WORD {
                    return Err(too_long(value, &self));
                }
                Ok(Name(value.to_owned()))
            }
            fn visit_u64<E>(self, value: u64) -> Result<Name, E> {
                Ok(Name(value.to_string()))
            }
            fn visit_i64<E>(self, value: i64) -> Result<Name, E> {
                Ok(Name(value.to_string()))
            }
            fn visit_f64<E>(self, value: f64) -> Result<Name, E> {
                Ok(Name(value.to_string()))
            }
        }
        deserializer.deserialize_any(Visitor)
    }
}

impl JsonSchema for Name {
    fn inline_schema() -> bool {
        true
    }
    fn schema_name() -> Cow<'static, str> {
        "Name".into()
    }
    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": ["string", "number"] })
    }
}

/// Either one word (or number) or a map of keys.
#[derive(Debug, Clone, PartialEq)]
pub enum WordOr<T> {
    /// One word or number, as written: what stands for the whole without any keys.
    Word(Quantity),
    /// A map of keys.
    Keys(T),
}

impl<'de, T: Deserialize<'de>> Deserialize<'de> for WordOr<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Visitor<T>(std::marker::PhantomData<T>);
        impl<'de, T: Deserialize<'de>> de::Visitor<'de> for Visitor<T> {
            type Value = WordOr<T>;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a word, a number or a map of keys")
            }
            fn visit_str<E: de::Error>(self, value: &str) -> Result<Self::Value, E> {
                if value.len() > LONGEST_WORD {
                    return Err(too_long(value, &self));
                }
                Ok(WordOr::Word(Quantity::Text(value.to_owned())))
            }
            fn visit_u64<E>(self, value: u64) -> Result<Self::Value, E> {
                Ok(WordOr::Word(Quantity::Number(value as f64)))
            }
            fn visit_i64<E>(self, value: i64) -> Result<Self::Value, E> {
                Ok(WordOr::Word(Quantity::Number(value as f64)))
            }
            fn visit_f64<E>(self, value: f64) -> Result<Self::Value, E> {
                Ok(WordOr::Word(Quantity::Number(value)))
            }
            fn visit_map<A: de::MapAccess<'de>>(self, map: A) -> Result<Self::Value, A::Error> {
                T::deserialize(de::value::MapAccessDeserializer::new(map)).map(WordOr::Keys)
            }
        }
        deserializer.deserialize_any(Visitor(std::marker::PhantomData))
    }
}

impl<T: JsonSchema> JsonSchema for WordOr<T> {
    fn inline_schema() -> bool {
        true
    }
    fn schema_name() -> Cow<'static, str> {
        format!("WordOr{}", T::schema_name()).into()
    }
    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let keys = generator.subschema_for::<T>();
        json_schema!({ "anyOf": [{ "type": ["string", "number"] }, keys] })
    }
}

/// Either a list or a map of keys.
#[derive(Debug, Clone, PartialEq)]
pub enum ListOr<L, T> {
    /// A list of such items, in the file's order.
    List(Vec<L>),
    /// A map of keys, or a bare value.
    One(T),
}

impl<'de, L: Deserialize<'de>, T: Deserialize<'de> + FromWord> Deserialize<'de> for ListOr<L, T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Visitor<L, T>(std::marker::PhantomData<(L, T)>);
        impl<'de, L: Deserialize<'de>, T: Deserialize<'de> + FromWord> de::Visitor<'de> for Visitor<L, T> {
            type Value = ListOr<L, T>;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(T::EXPECTED)
            }
            fn visit_str<E: de::Error>(self, value: &str) -> Result<Self::Value, E> {
                if value.len() > LONGEST_WORD {
                    return Err(too_long(value, &self));
                }
                let word = T::from_word(Quantity::Text(value.to_owned()));
                word.map(ListOr::One)
                    .ok_or_else(|| E::invalid_value(de::Unexpected::Str(value), &self))
            }
            fn visit_u64<E: de::Error>(self, value: u64) -> Result<Self::Value, E> {
                let word = T::from_word(Quantity::Number(value as f64));
                word.map(ListOr::One)
                    .ok_or_else(|| E::invalid_type(de::Unexpected::Unsigned(value), &self))
            }
            fn visit_i64<E: de::Error>(self, value: i64) -> Result<Self::Value, E> {
                let word = T::from_word(Quantity::Number(value as f64));
                word.map(ListOr::One)
                    .ok_or_else(|| E::invalid_type(de::Unexpected::Signed(value), &self))
            }
            fn visit_f64<E: de::Error>(self, value: f64) -> Result<Self::Value, E> {
                let word = T::from_word(Quantity::Number(value));
                word.map(ListOr::One)
                    .ok_or_else(|| E::invalid_type(de::Unexpected::Float(value), &self))
            }
            fn visit_map<A: de::MapAccess<'de>>(self, map: A) -> Result<Self::Value, A::Error> {
                T::deserialize(de::value::MapAccessDeserializer::new(map)).map(ListOr::One)
            }
            fn visit_seq<A: de::SeqAccess<'de>>(self, seq: A) -> Result<Self::Value, A::Error> {
                Vec::deserialize(de::value::SeqAccessDeserializer::new(seq)).map(ListOr::List)
            }
        }
        deserializer.deserialize_any(Visitor(std::marker::PhantomData))
    }
}

impl<L: JsonSchema, T: JsonSchema> JsonSchema for ListOr<L, T> {
    fn inline_schema() -> bool {
        true
    }
    fn schema_name() -> Cow<'static, str> {
        format!("ListOr{}{}", L::schema_name(), T::schema_name()).into()
    }
    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let (list, one) = (generator.subschema_for::<Vec<L>>(), generator.subschema_for::<T>());
        json_schema!({ "anyOf": [list, one] })
    }
}

/// What a bare word means where a list or a map may stand.
pub trait FromWord: Sized {
    /// What belongs here, for the error.
    const EXPECTED: &'static str;
    /// The value that the word stands for, if it may stand here.
    fn from_word(word: Quantity) -> Option<Self>;
}

impl FromWord for Quantity {
    const EXPECTED: &'static str = "a quantity, a word or a list";
    fn from_word(word: Quantity) -> Option<Self> {
        Some(word)
    }
}

/// A point `[x, y]`.
pub(crate) type PointText = [Quantity; 2];
