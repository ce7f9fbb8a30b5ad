//! A face that is not level, as it stands and as it lies in the flat.

use super::crown::MeshedFace;
use super::{Metal, RolledEdge, ShellFace};
use crate::geom::{Point, Polyarc, Vec2};
use kurbo::Rect;

/// The face of a shell that is not level, as it stands and as it lies in the flat; of the hand that
/// the description has.
#[derive(Debug, Clone)]
pub struct FormedFace {
    /// Within its tangent lines and open edges, in the flat.
    pub outline: Polyarc,
    pub(super) surface: ShellFace,
    pub(super) mesh: Option<FaceMesh>,
    /// Of a shell with metal left beyond its open edges: the face of the finished one.
    pub(crate) finished: Option<Box<Self>>,
}

/// A face that is more than unrolled.
#[derive(Debug, Clone)]
pub(super) struct FaceMesh {
    pub(super) face: MeshedFace,
    pub(super) flat: Vec<Point>,
    pub(super) metal: Vec<Metal>,
    /// Where its triangles lie in plan and in the flat.
    in_plan: Cells,
    in_flat: Cells,
    /// Distance along the profile of each column, with the tilt of its edge.
    pub(super) tilts: Vec<(f64, f64)>,
}

impl FaceMesh {
    pub(super) fn new(
        face: MeshedFace,
        flat: Vec<Point>,
        metal: Vec<Metal>,
        tilts: Vec<(f64, f64)>,
    ) -> Self {
        let (in_plan, in_flat) =
            (Cells::new(&face.over, &face.triangles), Cells::new(&flat, &face.triangles));
        Self { face, flat, metal, in_plan, in_flat, tilts }
    }

    /// Where the metal of the outside over a place in plan lies in the flat.
    pub(super) fn flat_of(&self, over: Point) -> Point {
        self.carried((&self.in_plan, &self.face.over), &self.flat, over)
    }

    /// The place in plan of the outside whose metal lies there in the flat.
    fn plan_of(&self, flat: Point) -> Point {
        self.carried((&self.in_flat, &self.flat), &self.face.over, flat)
    }

    fn carried(&self, (cells, from): (&Cells, &[Point]), to: &[Point], p: Point) -> Point {
        let Some((corners, shares)) = cells.triangle_about(from, &self.face.triangles, p) else {
            return p;
        };
        corners
            .iter()
            .zip(shares)
            .fold(Vec2::ZERO, |sum, (i, share)| sum + to[*i].to_vec2() * share)
            .to_point()
    }
}

impl FormedFace {
    /// The face of the finished shell: this one, unless metal is left beyond open edges.
    #[must_use]
    pub fn finished(&self) -> &Self {
        self.finished.as_deref().unwrap_or(self)
    }

    /// Where the metal of the outside over a place in plan lies in the flat: exactly where the face
    /// unrolls, else between the solved nodes.
    #[must_use]
    pub fn flat_of(&self, over: Point) -> Point {
        match &self.mesh {
            None => self.surface.unrolled(over),
            Some(mesh) => mesh.flat_of(over),
        }
    }

    /// The place in plan of the outside whose metal lies there in the flat.
    #[must_use]
    pub fn plan_of(&self, flat: Point) -> Point {
        match &self.mesh {
            None => self.surface.rolled(flat),
            Some(mesh) => mesh.plan_of(flat),
        }
    }

    /// Height over the seam plane of the skin `under` mm below the outside, over a place in plan.
    #[must_use]
    pub fn skin_height(&self, p: Point, under: f64) -> f64 {
        let Some(mesh) = &self.mesh else { return self.surface.skin_height(p, under) };
        let face = &mesh.face;
        let Some((corners, shares)) = mesh.in_plan.triangle_about(&face.over, &face.triangles, p)
        else {
            return 0.0;
        };
        let mean =
            |of: &dyn Fn(usize) -> f64| (0..3).map(|i| shares[i] * of(corners[i])).sum::<f64>();
        // The mean of the plane through the corners and of their tangent planes is true to
        // parabolas.
        let gradient =
            |i: usize| Vec2::new(-face.normals[i][0], -face.normals[i][1]) / face.normals[i][2];
        let plane = mean(&|i| face.heights[i]);
        let tangent = mean(&|i| face.heights[i] + gradient(i).dot(p - face.over[i]));
        let upward = mean(&|i| face.normals[i][2]).max(0.1);
        f64::midpoint(plane, tangent) - under / upward
    }

    /// The section of edge and wall at a place of the profile, `along` mm from its start.
    #[must_use]
    pub fn edge(
        &self,
        at: Point,
        outward: Vec2,
        along: f64,
        draft: f64,
        outside_radius: f64,
    ) -> Option<RolledEdge> {
        let edge = RolledEdge::new(&self.surface, at, outward, draft, outside_radius)?;
        let Some(mesh) = &self.mesh else { return Some(edge) };
        let tilts = &mesh.tilts;
        let i = tilts.partition_point(|(place, _)| *place <= along);
        let tilt = match (i.checked_sub(1).map(|i| tilts[i]), tilts.get(i)) {
            (Some((a, p)), Some((b, q))) => p + (q - p) * (along - a) / (b - a),
            (Some((_, p)), None) => p,
            (None, Some((_, q))) => *q,
            (None, None) => 0.0,
        };
        Some(edge.tilted(tilt))
    }

    /// Slope of the face without its crown in a direction at a place in plan.
    #[must_use]
    pub fn slope(&self, p: Point, direction: Vec2) -> f64 {
        self.surface.height(p).1.dot(direction)
    }

    /// How much its run bends it at a place in plan, 1/mm.
    #[must_use]
    pub fn bend_at(&self, p: Point) -> f64 {
        self.surface.bend_at(p)
    }

    /// The face without its crown.
    #[must_use]
    pub const fn surface(&self) -> &ShellFace {
        &self.surface
    }

    /// Whether it is unrolled without strain.
    #[must_use]
    pub const fn is_unrolled(&self) -> bool {
        self.mesh.is_none()
    }
}

/// Triangles of a plane mesh by the square cells that they reach into.
#[derive(Debug, Clone)]
struct Cells {
    origin: Point,
    size: f64,
    columns: usize,
    rows: usize,
    triangles: Vec<Vec<u32>>,
}

impl Cells {
    fn new(points: &[Point], triangles: &[[usize; 3]]) -> Self {
        let bounds = points.iter().fold(None::<Rect>, |all, p| {
            let own = Rect::from_points(*p, *p);
            Some(all.map_or(own, |all| all.union(own)))
        });
        let bounds = bounds.unwrap_or_default();
        let size = (bounds.area() / triangles.len().max(1) as f64)
            .sqrt()
            .max(bounds.width().max(bounds.height()) / 1000.0);
        let size = if size > 0.0 { 2.0 * size } else { 1.0 };
        let mut cells =
            Self { origin: bounds.origin(), size, columns: 1, rows: 1, triangles: Vec::new() };
        let (columns, rows) = cells.at(Point::new(bounds.x1, bounds.y1));
        (cells.columns, cells.rows) = (columns + 1, rows + 1);
        cells.triangles = vec![Vec::new(); cells.columns * cells.rows];
        for (number, corners) in triangles.iter().enumerate() {
            let at = corners.map(|i| cells.at(points[i]));
            let span = |of: &dyn Fn((usize, usize)) -> usize| {
                let all = at.map(of);
                all.iter().copied().min().unwrap_or(0)..=all.iter().copied().max().unwrap_or(0)
            };
            for row in span(&|(_, row)| row) {
                for column in span(&|(column, _)| column) {
                    #[expect(
                        clippy::cast_possible_truncation,
                        reason = "a face has far fewer triangles"
                    )]
                    cells.triangles[row * cells.columns + column].push(number as u32);
                }
            }
        }
        cells
    }

    /// Column and row of the cell about a place; before the first one 0.
    fn at(&self, p: Point) -> (usize, usize) {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held above 0")]
        let cell = |x: f64| (x / self.size).max(0.0) as usize;
        (cell(p.x - self.origin.x), cell(p.y - self.origin.y))
    }

    /// The triangle about a place, or the nearest one, with the shares of its corners.
    fn triangle_about(
        &self,
        points: &[Point],
        triangles: &[[usize; 3]],
        p: Point,
    ) -> Option<([usize; 3], [f64; 3])> {
        let shares = |number: &u32| {
            let [a, b, c] = triangles[*number as usize].map(|i| points[i]);
            let whole = (b - a).cross(c - a);
            let (u, v) = ((p - a).cross(c - a) / whole, (b - a).cross(p - a) / whole);
            [1.0 - u - v, u, v]
        };
        let (column, row) = self.at(p);
        let (column, row) = (column.min(self.columns - 1), row.min(self.rows - 1));
        let mut best: Option<(f64, u32, [f64; 3])> = None;
        let mut last = self.columns.max(self.rows);
        for reach in 0..=self.columns.max(self.rows) {
            if reach > last {
                break;
            }
            for r in row.saturating_sub(reach)..=(row + reach).min(self.rows - 1) {
                for c in column.saturating_sub(reach)..=(column + reach).min(self.columns - 1) {
                    if r.abs_diff(row).max(c.abs_diff(column)) != reach {
                        continue;
                    }
                    for number in &self.triangles[r * self.columns + c] {
                        let shares = shares(number);
                        let least = shares.into_iter().fold(f64::INFINITY, f64::min);
                        if best.is_none_or(|(best, ..)| least > best) {
                            best = Some((least, *number, shares));
                        }
                    }
                }
            }
            match best {
                Some((least, ..)) if least >= -1e-9 => break,
                // Outside: the nearest may reach into a cell one farther out.
                Some(_) => last = last.min(reach + 1),
                None => {}
            }
        }
        best.map(|(_, number, shares)| (triangles[number as usize], shares))
    }
}
