//! Binary STL: an 80-byte header, a count, and for each triangle its normal, three corners and two
//! spare bytes.

use super::WriteProblem;

/// The triangles, mm, as a binary STL file. Corners are to run counter-clockwise seen from outside;
/// the normals follow from them. The file holds single-precision numbers: about 0.0001 mm on a part
/// of 1 m. A triangle of which two corners become one is left out, its neighbours close over it.
pub fn stl(triangles: &[[[f64; 3]; 3]]) -> Result<Vec<u8>, WriteProblem> {
    let numbers = || triangles.iter().flatten().flatten();
    if numbers().any(|value| !value.is_finite() || value.abs() > f64::from(f32::MAX)) {
        return Err(WriteProblem::NotFinite { layer: None });
    }
    let rounded = triangles.iter().map(|corners| corners.map(|corner| corner.map(single)));
    let sound: Vec<[[f32; 3]; 3]> =
        rounded.filter(|[a, b, c]| !(is_same(a, b) || is_same(b, c) || is_same(c, a))).collect();
    let count = u32::try_from(sound.len())
        .map_err(|_| WriteProblem::TooManyTriangles { count: sound.len() })?;
    let mut bytes = Vec::with_capacity(84 + 50 * sound.len());
    // The header must not begin with "solid", by which readers know the text form.
    let mut header = [b' '; 80];
    let words = b"planish, binary STL, millimetres";
    header[..words.len()].copy_from_slice(words);
    bytes.extend_from_slice(&header);
    bytes.extend_from_slice(&count.to_le_bytes());
    for corners in &sound {
        for value in normal(corners).iter().chain(corners.iter().flatten()) {
            bytes.extend_from_slice(&value.to_le_bytes());
        }
        bytes.extend_from_slice(&[0, 0]);
    }
    Ok(bytes)
}

/// Whether two corners are one, to the last bit.
fn is_same(a: &[f32; 3], b: &[f32; 3]) -> bool {
    a.map(f32::to_bits) == b.map(f32::to_bits)
}

/// The nearest single-precision number; -0 becomes 0 so that equal corners are equal bytes.
fn single(value: f64) -> f32 {
    #[expect(
        clippy::cast_possible_truncation,
        reason = "single precision is what the format holds; the size is checked by the caller"
    )]
    let value = value as f32;
    value + 0.0
}

/// The unit normal by the right-hand rule; zero for corners on one line, as the format's readers
/// expect where there is none.
fn normal(corners: &[[f32; 3]; 3]) -> [f32; 3] {
    let [a, b, c] = corners.map(|corner| corner.map(f64::from));
    let (u, v) = ([b[0] - a[0], b[1] - a[1], b[2] - a[2]], [c[0] - a[0], c[1] - a[1], c[2] - a[2]]);
    let cross = [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]];
    let length = cross.iter().map(|x| x * x).sum::<f64>().sqrt();
    if length > 0.0 { cross.map(|x| single(x / length)) } else { [0.0; 3] }
}
