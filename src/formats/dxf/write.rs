//! DXF R2000 and R12 (the published DXF reference): a drawing as a file. Written here, not by the
//! `dxf` library, which leaves out owners, blocks and dictionaries and puts in dates.

use super::DxfOptions;
use super::groups::{Groups, Handle, MODEL_SPACE, NOBODY, PAPER_SPACE};
use crate::formats::line_style::style;
use crate::formats::{WriteProblem, refuse_non_finite, text, used_layers};
use crate::geom::{Point, Segment, Vec2, fit_arcs};
use crate::page::{Drawing, Mark, Shape};
use crate::tolerance::CURVE_TO_ARCS;

/// The drawing's lines and text as a DXF file; its backdrop, overlay and captions are no part of
/// it.
///
/// A closed outline is one closed polyline, its arcs bulges; a single line is a LINE, any other
/// chain an open polyline. Text is plain ASCII.
pub fn dxf(drawing: &Drawing, options: DxfOptions) -> Result<Vec<u8>, WriteProblem> {
    refuse_non_finite(drawing)?;
    let mut body = Groups::new(options);
    body.section("TABLES", |file| tables(file, drawing));
    body.section("BLOCKS", blocks);
    body.section("ENTITIES", |file| {
        for mark in &drawing.marks {
            add(file, mark);
        }
    });
    if !body.is_r12() {
        body.section("OBJECTS", dictionaries);
    }
    body.word(0, "EOF");
    let next = body.fresh();
    let mut head = Groups::new(options);
    head.section("HEADER", |file| header(file, drawing, options, next));
    Ok(body.behind(head))
}

/// The bounds of what a DXF file holds of a drawing.
fn extents(drawing: &Drawing) -> crate::geom::Rect {
    Drawing { backdrop: Vec::new(), overlay: Vec::new(), ..drawing.clone() }.bounds()
}

/// The variables that mean something in a file of outlines. R12 has none for its unit; it is said
/// there too, for readers pass over a variable that they do not know, and a part read in the wrong
/// unit is scrap.
fn header(file: &mut Groups, drawing: &Drawing, options: DxfOptions, next: Handle) {
    let bounds = extents(drawing);
    let (units, metric) = options.unit.variables();
    file.variable("$ACADVER");
    file.word(1, if file.is_r12() { "AC1009" } else { "AC1015" });
    if !file.is_r12() {
        file.variable("$DWGCODEPAGE");
        file.word(3, "ANSI_1252");
        file.variable("$HANDSEED");
        file.handle(5, next);
    }
    for (name, place) in [
        ("$INSBASE", Point::ZERO),
        ("$EXTMIN", Point::new(bounds.x0, bounds.y0)),
        ("$EXTMAX", Point::new(bounds.x1, bounds.y1)),
    ] {
        file.variable(name);
        file.place(10, place);
        file.number(30, 0.0);
    }
    file.variable("$LTSCALE");
    file.number(40, 1.0);
    for (name, value) in [("$MEASUREMENT", metric), ("$INSUNITS", units)] {
        file.variable(name);
        file.count(70, value);
    }
}

/// The nine tables, in the order of the reference.
fn tables(file: &mut Groups, drawing: &Drawing) {
    file.table("VPORT", |file, table| view_port(file, table, drawing));
    file.table("LTYPE", |file, table| line_types(file, table, drawing));
    file.table("LAYER", |file, table| layers(file, table, drawing));
    file.table("STYLE", |file, table| {
        file.record("STYLE", table, "AcDbTextStyleTableRecord", "STANDARD");
        for (code, value) in [(40, 0.0), (41, 1.0), (50, 0.0), (42, 1.0)] {
            file.number(code, value);
        }
        file.count(71, 0);
        file.word(3, "txt");
        file.word(4, "");
    });
    file.table("VIEW", |_, _| {});
    file.table("UCS", |_, _| {});
    file.table("APPID", |file, table| {
        file.record("APPID", table, "AcDbRegAppTableRecord", "ACAD");
    });
    file.table("DIMSTYLE", |file, table| {
        file.record("DIMSTYLE", table, "AcDbDimStyleTableRecord", "STANDARD");
    });
    if !file.is_r12() {
        file.table("BLOCK_RECORD", |file, table| {
            for (own, name) in SPACES {
                file.item_of(own, "BLOCK_RECORD", table, "AcDbSymbolTableRecord");
                file.class("AcDbBlockTableRecord");
                file.word(2, name);
                file.count(70, 0);
            }
        });
    }
}

/// The file opens on all of the drawing, in a window of ordinary shape.
fn view_port(file: &mut Groups, table: Handle, drawing: &Drawing) {
    let bounds = extents(drawing);
    let aspect = 1.5;
    file.record("VPORT", table, "AcDbViewportTableRecord", "*ACTIVE");
    for (code, corner) in [(10, Point::ZERO), (11, Point::new(1.0, 1.0))] {
        file.number(code, corner.x);
        file.number(code + 10, corner.y);
    }
    file.place(12, bounds.center());
    // Seen from above: the direction of view is z.
    for (code, value) in [(16, 0.0), (26, 0.0), (36, 1.0)] {
        file.number(code, value);
    }
    file.length(40, (bounds.height().max(bounds.width() / aspect) * 1.1).max(1.0));
    file.number(41, aspect);
}

/// The dashes of the layers used, beside those that every file has.
fn line_types(file: &mut Groups, table: Handle, drawing: &Drawing) {
    let plain: &[&str] =
        if file.is_r12() { &["CONTINUOUS"] } else { &["BYBLOCK", "BYLAYER", "CONTINUOUS"] };
    let looks = used_layers(drawing).into_iter().map(style);
    let dashed = looks
        .filter(|look| !look.dashes.is_empty())
        .map(|look| (look.line_type, look.words, look.dashes));
    for (name, words, dashes) in plain.iter().map(|name| (*name, "", &[][..])).chain(dashed) {
        file.record("LTYPE", table, "AcDbLinetypeTableRecord", name);
        file.word(3, words);
        file.count(72, usize::from(b'A'));
        file.count(73, dashes.len());
        file.length(40, dashes.iter().sum());
        for (i, dash) in dashes.iter().enumerate() {
            file.length(49, if i % 2 == 0 { *dash } else { -dash });
            if !file.is_r12() {
                file.count(74, 0);
            }
        }
    }
}

/// The layers used, each with its colour and dashes, beside the one that every file has.
fn layers(file: &mut Groups, table: Handle, drawing: &Drawing) {
    let used = used_layers(drawing).into_iter().map(|layer| {
        let look = style(layer);
        (layer.name(), look.index_colour, look.line_type)
    });
    for (name, colour, line_type) in [("0", 7, "CONTINUOUS")].into_iter().chain(used) {
        file.record("LAYER", table, "AcDbLayerTableRecord", name);
        file.count(62, usize::from(colour));
        file.word(6, line_type);
    }
}

/// The spaces of an R2000 file.
const SPACES: [(Handle, &str); 2] = [(MODEL_SPACE, "*MODEL_SPACE"), (PAPER_SPACE, "*PAPER_SPACE")];

/// The blocks that stand for model and paper space; entities are listed apart from them.
fn blocks(file: &mut Groups) {
    if file.is_r12() {
        return;
    }
    for (owner, name) in SPACES {
        file.item("BLOCK", owner, "AcDbEntity");
        file.word(8, "0");
        file.class("AcDbBlockBegin");
        file.word(2, name);
        file.count(70, 0);
        file.place(10, Point::ZERO);
        file.number(30, 0.0);
        file.word(3, name);
        file.word(1, "");
        file.item("ENDBLK", owner, "AcDbEntity");
        file.word(8, "0");
        file.class("AcDbBlockEnd");
    }
}

/// The root dictionary and the empty one for groups, which every R2000 file has.
fn dictionaries(file: &mut Groups) {
    let groups = file.fresh();
    let root = file.item("DICTIONARY", NOBODY, "AcDbDictionary");
    file.count(281, 1);
    file.word(3, "ACAD_GROUP");
    file.handle(350, groups);
    file.item_of(groups, "DICTIONARY", root, "AcDbDictionary");
    file.count(281, 1);
}

fn add(file: &mut Groups, mark: &Mark) {
    let layer = mark.layer.name();
    match &mark.shape {
        Shape::Closed(outline) => {
            let vertices: Vec<(Point, f64)> =
                outline.vertices.iter().map(|v| (v.point, v.bulge)).collect();
            polyline(file, layer, &vertices, true);
        }
        Shape::Open(chain) => match chain.as_slice() {
            [] => {}
            [Segment::Line { from, to }] => {
                file.entity("LINE", layer, "AcDbLine");
                for (code, end) in [(10, from), (11, to)] {
                    file.place(code, *end);
                    file.number(code + 20, 0.0);
                }
            }
            chain => polyline(file, layer, &chain_vertices(chain), false),
        },
        Shape::Text { at, height, angle, centred, text } => {
            let words = text::ascii(text);
            // The first point is where the text begins, the second the one it is centred on.
            let half = if *centred { text::width(text, *height) / 2.0 } else { 0.0 };
            file.entity("TEXT", layer, "AcDbText");
            file.place(10, *at - Vec2::from_angle(*angle) * half);
            file.number(30, 0.0);
            file.length(40, *height);
            file.word(1, &words);
            if *angle != 0.0 {
                file.number(50, angle.to_degrees());
            }
            if *centred {
                file.count(72, 1);
                file.place(11, *at);
                file.number(31, 0.0);
            }
            file.class("AcDbText");
        }
    }
}

/// The vertices of an open chain with its last end; curves become arcs.
fn chain_vertices(chain: &[Segment]) -> Vec<(Point, f64)> {
    let mut vertices = Vec::new();
    for segment in chain {
        match *segment {
            Segment::Line { from, .. } => vertices.push((from, 0.0)),
            Segment::Arc { from, bulge, .. } => vertices.push((from, bulge)),
            curve @ Segment::Curve(_) => {
                let fitted = fit_arcs(&|u| (curve.point_at(u), curve.tangent_at(u)), CURVE_TO_ARCS);
                vertices.extend(fitted.iter().map(|v| (v.point, v.bulge)));
            }
        }
    }
    vertices.extend(chain.last().map(|last| (last.to(), 0.0)));
    vertices
}

/// A run of vertices with the bulge of what follows each.
fn polyline(file: &mut Groups, layer: &str, vertices: &[(Point, f64)], closed: bool) {
    let is_r12 = file.is_r12();
    if is_r12 {
        file.entity("POLYLINE", layer, "");
        // Vertices follow, in the plane of height 0.
        file.count(66, 1);
        file.count(70, usize::from(closed));
        for code in [10, 20, 30] {
            file.number(code, 0.0);
        }
    } else {
        file.entity("LWPOLYLINE", layer, "AcDbPolyline");
        file.count(90, vertices.len());
        file.count(70, usize::from(closed));
    }
    for (point, bulge) in vertices {
        if is_r12 {
            file.entity("VERTEX", layer, "");
        }
        file.place(10, *point);
        if is_r12 {
            file.number(30, 0.0);
        }
        if *bulge != 0.0 {
            file.number(42, *bulge);
        }
    }
    if is_r12 {
        file.entity("SEQEND", layer, "");
    }
}
