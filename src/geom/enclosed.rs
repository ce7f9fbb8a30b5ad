//! The space that a surface in space closes off, found in a grid of cells: gaps up to about two
//! cells wide count as closed.

use super::space::{Space, SpaceBox};

/// Cells that a grid has at most; the cells grow where it would have more.
const MOST_CELLS: f64 = 4.0e6;
/// Samples of a triangle stand so far apart at most, in cells.
const SAMPLE: f64 = 0.4;

/// What a surface closes off.
#[derive(Debug, Clone, PartialEq)]
pub struct Enclosed {
    /// Volume of the cells that are closed off, mm³: less than the space itself by a layer of one
    /// to two cells along the surface.
    pub volume: f64,
    /// The owners of the triangles that stand beside it, in rising order.
    pub walls: Vec<usize>,
}

/// A grid of cells around a surface.
struct Grid {
    low: Space,
    cell: f64,
    count: [usize; 3],
}

impl Grid {
    fn around(triangles: &[([Space; 3], usize)], cell: f64) -> Option<Self> {
        let SpaceBox { low, high } = SpaceBox::about(triangles.iter().flat_map(|(own, _)| own));
        let size = [0, 1, 2].map(|k| high[k] - low[k]);
        if !size.iter().all(|size| size.is_finite()) {
            return None;
        }
        // Three free cells on each side, so that the outside is one.
        let cells = |cell: f64| size.map(|size| (size / cell).ceil() + 7.0);
        let mut cell = cell;
        while cells(cell).iter().product::<f64>() > MOST_CELLS {
            cell *= 1.1;
        }
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "positive and below MOST_CELLS"
        )]
        let count = cells(cell).map(|count| count as usize);
        Some(Self { low: low.map(|x| x - 3.0 * cell), cell, count })
    }

    fn index(&self, at: [usize; 3]) -> usize {
        (at[2] * self.count[1] + at[1]) * self.count[0] + at[0]
    }

    fn cell_of(&self, p: Space) -> [usize; 3] {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "inside the grid"
        )]
        [0, 1, 2].map(|k| ((p[k] - self.low[k]) / self.cell) as usize)
    }

    /// The six cells beside the one of that index, those at the grid's edge left out.
    fn beside(&self, index: usize) -> impl Iterator<Item = usize> + use<> {
        let [nx, ny, nz] = self.count;
        let (x, y, z) = (index % nx, index / nx % ny, index / nx / ny);
        [
            (x > 0).then(|| index - 1),
            (x + 1 < nx).then(|| index + 1),
            (y > 0).then(|| index - nx),
            (y + 1 < ny).then(|| index + nx),
            (z > 0).then(|| index - nx * ny),
            (z + 1 < nz).then(|| index + nx * ny),
        ]
        .into_iter()
        .flatten()
    }
}

/// The space inside `triangles`, each with its owner, that nothing wider than about two cells of
/// `cell` mm leads out of; none where there is none. Cells grow where the surface is so large that
/// there would be millions of them.
#[must_use]
pub fn enclosed(triangles: &[([Space; 3], usize)], cell: f64) -> Option<Enclosed> {
    let grid = Grid::around(triangles, cell)?;
    let total: usize = grid.count.iter().product();
    // The owner of a surface beside each cell, one more than its number; 0 for free cells.
    let mut taken = vec![0_usize; total];
    for (corners, owner) in triangles {
        for point in samples(corners, SAMPLE * grid.cell) {
            let at = grid.cell_of(point);
            for (dz, dy, dx) in steps_around() {
                taken[grid.index([at[0] + dx - 1, at[1] + dy - 1, at[2] + dz - 1])] = owner + 1;
            }
        }
    }
    let mut open = vec![0];
    let mut outside = vec![false; total];
    outside[0] = true;
    while let Some(index) = open.pop() {
        for next in grid.beside(index) {
            if taken[next] == 0 && !outside[next] {
                outside[next] = true;
                open.push(next);
            }
        }
    }
    let inside: Vec<usize> =
        (0..total).filter(|index| taken[*index] == 0 && !outside[*index]).collect();
    if inside.is_empty() {
        return None;
    }
    let mut walls: Vec<usize> = inside
        .iter()
        .flat_map(|index| grid.beside(*index))
        .filter_map(|index| taken[index].checked_sub(1))
        .collect();
    walls.sort_unstable();
    walls.dedup();
    Some(Enclosed { volume: inside.len() as f64 * grid.cell.powi(3), walls })
}

/// The steps to a cell and its 26 neighbours, each 0 to 2.
fn steps_around() -> impl Iterator<Item = (usize, usize, usize)> {
    (0..27).map(|i| (i / 9, i / 3 % 3, i % 3))
}

/// Points on a triangle, no farther apart than `step` along its sides.
fn samples(corners: &[Space; 3], step: f64) -> impl Iterator<Item = Space> + use<'_> {
    let [a, b, c] = corners;
    let side = |p: &Space, q: &Space| (0..3).map(|k| (q[k] - p[k]).powi(2)).sum::<f64>().sqrt();
    let longest = side(a, b).max(side(b, c)).max(side(c, a));
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "positive; at most a few steps for each cell that the side crosses"
    )]
    let steps = (longest / step).ceil().max(1.0) as usize;
    (0..=steps).flat_map(move |i| {
        (0..=steps - i).map(move |j| {
            let (u, v) = (i as f64 / steps as f64, j as f64 / steps as f64);
            [0, 1, 2].map(|k| a[k] + u * (b[k] - a[k]) + v * (c[k] - a[k]))
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The six sides of a box, each with its number, without those left out; a strip `gap` wide is
    /// missing along one edge of side 0.
    fn sides(size: [f64; 3], without: &[usize], gap: f64) -> Vec<([Space; 3], usize)> {
        let mut triangles = Vec::new();
        for side in (0..6).filter(|side| !without.contains(side)) {
            let (axis, far) = (side / 2, side % 2 == 1);
            let (u, v) = ((axis + 1) % 3, (axis + 2) % 3);
            let corner = |a: f64, b: f64| {
                let mut p = [0.0; 3];
                p[axis] = if far { size[axis] } else { 0.0 };
                p[u] = a;
                p[v] = b;
                p
            };
            let start = if side == 0 { gap } else { 0.0 };
            let [p, q, r, s] = [
                corner(start, 0.0),
                corner(size[u], 0.0),
                corner(size[u], size[v]),
                corner(start, size[v]),
            ];
            triangles.extend([([p, q, r], side), ([p, r, s], side)]);
        }
        triangles
    }

    #[test]
    fn a_box_holds_what_it_holds_but_for_a_layer_of_cells() {
        let size = [120.0, 80.0, 50.0];
        let found = enclosed(&sides(size, &[], 0.0), 2.0).expect("closed");
        assert_eq!(found.walls, [0, 1, 2, 3, 4, 5]);
        let (least, most) =
            (size.map(|x| x - 8.0).iter().product::<f64>(), size.map(|x| x - 2.0).iter().product());
        assert!((least..most).contains(&found.volume), "{}", found.volume);
    }

    #[test]
    fn a_missing_side_or_a_wide_gap_lets_out() {
        let size = [120.0, 80.0, 50.0];
        for side in 0..6 {
            assert_eq!(enclosed(&sides(size, &[side], 0.0), 2.0), None);
        }
        assert!(enclosed(&sides(size, &[], 2.0), 2.0).is_some(), "a gap to be welded");
        assert_eq!(enclosed(&sides(size, &[], 12.0), 2.0), None);
    }
}
