//! The exact solution of a wall formed from the edge of a round face, the face held flat.
//!
//! A wall that stands all round a circle strains alike at every point of a parallel, so the
//! membrane's equilibrium is an ordinary differential equation along the wall. Convex rims shrink
//! (the wall of a cup), concave rims stretch (the collar of a hole), and a straight rim is the
//! limit between them: plain unrolling.
//!
//! Millimetres and radians; strains logarithmic; all lengths on the sheet's middle surface.
//!
//! # Formulas
//!
//! s = formed length from the tangent line up the wall, in the bend times the bend's length factor
//! λ; κ = curvature of the tangent line (+ convex); x(s) = distance of the formed wall from the
//! tangent line, square to the wall's axis; w(s) = the same point's distance from the tangent line
//! in the flat blank.
//!
//! * ρ = 1 + κ x, R = 1 + κ w: formed and flat radius over the tangent line's radius. At κ = 0 both
//!   are 1.
//! * hoop strain e_h = ln(ρ / R); strain up the wall e_s from dw/ds = exp(−e_s); thickness strain
//!   −(e_h + e_s).
//! * balance of forces along the wall: d(T ρ)/ds = T_h dρ/ds with the forces per formed width T =
//!   t0 σ_s exp(−e_s − e_h), T_h = t0 σ_h exp(−e_s − e_h), stresses from the work of [`SheetLaw`].
//! * at the tangent line w = 0 (held face); at the edge σ_s = 0 (nothing pulls there).
//!
//! Derivation: equilibrium of a membrane of revolution without normal load along its meridian. With
//! a sharp bend and a square wall dρ/ds = 0, so σ_s = 0 all the way up, e_s = −k e_h with k =
//! r/(1+r), and the equation has the closed solution R = a [1 ± (k+1) h/a]^(1/(k+1)) for a wall of
//! height h on the radius a; `tests/it/fe_ring.rs` checks it.

use super::law::{LawFault, SheetLaw};

/// Allowed local error of one integration step: in w as a share of the wall's length, in strain
/// absolute.
const STEP_TOLERANCE: f64 = 1e-11;
/// Shooting stops when the wall's foot misses the tangent line by less than this share of the
/// wall's length.
const FOOT_TOLERANCE: f64 = 1e-12;
/// Integration steps allowed for one pass over the wall; a deep wall takes a few hundred.
const STEP_LIMIT: usize = 20_000;
/// Passes over the wall allowed for one solution; about ten are needed.
const PASS_LIMIT: usize = 200;
/// Edge hoop strain at which a hole counts as closed: the flat edge's radius is then e⁻⁸ of the
/// formed one.
const CLOSED_HOLE_STRAIN: f64 = 8.0;

/// A wall as seen in one cross-section.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WallSection {
    /// Curvature of the tangent line between face and bend, 1/mm: + where the face is convex (the
    /// wall shrinks), − where it is concave or the rim of a hole (the wall stretches), 0 where it
    /// is straight.
    pub tangent_curvature: f64,
    /// Radius of the bend's middle surface, mm; 0 = sharp.
    pub bend_mid_radius: f64,
    /// Angle the sheet turns through in the bend, radians, 0 to π: π/2 stands square to the face,
    /// less leans outward.
    pub bend_angle: f64,
    /// Factor λ on lengths across the bend: developed length over length of the middle surface,
    /// (Ri + K t)/(Ri + t/2).
    pub stretch_of_bend: f64,
    /// Length of the straight wall above the bend, mm.
    pub wall_length: f64,
}

/// Why there is no solution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum RingFailure {
    /// The sheet's law is out of range.
    Law(LawFault),
    /// A number of the section is out of range or no number; names the field.
    Section(&'static str),
    /// The formed wall runs into the axis of its curve: 1 + κ x ≤ 0 at its edge.
    WallCrossesAxis,
    /// The wall can't be had from the metal of the hole: the flat hole would have to close to a
    /// point.
    HoleCloses,
    /// The pull up the wall passes its greatest possible value at this formed length from the
    /// tangent line (mm): the metal would neck there.
    Necks {
        /// Formed length from the tangent line, mm.
        at: f64,
    },
    /// The search did not settle within its limits.
    Unsettled,
}

impl std::fmt::Display for RingFailure {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Law(fault) => fault.fmt(f),
            Self::Section(field) => write!(f, "the wall section's {field} is out of range"),
            Self::WallCrossesAxis => f.write_str("the formed wall runs into the axis of its curve"),
            Self::HoleCloses => {
                f.write_str("the wall can't follow: its flat edge would close to a point")
            }
            Self::Necks { at } => write!(f, "the metal necks {at:.3} mm up the wall"),
            Self::Unsettled => f.write_str("the search for the wall's flat width did not settle"),
        }
    }
}

impl std::error::Error for RingFailure {}

/// The state of the metal at one height of the wall.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RingPoint {
    /// Distance from the tangent line in the flat blank, mm.
    pub flat_distance: f64,
    /// Strain along the rim, logarithmic; negative = shrunk.
    pub hoop_strain: f64,
    /// Strain up the wall, logarithmic; the length factor of the bend is not part of it.
    pub meridian_strain: f64,
}

impl RingPoint {
    /// Thickness over the blank's thickness: exp(−e_h − e_s), volume being kept.
    #[must_use]
    pub fn thickness_ratio(&self) -> f64 {
        (-self.hoop_strain - self.meridian_strain).exp()
    }
}

/// The solved wall.
#[derive(Debug, Clone, PartialEq)]
pub struct RingWall {
    /// Distance from the tangent line to the edge in the flat blank, mm.
    pub flat_width: f64,
    /// Strain along the free edge, logarithmic; negative = shrunk.
    pub edge_hoop_strain: f64,
    /// Thickness at the free edge over the blank's thickness.
    pub edge_thickness_ratio: f64,
    meridian: Meridian,
    steps: Steps,
}

impl RingWall {
    /// Formed length of the middle surface from the tangent line to the edge, mm.
    #[must_use]
    pub fn formed_length(&self) -> f64 {
        self.meridian.bend_length() / self.meridian.section.stretch_of_bend
            + self.meridian.section.wall_length
    }

    /// What happens from the tangent line up to `formed_length` mm of middle surface.
    #[must_use]
    pub fn extremes(&self, formed_length: f64) -> Extremes {
        let last = self.at(formed_length);
        self.steps
            .iter()
            .map(|(s, state)| self.meridian.point(*s, *state))
            .filter(|point| point.flat_distance <= last.flat_distance)
            .fold(Extremes::STILL.with(last.hoop_strain, last.meridian_strain), |all, point| {
                all.with(point.hoop_strain, point.meridian_strain)
            })
    }

    /// The metal at `formed_length` mm of middle surface from the tangent line; held to the wall's
    /// two ends.
    #[must_use]
    pub fn at(&self, formed_length: f64) -> RingPoint {
        let bend = self.meridian.bend_length();
        let factor = self.meridian.section.stretch_of_bend;
        let s = if formed_length * factor <= bend {
            formed_length * factor
        } else {
            formed_length + bend - bend / factor
        };
        let s = s.clamp(0.0, self.meridian.length);
        // Steps run downward: take the last one at or above s and go on from it, within one
        // accepted step.
        let after = self.steps.partition_point(|(from, _)| *from >= s).max(1);
        let (from, state) = self.steps[after - 1];
        let state = if from > s {
            self.meridian.step(from, state, s - from).map_or(state, |(to, _)| to)
        } else {
            state
        };
        self.meridian.point(s, state)
    }
}

/// The least and greatest of what happens anywhere in a wall: logarithmic principal strains of the
/// middle surface, and thickness over the sheet's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Extremes {
    /// Least and greatest principal strain, logarithmic: at most 0 and at least 0.
    pub strain: (f64, f64),
    /// Least and greatest thickness over the sheet's: at most 1 and at least 1.
    pub thickness_ratio: (f64, f64),
}

impl Extremes {
    /// Metal to which nothing happens.
    pub const STILL: Self = Self { strain: (0.0, 0.0), thickness_ratio: (1.0, 1.0) };

    /// The least and greatest of both.
    #[must_use]
    pub fn joined(self, other: Self) -> Self {
        let both = |a: (f64, f64), b: (f64, f64)| (a.0.min(b.0), a.1.max(b.1));
        Self {
            strain: both(self.strain, other.strain),
            thickness_ratio: both(self.thickness_ratio, other.thickness_ratio),
        }
    }

    /// With a place of given logarithmic principal strains, whose thickness follows from the volume
    /// kept.
    #[must_use]
    pub fn with(mut self, one: f64, other: f64) -> Self {
        let ratio = (-one - other).exp();
        self.strain = (self.strain.0.min(one).min(other), self.strain.1.max(one).max(other));
        self.thickness_ratio =
            (self.thickness_ratio.0.min(ratio), self.thickness_ratio.1.max(ratio));
        self
    }
}

/// Solves the wall that stands all round a rim of constant curvature.
///
/// Relative error of the flat width about 1e−10 (allowed step error 1e−11). Costs 3 to 6 passes of
/// about a hundred steps, a fraction of a millisecond; walls of the same section have the same
/// solution, so keep it along an arc. Valid for walls of constant section on a full circle; on a
/// short arc the neighbours relieve the metal and the true strain is smaller.
pub fn ring(law: &SheetLaw, section: &WallSection) -> Result<RingWall, RingFailure> {
    let meridian = Meridian::new(law, section)?;
    let mut steps = Vec::new();
    let edge = meridian.shoot(&mut steps)?;
    let end = meridian.point(meridian.length, State { w: edge, e: meridian.edge_strain(edge) });
    Ok(RingWall {
        flat_width: end.flat_distance,
        edge_hoop_strain: end.hoop_strain,
        edge_thickness_ratio: end.thickness_ratio(),
        meridian,
        steps,
    })
}

/// (s, state) from the edge down to the tangent line, as the last pass took them.
type Steps = Vec<(f64, State)>;

/// Flat distance w, mm, and strain up the wall.
#[derive(Debug, Clone, Copy, PartialEq)]
struct State {
    w: f64,
    e: f64,
}

impl State {
    fn plus(self, h: f64, slopes: &[(f64, State)]) -> Self {
        let mut sum = self;
        for (weight, slope) in slopes {
            sum.w += h * weight * slope.w;
            sum.e += h * weight * slope.e;
        }
        sum
    }
}

/// The wall with everything the slope needs worked out once.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Meridian {
    section: WallSection,
    /// C and m of the equivalent strain, hardening exponent, squared meeting strain.
    factor: f64,
    mixed: f64,
    hardening: f64,
    d0_squared: f64,
    /// Developed length of bend and wall, mm.
    length: f64,
    /// ρ at the edge.
    edge_radius: f64,
}

impl Meridian {
    fn new(law: &SheetLaw, section: &WallSection) -> Result<Self, RingFailure> {
        law.check().map_err(RingFailure::Law)?;
        let fault = |good: bool, field: &'static str| {
            if good { Ok(()) } else { Err(RingFailure::Section(field)) }
        };
        let length = |x: f64| x.is_finite() && x >= 0.0;
        fault(section.tangent_curvature.is_finite(), "tangent_curvature")?;
        fault(length(section.bend_mid_radius), "bend_mid_radius")?;
        fault((0.0..=std::f64::consts::PI).contains(&section.bend_angle), "bend_angle")?;
        fault(
            section.stretch_of_bend.is_finite() && section.stretch_of_bend > 0.0,
            "stretch_of_bend",
        )?;
        fault(length(section.wall_length), "wall_length")?;
        let d0 = law.meeting_strain();
        let mut meridian = Self {
            section: *section,
            factor: law.anisotropy_factor(),
            mixed: law.mixed_factor(),
            hardening: law.hardening,
            d0_squared: d0 * d0,
            length: 0.0,
            edge_radius: 1.0,
        };
        meridian.length = meridian.bend_length() + section.wall_length;
        meridian.edge_radius = meridian.formed_radius(meridian.length).0;
        fault(meridian.length.is_finite(), "wall_length")?;
        // The radius is least at the edge or, where the wall turns back past square, at the top of
        // the bend.
        let widest = meridian.formed_radius(meridian.bend_length().min(meridian.square_point())).0;
        if meridian.edge_radius <= 0.0 || widest <= 0.0 {
            return Err(RingFailure::WallCrossesAxis);
        }
        Ok(meridian)
    }

    /// Developed length of the bend: λ Rm N.
    fn bend_length(&self) -> f64 {
        self.section.stretch_of_bend * self.section.bend_mid_radius * self.section.bend_angle
    }

    /// Developed length at which the bend has turned through a right angle.
    fn square_point(&self) -> f64 {
        self.section.stretch_of_bend * self.section.bend_mid_radius * std::f64::consts::FRAC_PI_2
    }

    /// ρ = 1 + κ x and dρ/ds at developed length `s`.
    ///
    /// Bend: x = Rm sin φ, φ = s / (λ Rm), dx/ds = cos φ / λ. Wall: x grows by cos N for each mm.
    fn formed_radius(&self, s: f64) -> (f64, f64) {
        let WallSection { tangent_curvature, bend_mid_radius, bend_angle, stretch_of_bend, .. } =
            self.section;
        let bend = self.bend_length();
        let (x, slope) = if s < bend {
            let (sin, cos) = (s / (stretch_of_bend * bend_mid_radius)).sin_cos();
            (bend_mid_radius * sin, cos / stretch_of_bend)
        } else {
            let (sin, cos) = bend_angle.sin_cos();
            (bend_mid_radius * sin + (s - bend) * cos, cos)
        };
        (1.0 + tangent_curvature * x, tangent_curvature * slope)
    }

    /// Strain up the wall at an unloaded edge: σ_s = 0, so e_s = −(m/2) e_h.
    fn edge_strain(&self, w: f64) -> f64 {
        -0.5 * self.mixed * (self.edge_radius / (1.0 + self.section.tangent_curvature * w)).ln()
    }

    fn point(&self, s: f64, state: State) -> RingPoint {
        let (formed, _) = self.formed_radius(s);
        RingPoint {
            flat_distance: state.w,
            hoop_strain: (formed / (1.0 + self.section.tangent_curvature * state.w)).ln(),
            meridian_strain: state.e,
        }
    }

    /// dw/ds and de_s/ds; `None` where the flat radius is used up or the metal necks.
    ///
    /// With f = σ_s exp(−e_s − e_h) the balance reads f_s e_s' + f_h e_h' = (f_hoop − f) ρ'/ρ.
    /// Every term carries the factor C W'(q) exp(−e_s − e_h), which is divided out; what stays is,
    /// with a_s = 2 e_s + m e_h, a_h = 2 e_h + m e_s and g = C W''/W' = C (n − 1) / (2 (q + d0²)):
    /// (2 + g a_s² − a_s) e_s' = (a_h − a_s) ρ'/ρ − (m + g a_s a_h − a_s) e_h'.
    fn slope(&self, s: f64, state: State) -> Option<State> {
        let (formed, formed_slope) = self.formed_radius(s);
        let flat = 1.0 + self.section.tangent_curvature * state.w;
        if flat <= 0.0 {
            return None;
        }
        let (c, m, e_s) = (self.factor, self.mixed, state.e);
        let w_slope = (-e_s).exp();
        let e_h = (formed / flat).ln();
        let turn = formed_slope / formed;
        let e_h_slope = turn - self.section.tangent_curvature * w_slope / flat;
        let q = c * (e_s * e_s + e_h * e_h + m * e_s * e_h);
        let g = 0.5 * c * (self.hardening - 1.0) / (q + self.d0_squared);
        let (a_s, a_h) = (2.0 * e_s + m * e_h, 2.0 * e_h + m * e_s);
        let stiffness = 2.0 + g * a_s * a_s - a_s;
        let e_slope = ((a_h - a_s) * turn - (m + g * a_s * a_h - a_s) * e_h_slope) / stiffness;
        (stiffness > 0.0 && e_slope.is_finite() && w_slope.is_finite())
            .then_some(State { w: w_slope, e: e_slope })
    }

    /// One step of length `h` by the fifth-order pair of Dormand and Prince (J. Comput. Appl. Math.
    /// 6, 1980, p. 19; coefficients from memory, checked by the closed solutions in the tests): new
    /// state and estimated error over the allowed one.
    fn step(&self, s: f64, y: State, h: f64) -> Option<(State, f64)> {
        let k1 = self.slope(s, y)?;
        let k2 = self.slope(s + h / 5.0, y.plus(h, &[(1.0 / 5.0, k1)]))?;
        let k3 =
            self.slope(s + h * 3.0 / 10.0, y.plus(h, &[(3.0 / 40.0, k1), (9.0 / 40.0, k2)]))?;
        let k4 = self.slope(
            s + h * 4.0 / 5.0,
            y.plus(h, &[(44.0 / 45.0, k1), (-56.0 / 15.0, k2), (32.0 / 9.0, k3)]),
        )?;
        let k5 = self.slope(
            s + h * 8.0 / 9.0,
            y.plus(
                h,
                &[
                    (19_372.0 / 6561.0, k1),
                    (-25_360.0 / 2187.0, k2),
                    (64_448.0 / 6561.0, k3),
                    (-212.0 / 729.0, k4),
                ],
            ),
        )?;
        let k6 = self.slope(
            s + h,
            y.plus(
                h,
                &[
                    (9017.0 / 3168.0, k1),
                    (-355.0 / 33.0, k2),
                    (46_732.0 / 5247.0, k3),
                    (49.0 / 176.0, k4),
                    (-5103.0 / 18_656.0, k5),
                ],
            ),
        )?;
        let fifth = [
            (35.0 / 384.0, k1),
            (500.0 / 1113.0, k3),
            (125.0 / 192.0, k4),
            (-2187.0 / 6784.0, k5),
            (11.0 / 84.0, k6),
        ];
        let next = y.plus(h, &fifth);
        let k7 = self.slope(s + h, next)?;
        let error = State { w: 0.0, e: 0.0 }.plus(
            h,
            &[
                (71.0 / 57_600.0, k1),
                (-71.0 / 16_695.0, k3),
                (71.0 / 1920.0, k4),
                (-17_253.0 / 339_200.0, k5),
                (22.0 / 525.0, k6),
                (-1.0 / 40.0, k7),
            ],
        );
        let miss = (error.w.abs() / self.length).max(error.e.abs()) / STEP_TOLERANCE;
        (miss.is_finite() && next.w.is_finite()).then_some((next, miss))
    }

    /// Integrates from the edge, flat distance `edge`, down to the tangent line; gives w there.
    ///
    /// Starting at the edge keeps the unknown the answer itself and makes the unloaded edge exact.
    fn pass(&self, edge: f64, steps: &mut Steps) -> Result<f64, RingFailure> {
        let mut state = State { w: edge, e: self.edge_strain(edge) };
        let mut s = self.length;
        steps.clear();
        steps.push((s, state));
        let mut h = self.length / 16.0;
        let mut tries = 0;
        // Bend and wall are smooth each for itself only: no step across their junction.
        for end in [self.bend_length().min(self.length), 0.0] {
            while s > end {
                tries += 1;
                if tries > STEP_LIMIT {
                    return Err(RingFailure::Unsettled);
                }
                let last = h >= s - end;
                let length = if last { s - end } else { h };
                let Some((next, miss)) =
                    self.step(s, state, -length).filter(|(_, miss)| *miss <= 1.0)
                else {
                    h = 0.4 * length;
                    if h < 1e-13 * self.length {
                        return Err(RingFailure::Necks { at: self.formed_length(s) });
                    }
                    continue;
                };
                s = if last { end } else { s - length };
                state = next;
                steps.push((s, state));
                h = h.max(length) * (0.9 * miss.max(1e-10).powf(-0.2)).clamp(0.5, 4.0);
            }
        }
        Ok(state.w)
    }

    /// Length of middle surface at developed length `s`.
    fn formed_length(&self, s: f64) -> f64 {
        let bend = self.bend_length();
        s.min(bend) / self.section.stretch_of_bend + (s - bend).max(0.0)
    }

    /// First guess of the flat width: σ_s = 0 all the way gives R^(k+1) = 1 + (k+1) κ ∫ ρ^k ds with
    /// k = m/2.
    fn first_guess(&self) -> f64 {
        let kappa = self.section.tangent_curvature;
        let k = 0.5 * self.mixed;
        let samples = 64;
        let step = self.length / f64::from(samples);
        let sum: f64 = (0..samples)
            .map(|i| self.formed_radius((f64::from(i) + 0.5) * step).0.max(0.0).powf(k) * step)
            .sum();
        let grown = (k + 1.0) * kappa * sum;
        if grown <= -1.0 {
            return f64::INFINITY;
        }
        // (1 + grown)^(1/(k+1)) − 1 without loss of digits as κ goes to 0.
        if kappa == 0.0 { sum } else { (grown.ln_1p() / (k + 1.0)).exp_m1() / kappa }
    }

    /// A flat width the wall can be integrated from, and where its foot then lies; near the first
    /// guess.
    fn start(&self, limit: f64, steps: &mut Steps) -> Result<(f64, f64), RingFailure> {
        let guess = self.first_guess().min(limit);
        let mut first = None;
        for factor in [1.0, 0.98, 1.02, 0.95, 1.05, 0.9, 1.1, 0.8, 1.25] {
            let edge = (guess * factor).min(limit);
            match self.pass(edge, steps) {
                Ok(foot) => return Ok((edge, foot)),
                Err(why) => first = first.or(Some(why)),
            }
        }
        Err(first.unwrap_or(RingFailure::Unsettled))
    }

    /// Finds the flat width whose wall has its foot on the tangent line. The foot moves with the
    /// edge, both the same way.
    fn shoot(&self, steps: &mut Steps) -> Result<f64, RingFailure> {
        if self.length == 0.0 {
            steps.push((0.0, State { w: 0.0, e: 0.0 }));
            return Ok(0.0);
        }
        let kappa = self.section.tangent_curvature;
        // A hole's flat edge can't pass its own centre.
        let limit = if kappa < 0.0 {
            (self.edge_radius * (-CLOSED_HOLE_STRAIN).exp() - 1.0) / kappa
        } else {
            f64::INFINITY
        };
        let tolerance = FOOT_TOLERANCE * self.length;
        let (mut edge, mut foot) = self.start(limit, steps)?;
        // Walk until the foot has changed sides.
        let mut reach = 1.0;
        let mut passes = 1;
        let (mut good, mut good_foot);
        loop {
            (good, good_foot) = (edge, foot);
            if foot.abs() <= tolerance {
                return Ok(edge);
            }
            if foot < 0.0 && edge >= limit {
                return Err(RingFailure::HoleCloses);
            }
            let mut next = (edge - 1.05 * reach * foot).min(limit);
            let reached = loop {
                passes += 1;
                if passes > PASS_LIMIT {
                    return Err(RingFailure::Unsettled);
                }
                match self.pass(next, steps) {
                    Ok(found) => break found,
                    Err(why) if (next - edge).abs() < 1e-9 * self.length => return Err(why),
                    Err(_) => next = 0.5 * (next + edge),
                }
            };
            (edge, foot) = (next, reached);
            if foot * good_foot <= 0.0 {
                break;
            }
            reach *= 1.5;
        }
        self.close_in([(good, good_foot), (edge, foot)], tolerance, passes, steps)
    }

    /// Regula falsi with halving of the stale end (Illinois rule) between two edges with feet on
    /// either side.
    fn close_in(
        &self,
        ends: [(f64, f64); 2],
        tolerance: f64,
        mut passes: usize,
        steps: &mut Steps,
    ) -> Result<f64, RingFailure> {
        let [(mut a, mut foot_a), (mut b, mut foot_b)] = ends;
        loop {
            if foot_b.abs() <= tolerance || (a - b).abs() <= 4.0 * f64::EPSILON * b.abs() {
                return Ok(b);
            }
            passes += 1;
            if passes > PASS_LIMIT {
                return Err(RingFailure::Unsettled);
            }
            let next = b - foot_b * (b - a) / (foot_b - foot_a);
            let foot = self.pass(next, steps)?;
            if foot * foot_b <= 0.0 {
                (a, foot_a) = (b, foot_b);
            } else {
                foot_a *= 0.5;
            }
            (b, foot_b) = (next, foot);
        }
    }
}
