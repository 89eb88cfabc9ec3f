use super::*;

/// Largest error over the root of (energy times length): a few roundings to 24 bits, where one is 6e-8.
const BOUND: f64 = 2.5e-7;

/// Numbers without structure, from the fractional parts of multiples of an irrational.
fn signal(len: usize, offset: f64) -> Vec<f32> {
    (0..len).map(|i| (((i as f64 + offset) * 0.618_033_988_75).fract() - 0.5) as f32).collect()
}

/// One bin by its definition, in double precision.
fn direct(re: &[f32], im: &[f32], k: usize, bins: usize) -> (f64, f64) {
    let mut sum = (0.0, 0.0);
    for (n, (re, im)) in re.iter().zip(im).enumerate() {
        let angle = TAU * ((n * k % bins) as f64 / bins as f64);
        let (sine, cosine) = scalar::sin_cos(angle);
        let (re, im) = (f64::from(*re), f64::from(*im));
        sum.0 += re * cosine - im * sine;
        sum.1 += re * sine + im * cosine;
    }
    sum
}

type Field<const W: usize> = (Vec<[f32; W]>, Vec<[f32; W]>);

fn transformed<const W: usize>(transform: &Transform, re: &[[f32; W]], im: &[[f32; W]]) -> Field<W> {
    let bins = transform.bins();
    let (mut to_re, mut to_im) = (vec![[0.0; W]; bins], vec![[0.0; W]; bins]);
    let order = Order { first: 0, stride: 1, count: bins };
    let samples = Samples { re, im, stride: 1 };
    transform.field(samples, &mut Vec::new(), order, &mut to_re, &mut to_im);
    (to_re, to_im)
}

fn check<const W: usize>(samples: usize, fractions: usize) {
    let lanes: Vec<_> =
        (0..W).map(|l| (signal(samples, 3.0 + l as f64), signal(samples, 17.5 * (1.0 + l as f64)))).collect();
    let re: Vec<[f32; W]> = (0..samples).map(|n| std::array::from_fn(|l| lanes[l].0[n])).collect();
    let im: Vec<[f32; W]> = (0..samples).map(|n| std::array::from_fn(|l| lanes[l].1[n])).collect();
    let transform = Transform::new(samples, fractions);
    let bins = transform.bins();
    let (to_re, to_im) = transformed(&transform, &re, &im);
    for (l, (lane_re, lane_im)) in lanes.iter().enumerate() {
        let alone = |x: &[f32]| x.iter().map(|x| [*x]).collect::<Vec<[f32; 1]>>();
        let (one_re, one_im) = transformed(&transform, &alone(lane_re), &alone(lane_im));
        // The rounding errors scale with the root of the signal's energy.
        let energy = lane_re.iter().chain(lane_im).map(|x| f64::from(*x).powi(2)).sum::<f64>();
        let size = (energy * samples as f64).sqrt();
        for k in 0..bins {
            let (sum_re, sum_im) = direct(lane_re, lane_im, k, bins);
            let found = (f64::from(to_re[k][l]), f64::from(to_im[k][l]));
            let error = (found.0 - sum_re).abs().max((found.1 - sum_im).abs());
            assert!(error < BOUND * size, "{samples}, {k}: {found:?} is off by {}", error / size);
            assert_eq!(to_re[k][l].to_bits(), one_re[k][0].to_bits());
            assert_eq!(to_im[k][l].to_bits(), one_im[k][0].to_bits());
        }
    }
}

#[test]
fn agrees_with_the_direct_sum_at_every_length_and_width() {
    for samples in [1, 2, 3, 4, 5, 8, 13, 16, 32, 57, 64, 128, 256, 300, 512, 1024] {
        check::<1>(samples, 1);
        check::<4>(samples, 2);
        check::<8>(samples, 4);
        check::<16>(samples, 4);
    }
}

#[test]
fn the_sign_is_plus() {
    // One sample at n = 1 gives exp(+j 2 pi k / 4).
    let re = [[0.0], [1.0], [0.0], [0.0]];
    let (to_re, to_im) = transformed(&Transform::new(4, 1), &re, &[[0.0]; 4]);
    assert_eq!(to_re, [[1.0], [0.0], [-1.0], [0.0]]);
    assert_eq!(to_im, [[0.0], [1.0], [0.0], [-1.0]]);
}

#[test]
fn powers_come_in_the_order_asked_for() {
    let re: Vec<[f32; 1]> = signal(5, 1.0).iter().map(|x| [*x]).collect();
    let transform = Transform::new(5, 2);
    let (to_re, to_im) = transformed(&transform, &re, &re);
    let order = Order { first: 11, stride: 3, count: 9 };
    let mut power = vec![[-1.0f32]; 27];
    let samples = Samples { re: &re, im: &re, stride: 1 };
    transform.power(samples, &mut Vec::new(), order, &mut power);
    for (row, power) in power.iter().enumerate() {
        let bin = (row / 3 + 11) % 16;
        let expected = to_re[bin][0] * to_re[bin][0] + to_im[bin][0] * to_im[bin][0];
        assert_eq!(power[0], if row % 3 == 0 { expected } else { -1.0 });
    }
}

#[test]
fn twiddles_are_right_to_the_last_bit() {
    for len in [8, 64, 1024] {
        for k in 0..len {
            let Number { re: cos, im: sin } = turn(k, len);
            let angle = TAU * (k as f64 / len as f64);
            assert!((f64::from(cos) - scalar::cos(angle)).abs() < 3.1e-8);
            assert!((f64::from(sin) - scalar::sin(angle)).abs() < 3.1e-8);
        }
    }
    assert_eq!(turn(256, 1024), Number::new(0.0, 1.0));
}
