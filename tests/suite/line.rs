//! Studies of a line of elements in few words.

/// A study of a line of `count` elements, half a wavelength apart, with one beam at broadside and one calibration plan, `it`. `array` are
/// further lines of `[array]`, `blocks` further blocks, `bench` and `calibration` the lines of their tables.
pub fn line(
    [trials, count, bits]: [usize; 3],
    array: &str,
    blocks: &str,
    bench: &str,
    calibration: &str,
) -> String {
    format!(
        "title = \"check\"\nseed = 1\ntrials = {trials}\nfrequencies = [\"28 GHz\"]\ncommand_frequency = \"28 GHz\"\n\
         figures = [\"eirp_change\"]\n[array]\n\
         layout = {{ kind = \"linear\", count = {count}, spacing = \"0.5 wavelength\" }}\n{array}\n\
         [[beam]]\nname = \"0\"\ntheta = \"0 deg\"\n\
         [[block]]\nname = \"amplifier\"\nkind = \"amplifier\"\ngain = \"0 dB\"\n\
         [[block]]\nname = \"shifter\"\nkind = \"phase_shifter\"\nbits = {bits}\n{blocks}\n[bench]\n{bench}\n\
         [[calibration]]\nname = \"it\"\n{calibration}\n"
    )
}
