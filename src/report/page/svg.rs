//! Drawings as SVG: the shapes of the charts, and the escaping of every text.

use crate::io::inert;
use std::fmt::Write;

/// Width of every drawing in its own units, about pixels on a screen.
pub(super) const WIDTH: f64 = 720.0;

/// Size of a drawing's text.
pub(super) const TEXT: f64 = 12.5;

/// A text escaped for a document: inert, and no part of the markup.
pub(super) fn escape(text: &str) -> String {
    let text = &*inert(text);
    let mut out = String::with_capacity(text.len());
    let mut rest = 0;
    for (at, c) in text.char_indices() {
        let written = match c {
            '&' => "&amp;",
            '<' => "&lt;",
            '>' => "&gt;",
            '"' => "&quot;",
            '\'' => "&#39;",
            '\n' | '\t' => continue,
            // No document may hold these.
            '\u{fffe}' | '\u{ffff}' => " ",
            _ => continue,
        };
        out.push_str(&text[rest..at]);
        out.push_str(written);
        rest = at + c.len_utf8();
    }
    out + &text[rest..]
}

/// Width of a character over its height, about, in a wide font.
const WIDE: f64 = 0.61;

/// About how wide a text is drawn. Fonts differ; this is on the wide side of the common ones.
pub(super) fn width_of(text: &str) -> f64 {
    WIDE * TEXT * text.chars().count() as f64
}

/// A text cut to a width, with an ellipsis where something is missing.
pub(super) fn cut(text: &str, width: f64) -> String {
    if width_of(text) <= width {
        return text.to_owned();
    }
    let kept = (width / (WIDE * TEXT)) as usize;
    text.chars().take(kept.saturating_sub(1)).collect::<String>().trim_end().to_owned() + "\u{2026}"
}

/// The anchor of a text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

/// A drawing in the making. Places are from its top left corner; classes are those of the page's style.
#[derive(Debug)]
pub(super) struct Svg {
    body: String,
    height: f64,
}

/// A place or a size, to a tenth.
struct At(f64);

impl std::fmt::Display for At {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        // As whole tenths: a page has tens of thousands of places.
        let tenths = if self.0.is_finite() { (10.0 * self.0).round_ties_even() as i64 } else { 0 };
        let (sign, size) = (if tenths < 0 { "-" } else { "" }, tenths.unsigned_abs());
        match (size / 10, size % 10) {
            (whole, 0) => write!(f, "{sign}{whole}"),
            (whole, part) => write!(f, "{sign}{whole}.{part}"),
        }
    }
}

impl Svg {
    /// An empty drawing of a height.
    pub(super) fn new(height: f64) -> Svg {
        Svg { body: String::new(), height }
    }

    /// A shape, with its tip.
    fn shape(&mut self, tag: &str, class: &str, attributes: &str, tip: &str) {
        let out = &mut self.body;
        // Writing to a string cannot fail.
        let _ = match tip {
            "" => writeln!(out, "<{tag} class=\"{class}\"{attributes}/>"),
            tip => {
                writeln!(out, "<{tag} class=\"{class}\"{attributes}><title>{}</title></{tag}>", escape(tip))
            }
        };
    }

    /// A rectangle.
    pub(super) fn rect(&mut self, class: &str, [x, y]: [f64; 2], [width, height]: [f64; 2], tip: &str) {
        let (width, height) = (width.max(0.0), height.max(0.0));
        let attributes =
            format!(" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"", At(x), At(y), At(width), At(height));
        self.shape("rect", class, &attributes, tip);
    }

    /// A straight line.
    pub(super) fn line(&mut self, class: &str, [x1, y1]: [f64; 2], [x2, y2]: [f64; 2]) {
        let attributes = format!(" x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\"", At(x1), At(y1), At(x2), At(y2));
        self.shape("line", class, &attributes, "");
    }

    /// A line through points.
    pub(super) fn polyline(&mut self, class: &str, points: &[[f64; 2]], tip: &str) {
        self.through("polyline", class, points, tip);
    }

    /// An area within points.
    pub(super) fn polygon(&mut self, class: &str, points: &[[f64; 2]], tip: &str) {
        self.through("polygon", class, points, tip);
    }

    fn through(&mut self, tag: &str, class: &str, points: &[[f64; 2]], tip: &str) {
        let mut attributes = String::from(" points=\"");
        for (number, [x, y]) in points.iter().enumerate() {
            let between = if number > 0 { " " } else { "" };
            // Writing to a string cannot fail.
            let _ = write!(attributes, "{between}{},{}", At(*x), At(*y));
        }
        self.shape(tag, class, &(attributes + "\""), tip);
    }

    /// A small mark at a place, in one of several shapes that differ without colour.
    pub(super) fn mark(&mut self, kind: usize, class: &str, [x, y]: [f64; 2], tip: &str) {
        const R: f64 = 4.0;
        let around =
            |corners: &[[f64; 2]]| corners.iter().map(|[a, b]| [x + R * a, y + R * b]).collect::<Vec<_>>();
        match kind % 5 {
            0 => {
                let attributes = format!(" cx=\"{}\" cy=\"{}\" r=\"{}\"", At(x), At(y), At(R));
                self.shape("circle", class, &attributes, tip);
            }
            1 => self.rect(class, [x - 3.5, y - 3.5], [7.0, 7.0], tip),
            2 => self.polygon(class, &around(&[[0.0, -1.2], [1.15, 0.9], [-1.15, 0.9]]), tip),
            3 => self.polygon(class, &around(&[[0.0, -1.3], [1.3, 0.0], [0.0, 1.3], [-1.3, 0.0]]), tip),
            _ => self.polygon(class, &around(&[[0.0, 1.2], [1.15, -0.9], [-1.15, -0.9]]), tip),
        }
    }

    /// An interval along x or y: a line with two ends.
    pub(super) fn whisker(&mut self, class: &str, from: [f64; 2], to: [f64; 2]) {
        let end = if from[0] == to[0] { [3.0, 0.0] } else { [0.0, 3.0] };
        self.line(class, from, to);
        for [x, y] in [from, to] {
            self.line(class, [x - end[0], y - end[1]], [x + end[0], y + end[1]]);
        }
    }

    /// A text, its baseline on the place.
    pub(super) fn text(&mut self, class: &str, [x, y]: [f64; 2], anchor: Anchor, text: &str) {
        let anchor = match anchor {
            Anchor::Start => "",
            Anchor::Middle => " text-anchor=\"middle\"",
            Anchor::End => " text-anchor=\"end\"",
        };
        let text = escape(text);
        // Writing to a string cannot fail.
        let _ = writeln!(
            self.body,
            "<text class=\"{class}\" x=\"{}\" y=\"{}\"{anchor}>{text}</text>",
            At(x),
            At(y)
        );
    }

    /// The drawing; `label` is its text alternative.
    pub(super) fn finish(self, label: &str) -> String {
        format!(
            "<svg role=\"img\" aria-label=\"{}\" viewBox=\"0 0 {} {}\">\n{}</svg>\n",
            escape(label),
            At(WIDTH),
            At(self.height),
            self.body
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_stays_a_text() {
        assert_eq!(escape("<script>\"a\" & 'b'"), "&lt;script&gt;&quot;a&quot; &amp; &#39;b&#39;");
        assert_eq!(escape("a\u{0}b\u{85}c\r\nd\u{ffff}"), "a\\u{0}b\\u{85}c\nd ");
        let mut svg = Svg::new(10.0);
        svg.rect("bar", [0.0, 0.0], [1.0, 1.0], "</title><script>");
        svg.text("label", [0.0, 0.0], Anchor::Start, "</svg>");
        let drawn = svg.finish("\" onload=\"");
        assert!(!drawn.contains("<script>") && drawn.matches("</svg>").count() == 1, "{drawn}");
        assert!(drawn.contains("aria-label=\"&quot; onload=&quot;\""), "{drawn}");
    }

    #[test]
    fn no_place_is_without_a_number() {
        let of = |value: f64| At(value).to_string();
        assert_eq!([of(1.25), of(3.0), of(-0.01), of(f64::NAN)], ["1.2", "3", "0", "0"]);
    }

    #[test]
    fn a_long_text_is_cut() {
        assert_eq!(cut("short", 100.0), "short");
        let long = cut("a name that goes on and on", 60.0);
        assert!(long.ends_with('\u{2026}') && width_of(&long) <= 60.0, "{long}");
    }
}
