//! The keys of the distributions that a study can name.

use super::{Distribution, beta, empirical, gamma, log_normal, mixture, plus_or_minus, weibull};
use crate::io::{Accepts, Check, Difference, Key, Nested, Optional, Quantity, Special, Text, Word, keys};
use crate::random::{Window, gauge};

/// A distribution under its key.
macro_rules! distribution {
    ($name:literal, $keys:expr, $example:literal) => {
        Key::special($name, || Accepts::AboutDifference($name, &$keys), $example, "")
    };
}

keys! {
    /// The keys under which a distribution is stated, one of them.
    pub DISTRIBUTIONS: "";
    NORMAL_OF_DEVIATION: Special = distribution!("normal", NORMAL, "{ sd = \"0.1 mm\" }");
    TRUNCATED_OF_DEVIATION: Special = distribution!("truncated_normal", TRUNCATED, "{ sd = \"0.1 mm\", at = \"0.2 mm\" }");
    UNIFORM_OF_DEVIATION: Special = distribution!("uniform", UNIFORM, "{ half_width = \"0.1 mm\" }");
    TRIANGULAR_OF_DEVIATION: Special = distribution!("triangular", TRIANGULAR, "{ half_width = \"0.1 mm\" }");
    ARCSINE_OF_DEVIATION: Special = distribution!("arcsine", ARCSINE, "{ half_width = \"0.1 mm\" }");
    LOG_NORMAL_OF_DEVIATION: Special = distribution!("log_normal", LOG_NORMAL, "{ geometric_sd = 1.05 }");
    MIXTURE_OF_DEVIATION: Special = distribution!("mixture", MIXTURE, "{ share = 0.3, first = { normal = { sd = \"0.1 mm\" } }, second = { offset = \"0.1 mm\", normal = { sd = \"0.1 mm\" } } }");
    EMPIRICAL_OF_DEVIATION: Special = distribution!("empirical", EMPIRICAL, "{ csv = \"cables.csv\", column = \"length\", about = \"mean\" }");
    WEIBULL_OF_DEVIATION: Special = distribution!("weibull", WEIBULL, "{ shape = 1.5, scale = \"0.2 mm\" }");
    GAMMA_OF_DEVIATION: Special = distribution!("gamma", GAMMA, "{ shape = 2, scale = \"0.1 mm\" }");
    BETA_OF_DEVIATION: Special = distribution!("beta", BETA, "{ alpha = 2, beta = 5, from = \"-0.1 mm\", to = \"0.3 mm\" }");
    SCREENED_OF_DEVIATION: Special = distribution!("screened", SCREENED, "{ at = \"0.1 mm\", of = { normal = { sd = \"0.1 mm\" } }, gauge = { sd = \"0.02 mm\" } }");
    PLUS_OR_MINUS_OF_DEVIATION: Special = distribution!("plus_or_minus", PLUS_OR_MINUS, "{ limit = \"0.1 mm\", shape = \"normal\", sigmas = 3 }");
}

keys! {
    NORMAL: "Normal distribution";
    NORMAL_SD: Difference = Key::difference("sd", Check::NonNegative, "Standard deviation");
}

keys! {
    TRUNCATED: "Normal distribution whose tails are cut off";
    TRUNCATED_SD: Difference = Key::difference("sd", Check::NonNegative, "Standard deviation before the cut");
    TRUNCATED_AT: Difference = Key::difference("at", Check::Positive, "Largest deviation to either side");
}

keys! {
    UNIFORM: "All deviations within the limits equally likely";
    HALF_WIDTH: Difference = Key::difference("half_width", Check::NonNegative, "Largest deviation to either side");
}

keys! {
    TRIANGULAR: "Small deviations more likely than large ones, none beyond the limits";
    TRIANGULAR_HALF_WIDTH: Difference = HALF_WIDTH;
}

keys! {
    ARCSINE: "Large deviations more likely than small ones, none beyond the limits";
    ARCSINE_HALF_WIDTH: Difference = HALF_WIDTH;
}

keys! {
    LOG_NORMAL: "The nominal times a factor whose logarithm is normal";
    GEOMETRIC_SD: Quantity =
        Key::number("geometric_sd", Check::Within(1.0, log_normal::WIDEST), "1.05", "The factor at one standard deviation");
}

keys! {
    MIXTURE: "Parts of two kinds, from two suppliers say";
    SHARE: Quantity =
        Key::number("share", Check::Within(mixture::LEAST, 1.0 - mixture::LEAST), "0.3", "Share of the parts of the first kind");
    FIRST: Nested = Key::table("first", &FIRST_PART, "{ normal = { sd = \"0.1 mm\" } }").needed();
    SECOND: Nested = Key::table("second", &SECOND_PART, "{ offset = \"0.1 mm\", normal = { sd = \"0.1 mm\" } }").needed();
}

keys! {
    FIRST_PART: "Parts of the first kind: an offset and a distribution", with DISTRIBUTIONS;
    OFFSET: Optional<Difference> = Key::difference("offset", Check::Any, "Mean deviation; 0 where it is left out").optional();
}

keys! {
    SECOND_PART: "Parts of the second kind: an offset and a distribution", with DISTRIBUTIONS;
    SECOND_OFFSET: Optional<Difference> = OFFSET;
}

keys! {
    EMPIRICAL: "Parts like those that were measured";
    pub(super) CSV: Text = Key::text("csv", "cables.csv", "A file with a row for each part that was measured");
    COLUMN: Text = Key::text("column", "length", "Column of the file, without the unit that ends its name");
    ABOUT: Word<empirical::About> = Key::word("about", "reference", || empirical::ABOUTS.to_vec(), "mean",
        "What deviations are taken from: the nominal value, or the mean of the parts");
}

keys! {
    SCREENED: "Parts of a distribution of which those are taken that a gauge reads within limits";
    AT: Special = Window::key("at", "What a reading has to keep: a deviation to either side, or from and to").needed();
    OF: Nested = Key::table("of", &DELIVERED, "{ normal = { sd = \"0.1 mm\" } }").needed();
    GAUGE: Nested = Key::table("gauge", &gauge::KEYS, "{ sd = \"0.02 mm\" }").needed();
}

keys! {
    DELIVERED: "The distribution of the delivered parts", with DISTRIBUTIONS;
}

keys! {
    PLUS_OR_MINUS: "A limit to either side, with the distribution that it stands for";
    LIMIT: Difference = Key::difference("limit", Check::Positive, "Largest deviation to either side; of a normal distribution, so many sigmas");
    SHAPE: Word<plus_or_minus::Within> = Key::word("shape", "shape", Distribution::all_within, "normal", "The distribution");
    SIGMAS: Optional<Quantity> =
        Key::number("sigmas", plus_or_minus::SIGMAS, "3", "Standard deviations within the limit; required with the normal distributions").optional();
}

keys! {
    WEIBULL: "Deviations to one side, as of wear and lifetimes";
    pub(super) WEIBULL_SHAPE: Quantity = Key::number("shape", Check::Within(weibull::LEAST, weibull::MOST), "1.5",
        "Weibull's exponent: small ones spread widely, 1 is exponential, 2 Rayleigh's");
    pub(super) WEIBULL_SCALE: Difference =
        Key::difference("scale", Check::Any, "Deviation that 63 % of the parts do not exceed; a negative one is downward");
}

keys! {
    GAMMA: "Deviations to one side, as sums of many small ones";
    pub(super) GAMMA_SHAPE: Quantity = Key::number("shape", Check::Within(gamma::LEAST, gamma::MOST), "2",
        "Squared ratio of mean and standard deviation; 1 is exponential");
    pub(super) GAMMA_SCALE: Difference =
        Key::difference("scale", Check::Any, "Mean over the shape; a negative one is downward");
}

keys! {
    BETA: "Deviations between two ends, more likely toward one of them";
    pub(super) ALPHA: Quantity = Key::number("alpha", Check::Within(beta::LEAST, beta::MOST), "2",
        "Large where the upper end is likely; both parameters above 1 make ends rare");
    pub(super) BETA_PARAMETER: Quantity =
        Key::number("beta", Check::Within(beta::LEAST, beta::MOST), "5", "Large where the lower end is likely");
    pub(super) FROM: Difference = Key::difference("from", Check::Any, "The lowest deviation");
    pub(super) TO: Difference = Key::difference("to", Check::Any, "The highest deviation");
}
