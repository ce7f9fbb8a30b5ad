//! Time of the forming solve on a kidney's wall, of about 2 000, 8 000 and 32 000 triangles, and of
//! one exact round wall.

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use planish::fe::coarse::WallProblem;
use planish::fe::law::SheetLaw;
use planish::fe::membrane::Settings;
use planish::fe::ring::{WallSection, ring};
use planish::fe::wall::wall_membrane;
use planish::geom::mesh_wall::{WallShape, mesh_wall};
use std::f64::consts::FRAC_PI_2;
use std::hint::black_box;
use support::walls;

#[path = "../it/support/mod.rs"]
#[allow(dead_code, reason = "each bench uses some of this")]
mod support;

const LAW: SheetLaw = SheetLaw {
    strength_mpa: 1000.0,
    hardening: 0.17,
    anisotropy: 1.0,
    elastic_modulus_mpa: 205_000.0,
};

fn kidney(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("kidney wall");
    group.sample_size(10);
    for (size, bend_rows, wall_rows) in [(6.0, 3, 7), (3.2, 5, 14), (1.6, 10, 28)] {
        let samples = walls::kidney(size);
        let shape = WallShape { bend_mid_radius: 3.9, bend_angle: FRAC_PI_2, bend_rows, wall_rows };
        let mesh = mesh_wall(&samples, true, &shape).expect("a wall");
        let membrane = wall_membrane(&mesh, &samples, 0.945, &LAW, 1.8).expect("a problem");
        group.bench_function(BenchmarkId::from_parameter(membrane.triangles.len()), |bencher| {
            let problem = WallProblem {
                mesh: &mesh,
                samples: &samples,
                stretch_of_bend: 0.945,
                membrane: &membrane,
            };
            bencher.iter(|| problem.solve(&Settings::default()).expect("a blank"));
        });
    }
    group.finish();
}

fn round(criterion: &mut Criterion) {
    let section = WallSection {
        tangent_curvature: 1.0 / 46.1,
        bend_mid_radius: 3.9,
        bend_angle: FRAC_PI_2,
        stretch_of_bend: 0.945,
        wall_length: 16.1,
    };
    criterion.bench_function("round wall", |bencher| {
        bencher.iter(|| ring(&LAW, black_box(&section)).expect("a wall"));
    });
}

criterion_group!(benches, kidney, round);
criterion_main!(benches);
