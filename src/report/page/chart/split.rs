//! The parts of several wholes: a column a part, all bars to one scale.

use crate::report::page::chart::intervals::{ROW, name_row, room_for};
use crate::report::page::svg::{Anchor, Svg, TEXT, WIDTH, cut};

/// Rows of parts.
#[derive(Clone, Debug)]
pub(crate) struct Split {
    /// Names of the parts.
    pub parts: Vec<String>,
    /// The rows: a name, and for each part its value and its text.
    pub rows: Vec<(String, Vec<(f64, String)>)>,
    /// The unit of all values.
    pub unit: String,
}

/// Height of the line of names.
const HEAD: f64 = 24.0;

impl Split {
    pub(super) fn draw(&self) -> Svg {
        let room = room_for(self.rows.iter().map(|(name, _)| name.as_str()));
        let left = room + 10.0;
        let column = (WIDTH - left) / self.parts.len().max(1) as f64;
        let values = self.rows.iter().flat_map(|(_, values)| values.iter().map(|of| of.0.abs()));
        let largest = values.filter(|value| value.is_finite()).fold(0.0, f64::max);
        let scale = if largest > 0.0 { (column - 12.0) / largest } else { 0.0 };
        let height = ROW + 8.0;
        let mut svg = Svg::new(HEAD + height * self.rows.len() as f64 + 24.0);
        for (number, part) in self.parts.iter().enumerate() {
            let x = left + column * number as f64;
            svg.text("name", [x, HEAD - 8.0], Anchor::Start, &cut(part, column - 6.0));
            svg.line("axis", [x, HEAD - 2.0], [x, HEAD + height * self.rows.len() as f64]);
        }
        for (number, (name, values)) in self.rows.iter().enumerate() {
            let y = HEAD + height * (number as f64 + 0.5);
            name_row(&mut svg, name, room, y);
            for (place, (value, text)) in values.iter().enumerate() {
                let x = left + column * place as f64;
                // A negative part, such as the value of scrap, is drawn open.
                let class = if *value < 0.0 { "bar open" } else { "bar" };
                let part = self.parts.get(place).map_or("", String::as_str);
                let tip = format!("{name}, {part}: {text} {}", self.unit);
                svg.rect(class, [x, y + 1.0], [value.abs() * scale, 9.0], &tip);
                svg.text("label number", [x + 4.0, y - 0.2 * TEXT], Anchor::Start, text);
            }
        }
        let foot = HEAD + height * self.rows.len() as f64 + 17.0;
        let unit = format!("{}, all columns to one scale", self.unit);
        svg.text("name", [WIDTH, foot], Anchor::End, &unit);
        svg
    }
}
