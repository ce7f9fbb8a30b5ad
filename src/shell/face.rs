//! The outside of a half-shell's face where its depth changes along the run: how high it stands
//! over the seam plane, and where its metal lies once it is unrolled.
//!
//! Along the run the depth is a line in the (place, depth) plane: straight pieces whose creases are
//! blended, or the smooth curve through the stations. Across the run the face is straight.
//! Millimetres and radians.

use crate::geom::{GAUSS_8, MonotoneCurve, Point, Segment, Vec2, left_of};
use crate::part::HalfShell;

/// Parts into which a piece's length is cut for that rule.
const PARTS: u32 = 4;
/// The share of a straight piece that the blend of a crease may take at each of its ends.
const MOST_BLEND: f64 = 0.25;
/// Rounds in which the outside's place over one of another skin is found.
const OVER_ROUNDS: usize = 30;
/// Rounds in which the place of an unrolled point is found.
const ROLLED_ROUNDS: usize = 60;
/// A face of one depth reaches so far along the run, mm.
const FAR: f64 = 1e6;
/// Parts into which each segment of a run that curves is cut for its length.
const KNOTS: usize = 32;
/// Rounds in which the foot of a centreline's normal is found.
const FOOT_ROUNDS: usize = 40;

/// The outside of a face.
#[derive(Debug, Clone)]
pub struct Face {
    run: Run,
    pieces: Vec<Piece>,
    /// Half the thickness of the sheet, mm.
    half_thickness: f64,
    /// Length of the middle line from place 0 to each piece's start, mm.
    lengths: Vec<f64>,
}

/// What the places of the depth are measured along.
#[derive(Debug, Clone)]
enum Run {
    /// From a point in a direction, square to which the depth does not change.
    Straight { origin: Point, along: Vec2 },
    /// Along a line that curves, from its first point.
    Curved(CurvedRun),
}

/// One piece of the depth over the places along the run.
#[derive(Debug, Clone, Copy)]
struct Piece {
    from: f64,
    to: f64,
    form: Form,
}

#[derive(Debug, Clone, Copy)]
enum Form {
    /// Depth at the piece's start, and slope.
    Line { depth: f64, slope: f64 },
    /// A circle's arc in the section: centre, radius, and 1 over its centre or -1 under it.
    Arc { at: f64, depth: f64, radius: f64, side: f64 },
    /// Depth over (place - from) as a cubic, from the constant on.
    Cubic([f64; 4]),
}

impl Piece {
    /// Depth and slope.
    fn at(&self, place: f64) -> (f64, f64) {
        match self.form {
            Form::Line { depth, slope } => (depth + slope * (place - self.from), slope),
            Form::Arc { at, depth, radius, side } => {
                let off = place - at;
                let height = (radius * radius - off * off).max(0.0).sqrt();
                (depth + side * height, -side * off / height)
            }
            Form::Cubic([a, b, c, d]) => {
                let x = place - self.from;
                (a + x * (b + x * (c + x * d)), b + x * (2.0 * c + x * 3.0 * d))
            }
        }
    }

    /// Second derivative of the depth, 1/mm.
    fn second(&self, place: f64) -> f64 {
        match self.form {
            Form::Line { .. } => 0.0,
            Form::Arc { .. } | Form::Cubic(_) => {
                let h = 1e-4 * (self.to - self.from).min(1.0);
                (self.at(place + h).1 - self.at(place - h).1) / (2.0 * h)
            }
        }
    }

    /// Length of the section's line from `from` to `to`, mm.
    fn length(&self, from: f64, to: f64) -> f64 {
        if let Form::Line { slope, .. } = self.form {
            return (to - from) * 1.0_f64.hypot(slope);
        }
        let part = (to - from) / f64::from(PARTS);
        let node = |i: u32, x: f64| from + part * (f64::from(i) + 0.5 * (1.0 + x));
        let speed = |place: f64| 1.0_f64.hypot(self.at(place).1);
        let rule = |i: u32| {
            GAUSS_8.iter().map(|(x, w)| w * (speed(node(i, *x)) + speed(node(i, -x)))).sum::<f64>()
        };
        (0..PARTS).map(rule).sum::<f64>() * part / 2.0
    }
}

/// Why a face cannot be formed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FaceProblem {
    /// It bulges so sharply at this place along the run, with this outside radius in mm, that the
    /// edge radius finds no room under it.
    TooSharp {
        /// Along the run, mm.
        at: f64,
        /// Outside radius there, mm.
        radius: f64,
    },
    /// It is steeper than [`Face::STEEPEST`] at this place along the run.
    TooSteep {
        /// Along the run, mm.
        at: f64,
        /// Angle between face and seam plane, radians.
        angle: f64,
    },
}

impl Face {
    /// Steepest face that is formed, radians from the seam plane: beyond it the face is more of a
    /// wall.
    pub const STEEPEST: f64 = std::f64::consts::FRAC_PI_3;

    /// The face of a shell; `outside_radius` is that of its edge, `thickness` the sheet's, mm. None
    /// where it is level.
    ///
    /// A crease between straight pieces is blended by an arc that takes `outside_radius` of either
    /// piece, or a quarter of it.
    pub fn of(
        shell: &HalfShell,
        outside_radius: f64,
        thickness: f64,
    ) -> Result<Option<Self>, FaceProblem> {
        if shell.is_level() {
            return Ok(None);
        }
        let run = run_of(shell);
        let pieces = pieces_of(&shell.depth, outside_radius);
        let mut face = Self { run, pieces, half_thickness: thickness / 2.0, lengths: Vec::new() };
        let mut length = 0.0;
        for i in 0..face.pieces.len() {
            face.lengths.push(length);
            length += face.pieces[i].length(face.pieces[i].from, face.pieces[i].to);
        }
        // From place 0 on.
        let zero = face.outside_length(0.0);
        face.lengths.iter_mut().for_each(|l| *l -= zero);
        face.check(outside_radius)?;
        Ok(Some(face))
    }

    fn check(&self, outside_radius: f64) -> Result<(), FaceProblem> {
        for piece in &self.pieces {
            for i in 0..=32 {
                let at = piece.from + (piece.to - piece.from) * f64::from(i) / 32.0;
                let (_, slope) = piece.at(at);
                if slope.abs() > Self::STEEPEST.tan() {
                    return Err(FaceProblem::TooSteep { at, angle: slope.abs().atan() });
                }
                let curvature = -piece.second(at) / (1.0 + slope * slope).powf(1.5);
                if curvature * outside_radius > 0.9 {
                    return Err(FaceProblem::TooSharp { at, radius: 1.0 / curvature });
                }
            }
        }
        Ok(())
    }

    /// Whether it can be unrolled without strain.
    #[must_use]
    pub const fn is_developable(&self) -> bool {
        matches!(self.run, Run::Straight { .. })
    }

    fn piece(&self, place: f64) -> usize {
        self.pieces.partition_point(|piece| piece.to <= place).min(self.pieces.len() - 1)
    }

    /// How far along the run a place in plan is, and the gradient of that.
    fn place(&self, p: Point) -> (f64, Vec2) {
        match &self.run {
            Run::Straight { origin, along } => ((p - *origin).dot(*along), *along),
            Run::Curved(line) => line.foot(p),
        }
    }

    /// How far along the run a place in plan is, mm. None where the run curves.
    #[must_use]
    pub fn along(&self, p: Point) -> Option<f64> {
        self.is_developable().then(|| self.place(p).0)
    }

    /// A place in plan so far along the run. None where the run curves.
    #[must_use]
    pub fn on_run(&self, place: f64) -> Option<Point> {
        match &self.run {
            Run::Straight { origin, along } => Some(*origin + *along * place),
            Run::Curved(_) => None,
        }
    }

    /// Height over the seam plane of the outside at a place in plan, and its gradient.
    #[must_use]
    pub fn height(&self, p: Point) -> (f64, Vec2) {
        let (place, gradient) = self.place(p);
        let (depth, slope) = self.pieces[self.piece(place)].at(place);
        (depth, gradient * slope)
    }

    /// Curvature of the depth's line at a place in plan, in its size, 1/mm.
    #[must_use]
    pub fn bend_at(&self, p: Point) -> f64 {
        let place = self.place(p).0;
        self.pieces[self.piece(place)].second(place).abs()
    }

    /// Unit normal of the outside over a place in plan, upward.
    #[must_use]
    pub fn normal(&self, p: Point) -> [f64; 3] {
        let g = self.height(p).1;
        let size = (1.0 + g.hypot2()).sqrt();
        [-g.x / size, -g.y / size, 1.0 / size]
    }

    /// The place of the outside whose normal goes through the skin `under` mm below it over a place
    /// in plan.
    #[must_use]
    pub fn over(&self, p: Point, under: f64) -> Point {
        let mut over = p;
        for _ in 0..OVER_ROUNDS {
            let normal = self.normal(over);
            over = p + Vec2::new(normal[0], normal[1]) * under;
        }
        over
    }

    /// Height over the seam plane of the skin `under` mm below the outside, over a place in plan.
    #[must_use]
    pub fn skin_height(&self, p: Point, under: f64) -> f64 {
        let over = self.over(p, under);
        self.height(over).0 - under * self.normal(over)[2]
    }

    /// Length of the outside's line from place 0, mm.
    fn outside_length(&self, place: f64) -> f64 {
        let i = self.piece(place);
        self.lengths[i] + self.pieces[i].length(self.pieces[i].from, place)
    }

    /// Where the middle of the sheet over a place in plan lies once unrolled, the run's place 0
    /// staying where it is; `over` is the place of the outside on the same normal. For a face that
    /// curves across its run the lengths along it are only kept where the run is.
    ///
    /// On the middle line the length is S = ∫ sqrt(1 + d'^2) dx + T/2 (atan d' - atan d'(0)).
    #[must_use]
    pub fn unrolled(&self, over: Point) -> Point {
        match &self.run {
            Run::Straight { origin, along } => {
                let off = over - *origin;
                let across = left_of(*along);
                *origin + *along * self.middle_length(off.dot(*along)) + across * off.dot(across)
            }
            Run::Curved(_) => over,
        }
    }

    /// The place in plan of the outside that [`Self::unrolled`] lays there.
    #[must_use]
    pub fn rolled(&self, flat: Point) -> Point {
        let mut over = flat;
        // Lengths on the face are once to twice those in plan.
        for _ in 0..ROLLED_ROUNDS {
            over += (flat - self.unrolled(over)) * 0.6;
        }
        over
    }

    fn middle_length(&self, place: f64) -> f64 {
        let turned = |place: f64| self.pieces[self.piece(place)].at(place).1.atan();
        self.outside_length(place) + self.half_thickness * (turned(place) - turned(0.0))
    }
}

/// What the depth of a shell is measured along.
fn run_of(shell: &HalfShell) -> Run {
    let Some(line) = &shell.profile.centreline else {
        return Run::Straight { origin: Point::ORIGIN, along: Vec2::new(1.0, 0.0) };
    };
    let line = line.pieces();
    let (start, along) = (line[0].from(), line[0].tangent_at(0.0));
    let beside = |p: Point| (p - start).cross(along).abs() < 1e-9;
    let straight = line
        .iter()
        .all(|s| beside(s.to()) && (0..=8).all(|i| beside(s.point_at(f64::from(i) / 8.0))));
    if straight {
        Run::Straight { origin: start, along }
    } else {
        Run::Curved(CurvedRun::new(line.to_vec()))
    }
}

/// A line that curves, with the lengths along it.
#[derive(Debug, Clone)]
struct CurvedRun {
    segments: Vec<Segment>,
    /// Places on the line, [`KNOTS`] on each segment and its end: where they are, and the length up
    /// to them, mm.
    knots: Vec<(Point, f64)>,
}

impl CurvedRun {
    fn new(segments: Vec<Segment>) -> Self {
        let mut run = Self { segments, knots: Vec::new() };
        let mut length = 0.0;
        for (i, segment) in run.segments.iter().enumerate() {
            let at = |k: usize| k as f64 / KNOTS as f64;
            for k in 0..KNOTS {
                run.knots.push((segment.point_at(at(k)), length));
                length += run.length_of(i, at(k), at(k + 1));
            }
            run.knots.push((segment.point_at(1.0), length));
        }
        run
    }

    /// Length along a segment between two near parameters, mm.
    fn length_of(&self, segment: usize, from: f64, to: f64) -> f64 {
        let half = (to - from) / 2.0;
        let speed = |x: f64| self.segments[segment].velocity_at(from + half * (1.0 + x)).hypot();
        GAUSS_8.iter().map(|(x, w)| w * (speed(*x) + speed(-x))).sum::<f64>() * half
    }

    /// Distance along the line of the nearest place to `p`, the line's ends running on straight,
    /// and the gradient of that distance.
    fn foot(&self, p: Point) -> (f64, Vec2) {
        let near = |a: &usize, b: &usize| {
            self.knots[*a].0.distance_squared(p).total_cmp(&self.knots[*b].0.distance_squared(p))
        };
        let knot = (0..self.knots.len()).min_by(near).unwrap_or(0);
        let (mut i, mut u) = (knot / (KNOTS + 1), (knot % (KNOTS + 1)) as f64 / KNOTS as f64);
        let last = self.segments.len() - 1;
        for _ in 0..FOOT_ROUNDS {
            let segment = &self.segments[i];
            let (velocity, inside) =
                (segment.velocity_at(u.clamp(0.0, 1.0)), (0.0..=1.0).contains(&u));
            let (t, speed) = (velocity.normalize(), velocity.hypot());
            let q = if inside {
                segment.point_at(u)
            } else {
                segment.point_at(u.clamp(0.0, 1.0)) + velocity * (u - u.clamp(0.0, 1.0))
            };
            let k = if inside { segment.curvature_at(u) } else { 0.0 };
            let off = p - q;
            let step = off.dot(t) / (1.0 - k * off.dot(left_of(t))).max(0.2) / speed;
            u += step;
            if u > 1.0 && i < last {
                (i, u) = (i + 1, (u - 1.0) * speed / self.segments[i + 1].velocity_at(0.0).hypot());
            } else if u < 0.0 && i > 0 {
                (i, u) = (i - 1, 1.0 + u * speed / self.segments[i - 1].velocity_at(1.0).hypot());
            }
            if step.abs() < 1e-13 {
                break;
            }
        }
        let segment = &self.segments[i];
        let inside = u.clamp(0.0, 1.0);
        let velocity = segment.velocity_at(inside);
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "0 <= inside <= 1"
        )]
        let knot = ((inside * KNOTS as f64) as usize).min(KNOTS - 1);
        let from = knot as f64 / KNOTS as f64;
        let beyond = (u - inside) * velocity.hypot();
        let place = self.knots[i * (KNOTS + 1) + knot].1 + self.length_of(i, from, inside) + beyond;
        let t = velocity.normalize();
        let k = if beyond == 0.0 { segment.curvature_at(inside) } else { 0.0 };
        let off = p - (segment.point_at(inside) + t * beyond);
        (place, t / (1.0 - k * off.dot(left_of(t))).max(0.2))
    }
}

/// The depth's line in pieces; the first and the last run on beyond the stations.
fn pieces_of(depth: &MonotoneCurve, outside_radius: f64) -> Vec<Piece> {
    let (places, values) = (depth.places(), depth.values());
    let spans = places.len() - 1;
    if spans == 0 {
        let form = Form::Line { depth: values[0], slope: 0.0 };
        return vec![Piece { from: -FAR, to: FAR, form }];
    }
    if let Some(slopes) = depth.slopes() {
        let cubic = |i: usize| {
            let h = places[i + 1] - places[i];
            let rise = (values[i + 1] - values[i]) / h;
            let (a, b) = (slopes[i], slopes[i + 1]);
            let form = Form::Cubic([
                values[i],
                a,
                (3.0 * rise - 2.0 * a - b) / h,
                (a + b - 2.0 * rise) / (h * h),
            ]);
            Piece { from: places[i], to: places[i + 1], form }
        };
        let mut pieces: Vec<Piece> = (0..spans).map(cubic).collect();
        run_on(&mut pieces);
        return pieces;
    }
    let slope = |i: usize| (values[i + 1] - values[i]) / (places[i + 1] - places[i]);
    let mut pieces: Vec<Piece> = Vec::new();
    let mut from = places[0];
    for i in 0..spans {
        let line = |from: f64, to: f64| {
            let form =
                Form::Line { depth: values[i] + slope(i) * (from - places[i]), slope: slope(i) };
            Piece { from, to, form }
        };
        if i + 1 == spans || (slope(i + 1) - slope(i)).abs() < 1e-12 {
            pieces.push(line(from, places[i + 1]));
            from = places[i + 1];
            continue;
        }
        // The blend: an arc that touches both pieces, `reach` from the crease along each.
        let (first, second) = (slope(i).atan(), slope(i + 1).atan());
        let length = |k: usize| (places[k + 1] - places[k]) / slope(k).atan().cos();
        let reach = outside_radius.min(MOST_BLEND * length(i)).min(MOST_BLEND * length(i + 1));
        let radius = reach / ((second - first).abs() / 2.0).tan();
        // Over its centre where the line turns down.
        let side = if second < first { 1.0 } else { -1.0 };
        let (a, b) = (places[i + 1] - reach * first.cos(), places[i + 1] + reach * second.cos());
        let at = a + side * radius * first.sin();
        let depth = values[i + 1] - reach * first.sin() - side * radius * first.cos();
        pieces.push(line(from, a));
        pieces.push(Piece { from: a, to: b, form: Form::Arc { at, depth, radius, side } });
        from = b;
    }
    run_on(&mut pieces);
    pieces
}

/// Lets the line run on straight beyond both its ends.
fn run_on(pieces: &mut Vec<Piece>) {
    let (first, last) = (pieces[0], pieces[pieces.len() - 1]);
    let far = 10.0 * (last.to - first.from);
    let line = |from: f64, to: f64, (depth, slope): (f64, f64), at: f64| Piece {
        from,
        to,
        form: Form::Line { depth: depth + slope * (from - at), slope },
    };
    pieces.insert(0, line(first.from - far, first.from, first.at(first.from), first.from));
    pieces.push(line(last.to, last.to + far, last.at(last.to), last.to));
}
