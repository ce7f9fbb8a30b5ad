//! Copes: the end of a section lies against its tube. Distances from the folded part to the tube's
//! axis are worked out here.

use indoc::{formatdoc, indoc};
use planish::formed::SheetMesh;

use crate::support::asserts::assert_near;
use crate::support::parts::{made, try_make};
use crate::support::space::{V, add, dot, norm, sub};

fn to_axis(p: V, on: V, along: V) -> f64 {
    let w = sub(p, on);
    norm(add(w, along, -dot(w, along) / dot(along, along)))
}

fn hat(copes: &str) -> String {
    formatdoc!(
        "
        part: hat
        units: mm
        material: dc04
        thickness: 1.6
        bend_allowance: {{k_factor: 0.42}}
        bent:
          radius: 2.4
          depth: 340
          section:
            - leg: 18
            - bend: 90
            - leg: 25
            - bend: -90
            - leg: 30
            - bend: -90
            - leg: 25
            - bend: 90
            - leg: 18
          copes: [{copes}]
        "
    )
}

/// No metal of the folded part is nearer to the axis than the radius and the clearance, and all
/// along the cut one skin or the other is just that far.
#[test]
fn a_coped_end_lies_against_its_tube() {
    let tubes: [(f64, V, V, f64); 4] = [
        // A rail of radius 60 across the section, level; the same aslant; an upright post; a
        // leaning tube that meets one side alone.
        (120.0, [30.0, -40.0, 10.0], [1.0, 0.0, 0.0], 0.0),
        (120.0, [30.0, -40.0, 10.0], [1.0, 0.3, 0.1], 0.5),
        (90.0, [30.0, -20.0, 0.0], [0.0, 0.0, 1.0], 0.0),
        (50.0, [12.0, 2.0, 0.0], [0.1, 0.4, 1.0], 0.2),
    ];
    for (diameter, on, along, clearance) in tubes {
        let yaml = hat(&format!(
            "{{end: near, tube: {diameter}, through: {on:?}, along: {along:?}, clearance: {clearance}}}"
        ));
        let made = made(&yaml);
        let tree = made.flat.tree.as_ref().expect("a tree");
        let mesh = SheetMesh::new(tree, &made.flat.outside, &made.flat.openings).expect("a mesh");
        let folding = tree.folded();
        let radius = diameter / 2.0 + clearance;
        let skins: Vec<Vec<V>> =
            (0..=8).map(|k| mesh.skin(&folding, tree.thickness * f64::from(k) / 8.0)).collect();
        let (mut nearest, mut on_the_cut) = (f64::INFINITY, 0);
        for i in 0..mesh.points.len() {
            let distance =
                skins.iter().map(|skin| to_axis(skin[i], on, along)).fold(f64::INFINITY, f64::min);
            nearest = nearest.min(distance);
            on_the_cut += usize::from(distance < radius + 0.02);
        }
        // The cut is within 0.004 mm of the curve, its chords in the solid within 0.01 mm of that.
        assert!(nearest > radius - 0.015, "{diameter} {along:?}: {nearest}");
        assert!(on_the_cut > 20, "{diameter} {along:?}: {on_the_cut} points on the cut");
        // Along the edge of the blank every point inside the width of the cut lies on the tube:
        // none between it and the old end.
        let edge: Vec<f64> = mesh
            .rim
            .iter()
            .map(|[a, _]| *a)
            .filter(|i| {
                mesh.points[*i].y > 1e-6 && mesh.points[*i].y < 100.0 && mesh.points[*i].x > 0.01
            })
            .map(|i| {
                skins.iter().map(|skin| to_axis(skin[i], on, along)).fold(f64::INFINITY, f64::min)
            })
            .collect();
        let far = edge.iter().filter(|d| **d > radius + 0.03).count();
        // The straight sides beside a cut that does not take the whole width may hold a corner
        // each.
        assert!(far <= 2, "{diameter} {along:?}: {far} of {} places off the tube", edge.len());
    }
}

/// A flat end against a tube across it, worked by hand: at height z over the axis the cut lies
/// sqrt(r^2 - z^2) from it, and the skin nearer to the axis counts.
#[test]
fn a_flat_strip_is_cut_where_the_hand_puts_it() {
    let yaml = indoc!(
        "
        part: strap
        units: mm
        material: dc04
        thickness: 2
        bent:
          radius: 3
          depth: 200
          section:
            - leg: 60
            - bend: 90
            - leg: 40
          copes:
            - {end: near, tube: 50, through: [0, -10, -7], along: [1, 0, 0]}
            - {end: far, tube: 40, through: [0, 205, 1], along: [1, 0, 0], clearance: 1}
        "
    );
    let flat = made(yaml).flat;
    // The first leg fills z from 0 to 2, 7 to 9 over the first axis: its lower skin is nearer,
    // sqrt(25^2 - 7^2) = 24 from it, 14 from the end.
    let cut = flat
        .outside
        .vertices
        .iter()
        .filter(|v| v.point.x < 50.0 && v.point.y < 100.0)
        .map(|v| v.point.y);
    assert_near("near end", cut.fold(f64::NEG_INFINITY, f64::max), 14.0, 0.005);
    // The second axis lies in the middle of the first leg's sheet: the middle is nearest, 21 from
    // it.
    let cut = flat
        .outside
        .vertices
        .iter()
        .filter(|v| v.point.x < 50.0 && v.point.y > 100.0)
        .map(|v| v.point.y);
    assert_near("far end", cut.fold(f64::INFINITY, f64::min), 184.0, 0.005);
}

#[test]
fn tubes_that_cut_nothing_or_too_much_are_refused() {
    let cope = |end: &str, through: &str, along: &str| {
        hat(&format!("{{end: {end}, tube: 60, through: {through}, along: {along}}}"))
    };
    for (yaml, words) in [
        (cope("near", "[30, -200, 0]", "[1, 0, 0]"), "does not meet"),
        (cope("near", "[30, 500, 0]", "[1, 0, 0]"), "leaves nothing"),
        (cope("far", "[30, 340, 0]", "[0, 1, 0]"), "runs along the part"),
    ] {
        let why = try_make(&yaml).err().unwrap_or_default();
        assert!(why.contains(words), "{words}: {why}");
    }
}
