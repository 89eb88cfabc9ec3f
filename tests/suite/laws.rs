//! The laws of deviation against samples of another library (rand_distr, over rand's small generator), by the
//! two-sample Kolmogorov-Smirnov distance. False-alarm rate 1e-3 a law with fixed seeds.

use beamyield::random::{Key, Normal, Shape, Triangular, TruncatedNormal, Uniform};
use rand::SeedableRng;
use rand::rngs::SmallRng;
use rand_distr::{Distribution, Normal as RandNormal, Triangular as RandTriangular, Uniform as RandUniform};

const COUNT: usize = 100_000;

/// Critical distance for two samples of COUNT: 1.95 sqrt(2/COUNT).
fn critical() -> f64 {
    1.95 * (2.0 / COUNT as f64).sqrt()
}

fn ours(shape: Shape) -> Vec<f64> {
    let mut values = vec![[0.0; 16]; COUNT / 16];
    let mut room = vec![[0.0; 16]; values.len()];
    shape.draw(Key::new(7, "laws"), 0, 0, &mut values, &mut room);
    values.as_flattened().iter().map(|x| f64::from(*x)).collect()
}

fn theirs(law: impl Distribution<f64>) -> Vec<f64> {
    let mut generator = SmallRng::seed_from_u64(11);
    (0..COUNT).map(|_| law.sample(&mut generator)).collect()
}

/// Largest distance between the two empirical distribution functions.
fn distance(mut a: Vec<f64>, mut b: Vec<f64>) -> f64 {
    a.sort_by(f64::total_cmp);
    b.sort_by(f64::total_cmp);
    let (mut i, mut j, mut largest) = (0, 0, 0.0f64);
    while i < a.len() && j < b.len() {
        if a[i] <= b[j] {
            i += 1
        } else {
            j += 1
        }
        largest = largest.max((i as f64 / a.len() as f64 - j as f64 / b.len() as f64).abs());
    }
    largest
}

#[test]
fn laws_are_those_of_another_library() {
    let normal = || theirs(RandNormal::new(0.0, 0.7).expect("a law"));
    let uniform = || theirs(RandUniform::new(-2.0, 2.0).expect("a law"));
    let triangular = || theirs(RandTriangular::new(-3.0, 3.0, 0.0).expect("a law"));
    // A truncated law is the plain one with what lies beyond thrown away.
    let truncated = || {
        let mut generator = SmallRng::seed_from_u64(13);
        let law = RandNormal::new(0.0, 0.7).expect("a law");
        std::iter::repeat_with(|| law.sample(&mut generator))
            .filter(|x: &f64| x.abs() <= 0.9)
            .take(COUNT)
            .collect()
    };
    let cases: [(Shape, Vec<f64>); 4] = [
        (Shape::Normal(Normal::new(0.7).expect("a law")), normal()),
        (Shape::TruncatedNormal(TruncatedNormal::new(0.7, 0.9).expect("a law")), truncated()),
        (Shape::Uniform(Uniform::new(2.0).expect("a law")), uniform()),
        (Shape::Triangular(Triangular::new(3.0).expect("a law")), triangular()),
    ];
    for (shape, reference) in cases {
        let wider = ours(shape.scaled(1.1));
        let right = distance(ours(shape), reference.clone());
        assert!(right < critical(), "{}: {right}", shape.name());
        // The twin: a tenth wider is found out.
        assert!(distance(wider, reference) > critical(), "{}", shape.name());
    }
}
