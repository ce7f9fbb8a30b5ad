//! Outlines out of DXF files: what the `dxf` library reads, interpreted.

use std::collections::{BTreeMap, BTreeSet};

use ::dxf::entities::{Arc as DrawnArc, Circle, Entity, EntityType, Insert};
use ::dxf::{Block, Vector};
use kurbo::{Affine, Arc, Point, Vec2};

use super::spline::Spline;
use super::text::{DxfText, plain_name, read_text};
use crate::formats::outline::chain::{Stroke, outline_of};
use crate::formats::outline::piece::{Piece, PieceProblem, is_within_reach, sides};
use crate::formats::outline::{ImportProblem, Imported, MOST_NAMED, Measure};
use crate::formats::svg::shortened;
use crate::geom::natural_spline;
use crate::tolerance::{DEEPEST_NESTING, JOINED_ENDS, LARGEST_IMPORT, MOST_IMPORTED_PIECES};
use crate::units::MM_PER_INCH;

/// The outline in the ASCII DXF file `bytes`, from `layer` alone if one is named (capitals and
/// small letters alike), else from all layers that are shown.
///
/// Numbers are of the unit that the file says under $INSUNITS, unless `measure` says it; if neither
/// does, [`Imported::unit_mm`] is none so that the caller can ask. Entities that are marked
/// invisible or stand on layers that are off or frozen are not taken, the layer named excepted.
pub fn outline_from_dxf(
    bytes: &[u8],
    layer: Option<&str>,
    measure: Measure,
) -> Result<Imported, ImportProblem> {
    if bytes.len() > LARGEST_IMPORT {
        return Err(ImportProblem::TooLarge { bytes: bytes.len() });
    }
    let read = read_text(bytes)?;
    let file = load(&read.text)?;
    let unit_mm = match read.insertion_units.as_deref() {
        None | Some("0") => None,
        Some(code) => match (unit_in_mm(code), measure.unit_mm) {
            (None, None) => {
                return Err(ImportProblem::UnknownUnit {
                    said: format!("code {} under $INSUNITS", shortened(code)),
                });
            }
            (known, _) => known,
        },
    };
    let scale = measure.mm(unit_mm);
    let mut taker = Taker {
        blocks: file.blocks().map(|block| (plain_name(&block.name), block)).collect(),
        wanted: layer.map(plain_name),
        hidden: &read.hidden_layers,
        frozen: &read.frozen_layers,
        strokes: Vec::new(),
        sides: 0,
        present: BTreeSet::new(),
        skipped: BTreeMap::new(),
        count: 0,
    };
    for entity in file.entities().filter(|entity| !entity.common.is_in_paper_space) {
        taker.take(entity, Affine::scale(scale), "0", 0)?;
    }
    if let (Some(layer), true) = (layer, taker.strokes.is_empty()) {
        let present = taker.present.into_iter().collect();
        return Err(ImportProblem::NoLayer { layer: layer.to_owned(), present });
    }
    let notes = notes(&read, &taker.skipped);
    outline_of(taker.strokes, unit_mm, notes)
}

/// The library's reading of the cut-down text.
fn load(text: &str) -> Result<::dxf::Drawing, ImportProblem> {
    let problem = |what: &str| ImportProblem::NotReadable {
        message: format!("the DXF file cannot be read: {what}"),
    };
    // The library has been seen to panic on bad dates; these are not in the text, but one guard
    // more costs nothing.
    match std::panic::catch_unwind(|| ::dxf::Drawing::load(&mut text.as_bytes())) {
        Ok(loaded) => loaded.map_err(|_| problem("a line or arc has a value that is no number")),
        Err(_) => Err(problem("it is damaged")),
    }
}

/// The length in mm of a unit under $INSUNITS (DXF reference, header variables).
///
/// A US survey foot is 1200/3937 m; the astronomical unit is 149,597,870,700 m and the parsec
/// 648,000/pi of it (IAU 2012 and 2015), the light year 365.25 days at 299,792,458 m/s.
fn unit_in_mm(code: &str) -> Option<f64> {
    const METRE: f64 = 1000.0;
    const SURVEY_FOOT: f64 = 1200.0 / 3937.0 * METRE;
    const ASTRONOMICAL: f64 = 149_597_870_700.0 * METRE;
    let mm = match code.parse::<u32>().ok()? {
        1 => MM_PER_INCH,
        2 => 12.0 * MM_PER_INCH,
        3 => 5280.0 * 12.0 * MM_PER_INCH,
        4 => 1.0,
        5 => 10.0,
        6 => METRE,
        7 => 1000.0 * METRE,
        8 => 1e-6 * MM_PER_INCH,
        9 => 1e-3 * MM_PER_INCH,
        10 => 36.0 * MM_PER_INCH,
        11 => 1e-7,
        12 => 1e-6,
        13 => 1e-3,
        14 => 0.1 * METRE,
        15 => 10.0 * METRE,
        16 => 100.0 * METRE,
        17 => 1e9 * METRE,
        18 => ASTRONOMICAL,
        19 => 365.25 * 86_400.0 * 299_792_458.0 * METRE,
        20 => ASTRONOMICAL * 648_000.0 / std::f64::consts::PI,
        21 => SURVEY_FOOT,
        22 => SURVEY_FOOT / 12.0,
        23 => 3.0 * SURVEY_FOOT,
        24 => 5280.0 * SURVEY_FOOT,
        _ => return None,
    };
    Some(mm)
}

fn notes(read: &DxfText, skipped: &BTreeMap<&'static str, usize>) -> Vec<String> {
    let mut notes: Vec<String> =
        skipped.iter().map(|(why, count)| format!("{count} passed over: {why}")).collect();
    if !read.left_out.is_empty() {
        let kinds: Vec<String> = read
            .left_out
            .iter()
            .take(MOST_NAMED)
            .map(|(kind, count)| format!("{count} {}", shortened(kind)))
            .collect();
        notes.push(format!("not lines or arcs, passed over: {}", kinds.join(", ")));
    }
    notes
}

/// Takes the strokes out of entities.
struct Taker<'a> {
    blocks: BTreeMap<String, &'a Block>,
    wanted: Option<String>,
    hidden: &'a [String],
    frozen: &'a [String],
    strokes: Vec<Stroke>,
    /// How many sides they have.
    sides: usize,
    /// Layers with lines.
    present: BTreeSet<String>,
    skipped: BTreeMap<&'static str, usize>,
    count: usize,
}

impl Taker<'_> {
    fn skip(&mut self, why: &'static str) {
        *self.skipped.entry(why).or_default() += 1;
    }

    /// Takes one entity; `motion` leads from its coordinates to mm, and layer 0 of a block is the
    /// layer that the block stands on.
    fn take(
        &mut self,
        entity: &Entity,
        motion: Affine,
        around: &str,
        depth: usize,
    ) -> Result<(), ImportProblem> {
        self.count += 1;
        if self.count > MOST_IMPORTED_PIECES || self.sides > MOST_IMPORTED_PIECES {
            return Err(ImportProblem::TooMuch);
        }
        if !entity.common.is_visible {
            self.skip("marked invisible");
            return Ok(());
        }
        let own = plain_name(&entity.common.layer);
        let layer = if own == "0" && depth > 0 { around.to_owned() } else { own };
        if let EntityType::Insert(insert) = &entity.specific {
            // A block on a frozen layer is hidden whole, on one that is off only what takes that
            // layer.
            if self.wanted.is_none() && self.frozen.contains(&layer) {
                return Ok(());
            }
            return self.take_block(insert, motion, &layer, depth);
        }
        let is_wanted = self
            .wanted
            .as_ref()
            .map_or_else(|| !self.hidden.contains(&layer), |wanted| *wanted == layer);
        self.present.insert(layer);
        if !is_wanted {
            return Ok(());
        }
        match drawn(&entity.specific) {
            Drawn::Pieces { pieces, closed, plane } => match plane_motion(&plane) {
                Some(plane) => {
                    let sides = sides(&pieces, motion * plane)
                        .map_err(|problem| ImportProblem::Unfit { message: problem.to_string() })?;
                    self.push(sides, closed);
                }
                None => self.skip("lines that do not lie flat"),
            },
            Drawn::Spline(Ok(spline)) => {
                let sides = spline.sides(motion).ok_or(ImportProblem::TooMuch)?;
                if !sides.iter().all(|side| is_within_reach(&side.segment)) {
                    return Err(ImportProblem::Unfit { message: PieceProblem::Reach.to_string() });
                }
                self.push(sides, false);
            }
            Drawn::Spline(Err(message)) => {
                return Err(ImportProblem::Unfit { message: message.to_owned() });
            }
            Drawn::Unfit(message) => return Err(ImportProblem::Unfit { message }),
            Drawn::Nothing(why) => self.skip(why),
        }
        Ok(())
    }

    fn push(&mut self, sides: Vec<crate::geom::Side>, closed: bool) {
        if !sides.is_empty() {
            self.sides += sides.len();
            self.strokes.push(Stroke { sides, closed });
        }
    }

    /// Takes what a block holds, once for each place of its array.
    fn take_block(
        &mut self,
        insert: &Insert,
        motion: Affine,
        layer: &str,
        depth: usize,
    ) -> Result<(), ImportProblem> {
        let (Some(plane), true) =
            (plane_motion(&insert.extrusion_direction), depth < DEEPEST_NESTING)
        else {
            self.skip("blocks that do not lie flat or stand too deep in one another");
            return Ok(());
        };
        let Some(block) = self.blocks.get(&plain_name(&insert.name)).copied() else {
            self.skip("blocks that the file does not hold");
            return Ok(());
        };
        let turned = Affine::translate((insert.location.x, insert.location.y))
            * Affine::rotate(insert.rotation.to_radians());
        let sized = Affine::scale_non_uniform(insert.x_scale_factor, insert.y_scale_factor)
            * Affine::translate((-block.base_point.x, -block.base_point.y));
        for row in 0..insert.row_count.max(1) {
            for column in 0..insert.column_count.max(1) {
                let step = Vec2::new(
                    f64::from(column) * insert.column_spacing,
                    f64::from(row) * insert.row_spacing,
                );
                let placed = motion * plane * turned * Affine::translate(step) * sized;
                self.count += 1;
                for entity in &block.entities {
                    self.take(entity, placed, layer, depth + 1)?;
                }
                if self.count > MOST_IMPORTED_PIECES {
                    return Err(ImportProblem::TooMuch);
                }
            }
        }
        Ok(())
    }
}

/// What an entity draws.
enum Drawn {
    /// Pieces in the plane across `plane`.
    Pieces {
        pieces: Vec<Piece>,
        closed: bool,
        plane: Vector,
    },
    Spline(Result<Spline, &'static str>),
    Unfit(String),
    Nothing(&'static str),
}

/// The motion from a plane's own axes to the drawing's: for a plane seen from below, x runs the
/// other way.
fn plane_motion(normal: &Vector) -> Option<Affine> {
    let flat = normal.x.abs() <= 1e-6 * normal.z.abs()
        && normal.y.abs() <= 1e-6 * normal.z.abs()
        && normal.z != 0.0;
    flat.then_some(if normal.z > 0.0 { Affine::IDENTITY } else { Affine::FLIP_X })
}

fn drawn(entity: &EntityType) -> Drawn {
    let place = |p: &::dxf::Point| Point::new(p.x, p.y);
    match entity {
        EntityType::Line(line) if (line.p1.z - line.p2.z).abs() > JOINED_ENDS => {
            Drawn::Nothing("lines that do not lie flat")
        }
        EntityType::Arc(DrawnArc { radius, .. }) | EntityType::Circle(Circle { radius, .. })
            if *radius < 0.0 =>
        {
            Drawn::Unfit(format!(
                "an arc or circle has the radius {radius:e}, and none can be below 0"
            ))
        }
        EntityType::Line(line) => Drawn::Pieces {
            pieces: vec![Piece::Line { from: place(&line.p1), to: place(&line.p2) }],
            closed: false,
            plane: Vector::z_axis(),
        },
        EntityType::Arc(arc) => {
            let start = arc.start_angle.to_radians();
            let sweep = (arc.end_angle - arc.start_angle).rem_euclid(360.0).to_radians();
            let whole = sweep == 0.0;
            let sweep = if whole { std::f64::consts::TAU } else { sweep };
            Drawn::Pieces {
                pieces: round(place(&arc.center), arc.radius, start, sweep),
                closed: whole,
                plane: arc.normal.clone(),
            }
        }
        EntityType::Circle(circle) => {
            let pieces = round(place(&circle.center), circle.radius, 0.0, std::f64::consts::TAU);
            Drawn::Pieces { pieces, closed: true, plane: circle.normal.clone() }
        }
        EntityType::LwPolyline(line) => {
            let vertices: Vec<(Point, f64)> =
                line.vertices.iter().map(|v| (Point::new(v.x, v.y), v.bulge)).collect();
            polyline(&vertices, line.is_closed(), &line.extrusion_direction)
        }
        // 8, 16 and 64 are bits for polylines in space and meshes; 16 of a vertex is for the frame
        // of a curve, not on it.
        EntityType::Polyline(line) if line.flags & (8 | 16 | 64) == 0 => {
            let vertices: Vec<(Point, f64)> = line
                .vertices()
                .filter(|v| v.flags & 16 == 0)
                .map(|v| (place(&v.location), v.bulge))
                .collect();
            polyline(&vertices, line.is_closed(), &line.normal)
        }
        EntityType::Ellipse(ellipse) => {
            let major = Vec2::new(ellipse.major_axis.x, ellipse.major_axis.y);
            // Parameters run about the normal: seen from below they run the other way.
            let Some(plane) = plane_motion(&ellipse.normal) else {
                return Drawn::Nothing("lines that do not lie flat");
            };
            let sense = plane.determinant();
            let turn = std::f64::consts::TAU;
            let sweep = (ellipse.end_parameter - ellipse.start_parameter).rem_euclid(turn);
            let whole = sweep < 1e-9 || turn - sweep < 1e-9;
            let sweep = if whole { turn } else { sweep };
            let radii = Vec2::new(major.hypot(), major.hypot() * ellipse.minor_axis_ratio.abs());
            let arc = Arc::new(
                place(&ellipse.center),
                radii,
                ellipse.start_parameter * sense,
                sweep * sense,
                major.atan2(),
            );
            Drawn::Pieces { pieces: Piece::of_arc(arc), closed: whole, plane: Vector::z_axis() }
        }
        EntityType::Spline(spline)
            if spline.control_points.is_empty() && spline.fit_points.len() >= 2 =>
        {
            let points: Vec<Point> = spline.fit_points.iter().map(place).collect();
            if points.windows(2).any(|pair| pair[0] == pair[1] || !pair[1].is_finite()) {
                return Drawn::Spline(Err("a spline goes through one point twice"));
            }
            let pieces = natural_spline(&points).into_iter().map(Piece::Cubic).collect();
            Drawn::Pieces { pieces, closed: false, plane: Vector::z_axis() }
        }
        EntityType::Spline(spline) => {
            let points: Vec<Point> = spline.control_points.iter().map(place).collect();
            Drawn::Spline(Spline::new(
                spline.degree_of_curve,
                &spline.knot_values,
                &points,
                &spline.weight_values,
            ))
        }
        _ => Drawn::Nothing("polylines in space and meshes"),
    }
}

fn round(centre: Point, radius: f64, start: f64, sweep: f64) -> Vec<Piece> {
    Piece::of_arc(Arc::new(centre, Vec2::new(radius, radius), start, sweep, 0.0))
}

fn polyline(vertices: &[(Point, f64)], closed: bool, plane: &Vector) -> Drawn {
    let ends =
        vertices.iter().skip(1).chain(vertices.first().filter(|_| closed && vertices.len() > 1));
    let pieces = vertices
        .iter()
        .zip(ends)
        .flat_map(|((from, bulge), (to, _))| Piece::of_bulge(*from, *to, *bulge))
        .collect();
    Drawn::Pieces { pieces, closed, plane: plane.clone() }
}
