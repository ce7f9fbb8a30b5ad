//! Lengths of the edges of a triangle that lies on a curved or bent sheet. A chord is shorter than
//! the sheet it spans; these corrections let flat triangles of a few millimetres stand for the
//! curved ones.
//!
//! Millimetres throughout.

/// Length of the curve on a surface between two points of it, from the chord and the unit normals
/// at its ends.
///
/// L = c (1 + (k c)²/24), k = (nj − ni)·(xj − xi)/c²; c chord (mm), k normal curvature along the
/// chord (1/mm). From L = 2 R asin(c / 2R) by series; the error is of order c⁵ k⁴, so this holds
/// for k c well below 1. Exact normals are needed: normals averaged from the triangles bring no
/// gain.
#[must_use]
pub fn arc_length(xi: [f64; 3], ni: [f64; 3], xj: [f64; 3], nj: [f64; 3]) -> f64 {
    let along = [xj[0] - xi[0], xj[1] - xi[1], xj[2] - xi[2]];
    let squared: f64 = along.iter().map(|x| x * x).sum();
    if squared <= 0.0 {
        return squared;
    }
    let turned: f64 = (0..3).map(|a| (nj[a] - ni[a]) * along[a]).sum();
    squared.sqrt() * (1.0 + turned * turned / squared / 24.0)
}

/// Length of an edge in a bend whose neutral layer is not the middle one.
///
/// L' = √(L² + (λ² − 1) b²): only the part b of the edge across the bend (mm) is scaled by
/// λ = (Ri + K t)/(Ri + t/2), so that the outline keeps its radius and no strain along the bend is
/// feigned.
/// Same as scaling the triangle's edge matrix by I + (λ − 1) b bᵀ, and alike for the two triangles
/// that share the edge.
#[must_use]
pub fn bend_length(length: f64, across: f64, stretch_of_bend: f64) -> f64 {
    (length * length + (stretch_of_bend * stretch_of_bend - 1.0) * across * across).max(0.0).sqrt()
}

/// Edge matrix of a triangle with these edge lengths: columns are the edges from corner 0 to 1 and
/// from 0 to 2, the first along x, turning left.
///
/// Cosine law: x = (l01² + l02² − l12²) / (2 l01), y = √(l02² − x²). `None` if the lengths make no
/// triangle.
#[must_use]
pub fn edges_from_lengths(l01: f64, l12: f64, l20: f64) -> Option<[[f64; 2]; 2]> {
    let x = (l01 * l01 + l20 * l20 - l12 * l12) / (2.0 * l01);
    let y = (l20 * l20 - x * x).sqrt();
    (l01 > 0.0 && y > 0.0 && (x + y + l01).is_finite()).then_some([[l01, x], [0.0, y]])
}

/// Corrected edge matrices of triangles on a curved surface, `normals` being the surface's exact
/// unit normals.
///
/// Gives the index of the first triangle that has no area.
pub fn formed_edges(
    positions: &[[f64; 3]],
    normals: &[[f64; 3]],
    triangles: &[[usize; 3]],
) -> Result<Vec<[[f64; 2]; 2]>, usize> {
    let length = |i: usize, j: usize| {
        Some(arc_length(*positions.get(i)?, *normals.get(i)?, *positions.get(j)?, *normals.get(j)?))
    };
    let edges =
        |[a, b, c]: [usize; 3]| edges_from_lengths(length(a, b)?, length(b, c)?, length(c, a)?);
    triangles.iter().enumerate().map(|(index, corners)| edges(*corners).ok_or(index)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Arcs of a circle of radius 40: the length is radius times angle; the chord formula's next
    /// term bounds the error.
    #[test]
    fn arcs_of_a_circle() {
        for angle in [0.3_f64, 0.1, 0.03] {
            let point = |a: f64| [40.0 * a.cos(), 40.0 * a.sin(), 0.0];
            let normal = |a: f64| [a.cos(), a.sin(), 0.0];
            let length = arc_length(point(0.0), normal(0.0), point(angle), normal(angle));
            assert!((length / (40.0 * angle) - 1.0).abs() < 0.01 * angle.powi(4), "{angle}");
        }
    }

    /// A right triangle 3-4-5, and no triangle at all.
    #[test]
    fn cosine_law() {
        let edges = edges_from_lengths(3.0, 5.0, 4.0).expect("a triangle");
        assert!((edges[0][1]).abs() < 1e-15 && (edges[1][1] - 4.0).abs() < 1e-15);
        assert!(edges_from_lengths(1.0, 5.0, 1.0).is_none());
        assert!(edges_from_lengths(f64::NAN, 5.0, 4.0).is_none());
    }

    /// An edge across the bend takes the whole factor, one along it none.
    #[test]
    fn bends_scale_across_only() {
        assert!((bend_length(2.0, 2.0, 0.9) - 1.8).abs() < 1e-15);
        assert!((bend_length(2.0, 0.0, 0.9) - 2.0).abs() < 1e-15);
    }
}
