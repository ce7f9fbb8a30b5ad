//! The text of an ASCII DXF file, cut down to what the `dxf` library 0.6 reads safely.
//!
//! The library refuses a whole file for one bad value in a part that no outline needs (R12
//! dimension styles, dates), loses whether a layer is frozen and drops entities that it does not
//! know without a word. So it gets only the entities that draw lines, and the rest is read here.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use crate::formats::outline::ImportProblem;
use crate::tolerance::MOST_IMPORTED_PIECES;

/// What a DXF file says, ready for the library.
pub(super) struct DxfText {
    /// A file of blocks and entities alone, in plain ASCII.
    pub(super) text: String,
    /// What stands under $INSUNITS; none if it is not given.
    pub(super) insertion_units: Option<String>,
    /// Layers that are frozen or off, by their plain names.
    pub(super) hidden_layers: Vec<String>,
    /// Those of them that are frozen.
    pub(super) frozen_layers: Vec<String>,
    /// How often each kind of entity that is not read occurs.
    pub(super) left_out: BTreeMap<String, usize>,
}

/// Entities that draw lines, and what belongs to them.
const KEPT_ENTITIES: [&str; 10] = [
    "LINE",
    "ARC",
    "CIRCLE",
    "ELLIPSE",
    "SPLINE",
    "LWPOLYLINE",
    "POLYLINE",
    "VERTEX",
    "SEQEND",
    "INSERT",
];

/// Group codes with geometry, layer, block name, flags, visibility or paper space.
fn is_kept(code: i32) -> bool {
    matches!(code, 2 | 8 | 10..=60 | 62 | 66..=79 | 90 | 210 | 220 | 230)
}

/// A layer name in plain ASCII and capitals, so that names in any encoding compare.
pub(super) fn plain_name(name: &str) -> String {
    let mut plain = String::with_capacity(name.len());
    for c in name.trim().to_uppercase().chars() {
        if c.is_ascii() && !c.is_control() {
            plain.push(c);
        } else {
            let _ = write!(plain, "_{:X}_", u32::from(c));
        }
    }
    plain
}

/// Reads the text of `bytes`.
pub(super) fn read_text(bytes: &[u8]) -> Result<DxfText, ImportProblem> {
    if bytes.starts_with(b"AutoCAD Binary DXF") {
        return Err(ImportProblem::Binary);
    }
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    // Files before 2007 are in a code page, of which only layer names matter here: other bytes are
    // taken as Latin-1.
    let text = String::from_utf8(bytes.to_vec())
        .unwrap_or_else(|_| bytes.iter().map(|byte| char::from(*byte)).collect());
    let mut reader = Reader {
        section: String::new(),
        out: DxfText::empty(),
        block: Kept::No,
        layer: LayerEntry::default(),
        polyline: false,
        entities: 0,
        points: 0,
    };
    let mut lines = text.lines().enumerate();
    let mut variable = String::new();
    while let Some((number, code)) = lines.next() {
        let Some((_, value)) = lines.next() else { break };
        let code: i32 = code.trim().parse().map_err(|_| not_dxf(number))?;
        let value = value.trim_end_matches('\r');
        if code == 0 {
            if reader.section.is_empty() && value.trim() == "EOF" {
                break;
            }
            reader.begin(value.trim());
        } else if reader.section == "HEADER" {
            match code {
                9 => value.trim().clone_into(&mut variable),
                70 if variable == "$INSUNITS" => {
                    reader.out.insertion_units = Some(value.trim().to_owned());
                }
                _ => {}
            }
        } else {
            reader.group(code, value);
        }
        // The library takes some hundred times the room of the text.
        if reader.entities.max(reader.points) > MOST_IMPORTED_PIECES {
            return Err(ImportProblem::TooMuch);
        }
    }
    reader.close_layer();
    if !reader.out.text.contains("ENTITIES") {
        return Err(ImportProblem::NotReadable {
            message: "this is no DXF file with drawn lines: it has no section ENTITIES".to_owned(),
        });
    }
    reader.out.text.push_str("  0\nEOF\n");
    Ok(reader.out)
}

fn not_dxf(line: usize) -> ImportProblem {
    ImportProblem::NotReadable {
        message: format!(
            "this is no ASCII DXF file: line {} should hold a group code, a whole number",
            line + 1
        ),
    }
}

impl DxfText {
    fn empty() -> Self {
        // A version in which every kept entity exists.
        let text =
            "  0\nSECTION\n  2\nHEADER\n  9\n$ACADVER\n  1\nAC1015\n  0\nENDSEC\n".to_owned();
        Self {
            text,
            insertion_units: None,
            hidden_layers: Vec::new(),
            frozen_layers: Vec::new(),
            left_out: BTreeMap::new(),
        }
    }
}

/// What the groups that follow are for.
#[derive(PartialEq)]
enum Kept {
    No,
    /// The name of a section is still to come.
    Section,
    Layer,
    Yes,
    /// As `Yes`, without the flag that attributes follow.
    Insert,
    /// As `Yes`; the library loses the points of a spline whose heights are not all given, so each
    /// gets height 0.
    Spline,
}

#[derive(Default)]
struct LayerEntry {
    name: String,
    hidden: bool,
    frozen: bool,
}

struct Reader {
    section: String,
    out: DxfText,
    block: Kept,
    layer: LayerEntry,
    /// Whether a polyline's vertices may follow.
    polyline: bool,
    /// How many entities and points are kept.
    entities: usize,
    points: usize,
}

impl Reader {
    fn put(&mut self, code: i32, value: &str) {
        let _ = writeln!(self.out.text, "{code:>3}\n{value}");
    }

    /// Begins the item named by a group 0.
    fn begin(&mut self, kind: &str) {
        self.close_layer();
        let draws = matches!(self.section.as_str(), "BLOCKS" | "ENTITIES");
        self.block = match kind {
            "SECTION" => Kept::Section,
            "ENDSEC" => {
                if draws {
                    self.put(0, "ENDSEC");
                }
                self.section.clear();
                Kept::No
            }
            "LAYER" if self.section == "TABLES" => Kept::Layer,
            "BLOCK" | "ENDBLK" if self.section == "BLOCKS" => Kept::Yes,
            "VERTEX" | "SEQEND" if !self.polyline => Kept::No,
            "INSERT" if draws => Kept::Insert,
            "SPLINE" if draws => Kept::Spline,
            kind if draws && KEPT_ENTITIES.contains(&kind) => Kept::Yes,
            kind if draws => {
                *self.out.left_out.entry(kind.to_owned()).or_default() += 1;
                Kept::No
            }
            _ => Kept::No,
        };
        if matches!(self.block, Kept::Yes | Kept::Insert | Kept::Spline) {
            self.polyline = matches!(kind, "POLYLINE" | "VERTEX");
            self.put(0, kind);
            self.entities += 1;
        }
    }

    fn group(&mut self, code: i32, value: &str) {
        match self.block {
            Kept::Section if code == 2 => {
                value.trim().clone_into(&mut self.section);
                self.block = Kept::No;
                if matches!(self.section.as_str(), "BLOCKS" | "ENTITIES") {
                    self.put(0, "SECTION");
                    self.put(2, value.trim());
                }
            }
            Kept::Layer => match code {
                2 => self.layer.name = plain_name(value),
                // Bit 1 is frozen; a negative colour is off.
                70 => {
                    self.layer.frozen |=
                        value.trim().parse::<i32>().is_ok_and(|flags| flags & 1 != 0);
                }
                62 => self.layer.hidden |= value.trim().starts_with('-'),
                _ => {}
            },
            Kept::Insert if code == 66 => {}
            Kept::Spline if matches!(code, 30 | 31) => {}
            Kept::Yes | Kept::Insert | Kept::Spline if is_kept(code) => {
                self.points +=
                    usize::from(code == 10 || (code == 11 && self.block == Kept::Spline));
                if matches!(code, 2 | 8) {
                    self.put(code, &plain_name(value));
                } else if value.is_ascii() {
                    self.put(code, value);
                }
                if self.block == Kept::Spline && matches!(code, 20 | 21) {
                    self.put(code + 10, "0");
                }
            }
            _ => {}
        }
    }

    fn close_layer(&mut self) {
        let layer = std::mem::take(&mut self.layer);
        if layer.frozen {
            self.out.frozen_layers.push(layer.name.clone());
        }
        if layer.hidden || layer.frozen {
            self.out.hidden_layers.push(layer.name);
        }
    }
}
