//! The fold tree of a folded part: its panel, the flanges on its edges and the flanges on those.
//!
//! Every face is laid out by its mould outline: the panel's profile, a flange's rectangle from its
//! mould line up, each to the outer faces of what is bent up from it. Where a bend takes its metal
//! from an edge, the face ends one setback short of the mould line, at the tangent line.

use super::corner::{Corner, Divide, Meeting, Trim, meet_at_corner, short_of};
use super::developed::{developed, reach};
use super::face_edges::{NoEnd, joined};
use super::fold_tree::{Face, FaceBend, FoldTree};
use super::hem::hem_fold;
use super::relief::{SLIT, Short, at_corner, width_of};
use crate::geom::space::minus;
use crate::geom::{
    Affine, Loop, Point, Polyarc, Segment, Side, Vec2, Vertex, left_of, lines_and_arcs,
    offset_sides, self_crossing,
};
use crate::part::{FLANGE_EDGES, Flange, Folded, Hem, JoggleBend, LegDims, Part, Relief};
use crate::problem::{Checked, Code, Place, Problem};
use crate::shop::bend_rule::DevelopedBend;
use crate::tolerance::{CURVE_TO_ARCS, SAME_POINT};
use crate::units::Length;

/// The tree of a folded part. Problems are those that leave nothing to cut.
pub fn folded_tree(part: &Part, folded: &Folded) -> Checked<FoldTree> {
    let mut plan = Plan {
        part,
        dims: folded.dims,
        tree: FoldTree {
            thickness: part.thickness.mm(),
            faces: Vec::new(),
            bends: Vec::new(),
            reliefs: Vec::new(),
            copes: Vec::new(),
        },
        sheets: Vec::new(),
        problems: Vec::new(),
        panel_place: folded.place.clone(),
    };
    plan.add_panel(folded);
    if plan.problems.is_empty() {
        plan.join_corners(0);
        plan.outline_faces();
        plan.end_bends();
    }
    if !plan.problems.is_empty() {
        return Err(plan.problems);
    }
    Ok(plan.tree)
}

/// How a face's own sizes lie in the flat: its point (x, y) at `origin` + x `along` + y `out`. For
/// flanges x runs along the edge that they are bent up from, y from their outside mould line up.
#[derive(Debug, Clone, Copy)]
pub(super) struct Frame {
    pub(super) origin: Point,
    pub(super) along: Vec2,
    pub(super) out: Vec2,
}

impl Frame {
    pub(super) fn at(&self, x: f64, y: f64) -> Point {
        self.origin + self.along * x + self.out * y
    }

    fn affine(&self) -> Affine {
        Affine::new([
            self.along.x,
            self.along.y,
            self.out.x,
            self.out.y,
            self.origin.x,
            self.origin.y,
        ])
    }
}

/// A face while it is laid out.
pub(super) struct Sheet<'a> {
    /// What it is bent as; none for the panel.
    pub(super) flange: Option<&'a Flange>,
    pub(super) frame: Frame,
    /// Its mould outline in the flat, counter-clockwise.
    pub(super) sides: Vec<SheetSide>,
    /// From its base's mould line to its outer edge or mould line, mm.
    pub(super) height: f64,
    /// Where a flange's start and end lie.
    pub(super) ends: [Trim; 2],
    /// Whether it is the hem of that flange.
    pub(super) is_hem: bool,
    /// What its bend keeps clear of at its start and end.
    divides: [Option<Divide>; 2],
}

/// A side of a face's mould outline.
pub(super) struct SheetSide {
    pub(super) segment: Segment,
    edge: Option<usize>,
    /// The faces bent up from it: their index and the stretch of the side that they take, mm from
    /// its start.
    pub(super) children: Vec<(usize, f64, f64)>,
    /// Whether it is the mould line that the face itself is bent up from.
    pub(super) is_base: bool,
}

/// Into how many pieces the end of a bend at a corner is cut: its curve bends by a few degrees at
/// each.
const STEPS_OF_END: u32 = 8;

/// The outer side of a flange among its sides.
pub(super) const OUTER: usize = 1;

/// What a bend to be added is.
struct NewBend<'b> {
    angle: f64,
    inside_radius: f64,
    developed: DevelopedBend,
    joggle: Option<JoggleBend>,
    /// What its face is called on its parent.
    name: &'b str,
    place: &'b Place,
}

pub(super) struct Plan<'a> {
    part: &'a Part,
    dims: LegDims,
    pub(super) tree: FoldTree,
    pub(super) sheets: Vec<Sheet<'a>>,
    problems: Vec<Problem>,
    panel_place: Place,
}

impl<'a> Plan<'a> {
    fn refuse(&mut self, code: Code, place: &Place, message: String, help: &str) {
        self.problems.push(Problem::new(code, message, help).at(place.clone()));
    }

    /// How far the outside mould line lies beyond the line that the dims measure to, mm.
    fn mould_shift(&mut self, flange: &Flange) -> Option<(f64, DevelopedBend)> {
        match developed(self.part, flange.inside_radius, flange.angle, &flange.place) {
            Ok((bend, developed)) => Some((
                developed.outside_setback.mm() - reach(self.dims, &bend, &developed),
                developed,
            )),
            Err(problem) => {
                // A flange's shift is asked for by its face, its parent and itself.
                if !self
                    .problems
                    .iter()
                    .any(|known| known.place == problem.place && known.message == problem.message)
                {
                    self.problems.push(problem);
                }
                None
            }
        }
    }

    /// The largest such shift of the flanges on one edge of a flange, mm.
    fn shift_on(&mut self, flange: &Flange, edge: &str) -> f64 {
        let on_it = flange.flanges.iter().filter(|child| FLANGE_EDGES[child.edge] == edge);
        on_it.filter_map(|child| Some(self.mould_shift(child)?.0)).fold(0.0, f64::max)
    }

    fn add_panel(&mut self, folded: &'a Folded) {
        let shifts: Vec<(usize, f64)> = folded
            .flanges
            .iter()
            .filter_map(|flange| Some((flange.edge, self.mould_shift(flange)?.0)))
            .collect();
        let shift_of = |edge: Option<usize>| {
            shifts
                .iter()
                .filter(|(on, _)| Some(*on) == edge)
                .map(|(_, shift)| *shift)
                .fold(0.0, f64::max)
        };
        let profile = &folded.profile.sides;
        let grown = if shifts.iter().any(|(_, shift)| *shift > 0.0) {
            offset_sides(profile, &|i| shift_of(profile.sides[i].edge))
        } else {
            Some(profile.clone())
        };
        let Some(grown) = grown else {
            let message = "the outer faces around this panel do not close".to_owned();
            return self.refuse(
                Code::NoRoom,
                &folded.place,
                message,
                "make its short edges longer",
            );
        };
        let sides =
            grown.sides.iter().flat_map(|side| {
                lines_and_arcs(&[side.segment], CURVE_TO_ARCS).into_iter().map(|segment| {
                    SheetSide { segment, edge: side.edge, children: Vec::new(), is_base: false }
                })
            });
        let frame =
            Frame { origin: Point::ORIGIN, along: Vec2::new(1.0, 0.0), out: Vec2::new(0.0, 1.0) };
        self.sheets.push(Sheet {
            flange: None,
            frame,
            sides: sides.collect(),
            height: 0.0,
            ends: [Trim::square(0.0); 2],
            is_hem: false,
            divides: [None; 2],
        });
        self.tree.faces.push(Face {
            name: "panel".to_owned(),
            outline: Polyarc::default(),
            openings: folded.openings.clone(),
            bend: None,
        });
        for flange in &folded.flanges {
            self.add_flange(0, flange);
        }
    }

    /// Places a flange on its edge of face `parent`, and the flanges on it.
    fn add_flange(&mut self, parent: usize, flange: &'a Flange) {
        let Some((base_shift, developed)) = self.mould_shift(flange) else { return };
        let side = self.sheets[parent].sides.iter().position(|side| side.edge == Some(flange.edge));
        let Some(side) = side else {
            let message = format!(
                "there is no straight edge `{}` left to bend a flange up from",
                flange.edge_name
            );
            return self.refuse(
                Code::NoRoom,
                &flange.place,
                message,
                "choose another edge, or make this one longer",
            );
        };
        let edge = self.sheets[parent].sides[side].segment;
        let length = edge.length();
        // Like the panel's profile, a flange is measured between what stands on its start and end.
        let start = flange.cut_back[0].mm() - self.shift_on(flange, "start");
        let end = length - flange.cut_back[1].mm() + self.shift_on(flange, "end");
        let unit = self.part.unit;
        if end - start < SAME_POINT {
            let message = format!(
                "the cut-backs of this flange leave nothing of its edge `{}`, which is {} long",
                flange.edge_name,
                unit.show(Length::from_mm(length))
            );
            return self.refuse(
                Code::NoRoom,
                &flange.place,
                message,
                "make them smaller, or the edge longer",
            );
        }
        let overlaps = |(_, from, to): &&(usize, f64, f64)| {
            start < *to - SAME_POINT && end > *from + SAME_POINT
        };
        if let Some((other, ..)) = self.sheets[parent].sides[side].children.iter().find(overlaps) {
            let name = self.tree.faces[*other].name.clone();
            let message = format!("this flange overlaps the flange `{name}` on the same edge");
            return self.refuse(
                Code::NoRoom,
                &flange.place,
                message,
                "cut both back so that each has its own stretch of the edge",
            );
        }
        // A hem's fold is measured to its outermost tangent, by flat dims to its tangent line.
        let hem_shift = match (&flange.hem, self.dims) {
            (Some(hem), LegDims::Flat) => {
                hem_fold(self.part, hem).map_or(0.0, |fold| fold.developed.outside_setback.mm())
            }
            _ => 0.0,
        };
        let outer_shift = self.shift_on(flange, "outer") + hem_shift;
        let height = flange.height.mm() + base_shift + outer_shift;
        let setback = developed.outside_setback.mm();
        if height < setback + SAME_POINT {
            let least = unit.show(Length::from_mm(setback - base_shift - outer_shift));
            let message = format!(
                "a height of {} leaves nothing of this flange beyond its bend",
                unit.show(flange.height)
            );
            let help = format!("make it more than {least} high, or its radius smaller");
            return self.refuse(Code::NoRoom, &flange.place, message, &help);
        }
        let bend = NewBend {
            angle: flange.angle.radians(),
            inside_radius: flange.inside_radius.mm(),
            developed,
            joggle: flange.joggle,
            name: &flange.edge_name,
            place: &flange.place,
        };
        let face = self.add_face(parent, side, flange, (start, end), height, bend);
        let motion = self.sheets[face].frame.affine();
        self.tree.faces[face].openings =
            flange.openings.iter().map(|opening| opening.moved(motion)).collect();
        for child in &flange.flanges {
            self.add_flange(face, child);
        }
        if let Some(hem) = &flange.hem {
            self.add_hem(face, flange, hem);
        }
    }

    /// Adds a face of that height, bent up from a stretch of a side of face `parent`.
    fn add_face(
        &mut self,
        parent: usize,
        side: usize,
        flange: &'a Flange,
        (start, end): (f64, f64),
        height: f64,
        bend: NewBend,
    ) -> usize {
        let edge = self.sheets[parent].sides[side].segment;
        let NewBend { angle, inside_radius, developed, joggle, name, place } = bend;
        let setback = developed.outside_setback.mm();
        let along = edge.tangent_at(0.0);
        let toward = Vec2::new(along.y, -along.x);
        let frame =
            Frame { origin: edge.from() - toward * developed.deduction.mm(), along, out: toward };
        let (face, bend) = (self.tree.faces.len(), self.tree.bends.len());
        let tangent = edge.from() - toward * setback;
        let lines = |offset: f64| [start, end].map(|x| tangent + along * x + toward * offset);
        let name = if parent == 0 {
            name.to_owned()
        } else {
            format!("{}/{name}", self.tree.faces[parent].name)
        };
        // The second one on an edge, and those after it, are counted.
        let before = self.sheets[parent].sides[side].children.len();
        let name = if before == 0 { name } else { format!("{name} {}", before + 1) };
        self.tree.bends.push(FaceBend {
            name: format!("bend {}", bend + 1),
            parent,
            child: face,
            parent_line: lines(0.0),
            child_line: lines(developed.allowance.mm()),
            ends: [Vec::new(), Vec::new()],
            toward,
            angle,
            inside_radius,
            developed,
            joggle,
            place: place.clone(),
        });
        self.tree.faces.push(Face {
            name,
            outline: Polyarc::default(),
            openings: Vec::new(),
            bend: Some(bend),
        });
        let corners =
            [(start, 0.0), (start, height), (end, height), (end, 0.0)].map(|(x, y)| frame.at(x, y));
        let sides = (0..4)
            .map(|i| SheetSide {
                segment: Segment::Line { from: corners[i], to: corners[(i + 1) % 4] },
                edge: (i < 3).then_some(i),
                children: Vec::new(),
                is_base: i == 3,
            })
            .collect();
        let ends = [Trim::square(start), Trim::square(end)];
        self.sheets.push(Sheet {
            flange: Some(flange),
            frame,
            sides,
            height,
            ends,
            is_hem: false,
            divides: [None; 2],
        });
        let children = &mut self.sheets[parent].sides[side].children;
        children.push((face, start, end));
        children.sort_by(|a, b| a.1.total_cmp(&b.1));
        face
    }

    /// Folds a hem up from the outer edge of flange `parent`, to the side that the flange itself is
    /// bent to.
    fn add_hem(&mut self, parent: usize, flange: &'a Flange, hem: &Hem) {
        let fold = match hem_fold(self.part, hem) {
            Ok(fold) => fold,
            Err(problem) => return self.problems.push(problem),
        };
        let round = fold.developed.outside_setback.mm();
        // With flat dims the return is what lies beyond the fold's tangent line.
        let height = hem.return_length.mm() + if self.dims == LegDims::Flat { round } else { 0.0 };
        if height < round + SAME_POINT {
            let unit = self.part.unit;
            let message = format!(
                "a return of {} is used up by the fold, which takes {} in sheet of this thickness",
                unit.show(hem.return_length),
                unit.show(Length::from_mm(round))
            );
            return self.refuse(
                Code::NoRoom,
                &hem.place,
                message,
                "make the return longer: four thicknesses and the inside radius is usual",
            );
        }
        let angle = fold.angle * flange.angle.radians().signum();
        let edge = self.sheets[parent].sides[OUTER].segment;
        let bend = NewBend {
            angle,
            inside_radius: fold.inside_radius,
            developed: fold.developed,
            joggle: None,
            name: "hem",
            place: &hem.place,
        };
        let face = self.add_face(parent, OUTER, flange, (0.0, edge.length()), height, bend);
        self.sheets[face].is_hem = true;
    }

    pub(super) fn setback(&self, bend: usize) -> f64 {
        self.tree.bends[bend].developed.outside_setback.mm()
    }

    /// The bend that ends at the given end of a side: its child there, or on the base side its own.
    /// With it how far from the corner.
    fn bend_at(&self, face: usize, side: usize, at_end: bool) -> Option<(usize, f64)> {
        let sheet = &self.sheets[face];
        let side = &sheet.sides[side];
        if side.is_base {
            return Some((self.tree.faces[face].bend?, 0.0));
        }
        let child = if at_end { side.children.last()? } else { side.children.first()? };
        let gone = if at_end { side.segment.length() - child.2 } else { child.1 };
        Some((self.tree.faces[child.0].bend?, gone))
    }

    /// The bends on both sides of the corner at the start of side `next` of a face, where both
    /// reach it: where their tangent lines cross comes before either of them ends.
    pub(super) fn corner_of(&self, face: usize, next: usize) -> Option<Corner> {
        let sides = &self.sheets[face].sides;
        let before = (next + sides.len() - 1) % sides.len();
        let ((a, a_gone), (b, b_gone)) =
            (self.bend_at(face, before, true)?, self.bend_at(face, next, false)?);
        let (one, two) = (sides[before].segment, sides[next].segment);
        if !one.is_straight() || !two.is_straight() {
            return None;
        }
        let (t1, t2) = (one.tangent_at(0.0), two.tangent_at(0.0));
        let sine = t1.cross(t2);
        if sine < 1e-6 {
            return None;
        }
        let (in1, in2) = (left_of(t1) * self.setback(a), left_of(t2) * self.setback(b));
        // mould corner + in1 + s t1 = mould corner + in2 + r t2.
        let step = in2 - in1;
        let (s, r) = (step.cross(t2) / sine, step.cross(t1) / sine);
        let meet = two.from() + in1 + t1 * s;
        // From the corner back along the first side, and on along the second; what is left before
        // that must have room for a relief.
        let slack = |bend: usize| self.relief_room(self.tree.bends[bend].child);
        (a_gone <= -s + slack(a) && b_gone <= r + slack(b)).then_some(Corner {
            bends: [a, b],
            ways: [t1, t2],
            mould: two.from(),
            meet,
        })
    }

    /// Width of the relief beside an end of a flange's bend, mm.
    pub(super) fn relief_width(&self, face: usize) -> f64 {
        let relief = self.sheets[face].flange.map_or(Relief::Auto, |flange| flange.relief);
        width_of(relief, self.tree.thickness)
    }

    /// What an edge must have left beside a flange's bend for a relief and more than a slit's width
    /// of metal beyond it, mm: less would be a needle.
    pub(super) fn relief_room(&self, face: usize) -> f64 {
        self.relief_width(face) + SLIT
    }

    /// Ends the flanges that meet at corners of a face where their joints ask, and those that stand
    /// on them.
    fn join_corners(&mut self, face: usize) {
        for next in 0..self.sheets[face].sides.len() {
            let Some(corner) = self.corner_of(face, next) else { continue };
            let [a, b] = corner.bends;
            let own = self.tree.faces[face].bend;
            if own == Some(a) || own == Some(b) {
                let child = if own == Some(a) { b } else { a };
                let standing = self.tree.bends[child].child;
                let end = usize::from(own == Some(b));
                let gap = self.sheets[standing].flange.map_or(0.0, |flange| flange.corner_gap.mm());
                let clear = gap + self.radius_beside(face, end);
                let base =
                    self.tree.faces[face].bend.map_or(0, |bend| self.tree.bends[bend].parent);
                if let Some(trim) = short_of(&self.tree, &self.sheets, (standing, end), base, clear)
                {
                    self.end(standing, end, trim);
                }
            } else {
                self.join(self.tree.bends[a].child, self.tree.bends[b].child);
            }
            let relief = [a, b].map(|bend| {
                self.sheets[self.tree.bends[bend].child].flange.map_or(Relief::Auto, |f| f.relief)
            });
            let chosen = if relief[0] == Relief::Auto { relief[1] } else { relief[0] };
            let setbacks = [self.setback(a), self.setback(b)];
            let radius = [a, b]
                .map(|bend| self.tree.bends[bend].inside_radius)
                .into_iter()
                .fold(0.0, f64::max);
            match at_corner(&corner, chosen, setbacks, radius, self.tree.thickness) {
                Ok(relief) => self.tree.reliefs.extend(relief),
                Err(short) => self.relief_too_short(short),
            }
        }
        let children: Vec<usize> = self.sheets[face]
            .sides
            .iter()
            .flat_map(|side| side.children.iter().map(|c| c.0))
            .collect();
        for child in children {
            self.join_corners(child);
        }
    }

    /// Inside radius of the bend that a flange's bend meets at its start or end, on the face that
    /// both are bent up from; 0 for none.
    fn radius_beside(&self, face: usize, end: usize) -> f64 {
        let Some(bend) = self.tree.faces[face].bend else { return 0.0 };
        let parent = self.tree.bends[bend].parent;
        let count = self.sheets[parent].sides.len();
        let corners = (0..count).filter_map(|next| self.corner_of(parent, next));
        let beside =
            corners.filter(|corner| corner.bends[1 - end] == bend).map(|corner| corner.bends[end]);
        beside.map(|bend| self.tree.bends[bend].inside_radius).fold(0.0, f64::max)
    }

    /// Ends a face at its start or end by a corner's line, and by its cut-back where it has one.
    fn end(&mut self, face: usize, end: usize, trim: Trim) {
        let sheet = &self.sheets[face];
        let low = self.tree.faces[face].bend.map_or(0.0, |bend| self.setback(bend));
        let is_cut_back = sheet.flange.is_some_and(|flange| flange.cut_back[end] > Length::ZERO);
        let trim = if is_cut_back {
            sheet.ends[end].innermost(trim, end, (low, sheet.height))
        } else {
            trim
        };
        self.sheets[face].ends[end] = trim;
    }

    /// Ends face `a` at its end and face `b` at its start where they meet, and likewise what stands
    /// on their outer edges.
    fn join(&mut self, a: usize, b: usize) {
        if let Some(Meeting { trims, divide }) = meet_at_corner(&self.tree, &self.sheets, a, b) {
            for ((face, end), trim) in [(a, 1), (b, 0)].into_iter().zip(trims) {
                if let Some(trim) = trim {
                    self.end(face, end, trim);
                    self.sheets[face].divides[end] = divide;
                }
            }
        }
        let outer = |face: usize, at_end: bool| {
            let side = &self.sheets[face].sides[OUTER];
            let (child, gone) = if at_end {
                side.children.last().map(|c| (c.0, side.segment.length() - c.2))?
            } else {
                side.children.first().map(|c| (c.0, c.1))?
            };
            // One that is cut back farther than its own height keeps clear by itself.
            (gone < self.sheets[child].height).then_some(child)
        };
        match (outer(a, true), outer(b, false)) {
            (Some(on_a), Some(on_b)) => self.join(on_a, on_b),
            // What stands on one of them ends at the other.
            (Some(on_a), None) => self.end_at_wall(on_a, 1, b),
            (None, Some(on_b)) => self.end_at_wall(on_b, 0, a),
            (None, None) => {}
        }
    }

    fn relief_too_short(&mut self, (bend, lacks): Short) {
        let place = self.tree.bends[bend].place.clone();
        let lacks = self.part.unit.show(Length::from_mm(lacks));
        let message = format!(
            "the relief does not clear the tangent line of {}: it lacks {lacks}",
            self.tree.bends[bend].name
        );
        self.refuse(
            Code::NoRoom,
            &place,
            message,
            "make it deeper or larger, or leave it to `relief: auto`",
        );
    }

    /// Ends a face that stands on one wall at the inner skin of the neighbouring `wall`, its corner
    /// gap from it, where it reaches that high.
    fn end_at_wall(&mut self, face: usize, end: usize, wall: usize) {
        let gap = self.sheets[face].flange.map_or(0.0, |flange| flange.corner_gap.mm());
        if let Some(trim) = short_of(&self.tree, &self.sheets, (face, end), wall, gap) {
            self.end(face, end, trim);
        }
    }

    /// Outlines of all faces, ends of all bends.
    fn outline_faces(&mut self) {
        for face in 0..self.sheets.len() {
            let stretches = match self.stretches(face) {
                Ok((stretches, reliefs)) => {
                    self.tree.reliefs.extend(reliefs);
                    stretches
                }
                Err(NoEnd::ReliefShort(short)) => {
                    self.relief_too_short(short);
                    continue;
                }
                Err(NoEnd::SlantingTabs(place)) => {
                    let message =
                        "tabs stand on an end of a flange that a corner cuts off at a slant"
                            .to_owned();
                    let help = "put them on the outer edge, or give the flange `joint: square`";
                    self.refuse(Code::NoRoom, &place, message, help);
                    continue;
                }
                Err(NoEnd::InsideCorner(bend)) => {
                    let place = self.tree.bends[bend].place.clone();
                    let message =
                        "this flange runs into an inside corner, where its bend cannot end"
                            .to_owned();
                    let help = "cut it back there by more than a relief is wide, and its neighbour by its height";
                    self.refuse(Code::NoRoom, &place, message, help);
                    continue;
                }
            };
            match joined(&stretches) {
                Some(segments) => {
                    for (stretch, segment) in stretches.iter().zip(&segments) {
                        let Some(bend) = stretch.bend else { continue };
                        let made = &mut self.tree.bends[bend];
                        if made.child == face {
                            // Walked the other way round on its own face.
                            made.child_line = [segment.to(), segment.from()];
                        } else {
                            made.parent_line = [segment.from(), segment.to()];
                        }
                    }
                    let sides =
                        segments.into_iter().map(|segment| Side { segment, edge: None }).collect();
                    let outline = Loop { sides }.to_polyarc(CURVE_TO_ARCS);
                    if outline.area() <= 0.0 || self_crossing(&outline.tidied()).is_some() {
                        self.no_room(face);
                    }
                    self.tree.faces[face].outline = outline;
                }
                None => self.no_room(face),
            }
        }
    }

    /// The ends of every bend between its tangent lines, where a neighbour's bend is to be kept
    /// clear of.
    fn end_bends(&mut self) {
        let mut all = Vec::new();
        let folding = self.tree.folded();
        for (i, bend) in self.tree.bends.iter().enumerate() {
            let sheet = &self.sheets[bend.child];
            for end in 0..2 {
                let Some(divide) = sheet.divides[end] else { continue };
                let inner = |a: f64, b: f64| if end == 0 { a.max(b) } else { a.min(b) };
                let x_of = |p: Point| (p - sheet.frame.origin).dot(sheet.frame.along);
                let (first, last) = (x_of(bend.parent_line[end]), x_of(bend.child_line[end]));
                let is_cut_back =
                    sheet.flange.is_some_and(|flange| flange.cut_back[end] > Length::ZERO);
                let mut points = Vec::new();
                let mut step = None;
                for k in 1..=STEPS_OF_END {
                    let share = f64::from(k) / f64::from(STEPS_OF_END);
                    let depth = bend.allowance() * share;
                    let at = |x: f64| {
                        bend.parent_line[end]
                            + sheet.frame.along * (x - first)
                            + bend.toward * depth
                    };
                    // The first of the two ends at its end, the second at its start; both are
                    // cleared by going into them.
                    let into = if end == 0 { 1.0 } else { -1.0 };
                    let reaches = [0.0, self.tree.thickness].map(|z| {
                        let (from, to) =
                            (folding.in_bend(i, at(0.0), z), folding.in_bend(i, at(into), z));
                        divide.clear_from(from, minus(to, from), end == 0).map(|along| along * into)
                    });
                    let [Some(one), Some(two)] = reaches else { continue };
                    let mut x = inner(one, two);
                    if is_cut_back {
                        x = inner(x, first + (last - first) * share);
                    }
                    if k < STEPS_OF_END {
                        points.push(at(x));
                    } else if (inner(x, last) - last).abs() > SAME_POINT {
                        // The face runs on farther than its bend may.
                        step = Some(at(x));
                    }
                }
                all.push((i, end, points, step));
            }
        }
        for (bend, end, points, step) in all {
            self.tree.bends[bend].ends[end] = points;
            if let Some(step) = step {
                let child = self.tree.bends[bend].child;
                let corner = std::mem::replace(&mut self.tree.bends[bend].child_line[end], step);
                let vertices = &mut self.tree.faces[child].outline.vertices;
                // On its own face the tangent line is walked from its second end to its first.
                if let Some(at) =
                    vertices.iter().position(|v| v.point.distance(corner) < SAME_POINT)
                {
                    vertices.insert(at + end, Vertex { point: step, bulge: 0.0 });
                }
            }
        }
    }

    fn no_room(&mut self, face: usize) {
        let name = self.tree.faces[face].name.clone();
        let place = self.sheets[face]
            .flange
            .map_or_else(|| self.panel_place.clone(), |flange| flange.place.clone());
        let message = format!("the bends around the face `{name}` take more metal than it has");
        self.refuse(
            Code::NoRoom,
            &place,
            message,
            "make it larger, its flanges narrower, or the radii smaller",
        );
    }
}
