//! The cuts of random sheets, measured anew with the geometry library `geo`: the torch keeps half a
//! kerf off the metal, lead-ins touch no part, the order keeps what lies inside before what lies
//! around it, and what is left of a sheet is clear of every cut.

use crate::support::dice::Stream;
use geo::{
    Area, BooleanOps, Contains, Coord, Distance, Euclidean, LineString, Point as Spot, Polygon,
};
use planish::cutting::{BlankEdges, Cut, CutPlan, Edge, LeadRoom, OnSheet, Torch, left_over, plan};
use planish::geom::{Affine, Point, Polyarc, Rect, Segment, Vertex};
use std::f64::consts::{FRAC_PI_2, TAU};

/// What the file format allows a cut line, mm.
const OFF: f64 = 0.01;

/// How finely arcs are cut for the measuring, mm.
const FINE: f64 = 2e-3;

/// A blank at its place: the edges in its own coordinates, and the motion.
struct Laid {
    edges: BlankEdges,
    motion: Affine,
}

struct Sheet {
    laid: Vec<Laid>,
    stock: Vec<Polyarc>,
    torch: Torch,
    apart: f64,
}

fn edge(outline: Polyarc) -> Edge {
    Edge { outline: outline.counter_clockwise(), stretched: Vec::new() }
}

/// A polygon with every corner rounded by arcs, or a star, or a slot, all about the origin and
/// within `reach` of it.
fn outline(s: &mut Stream, reach: f64) -> Polyarc {
    match s.below(5) {
        0 => Polyarc::circle(Point::ORIGIN, reach * s.within(0.4, 1.0)),
        1 => {
            let (x, y) = (reach * s.within(0.3, 0.7), reach * s.within(0.3, 0.7));
            let r = s.within(0.05, 0.45) * x.min(y);
            let bulge = std::f64::consts::FRAC_PI_8.tan();
            let mut vertices = Vec::new();
            for (a, b) in [
                ((x - r, -y), (x, -y + r)),
                ((x, y - r), (x - r, y)),
                ((-x + r, y), (-x, y - r)),
                ((-x, -y + r), (-x + r, -y)),
            ] {
                vertices.extend([
                    Vertex { point: a.into(), bulge },
                    Vertex { point: b.into(), bulge: 0.0 },
                ]);
            }
            Polyarc { vertices }
        }
        2 => {
            // A slot: two half circles.
            let (half, r) = (reach * s.within(0.3, 0.6), reach * s.within(0.05, 0.3));
            let at = |x: f64, y: f64, bulge: f64| Vertex { point: Point::new(x, y), bulge };
            Polyarc {
                vertices: vec![
                    at(-half, -r, 0.0),
                    at(half, -r, 1.0),
                    at(half, r, 0.0),
                    at(-half, r, 1.0),
                ],
            }
        }
        _ => {
            let n = 3 + s.below(9);
            let vertices = (0..n).map(|i| {
                let a = TAU * (i as f64 + s.within(-0.3, 0.3)) / n as f64;
                let r = reach * s.within(0.45, 1.0);
                let bulge = if s.below(3) == 0 { s.within(-0.08, 0.15) } else { 0.0 };
                Vertex { point: Point::new(r * a.cos(), r * a.sin()), bulge }
            });
            Polyarc { vertices: vertices.collect() }
        }
    }
}

/// The largest circle about the origin inside an outline that holds it, roughly.
fn inner(outline: &Polyarc) -> f64 {
    let mut points = outline.flatten(0.02);
    points.push(points[0]);
    points
        .windows(2)
        .map(|ends| distance(Point::ORIGIN, (ends[0], ends[1])))
        .fold(f64::INFINITY, f64::min)
}

fn distance(p: Point, (a, b): (Point, Point)) -> f64 {
    let along = b - a;
    let u = ((p - a).dot(along) / along.hypot2().max(1e-12)).clamp(0.0, 1.0);
    p.distance(a.lerp(b, u))
}

/// A random sheet: blanks in the cells of a grid, some with openings, some with a smaller blank in
/// a large opening.
fn sheet(s: &mut Stream) -> Sheet {
    let torch = Torch { kerf: s.within(0.8, 3.0), thickness: s.within(0.8, 10.0) };
    let apart = torch.kerf + s.within(0.5, 8.0);
    let (columns, rows) = (1 + s.below(4), 1 + s.below(3));
    let reach = s.within(12.0, 70.0);
    let pitch = 2.0 * reach + apart;
    let mut laid = Vec::new();
    for column in 0..columns {
        for row in 0..rows {
            let middle =
                Point::new(8.0 + reach + pitch * column as f64, 8.0 + reach + pitch * row as f64);
            let motion = Affine::translate(middle.to_vec2()) * Affine::rotate(s.within(0.0, TAU));
            let outside = outline(s, reach);
            let room = inner(&outside) - apart;
            let mut edges = vec![edge(outside)];
            if room > 3.0 && s.below(3) > 0 {
                let reach = room * s.within(0.3, 1.0);
                let hole = outline(s, reach);
                let space = inner(&hole) - apart;
                if space > 6.0 && s.below(2) == 0 {
                    let small = outline(s, space);
                    laid.push(Laid { edges: vec![edge(small)], motion });
                }
                edges.push(edge(hole));
            }
            laid.push(Laid { edges, motion });
        }
    }
    let size = |count: usize| 16.0 + pitch * count as f64 + 60.0;
    let stock = vec![Polyarc::rectangle(Rect::new(0.0, 0.0, size(columns), size(rows)))];
    Sheet { laid, stock, torch, apart }
}

fn planned(sheet: &Sheet) -> CutPlan {
    let on: Vec<OnSheet> =
        sheet.laid.iter().map(|laid| OnSheet { edges: &laid.edges, motion: laid.motion }).collect();
    plan(&on, &sheet.stock, sheet.torch)
}

fn line(points: &[Point]) -> LineString {
    points.iter().map(|p| Coord { x: p.x, y: p.y }).collect()
}

fn metal(laid: &Laid) -> Polygon {
    let moved = |edge: &Edge| line(&edge.outline.moved(laid.motion).flatten(FINE));
    Polygon::new(moved(&laid.edges[0]), laid.edges[1..].iter().map(moved).collect())
}

fn along(segments: impl Iterator<Item = Segment>, step: f64) -> Vec<Point> {
    let mut points = Vec::new();
    for segment in segments {
        let n = (segment.length() / step).ceil().max(2.0);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        points.extend((0..=n as usize).map(|i| segment.point_at(i as f64 / n)));
    }
    points
}

fn spot(p: Point) -> Spot {
    Spot::new(p.x, p.y)
}

/// Every line the torch follows is half a kerf off its own metal and no nearer to any other; every
/// lead-in keeps as much off all of it.
fn torch_keeps_off(sheet: &Sheet, plan: &CutPlan) {
    let half = sheet.torch.kerf / 2.0;
    let metals: Vec<Polygon> = sheet.laid.iter().map(metal).collect();
    let boxes: Vec<Rect> =
        sheet.laid.iter().map(|laid| laid.edges[0].outline.moved(laid.motion).bounds()).collect();
    for cut in plan.cuts.iter().filter(|cut| !cut.too_narrow) {
        for p in along(cut.path.segments(), 4.0) {
            let near = |i: &usize| boxes[*i].inflate(half, half).contains(p);
            for (i, metal) in metals.iter().enumerate().filter(|(i, _)| near(i)) {
                let off = Euclidean.distance(&spot(p), metal);
                if i == cut.blank {
                    assert!(
                        (off - half).abs() <= OFF,
                        "{off} off its own metal instead of {half} at {p}"
                    );
                } else {
                    assert!(off >= half - OFF, "{off} off another part at {p}");
                }
            }
        }
        let clockwise = cut.path.area() < 0.0;
        assert_eq!(
            clockwise,
            !cut.is_opening() && cut.own_edge.is_some(),
            "walked with the metal on the left"
        );
        if cut.lead.is_empty() {
            assert_eq!(cut.room, LeadRoom::None);
            continue;
        }
        let lead = line(&along(cut.lead.iter().copied(), 0.05));
        for metal in &metals {
            let off = Euclidean.distance(&lead, metal);
            assert!(off >= half - OFF, "a lead-in {off} from metal, kerf {}", sheet.torch.kerf);
            // The crater of the pierce marks nothing.
            let crater = Euclidean.distance(&spot(cut.pierce()), metal);
            assert!(crater >= sheet.torch.kerf - OFF, "a pierce {crater} from metal");
        }
        let end = cut.lead[cut.lead.len() - 1].to();
        assert!(end.distance(cut.start()) < 1e-9, "the lead-in ends elsewhere");
        let stock = sheet.stock[0].bounds();
        assert!(stock.contains(cut.pierce()), "a pierce off the sheet");
        for segment in cut.path.segments() {
            assert!(segment.length() > 0.049, "a crumb of {} mm", segment.length());
        }
    }
}

/// Which cuts must come before a cut, found from the metal alone.
fn must_come_first(sheet: &Sheet, cuts: &[Cut]) -> Vec<Vec<usize>> {
    let moved = |blank: usize, edge: usize| {
        sheet.laid[blank].edges[edge].outline.moved(sheet.laid[blank].motion)
    };
    let inside = |outer: &Polyarc, inner: &Polyarc| {
        let hole = Polygon::new(line(&outer.flatten(FINE)), vec![]);
        hole.contains(&spot(inner.vertices[0].point))
    };
    cuts.iter()
        .map(|cut| {
            (0..cuts.len())
                .filter(|&j| {
                    let other = &cuts[j];
                    if cut.is_opening() {
                        other.blank != cut.blank
                            && inside(&moved(cut.blank, cut.edge), &moved(other.blank, 0))
                    } else {
                        cut.path.area() < 0.0
                            && other.blank == cut.blank
                            && (other.edge > 0 || other.path.area() > 0.0)
                    }
                })
                .collect()
        })
        .collect()
}

/// The order keeps what lies inside first, and never begins beside the last line where it could
/// begin elsewhere.
fn order_is_kept(sheet: &Sheet, plan: &CutPlan) {
    let first = must_come_first(sheet, &plan.cuts);
    let heat = sheet.torch.heat_distance();
    let off = |last: usize, next: usize| {
        let mut points = plan.cuts[last].path.flatten(0.05);
        points.push(points[0]);
        Euclidean.distance(&line(&points), &spot(plan.cuts[next].pierce()))
    };
    // The program knows the last line by chords up to a millimetre off it.
    let beside = |last: usize, next: usize| off(last, next) < heat - 1.5;
    let clearly = |last: usize, next: usize| off(last, next) > heat + 1.5;
    for i in 0..plan.cuts.len() {
        assert!(first[i].iter().all(|&j| j < i), "cut {i} comes before something inside it");
        if i > 0 && beside(i - 1, i) {
            let other = (i + 1..plan.cuts.len())
                .find(|&j| first[j].iter().all(|&k| k < i) && clearly(i - 1, j));
            assert_eq!(other, None, "cut {i} begins beside the last line though another was free");
        }
    }
}

/// What is left lies on the sheet, clear of every part by the kerf and the spacing, and so does the
/// largest rectangle.
fn rest_is_clear(sheet: &Sheet) {
    let outsides: Vec<Polyarc> =
        sheet.laid.iter().map(|laid| laid.edges[0].outline.moved(laid.motion)).collect();
    let left = left_over(&outsides, &sheet.stock, sheet.apart, 40.0);
    let ground = Polygon::new(line(&sheet.stock[0].flatten(FINE)), vec![]);
    let ring = |points: &[Point]| line(points);
    for remnant in &left.remnants {
        let piece = Polygon::new(
            ring(&remnant.outline),
            remnant.openings.iter().map(|opening| ring(opening)).collect(),
        );
        assert!((piece.unsigned_area() - remnant.area).abs() < 0.01 * remnant.area + 1.0);
        assert!(piece.difference(&ground).unsigned_area() < 1e-3, "a remnant off the sheet");
        for outside in &outsides {
            let part = Polygon::new(line(&outside.flatten(FINE)), vec![]);
            let off = Euclidean.distance(&piece, &part);
            assert!(
                off >= sheet.apart - OFF,
                "a remnant {off} from a part instead of {}",
                sheet.apart
            );
        }
    }
    let rect = left.rectangle.expect("a strip is always left");
    let free = Polygon::new(line(&Polyarc::rectangle(rect).flatten(FINE)), vec![]);
    for outside in &outsides {
        let off = Euclidean.distance(&free, &Polygon::new(line(&outside.flatten(FINE)), vec![]));
        assert!(off >= sheet.apart - OFF, "the rectangle is {off} from a part");
    }
    // The strip above all parts, right of them, is a rectangle that a person would see.
    let parts = outsides.iter().map(Polyarc::bounds).reduce(|a, b| a.union(b)).expect("parts");
    let (wide, high) = (sheet.stock[0].bounds().width(), sheet.stock[0].bounds().height());
    let seen = ((wide - parts.x1 - sheet.apart - 0.3) * high)
        .max((high - parts.y1 - sheet.apart - 0.3) * wide);
    assert!(rect.area() >= 0.97 * seen, "{} mm2 where {seen} can be seen", rect.area());
}

#[test]
fn random_sheets_are_cut_soundly() {
    let mut s = Stream::new(7);
    let (mut leads, mut all, mut nested) = (0, 0, 0);
    for _ in 0..300 {
        let sheet = sheet(&mut s);
        let plan = planned(&sheet);
        torch_keeps_off(&sheet, &plan);
        order_is_kept(&sheet, &plan);
        rest_is_clear(&sheet);
        // Each edge is cut once.
        let edges: usize = sheet.laid.iter().map(|laid| laid.edges.len()).sum();
        assert_eq!(plan.cuts.iter().filter(|cut| cut.own_edge.is_some()).count(), edges);
        all += plan.cuts.iter().filter(|cut| !cut.too_narrow).count();
        leads += plan.cuts.iter().filter(|cut| !cut.lead.is_empty()).count();
        nested +=
            must_come_first(&sheet, &plan.cuts).iter().filter(|first| !first.is_empty()).count();
    }
    // Most have room for a lead-in, and many lie in one another, or the test tells nothing.
    assert!(
        leads * 10 > all * 9 && nested > 300,
        "{leads} lead-ins of {all} cuts, {nested} nested"
    );
}

#[test]
fn parts_a_kerf_and_a_spacing_apart_still_find_lead_ins() {
    // Rows of equal plates as a nest lays them: 4 mm and the kerf between them.
    let torch = Torch { kerf: 1.4, thickness: 1.6 };
    let plate: BlankEdges = vec![
        edge(Polyarc::rectangle(Rect::new(0.0, 0.0, 50.0, 30.0))),
        edge(Polyarc::circle(Point::new(25.0, 15.0), 4.25)),
    ];
    let laid = (0..12)
        .map(|i| Laid {
            edges: plate.clone(),
            motion: Affine::translate((
                8.0 + 55.4 * f64::from(i % 4),
                8.0 + 35.4 * f64::from(i / 4),
            )),
        })
        .collect();
    let sheet = Sheet {
        laid,
        stock: vec![Polyarc::rectangle(Rect::new(0.0, 0.0, 240.0, 125.0))],
        torch,
        apart: 5.4,
    };
    let plan = planned(&sheet);
    torch_keeps_off(&sheet, &plan);
    order_is_kept(&sheet, &plan);
    assert_eq!(plan.cuts.iter().filter(|cut| cut.lead.is_empty()).count(), 0);
    assert!(plan.travel < 24.0 * 250.0, "{} mm between cuts", plan.travel);
}

#[test]
fn at_the_very_edge_of_a_sheet_the_torch_still_comes_down_on_it() {
    let torch = Torch { kerf: 2.0, thickness: 2.0 };
    let plate: BlankEdges = vec![edge(Polyarc::rectangle(Rect::new(0.0, 0.0, 60.0, 40.0)))];
    let at = |x: f64, y: f64| Laid { edges: plate.clone(), motion: Affine::translate((x, y)) };
    // In the four corners, nothing between part and edge.
    let laid = vec![at(0.0, 0.0), at(140.0, 0.0), at(0.0, 110.0), at(140.0, 110.0)];
    let sheet = Sheet {
        laid,
        stock: vec![Polyarc::rectangle(Rect::new(0.0, 0.0, 200.0, 150.0))],
        torch,
        apart: 5.0,
    };
    let plan = planned(&sheet);
    torch_keeps_off(&sheet, &plan);
    assert!(plan.cuts.iter().all(|cut| !cut.lead.is_empty()));
    // On a sheet that the part fills there is no place for it.
    let sheet = Sheet {
        laid: vec![at(0.0, 0.0)],
        stock: vec![Polyarc::rectangle(Rect::new(0.0, 0.0, 60.0, 40.0))],
        torch,
        apart: 5.0,
    };
    assert_eq!(planned(&sheet).cuts[0].room, LeadRoom::None);
}

#[test]
fn no_cut_begins_where_the_metal_is_stretched_if_another_place_is_free() {
    let torch = Torch { kerf: 1.4, thickness: 1.6 };
    let outline = Polyarc::rectangle(Rect::new(0.0, 0.0, 200.0, 100.0));
    // All but the left side grows.
    let places = along(outline.segments().take(3), 4.0);
    let stretched =
        places.into_iter().map(|at| planish::cutting::EdgePlace { at, stretch: 0.08 }).collect();
    let edges = vec![Edge { outline, stretched }];
    for quarter in 0..4 {
        let motion =
            Affine::translate((300.0, 300.0)) * Affine::rotate(f64::from(quarter) * FRAC_PI_2);
        let sheet = Sheet {
            laid: vec![Laid { edges: edges.clone(), motion }],
            stock: vec![Polyarc::rectangle(Rect::new(0.0, 0.0, 600.0, 600.0))],
            torch,
            apart: 5.4,
        };
        let plan = planned(&sheet);
        let start = motion.inverse() * plan.cuts[0].start();
        assert!(
            plan.cuts[0].stretch_at_start == 0.0 && start.x < 0.0 && (8.0..92.0).contains(&start.y),
            "{start}"
        );
    }
}
