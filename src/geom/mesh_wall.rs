//! Meshes the strip of surface that turns down from a line in a plane: a bend of constant radius,
//! then a straight wall.
//!
//! The line lies in the plane z = 0, the wall goes to negative z. Millimetres and radians. The mesh
//! is structured: one column of nodes for each sample of the line, rows from the line to the wall's
//! edge, diagonals alternating so that no direction is favoured. Normals are exact: the surface is
//! swept by one section, which stands square to the line everywhere.

use std::ops::{Add, Div, Mul, Sub};

/// A point of the tangent line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TangentSample {
    /// Position in the plane, mm.
    pub point: [f64; 2],
    /// Unit normal of the line in the plane, towards the wall.
    pub outward: [f64; 2],
    /// Curvature, 1/mm: + where the line's centre lies on the inner side (the wall fans out).
    pub curvature: f64,
    /// Length of the straight wall above the bend here, mm.
    pub wall_length: f64,
}

/// The wall's section and how finely it is meshed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WallShape {
    /// Radius of the bend's middle surface, mm; 0 = sharp.
    pub bend_mid_radius: f64,
    /// Angle turned through in the bend, radians; π/2 makes a wall square to the plane.
    pub bend_angle: f64,
    /// Rows of quadrilaterals across the bend (none if it is sharp).
    pub bend_rows: usize,
    /// Rows up the straight wall.
    pub wall_rows: usize,
}

/// Fewest rows across a bend and up a wall that keep the strains of a forming solve true to about a
/// thousandth.
pub const LEAST_ROWS: (usize, usize) = (5, 10);

/// Most rows [`WallShape::with_rows_for`] gives.
const MOST_ROWS: usize = 200;

/// Fewest columns that a thinned wall may be left with.
const LEAST_COLUMNS: usize = 8;

/// Why a wall can't be meshed; samples count from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WallFault {
    /// Fewer than two samples, or three of a closed line.
    TooFewSamples,
    /// A number of this sample is no number or out of range, or its normal is not of unit length.
    Sample(usize),
    /// The section has a number out of range, or no rows at all.
    Shape,
    /// The line from this sample to the next has no length, or its normal is on the other side.
    Segment(usize),
    /// The wall runs into the axis of the line's curve at this sample.
    CrossesAxis(usize),
}

impl std::fmt::Display for WallFault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::TooFewSamples => f.write_str("the tangent line has too few samples"),
            Self::Sample(index) => {
                write!(f, "sample {index} of the tangent line has a number out of range")
            }
            Self::Shape => f.write_str("the wall's section has a number out of range, or no rows"),
            Self::Segment(index) => {
                write!(f, "the tangent line stands still or turns over after sample {index}")
            }
            Self::CrossesAxis(index) => {
                write!(f, "the wall runs into the axis of its curve at sample {index}")
            }
        }
    }
}

impl std::error::Error for WallFault {}

/// The meshed wall.
#[derive(Debug, Clone, PartialEq)]
pub struct WallMesh {
    /// Nodes in a column: the tangent line's first, the edge's last.
    pub rows: usize,
    /// Rows of nodes up to the end of the bend, that row included.
    pub bend_end: usize,
    /// Columns, one for each sample.
    pub columns: usize,
    /// Whether the last column joins the first.
    pub closed: bool,
    /// Node positions on the formed surface; node of column c and row r is c · rows + r.
    pub positions: Vec<[f64; 3]>,
    /// Unit normals there, away from the sheet's outer side.
    pub normals: Vec<[f64; 3]>,
    /// Length of the section from the tangent line up to each node, mm.
    pub up: Vec<f64>,
    /// How far along the line each node stands from its column's own place, mm, to the left of the
    /// wall's outward direction.
    pub along: Vec<f64>,
    /// How the corners at the ends of an open wall are cut.
    pub corners: Corners,
    /// Corners of the triangles, turning left where the wall is laid flat outward.
    pub triangles: Vec<[usize; 3]>,
}

/// How the corners at the ends of an open wall are cut into triangles.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Corners {
    /// By turns as everywhere.
    AsTheyCome,
    /// Two triangles meet in each corner of the free edge: one alone there, free on two sides, can
    /// come to balance at any strain.
    Shared,
    /// As [`Self::Shared`], and one stands alone in each corner on the line, which is held: there
    /// strain has no bound, and of two that hang on each other a solve may not settle.
    AloneOnLine,
}

impl WallShape {
    /// Length of the bend in the section, mm.
    #[must_use]
    pub fn bend_length(&self) -> f64 {
        self.bend_mid_radius * self.bend_angle
    }

    /// Rows for elements of about `size` mm up a wall of `wall_length`, never fewer than
    /// [`LEAST_ROWS`].
    #[must_use]
    pub fn with_rows_for(mut self, wall_length: f64, size: f64) -> Self {
        let rows = |length: f64, least: usize| {
            let wanted = (length / size).ceil();
            // Beyond MOST_ROWS a mesh only costs time; no number at all wants the least.
            let most = if wanted.is_nan() { least } else { MOST_ROWS };
            (least..=most).find(|rows| *rows as f64 >= wanted).unwrap_or(most)
        };
        self.bend_rows = rows(self.bend_length(), LEAST_ROWS.0);
        self.wall_rows = rows(wall_length, LEAST_ROWS.1);
        self
    }

    fn rows_in_bend(&self) -> usize {
        if self.bend_length() > 0.0 { self.bend_rows } else { 0 }
    }

    fn good(&self) -> bool {
        let length = |x: f64| x.is_finite() && x >= 0.0;
        length(self.bend_mid_radius)
            && (0.0..=std::f64::consts::PI).contains(&self.bend_angle)
            && self.wall_rows > 0
            && (self.bend_length() == 0.0 || self.bend_rows > 0)
    }

    /// Distance from the line, height and angle turned, `up` mm along the section.
    fn section_point(&self, up: f64) -> (f64, f64, f64) {
        let bend = self.bend_length();
        if up < bend {
            let (sin, cos) = (up / self.bend_mid_radius).sin_cos();
            (
                self.bend_mid_radius * sin,
                self.bend_mid_radius * (cos - 1.0),
                up / self.bend_mid_radius,
            )
        } else {
            let (sin, cos) = self.bend_angle.sin_cos();
            let wall = up - bend;
            (
                self.bend_mid_radius * sin + wall * cos,
                self.bend_mid_radius * (cos - 1.0) - wall * sin,
                self.bend_angle,
            )
        }
    }
}

/// Meshes the wall along one run of the tangent line. A sharp corner or an open edge ends a run.
pub fn mesh_wall(
    samples: &[TangentSample],
    closed: bool,
    shape: &WallShape,
) -> Result<WallMesh, WallFault> {
    if samples.len() < if closed { 3 } else { 2 } {
        return Err(WallFault::TooFewSamples);
    }
    if !shape.good() {
        return Err(WallFault::Shape);
    }
    let bend_rows = shape.rows_in_bend();
    let rows = bend_rows + shape.wall_rows + 1;
    let mut mesh = WallMesh {
        rows,
        bend_end: bend_rows + 1,
        columns: samples.len(),
        closed,
        positions: Vec::with_capacity(rows * samples.len()),
        normals: Vec::with_capacity(rows * samples.len()),
        up: Vec::with_capacity(rows * samples.len()),
        along: vec![0.0; rows * samples.len()],
        corners: Corners::AsTheyCome,
        triangles: Vec::new(),
    };
    for (index, sample) in samples.iter().enumerate() {
        mesh.add_column(sample, shape).map_err(|fault| fault(index))?;
    }
    mesh.add_triangles(wall_side(samples, closed)?);
    Ok(mesh)
}

/// The nodes of one column of a wall whose section changes along the line.
#[derive(Debug, Clone, PartialEq)]
pub struct NodeColumn {
    /// As [`WallMesh::positions`], from the line on.
    pub positions: Vec<[f64; 3]>,
    /// As [`WallMesh::normals`].
    pub normals: Vec<[f64; 3]>,
    /// As [`WallMesh::up`].
    pub up: Vec<f64>,
    /// As [`WallMesh::along`].
    pub along: Vec<f64>,
}

/// Meshes a wall of given columns, all of as many nodes, `bend_end` of them up to the end of the
/// bend; `samples` is the line once it is laid flat, a sample a column. Its ends may be free:
/// corners of the free edge are shared by two triangles.
pub fn mesh_columns(
    columns: Vec<NodeColumn>,
    bend_end: usize,
    samples: &[TangentSample],
    (closed, corners): (bool, Corners),
) -> Result<WallMesh, WallFault> {
    let rows = columns.first().map_or(0, |column| column.up.len());
    if columns.len() < if closed { 3 } else { 2 } || columns.len() != samples.len() {
        return Err(WallFault::TooFewSamples);
    }
    if bend_end == 0 || bend_end >= rows {
        return Err(WallFault::Shape);
    }
    let whole = |c: &NodeColumn| {
        c.up.len() == rows
            && c.positions.len() == rows
            && c.normals.len() == rows
            && c.along.len() == rows
    };
    let finite = |c: &NodeColumn| {
        c.positions
            .iter()
            .chain(&c.normals)
            .flatten()
            .chain(&c.up)
            .chain(&c.along)
            .all(|x| x.is_finite())
    };
    if let Some(bad) = columns.iter().position(|c| !whole(c) || !finite(c)) {
        return Err(WallFault::Sample(bad));
    }
    let count = columns.len();
    let wall_left = wall_side(samples, closed)?;
    let mut mesh = WallMesh {
        rows,
        bend_end,
        columns: count,
        closed,
        positions: Vec::with_capacity(rows * count),
        normals: Vec::with_capacity(rows * count),
        up: Vec::with_capacity(rows * count),
        along: Vec::with_capacity(rows * count),
        corners,
        triangles: Vec::new(),
    };
    for column in columns {
        mesh.positions.extend(column.positions);
        mesh.normals.extend(column.normals);
        mesh.up.extend(column.up);
        mesh.along.extend(column.along);
    }
    mesh.add_triangles(wall_left);
    Ok(mesh)
}

/// Whether the wall lies to the left of the walk along the samples; every segment must agree.
fn wall_side(samples: &[TangentSample], closed: bool) -> Result<bool, WallFault> {
    let count = samples.len();
    let mut left = None;
    for index in 0..count - usize::from(!closed) {
        let (a, b) = (&samples[index], &samples[(index + 1) % count]);
        let along = [b.point[0] - a.point[0], b.point[1] - a.point[1]];
        for normal in [a.outward, b.outward] {
            let side = along[0] * normal[1] - along[1] * normal[0];
            if side == 0.0 || *left.get_or_insert(side > 0.0) != (side > 0.0) {
                return Err(WallFault::Segment(index));
            }
        }
    }
    left.ok_or(WallFault::TooFewSamples)
}

impl WallMesh {
    /// Node of a column and row.
    #[must_use]
    pub fn node(&self, column: usize, row: usize) -> usize {
        column * self.rows + row
    }

    /// Whether both nodes of an edge lie within the bend, its two bounding rows included.
    #[must_use]
    pub fn in_bend(&self, a: usize, b: usize) -> bool {
        a % self.rows < self.bend_end && b % self.rows < self.bend_end
    }

    /// The wall laid flat straight outward from the line, each node `distance(column, up)` mm from
    /// it and as far along it as it stands.
    #[must_use]
    pub fn laid_out(
        &self,
        samples: &[TangentSample],
        distance: impl Fn(usize, f64) -> f64,
    ) -> Vec<[f64; 2]> {
        let place = |(index, up): (usize, &f64)| {
            let sample = &samples[index / self.rows];
            let w = distance(index / self.rows, *up);
            let ([x, y], along) = (sample.outward, self.along[index]);
            [sample.point[0] + w * x - along * y, sample.point[1] + w * y + along * x]
        };
        self.up.iter().enumerate().map(place).collect()
    }

    /// The same wall with every other column and row, and which they are. The tangent line, the end
    /// of the bend, the edge and the ends of an open line stay. None where too little is left.
    #[must_use]
    pub fn thinned(&self) -> Option<(Self, Vec<usize>, Vec<usize>)> {
        let every_other = |from: usize, to: usize| (from..to).step_by(2).chain([to]);
        let bend = self.bend_end - 1;
        let mut rows: Vec<usize> =
            every_other(0, bend).chain(every_other(bend, self.rows - 1)).collect();
        rows.dedup();
        let last = self.columns - 1;
        let columns: Vec<usize> = if self.closed {
            (0..=last).step_by(2).collect()
        } else {
            every_other(0, last).collect()
        };
        if columns.len() < LEAST_COLUMNS || rows.len() < 3 || (bend > 0 && bend < 2) {
            return None;
        }
        let nodes =
            || columns.iter().flat_map(|column| rows.iter().map(|row| self.node(*column, *row)));
        let [a, b, c] = self.triangles.first().copied()?;
        let mut thin = Self {
            rows: rows.len(),
            bend_end: rows.iter().position(|row| *row == bend)? + 1,
            columns: columns.len(),
            closed: self.closed,
            positions: nodes().map(|node| self.positions[node]).collect(),
            normals: nodes().map(|node| self.normals[node]).collect(),
            up: nodes().map(|node| self.up[node]).collect(),
            along: nodes().map(|node| self.along[node]).collect(),
            corners: self.corners,
            triangles: Vec::new(),
        };
        // The first triangle stands on nodes (0, 0), (1, 0), (1, 1) or with its last two the other
        // way.
        let wall_left = [a, b, c] == [self.node(0, 0), self.node(1, 0), self.node(1, 1)];
        thin.add_triangles(wall_left);
        Some((thin, columns, rows))
    }

    fn add_column(
        &mut self,
        sample: &TangentSample,
        shape: &WallShape,
    ) -> Result<(), fn(usize) -> WallFault> {
        let [nx, ny] = sample.outward;
        let finite = sample
            .point
            .iter()
            .chain(&sample.outward)
            .chain([&sample.curvature])
            .all(|x| x.is_finite());
        let wall = sample.wall_length;
        if !finite || (nx.hypot(ny) - 1.0).abs() > 1e-9 || !wall.is_finite() || wall <= 0.0 {
            return Err(WallFault::Sample);
        }
        let bend_rows = self.bend_end - 1;
        for row in 0..self.rows {
            let up = if row < bend_rows {
                shape.bend_length() * row as f64 / bend_rows as f64
            } else {
                shape.bend_length() + wall * (row - bend_rows) as f64 / shape.wall_rows as f64
            };
            let (x, z, turned) = shape.section_point(up);
            if 1.0 + sample.curvature * x <= 0.0 {
                return Err(WallFault::CrossesAxis);
            }
            let (sin, cos) = turned.sin_cos();
            self.positions.push([sample.point[0] + x * nx, sample.point[1] + x * ny, z]);
            self.normals.push([sin * nx, sin * ny, cos]);
            self.up.push(up);
        }
        Ok(())
    }

    fn add_triangles(&mut self, wall_left: bool) {
        for column in 0..self.columns - usize::from(!self.closed) {
            let next = (column + 1) % self.columns;
            for row in 0..self.rows - 1 {
                let [a, b, c, d] = [
                    self.node(column, row),
                    self.node(next, row),
                    self.node(next, row + 1),
                    self.node(column, row + 1),
                ];
                let free =
                    self.corners != Corners::AsTheyCome && !self.closed && row + 2 == self.rows;
                let on_line = self.corners == Corners::AloneOnLine && !self.closed && row == 0;
                let rises = match (free || on_line, column == 0, next + 1 == self.columns) {
                    (true, true, _) => false,
                    (true, _, true) => true,
                    _ => (column + row).is_multiple_of(2),
                };
                let halves = if rises { [[a, b, c], [a, c, d]] } else { [[a, b, d], [b, c, d]] };
                for [i, j, k] in halves {
                    self.triangles.push(if wall_left { [i, j, k] } else { [i, k, j] });
                }
            }
        }
    }
}

/// Index of the column `by` places on; none past an open end.
pub(crate) fn shifted(count: usize, closed: bool, column: usize, by: isize) -> Option<usize> {
    if closed {
        let by = by.rem_euclid(count.cast_signed()).unsigned_abs();
        return Some((column + by) % count);
    }
    column.checked_add_signed(by).filter(|i| *i < count)
}

/// The middle one of five neighbours by the weights (-1, 4, 10, 4, -1)/16: a zigzag is gone, cubics
/// stay as they are.
pub(crate) fn without_zigzag<T>([a, b, c, d, e]: [T; 5]) -> T
where
    T: Add<Output = T> + Sub<Output = T> + Mul<f64, Output = T> + Div<f64, Output = T>,
{
    (c * 10.0 + (b + d) * 4.0 - a - e) / 16.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::{FRAC_PI_2, PI};

    fn circle(radius: f64, count: usize, wall_length: f64) -> Vec<TangentSample> {
        (0..count)
            .map(|i| {
                let (sin, cos) = (2.0 * PI * i as f64 / count as f64).sin_cos();
                TangentSample {
                    point: [radius * cos, radius * sin],
                    outward: [cos, sin],
                    curvature: 1.0 / radius,
                    wall_length,
                }
            })
            .collect()
    }

    const SHAPE: WallShape =
        WallShape { bend_mid_radius: 4.0, bend_angle: FRAC_PI_2, bend_rows: 6, wall_rows: 8 };

    /// Area of the meshed cup wall against Pappus: 2π (a Rm π/2 + Rm²) for the bend, 2π (a + Rm) h
    /// for the wall.
    #[test]
    fn area_of_a_cup_wall() {
        let mesh = mesh_wall(&circle(46.0, 400, 16.0), true, &SHAPE).expect("a cup");
        let area: f64 = mesh
            .triangles
            .iter()
            .map(|corners| {
                let [a, b, c] = corners.map(|node| mesh.positions[node]);
                let (p, q): ([f64; 3], [f64; 3]) =
                    (std::array::from_fn(|i| b[i] - a[i]), std::array::from_fn(|i| c[i] - a[i]));
                let cross = [
                    p[1] * q[2] - p[2] * q[1],
                    p[2] * q[0] - p[0] * q[2],
                    p[0] * q[1] - p[1] * q[0],
                ];
                0.5 * cross.iter().map(|x| x * x).sum::<f64>().sqrt()
            })
            .sum();
        let exact = 2.0 * PI * (46.0 * 4.0 * FRAC_PI_2 + 16.0) + 2.0 * PI * 50.0 * 16.0;
        assert!((area / exact - 1.0).abs() < 1e-3, "{area} for {exact}");
        assert_eq!(mesh.triangles.len(), 400 * 14 * 2);
    }

    /// Laid flat, every triangle turns left, whichever way the line is walked.
    #[test]
    fn triangles_turn_left_both_ways() {
        let mut samples = circle(46.0, 30, 16.0);
        for _ in 0..2 {
            let mesh = mesh_wall(&samples, true, &SHAPE).expect("a cup");
            let flat = mesh.laid_out(&samples, |_, up| up);
            for corners in &mesh.triangles {
                let [a, b, c] = corners.map(|node| flat[node]);
                assert!((b[0] - a[0]) * (c[1] - a[1]) > (b[1] - a[1]) * (c[0] - a[0]));
            }
            samples.reverse();
        }
    }

    #[test]
    fn walls_that_cannot_be_are_named() {
        let good = circle(46.0, 30, 16.0);
        assert_eq!(mesh_wall(&good[..1], false, &SHAPE).err(), Some(WallFault::TooFewSamples));
        let mut bad = good.clone();
        bad[3].outward = [2.0, 0.0];
        assert_eq!(mesh_wall(&bad, true, &SHAPE).err(), Some(WallFault::Sample(3)));
        let mut bad = good.clone();
        bad[3].point[0] = f64::NAN;
        assert_eq!(mesh_wall(&bad, true, &SHAPE).err(), Some(WallFault::Sample(3)));
        let mut bad = good.clone();
        bad[4].point = bad[3].point;
        assert_eq!(mesh_wall(&bad, true, &SHAPE).err(), Some(WallFault::Segment(3)));
        let mut bad = good.clone();
        bad[5].curvature = -0.5;
        assert_eq!(mesh_wall(&bad, true, &SHAPE).err(), Some(WallFault::CrossesAxis(5)));
        assert_eq!(
            mesh_wall(&good, true, &WallShape { wall_rows: 0, ..SHAPE }).err(),
            Some(WallFault::Shape)
        );
    }
}
