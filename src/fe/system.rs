//! The linear system of a Newton step over moves of nodes, whichever way it is solved.

use super::grid::{GridStiffness, GridSystem};
use super::sparse::{Factored, NearlySymmetricSystem, Stiffness, SystemFault};

/// Move of a node, mm, or force on it, N; 0 where it is held.
pub(super) type Move = [f64; 2];

/// A Newton step's matrix, and room for it.
pub(super) enum System {
    /// Of any mesh, by factors.
    Factors(Box<Factors>),
    /// Of a wall's mesh of columns and rows, by cycles over coarser ones.
    Cycles(Box<GridSystem>),
}

/// Free coordinates counted.
pub(super) struct Numbering {
    unknowns: Vec<[Option<usize>; 2]>,
    pub(super) count: usize,
    /// Unknowns of each triangle's corners.
    pub(super) degrees: Vec<[Option<usize>; 6]>,
}

/// A matrix over numbered unknowns, with its last factors.
pub(super) struct Factors {
    numbering: Numbering,
    matrix: NearlySymmetricSystem,
    factored: Option<Factored>,
}

/// Where one thread adds matrices of elements.
pub(super) enum Adding<'a> {
    /// To a matrix that is to be factored.
    Factors(Stiffness<'a>),
    /// To one for cycles.
    Cycles(GridStiffness<'a>),
}

impl Adding<'_> {
    /// Adds the matrix of element `index`, of which only the lower half is read.
    pub(super) fn add(&mut self, index: usize, matrix: &[[f64; 6]; 6]) {
        match self {
            Self::Factors(stiffness) => stiffness.add(index, matrix),
            Self::Cycles(stiffness) => stiffness.add(index, matrix),
        }
    }
}

impl Numbering {
    pub(super) fn new(triangles: &[[usize; 3]], held: &[[bool; 2]]) -> Self {
        let mut count = 0;
        let mut next = |held: bool| {
            count += usize::from(!held);
            (!held).then(|| count - 1)
        };
        let unknowns: Vec<[Option<usize>; 2]> =
            held.iter().map(|held| held.map(&mut next)).collect();
        let degrees = triangles
            .iter()
            .map(|corners| std::array::from_fn(|a| unknowns[corners[a / 2]][a % 2]))
            .collect();
        Self { unknowns, count, degrees }
    }

    pub(super) fn of_nodes(&self, moves: &[Move]) -> Vec<f64> {
        let both = self.unknowns.as_flattened().iter().zip(moves.as_flattened());
        both.filter_map(|(unknown, value)| unknown.map(|_| *value)).collect()
    }

    pub(super) fn on_nodes(&self, moves: &[f64]) -> Vec<Move> {
        self.unknowns
            .iter()
            .map(|both| both.map(|unknown| unknown.map_or(0.0, |unknown| moves[unknown])))
            .collect()
    }
}

impl Factors {
    pub(super) fn new(triangles: &[[usize; 3]], held: &[[bool; 2]]) -> Result<Self, SystemFault> {
        let numbering = Numbering::new(triangles, held);
        let matrix = NearlySymmetricSystem::new(numbering.count, &numbering.degrees)?;
        Ok(Self { numbering, matrix, factored: None })
    }

    fn through(&self, moves: &[Move], solve: impl Fn(&Factored, &mut [f64])) -> Vec<Move> {
        let mut unknowns = self.numbering.of_nodes(moves);
        if let Some(factored) = &self.factored {
            solve(factored, &mut unknowns);
        }
        self.numbering.on_nodes(&unknowns)
    }
}

impl System {
    pub(super) fn clear(&mut self) {
        match self {
            Self::Factors(factors) => factors.matrix.clear(),
            Self::Cycles(grid) => grid.clear(),
        }
    }

    /// Of `triangles`, the one a second thread begins with.
    pub(super) fn split(&self, triangles: usize) -> usize {
        match self {
            Self::Factors(_) => triangles / 2,
            Self::Cycles(grid) => grid.split(),
        }
    }

    /// Room for two threads to add to, the one before [`Self::split`], the other from there on.
    pub(super) fn halves(&mut self) -> (Adding<'_>, Adding<'_>) {
        match self {
            Self::Factors(factors) => {
                let (first, second) = factors.matrix.symmetric().halves();
                (Adding::Factors(first), Adding::Factors(second))
            }
            Self::Cycles(grid) => {
                let (first, second) = grid.halves();
                (Adding::Cycles(first), Adding::Cycles(second))
            }
        }
    }

    /// Adds a matrix that need not be symmetric to element `index`.
    pub(super) fn add_lopsided(&mut self, index: usize, matrix: &[[f64; 6]; 6]) {
        match self {
            Self::Factors(factors) => {
                factors.matrix.add_lopsided(index, factors.numbering.degrees[index], matrix);
            }
            Self::Cycles(grid) => grid.add_lopsided(index, matrix),
        }
    }

    /// Makes ready to solve with the matrix as it is now.
    pub(super) fn factor(&mut self) -> Result<(), SystemFault> {
        match self {
            Self::Factors(factors) => {
                factors.factored = Some(factors.matrix.factor()?);
                Ok(())
            }
            Self::Cycles(grid) => grid.factor(),
        }
    }

    /// Turns forces into moves, in place, to about `tolerance` of their length.
    pub(super) fn solve(&self, right: &mut Vec<Move>, tolerance: f64) -> Result<(), SystemFault> {
        match self {
            Self::Factors(factors) => {
                *right = factors
                    .through(right, |factored, unknowns| factored.solve(unknowns, tolerance));
                Ok(())
            }
            Self::Cycles(grid) => grid.solve(right, tolerance),
        }
    }

    /// About the moves that forces make, linear in them: for a finer mesh.
    pub(super) fn nearly(&self, mut right: Vec<Move>) -> Vec<Move> {
        match self {
            Self::Factors(factors) => factors.through(&right, Factored::solve_nearly),
            Self::Cycles(grid) => {
                grid.free(&mut right);
                grid.cycle(&right)
            }
        }
    }
}
