//! The one-step inverse problem: a formed part is given as triangles, wanted is the flat blank it
//! can be formed from with balanced forces.
//!
//! The metal's law turns strains into work ([`super::law`]); the flat positions are those of least
//! work, save that free edges are kept free of force (`edge.rs` says why that is not the same).
//! Deformation theory: no friction, no springback, no path. Millimetres, newtons, MPa; strains
//! logarithmic.

use super::edge::Body;
use super::element::{Element, Sheet, Stretch, Volume};
use super::law::{LawFault, SheetLaw};
use super::solve::Problem;
pub use super::solve::{Iteration, Record, Stage};

/// A formed part to be laid flat.
#[derive(Debug, Clone)]
pub struct Membrane {
    /// Corners of each triangle, turning left in the flat.
    pub triangles: Vec<[usize; 3]>,
    /// Each triangle's formed edges from corner 0 to 1 and 0 to 2, as the columns of a 2 × 2 matrix
    /// (by rows) in the triangle's own plane, mm; lengths already those of the sheet's neutral
    /// layer (see [`super::metric`]).
    pub formed: Vec<[[f64; 2]; 2]>,
    /// Flat positions to start from, mm; no triangle turned over.
    pub start: Vec<[f64; 2]>,
    /// Whether a node's x and y stay where they start. At least three coordinates must be held
    /// ([`hold_rigidly`]).
    pub held: Vec<[bool; 2]>,
    /// The sheet's law.
    pub law: SheetLaw,
    /// Thickness of the blank, mm.
    pub thickness: f64,
}

/// Logarithmic strain beyond which a triangle counts as collapsed: forces can balance there too,
/// but no sheet is formed so.
pub const GREATEST_STRAIN: f64 = 1.0;

/// When to stop and when to give up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Largest move of a node in the last step, as a share of the mean flat edge.
    pub move_tolerance: f64,
    /// Newton steps allowed in each of the stages.
    pub iteration_limit: usize,
    /// How good the start is.
    pub start: Start,
}

/// How good the start positions are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Start {
    /// Not folded, and no more: far from any strains that the sheet may come to. It is brought near
    /// first.
    Far,
    /// Of about the right strains.
    Fair,
    /// Out by little: the true law is taken at once.
    Near,
}

impl Default for Settings {
    fn default() -> Self {
        Self { move_tolerance: 1e-8, iteration_limit: 60, start: Start::Fair }
    }
}

/// What is wrong with a [`Membrane`]; indices count from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum InputFault {
    /// The sheet's law is out of range.
    Law(LawFault),
    /// The thickness is not a positive number.
    Thickness,
    /// Lists of unequal length, or no triangle at all.
    Counts,
    /// This triangle names a node that is not there, or one twice.
    Corners(usize),
    /// The formed edges of this triangle have no area or turn right.
    Formed(usize),
    /// This triangle is turned over or has no area in the start positions.
    Start(usize),
    /// This node belongs to no triangle, or its start is no number.
    Node(usize),
    /// Fewer than three coordinates are held: the blank could slide away.
    Held,
}

impl std::fmt::Display for InputFault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Law(fault) => fault.fmt(f),
            Self::Thickness => f.write_str("the thickness must be a positive number"),
            Self::Counts => {
                f.write_str("the lists of triangles or nodes are of unequal length or empty")
            }
            Self::Corners(index) => {
                write!(f, "triangle {index} names a missing node, or one twice")
            }
            Self::Formed(index) => {
                write!(f, "the formed edges of triangle {index} have no area or turn right")
            }
            Self::Start(index) => {
                write!(f, "triangle {index} is turned over in the start positions")
            }
            Self::Node(index) => {
                write!(f, "node {index} belongs to no triangle, or its start is no number")
            }
            Self::Held => f.write_str("fewer than three coordinates are held"),
        }
    }
}

/// Why there is no blank.
#[derive(Debug, Clone, PartialEq)]
pub enum Failure {
    /// The input can't be solved.
    Input(InputFault),
    /// Something in the sheet can move freely: not held, or not joined to the rest.
    Loose {
        /// Steps up to the failure.
        record: Record,
    },
    /// The system is too large for the memory there is.
    TooLarge,
    /// A force or energy is no number any more in this triangle.
    NotANumber {
        /// The triangle, counted from 0.
        triangle: usize,
        /// Steps up to the failure.
        record: Record,
    },
    /// This triangle is about to turn over or collapse, and no step without that brings the forces
    /// nearer to balance.
    Collapsing {
        /// The triangle, counted from 0.
        triangle: usize,
        /// Steps up to the failure.
        record: Record,
    },
    /// The steps allowed are used up; this node still moved most.
    NotConverged {
        /// The node, counted from 0.
        node: usize,
        /// Steps up to the failure.
        record: Record,
    },
}

impl std::fmt::Display for Failure {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Input(fault) => write!(f, "the membrane can't be solved as given: {fault}"),
            Self::Loose { .. } => {
                f.write_str("part of the sheet is neither held nor joined to the rest")
            }
            Self::TooLarge => f.write_str("the mesh is too large for the memory there is"),
            Self::NotANumber { triangle, .. } => {
                write!(f, "triangle {triangle} has a force that is no number")
            }
            Self::Collapsing { triangle, .. } => {
                write!(f, "triangle {triangle} folds over before the forces balance")
            }
            Self::NotConverged { node, record } => {
                write!(
                    f,
                    "not settled after {} steps; node {node} still moves most",
                    record.iterations.len()
                )
            }
        }
    }
}

impl std::error::Error for Failure {}

/// The metal of one triangle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TriangleState {
    /// Greater principal strain of forming.
    pub e1: f64,
    /// Lesser principal strain of forming.
    pub e2: f64,
    /// Unit direction of `e1` in the flat blank.
    pub direction: [f64; 2],
    /// Formed thickness, mm.
    pub thickness: f64,
    /// Equivalent strain √q.
    pub equivalent: f64,
    /// Work density W, N·mm/mm³.
    pub work: f64,
    /// Resultant of the principal stresses on the formed sheet, N/mm: thickness times stress along
    /// e1 and e2.
    pub forces: [f64; 2],
    /// Unit direction of `e1` in the formed triangle's plane, x along its first edge.
    pub formed_direction: [f64; 2],
}

/// The blank.
#[derive(Debug, Clone, PartialEq)]
pub struct Solution {
    /// Flat position of every node, mm.
    pub flat: Vec<[f64; 2]>,
    /// State of every triangle.
    pub triangles: Vec<TriangleState>,
    /// Nodes on free edges, ascending.
    pub free_nodes: Vec<usize>,
    /// The steps taken.
    pub record: Record,
}

/// Holds three coordinates of an otherwise free sheet so that it can neither slide nor turn: `at`
/// wholly, `far` square to the line between them. The two should lie far apart: beside each other
/// they leave turning so soft that it creeps.
#[must_use]
pub fn hold_rigidly(start: &[[f64; 2]], at: usize, far: usize) -> Vec<[bool; 2]> {
    let mut held = vec![[false; 2]; start.len()];
    if let (Some(a), Some(b)) = (start.get(at), start.get(far)) {
        let wide = (b[0] - a[0]).abs() >= (b[1] - a[1]).abs();
        held[far] = [!wide, wide];
        held[at] = [true, true];
    }
    held
}

impl Membrane {
    /// Finds the flat blank.
    ///
    /// Two stages: from the start positions with a softened law, then with the true one; before
    /// them, for a far start, least work with the volume frozen, so that no triangle gains by
    /// collapsing. A Newton step costs one sparse factorisation at most; about 12 are needed,
    /// hardly more on finer meshes. A solution that strains a triangle by more than
    /// [`GREATEST_STRAIN`] counts as none.
    pub fn solve(&self, settings: &Settings) -> Result<Solution, Failure> {
        let problem = self.problem()?;
        problem.solve(&mut problem.system()?, &self.start, settings)
    }

    /// As [`Self::solve`]; should the start mislead, the long way round may still arrive.
    pub fn settle(&self, settings: &Settings) -> Result<Solution, Failure> {
        let problem = self.problem()?;
        problem.settle(&mut problem.system()?, &self.start, settings)
    }

    /// All that can be done before the start is known.
    pub(super) fn problem(&self) -> Result<Problem<'_>, Failure> {
        Ok(Problem::new(self, self.elements().map_err(Failure::Input)?))
    }

    fn elements(&self) -> Result<Vec<Element>, InputFault> {
        self.law.check().map_err(InputFault::Law)?;
        if !(self.thickness.is_finite() && self.thickness > 0.0) {
            return Err(InputFault::Thickness);
        }
        if self.triangles.is_empty()
            || self.triangles.len() != self.formed.len()
            || self.start.len() != self.held.len()
        {
            return Err(InputFault::Counts);
        }
        let mut used = vec![false; self.start.len()];
        let mut elements = Vec::with_capacity(self.triangles.len());
        for (index, (corners, edges)) in self.triangles.iter().zip(&self.formed).enumerate() {
            let [a, b, c] = *corners;
            if a == b || b == c || c == a || corners.iter().any(|node| *node >= used.len()) {
                return Err(InputFault::Corners(index));
            }
            for node in corners {
                used[*node] = true;
            }
            elements.push(Element::new(edges).ok_or(InputFault::Formed(index))?);
        }
        if let Some(node) = used.iter().position(|used| !used) {
            return Err(InputFault::Node(node));
        }
        if self.held.as_flattened().iter().filter(|held| **held).count() < 3 {
            return Err(InputFault::Held);
        }
        Ok(elements)
    }

    pub(super) fn state(&self, body: &Body, index: usize, flat: &[[f64; 2]]) -> TriangleState {
        let stretch = Stretch::of(&body.elements[index].map(&body.corners(index, flat)));
        // s1 ≥ s2 are the stretches of unforming, so the greater strain of forming belongs to s2.
        let [e2, e1] = stretch.s.map(|s| -s.ln());
        let sheet = self.sheet(Volume::True, self.law.meeting_strain());
        let q = self.law.equivalent_squared(e1, e2);
        let work = sheet.work(q);
        let thickness = self.thickness * (-e1 - e2).exp();
        let (c, m) = (self.law.anisotropy_factor(), self.law.mixed_factor());
        let force = |own: f64, other: f64| thickness * work.w_q * c * (2.0 * own + m * other);
        TriangleState {
            e1,
            e2,
            direction: [stretch.u[0][1], stretch.u[1][1]],
            thickness,
            equivalent: q.sqrt(),
            work: work.w,
            forces: [force(e1, e2), force(e2, e1)],
            formed_direction: [stretch.v[0][1], stretch.v[1][1]],
        }
    }

    pub(super) fn sheet(&self, volume: Volume, d0: f64) -> Sheet {
        Sheet::new(self.law, self.thickness, d0, volume)
    }
}
