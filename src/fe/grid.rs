//! The linear systems of a wall's mesh, columns by rows: solved by least residuals, nearer each time by one cycle over coarser meshes.
//!
//! A cycle (A. Brandt, Math. Comp. 31, 1977; W. Hackbusch, Multi-Grid Methods and Applications, 1985) balances column after column, each
//! against its neighbours as they stand, leaves what is smooth of the rest to the wall with every other column and row, and balances the
//! columns again on the way back. Columns, for elements are finest up the wall, so that its nodes hang together most along them. The coarser
//! wall has its own matrix already: it has been solved before (`coarse.rs`). A cycle costs about as much as the matrix has entries, whereas
//! the factors of a fine mesh have many more.

use super::sparse::{SystemFault, least_residual};
use super::system::{Move, System};

/// A 2 × 2 matrix by rows.
type Block = [f64; 4];

/// The place of a node's own block among its nine: that of the neighbour `across` columns and `up` rows on is 3 (across + 1) + up + 1.
const OWN: usize = 4;
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
    blocks: Vec<[Block; 9]>,
    /// What each of two threads adds to the first column of the other.
    seams: [Vec<[Block; 9]>; 2],
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
    blocks: &'a mut [[Block; 9]],
    seam: &'a mut [[Block; 9]],
}

/// Columns or rows between the kept ones, as shares of an even spacing; `closed`: after the last kept comes the first again.
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
    [a[0] * x[0] + a[1] * x[1], a[2] * x[0] + a[3] * x[1]]
}

fn product(a: &Block, b: &Block) -> Block {
    [a[0] * b[0] + a[1] * b[2], a[0] * b[1] + a[1] * b[3], a[2] * b[0] + a[3] * b[2], a[2] * b[1] + a[3] * b[3]]
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
        let corners = self.triangles[index].map(|node| match node.checked_sub(column * rows).filter(|row| *row < rows) {
            Some(row) => (row, 0),
            None => (node - (column + 1) % columns * rows, 1),
        });
        let own = (column - self.from) * rows;
        for (i, (row, next)) in corners.into_iter().enumerate() {
            let at = own + next * rows + row;
            let node = match at.checked_sub(self.blocks.len()) {
                None => &mut self.blocks[at],
                Some(over) => &mut self.seam[over],
            };
            for (j, (other, there)) in corners.into_iter().enumerate() {
                let block = &mut node[3 * (there + 1 - next) + other + 1 - row];
                for (k, value) in block.iter_mut().enumerate() {
                    let (a, b) = (2 * i + k / 2, 2 * j + k % 2);
                    *value += matrix[a.max(b)][a.min(b)];
                }
            }
        }
    }
}

impl GridSystem {
    /// `coarse`: the system of the wall with every other column and row as it was solved last; `columns` and `rows`: which those are.
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
            blocks: vec![[[0.0; 4]; 9]; count],
            seams: [(); 2].map(|()| vec![[[0.0; 4]; 9]; grid.rows]),
            lines: vec![Line::default(); count],
            coarse: Box::new(coarse),
            columns: between(grid.columns, columns, grid.closed),
            rows: between(grid.rows, rows, false),
            coarse_rows: rows.len(),
            coarse_nodes: rows.len() * columns.len(),
        }
    }

    pub(super) fn clear(&mut self) {
        self.blocks.fill([[0.0; 4]; 9]);
        self.seams.iter_mut().for_each(|seam| seam.fill([[0.0; 4]; 9]));
    }

    /// The triangle the second thread begins with.
    pub(super) fn split(&self) -> usize {
        self.grid.columns / 2 * 2 * (self.grid.rows - 1)
    }

    /// Room for two threads to add to, each its own columns' triangles.
    pub(super) fn halves(&mut self) -> (GridStiffness<'_>, GridStiffness<'_>) {
        let Self { grid, triangles, blocks, seams: [first, second], .. } = self;
        let from = grid.columns / 2;
        let (left, right) = blocks.split_at_mut(from * grid.rows);
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
                let block = &mut self.blocks[a][3 * across + b % rows + 1 - a % rows];
                for (k, value) in block.iter_mut().enumerate() {
                    *value += matrix[2 * i + k / 2][2 * j + k % 2];
                }
            }
        }
    }

    /// Makes ready to solve; refused where a column by itself is not stable.
    pub(super) fn factor(&mut self) -> Result<(), SystemFault> {
        let Grid { rows, columns, .. } = self.grid;
        for (seam, column) in self.seams.iter().zip([columns / 2, 0]) {
            let own = &mut self.blocks[column * rows..(column + 1) * rows];
            for (sum, more) in own.as_flattened_mut().as_flattened_mut().iter_mut().zip(seam.as_flattened().as_flattened()) {
                *sum += more;
            }
        }
        for (node, held) in self.blocks.iter_mut().zip(&self.held) {
            for axis in (0..2).filter(|axis| held[*axis]) {
                node.iter_mut().for_each(|block| block[2 * axis..2 * axis + 2].fill(0.0));
                node[OWN][3 * axis] = 1.0;
            }
        }
        for (blocks, lines) in self.blocks.chunks_exact(rows).zip(self.lines.chunks_exact_mut(rows)) {
            let mut before = Line::default();
            for (row, (node, line)) in blocks.iter().zip(lines).enumerate() {
                // What lies below the line does not exist: its block is 0.
                line.below = product(&node[OWN - 1], &before.inverse);
                let mut own = node[OWN];
                if row > 0 {
                    // As above = inverse · upper block, below · upper = lower block · above.
                    let taken = product(&node[OWN - 1], &before.above);
                    own.iter_mut().zip(taken).for_each(|(x, t)| *x -= t);
                }
                let determinant = own[0] * own[3] - own[1] * own[2];
                if determinant.is_nan() || determinant <= 0.0 || own[0] <= 0.0 {
                    return Err(SystemFault::Indefinite);
                }
                line.inverse = [own[3], -own[1], -own[2], own[0]].map(|x| x / determinant);
                line.above = product(&line.inverse, &node[OWN + 1]);
                before = *line;
            }
        }
        Ok(())
    }

    /// Solves for `right`, in place, to `tolerance` of its length as one cycle would solve it; refused where cycles come nearer too slowly.
    pub(super) fn solve(&self, right: &mut Vec<Move>, tolerance: f64) -> Result<(), SystemFault> {
        *right = self.cycle(right);
        let apply = |x: &[f64]| {
            let (moves, _) = x.as_chunks::<2>();
            self.cycle(&self.times(moves)).into_flattened()
        };
        if least_residual(apply, right.as_flattened_mut(), tolerance, MOST_CYCLES) { Ok(()) } else { Err(SystemFault::Slow) }
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
            for (across, other) in [(0, self.before(column)), (1, Some(column)), (2, self.after(column))] {
                if let Some(other) = other {
                    self.add_times(column, across, &x[other * rows..(other + 1) * rows], &mut own, 1.0);
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
        if column + 1 < self.grid.columns { Some(column + 1) } else { self.grid.closed.then_some(0) }
    }

    /// Adds the blocks of `column` with one column beside it or itself, times the moves there.
    fn add_times(&self, column: usize, across: usize, moves: &[Move], sum: &mut [Move], sign: f64) {
        let rows = self.grid.rows;
        let blocks = &self.blocks[column * rows..(column + 1) * rows];
        let mut below = [0.0; 2];
        for (row, (node, sum)) in blocks.iter().zip(sum).enumerate() {
            let above = moves.get(row + 1).copied().unwrap_or_default();
            let [a, b, c] =
                [times(&node[3 * across], below), times(&node[3 * across + 1], moves[row]), times(&node[3 * across + 2], above)];
            for axis in 0..2 {
                sum[axis] += sign * (a[axis] + b[axis] + c[axis]);
            }
            below = moves[row];
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
        for ((moves, held), (a, b, share)) in
            moves.chunks_exact_mut(self.grid.rows).zip(self.held.chunks_exact(self.grid.rows)).zip(&self.columns)
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
