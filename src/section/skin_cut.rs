//! Sections of shells whose faces are not level: the surfaces of both skins cut by the station's
//! plane.

use std::f64::consts::PI;

use super::cut::Frame;
use super::stack::Moments;
use crate::buck::solid::{Triangle, skin_surface};
use crate::geom::Point;
use crate::part::HalfShell;
use crate::shell::FormedFace;
use crate::shell::Wall;
use crate::tolerance::SOLID_CHORD;

/// How far beyond the ends of the section its own lines may lie, mm: ten times what chords stray;
/// what else the plane meets of a run that curls back lies farther off.
const BESIDE: f64 = 10.0 * SOLID_CHORD;

/// Both skins of a half-shell down to its seam plane, as triangles.
#[derive(Debug)]
pub(super) struct SkinSurfaces {
    outside: Vec<Triangle>,
    inside: Vec<Triangle>,
}

/// The lines in which a plane across the run cuts a skin, from low to high y where the skin faces
/// up: [y, z], z from the seam plane.
struct SkinLines(Vec<[[f64; 2]; 2]>);

/// What both halves have in the plane.
pub(super) struct SkinCut {
    /// The metal, openings out.
    pub(super) metal: Moments,
    /// Its area with openings left in, mm².
    pub(super) whole_area: f64,
    /// Area inside the mid-line, mm².
    pub(super) enclosed: f64,
    /// Length of the mid-line, mm.
    pub(super) length: f64,
}

impl SkinSurfaces {
    /// None where a skin closes on itself.
    pub(super) fn of(shell: &HalfShell, wall: &Wall, face: Option<&FormedFace>) -> Option<Self> {
        let skin = |outside: bool| skin_surface(shell, wall, face, outside);
        Some(Self { outside: skin(true)?, inside: skin(false)? })
    }

    /// The section between two places across the run, each half raised by half the seam's gap,
    /// which is filled with weld. `openings` are stretches across the run where the face is cut
    /// away.
    pub(super) fn cut(
        &self,
        frame: &Frame,
        ends: (f64, f64),
        half_gap: f64,
        thickness: f64,
        openings: &[(f64, f64)],
    ) -> SkinCut {
        let [outer, inner] =
            [&self.outside, &self.inside].map(|skin| SkinLines::of(skin, frame, ends));
        let (whole, hollow) = (outer.under(half_gap, None), inner.under(half_gap, None));
        let mut metal = whole.less(&hollow);
        let whole_area = metal.area;
        for opening in openings {
            metal = metal.less(
                &outer.under(half_gap, Some(*opening)).less(&inner.under(half_gap, Some(*opening))),
            );
        }
        SkinCut {
            metal,
            whole_area,
            // Half-way between two lines a thickness apart all round lies this much less than their
            // mean area.
            enclosed: f64::midpoint(whole.area, hollow.area) - PI * thickness * thickness / 4.0,
            length: outer.length() + inner.length() + 4.0 * half_gap,
        }
    }
}

impl SkinLines {
    fn of(surface: &[Triangle], frame: &Frame, (low, high): (f64, f64)) -> Self {
        let across = frame.across();
        let mut lines = Vec::new();
        for corners in surface {
            let local = corners.map(|[x, y, z]| {
                let offset = Point::new(x, y) - frame.origin;
                [offset.dot(frame.along), offset.dot(across), z]
            });
            let mut met = Vec::with_capacity(2);
            for i in 0..3 {
                let (a, b) = (local[i], local[(i + 1) % 3]);
                // A corner in the plane counts as ahead of it.
                if (a[0] < 0.0) != (b[0] < 0.0) {
                    let share = a[0] / (a[0] - b[0]);
                    met.push((
                        [a[1] + share * (b[1] - a[1]), a[2] + share * (b[2] - a[2])],
                        a[0] < 0.0,
                    ));
                }
            }
            // Seen from above the border of what faces up goes round to the left: it passes the
            // plane forward at the lower y.
            let [(first, ahead), (second, _)] = met[..] else { continue };
            let line = if ahead { [first, second] } else { [second, first] };
            // The chords of a hollow wall lie outside it.
            let middle = f64::midpoint(line[0][0], line[1][0]);
            if middle > low - BESIDE && middle < high + BESIDE {
                lines.push(line);
            }
        }
        Self(lines)
    }

    fn length(&self) -> f64 {
        self.0.iter().map(|[a, b]| (b[0] - a[0]).hypot(b[1] - a[1])).sum()
    }

    /// What lies between the skin and the seam plane in both halves, or in a stretch across the run
    /// alone; exact for its straight lines.
    fn under(&self, raised: f64, between: Option<(f64, f64)>) -> Moments {
        let mut moments = Moments::default();
        for [a, b] in &self.0 {
            let (mut from, mut to) = (0.0, 1.0);
            if let Some((low, high)) = between {
                let span = b[0] - a[0];
                if span.abs() < 1e-12 {
                    continue;
                }
                let (p, q) = ((low - a[0]) / span, (high - a[0]) / span);
                (from, to) = (p.min(q).max(0.0), p.max(q).min(1.0));
                if from >= to {
                    continue;
                }
            }
            let at =
                |share: f64| (a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]) + raised);
            let width = (b[0] - a[0]) * (to - from);
            // Gauss's rule of two points is exact for the cubes that stand here.
            for node in [0.5 - 0.5 / 3.0_f64.sqrt(), 0.5 + 0.5 / 3.0_f64.sqrt()] {
                let (y, z) = at(from + node * (to - from));
                let weight = width / 2.0;
                moments.area += 2.0 * weight * z;
                moments.y += 2.0 * weight * z * y;
                moments.yy += 2.0 * weight * z * y * y;
                moments.zz += 2.0 * weight * z * z * z / 3.0;
            }
        }
        moments
    }
}
