//! The command on a measured test strip.

use std::fmt::Write as _;
use std::path::Path;

use super::arguments::{StripArguments, Unit};
use super::files::{Disk, description, write_whole};
use super::output::{Done, Output};
use crate::describe::{Quantity, Size, read_angle, read_length, read_shop};
use crate::problem::{Checked, Code, Problem};
use crate::report::StripResult;
use crate::shop::bend_rule::StraightBend;
use crate::shop::measured_strip::k_from_strip;
use crate::units::{Angle, Digits, Length, LengthUnit};

pub(super) fn strip(arguments: &StripArguments, output: &Output) -> Checked<Done> {
    let unit = match arguments.units {
        Unit::Mm => LengthUnit::Millimetre,
        Unit::In => LengthUnit::Inch,
    };
    let mut problems = Vec::new();
    let mut length =
        |name: &str, text: &str| match read_length(&Quantity::Text(text.to_owned()), Some(unit)) {
            Ok(Size::Length(length))
                if length > Length::ZERO || (name == "radius" && length == Length::ZERO) =>
            {
                length
            }
            Ok(Size::Length(_)) => {
                problems.push(Problem::new(
                    Code::OutOfRange,
                    format!("{name}: `{text}` is not above nothing"),
                    "give the length measured",
                ));
                Length::ZERO
            }
            Ok(Size::Gauge(_)) => {
                problems.push(Problem::new(
                    Code::Quantity,
                    format!("{name}: a gauge has no thickness without its metal"),
                    "measure it in mm or in",
                ));
                Length::ZERO
            }
            Err(error) => {
                problems.push(Problem::new(
                    Code::Quantity,
                    format!("{name}: {}", error.message),
                    error.help,
                ));
                Length::ZERO
            }
        };
    let flat = length("flat length", &arguments.flat);
    let legs = [length("first leg", &arguments.first), length("second leg", &arguments.second)];
    let thickness = length("thickness", &arguments.thickness);
    let radius = length("radius", &arguments.radius);
    let angle = match read_angle(&Quantity::Text(arguments.angle.clone())) {
        Ok(angle) => angle,
        Err(error) => {
            problems.push(Problem::new(
                Code::Quantity,
                format!("angle: {}", error.message),
                error.help,
            ));
            Angle::ZERO
        }
    };
    if !problems.is_empty() {
        return Err(problems);
    }
    let refuse = |message: String| {
        let help = "measure the strip again: flat, both legs from free end to outside mould line, inside radius, angle";
        vec![Problem::new(Code::OutOfRange, message, help)]
    };
    let bend = StraightBend::new(radius, thickness, angle).map_err(|error| {
        vec![Problem::new(
            Code::OutOfRange,
            error.to_string(),
            "check --angle, --radius and --thickness",
        )]
    })?;
    let measured = k_from_strip(&bend, flat, legs).map_err(|fault| refuse(fault.to_string()))?;
    if let (Some(shop), Some(material)) = (&arguments.save, &arguments.material) {
        save(shop, arguments, material, &bend, flat, legs)?;
        output.message(&format!("added the strip to {}", shop.display()));
    }
    let result = StripResult {
        k_factor: measured.k_factor,
        allowance_mm: measured.allowance.mm(),
        deduction_mm: measured.deduction.mm(),
        usual: measured.is_usual(),
    };
    output.results(&result, || {
        let doubt = if measured.is_usual() { "" } else { "; outside the usual 0.2 to 0.5, so measure again before trusting it" };
        format!(
            "K = {} of the thickness from the inside face{doubt}\nbend allowance {}\nbend deduction {}\n0.1 mm of measuring moves K by {}\n",
            Digits(measured.k_factor, 4),
            unit.show(measured.allowance),
            unit.show(measured.deduction),
            Digits(measured.k_per_tenth_mm, 3)
        )
    })?;
    Ok(Done::Well)
}

/// Adds the strip to a shop file, which is made if it is not there. A strip of the same sheet,
/// radius, angle and tool is not replaced.
fn save(
    shop: &Path,
    arguments: &StripArguments,
    material: &str,
    bend: &StraightBend,
    flat: Length,
    legs: [Length; 2],
) -> Checked<()> {
    let text = if shop.exists() {
        let (name, bytes) = description(shop).map_err(|problem| vec![problem])?;
        let known = read_shop(&name, bytes.clone(), &Disk)?;
        let tool = arguments.tool.as_deref().unwrap_or("");
        let near = |a: Length, b: Length| (a.mm() - b.mm()).abs() < 1e-6;
        let twin = known.strips.iter().any(|s| {
            s.material == material
                && s.tool == tool
                && near(s.thickness, bend.thickness())
                && near(s.inside_radius, bend.inside_radius())
                && (s.bend_angle.degrees() - bend.bend_angle().degrees()).abs() < 1e-6
        });
        if twin {
            let message = format!(
                "{} has a strip of this sheet, radius, angle and tool already",
                shop.display()
            );
            return Err(vec![Problem::new(
                Code::DuplicateName,
                message,
                "take that row out first, or name another --tool",
            )]);
        }
        String::from_utf8_lossy(&bytes).into_owned()
    } else {
        String::new()
    };
    let mm = |length: Length| Digits(length.mm(), 6).to_string() + " mm";
    let quoted = |text: &str| serde_json::to_string(text).unwrap_or_default();
    let mut row = format!(
        "  - {{material: {}, thickness: {}, radius: {}, angle: {}, flat: {}, legs: [{}, {}]",
        quoted(material),
        mm(bend.thickness()),
        mm(bend.inside_radius()),
        Digits(bend.bend_angle().degrees(), 6),
        mm(flat),
        mm(legs[0]),
        mm(legs[1])
    );
    for (key, value) in [("tool", &arguments.tool), ("date", &arguments.date)] {
        if let Some(value) = value {
            let _ = write!(row, ", {key}: {}", quoted(value));
        }
    }
    row.push('}');
    let new = with_row(&text, &row);
    // The file is written only if it still reads as a shop file, with one strip more.
    let before = if text.is_empty() {
        0
    } else {
        read_shop("shop", text.clone().into_bytes(), &Disk)?.strips.len()
    };
    let after = read_shop(&shop.display().to_string(), new.clone().into_bytes(), &Disk);
    if after.map(|shop| shop.strips.len()).ok() != Some(before + 1) {
        let message = format!(
            "the `strips` of {} are not written one a line, so no row can be added",
            shop.display()
        );
        return Err(vec![Problem::new(
            Code::Choice,
            message,
            format!("add this line by hand:\n{row}"),
        )]);
    }
    write_whole(shop, new.as_bytes())
}

/// The text with the row behind the last one of `strips`, which is added if there is none.
fn with_row(text: &str, row: &str) -> String {
    let mut lines: Vec<&str> = text.lines().collect();
    let Some(start) = lines.iter().position(|line| line.starts_with("strips:")) else {
        let end = if text.is_empty() || text.ends_with('\n') { "" } else { "\n" };
        return format!("{text}{end}strips:\n{row}\n");
    };
    let belongs = |line: &&str| line.starts_with([' ', '-', '#']) || line.trim().is_empty();
    let mut end = start + 1 + lines[start + 1..].iter().take_while(|line| belongs(line)).count();
    while end > start + 1 && lines[end - 1].trim().is_empty() {
        end -= 1;
    }
    lines.insert(end, row);
    lines.join("\n") + "\n"
}
