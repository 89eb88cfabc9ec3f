//! Scalar functions for the edges of a computation, from the portable `libm` crate: equal bits on
//! every machine, but slow in a hot loop. Hot loops use [`super::single`] and
//! [`super::elementary`].

pub use libm::{
    acos, acosh, asin, asinh, atan, atan2, atanh, cbrt, cos, cosh, erf, erfc, exp, exp2, exp10, expm1, hypot,
    lgamma as ln_gamma, log as ln, log1p as ln_1p, log2, log10, pow, sin, sincos as sin_cos, sinh, tan, tanh,
    tgamma as gamma,
};
