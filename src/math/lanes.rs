//! Arithmetic on all lanes of a row at once, written so that the compiler turns each operation into vector code.

use std::array::from_fn;
use std::ops::{Add, AddAssign, Mul, Sub};

/// A number in single precision for each of `W` lanes.
#[derive(Clone, Copy, Debug, PartialEq)]
#[repr(transparent)]
pub(crate) struct Lanes<const W: usize>(pub [f32; W]);

impl<const W: usize> Lanes<W> {
    /// Zero in every lane.
    pub(crate) const ZERO: Lanes<W> = Lanes([0.0; W]);
}

impl<const W: usize> Add for Lanes<W> {
    type Output = Lanes<W>;

    #[inline(always)]
    fn add(self, other: Lanes<W>) -> Lanes<W> {
        Lanes(from_fn(|l| self.0[l] + other.0[l]))
    }
}

impl<const W: usize> AddAssign for Lanes<W> {
    #[inline(always)]
    fn add_assign(&mut self, other: Lanes<W>) {
        *self = *self + other;
    }
}

impl<const W: usize> Sub for Lanes<W> {
    type Output = Lanes<W>;

    #[inline(always)]
    fn sub(self, other: Lanes<W>) -> Lanes<W> {
        Lanes(from_fn(|l| self.0[l] - other.0[l]))
    }
}

impl<const W: usize> Mul for Lanes<W> {
    type Output = Lanes<W>;

    #[inline(always)]
    fn mul(self, other: Lanes<W>) -> Lanes<W> {
        Lanes(from_fn(|l| self.0[l] * other.0[l]))
    }
}

impl<const W: usize> Mul<f32> for Lanes<W> {
    type Output = Lanes<W>;

    #[inline(always)]
    fn mul(self, factor: f32) -> Lanes<W> {
        Lanes(from_fn(|l| self.0[l] * factor))
    }
}

/// A complex number for each of `W` lanes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Complex<const W: usize> {
    /// Real part.
    pub re: Lanes<W>,
    /// Imaginary part.
    pub im: Lanes<W>,
}

impl<const W: usize> Complex<W> {
    /// Zero in every lane.
    pub(crate) const ZERO: Complex<W> = Complex { re: Lanes::ZERO, im: Lanes::ZERO };

    /// The square of the magnitude.
    #[inline(always)]
    pub(crate) fn power(self) -> Lanes<W> {
        self.re * self.re + self.im * self.im
    }

    /// The product with one complex number, (real part, imaginary part), for all lanes.
    #[inline(always)]
    pub(crate) fn times(self, (re, im): (f32, f32)) -> Complex<W> {
        Complex { re: self.re * re - self.im * im, im: self.re * im + self.im * re }
    }
}

impl<const W: usize> Add for Complex<W> {
    type Output = Complex<W>;

    #[inline(always)]
    fn add(self, other: Complex<W>) -> Complex<W> {
        Complex { re: self.re + other.re, im: self.im + other.im }
    }
}

impl<const W: usize> Sub for Complex<W> {
    type Output = Complex<W>;

    #[inline(always)]
    fn sub(self, other: Complex<W>) -> Complex<W> {
        Complex { re: self.re - other.re, im: self.im - other.im }
    }
}

impl<const W: usize> Mul for Complex<W> {
    type Output = Complex<W>;

    #[inline(always)]
    fn mul(self, other: Complex<W>) -> Complex<W> {
        Complex { re: self.re * other.re - self.im * other.im, im: self.re * other.im + self.im * other.re }
    }
}
