//! Mends what the `dxf` library 0.6 writes, so that a strict reader (ezdxf without its recovery
//! mode) finds nothing to repair.
//!
//! | what the library writes | what is done |
//! |---|---|
//! | dates and random identities: other bytes on every run | of the header only the variables in [`KEPT_VARIABLES`] stay |
//! | R12: subclass markers, block records and handles, which R12 does not know | left out |
//! | R12: vertices on layer 0, whatever the layer of their polyline | given its layer |
//! | R2000: tables without handles, nothing with an owner, no blocks for model and paper space, no root dictionary | added |
//! | R2000: dimension styles with their handle under 5 in place of 105; handles that point nowhere; line weights of 0 | put right or left out |

use std::fmt::Write as _;

/// One group: its code and value.
type Pair = (i32, String);

/// Header variables that mean something in a file of outlines.
const KEPT_VARIABLES: [&str; 9] = [
    "$ACADVER",
    "$DWGCODEPAGE",
    "$INSBASE",
    "$EXTMIN",
    "$EXTMAX",
    "$LTSCALE",
    "$HANDSEED",
    "$INSUNITS",
    "$MEASUREMENT",
];

/// Table entries of the library's own that nothing here uses.
const UNUSED_ENTRIES: [&str; 4] =
    ["ANNOTATIVE", "ACADANNOTATIVE", "ACAD_MLEADERVER", "ACAD_NAV_VCDISPLAY"];

/// An item that begins with a group 0, and the groups up to the next one.
struct Record {
    kind: String,
    pairs: Vec<Pair>,
}

impl Record {
    fn new<const N: usize>(kind: &str, pairs: [(i32, &str); N]) -> Self {
        Self {
            kind: kind.to_owned(),
            pairs: pairs.map(|(code, value)| (code, value.to_owned())).to_vec(),
        }
    }

    /// Its first value under `code`.
    fn value(&self, code: i32) -> Option<&str> {
        self.pairs.iter().find(|pair| pair.0 == code).map(|pair| pair.1.as_str())
    }

    /// Puts a group behind the handle, where an owner belongs.
    fn own(&mut self, owner: &str) {
        if let Some(place) = self.pairs.iter().position(|pair| pair.0 == 5 || pair.0 == 105) {
            self.pairs.insert(place + 1, (330, owner.to_owned()));
        }
    }
}

/// The library's R12 file as R12 has it, but for one thing: the header says the units ($INSUNITS),
/// which R12 cannot. Readers pass over header variables that they do not know, and a part read in
/// the wrong unit is scrap.
pub(super) fn mend_r12(text: &str, insertion_units: &str) -> String {
    let mut mended = Vec::new();
    let mut layer = String::new();
    let mut in_block_records = false;
    for mut record in records(text) {
        if record.kind == "TABLE" {
            in_block_records = record.value(2) == Some("BLOCK_RECORD");
        }
        let is_table_end = record.kind == "ENDTAB";
        if in_block_records || is_unused(&record) {
            in_block_records &= !is_table_end;
            continue;
        }
        // Group 5 is the handle, but the name of a block in a dimension style; both can go.
        record.pairs.retain(|(code, _)| !matches!(code, 5 | 100 | 370));
        match record.kind.as_str() {
            "POLYLINE" => record.value(8).unwrap_or("0").clone_into(&mut layer),
            "VERTEX" | "SEQEND" => {
                record.pairs.retain(|pair| pair.0 != 8);
                record.pairs.insert(0, (8, layer.clone()));
            }
            "SECTION" => {
                keep_variables(&mut record, &["$HANDSEED", "$DWGCODEPAGE"]);
                if record.value(2) == Some("ENTITIES") {
                    mended.extend([
                        Record::new("SECTION", [(2, "BLOCKS")]),
                        Record::new("ENDSEC", []),
                    ]);
                }
                if record.value(2) == Some("HEADER") {
                    record
                        .pairs
                        .extend([(9, "$INSUNITS".to_owned()), (70, insertion_units.to_owned())]);
                }
            }
            _ => {}
        }
        mended.push(record);
    }
    joined(&mended)
}

/// The library's R2000 file with what it left out.
pub(super) fn mend_r2000(text: &str) -> String {
    let records = records(text);
    let seed = records.first().and_then(|header| variable(header, "$HANDSEED")).unwrap_or("1000");
    let mut handles = Handles(u64::from_str_radix(seed, 16).unwrap_or(0x1000));
    let spaces = ["*MODEL_SPACE", "*PAPER_SPACE"].map(|name| {
        let record = records
            .iter()
            .find(|record| record.kind == "BLOCK_RECORD" && record.value(2) == Some(name));
        (name, record.and_then(|record| record.value(5)).unwrap_or("0").to_owned())
    });
    let mut mended = Vec::new();
    let (mut section, mut table) = (String::new(), String::new());
    for mut record in records {
        if is_unused(&record) {
            continue;
        }
        record.pairs.retain(|(code, value)| {
            *code != 370 && !(matches!(code, 340..=344 | 390) && (value.is_empty() || value == "0"))
        });
        match record.kind.as_str() {
            "SECTION" => {
                record.value(2).unwrap_or_default().clone_into(&mut section);
                keep_variables(&mut record, &[]);
                match section.as_str() {
                    "ENTITIES" => mended.extend(block_section(&spaces, &mut handles)),
                    "OBJECTS" => {
                        mended.push(record);
                        mended.extend(dictionaries(&mut handles));
                        continue;
                    }
                    _ => {}
                }
            }
            "TABLE" => {
                table = handles.fresh();
                record.pairs.insert(1, (5, table.clone()));
                record.own("0");
            }
            "ENDTAB" | "ENDSEC" | "EOF" => {}
            _ if section == "TABLES" => {
                if let Some(handle) = record
                    .pairs
                    .iter_mut()
                    .find(|pair| pair.0 == 5)
                    .filter(|_| record.kind == "DIMSTYLE")
                {
                    handle.0 = 105;
                }
                record.own(&table);
            }
            _ => record.own(&spaces[0].1),
        }
        let ends_tables = record.kind == "ENDSEC" && section == "TABLES";
        if ends_tables {
            mended.extend(
                ["VIEW", "UCS"].into_iter().flat_map(|name| empty_table(name, &mut handles)),
            );
        }
        mended.push(record);
    }
    // All handles are given out: the seed is the next one.
    let seed = handles.fresh();
    if let Some(header) = mended.first_mut() {
        let place = header.pairs.iter().position(|pair| pair.1 == "$HANDSEED");
        if let Some(pair) = place.and_then(|place| header.pairs.get_mut(place + 1)) {
            pair.1 = seed;
        }
    }
    joined(&mended)
}

/// Gives out handles that no other item has.
struct Handles(u64);

impl Handles {
    fn fresh(&mut self) -> String {
        self.0 += 1;
        format!("{:X}", self.0 - 1)
    }
}

fn empty_table(name: &str, handles: &mut Handles) -> [Record; 2] {
    let table = Record::new(
        "TABLE",
        [(2, name), (5, &handles.fresh()), (330, "0"), (100, "AcDbSymbolTable"), (70, "0")],
    );
    [table, Record::new("ENDTAB", [])]
}

/// The blocks that stand for model and paper space; entities are listed apart from them.
fn block_section(spaces: &[(&str, String)], handles: &mut Handles) -> Vec<Record> {
    let mut section = vec![Record::new("SECTION", [(2, "BLOCKS")])];
    for (name, owner) in spaces {
        let (begin, end) = (handles.fresh(), handles.fresh());
        section.push(Record::new(
            "BLOCK",
            [
                (5, &begin),
                (330, owner),
                (100, "AcDbEntity"),
                (8, "0"),
                (100, "AcDbBlockBegin"),
                (2, name),
                (70, "0"),
                (10, "0.0"),
                (20, "0.0"),
                (30, "0.0"),
                (3, name),
                (1, ""),
            ],
        ));
        section.push(Record::new(
            "ENDBLK",
            [(5, &end), (330, owner), (100, "AcDbEntity"), (8, "0"), (100, "AcDbBlockEnd")],
        ));
    }
    section.push(Record::new("ENDSEC", []));
    section
}

/// The root dictionary and the empty one for groups, which every file of this version has.
fn dictionaries(handles: &mut Handles) -> [Record; 2] {
    let (root, groups) = (handles.fresh(), handles.fresh());
    let class = (100, "AcDbDictionary");
    [
        Record::new(
            "DICTIONARY",
            [(5, &root), (330, "0"), class, (281, "1"), (3, "ACAD_GROUP"), (350, &groups)],
        ),
        Record::new("DICTIONARY", [(5, &groups), (330, &root), class, (281, "1")]),
    ]
}

fn is_unused(record: &Record) -> bool {
    matches!(record.kind.as_str(), "APPID" | "STYLE" | "DIMSTYLE")
        && record.value(2).is_some_and(|name| UNUSED_ENTRIES.contains(&name))
}

/// The value of a header variable that has one.
fn variable<'a>(header: &'a Record, name: &str) -> Option<&'a str> {
    let place = header.pairs.iter().position(|pair| pair.1 == name)?;
    header.pairs.get(place + 1).map(|pair| pair.1.as_str())
}

/// Leaves only the kept variables in a header section but those in `except`; other sections stay as
/// they are.
fn keep_variables(section: &mut Record, except: &[&str]) {
    let mut keep = true;
    section.pairs.retain(|(code, value)| {
        if *code == 9 {
            keep = KEPT_VARIABLES.contains(&value.as_str()) && !except.contains(&value.as_str());
        }
        keep
    });
}

/// The file's items; what the library writes is always whole pairs of lines.
fn records(text: &str) -> Vec<Record> {
    let mut records: Vec<Record> = Vec::new();
    let mut lines = text.lines();
    while let (Some(code), Some(value)) = (lines.next(), lines.next()) {
        let code = code.trim().parse().unwrap_or(999);
        match records.last_mut() {
            _ if code == 0 => records.push(Record { kind: value.to_owned(), pairs: Vec::new() }),
            Some(record) => record.pairs.push((code, value.to_owned())),
            None => {}
        }
    }
    records
}

fn joined(records: &[Record]) -> String {
    let mut text = String::new();
    for record in records {
        let _ = write!(text, "  0\r\n{}\r\n", record.kind);
        for (code, value) in &record.pairs {
            let _ = write!(text, "{code:>3}\r\n{value}\r\n");
        }
    }
    text
}
