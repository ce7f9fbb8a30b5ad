//! What resists twisting: closed cells, open strips, and the round tube that does the same.

use std::f64::consts::PI;

/// Torsion constant in mm⁴ of a closed cell of thin wall: J = 4 A² / ∮ ds/t.
///
/// A area inside the mid-line of the wall, mm²; s length along it, t thickness there, mm. R. Bredt
/// (1896); in J. M. Gere, Mechanics of Materials, eq. 3-72. For walls much thinner than the cell is
/// wide: it is low by 1.2 % for a round tube of ten times its wall across and by 0.3 % for one of
/// twenty (the exact J is 2 π r³ t (1 + t²/(4 r²)), r to mid-wall), by 1.7 % and 0.5 % for such
/// square ones with rounded corners and by 0.1 % for the demo's rail (finite elements). Checked by
/// `tests/it/published/tubes.rs` and, against finite elements, by `tests/it/reference`.
#[must_use]
pub fn closed_torsion(enclosed: f64, length_over_thickness: f64) -> f64 {
    4.0 * enclosed * enclosed / length_over_thickness
}

/// Torsion constant in mm⁴ of an open run of strips: J = ⅓ ∫ t³ ds.
///
/// s length along the mid-line, t thickness there, mm. The formula is from memory, and checked by
/// the slit tube of W. D. Pilkey in `tests/it/published/tubes.rs`. For a strip ten times as long as
/// thick it is 7 % high (the ends), which is nothing beside the factor of hundreds to a closed
/// cell.
#[must_use]
pub fn open_torsion(cubed_thickness: f64) -> f64 {
    cubed_thickness / 3.0
}

/// Outside diameter in mm of the round tube of wall `thickness` that has the torsion constant `j`:
/// J = π/32 (D⁴ - (D - 2t)⁴), exact for a circle. None below the solid rod of that diameter.
///
/// With the mid-wall diameter m = D - t the formula is π/32 (8 m³ t + 8 m t³) = j, a cubic that
/// rises with m; solved by Newton's method from above, where it is convex.
#[must_use]
pub fn tube_of_torsion(j: f64, thickness: f64) -> Option<f64> {
    let t = thickness;
    let wanted = 4.0 * j / (PI * t);
    // m³ + m t² = wanted.
    let mut m = wanted.cbrt();
    for _ in 0..40 {
        m -= (m * m * m + m * t * t - wanted) / (3.0 * m * m + t * t);
    }
    (m.is_finite() && m >= t).then_some(m + t)
}

/// Outside diameter in mm of the round tube of wall `thickness` with `area` mm² of metal: A = π t
/// (D - t). None below the solid rod.
#[must_use]
pub fn tube_of_area(area: f64, thickness: f64) -> Option<f64> {
    let mid = area / (PI * thickness);
    (mid >= thickness).then_some(mid + thickness)
}
