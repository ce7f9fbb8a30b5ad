//! The linear systems of a wall's mesh, columns by rows: solved by least residuals, nearer each
//! time by one cycle over coarser meshes.
//!
//! A cycle (A. Brandt, Math. Comp. 31, 1977; W. Hackbusch, Multi-Grid Methods and
//! Applications, 1985) balances column after column, each against its neighbours as they stand, leaves what is
//! smooth of the rest to the wall with every other column and row, and balances the columns again
//! on the way back. Columns, for elements are finest up the wall, so that its nodes hang together
//! most along them. The coarser wall has its own matrix already: it has been solved before
//! (`coarse.rs`). A cycle costs about as much as the matrix has entries, whereas the factors of a
//! fine mesh have many more.

use super::sparse::{SystemFault, least_residual};
use super::system::{Move, System};

/// A 2 × 2 matrix by columns.
type Block = [f64; 4];
/// A node's blocks with its neighbours of one column, or with itself and those of its own: a row
/// before, beside, a row after.
type Blocks = [Block; 3];
const NONE: Blocks = [[0.0; 4]; 3];
/// Cycles allowed to one solve: some four do, and where so many don't, factors are the better way.
const MOST_CYCLES: usize = 14;

/// How the nodes of a wall stand: node of column c and row r is c · rows + r.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Grid {
    pub(super) rows: usize,
    pub(super) columns: usize,
    /// Whether the last column joins the first.
    pub(super) closed: bool,
}

/// Where nodes stand between the kept ones: the two about each, and the share of the second.
pub(super) type Between = Vec<(usize, usize, f64)>;

/// A matrix over the nodes of a wall, and how to solve it.
pub(super) struct GridSystem {
    grid: Grid,
    triangles: Vec<[usize; 3]>,
    held: Vec<[bool; 2]>,
    /// Column after column: of all its nodes the blocks with the column before, then those with
    /// itself, then those with the one after.
    blocks: Vec<Blocks>,
    /// What each of two threads adds to the first column of the other.
    seams: [Vec<Blocks>; 2],
    lines: Vec<Line>,
    coarse: Box<System>,
    columns: Between,
    rows: Between,
    coarse_rows: usize,
    coarse_nodes: usize,
}

/// One node's part in the factors of its column.
#[derive(Debug, Clone, Copy, Default)]
struct Line {
    /// Of the rest of the row below, taken off this one's.
    below: Block,
    /// Turns this row's rest into its move.
    inverse: Block,
    /// Of the move of the row above, taken off this one's.
    above: Block,
}

/// Where one thread adds matrices of elements.
pub(super) struct GridStiffness<'a> {
    grid: Grid,
    triangles: &'a [[usize; 3]],
    /// Its first column.
    from: usize,
    blocks: &'a mut [Blocks],
    seam: &'a mut [Blocks],
}

/// Columns or rows between the kept ones, as shares of an even spacing; `closed`: after the last
/// kept comes the first again.
pub(super) fn between(count: usize, kept: &[usize], closed: bool) -> Between {
    (0..count)
        .map(|at| {
            let after = kept.partition_point(|k| *k < at);
            if kept.get(after) == Some(&at) || after == 0 {
                return (after, after, 0.0);
            }
            let (a, first) = (after - 1, kept[after - 1]);
            match kept.get(after) {
                Some(second) => (a, after, (at - first) as f64 / (second - first) as f64),
                None if closed => (a, 0, (at - first) as f64 / (count - first) as f64),
                None => (a, a, 0.0),
            }
        })
        .collect()
}

fn times(a: &Block, x: Move) -> Move {
    [a[0] * x[0] + a[2] * x[1], a[1] * x[0] + a[3] * x[1]]
}

fn product(a: &Block, b: &Block) -> Block {
    let ([p, q], [r, s]) = (times(a, [b[0], b[1]]), times(a, [b[2], b[3]]));
    [p, q, r, s]
}

fn less(a: Move, b: Move) -> Move {
    [a[0] - b[0], a[1] - b[1]]
}

impl GridStiffness<'_> {
    /// Adds the matrix of element `index`, of which only the lower half is read.
    pub(super) fn add(&mut self, index: usize, matrix: &[[f64; 6]; 6]) {
        let Grid { rows, columns, .. } = self.grid;
        let column = index / (2 * (rows - 1));
        // Each corner's place in its column, and whether that is the next one.
        let corners = self.triangles[index].map(|node| {
            match node.checked_sub(column * rows).filter(|row| *row < rows) {
                Some(row) => (row, 0),
                None => (node - (column + 1) % columns * rows, 1),
            }
        });
        let first = 3 * (column - self.from) * rows;
        for (i, (row, next)) in corners.into_iter().enumerate() {
            for (j, (other, there)) in corners.into_iter().enumerate() {
                let at = first + (2 * next + there + 1) * rows + row;
                let blocks = match at.checked_sub(self.blocks.len()) {
                    None => &mut self.blocks[at],
                    Some(over) => &mut self.seam[over],
                };
                for (k, value) in blocks[other + 1 - row].iter_mut().enumerate() {
                    let (a, b) = (2 * i + k % 2, 2 * j + k / 2);
                    *value += matrix[a.max(b)][a.min(b)];
                }
            }
        }
    }
}

impl GridSystem {
    /// `coarse`: the system of the wall with every other column and row as it was solved last;
    /// `columns` and `rows`: which those are.
    pub(super) fn new(
        grid: Grid,
        triangles: &[[usize; 3]],
        held: &[[bool; 2]],
        coarse: System,
        (columns, rows): (&[usize], &[usize]),
    ) -> Self {
        let count = grid.rows * grid.columns;
        Self {
            grid,
            triangles: triangles.to_vec(),
            held: held.to_vec(),
            blocks: vec![NONE; 3 * count],
            seams: [(); 2].map(|()| vec![NONE; 3 * grid.rows]),
            lines: vec![Line::default(); count],
            coarse: Box::new(coarse),
            columns: between(grid.columns, columns, grid.closed),
            rows: between(grid.rows, rows, false),
            coarse_rows: rows.len(),
            coarse_nodes: rows.len() * columns.len(),
        }
    }

    pub(super) fn clear(&mut self) {
        self.blocks.fill(NONE);
        self.seams.iter_mut().for_each(|seam| seam.fill(NONE));
    }

    /// The triangle the second thread begins with.
    pub(super) fn split(&self) -> usize {
        self.grid.columns / 2 * 2 * (self.grid.rows - 1)
    }

    /// Room for two threads to add to, each its own columns' triangles.
    pub(super) fn halves(&mut self) -> (GridStiffness<'_>, GridStiffness<'_>) {
        let Self { grid, triangles, blocks, seams: [first, second], .. } = self;
        let from = grid.columns / 2;
        let (left, right) = blocks.split_at_mut(3 * from * grid.rows);
        (
            GridStiffness { grid: *grid, triangles, from: 0, blocks: left, seam: first },
            GridStiffness { grid: *grid, triangles, from, blocks: right, seam: second },
        )
    }

    /// Adds a matrix that need not be symmetric to element `index`.
    pub(super) fn add_lopsided(&mut self, index: usize, matrix: &[[f64; 6]; 6]) {
        let Grid { rows, columns, .. } = self.grid;
        let corners = self.triangles[index];
        for (i, a) in corners.into_iter().enumerate() {
            for (j, b) in corners.into_iter().enumerate() {
                // 0 the same column, 1 the next, the last but one of a ring the one before.
                let across = match (b / rows + columns - a / rows) % columns {
                    0 => 1,
                    1 => 2,
                    _ => 0,
                };
                let blocks = &mut self.blocks[(3 * (a / rows) + across) * rows + a % rows];
                for (k, value) in blocks[b % rows + 1 - a % rows].iter_mut().enumerate() {
                    *value += matrix[2 * i + k % 2][2 * j + k / 2];
                }
            }
        }
    }

    /// Makes ready to solve; refused where a column by itself is not stable.
    pub(super) fn factor(&mut self) -> Result<(), SystemFault> {
        let Self { grid: Grid { rows, columns, .. }, held, blocks, seams, lines, .. } = self;
        let (rows, columns) = (*rows, *columns);
        for (seam, column) in seams.iter().zip([columns / 2, 0]) {
            let own = &mut blocks[3 * column * rows..3 * (column + 1) * rows];
            for (sum, more) in own
                .as_flattened_mut()
                .as_flattened_mut()
                .iter_mut()
                .zip(seam.as_flattened().as_flattened())
            {
                *sum += more;
            }
        }
        let by_column = held.chunks_exact(rows).zip(lines.chunks_exact_mut(rows));
        for (blocks, (held, lines)) in blocks.chunks_exact_mut(3 * rows).zip(by_column) {
            for (row, held) in held.iter().enumerate() {
                for axis in (0..2).filter(|axis| held[*axis]) {
                    for across in 0..3 {
                        for block in &mut blocks[across * rows + row] {
                            (block[axis], block[axis + 2]) = (0.0, 0.0);
                        }
                    }
                    blocks[rows + row][1][3 * axis] = 1.0;
                }
            }
            let mut before = Line::default();
            for (node, line) in blocks[rows..2 * rows].iter().zip(lines) {
                // As above = inverse · upper block, below · upper = lower block · above. Before the
                // first row all is 0.
                line.below = product(&node[0], &before.inverse);
                let mut own = node[1];
                own.iter_mut()
                    .zip(product(&node[0], &before.above))
                    .for_each(|(x, taken)| *x -= taken);
                let determinant = own[0] * own[3] - own[1] * own[2];
                if determinant.is_nan() || determinant <= 0.0 || own[0] <= 0.0 {
                    return Err(SystemFault::Indefinite);
                }
                line.inverse = [own[3], -own[1], -own[2], own[0]].map(|x| x / determinant);
                line.above = product(&line.inverse, &node[2]);
                before = *line;
            }
        }
        Ok(())
    }

    /// Solves for `right`, in place, to `tolerance` of its length as one cycle would solve it;
    /// refused where cycles come nearer too slowly.
    pub(super) fn solve(&self, right: &mut Vec<Move>, tolerance: f64) -> Result<(), SystemFault> {
        *right = self.cycle(right);
        let apply = |x: &[f64]| {
            let (moves, _) = x.as_chunks::<2>();
            self.cycle(&self.times(moves)).into_flattened()
        };
        if least_residual(apply, right.as_flattened_mut(), tolerance, MOST_CYCLES) {
            Ok(())
        } else {
            Err(SystemFault::Slow)
        }
    }

    /// Takes the forces off coordinates that are held.
    pub(super) fn free(&self, forces: &mut [Move]) {
        for (force, held) in forces.as_flattened_mut().iter_mut().zip(self.held.as_flattened()) {
            if *held {
                *force = 0.0;
            }
        }
    }

    fn times(&self, x: &[Move]) -> Vec<Move> {
        let rows = self.grid.rows;
        let mut result = Vec::with_capacity(x.len());
        for column in 0..self.grid.columns {
            let mut own = vec![[0.0; 2]; rows];
            for (across, other) in
                [(0, self.before(column)), (1, Some(column)), (2, self.after(column))]
            {
                if let Some(other) = other {
                    self.add_times(
                        column,
                        across,
                        &x[other * rows..(other + 1) * rows],
                        &mut own,
                        1.0,
                    );
                }
            }
            result.extend(own);
        }
        result
    }

    fn before(&self, column: usize) -> Option<usize> {
        column.checked_sub(1).or(self.grid.closed.then_some(self.grid.columns - 1))
    }

    fn after(&self, column: usize) -> Option<usize> {
        if column + 1 < self.grid.columns {
            Some(column + 1)
        } else {
            self.grid.closed.then_some(0)
        }
    }

    /// Adds the blocks of `column` with one column beside it or itself, times the moves there.
    fn add_times(&self, column: usize, across: usize, moves: &[Move], sum: &mut [Move], sign: f64) {
        let rows = self.grid.rows;
        let blocks = &self.blocks[(3 * column + across) * rows..(3 * column + across + 1) * rows];
        let mut near = [[0.0; 2], [0.0; 2], moves[0]];
        for (row, ([before, beside, after], sum)) in blocks.iter().zip(sum).enumerate() {
            near = [near[1], near[2], moves.get(row + 1).copied().unwrap_or_default()];
            let [a, b, c] = [times(before, near[0]), times(beside, near[1]), times(after, near[2])];
            for axis in 0..2 {
                sum[axis] += sign * (a[axis] + b[axis] + c[axis]);
            }
        }
    }

    /// Turns a column's rest into the moves that undo it while its neighbours stand still.
    fn balance_column(&self, column: usize, rest: &mut [Move]) {
        let rows = self.grid.rows;
        let lines = &self.lines[column * rows..(column + 1) * rows];
        let mut below = [0.0; 2];
        for (line, rest) in lines.iter().zip(rest.iter_mut()) {
            *rest = less(*rest, times(&line.below, below));
            below = *rest;
        }
        let mut above = [0.0; 2];
        for (line, rest) in lines.iter().zip(rest.iter_mut()).rev() {
            *rest = less(times(&line.inverse, *rest), times(&line.above, above));
            above = *rest;
        }
    }

    /// The moves that one cycle makes of forces.
    pub(super) fn cycle(&self, right: &[Move]) -> Vec<Move> {
        let Grid { rows, columns, closed } = self.grid;
        let of = |column: usize| column * rows..(column + 1) * rows;
        // On the way out no column has moved yet that comes later.
        let mut moves = right.to_vec();
        for column in 0..columns {
            let (done, own) = moves.split_at_mut(column * rows);
            let own = &mut own[..rows];
            if column > 0 {
                self.add_times(column, 0, &done[of(column - 1)], own, -1.0);
            }
            if closed && column + 1 == columns {
                self.add_times(column, 2, &done[of(0)], own, -1.0);
            }
            self.balance_column(column, own);
        }
        // So what is left of each is what the next one's moves have upset since.
        let mut coarse = vec![[0.0; 2]; self.coarse_nodes];
        let mut rest = vec![[0.0; 2]; rows];
        let mut thin = vec![[0.0; 2]; self.coarse_rows];
        for column in 0..columns {
            rest.fill([0.0; 2]);
            if column + 1 < columns {
                self.add_times(column, 2, &moves[of(column + 1)], &mut rest, -1.0);
            }
            if closed && column == 0 {
                self.add_times(column, 0, &moves[of(columns - 1)], &mut rest, -1.0);
            }
            self.hand_down(column, &rest, &mut thin, &mut coarse);
        }
        let smooth = self.coarse.nearly(coarse);
        self.take_up(&smooth, &mut moves);
        for column in (0..columns).rev() {
            rest.copy_from_slice(&right[of(column)]);
            for (across, other) in [(0, self.before(column)), (2, self.after(column))] {
                if let Some(other) = other {
                    self.add_times(column, across, &moves[of(other)], &mut rest, -1.0);
                }
            }
            self.balance_column(column, &mut rest);
            moves[of(column)].copy_from_slice(&rest);
        }
        moves
    }

    /// Shares one column's rest out among the kept nodes about it.
    fn hand_down(&self, column: usize, rest: &[Move], thin: &mut [Move], coarse: &mut [Move]) {
        thin.fill([0.0; 2]);
        for ((a, b, share), rest) in self.rows.iter().zip(rest) {
            for axis in 0..2 {
                thin[*a][axis] += (1.0 - share) * rest[axis];
                thin[*b][axis] += share * rest[axis];
            }
        }
        let (a, b, share) = self.columns[column];
        for (to, share) in [(a, 1.0 - share), (b, share)] {
            if share > 0.0 {
                let own = &mut coarse[to * self.coarse_rows..(to + 1) * self.coarse_rows];
                for (sum, thin) in own.iter_mut().zip(thin.iter()) {
                    sum[0] += share * thin[0];
                    sum[1] += share * thin[1];
                }
            }
        }
    }

    /// Moves every node that is free by what the kept nodes about it move.
    fn take_up(&self, smooth: &[Move], moves: &mut [Move]) {
        let mut thin = vec![[0.0; 2]; self.coarse_rows];
        for ((moves, held), (a, b, share)) in moves
            .chunks_exact_mut(self.grid.rows)
            .zip(self.held.chunks_exact(self.grid.rows))
            .zip(&self.columns)
        {
            let column = |c: usize| &smooth[c * self.coarse_rows..(c + 1) * self.coarse_rows];
            for (thin, (a, b)) in thin.iter_mut().zip(column(*a).iter().zip(column(*b))) {
                *thin = [0, 1].map(|axis| a[axis] + share * (b[axis] - a[axis]));
            }
            for ((own, held), (a, b, share)) in moves.iter_mut().zip(held).zip(&self.rows) {
                for axis in (0..2).filter(|axis| !held[*axis]) {
                    own[axis] += thin[*a][axis] + share * (thin[*b][axis] - thin[*a][axis]);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fe::coarse::{Thinned, WallProblem};
    use crate::fe::edge::FreeEdges;
    use crate::fe::element::{Element, Volume};
    use crate::fe::law::SheetLaw;
    use crate::fe::membrane::Membrane;
    use crate::fe::system::Factors;
    use crate::fe::wall::wall_membrane;
    use crate::geom::mesh_wall::{TangentSample, WallMesh, WallShape, mesh_wall};
    use std::f64::consts::{FRAC_PI_2, TAU};

    const LAW: SheetLaw = SheetLaw {
        strength_mpa: 1000.0,
        hardening: 0.17,
        anisotropy: 1.0,
        elastic_modulus_mpa: 205_000.0,
    };

    /// A wall about a circle of 46 mm radius, or about part of it, with an odd number of rows and
    /// columns left over by the thinning.
    fn wall(turn: f64, closed: bool, columns: usize) -> (WallMesh, Vec<TangentSample>, Membrane) {
        let steps = columns - usize::from(!closed);
        let sample = |i: usize| {
            let (sin, cos) = (turn * i as f64 / steps as f64).sin_cos();
            TangentSample {
                point: [46.0 * cos, 46.0 * sin],
                outward: [cos, sin],
                curvature: 1.0 / 46.0,
                wall_length: 16.0,
            }
        };
        let samples: Vec<TangentSample> = (0..columns).map(sample).collect();
        let shape =
            WallShape { bend_mid_radius: 4.0, bend_angle: FRAC_PI_2, bend_rows: 5, wall_rows: 12 };
        let mesh = mesh_wall(&samples, closed, &shape).expect("a wall");
        let mut membrane = wall_membrane(&mesh, &samples, 0.95, &LAW, 1.8).expect("a problem");
        if !closed {
            (0..mesh.rows).for_each(|row| membrane.held[mesh.node(0, row)][1] = true);
        }
        (mesh, samples, membrane)
    }

    /// Fills in the true derivative of the forces at the start.
    fn fill(system: &mut System, membrane: &Membrane) {
        let sheet = membrane.sheet(Volume::True, LAW.meeting_strain());
        system.clear();
        let edges = FreeEdges::new(&membrane.triangles, &membrane.formed, &membrane.held);
        for (triangle, matrix) in edges.stiffness(&sheet, &membrane.start) {
            system.add_lopsided(triangle, &matrix.map(|row| row.map(|value| -value)));
        }
        let split = system.split(membrane.triangles.len());
        let (mut first, mut second) = system.halves();
        for (index, (corners, formed)) in
            membrane.triangles.iter().zip(&membrane.formed).enumerate()
        {
            let element = Element::new(formed).expect("an area");
            let response = element.true_response(&sheet, &corners.map(|node| membrane.start[node]));
            if index < split {
                first.add(index, &response.hessian);
            } else {
                second.add(index, &response.hessian);
            }
        }
    }

    fn cycles(problem: &WallProblem, thinned: &Thinned, coarse: System) -> System {
        let mut system = problem.cycles(thinned, coarse);
        fill(&mut system, problem.membrane);
        system.factor().expect("stable columns");
        system
    }

    fn factors(membrane: &Membrane) -> System {
        System::Factors(Box::new(Factors::new(&membrane.triangles, &membrane.held).expect("small")))
    }

    /// Forces both smooth and from node to node, none where held.
    fn forces(membrane: &Membrane) -> Vec<Move> {
        let force = |(node, held): (usize, &[bool; 2])| {
            let own = [
                (0.01 * node as f64).sin() + 0.3 * (2.9 * node as f64).cos(),
                (0.02 * node as f64).cos(),
            ];
            [0, 1].map(|axis| if held[axis] { 0.0 } else { own[axis] })
        };
        membrane.held.iter().enumerate().map(force).collect()
    }

    fn size(moves: &[Move]) -> f64 {
        moves.as_flattened().iter().map(|x| x * x).sum::<f64>().sqrt()
    }

    /// Cycles against factors of the whole, on closed and open walls, even and odd, edge loads and
    /// partly held nodes included: the same moves within the tolerance, and the held ones none.
    #[test]
    fn cycles_solve_as_factors_do() {
        for (turn, closed, columns) in
            [(TAU, true, 60), (TAU, true, 61), (2.0, false, 33), (2.0, false, 34)]
        {
            let (mesh, samples, membrane) = wall(turn, closed, columns);
            let problem = WallProblem {
                mesh: &mesh,
                samples: &samples,
                stretch_of_bend: 0.95,
                membrane: &membrane,
            };
            let thinned = problem.thinned().expect("enough left");
            let mut coarse = factors(&thinned.membrane);
            fill(&mut coarse, &thinned.membrane);
            coarse.factor().expect("stable");
            let near = cycles(&problem, &thinned, coarse);
            let mut exact = factors(&membrane);
            fill(&mut exact, &membrane);
            exact.factor().expect("stable");

            let right = forces(&membrane);
            let (mut found, mut expected) = (right.clone(), right);
            near.solve(&mut found, 1e-5).expect("quick enough");
            exact.solve(&mut expected, 1e-12).expect("factors");
            let apart: Vec<Move> = found.iter().zip(&expected).map(|(a, b)| less(*a, *b)).collect();
            assert!(
                size(&apart) < 1e-4 * size(&expected),
                "{columns}: {} of {}",
                size(&apart),
                size(&expected)
            );
            for (moves, held) in found.as_flattened().iter().zip(membrane.held.as_flattened()) {
                assert!(!held || *moves == 0.0);
            }
        }
    }

    /// Without help from the coarse wall, here one never made ready, cycles come nearer too slowly,
    /// and say so.
    #[test]
    fn slow_cycles_are_given_up() {
        let (mesh, samples, membrane) = wall(TAU, true, 60);
        let problem = WallProblem {
            mesh: &mesh,
            samples: &samples,
            stretch_of_bend: 0.95,
            membrane: &membrane,
        };
        let thinned = problem.thinned().expect("enough left");
        let useless = factors(&thinned.membrane);
        let alone = cycles(&problem, &thinned, useless);
        assert_eq!(alone.solve(&mut forces(&membrane), 1e-5), Err(SystemFault::Slow));
    }

    /// Of five columns 0, 2 and 4 are kept, or of a ring of six the same.
    #[test]
    fn places_between_by_hand() {
        let open = between(5, &[0, 2, 4], false);
        assert_eq!(open, [(0, 0, 0.0), (0, 1, 0.5), (1, 1, 0.0), (1, 2, 0.5), (2, 2, 0.0)]);
        assert_eq!(between(6, &[0, 2, 4], true)[5], (2, 0, 0.5));
        assert_eq!(between(4, &[0, 2, 3], false)[3], (2, 2, 0.0));
    }
}
