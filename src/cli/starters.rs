//! Starter files and the schema.

use schemars::generate::SchemaSettings;
use serde_json::json;

use super::arguments::{SchemaOf, Starter};
use super::output::{Done, Output};
use crate::describe::{JobText, PartText, ShopText};
use crate::problem::Checked;

pub(super) fn new(kind: Starter, output: &Output) -> Checked<Done> {
    let text = match kind {
        Starter::Plate => include_str!("starters/plate.yaml"),
        Starter::HalfShell => include_str!("starters/half-shell.yaml"),
        Starter::Bent => include_str!("starters/bent.yaml"),
        Starter::Folded => include_str!("starters/folded.yaml"),
        Starter::Job => include_str!("starters/job.yaml"),
        Starter::Shop => include_str!("starters/shop.yaml"),
    };
    if output.json {
        output.results(&json!({ "text": text }), String::new)?;
    } else {
        Output::text(text)?;
    }
    Ok(Done::Well)
}

pub(super) fn schema(of: SchemaOf, _output: &Output) -> Checked<Done> {
    let mut generator = SchemaSettings::draft2020_12().into_generator();
    let schema = match of {
        SchemaOf::Part => generator.into_root_schema_for::<PartText>().to_value(),
        SchemaOf::Job => generator.into_root_schema_for::<JobText>().to_value(),
        SchemaOf::Shop => generator.into_root_schema_for::<ShopText>().to_value(),
        SchemaOf::All => {
            let any = [
                generator.subschema_for::<PartText>(),
                generator.subschema_for::<JobText>(),
                generator.subschema_for::<ShopText>(),
            ];
            json!({
                "$schema": "https://json-schema.org/draft/2020-12/schema",
                "title": "planish description",
                "anyOf": any,
                "$defs": generator.definitions(),
            })
        }
    };
    Output::text(&(serde_json::to_string_pretty(&schema).unwrap_or_default() + "\n"))?;
    Ok(Done::Well)
}
