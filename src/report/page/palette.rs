//! The colours: greys, and one hue for what a chart is about. Meaning is carried by shape, place and label; colour only helps.

/// A colour by its name, on light paper and on dark: `#rrggbb`.
pub(super) type Colour = (&'static str, &'static str, &'static str);

/// All colours.
pub(super) const COLOURS: [Colour; 14] = [
    ("paper", "#fdfdfb", "#15191c"),
    // Text, and lines that have to be seen.
    ("ink", "#22262a", "#e4e7e8"),
    // Secondary text.
    ("soft", "#5b646a", "#a7b0b5"),
    // Guide lines.
    ("rule", "#d9dddc", "#363e43"),
    // Ground behind what is quoted.
    ("ground", "#f3f5f4", "#1c2226"),
    // The one hue: curves and links.
    ("accent", "#0b5f6b", "#6cc3cf"),
    // Areas of it: bars.
    ("fill", "#4f97a1", "#3c8591"),
    // Areas that others are drawn on.
    ("band", "#cfe1e4", "#244249"),
    // Tints from low values to high, with ink on them.
    ("tint0", "#f1f6f6", "#1b2326"),
    ("tint1", "#d9e8ea", "#1f3036"),
    ("tint2", "#bdd7db", "#233f47"),
    ("tint3", "#9dc4ca", "#275058"),
    ("tint4", "#7fb0b8", "#2a5e68"),
    ("tint5", "#6aa0a9", "#2d6c78"),
];

/// Steps of tint, from low values to high.
pub(super) const TINTS: usize = 6;

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance of a colour and contrast of two: W3C, Web Content Accessibility Guidelines 2.2, "relative luminance" and
    /// "contrast ratio" (from memory).
    fn luminance(colour: &str) -> f64 {
        let channel = |at: usize| {
            let value = f64::from(u8::from_str_radix(&colour[at..at + 2], 16).unwrap()) / 255.0;
            if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5)
    }

    fn contrast(a: &str, b: &str) -> f64 {
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    fn colour(name: &str) -> [&'static str; 2] {
        let (_, light, dark) = COLOURS.iter().find(|of| of.0 == name).unwrap();
        [light, dark]
    }

    #[test]
    fn the_formula_is_that_of_the_guidelines() {
        // Black on white is 21, and #767676 is the lightest grey that has 4.5 on white (from memory).
        assert_eq!(contrast("#000000", "#ffffff"), 21.0);
        assert!(contrast("#767676", "#ffffff") >= 4.5 && contrast("#777777", "#ffffff") < 4.5);
    }

    #[test]
    fn text_has_a_contrast_of_4_5_and_what_is_drawn_one_of_3() {
        let least = |front: &str, back: &str, least: f64| {
            for (front_colour, back_colour) in colour(front).into_iter().zip(colour(back)) {
                let found = contrast(front_colour, back_colour);
                assert!(found >= least, "{front} on {back}: {found}");
            }
        };
        for back in ["paper", "ground", "band", "tint0", "tint1", "tint2", "tint3", "tint4", "tint5"] {
            least("ink", back, 4.5);
        }
        for front in ["soft", "accent"] {
            least(front, "paper", 4.5);
            least(front, "ground", 4.5);
        }
        least("fill", "paper", 3.0);
        least("accent", "band", 3.0);
    }

    #[test]
    fn tints_differ_in_lightness() {
        for paper in 0..2 {
            let steps: Vec<f64> =
                (0..TINTS).map(|step| luminance(colour(&format!("tint{step}"))[paper])).collect();
            let is_step = |pair: &[f64]| if paper == 0 { pair[0] > pair[1] } else { pair[0] < pair[1] };
            assert!(steps.windows(2).all(is_step), "{steps:?}");
        }
    }
}
