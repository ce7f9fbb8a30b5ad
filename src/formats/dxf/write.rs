//! DXF R2000 and R12 (the published DXF reference), by the `dxf` library and a filter that mends
//! what it leaves out.

use ::dxf::entities::{Entity, EntityType, Line, LwPolyline, Polyline, Text, Vertex};
use ::dxf::enums::{AcadVersion, DrawingUnits, HorizontalTextJustification, Units};
use ::dxf::tables::{Layer as LayerEntry, LineType};
use ::dxf::{Color, LwPolylineVertex, Point as Place};

use super::mend;
use crate::formats::line_style::style;
use crate::formats::{WriteProblem, refuse_non_finite, text, used_layers};
use crate::geom::{Point, Segment, fit_arcs};
use crate::page::{Drawing, Mark, Shape};
use crate::tolerance::CURVE_TO_ARCS;
use crate::units::MM_PER_INCH;

/// Which DXF to write.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum DxfVersion {
    /// Of the year 2000 (AC1015): it knows its units and light polylines.
    #[default]
    R2000,
    /// Of 1992 (AC1009), which the oldest readers take.
    R12,
}

/// The unit of a DXF file's numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum DxfUnit {
    /// Millimetres.
    #[default]
    Millimetre,
    /// Inches.
    Inch,
}

/// How a drawing is written as DXF.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct DxfOptions {
    /// The version of the format.
    pub version: DxfVersion,
    /// The unit of its numbers.
    pub unit: DxfUnit,
}

impl DxfUnit {
    /// How many mm one of it is.
    const fn in_mm(self) -> f64 {
        match self {
            Self::Millimetre => 1.0,
            Self::Inch => MM_PER_INCH,
        }
    }

    /// Its number as $INSUNITS has it.
    const fn insertion_units(self) -> &'static str {
        match self {
            Self::Millimetre => "4",
            Self::Inch => "1",
        }
    }

    /// `mm` in this unit, on its last decimal: the sixth of a millimetre, the eighth of an inch.
    fn of(self, mm: f64) -> f64 {
        let last: f64 = match self {
            Self::Millimetre => 1e6,
            Self::Inch => 1e8,
        };
        (mm / self.in_mm() * last).round() / last + 0.0
    }

    fn place(self, point: Point) -> Place {
        Place::new(self.of(point.x), self.of(point.y), 0.0)
    }
}

/// The drawing's lines and text as a DXF file; its backdrop, overlay and captions are no part of
/// it.
///
/// A closed outline is one closed polyline, its arcs bulges; a single line is a LINE, any other
/// chain an open polyline. Text is plain ASCII.
pub fn dxf(drawing: &Drawing, options: DxfOptions) -> Result<Vec<u8>, WriteProblem> {
    refuse_non_finite(drawing)?;
    let mut file = ::dxf::Drawing::new();
    header(&mut file, drawing, options);
    layers(&mut file, drawing, options.unit);
    for mark in &drawing.marks {
        add(&mut file, mark, options);
    }
    let mut bytes = Vec::new();
    file.save(&mut bytes).map_err(|error| WriteProblem::Dxf { message: error.to_string() })?;
    let text = String::from_utf8_lossy(&bytes);
    let mended = match options.version {
        DxfVersion::R2000 => mend::mend_r2000(&text),
        DxfVersion::R12 => mend::mend_r12(&text, options.unit.insertion_units()),
    };
    Ok(mended.into_bytes())
}

fn header(file: &mut ::dxf::Drawing, drawing: &Drawing, options: DxfOptions) {
    let header = &mut file.header;
    header.version = match options.version {
        DxfVersion::R2000 => AcadVersion::R2000,
        DxfVersion::R12 => AcadVersion::R12,
    };
    (header.default_drawing_units, header.drawing_units) = match options.unit {
        DxfUnit::Millimetre => (Units::Millimeters, DrawingUnits::Metric),
        DxfUnit::Inch => (Units::Inches, DrawingUnits::English),
    };
    let bounds = Drawing { backdrop: Vec::new(), overlay: Vec::new(), ..drawing.clone() }.bounds();
    header.minimum_drawing_extents = options.unit.place(Point::new(bounds.x0, bounds.y0));
    header.maximum_drawing_extents = options.unit.place(Point::new(bounds.x1, bounds.y1));
    // The file opens on all of the drawing, in a window of ordinary shape.
    let aspect = 1.5;
    for view in file.view_ports_mut() {
        view.view_center = options.unit.place(bounds.center());
        view.view_height =
            options.unit.of((bounds.height().max(bounds.width() / aspect) * 1.1).max(1.0));
        view.view_port_aspect_ratio = aspect;
    }
}

/// The layers used, each with its colour and dashes.
fn layers(file: &mut ::dxf::Drawing, drawing: &Drawing, unit: DxfUnit) {
    for layer in used_layers(drawing) {
        let look = style(layer);
        if !look.dashes.is_empty() {
            let lengths: Vec<f64> = look
                .dashes
                .iter()
                .enumerate()
                .map(|(i, dash)| unit.of(if i % 2 == 0 { *dash } else { -dash }))
                .collect();
            file.add_line_type(LineType {
                name: look.line_type.to_owned(),
                description: look.words.to_owned(),
                element_count: i32::try_from(lengths.len()).unwrap_or(0),
                total_pattern_length: lengths.iter().map(|length| length.abs()).sum(),
                complex_line_type_element_types: vec![0; lengths.len()],
                dash_dot_space_lengths: lengths,
                ..LineType::default()
            });
        }
        file.add_layer(LayerEntry {
            name: layer.name().to_owned(),
            color: Color::from_index(look.index_colour),
            line_type_name: look.line_type.to_owned(),
            ..LayerEntry::default()
        });
    }
}

fn add(file: &mut ::dxf::Drawing, mark: &Mark, options: DxfOptions) {
    let unit = options.unit;
    match &mark.shape {
        Shape::Closed(outline) => {
            let vertices: Vec<(Point, f64)> =
                outline.vertices.iter().map(|v| (v.point, v.bulge)).collect();
            add_polyline(file, mark, &vertices, true, options);
        }
        Shape::Open(chain) => match chain.as_slice() {
            [] => {}
            [Segment::Line { from, to }] => {
                let line = Line::new(unit.place(*from), unit.place(*to));
                put(file, mark, EntityType::Line(line));
            }
            chain => add_polyline(file, mark, &chain_vertices(chain), false, options),
        },
        Shape::Text { at, height, angle, centred, text } => {
            let mut entity = Text {
                location: unit.place(*at),
                text_height: unit.of(*height),
                rotation: angle.to_degrees(),
                value: text::ascii(text),
                ..Text::default()
            };
            if *centred {
                // The first point is where the text begins, the second the one it is centred on.
                let half = text::width(text, *height) / 2.0;
                entity.location = unit.place(*at - crate::geom::Vec2::from_angle(*angle) * half);
                entity.second_alignment_point = unit.place(*at);
                entity.horizontal_text_justification = HorizontalTextJustification::Center;
            }
            put(file, mark, EntityType::Text(entity));
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

fn add_polyline(
    file: &mut ::dxf::Drawing,
    mark: &Mark,
    vertices: &[(Point, f64)],
    closed: bool,
    options: DxfOptions,
) {
    match options.version {
        DxfVersion::R2000 => {
            let mut polyline = LwPolyline::default();
            polyline.set_is_closed(closed);
            polyline.vertices = vertices
                .iter()
                .map(|(point, bulge)| {
                    let place = options.unit.place(*point);
                    LwPolylineVertex {
                        x: place.x,
                        y: place.y,
                        bulge: *bulge,
                        ..LwPolylineVertex::default()
                    }
                })
                .collect();
            put(file, mark, EntityType::LwPolyline(polyline));
        }
        DxfVersion::R12 => {
            let mut polyline = Polyline::default();
            polyline.set_is_closed(closed);
            for (point, bulge) in vertices {
                let vertex = Vertex {
                    location: options.unit.place(*point),
                    bulge: *bulge,
                    ..Vertex::default()
                };
                polyline.add_vertex(file, vertex);
            }
            put(file, mark, EntityType::Polyline(polyline));
        }
    }
}

fn put(file: &mut ::dxf::Drawing, mark: &Mark, shape: EntityType) {
    let mut entity = Entity::new(shape);
    mark.layer.name().clone_into(&mut entity.common.layer);
    file.add_entity(entity);
}
