//! Triangles of a plane face within its outlines, every outline point kept and no outline edge
//! split, so that walls can be joined to it node by node. Millimetres.

use spade::handles::FixedVertexHandle;
use spade::{
    AngleLimit, ConstrainedDelaunayTriangulation, HasPosition, Point2, RefinementParameters,
    Triangulation,
};

/// Least angle aimed at, degrees; beyond 30 the refinement need not end.
const LEAST_ANGLE: f64 = 25.0;
/// New points allowed for each outline point and each triangle of the wanted size: ends the work on
/// outlines that can't be refined to the least angle.
const POINTS_PER_TRIANGLE: f64 = 4.0;
/// Most points a face may have.
const MOST_POINTS: usize = 500_000;

/// Triangles of a face.
#[derive(Debug, Clone, PartialEq)]
pub struct FaceMesh {
    /// Nodes: the outlines' points in the order given, then those added inside.
    pub points: Vec<[f64; 2]>,
    /// Corners of the triangles, turning left.
    pub triangles: Vec<[usize; 3]>,
}

/// Why a face can't be meshed; points are counted from 0 through all outlines.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FaceFault {
    /// An outline has fewer than three points, or the size is not a positive number.
    Input,
    /// This point is no number, out of range, or lies on another one.
    Point(usize),
    /// The outline edge that starts at this point crosses or touches another.
    Crossing(usize),
    /// The outlines hold no area, or the wanted size asks for too many triangles.
    Area,
}

impl std::fmt::Display for FaceFault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Input => f.write_str(
                "an outline has fewer than three points, or the size is not a positive number",
            ),
            Self::Point(index) => {
                write!(f, "outline point {index} is out of range or lies on another one")
            }
            Self::Crossing(index) => {
                write!(f, "the outline edge from point {index} crosses or touches another")
            }
            Self::Area => f.write_str(
                "the outlines hold no area, or far too many triangles of the wanted size",
            ),
        }
    }
}

impl std::error::Error for FaceFault {}

/// An outline point.
#[derive(Debug, Clone, Copy)]
struct Node {
    at: [f64; 2],
}

impl HasPosition for Node {
    type Scalar = f64;

    fn position(&self) -> Point2<f64> {
        Point2::new(self.at[0], self.at[1])
    }
}

impl From<Point2<f64>> for Node {
    fn from(at: Point2<f64>) -> Self {
        Self { at: [at.x, at.y] }
    }
}

/// Meshes the area inside the first outline and outside the others with triangles of edges of about
/// `size`.
///
/// Refined constrained Delaunay triangles, least angle 25° but for angles the outlines themselves
/// make. Outline edges should be of about `size` too: they are never split.
pub fn mesh_face(outlines: &[Vec<[f64; 2]>], size: f64) -> Result<FaceMesh, FaceFault> {
    if outlines.is_empty()
        || outlines.iter().any(|outline| outline.len() < 3)
        || !(size.is_finite() && size > 0.0)
    {
        return Err(FaceFault::Input);
    }
    let points: Vec<[f64; 2]> = outlines.concat();
    // The triangulation takes no numbers beyond its range, tiny ones included: those are as good as
    // 0.
    let snapped = |x: f64| if x.abs() < 1e-12 { 0.0 } else { x };
    if let Some(bad) = points.iter().position(|p| !p.iter().all(|x| x.abs() < 1e9)) {
        return Err(FaceFault::Point(bad));
    }
    let nodes: Vec<Node> = points.iter().map(|p| Node { at: p.map(snapped) }).collect();
    let mut edges = Vec::with_capacity(points.len());
    let mut first = 0;
    for outline in outlines {
        edges.extend((0..outline.len()).map(|i| [first + i, first + (i + 1) % outline.len()]));
        first += outline.len();
    }
    if let Some(bad) = repeated(&nodes) {
        return Err(FaceFault::Point(bad));
    }
    let mut crossing = None;
    let mut mesh = ConstrainedDelaunayTriangulation::<Node>::try_bulk_load_cdt(
        nodes,
        edges.clone(),
        |[from, _]| {
            crossing.get_or_insert(from);
        },
    )
    .map_err(|_| FaceFault::Input)?;
    // An edge that runs through another point is split there, silently.
    if let Some(from) = crossing.or_else(|| edges.iter().position(|ends| !is_edge(&mesh, *ends))) {
        return Err(FaceFault::Crossing(from));
    }
    let area = outlines
        .iter()
        .map(|outline| shoelace(outline))
        .fold(None, |net: Option<f64>, area| Some(net.map_or(area.abs(), |net| net - area.abs())));
    // Area of an even-sided triangle.
    let wanted = 0.433 * size * size;
    let budget =
        POINTS_PER_TRIANGLE * (area.unwrap_or(0.0).max(0.0) / wanted + points.len() as f64);
    if area.is_none_or(|area| area <= 0.0) || budget > MOST_POINTS as f64 {
        return Err(FaceFault::Area);
    }
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "from 0 to MOST_POINTS by the line above"
    )]
    let budget = budget as usize;
    let parameters = RefinementParameters::new()
        .exclude_outer_faces(true)
        .keep_constraint_edges()
        .with_angle_limit(AngleLimit::from_deg(LEAST_ANGLE))
        .with_max_allowed_area(1.5 * wanted)
        .with_max_additional_vertices(budget);
    let mut outside: Vec<usize> =
        mesh.refine(parameters).excluded_faces.into_iter().map(|face| face.index()).collect();
    outside.sort_unstable();
    let triangles: Vec<[usize; 3]> = mesh
        .inner_faces()
        .filter(|face| outside.binary_search(&face.fix().index()).is_err())
        .map(|face| face.vertices().map(|vertex| vertex.fix().index()))
        .collect();
    let points = mesh.vertices().map(|vertex| vertex.data().at).collect();
    if triangles.is_empty() { Err(FaceFault::Area) } else { Ok(FaceMesh { points, triangles }) }
}

/// First point that lies on an earlier one.
fn repeated(nodes: &[Node]) -> Option<usize> {
    let mut order: Vec<usize> = (0..nodes.len()).collect();
    order.sort_by(|a, b| {
        let [p, q] = [nodes[*a].at, nodes[*b].at];
        p[0].total_cmp(&q[0]).then(p[1].total_cmp(&q[1])).then(a.cmp(b))
    });
    let same = |pair: &&[usize]| {
        nodes[pair[0]].at.iter().zip(&nodes[pair[1]].at).all(|(a, b)| (a - b).abs() <= 0.0)
    };
    order.windows(2).filter(same).map(|pair| pair[1]).min()
}

fn is_edge(mesh: &ConstrainedDelaunayTriangulation<Node>, [from, to]: [usize; 2]) -> bool {
    let [from, to] = [from, to].map(FixedVertexHandle::from_index);
    let Some(edge) = mesh.get_edge_from_neighbors(from, to) else { return false };
    edge.is_constraint_edge()
}

/// Signed area, mm².
fn shoelace(outline: &[[f64; 2]]) -> f64 {
    let next = outline.iter().cycle().skip(1);
    0.5 * outline.iter().zip(next).map(|(a, b)| a[0] * b[1] - a[1] * b[0]).sum::<f64>()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn circle(radius: f64, count: usize) -> Vec<[f64; 2]> {
        (0..count)
            .map(|i| {
                let (sin, cos) = (std::f64::consts::TAU * i as f64 / count as f64).sin_cos();
                [radius * cos, radius * sin]
            })
            .collect()
    }

    /// The triangles fill the polygon ring exactly, turn left, keep the outline's points and are of
    /// the wanted size.
    #[test]
    fn a_ring_is_filled_exactly() {
        let outlines = [circle(50.0, 80), circle(20.0, 40)];
        let mesh = mesh_face(&outlines, 4.0).expect("a ring");
        let area = |[a, b, c]: [usize; 3]| {
            let [a, b, c] = [mesh.points[a], mesh.points[b], mesh.points[c]];
            0.5 * ((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))
        };
        let areas: Vec<f64> = mesh.triangles.iter().map(|corners| area(*corners)).collect();
        let polygon = |radius: f64, count: f64| {
            0.5 * count * radius * radius * (std::f64::consts::TAU / count).sin()
        };
        let exact = polygon(50.0, 80.0) - polygon(20.0, 40.0);
        assert!((areas.iter().sum::<f64>() / exact - 1.0).abs() < 1e-12);
        assert!(areas.iter().all(|area| *area > 0.0 && *area < 1.5 * 0.433 * 16.0 + 1e-9));
        for (point, given) in mesh.points.iter().zip(outlines.concat()) {
            assert!((point[0] - given[0]).hypot(point[1] - given[1]) < 1e-11);
        }
        // Euler: triangles = 2 points + 2 (holes − 1) − boundary points, here with one hole.
        assert_eq!(mesh.triangles.len(), 2 * mesh.points.len() - 120);
    }

    #[test]
    fn faces_that_cannot_be_are_named() {
        let mut bow = circle(10.0, 4);
        bow.swap(1, 2);
        assert!(matches!(mesh_face(&[bow], 1.0).err(), Some(FaceFault::Crossing(_))));
        let mut twice = circle(10.0, 6);
        twice[4] = twice[1];
        assert_eq!(mesh_face(&[twice], 1.0).err(), Some(FaceFault::Point(4)));
        let mut bad = circle(10.0, 6);
        bad[2][1] = f64::NAN;
        assert_eq!(mesh_face(&[bad], 1.0).err(), Some(FaceFault::Point(2)));
        assert_eq!(mesh_face(&[circle(10.0, 6)], 1e-6).err(), Some(FaceFault::Area));
        assert_eq!(mesh_face(&[], 1.0).err(), Some(FaceFault::Input));
        // A point in the middle of another edge.
        let touching = vec![[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [5.0, 0.0], [0.0, 10.0]];
        assert!(matches!(mesh_face(&[touching], 1.0).err(), Some(FaceFault::Crossing(_))));
    }
}
