//! Half-shells with straight walls, whose blank is exact, and round ones, whose wall has a solution
//! of its own.

use std::f64::consts::{FRAC_PI_2, PI};

use indoc::formatdoc;
use planish::fe::law::SheetLaw;
use planish::fe::ring::{WallSection, ring};
use planish::finding::{Finding, Rule};
use planish::geom::{Point, distance_to, self_crossing};
use planish::make::make_part;
use planish::part::Part;

use crate::support::asserts::{assert_held, assert_near};
use crate::support::dice::Dice;
use crate::support::outlines::{Walk, sharpest};
use crate::support::parts::{made, part, part_and_made, try_make};

/// Sizes of a wall, with what follows from them by hand.
pub(crate) struct Sizes {
    pub(crate) thickness: f64,
    pub(crate) radius: f64,
    pub(crate) depth: f64,
    pub(crate) draft: f64,
    pub(crate) k_factor: f64,
    pub(crate) trim: f64,
}

impl Sizes {
    pub(crate) fn random(dice: &mut Dice) -> Self {
        let (thickness, radius) = (dice.between(0.6, 3.0), dice.between(0.8, 9.0));
        let draft = if dice.between(0.0, 1.0) < 0.4 { 0.0 } else { dice.between(0.0, 30.0) };
        // From walls with next to nothing below the radius to deep ones.
        let least = (radius + thickness)
            * ((90.0_f64 - draft).to_radians() / 2.0).tan()
            * draft.to_radians().cos();
        let depth =
            least + if dice.between(0.0, 1.0) < 0.2 { 0.01 } else { dice.between(0.5, 45.0) };
        Self {
            thickness,
            radius,
            depth,
            draft,
            k_factor: dice.between(0.35, 0.5),
            trim: dice.between(0.0, 8.0).floor(),
        }
    }

    pub(crate) fn angle(&self) -> f64 {
        (90.0 - self.draft).to_radians()
    }

    /// (R + T) tan(N/2).
    pub(crate) fn setback(&self) -> f64 {
        (self.radius + self.thickness) * (self.angle() / 2.0).tan()
    }

    /// From the outline in to the tangent line: D tan d + setback.
    pub(crate) fn inset(&self) -> f64 {
        self.depth * self.draft.to_radians().tan() + self.setback()
    }

    /// N (R + K T).
    pub(crate) fn allowance(&self) -> f64 {
        self.angle() * (self.radius + self.k_factor * self.thickness)
    }

    /// From the tangent line out to the wall's flat end: allowance + D/cos d - setback.
    pub(crate) fn width(&self) -> f64 {
        self.allowance() + self.depth / self.draft.to_radians().cos() - self.setback()
    }

    pub(crate) fn yaml(&self, profile: &str, more: &str, inches: bool) -> String {
        let scale = if inches { 1.0 / 25.4 } else { 1.0 };
        formatdoc!(
            "
            part: shell
            units: {}
            material: 4130-annealed
            thickness: {:.15}
            bend_allowance: {{k_factor: {:.15}}}
            half_shell:
              profile: {profile}
              depth: {:.15}
              edge_radius: {:.15}
              draft: {:.15}
              trim: {:.15}
            {more}",
            if inches { "in" } else { "mm" },
            self.thickness * scale,
            self.k_factor,
            self.depth * scale,
            self.radius * scale,
            self.draft,
            self.trim * scale,
        )
    }
}

/// A box whose corners stay open: four flaps that end square where their bends do, and a weld for
/// each corner, as long as the flap is wide in the flat and as wide at the seam as the ends stand
/// apart.
#[test]
fn boxes_with_open_corners_are_crosses() {
    let mut dice = Dice(12);
    for _ in 0..10 {
        let sizes = Sizes { trim: 0.0, ..Sizes::random(&mut dice) };
        let (a, b) = (
            dice.between(60.0, 400.0) + 2.0 * sizes.inset(),
            dice.between(40.0, 200.0) + 2.0 * sizes.inset(),
        );
        let profile = format!("{{rectangle: {{size: [{a:.9}, {b:.9}]}}}}");
        let yaml = sizes.yaml(&profile, "  join: open\n", false);
        let (part, made) = part_and_made(&yaml);
        let (x, y) = (a - 2.0 * sizes.inset(), b - 2.0 * sizes.inset());
        assert_near("area", made.flat.outside.area(), x * y + 2.0 * sizes.width() * (x + y), 1e-3);
        assert_eq!(made.flat.outside.vertices.len(), 12);
        let result = planish::report::part_result(
            &part,
            (Some(&made.flat), None),
            None,
            &made.findings,
            Vec::new(),
        );
        let welds = result.forming.expect("walls").corner_welds;
        assert_eq!(welds.len(), 4);
        for weld in welds {
            assert_near("length", weld.length_mm, sizes.width(), 1e-4);
            assert_near("gap", weld.gap_mm, 2.0_f64.sqrt() * sizes.inset(), 1e-4);
            assert_near("turn", weld.turn_deg, 90.0, 1e-6);
        }
    }
}

/// A rectangle's sides, each walled or open. Walls that meet at a corner run on there: the first to
/// the corner of the profile, the second to the first one's inside; between them the flat has a
/// slot as wide as the sheet is thick, from where the tangent lines cross.
#[test]
fn box_shells_have_their_exact_blank() {
    let mut dice = Dice(10);
    for round in 0..30 {
        let sizes = Sizes::random(&mut dice);
        let (a, b) = (
            dice.between(60.0, 400.0) + 2.0 * sizes.inset(),
            dice.between(40.0, 200.0) + 2.0 * sizes.inset(),
        );
        let edges = ["bottom", "right", "top", "left"];
        let walled: [bool; 4] = std::array::from_fn(|i| (round >> i) & 1 == 1 || i == round % 4);
        let open: Vec<&str> =
            edges.into_iter().zip(walled).filter(|(_, wall)| !wall).map(|(name, _)| name).collect();
        let inches = round % 2 == 1;
        let scale = if inches { 1.0 / 25.4 } else { 1.0 };
        let profile = format!("{{rectangle: {{size: [{:.13}, {:.13}]}}}}", a * scale, b * scale);
        let yaml = sizes.yaml(&profile, &format!("  open_edges: [{}]\n", open.join(", ")), inches);
        let flat = made(&yaml).flat;
        let is = |i: usize| if walled[i] { 1.0 } else { 0.0 };
        let inner = (a - (is(1) + is(3)) * sizes.inset(), b - (is(0) + is(2)) * sizes.inset());
        for (what, outline, width) in
            [("net", &flat.net, sizes.width()), ("cut", &flat.outside, sizes.width() + sizes.trim)]
        {
            let flaps = width * ((is(0) + is(2)) * inner.0 + (is(1) + is(3)) * inner.1);
            let corners = (0..4).filter(|i| walled[*i] && walled[(*i + 1) % 4]).count();
            let more = outline.area() - inner.0 * inner.1 - flaps;
            let on = sizes.inset() + sizes.trim * sizes.draft.to_radians().sin();
            if corners == 0 {
                assert_near(what, more, 0.0, 1e-6);
                assert!(outline.segments().all(|side| side.is_straight()));
            } else {
                assert!(more > 0.0 && more < corners as f64 * 2.0 * width * on, "{more}");
            }
            let bounds = outline.bounds();
            let reach = width - sizes.inset();
            assert_near(what, bounds.y0, -b / 2.0 - is(0) * reach, 1e-6);
            assert_near(what, bounds.x1, a / 2.0 + is(1) * reach, 1e-6);
            assert_near(what, bounds.y1, b / 2.0 + is(2) * reach, 1e-6);
            assert_near(what, bounds.x0, -a / 2.0 - is(3) * reach, 1e-6);
        }
        let edge = sizes.width() - sizes.inset();
        for i in (0..4).filter(|i| walled[*i] && walled[(*i + 1) % 4]) {
            // In a frame with the first wall along x, its edge to the right.
            let turn = kurbo::Affine::rotate(-std::f64::consts::FRAC_PI_2 * i as f64);
            let corner = if i % 2 == 0 {
                Point::new(a / 2.0, -b / 2.0)
            } else {
                Point::new(b / 2.0, -a / 2.0)
            };
            let net = flat.net.moved(turn);
            // Where the walls are hardly higher than their bends the slot takes more.
            let room = sizes.width() - sizes.thickness / 2.0 - sizes.inset();
            if room > 0.0 {
                let near = |p: Point| {
                    net.vertices.iter().map(|v| v.point.distance(p)).fold(f64::INFINITY, f64::min)
                };
                let first = near(corner - kurbo::Vec2::new(0.0, edge));
                let second = near(corner + kurbo::Vec2::new(edge, sizes.thickness));
                assert!(
                    first < 1e-6 && second < 1e-6,
                    "round {round}, corner {i}: {first} {second}"
                );
            }
            let slot = (1..40).map(|k| {
                let s = sizes.width() * f64::from(k) / 40.0;
                let inner = corner + kurbo::Vec2::new(-sizes.inset(), sizes.inset());
                // On the line between both walls there is no metal.
                distance_to(&net, inner + kurbo::Vec2::new(s, -s))
            });
            let narrowest = slot.fold(f64::INFINITY, f64::min);
            assert!(narrowest > 0.0, "round {round}, corner {i}");
        }
        let zone = |inset: f64| {
            flat.bend_zones.iter().flatten().any(|side| {
                (side.from().y + b / 2.0 - inset).abs() < 1e-6
                    && (side.to().y - side.from().y).abs() < 1e-9
            })
        };
        assert!(
            !walled[0] || zone(sizes.inset()) && zone(sizes.inset() - sizes.allowance()),
            "bend zone lines"
        );
    }
}

/// A wall that ends at an oblique open edge: its outline in the flat, point by point, is where the
/// edge's plane cuts the metal's neutral line. For a wall along x and an edge that leans by `slope`
/// (x over y), the flat distance s from the tangent line lies at the height y = inset - r sin(s/r)
/// in the bend, and x follows y.
#[test]
fn walls_at_oblique_open_edges_are_cut_by_the_edges_plane() {
    let mut dice = Dice(11);
    for _ in 0..20 {
        let sizes = Sizes::random(&mut dice);
        let slope = dice.between(-0.8, 0.8);
        let height = 120.0 + 2.0 * sizes.inset();
        let walk = Walk::polygon(
            &[(0.0, 0.0), (300.0, 0.0), (300.0 + slope * height, height), (0.0, height)],
            0.0,
        );
        let mut walk = walk;
        walk.0[1].3 = Some("e".to_owned());
        walk.0[3].3 = Some("w".to_owned());
        let flat = made(&sizes.yaml(&walk.yaml(1.0), "  open_edges: [e, w]\n", false)).flat;
        let neutral = sizes.radius + sizes.k_factor * sizes.thickness;
        let total = sizes.width() + sizes.trim;
        for i in 0..=40 {
            let s = total * f64::from(i) / 40.0;
            let angle = (s / neutral).min(sizes.angle());
            let y = sizes.inset()
                - neutral * angle.sin()
                - (s - sizes.allowance()).max(0.0) * sizes.angle().cos();
            let wanted = Point::new(300.0 + slope * y, sizes.inset() - s);
            let miss = distance_to(&flat.outside, wanted);
            assert!(miss < 0.01, "{miss} at {s} of {total}, slope {slope}");
        }
    }
}

fn law_of(part: &Part) -> SheetLaw {
    SheetLaw {
        strength_mpa: part.material.strength_coefficient.value.mpa(),
        hardening: part.material.hardening_exponent.value,
        anisotropy: part.material.normal_anisotropy.value,
        elastic_modulus_mpa: part.material.elastic_modulus.value.mpa(),
    }
}

/// A round shell is the ring that `tests/it/fe_ring.rs` holds against closed solutions: its
/// section, taken here from the sizes by hand, gives the blank's radius.
#[test]
fn round_shells_have_the_ring_solution() {
    let mut dice = Dice(12);
    for _ in 0..15 {
        let sizes = Sizes::random(&mut dice);
        let outside = sizes.inset() + sizes.depth + dice.between(20.0, 200.0);
        let yaml =
            sizes.yaml(&format!("{{circle: {{diameter: {:.13}}}}}", 2.0 * outside), "", false);
        let (part, made) = part_and_made(&yaml);
        for (outline, beyond) in [(&made.flat.net, 0.0), (&made.flat.outside, sizes.trim)] {
            let section = WallSection {
                tangent_curvature: 1.0 / (outside - sizes.inset()),
                bend_mid_radius: sizes.radius + sizes.thickness / 2.0,
                bend_angle: sizes.angle(),
                stretch_of_bend: (sizes.radius + sizes.k_factor * sizes.thickness)
                    / (sizes.radius + sizes.thickness / 2.0),
                wall_length: sizes.width() - sizes.allowance() + beyond,
            };
            let radius = outside - sizes.inset()
                + ring(&law_of(&part), &section).expect("a ring").flat_width;
            assert_near("radius", outline.bounds().width() / 2.0, radius, 1e-8);
            assert_near("area", outline.area(), PI * radius * radius, 1e-6 * radius * radius);
        }
    }
}

/// In thin sheet with a sharp edge the blank nears R0 = a (1 + (k+1) h/a)^(1/(k+1)), a and h of the
/// middle surface, k = r/(1+r): derived from the balance of forces with the wall's pull zero all
/// the way up. The bend of the middle surface, T/2 in radius, saves (2 - pi/2) T/2 of length at
/// most, so the blank may be smaller by that and no more.
#[test]
fn sharp_edged_cups_near_the_closed_form() {
    for (diameter, depth) in [(100.0, 20.0), (60.0, 5.0), (300.0, 60.0)] {
        let sizes =
            Sizes { thickness: 0.1, radius: 0.001, depth, draft: 0.0, k_factor: 0.5, trim: 0.0 };
        let yaml = sizes.yaml(&format!("{{circle: {{diameter: {diameter}}}}}"), "", false);
        let (part, made) = part_and_made(&yaml);
        let r = part.material.normal_anisotropy.value;
        let k = r / (1.0 + r);
        let (a, h) = (diameter / 2.0 - 0.05, depth - 0.05);
        let closed = a * (1.0 + (k + 1.0) * h / a).powf(1.0 / (k + 1.0));
        let saved = (2.0 - FRAC_PI_2) * (0.001 + 0.05);
        let less = closed - made.flat.net.bounds().width() / 2.0;
        assert!((-1e-6..=saved + 1e-6).contains(&less), "{less} of {saved}");
        // And the free edge shrinks from R0 to a.
        let strain = made.flat.forming.expect("walls").max_shrink();
        assert_near("shrink", strain, 1.0 - a / closed, 1e-3);
    }
}

/// Rounded outlines in and out of the range that metal follows: a blank is a sound outline whatever
/// comes, or a refusal with a reason.
#[test]
fn blanks_are_sound_outlines() {
    let mut dice = Dice(13);
    let mut done = 0;
    for round in 0..30 {
        let sizes = Sizes::random(&mut dice);
        let walk = super::symmetry::any_outline(&mut dice, round, &sizes);
        let yaml = sizes.yaml(&walk.yaml(1.0), "", false);
        let Ok(made) = try_make(&yaml) else { continue };
        done += 1;
        for (what, outline) in [("cut", &made.flat.outside), ("net", &made.flat.net)] {
            assert!(outline.area() > 0.0, "{what} runs clockwise\n{yaml}");
            assert!(self_crossing(outline).is_none(), "{what} crosses itself\n{yaml}");
            let shortest =
                outline.segments().map(|side| side.length()).fold(f64::INFINITY, f64::min);
            assert!(shortest >= 0.05, "{what} has a piece of {shortest}\n{yaml}");
            assert!(outline.vertices.iter().all(|v| v.bulge.abs() <= 1.0 && v.point.is_finite()));
        }
        assert!(made.flat.outside.area() > made.flat.net.area() - 1e-9);
        assert!(sizes.trim > 0.0 || made.flat.outside == made.flat.net);
    }
    assert_held(25, done, 30);
}

/// Along a smooth outline the blank is smooth too: no corner where an arc's wall joins a straight
/// one.
#[test]
fn blanks_of_smooth_outlines_have_no_kinks() {
    let mut dice = Dice(14);
    let mut held = 0;
    for _ in 0..15 {
        let sizes = Sizes::random(&mut dice);
        let (count, round) = (dice.whole(3, 7), sizes.inset() + dice.between(3.0, 60.0));
        let size = 3.0 * round + sizes.inset() + dice.between(20.0, 200.0);
        let walk = Walk::convex(&mut dice, count, size, round);
        let Ok(made) = try_make(&sizes.yaml(&walk.yaml(1.0), "", false)) else { continue };
        if made.findings.iter().any(|f| f.rule == Rule::WallCurve) {
            continue;
        }
        held += 1;
        for outline in [&made.flat.outside, &made.flat.net] {
            let (angle, at) = sharpest(outline);
            assert!(
                angle < 0.2,
                "{angle} degrees at {at:?}\n{}",
                sizes.yaml(&walk.yaml(1.0), "", false)
            );
        }
    }
    assert_held(14, held, 15);
}

/// The trim adds metal beyond the net line and moves nothing else.
#[test]
fn trim_moves_only_the_outer_cut() {
    let mut dice = Dice(15);
    let mut held = 0;
    for round in 0..20 {
        let mut sizes = Sizes::random(&mut dice);
        let walk = super::symmetry::any_outline(&mut dice, round, &sizes);
        let openings = "  openings: [{circle: {diameter: 4, at: [1, 1]}}]\n";
        sizes.trim = 0.0;
        let Ok(bare) = try_make(&sizes.yaml(&walk.yaml(1.0), openings, false)) else { continue };
        sizes.trim = 5.0;
        let Ok(trimmed) = try_make(&sizes.yaml(&walk.yaml(1.0), openings, false)) else { continue };
        held += 1;
        assert!(
            crate::support::outlines::stray(&bare.flat.net, &trimmed.flat.net) < 0.01,
            "the net line moved"
        );
        assert_eq!(bare.flat.openings, trimmed.flat.openings);
        // Where walls are solved the metal of the bend goes with what stands below it, by a little.
        let chains = |flat: &planish::flat::Flat| -> Vec<Vec<Point>> {
            let fine = |s: &planish::geom::Segment| {
                (0..=64).map(|i| s.point_at(f64::from(i) / 64.0)).collect::<Vec<_>>()
            };
            flat.bend_zones.iter().map(|chain| chain.iter().flat_map(fine).collect()).collect()
        };
        let (own, other) = (chains(&bare.flat), chains(&trimmed.flat));
        assert_eq!(own.len(), other.len());
        for (a, b) in own.iter().flatten().zip(std::iter::repeat(&other)) {
            let off = |p: Point, q: Point| {
                let way = q - p;
                let along = ((*a - p).dot(way) / way.hypot2().max(1e-12)).clamp(0.0, 1.0);
                a.distance(p + way * along)
            };
            let pairs = b.iter().flat_map(|chain| chain.windows(2));
            let apart = pairs.map(|pair| off(pair[0], pair[1])).fold(f64::INFINITY, f64::min);
            assert!(apart < 0.1, "a bend moved by {apart}");
        }
        assert_near(
            "mass",
            bare.flat.net_area(),
            trimmed.flat.net_area(),
            0.01 * bare.flat.net.length(),
        );
        assert!(trimmed.flat.outside.area() > bare.flat.outside.area());
        let clamp = |made: &planish::make::MadePart| {
            made.buck.as_ref().expect("a buck").clamp_plate.clone().expect("room for a plate")
        };
        assert_eq!(clamp(&bare), clamp(&trimmed));
    }
    assert_held(14, held, 20);
}

/// Where an edge strains beyond its limit, the depth or lip that the finding names is made anew: it
/// stays within the limit, by four in a hundred at most.
#[test]
fn the_lower_wall_named_stays_within_the_limit() {
    let pan = |depth: f64| {
        formatdoc!(
            "
            part: pan
            units: mm
            material: 4130-annealed
            thickness: 1.6
            half_shell:
              profile: {{rectangle: {{size: [180, 120], corner_radius: 40}}}}
              depth: {depth}
              edge_radius: 3
            "
        )
    };
    let lip = |height: f64| {
        formatdoc!(
            "
            part: plate
            units: mm
            material: 4130-annealed
            thickness: 1.6
            plate:
              profile: {{rectangle: {{size: [200, 160]}}}}
              openings: [{{slot: {{length: 90, width: 50, at: [0, 0]}}, lip: {{height: {height}, radius: 2}}}}]
            "
        )
    };
    let strain = |finding: &Finding| finding.measured.expect("figures").value;
    for (stretches, high, words) in
        [(false, 30.0, "so does a depth of "), (true, 8.0, "so does a lip of ")]
    {
        let rule = if stretches { Rule::EdgeStretch } else { Rule::EdgeShrink };
        let yaml = |height: f64| if stretches { lip(height) } else { pan(height) };
        let finding = |height: f64| {
            let part = part(&yaml(height));
            make_part(&part)
                .expect("a sound part")
                .with_lower_walls(&part)
                .findings
                .into_iter()
                .find(|finding| finding.rule == rule)
                .expect("a finding")
        };
        let first = finding(high);
        let (_, after) = first.remedy.split_once(words).unwrap_or_else(|| panic!("{first:?}"));
        let named: f64 =
            after.split_whitespace().next().expect("a number").parse().expect("a number");
        let (_, limit) = first.remedy.split_once("stays within ").expect("the limit");
        let limit = limit.trim_start_matches("the limit of ").split_whitespace().next();
        let limit = limit.expect("a number").parse::<f64>().expect("a number") / 100.0;
        assert!(strain(&first) > limit && named < high, "{named}");
        let again = finding(named);
        assert!(strain(&again) <= limit, "{rule:?}: {} at {named}", strain(&again));
        assert!(strain(&again) > 0.96 * limit, "{rule:?}: {} at {named}", strain(&again));
    }
}

/// Rails so narrow that next to nothing is left of their face: walls hang on the face's edge, not
/// on its width, so that each is the wall of a wide rail. Twice the edge radius and the thickness,
/// 12.8, is the least.
#[test]
fn narrow_rails_have_the_walls_of_wide_ones() {
    let rail = |width: f64| {
        formatdoc!(
            "
            part: rail
            units: mm
            material: 4130-annealed
            thickness: 1.6
            half_shell:
              profile: {{centreline: {{through: [[0, 0], [150, 20], [300, 0]], width: {width}}}}}
              depth: 20
              edge_radius: 4.8
              open_edges: [start, end]
            "
        )
    };
    let strains = |width: f64| {
        let made = made(&rail(width));
        assert!(self_crossing(&made.flat.net).is_none(), "{width}");
        let forming = made.flat.forming.expect("walls");
        assert!(forming.solved.len() == 2);
        (forming.max_stretch(), forming.max_shrink())
    };
    let (stretch, shrink) = strains(60.0);
    for width in [14.0, 12.9, 12.801] {
        let (a, b) = strains(width);
        assert!(
            (a / stretch - 1.0).abs() < 0.1 && (b / shrink - 1.0).abs() < 0.1,
            "{width}: {a}, {b} for {stretch}, {shrink}"
        );
    }
    for width in [12.79, 9.0] {
        let Err(why) = try_make(&rail(width)) else { panic!("{width} is too narrow") };
        assert!(why.contains("leave no face between them"), "{why}");
    }
}
