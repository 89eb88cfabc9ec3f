//! Studies whose figure is a sum of normal deviations.

/// Units of each study.
pub(crate) const UNITS: u64 = 4096;

/// Two elements that look ahead, as built, whose amplifiers' gains are the same in all channels of a unit: the EIRP change is the sum of
/// the deviations in dB, exactly. Twelve bits command "ahead" without rounding.
pub(crate) fn summed(amplifiers: &str, limits: &str) -> String {
    format!(
        "title = \"sums\"\nseed = 11\ntrials = {UNITS}\nfrequencies = [\"10 GHz\"]\ntemperatures = [\"75 degC\"]\n\
         array = {{ layout = {{ kind = \"linear\", count = 2, spacing = \"15 mm\" }} }}\n\
         beam = [{{ name = \"ahead\", theta = \"0 deg\" }}]\n\
         block = [\n{amplifiers}    {{ name = \"shifter\", kind = \"phase_shifter\", bits = 12 }},\n]\n\
         calibration = [{{ name = \"as built\" }}]\nlimit = [{limits}]\n"
    )
}

pub(crate) fn amplifier(name: &str, distribution: &str, more: &str) -> String {
    format!(
        "    {{ name = \"{name}\", kind = \"amplifier\", gain = {{ nominal = \"0 dB\", {distribution}, scope = \"unit\" }}{more} }},\n"
    )
}

pub(crate) fn normal(name: &str, sd: f64) -> String {
    amplifier(name, &format!("normal = {{ sd = \"{sd} dB\" }}"), "")
}

/// Four causes of a sum that has to be -0.5 dB or more: two normal ones, a mixture, and temperature.
pub(crate) fn of_four_causes() -> String {
    let mixed = "mixture = { share = 0.9, first = { offset = \"-1.2 dB\", normal = { sd = \"0.2 dB\" } }, \
                 second = { normal = { sd = \"0.2 dB\" } } }";
    let amplifiers =
        [normal("a", 1.0), normal("b", 0.8), amplifier("c", mixed, ", gain_temperature = \"-0.012 dB/K\"")]
            .concat();
    summed(&amplifiers, "{ figure = \"eirp_change\", at_least = \"-0.5 dB\" }")
}

/// A sum of normal causes, each with its sd in dB, that has to be within 0.02 dB of 0.
pub(crate) fn within(causes: &[(&str, f64)]) -> String {
    let limits = "{ figure = \"eirp_change\", at_most = \"0.02 dB\" }, { figure = \"eirp_change\", at_least = \"-0.02 dB\" }";
    let amplifiers: String = causes.iter().map(|(name, sd)| normal(name, *sd)).collect();
    summed(&amplifiers, limits)
}
