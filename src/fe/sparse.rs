//! The linear systems of Newton steps: a pattern found once, filled again each step, solved by a sparse factorisation.

use faer::Side;
use faer::linalg::solvers::SolveCore;
use faer::sparse::linalg::solvers::{Llt, Lu, SymbolicLlt, SymbolicLu};
use faer::sparse::{SparseColMatRef, SymbolicSparseColMat};

/// Marks an entry of an element matrix that belongs to a held degree of freedom.
const HELD: u32 = u32::MAX;
/// Entries of the lower half of a 6 × 6 element matrix.
const ENTRIES: usize = 21;

/// Lower half of a symmetric matrix over the free degrees of freedom, with the place of every element entry in it.
pub(super) struct SymmetricSystem {
    pattern: SymbolicSparseColMat<usize>,
    symbolic: SymbolicLlt<usize>,
    values: Vec<f64>,
    slots: Vec<[u32; ENTRIES]>,
}

/// Why a system can't be solved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum SystemFault {
    /// Not positive definite: some part can move without doing work.
    Indefinite,
    /// Memory ran out, or the system is too large to be numbered.
    TooLarge,
}

impl SymmetricSystem {
    /// `unknowns` free degrees of freedom; for each element its six degrees, `None` where held.
    pub(super) fn new(unknowns: usize, elements: &[[Option<usize>; 6]]) -> Result<Self, SystemFault> {
        let mut columns: Vec<Vec<usize>> = vec![Vec::new(); unknowns];
        for element in elements {
            for (a, row) in element.iter().enumerate() {
                for column in &element[..=a] {
                    if let (Some(row), Some(column)) = (row, column) {
                        columns[*row.min(column)].push(*row.max(column));
                    }
                }
            }
        }
        let (starts, rows) = compressed(&mut columns)?;
        let slots = elements.iter().map(|element| place(element, &starts, &rows)).collect();
        let values = vec![0.0; rows.len()];
        let pattern = SymbolicSparseColMat::new_checked(unknowns, unknowns, starts, None, rows);
        let symbolic = SymbolicLlt::try_new(pattern.as_ref(), Side::Lower).map_err(|_| SystemFault::TooLarge)?;
        Ok(Self { pattern, symbolic, values, slots })
    }

    pub(super) fn clear(&mut self) {
        self.values.fill(0.0);
    }

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

    /// Solves for `right`, in place.
    pub(super) fn solve(&self, right: &mut [f64]) -> Result<(), SystemFault> {
        let matrix = SparseColMatRef::new(self.pattern.as_ref(), &self.values);
        let factor = Llt::try_new_with_symbolic(self.symbolic.clone(), matrix, Side::Lower).map_err(|why| match why {
            faer::sparse::linalg::LltError::Numeric(_) => SystemFault::Indefinite,
            faer::sparse::linalg::LltError::Generic(_) => SystemFault::TooLarge,
        })?;
        let count = right.len();
        factor.solve_in_place_with_conj(faer::Conj::No, faer::MatMut::from_column_major_slice_mut(right, count, 1));
        Ok(())
    }
}

/// A matrix over the free degrees of freedom that need not be symmetric, solved by sparse LU.
pub(super) struct GeneralSystem {
    pattern: SymbolicSparseColMat<usize>,
    symbolic: SymbolicLu<usize>,
    values: Vec<f64>,
    slots: Vec<[[u32; 6]; 6]>,
}

/// A factored [`GeneralSystem`].
pub(super) struct Factored(Lu<usize, f64>);

impl GeneralSystem {
    /// As [`SymmetricSystem::new`].
    pub(super) fn new(unknowns: usize, elements: &[[Option<usize>; 6]]) -> Result<Self, SystemFault> {
        let mut columns: Vec<Vec<usize>> = vec![Vec::new(); unknowns];
        for element in elements {
            for column in element.iter().flatten() {
                columns[*column].extend(element.iter().flatten());
            }
        }
        let (starts, rows) = compressed(&mut columns)?;
        let slot = |row: Option<usize>, column: Option<usize>| match (row, column) {
            (Some(row), Some(column)) => slot_of(row, column, &starts, &rows),
            _ => HELD,
        };
        let slots = elements.iter().map(|element| element.map(|row| element.map(|column| slot(row, column)))).collect();
        let values = vec![0.0; rows.len()];
        let pattern = SymbolicSparseColMat::new_checked(unknowns, unknowns, starts, None, rows);
        let symbolic = SymbolicLu::try_new(pattern.as_ref()).map_err(|_| SystemFault::TooLarge)?;
        Ok(Self { pattern, symbolic, values, slots })
    }

    pub(super) fn clear(&mut self) {
        self.values.fill(0.0);
    }

    /// Adds the matrix of element `index`.
    pub(super) fn add(&mut self, index: usize, matrix: &[[f64; 6]; 6]) {
        for (value, slot) in matrix.as_flattened().iter().zip(self.slots[index].as_flattened()) {
            if *slot != HELD {
                self.values[*slot as usize] += value;
            }
        }
    }

    pub(super) fn factor(&self) -> Result<Factored, SystemFault> {
        let matrix = SparseColMatRef::new(self.pattern.as_ref(), &self.values);
        Lu::try_new_with_symbolic(self.symbolic.clone(), matrix).map(Factored).map_err(|why| match why {
            faer::sparse::linalg::LuError::SymbolicSingular { .. } => SystemFault::Indefinite,
            faer::sparse::linalg::LuError::Generic(_) => SystemFault::TooLarge,
        })
    }
}

impl Factored {
    /// Solves for `right`, in place.
    pub(super) fn solve(&self, right: &mut [f64]) {
        let count = right.len();
        self.0.solve_in_place_with_conj(faer::Conj::No, faer::MatMut::from_column_major_slice_mut(right, count, 1));
    }
}

/// Column starts and row numbers of a pattern, from each column's rows in any order; refused where there are more than can be numbered.
fn compressed(columns: &mut [Vec<usize>]) -> Result<(Vec<usize>, Vec<usize>), SystemFault> {
    let mut starts = vec![0];
    let mut rows = Vec::new();
    for column in columns {
        column.sort_unstable();
        column.dedup();
        rows.extend_from_slice(column);
        starts.push(rows.len());
    }
    let countable = u32::try_from(rows.len()).is_ok_and(|count| count < HELD);
    if countable { Ok((starts, rows)) } else { Err(SystemFault::TooLarge) }
}

fn slot_of(row: usize, column: usize, starts: &[usize], rows: &[usize]) -> u32 {
    let within = &rows[starts[column]..starts[column + 1]];
    let offset = within.partition_point(|other| *other < row);
    u32::try_from(starts[column] + offset).unwrap_or(HELD)
}

/// Where the lower half of one element's matrix goes.
fn place(element: &[Option<usize>; 6], starts: &[usize], rows: &[usize]) -> [u32; ENTRIES] {
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
        // Degrees 0, 1 and a held one; element matrix of a spring of stiffness 2 between places 0 and 1, 3 between 1 and 2.
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
        system.add(0, &spring(0, 1, 2.0));
        system.add(1, &spring(1, 2, 3.0));
        // Pull 6 on degree 0: the held spring gives 6/3 = 2, the other 6/2 = 3 more.
        let mut moves = [6.0, 0.0];
        system.solve(&mut moves).expect("held");
        assert!((moves[0] - 5.0).abs() < 1e-14 && (moves[1] - 2.0).abs() < 1e-14, "{moves:?}");
        system.clear();
        system.add(0, &spring(0, 1, -2.0));
        assert_eq!(system.solve(&mut [1.0, 0.0]), Err(SystemFault::Indefinite));
    }

    /// Rows 2x + y = 4 and -x + 3y = 5: x = 1, y = 2.
    #[test]
    fn small_general_system_by_hand() {
        let element = [Some(0), Some(1), None, None, None, None];
        let mut system = GeneralSystem::new(2, &[element]).expect("small");
        system.clear();
        let mut matrix = [[0.0; 6]; 6];
        (matrix[0][0], matrix[0][1], matrix[1][0], matrix[1][1]) = (2.0, 1.0, -1.0, 3.0);
        system.add(0, &matrix);
        let mut solution = [4.0, 5.0];
        system.factor().expect("regular").solve(&mut solution);
        assert!((solution[0] - 1.0).abs() < 1e-14 && (solution[1] - 2.0).abs() < 1e-14, "{solution:?}");
    }
}
