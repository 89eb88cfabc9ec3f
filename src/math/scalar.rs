//! Scalar functions for the edges of a computation, from the portable `libm` crate: equal bits on
//! every machine, but slow in a hot loop. Hot loops use [`super::single`] and
//! [`super::elementary`].

pub(crate) use libm::{
    acos, acosh, atan, atan2, cos, cosh, erfc, exp, expm1, hypot, lgamma as ln_gamma, log as ln,
    log1p as ln_1p, log10, pow, sin, sincos as sin_cos, tan, tgamma as gamma,
};
#[cfg(test)]
pub(crate) use libm::{asin, exp2, exp10};
