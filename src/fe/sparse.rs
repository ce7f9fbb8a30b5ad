//! The linear systems of Newton steps: a pattern found once, filled again each step, solved by a
//! sparse factorisation.

use faer::Side;
use faer::linalg::solvers::SolveCore;
use faer::sparse::linalg::solvers::{Llt, Lu, SymbolicLlt};
use faer::sparse::{SparseColMat, SparseColMatRef, SymbolicSparseColMat, Triplet};

/// Marks an entry of an element matrix that belongs to a held degree of freedom.
const HELD: u32 = u32::MAX;
/// Entries of the lower half of a 6 × 6 element matrix.
const ENTRIES: usize = 21;
/// Steps of [`least_residual`] through factors; some ten do.
const LONGEST_ITERATION: usize = 60;

/// Lower half of a symmetric matrix over the free degrees of freedom, with the place of every
/// element entry in it.
pub(super) struct SymmetricSystem {
    pattern: SymbolicSparseColMat<u32>,
    symbolic: SymbolicLlt<u32>,
    values: Vec<f64>,
    /// What a second thread adds.
    others: Vec<f64>,
    slots: Vec<[u32; ENTRIES]>,
}

/// Where one thread adds matrices of elements.
pub(super) struct Stiffness<'a> {
    values: &'a mut [f64],
    slots: &'a [[u32; ENTRIES]],
}

impl Stiffness<'_> {
    /// Adds the matrix of element `index`, of which only the lower half is read.
    pub(super) fn add(&mut self, index: usize, matrix: &[[f64; 6]; 6]) {
        let mut slots = self.slots[index].iter();
        for (a, row) in matrix.iter().enumerate() {
            for (value, slot) in row[..=a].iter().zip(&mut slots) {
                if *slot != HELD {
                    self.values[*slot as usize] += value;
                }
            }
        }
    }
}

/// Why a system can't be solved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum SystemFault {
    /// Not positive definite: some part can move without doing work.
    Indefinite,
    /// Memory ran out, or the system is too large to be numbered.
    TooLarge,
    /// Iteration came nearer too slowly.
    Slow,
}

impl SymmetricSystem {
    /// `unknowns` free degrees of freedom; for each element its six degrees, `None` where held.
    pub(super) fn new(
        unknowns: usize,
        elements: &[[Option<usize>; 6]],
    ) -> Result<Self, SystemFault> {
        let (starts, rows) = lower_half(unknowns, elements)?;
        let slots = elements.iter().map(|element| place(element, &starts, &rows)).collect();
        let values = vec![0.0; rows.len()];
        let pattern = SymbolicSparseColMat::new_checked(unknowns, unknowns, starts, None, rows);
        let symbolic = SymbolicLlt::try_new(pattern.as_ref(), Side::Lower)
            .map_err(|_| SystemFault::TooLarge)?;
        Ok(Self { pattern, symbolic, others: values.clone(), values, slots })
    }

    pub(super) fn clear(&mut self) {
        self.values.fill(0.0);
        self.others.fill(0.0);
    }

    /// Room for two threads to add to.
    pub(super) fn halves(&mut self) -> (Stiffness<'_>, Stiffness<'_>) {
        let Self { values, others, slots, .. } = self;
        (Stiffness { values, slots }, Stiffness { values: others, slots })
    }

    fn merge(&mut self) {
        self.values
            .iter_mut()
            .zip(&mut self.others)
            .for_each(|(value, other)| *value += std::mem::take(other));
    }

    fn matrix(&self) -> SparseColMatRef<'_, u32, f64> {
        SparseColMatRef::new(self.pattern.as_ref(), &self.values)
    }

    fn factor(&mut self) -> Result<Llt<u32, f64>, SystemFault> {
        self.merge();
        Llt::try_new_with_symbolic(self.symbolic.clone(), self.matrix(), Side::Lower).map_err(
            |why| match why {
                faer::sparse::linalg::LltError::Numeric(_) => SystemFault::Indefinite,
                faer::sparse::linalg::LltError::Generic(_) => SystemFault::TooLarge,
            },
        )
    }

    /// Solves for `right`, in place.
    pub(super) fn solve(&mut self, right: &mut [f64]) -> Result<(), SystemFault> {
        solve_in_place(&self.factor()?, right);
        Ok(())
    }
}

/// A matrix over the free degrees of freedom that is symmetric but for some elements.
///
/// It is solved through the Cholesky factors of its symmetric part, by iteration over the rest;
/// where the symmetric part is not positive definite, by sparse LU, which takes several times as
/// long.
pub(super) struct NearlySymmetricSystem {
    symmetric: SymmetricSystem,
    lopsided: Vec<Lopsided>,
}

/// The part of an element's matrix that turns its sign with its transpose.
#[derive(Clone)]
pub(super) struct Lopsided {
    element: [Option<usize>; 6],
    matrix: [[f64; 6]; 6],
}

/// A factored [`NearlySymmetricSystem`].
pub(super) enum Factored {
    /// The symmetric part's factors, and what they leave out.
    Nearly(Llt<u32, f64>, Vec<Lopsided>),
    /// The whole.
    Whole(Box<Lu<usize, f64>>),
}

impl NearlySymmetricSystem {
    /// As [`SymmetricSystem::new`].
    pub(super) fn new(
        unknowns: usize,
        elements: &[[Option<usize>; 6]],
    ) -> Result<Self, SystemFault> {
        Ok(Self { symmetric: SymmetricSystem::new(unknowns, elements)?, lopsided: Vec::new() })
    }

    pub(super) fn clear(&mut self) {
        self.symmetric.clear();
        self.lopsided.clear();
    }

    /// The symmetric part.
    pub(super) fn symmetric(&mut self) -> &mut SymmetricSystem {
        &mut self.symmetric
    }

    /// Adds a matrix that need not be symmetric to element `index`, whose degrees are `element`.
    pub(super) fn add_lopsided(
        &mut self,
        index: usize,
        element: [Option<usize>; 6],
        matrix: &[[f64; 6]; 6],
    ) {
        let half = |sign: f64| {
            std::array::from_fn(|a| {
                std::array::from_fn(|b| 0.5 * (matrix[a][b] + sign * matrix[b][a]))
            })
        };
        self.symmetric.halves().0.add(index, &half(1.0));
        self.lopsided.push(Lopsided { element, matrix: half(-1.0) });
    }

    pub(super) fn factor(&mut self) -> Result<Factored, SystemFault> {
        match self.symmetric.factor() {
            Ok(factor) => Ok(Factored::Nearly(factor, self.lopsided.clone())),
            Err(SystemFault::Indefinite) => self.whole().map(Box::new).map(Factored::Whole),
            Err(fault) => Err(fault),
        }
    }

    fn whole(&self) -> Result<Lu<usize, f64>, SystemFault> {
        let count = self.symmetric.pattern.ncols();
        let lower = self.symmetric.matrix();
        let mut entries = Vec::with_capacity(2 * self.symmetric.values.len());
        for column in 0..count {
            for (row, value) in lower.row_idx_of_col(column).zip(lower.val_of_col(column)) {
                entries.push(Triplet::new(row, column, *value));
                if row != column {
                    entries.push(Triplet::new(column, row, *value));
                }
            }
        }
        for part in &self.lopsided {
            for (row, values) in part.element.iter().zip(&part.matrix) {
                for (column, value) in part.element.iter().zip(values) {
                    if let (Some(row), Some(column)) = (row, column) {
                        entries.push(Triplet::new(*row, *column, *value));
                    }
                }
            }
        }
        let matrix = SparseColMat::try_new_from_triplets(count, count, &entries)
            .map_err(|_| SystemFault::TooLarge)?;
        matrix.sp_lu().map_err(|why| match why {
            faer::sparse::linalg::LuError::SymbolicSingular { .. } => SystemFault::Indefinite,
            faer::sparse::linalg::LuError::Generic(_) => SystemFault::TooLarge,
        })
    }
}

impl Factored {
    /// Solves for `right`, in place, to `tolerance` of its length as the symmetric part alone would
    /// solve it.
    pub(super) fn solve(&self, right: &mut [f64], tolerance: f64) {
        match self {
            Self::Whole(factor) => solve_in_place(&**factor, right),
            Self::Nearly(factor, lopsided) => {
                solve_in_place(factor, right);
                // S⁻¹ (S + N) x = x + S⁻¹ N x.
                let apply = |x: &[f64]| {
                    let mut result = vec![0.0; x.len()];
                    for part in lopsided {
                        for (row, values) in part.element.iter().zip(&part.matrix) {
                            let Some(row) = row else { continue };
                            result[*row] += part
                                .element
                                .iter()
                                .zip(values)
                                .filter_map(|(c, v)| c.map(|c| v * x[c]))
                                .sum::<f64>();
                        }
                    }
                    solve_in_place(factor, &mut result);
                    result.iter_mut().zip(x).for_each(|(result, x)| *result += x);
                    result
                };
                least_residual(apply, right, tolerance, LONGEST_ITERATION);
            }
        }
    }

    /// Solves for `right`, in place, as the symmetric part alone would where that has factors.
    pub(super) fn solve_nearly(&self, right: &mut [f64]) {
        match self {
            Self::Whole(factor) => solve_in_place(&**factor, right),
            Self::Nearly(factor, _) => solve_in_place(factor, right),
        }
    }
}

fn solve_in_place(factor: &impl SolveCore<f64>, right: &mut [f64]) {
    let count = right.len();
    factor.solve_in_place_with_conj(
        faer::Conj::No,
        faer::MatMut::from_column_major_slice_mut(right, count, 1),
    );
}

/// Solves A x = b in place by least residuals over a growing space (Y. Saad, M. H. Schultz, SIAM J.
/// Sci. Stat. Comput. 7, 1986), until the residual is below `tolerance` of b or `longest` steps are
/// done; tells whether it is below.
pub(super) fn least_residual(
    apply: impl Fn(&[f64]) -> Vec<f64>,
    right: &mut [f64],
    tolerance: f64,
    longest: usize,
) -> bool {
    let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
    let size = dot(right, right).sqrt();
    if size == 0.0 || !size.is_finite() {
        return size == 0.0;
    }
    let mut basis = vec![right.iter().map(|x| x / size).collect::<Vec<f64>>()];
    // Columns of the triangle that Givens' turns leave, and the turns.
    let mut triangle: Vec<Vec<f64>> = Vec::new();
    let mut turns: Vec<(f64, f64)> = Vec::new();
    let mut residual = vec![size];
    let mut near = false;
    for step in 0..longest {
        let mut next = apply(&basis[step]);
        let mut column = Vec::with_capacity(step + 2);
        for before in &basis {
            let along = dot(&next, before);
            next.iter_mut().zip(before).for_each(|(x, b)| *x -= along * b);
            column.push(along);
        }
        let left = dot(&next, &next).sqrt();
        for (i, (cos, sin)) in turns.iter().enumerate() {
            (column[i], column[i + 1]) =
                (cos * column[i] + sin * column[i + 1], cos * column[i + 1] - sin * column[i]);
        }
        let length = column[step].hypot(left);
        let (cos, sin) = (column[step] / length, left / length);
        column[step] = length;
        turns.push((cos, sin));
        residual.push(-sin * residual[step]);
        residual[step] *= cos;
        triangle.push(column);
        near = residual[step + 1].abs() <= tolerance * size;
        if near || left == 0.0 {
            break;
        }
        basis.push(next.iter().map(|x| x / left).collect());
    }
    for i in (0..triangle.len()).rev() {
        let after: f64 = (i + 1..triangle.len()).map(|j| triangle[j][i] * residual[j]).sum();
        residual[i] = (residual[i] - after) / triangle[i][i];
    }
    right.fill(0.0);
    for (share, direction) in residual[..triangle.len()].iter().zip(&basis) {
        right.iter_mut().zip(direction).for_each(|(x, d)| *x += share * d);
    }
    near
}

/// Column starts and row numbers of the lower half of the matrix that elements make; refused where
/// there are more than can be numbered.
fn lower_half(
    unknowns: usize,
    elements: &[[Option<usize>; 6]],
) -> Result<(Vec<u32>, Vec<u32>), SystemFault> {
    let number = |count: usize| {
        u32::try_from(count).ok().filter(|count| *count < HELD).ok_or(SystemFault::TooLarge)
    };
    // Each column's rows, as often as elements have them, one column after the other.
    let mut next = vec![0_usize; unknowns + 1];
    for_pairs(elements, |_, column| next[column + 1] += 1);
    for column in 0..unknowns {
        next[column + 1] += next[column];
    }
    number(unknowns)?;
    let ends = next.clone();
    let mut all = vec![0_u32; ends[unknowns]];
    for_pairs(elements, |row, column| {
        // Numbers of unknowns have been found small enough.
        all[next[column]] = u32::try_from(row).unwrap_or(HELD);
        next[column] += 1;
    });
    let mut starts = vec![0];
    let mut rows: Vec<u32> = Vec::with_capacity(all.len() / 3);
    for column in 0..unknowns {
        let own = &mut all[ends[column]..ends[column + 1]];
        own.sort_unstable();
        let mut last = None;
        rows.extend(own.iter().filter(|row| last.replace(**row) != Some(**row)));
        starts.push(number(rows.len())?);
    }
    Ok((starts, rows))
}

/// Row and column in the lower half of every entry that every element has there.
fn for_pairs(elements: &[[Option<usize>; 6]], mut each: impl FnMut(usize, usize)) {
    for element in elements {
        for (a, row) in element.iter().enumerate() {
            for column in &element[..=a] {
                if let (Some(row), Some(column)) = (row, column) {
                    each(*row.max(column), *row.min(column));
                }
            }
        }
    }
}

fn slot_of(row: usize, column: usize, starts: &[u32], rows: &[u32]) -> u32 {
    let within = &rows[starts[column] as usize..starts[column + 1] as usize];
    let offset = within.partition_point(|other| (*other as usize) < row);
    u32::try_from(offset).map_or(HELD, |offset| starts[column] + offset)
}

/// Where the lower half of one element's matrix goes.
fn place(element: &[Option<usize>; 6], starts: &[u32], rows: &[u32]) -> [u32; ENTRIES] {
    let mut slots = [HELD; ENTRIES];
    let mut next = slots.iter_mut();
    for (a, row) in element.iter().enumerate() {
        for (column, slot) in element[..=a].iter().zip(&mut next) {
            let (Some(row), Some(column)) = (row, column) else { continue };
            *slot = slot_of(*row.max(column), *row.min(column), starts, rows);
        }
    }
    slots
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two springs in a row, ends free but for one held degree, against the solution by hand.
    #[test]
    fn small_system_by_hand() {
        // Degrees 0, 1 and a held one; element matrix of a spring of stiffness 2 between places 0
        // and 1, 3 between 1 and 2.
        let spring = |a: usize, b: usize, k: f64| {
            let mut matrix = [[0.0; 6]; 6];
            matrix[a][a] = k;
            matrix[b][b] = k;
            matrix[a.max(b)][a.min(b)] = -k;
            matrix
        };
        let element = [Some(0), Some(1), None, None, None, None];
        let mut system = SymmetricSystem::new(2, &[element, element]).expect("small");
        system.clear();
        let (mut first, mut second) = system.halves();
        first.add(0, &spring(0, 1, 2.0));
        second.add(1, &spring(1, 2, 3.0));
        // Pull 6 on degree 0: the held spring gives 6/3 = 2, the other 6/2 = 3 more.
        let mut moves = [6.0, 0.0];
        system.solve(&mut moves).expect("held");
        assert!((moves[0] - 5.0).abs() < 1e-14 && (moves[1] - 2.0).abs() < 1e-14, "{moves:?}");
        system.clear();
        system.halves().0.add(0, &spring(0, 1, -2.0));
        assert_eq!(system.solve(&mut [1.0, 0.0]), Err(SystemFault::Indefinite));
    }

    /// Rows 2x + y = 4 and -x + 3y = 5: x = 1, y = 2; and -x + y = 1, x + 2y = 5, whose symmetric
    /// part is not positive.
    #[test]
    fn small_lopsided_systems_by_hand() {
        let element = [Some(0), Some(1), None, None, None, None];
        for ([[a, b], [c, d]], mut right) in
            [([[2.0, 1.0], [-1.0, 3.0]], [4.0, 5.0]), ([[-1.0, 1.0], [1.0, 2.0]], [1.0, 5.0])]
        {
            let mut system = NearlySymmetricSystem::new(2, &[element]).expect("small");
            system.clear();
            let mut matrix = [[0.0; 6]; 6];
            (matrix[0][0], matrix[0][1], matrix[1][0], matrix[1][1]) = (a, b, c, d);
            system.add_lopsided(0, element, &matrix);
            system.factor().expect("regular").solve(&mut right, 1e-14);
            assert!((right[0] - 1.0).abs() < 1e-13 && (right[1] - 2.0).abs() < 1e-13, "{right:?}");
        }
    }
}
