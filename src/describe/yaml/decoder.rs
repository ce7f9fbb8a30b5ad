//! Hands a parsed file to serde more strictly than the parser's own value type does: keys stay
//! keys, a key with nothing behind it is an error, and what is wrong comes back as a [`Fault`] in
//! plain words instead of a sentence about Rust types.

use std::fmt;

use serde::de::value::{MapDeserializer, SeqDeserializer};
use serde::de::{self, Deserializer, Expected, IntoDeserializer, Unexpected, Visitor};
use serde::forward_to_deserialize_any;
use serde_yaml::Value;

/// What is wrong with a value.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Fault {
    /// A key that is not known here, and those that are.
    UnknownKey { key: String, known: Vec<String> },
    /// A key that is needed and not there.
    MissingKey { key: String },
    /// What stands there, what belongs there, and how that is written.
    Wrong { found: String, wanted: String, help: String },
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::UnknownKey { key, .. } => write!(f, "`{key}` is not known here"),
            Self::MissingKey { key } => write!(f, "`{key}` is needed here"),
            Self::Wrong { found, wanted, .. } => write!(f, "{found} stands where {wanted} belongs"),
        }
    }
}

impl std::error::Error for Fault {}

impl Fault {
    fn wrong(found: String, expected: &dyn Expected) -> Self {
        let (wanted, help) = wanted_words(&expected.to_string());
        Self::Wrong { found, wanted, help }
    }
}

impl de::Error for Fault {
    fn custom<T: fmt::Display>(message: T) -> Self {
        Self::Wrong {
            found: message.to_string(),
            wanted: "something else".to_owned(),
            help: String::new(),
        }
    }

    fn invalid_type(found: Unexpected, expected: &dyn Expected) -> Self {
        Self::wrong(found_words(&found), expected)
    }

    fn invalid_value(found: Unexpected, expected: &dyn Expected) -> Self {
        Self::wrong(found_words(&found), expected)
    }

    fn invalid_length(length: usize, expected: &dyn Expected) -> Self {
        Self::wrong(format!("a list of {length}"), expected)
    }

    fn unknown_field(key: &str, known: &'static [&'static str]) -> Self {
        Self::UnknownKey {
            key: key.to_owned(),
            known: known.iter().map(|&k| k.to_owned()).collect(),
        }
    }

    fn missing_field(key: &'static str) -> Self {
        Self::MissingKey { key: key.to_owned() }
    }
}

/// What stands in the file, as a builder would call it.
fn found_words(found: &Unexpected) -> String {
    match found {
        Unexpected::Bool(flag) => format!("`{flag}`"),
        Unexpected::Unsigned(number) => format!("`{number}`"),
        Unexpected::Signed(number) => format!("`{number}`"),
        Unexpected::Float(number) => format!("`{number}`"),
        Unexpected::Str(text) => format!("`{}`", text.chars().take(60).collect::<String>()),
        Unexpected::Unit | Unexpected::Option => "nothing".to_owned(),
        Unexpected::Seq => "a list".to_owned(),
        Unexpected::Map => "a group of keys".to_owned(),
        other => other.to_string(),
    }
}

/// What belongs there instead, and how it is written. Types of ours name themselves in plain words
/// already.
fn wanted_words(expected: &str) -> (String, String) {
    let (wanted, help) = match expected {
        "u32" | "u64" => {
            ("a whole number", "write it without sign, decimal point or unit, such as 4")
        }
        "f64" => ("a plain number", "write a number without a unit, such as 0.44"),
        "a boolean" => ("true or false", "write true or false"),
        "a string" => ("text", "put it in quotes"),
        "a sequence" => ("a list", "begin each item with `- `, or put the items between [ and ]"),
        "a map" => (
            "a group of keys",
            "write each as `key: value` on a line of its own, further in than this one",
        ),
        "an array of length 2" | "2 elements in sequence" => {
            ("a pair", "give two values, such as [300, 60]")
        }
        other if other.starts_with("a quantity") => {
            (other, "write a number, with its unit where the file's own is not meant")
        }
        other => (other, ""),
    };
    let help = if help.is_empty() { format!("give {wanted}") } else { help.to_owned() };
    (wanted.to_owned(), help)
}

/// A parsed value on its way into a description.
#[derive(Debug, Clone)]
pub(crate) struct Strict(pub(in crate::describe) Value);

impl IntoDeserializer<'_, Fault> for Strict {
    type Deserializer = Self;
    fn into_deserializer(self) -> Self {
        self
    }
}

impl<'de> Deserializer<'de> for Strict {
    type Error = Fault;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Fault> {
        match self.0 {
            Value::Null => visitor.visit_unit(),
            Value::Bool(flag) => visitor.visit_bool(flag),
            Value::Number(number) => match (number.as_u64(), number.as_i64()) {
                (Some(number), _) => visitor.visit_u64(number),
                (None, Some(number)) => visitor.visit_i64(number),
                (None, None) => visitor.visit_f64(number.as_f64().unwrap_or(f64::NAN)),
            },
            Value::String(text) => visitor.visit_string(text),
            Value::Sequence(list) => {
                let mut items = SeqDeserializer::new(list.into_iter().map(Strict));
                let value = visitor.visit_seq(&mut items)?;
                items.end()?;
                Ok(value)
            }
            Value::Mapping(map) => {
                let mut keys = MapDeserializer::new(
                    map.into_iter().map(|(key, value)| (key_text(&key), Strict(value))),
                );
                let value = visitor.visit_map(&mut keys)?;
                keys.end()?;
                Ok(value)
            }
            Value::Tagged(tagged) => Err(de::Error::invalid_type(
                Unexpected::Other(&format!("the tag {}", tagged.tag)),
                &visitor,
            )),
        }
    }

    /// A key that is there has a value: left empty it is forgotten more often than meant.
    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Fault> {
        if self.0.is_null() {
            let help = "write its value behind the colon, or drop the key";
            return Err(Fault::Wrong {
                found: "nothing".to_owned(),
                wanted: "a value".to_owned(),
                help: help.to_owned(),
            });
        }
        visitor.visit_some(self)
    }

    /// Keys by name only; serde would also take them in order out of a list.
    fn deserialize_struct<V: Visitor<'de>>(
        self,
        _name: &'static str,
        fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Fault> {
        let found = match &self.0 {
            Value::Mapping(_) => return self.deserialize_any(visitor),
            Value::Null => "nothing".to_owned(),
            Value::Bool(flag) => format!("`{flag}`"),
            Value::Number(number) => format!("`{number}`"),
            Value::String(text) => found_words(&Unexpected::Str(text)),
            Value::Sequence(_) => "a list".to_owned(),
            Value::Tagged(tagged) => format!("the tag {}", tagged.tag),
        };
        let known: Vec<String> = fields.iter().map(|key| format!("`{key}`")).collect();
        let help = format!("known here: {}; write each as `key: value`", known.join(", "));
        Err(Fault::Wrong { found, wanted: "a group of keys".to_owned(), help })
    }

    forward_to_deserialize_any! {
        bool i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 f32 f64 char str string bytes byte_buf unit unit_struct newtype_struct seq tuple
        tuple_struct map enum identifier ignored_any
    }
}

/// A key as text, numbers included; a list or a map as a key is called as the index of places calls
/// it.
pub(crate) fn key_text(key: &Value) -> String {
    match key {
        Value::String(text) => text.clone(),
        Value::Number(number) => number.to_string(),
        Value::Bool(flag) => flag.to_string(),
        Value::Null => String::new(),
        _ => "?".to_owned(),
    }
}
