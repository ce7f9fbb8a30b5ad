//! Half-shells whose face is not level: depth stations and crowns, against plane geometry, an
//! axisymmetric solution and each other.

use indoc::formatdoc;
use planish::fe::law::SheetLaw;
use planish::flat::Forming;
use planish::geom::{Point, distance_to};
use planish::shell::EdgeStrain;

use crate::support::asserts::assert_near;
use crate::support::parts::{made, part, try_make};

fn yaml(profile: &str, more: &str) -> String {
    formatdoc!(
        "
        part: shaped
        units: mm
        material: 4130-normalized
        thickness: 1.6
        bend_allowance: {{k_factor: 0.44}}
        half_shell:
          profile: {profile}
          edge_radius: 6
        {more}"
    )
}

fn forming(yaml: &str) -> (planish::make::MadePart, Forming) {
    let made = made(yaml);
    let forming = made.flat.forming.clone().expect("formed");
    (made, forming)
}

/// Flat area of all triangles of walls and face.
fn triangles_area(forming: &Forming) -> f64 {
    let area = |flat: &[Point], [a, b, c]: [usize; 3]| {
        ((flat[b] - flat[a]).cross(flat[c] - flat[a]) / 2.0).abs()
    };
    forming
        .solved
        .iter()
        .flat_map(|walls| walls.triangles.iter().map(|corners| area(&walls.flat, *corners)))
        .sum()
}

/// A channel whose web slopes straight from end to end is a bent sheet: web unrolled, bend
/// allowance, walls as plane trapezoids. The corners of its blank by plane geometry in the wall's
/// own plane.
#[test]
fn a_sloping_channel_unrolls_exactly() {
    let (t, r, k, length) = (1.6, 6.0, 0.44, 200.0);
    let (d0, d1) = (45.0, 28.0);
    let ends = "open_edges: [start, end]\n";
    let profile = "{path: [[0, 0], {to: [200, 0], edge: bottom}, {to: [200, 80], edge: end}, {to: [0, 80], edge: top}, {to: [0, 0], edge: start}]}";
    let stations = format!(
        "  depth: {{stations: [{{at: 0, depth: {d0}}}, {{at: {length}, depth: {d1}}}]}}\n  {ends}"
    );
    let (made, forming) = forming(&yaml(profile, &stations));
    assert!(
        forming.max_stretch() < 1e-5 && forming.max_shrink() < 1e-5,
        "{} {}",
        forming.max_stretch(),
        forming.max_shrink()
    );
    let m: f64 = (d1 - d0) / length;
    let q = 1.0_f64.hypot(m);
    let outside = r + t;
    let allowance = std::f64::consts::FRAC_PI_2 * (r + k * t);
    // The middle of the bend under the face's point at x = 0: of the outside R + T off it along its
    // normal.
    let centre = (outside * m / q, d0 - outside / q);
    for x in [0.0, length] {
        let (dx, dz) = (x - centre.0, -centre.1);
        let (along, down) = ((dx + m * dz) / q, (m * dx - dz) / q);
        for y in [outside - allowance - down, 80.0 - outside + allowance + down] {
            let corner = Point::new(along, y);
            let nearest = made
                .flat
                .net
                .vertices
                .iter()
                .map(|v| v.point.distance(corner))
                .fold(f64::INFINITY, f64::min);
            assert!(nearest < 1e-3, "corner {corner:?} missed by {nearest}");
        }
    }
    // Web at both ends: the slope's own length between planes of the middle surface.
    let web = length * q;
    let places = made
        .flat
        .outside
        .vertices
        .iter()
        .filter(|v| (v.point.y - 40.0).abs() < 32.45)
        .map(|v| v.point.x);
    let (least, most) =
        places.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), x| (a.min(x), b.max(x)));
    assert_near("web", most - least, web, 1e-3);
    assert_near(
        "all metal is mapped",
        triangles_area(&forming),
        made.flat.net.area(),
        0.003 * made.flat.net.area(),
    );
}

/// On a wall that is only unrolled the seam lies inside the cut by the trim, wherever the wall is
/// high or low.
#[test]
fn the_seam_of_a_sloping_channel_is_the_trim_inside_its_cut() {
    let profile = "{path: [[0, 0], {to: [200, 0], edge: bottom}, {to: [200, 80], edge: end}, {to: [0, 80], edge: top}, {to: [0, 0], edge: start}]}";
    let more = "  depth: {stations: [{at: 0, depth: 45}, {at: 200, depth: 25}]}\n  trim: 7\n  open_edges: [start, end]\n";
    let (made, _) = forming(&yaml(profile, more));
    let mut seen = 0;
    for line in made
        .flat
        .scribes
        .iter()
        .filter(|line| line.iter().map(planish::geom::Segment::length).sum::<f64>() > 150.0)
    {
        for i in 0..=20 {
            let place = line.len() as f64 * f64::from(i) / 20.0;
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "a piece of the line"
            )]
            let piece = (place as usize).min(line.len() - 1);
            let p = line[piece].point_at(place - piece as f64);
            // Its ends lie on the blank's ends.
            if (12.0..188.0).contains(&p.x) {
                assert_near(
                    &format!("seam at {p:?}"),
                    distance_to(&made.flat.outside, p),
                    7.0,
                    2e-3,
                );
                seen += 1;
            }
        }
    }
    assert!(seen > 20, "{seen}");
}

/// A slope of next to nothing gives the level shell's blank, which another piece of code lays flat.
#[test]
fn a_slope_of_nothing_is_a_level_shell() {
    let profile = "{rectangle: {size: [200, 120], corner_radius: 40}}";
    let level = made(&yaml(profile, "  depth: 25\n  trim: 5\n"));
    let sloping = made(&yaml(
        profile,
        "  depth: {stations: [{at: -90, depth: 25.001}, {at: 90, depth: 25}]}\n  trim: 5\n",
    ));
    for (a, b) in
        [(&level.flat.net, &sloping.flat.net), (&level.flat.outside, &sloping.flat.outside)]
    {
        let miss = a.flatten(0.05).iter().map(|p| distance_to(b, *p)).fold(0.0, f64::max);
        assert!(miss < 0.02, "blanks {miss} mm apart");
    }
}

/// The mirrored part has the mirrored blank.
#[test]
fn a_mirrored_depth_gives_the_mirrored_blank() {
    let path = |sign: f64| {
        let at = |x: f64, y: f64| format!("[{}, {y}]", sign * x);
        let mut corners = [
            format!("{{to: {}, round: 30}}", at(180.0, 0.0)),
            format!("{{to: {}, round: 45}}", at(150.0, 110.0)),
            format!("{{to: {}, round: 25}}", at(0.0, 90.0)),
        ];
        if sign < 0.0 {
            corners.reverse();
        }
        format!(
            "{{path: [{}, {}, {{to: {}, round: 35}}]}}",
            at(0.0, 0.0),
            corners.join(", "),
            at(0.0, 0.0)
        )
    };
    let stations = |list: &str| format!("  depth: {{stations: [{list}], between: smooth}}\n");
    let own = forming(&yaml(
        &path(1.0),
        &stations("{at: 10, depth: 20}, {at: 80, depth: 26}, {at: 170, depth: 30}"),
    ))
    .1;
    let other = forming(&yaml(
        &path(-1.0),
        &stations("{at: -170, depth: 30}, {at: -80, depth: 26}, {at: -10, depth: 20}"),
    ))
    .1;
    assert_eq!(own.edge.len(), other.edge.len());
    for sample in &own.edge {
        let mirrored = Point::new(-sample.at.x, sample.at.y);
        let miss = other.edge.iter().map(|e| e.at.distance(mirrored)).fold(f64::INFINITY, f64::min);
        assert!(miss < 1e-6, "{miss} at {:?}", sample.at);
    }
}

/// A depth along a run that curves, smooth and straight: balanced, and the outline holds all the
/// metal.
#[test]
fn a_depth_along_a_curved_run_balances() {
    let profile = "{centreline: {through: [[0, 0], [150, 20], [400, 120]], width: 70}}";
    for between in ["straight", "smooth"] {
        let more = format!(
            "  depth: {{stations: [{{at: 0, depth: 36}}, {{at: 200, depth: 30}}, {{at: 410, depth: 26}}], between: {between}}}\n  open_edges: [start, end]\n  trim: 6\n"
        );
        let (made, forming) = forming(&yaml(profile, &more));
        for walls in &forming.solved {
            assert!(walls.quality.edge_force < 0.02, "{}", walls.quality.edge_force);
        }
        assert_near(
            "all metal is mapped",
            triangles_area(&forming),
            made.flat.outside.area(),
            0.003 * made.flat.outside.area(),
        );
        assert!(made.buck.expect("a buck").clamp_plate.is_some());
    }
}

const CROWN: f64 = 9.0;
const DEPTH: f64 = 22.0;
const RADIUS: f64 = 80.0;
const OUTSIDE: f64 = 7.6;

// A crowned round shell: the skin under even pressure is a paraboloid, z = z_F + c (1 - (r/a)²),
// that meets the ball of the edge where their slopes agree: 2 c/a = tan f, a = a0 + (R + T) sin f,
// z_F = depth - (R + T)(1 - cos f), z_F + c = depth + crown.
fn round_crown() -> (f64, f64, f64, f64) {
    let (mut low, mut high) = (0.0_f64, 1.2_f64);
    let parts = |f: f64| {
        let a = RADIUS - OUTSIDE + OUTSIDE * f.sin();
        let z = DEPTH - OUTSIDE * (1.0 - f.cos());
        (a, z, DEPTH + CROWN - z)
    };
    for _ in 0..100 {
        let f = f64::midpoint(low, high);
        let (a, _, c) = parts(f);
        if 2.0 * c / a > f.tan() { low = f } else { high = f }
    }
    let (a, z, c) = parts(low);
    (low, a, z, c)
}

fn dome() -> String {
    yaml(
        &format!("{{circle: {{diameter: {}}}}}", 2.0 * RADIUS),
        &format!("  depth: {DEPTH}\n  crown: {CROWN}\n"),
    )
}

#[test]
fn a_round_crown_is_a_paraboloid_that_touches_the_edge() {
    let (_, forming) = forming(&dome());
    let face = forming.face.as_ref().expect("a face");
    let (_, a, z, c) = round_crown();
    for i in 0..20 {
        let (r, angle) = (a * f64::from(i) / 21.0, 0.7 * f64::from(i));
        let height = face.skin_height(Point::new(r * angle.cos(), r * angle.sin()), 0.0);
        let exact = z + c * (1.0 - (r / a).powi(2));
        assert!((height - exact).abs() < 0.01, "{height} and {exact} at {r}");
    }
}

// Stress along one direction over its thickness change: σ e^(e_t), e_t = -(e_s + e_h), from W(q).
fn tension(law: &SheetLaw, own: f64, other: f64) -> f64 {
    let r = law.anisotropy;
    let front = (1.0 + r).powi(2) / (1.0 + 2.0 * r);
    let q = front * (own * own + other * other + 2.0 * r / (1.0 + r) * own * other);
    let d0 = (law.strength_mpa / law.elastic_modulus_mpa).powf(1.0 / (1.0 - law.hardening));
    let slope = law.strength_mpa / 2.0 * (q + d0 * d0).powf((law.hardening - 1.0) / 2.0);
    slope * front * (2.0 * own + 2.0 * r / (1.0 + r) * other) * (-(own + other)).exp()
}

// The blank of a crowned round shell against the axisymmetric balance of the same metal, integrated
// along the meridian from the middle: d(T_s rho) = T_h d rho, dR/ds = e^(-e_s), the strain at the
// middle found by shooting for an edge free of force.
#[test]
fn a_round_crown_has_the_axisymmetric_blank() {
    let yaml = dome();
    let (made, forming) = forming(&yaml);
    let law = part(&yaml).material.sheet_law();
    let (t, r_in, k) = (1.6, 6.0, 0.44);
    let (f, a, _, c) = round_crown();
    let mid = r_in + t / 2.0;
    let stretch = (r_in + k * t) / mid;
    // The meridian of the middle surface as (radius, length to the next point).
    let steps = 2000;
    let mut line: Vec<(f64, f64, f64)> = Vec::new();
    for i in 0..=steps {
        let r = a * f64::from(i) / f64::from(steps);
        let slope = (2.0 * c * r / (a * a)).atan();
        line.push((r - t / 2.0 * slope.sin(), -c * (r / a).powi(2) - t / 2.0 * slope.cos(), 1.0));
    }
    let (centre, level) = (RADIUS - OUTSIDE, -c - OUTSIDE * f.cos());
    for i in 1..=steps {
        let angle = f + (std::f64::consts::FRAC_PI_2 - f) * f64::from(i) / f64::from(steps);
        line.push((centre + mid * angle.sin(), level + mid * angle.cos(), stretch));
    }
    let wall = DEPTH - OUTSIDE;
    for i in 1..=steps {
        line.push((centre + mid, level - wall * f64::from(i) / f64::from(steps), 1.0));
    }
    let shoot = |middle: f64| -> (f64, f64) {
        let (rho, _, _) = line[1];
        let mut flat = rho * (-middle).exp();
        let mut force = tension(&law, middle, middle) * rho;
        let mut along = middle;
        for pair in line[1..].windows(2) {
            let ((r0, z0, _), (r1, z1, factor)) = (pair[0], pair[1]);
            let length = factor * (r1 - r0).hypot(z1 - z0);
            // The middle of the step, found in a few rounds.
            let (mut next_flat, mut next_force, mut next_along) = (flat, force, along);
            for _ in 0..6 {
                let (rho, flat_middle) = (f64::midpoint(r0, r1), f64::midpoint(flat, next_flat));
                let hoop = (rho / flat_middle).ln();
                let wanted = f64::midpoint(force, next_force) / rho;
                let (mut low, mut high) = (-1.0, 1.0);
                for _ in 0..60 {
                    let e = f64::midpoint(low, high);
                    if tension(&law, e, hoop) < wanted { low = e } else { high = e }
                }
                next_along = low;
                next_flat = flat + length * (-next_along).exp();
                next_force = force + tension(&law, hoop, next_along) * (r1 - r0);
            }
            (flat, force, along) = (next_flat, next_force, next_along);
        }
        let _ = along;
        (flat, force)
    };
    let (mut low, mut high) = (-0.1, 0.1);
    assert!(shoot(low).1 < 0.0 && shoot(high).1 > 0.0, "{:?} {:?}", shoot(low), shoot(high));
    for _ in 0..40 {
        let middle = f64::midpoint(low, high);
        if shoot(middle).1 < 0.0 { low = middle } else { high = middle }
    }
    let exact = shoot(f64::midpoint(low, high)).0;
    for EdgeStrain { at, .. } in &forming.edge {
        let radius = at.to_vec2().hypot();
        assert!((radius - exact).abs() < 5e-4 * exact, "{radius} and {exact}");
    }
    assert_near(
        "all metal is mapped",
        triangles_area(&forming),
        made.flat.net.area(),
        0.002 * made.flat.net.area(),
    );
}

/// The hollow of two crowned round halves: under the paraboloid, the ball's ring and the wall.
#[test]
fn a_crowned_pair_holds_what_stands_under_its_skin() {
    let pair = dome() + "  pair: mirror\n  openings: [{circle: {diameter: 3, at: [0, 0]}}]\n";
    let hollow = made(&pair).hollow.expect("a pair");
    let (f, a, z, c) = round_crown();
    let steps = 20_000;
    // Of the outside, by rings.
    let ring = |r0: f64, r1: f64, height: f64| std::f64::consts::PI * (r1 * r1 - r0 * r0) * height;
    let mut volume = 0.0;
    for i in 0..steps {
        let (r0, r1) =
            (a * f64::from(i) / f64::from(steps), a * f64::from(i + 1) / f64::from(steps));
        volume += ring(r0, r1, z + c * (1.0 - (f64::midpoint(r0, r1) / a).powi(2)));
        let angle =
            |i: i32| f + (std::f64::consts::FRAC_PI_2 - f) * f64::from(i) / f64::from(steps);
        let (p, q) = (angle(i), angle(i + 1));
        let centre = RADIUS - OUTSIDE;
        let height = DEPTH - OUTSIDE + OUTSIDE * f64::midpoint(p, q).cos();
        volume += ring(centre + OUTSIDE * p.sin(), centre + OUTSIDE * q.sin(), height);
    }
    assert_near("outside", hollow.outside_volume.expect("known"), 2.0 * volume, 0.003 * volume);
    // The section through the middle: an arc of the paraboloid, the ball's two and two straight
    // walls, mirrored in the seam plane.
    let section = hollow
        .sections
        .iter()
        .find(|section| section.at.abs() < 1e-6)
        .expect("a section through the middle");
    let slope = |y: f64| (2.0 * c * y / (a * a)).hypot(1.0);
    let arc: f64 = (0..steps)
        .map(|i| {
            slope(-a + 2.0 * a * (f64::from(i) + 0.5) / f64::from(steps)) * 2.0 * a
                / f64::from(steps)
        })
        .sum();
    let turn = std::f64::consts::FRAC_PI_2 - f;
    let outer = arc + 2.0 * (OUTSIDE * turn + DEPTH - OUTSIDE);
    let t = 1.6;
    let metal = 2.0 * (t * outer - std::f64::consts::FRAC_PI_2 * t * t);
    // Less the vent, 3 wide in both faces.
    assert_near("metal", section.area, metal - 2.0 * 3.0 * t, 0.003 * metal);
    let centre = RADIUS - OUTSIDE;
    let half = 2.0 * a * z
        + 4.0 * a * c / 3.0
        + 2.0
            * (OUTSIDE * (1.0 - f.sin()) * (DEPTH - OUTSIDE)
                + OUTSIDE * OUTSIDE / 2.0 * (turn - f.sin() * f.cos()));
    assert_near("a", a, centre + OUTSIDE * f.sin(), 1e-9);
    let enclosed = 2.0 * half - metal / 2.0 - std::f64::consts::PI * t * t / 4.0;
    assert_near("enclosed", section.enclosed, enclosed, 0.003 * enclosed);
    let middle = metal / t;
    assert_near(
        "torsion",
        section.torsion,
        4.0 * enclosed * enclosed * t / middle,
        0.01 * section.torsion,
    );
}

/// Sections of faces that slope or bulge by next to nothing are those of the level shell, which
/// another piece of code finds; the metal of a sloping channel adds up to its volume along the run.
#[test]
fn sections_of_faces_that_are_not_level() {
    let profile = "{rectangle: {size: [240, 90], corner_radius: 30}}";
    let pair = |depth: &str| {
        made(&yaml(
            profile,
            &formatdoc!(
                "
                {depth}  pair: mirror
                  draft: 4
                  openings: [{{circle: {{diameter: 20, at: [10, 5]}}}}]
                "
            ),
        ))
    };
    let level = pair("  depth: 30\n").hollow.expect("a pair");
    for depth in [
        "  depth: 30\n  crown: 0.001\n",
        "  depth: {stations: [{at: -120, depth: 30}, {at: 120, depth: 30.001}]}\n",
    ] {
        let shaped = pair(depth).hollow.expect("a pair");
        assert_eq!(shaped.sections.len(), level.sections.len(), "{depth}");
        assert!(level.sections.len() > 3);
        for (a, b) in shaped.sections.iter().zip(&level.sections) {
            assert_eq!((&a.station, a.through_opening), (&b.station, b.through_opening));
            let numbers = [
                (a.area, b.area),
                (a.enclosed, b.enclosed),
                (a.iyy, b.iyy),
                (a.izz, b.izz),
                (a.torsion, b.torsion),
            ];
            for (i, (found, wanted)) in numbers.into_iter().enumerate() {
                assert_near(&format!("{i} at {}{depth}", a.station), found, wanted, 0.005 * wanted);
            }
        }
    }
    let profile = "{path: [[0, 0], {to: [200, 0], edge: bottom}, {to: [200, 80], edge: end}, {to: [0, 80], edge: top}, {to: [0, 0], edge: start}]}";
    let sloping = yaml(
        profile,
        "  depth: {stations: [{at: 0, depth: 45}, {at: 200, depth: 28}]}\n  open_edges: [start, end]\n  pair: mirror\nbuck: {stations: 50}\n",
    );
    let hollow = made(&sloping).hollow.expect("a pair");
    let areas: Vec<f64> = [0.0, 50.0, 100.0, 150.0, 200.0]
        .map(|at: f64| {
            hollow
                .sections
                .iter()
                .find(|section| (section.at - at).abs() < 1e-6)
                .expect("a section")
                .area
        })
        .to_vec();
    // The depth changes in a straight line, and so does the area.
    let volume = 200.0 * (areas[0] + 4.0 * areas[2] + areas[4]) / 6.0;
    assert_near(
        "metal",
        volume,
        hollow.outside_volume.expect("known") - hollow.volume.expect("known"),
        2e-3 * volume,
    );
    assert_near("half-way", areas[1] + areas[3], 2.0 * areas[2], 1e-6 * areas[2]);
}

/// Random slopes and crowns on rounded rectangles: laid flat with all their metal, or refused with
/// a reason.
#[test]
fn random_shaped_shells_are_laid_flat_or_refused() {
    let mut dice = crate::support::dice::Dice(77);
    let mut refused = 0;
    for _ in 0..6 {
        let (w, h) = (dice.between(120.0, 260.0), dice.between(80.0, 140.0));
        let corner = dice.between(30.0, 39.0);
        let (d0, d1) = (dice.between(13.0, 22.0), dice.between(13.0, 22.0));
        let crown = if dice.whole(0, 1) == 0 { 0.0 } else { dice.between(1.0, 12.0) };
        let between = if dice.whole(0, 1) == 0 { "smooth" } else { "straight" };
        let more = format!(
            "  depth: {{stations: [{{at: {}, depth: {d0}}}, {{at: 3, depth: {}}}, {{at: {}, depth: {d1}}}], between: {between}}}\n  crown: {crown}\n  trim: 4\n",
            -w / 2.0,
            f64::midpoint(d0, d1) + dice.between(-2.0, 2.0),
            w / 2.0
        );
        let yaml =
            yaml(&format!("{{rectangle: {{size: [{w}, {h}], corner_radius: {corner}}}}}"), &more);
        match try_make(&yaml) {
            Ok(made) => {
                let forming = made.flat.forming.as_ref().expect("formed");
                assert_near(
                    "metal",
                    triangles_area(forming),
                    made.flat.outside.area(),
                    0.003 * made.flat.outside.area(),
                );
                assert!(
                    forming.solved.iter().all(|walls| walls.quality.edge_force < 0.03),
                    "{yaml}"
                );
            }
            Err(_) => refused += 1,
        }
    }
    assert!(refused <= 1, "{refused} of 6 refused");
}

/// Templates across a crowned block: at each station as high as the block's face there, its edge
/// left sharp; highest over the middle.
#[test]
fn crowned_bucks_have_a_template_across_each_station() {
    let profile = "{rectangle: {size: [180, 120], corner_radius: 40}}";
    let (made, forming) = forming(&yaml(profile, "  depth: 30\n  crown: 9\n"));
    let buck = made.buck.expect("a buck");
    assert!(buck.across.len() == buck.stations.len() && buck.across.len() >= 3);
    let face = forming.face.expect("a face");
    for ((name, template), station) in buck.across.iter().zip(&buck.stations) {
        assert_eq!(*name, station.name);
        let bounds = template.bounds();
        // The block is 30 + 9 - 1.6 + 10 high where the crown is, and its foot is level.
        let foot = 30.0 + 9.0 - 1.6 - buck.height;
        for y in [-30.0, -12.0, 0.0, 25.0] {
            let wanted = face.skin_height(station.origin + station.across * y, 1.6) - foot;
            let top = planish::geom::Loop::of(template, None)
                .heights_at(y)
                .into_iter()
                .fold(0.0, f64::max);
            assert_near(&format!("{name} at {y}"), top, wanted, 0.02);
        }
        assert!(bounds.y0.abs() < 1e-9 && bounds.height() < buck.height + 0.02, "{bounds:?}");
    }
}
