//! Outlines out of DXF and SVG files.

use std::path::Path;

use schemars::JsonSchema;
use serde::Deserialize;

use super::yaml::{At, Name, Read, Reader};
use crate::formats::{Measure, outline_from_dxf, outline_from_svg};
use crate::part::Outline;
use crate::problem::Code;
use crate::units::{LengthUnit, MM_PER_INCH};

/// An outline out of another file.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FileOutlineText {
    /// The DXF or SVG file, beside this one.
    pub name: Name,
    /// The layer (DXF) or group (SVG) that the outline is on.
    pub layer: Option<Name>,
    /// The drawing's unit, mm, cm, m, in or ft, whatever the drawing itself says.
    pub units: Option<Name>,
    /// By how much the outline is taken larger than drawn, 1 by default.
    pub scale: Option<f64>,
}

pub(super) fn outline_file(reader: &mut Reader, text: &FileOutlineText, at: &At) -> Read<Outline> {
    let named = |ending: &str| {
        Path::new(&text.name.0).extension().is_some_and(|e| e.eq_ignore_ascii_case(ending))
    };
    if !named("dxf") && !named("svg") {
        let message = format!("`{}` is neither a DXF nor an SVG file by its name", text.name.0);
        return Err(reader.refuse(
            &at.key("name"),
            Code::File,
            message,
            "give a file whose name ends in .dxf or .svg",
        ));
    }
    let units =
        [("mm", 1.0), ("cm", 10.0), ("m", 1000.0), ("in", MM_PER_INCH), ("ft", 12.0 * MM_PER_INCH)];
    let unit_mm = text
        .units
        .as_ref()
        .map(|word| reader.word(&word.0, &at.key("units"), &units))
        .transpose()?;
    let scale =
        text.scale.map_or(Ok(1.0), |scale| reader.fraction(scale, &at.key("scale"), 1e-4, 1e4))?;
    let (bytes, _) = reader.file(&text.name, &at.key("name"))?;
    let layer = text.layer.as_ref().map(|layer| layer.0.as_str());
    let measure = Measure { unit_mm, unsaid_mm: reader.shown_unit().length(1.0).mm(), scale };
    let read = if named("dxf") {
        outline_from_dxf(&bytes, layer, measure)
    } else {
        outline_from_svg(&String::from_utf8_lossy(&bytes), layer, measure)
    };
    match read {
        Ok(imported) => {
            if unit_mm.is_none() && imported.unit_mm.is_none() {
                unsaid_unit(reader, &text.name.0, named("dxf"), &at.key("name"))?;
            }
            for note in &imported.notes {
                reader.assume("file", text.name.0.clone(), note.clone());
            }
            if !imported.inside.is_empty() {
                let why = format!(
                    "{} outlines inside the outermost one are not taken; list them as openings",
                    imported.inside.len()
                );
                reader.assume("file", text.name.0.clone(), why);
            }
            Ok(Outline { sides: imported.outline.without_edges(), ..Outline::default() })
        }
        Err(problem) => {
            let message = format!("{}: {problem}", text.name.0);
            Err(reader.refuse(&at.key("name"), Code::Outline, message, problem.hint()))
        }
    }
}

/// The unit of a drawing that says none is this file's, which the result then lists.
fn unsaid_unit(reader: &mut Reader, drawing: &str, is_dxf: bool, at: &At) -> Read<()> {
    let says_none = if is_dxf {
        format!("`{drawing}` does not say its unit ($INSUNITS)")
    } else {
        format!("`{drawing}` does not say its size in mm, cm, in, pt, pc or px")
    };
    reader.units_stand()?;
    let Some(unit) = reader.unit() else {
        let help = "write `units: mm` beside `name`, or cm, m, in, ft";
        return Err(reader.refuse(
            at,
            Code::Quantity,
            format!("{says_none}, and this file names no unit either"),
            help,
        ));
    };
    let word = match unit {
        LengthUnit::Millimetre => "mm",
        LengthUnit::Inch => "in",
    };
    let why = format!(
        "{says_none}, so this file's own unit is taken; write `units: {word}` beside `name`, or what is right"
    );
    reader.assume("file.units", word, why);
    Ok(())
}
