//! Ways to spoil or to change a study's text and the files beside it, as a strategy that draws them.

use proptest::prelude::*;
use proptest::sample::{Index, select};

/// One change of a file's bytes.
#[derive(Clone, Debug)]
pub enum Change {
    Flip {
        at: Index,
        mask: u8,
    },
    Cut {
        at: Index,
        length: usize,
    },
    Insert {
        at: Index,
        bytes: &'static [u8],
    },
    Repeat {
        at: Index,
        length: usize,
    },
    End {
        at: Index,
    },
    ByteOrderMark,
    CarriageReturns,
    /// A number becomes another word.
    Number {
        at: Index,
        by: &'static str,
    },
    /// The text behind an `=` is replaced.
    Value {
        at: Index,
        by: &'static str,
    },
    /// A word in the text becomes another unit, kind or key.
    Word {
        at: Index,
        by: &'static str,
    },
    RemoveLine {
        at: Index,
    },
    RepeatLine {
        at: Index,
    },
    MoveLine {
        from: Index,
        to: Index,
    },
    /// A key goes by another name.
    Rename {
        at: Index,
        by: &'static str,
    },
    /// A table, from its header to the next, is removed, doubled or moved.
    RemoveTable {
        at: Index,
    },
    RepeatTable {
        at: Index,
    },
    ExchangeTables {
        at: Index,
        with: Index,
    },
    Nest {
        at: Index,
        depth: usize,
        by: [&'static str; 2],
    },
    /// Another number of bits for shifters and attenuators.
    Bits {
        at: Index,
        bits: u32,
    },
    Count {
        at: Index,
        count: u32,
    },
    /// A normal distribution becomes another, `?` standing for its spread.
    Distribution {
        at: Index,
        by: &'static str,
    },
    /// A table or a key more, behind a header, or at the end where that is empty.
    Add {
        behind: &'static str,
        text: &'static str,
    },
}

const BYTES: [&[u8]; 12] = [
    b"\0",
    b"\xff\xfe",
    b"\xc3",
    b"\xe2\x80\xae",
    b"\x1b[31m",
    b"\xc2\x9b",
    b"\"",
    b"\n[",
    b"'''",
    b"#",
    b"}",
    b"\t",
];

const NUMBERS: [&str; 26] = [
    "0",
    "-1",
    "1",
    "2",
    "3",
    "0.5",
    "-0.5",
    "1e308",
    "-1e308",
    "1e-308",
    "5e-324",
    "nan",
    "inf",
    "-inf",
    "1e999",
    "1e30",
    "1e-30",
    "1000000",
    "999999999999",
    "18446744073709551615",
    "99999999999999999999",
    "0x10",
    "1_000",
    "-0.0",
    "7",
    "64",
];

const VALUES: [&str; 20] = [
    "0",
    "-1",
    "1.5",
    "true",
    "\"\"",
    "\"x\"",
    "[]",
    "{}",
    "[[]]",
    "nan",
    "inf",
    "1979-05-27",
    "\"0 dB\"",
    "\"1e308 mm\"",
    "\"-3 deg\"",
    "\"nan dB\"",
    "\"5 furlongs\"",
    "{ nominal = 1, normal = { sd = 2 } }",
    "[1, \"a\", {}]",
    "\"\\u202Ex\"",
];

const WORDS: [&str; 24] = [
    "mm",
    "GHz",
    "dB",
    "deg",
    "min",
    "ms",
    "wavelength",
    "none",
    "normal",
    "uniform",
    "triangular",
    "linear",
    "ring",
    "peak",
    "null",
    "climb",
    "fit",
    "channel",
    "unit",
    "lot",
    "nominal",
    "sd",
    "kind",
    "csv",
];

const DISTRIBUTIONS: [&str; 16] = [
    "uniform = { half_width = ? }",
    "triangular = { half_width = ? }",
    "arcsine = { half_width = ? }",
    "truncated_normal = { sd = ?, at = ? }",
    "plus_or_minus = { limit = ?, shape = \"truncated_normal\", sigmas = 3 }",
    "log_normal = { geometric_sd = 1.05 }",
    "screened = { of = { normal = { sd = ? } }, at = ?, gauge = { sd = ? } }",
    "mixture = { share = 0.4, first = { offset = ?, normal = { sd = ? } }, second = { uniform = { half_width = ? } } }",
    "normal = { sd = ? }, scope = \"chip\"",
    "normal = { sd = ? }, scope = \"unit\"",
    "normal = { sd = ? }, scope = \"lot\"",
    "normal = { sd = ? }, and = { normal = { sd = ? }, scope = \"unit\" }",
    "normal = { sd = ? }, inspection = { accept = ?, gauge = { sd = ? } }",
    "normal = { sd = ? }, inspection = { accept = ?, gauge = { sd = ? }, sample = { lot = 60, parts = 8, allowed = 1 } }",
    "normal = { sd = ? }, inspection = { accept = ?, sample = { lot = 200, parts = 199, allowed = 150 } }",
    "normal = { sd = ? }, inspection = { tolerance = ?, guard = { expanded = 0.5 }, gauge = { bias = ?, sd = ? } }",
];

/// Prices, for the cost of a unit.
pub const PRICES: &str = "[cost]\ncurrency = \"EUR\"\nunits_a_year = 200\nchannel = { value = 40, from = 30, to = 60 }\nbench_minute = 2\n\
                          rework = { success = 0.5, time = \"20 min\", parts = 30 }";

const ADDED: [(&str, &str); 32] = [
    ("[array]", "dead_channel = { probability = 0.03, allowed = 1 }"),
    ("[array]", "dead_channel = { probability = 0.9, allowed = 0 }"),
    ("[array]", "dead_channel = { probability = 1.0, allowed = 3 }"),
    ("[array]", "chip = 3"),
    ("[array]", "board = 4"),
    ("[array]", "drive = \"-10 dBm\""),
    ("title", "lot = 3"),
    ("title", "confidence = 0.5"),
    ("title", "confidence = 0.999999"),
    ("title", "temperatures = [\"-40 degC\", \"85 degC\"]"),
    ("title", "reference_temperature = \"60 degC\""),
    ("title", "figures = [\"pointing_shift\", \"mean_side_lobe\"]"),
    ("title", "command_frequency = \"9 GHz\""),
    ("", "[[beam]]\nname = \"far\"\ntheta = \"70 deg\""),
    ("", "[[beam]]\nname = \"across\"\ntheta = \"20 deg\"\nphi = \"90 deg\"\nnull_at = \"-20 deg\""),
    ("", "[[limit]]\nfigure = \"eirp_change\"\nat_least = \"-1 dB\""),
    ("", "[[limit]]\nfigure = \"peak_side_lobe\"\nat_most = \"-400 dB\""),
    ("", "[[limit]]\nfigure = \"residual_phase_rms\"\nat_most = \"1e6 deg\""),
    ("", "[[limit]]\nfigure = \"beamwidth_change\"\nat_most = \"0.2 deg\"\nat_least = \"-0.2 deg\""),
    (
        "",
        "[[calibration]]\nname = \"all\"\ncharacterise = { shifter = true, attenuator = true, codes = 8 }\nlevel = { toward = \"weakest\" }\nalign = { method = \"fit\", codes = 8, pairing = \"chain\" }\npasses = 2\nrelevel = true\noffsets = \"phases\"",
    ),
    ("", "[[calibration]]\nname = \"air\"\nalign = { method = \"rotating_element\" }"),
    ("", "[[calibration]]\nname = \"toggled\"\nalign = { method = \"coded_toggling\" }\neach_beam = true"),
    (
        "",
        "[[calibration]]\nname = \"swapped\"\nalign = { method = \"climb\", swap_arms = true, pairing = \"all_pairs\" }\naverages = 1000",
    ),
    ("", "[[calibration]]\nname = \"bare\""),
    (
        "",
        "[[block]]\nname = \"radiator\"\nkind = \"element\"\ncoupling = { level = { nominal = \"-20 dB\", normal = { sd = \"1 dB\" } }, phase = { normal = { sd = \"30 deg\" } } }",
    ),
    (
        "",
        "[[block]]\nname = \"plug pair\"\nkind = \"connector\"\nvswr_in = 1.3\nvswr_out = 1.2\nlength = \"20 mm\"",
    ),
    (
        "",
        "[[block]]\nname = \"last stage\"\nkind = \"amplifier\"\ngain = { nominal = \"10 dB\", normal = { sd = \"0.4 dB\" } }\ncompression = { saturation = \"3 dBm\", smoothness = 2, phase = \"8 deg\" }",
    ),
    ("", PRICES),
    (
        "",
        "[cost]\ncurrency = \"EUR\"\nunits_a_year = 1\nchannel = 0\nrework = { replaces = [\"dead_channel\"], attempts = 3 }",
    ),
    ("", "[[offer]]\nname = \"other seed\"\nchange = { \"shifter.bits\" = 4 }"),
    (
        "",
        "[[block]]\nname = \"trimmer\"\nkind = \"phase_shifter\"\nbits = 7\nstands_at = 3\nvector_sum = { dac_bits = 5, quadrature_error = { normal = { sd = \"2 deg\" } } }",
    ),
    (
        "[bench]",
        "probe = { gain = { normal = { sd = \"0.2 dB\" } }, phase = { normal = { sd = \"2 deg\" } } }",
    ),
];

/// A few changes: most studies stay studies, others are spoiled once or more.
pub fn changes() -> impl Strategy<Value = Vec<Change>> {
    prop_oneof![
        6 => proptest::collection::vec(meaning(), 0..3),
        2 => (proptest::collection::vec(meaning(), 0..2), change()).prop_map(|(mut changes, last)| {
            changes.push(last);
            changes
        }),
        1 => proptest::collection::vec(change(), 2..5),
    ]
}

/// A change of any kind.
pub fn change() -> impl Strategy<Value = Change> {
    let at = any::<Index>;
    let of_bytes = prop_oneof![
        (at(), 1..=255u8).prop_map(|(at, mask)| Change::Flip { at, mask }),
        (at(), 1..200usize).prop_map(|(at, length)| Change::Cut { at, length }),
        (at(), select(BYTES.to_vec())).prop_map(|(at, bytes)| Change::Insert { at, bytes }),
        (at(), 1..300usize).prop_map(|(at, length)| Change::Repeat { at, length }),
        at().prop_map(|at| Change::End { at }),
        Just(Change::ByteOrderMark),
        Just(Change::CarriageReturns),
    ];
    let of_values = prop_oneof![
        4 => (at(), select(NUMBERS.to_vec())).prop_map(|(at, by)| Change::Number { at, by }),
        2 => (at(), select(VALUES.to_vec())).prop_map(|(at, by)| Change::Value { at, by }),
        2 => (at(), select(WORDS.to_vec())).prop_map(|(at, by)| Change::Word { at, by }),
    ];
    let of_keys = prop_oneof![
        at().prop_map(|at| Change::RemoveLine { at }),
        at().prop_map(|at| Change::RepeatLine { at }),
        (at(), at()).prop_map(|(from, to)| Change::MoveLine { from, to }),
        (at(), select(WORDS.to_vec())).prop_map(|(at, by)| Change::Rename { at, by }),
    ];
    let nests = [["[", "]"], ["{ a = ", " }"], ["{ and = ", " }"], ["{ normal = ", " }"], ["\"", "\""]];
    let of_tables = prop_oneof![
        3 => at().prop_map(|at| Change::RemoveTable { at }),
        3 => at().prop_map(|at| Change::RepeatTable { at }),
        3 => (at(), at()).prop_map(|(at, with)| Change::ExchangeTables { at, with }),
        1 => (at(), 1..3000usize, select(nests.to_vec())).prop_map(|(at, depth, by)| Change::Nest { at, depth, by }),
    ];
    prop_oneof![1 => of_bytes, 3 => of_values, 1 => of_keys, 1 => of_tables, 1 => meaning()]
}

/// A change that as a rule leaves a study that means something.
fn meaning() -> impl Strategy<Value = Change> {
    let at = any::<Index>;
    prop_oneof![
        3 => (at(), 1..15u32).prop_map(|(at, bits)| Change::Bits { at, bits }),
        1 => (at(), 1..40u32).prop_map(|(at, count)| Change::Count { at, count }),
        4 => (at(), select(DISTRIBUTIONS.to_vec())).prop_map(|(at, by)| Change::Distribution { at, by }),
        4 => select(ADDED.to_vec()).prop_map(|(behind, text)| Change::Add { behind, text }),
    ]
}

impl Change {
    /// The bytes with the change made; as they were where there is no place for it.
    pub fn made(&self, bytes: &[u8]) -> Vec<u8> {
        let place = |at: &Index| at.index(bytes.len().max(1)).min(bytes.len());
        let span = |at: &Index, length: &usize| place(at)..(place(at) + length).min(bytes.len());
        match self {
            Change::Flip { at, mask } => {
                let mut bytes = bytes.to_vec();
                bytes.get_mut(place(at)).into_iter().for_each(|byte| *byte ^= mask);
                bytes
            }
            Change::Cut { at, length } => {
                let span = span(at, length);
                [&bytes[..span.start], &bytes[span.end..]].concat()
            }
            Change::Insert { at, bytes: more } => [&bytes[..place(at)], more, &bytes[place(at)..]].concat(),
            Change::Repeat { at, length } => {
                let span = span(at, length);
                [&bytes[..span.end], &bytes[span.start..]].concat()
            }
            Change::End { at } => bytes[..place(at)].to_vec(),
            Change::ByteOrderMark => [b"\xef\xbb\xbf", bytes].concat(),
            of_text => match std::str::from_utf8(bytes) {
                Ok(text) => of_text.made_in(text).into_bytes(),
                Err(_) => bytes.to_vec(),
            },
        }
    }

    fn made_in(&self, text: &str) -> String {
        let replaced = |spans: Vec<std::ops::Range<usize>>, at: &Index, by: &dyn Fn(&str) -> String| {
            if spans.is_empty() {
                return text.to_owned();
            }
            let span = spans[at.index(spans.len())].clone();
            format!("{}{}{}", &text[..span.start], by(&text[span.clone()]), &text[span.end..])
        };
        let mut lines: Vec<&str> = text.split_inclusive('\n').collect();
        let line = |at: &Index| at.index(lines.len().max(1));
        match self {
            Change::CarriageReturns => text.replace('\n', "\r\n"),
            Change::Number { at, by } => replaced(numbers(text), at, &|_| (*by).to_owned()),
            Change::Value { at, by } => replaced(values(text), at, &|_| (*by).to_owned()),
            Change::Word { at, by } => replaced(words(text), at, &|_| (*by).to_owned()),
            Change::Rename { at, by } => replaced(keys(text), at, &|_| (*by).to_owned()),
            Change::Nest { at, depth, by: [open, close] } => replaced(values(text), at, &|old| {
                format!("{}{old}{}", open.repeat(*depth), close.repeat(*depth))
            }),
            Change::Bits { at, bits } => replaced(values_of(text, &["bits"]), at, &|_| bits.to_string()),
            Change::Count { at, count } => replaced(
                values_of(text, &["count", "columns", "rows", "chip", "lot", "averages", "codes"]),
                at,
                &|_| count.to_string(),
            ),
            Change::Distribution { at, by } => {
                let spans = spans_of(text, "normal = { sd = ", " }");
                replaced(spans, at, &|old| {
                    let spread = old.trim_start_matches("normal = { sd = ").trim_end_matches(" }");
                    by.replace('?', spread)
                })
            }
            Change::RemoveLine { at } if !lines.is_empty() => {
                lines.remove(line(at));
                lines.concat()
            }
            Change::RepeatLine { at } if !lines.is_empty() => {
                lines.insert(line(at), lines[line(at)]);
                lines.concat()
            }
            Change::MoveLine { from, to } if !lines.is_empty() => {
                let to = line(to);
                let moved = lines.remove(line(from));
                lines.insert(to.min(lines.len()), moved);
                lines.concat()
            }
            Change::RemoveTable { at } | Change::RepeatTable { at } | Change::ExchangeTables { at, .. } => {
                let mut tables = tables(text);
                let count = tables.len();
                let number = at.index(count);
                match self {
                    Change::RemoveTable { .. } => drop(tables.remove(number)),
                    Change::RepeatTable { .. } => tables.insert(number, tables[number]),
                    Change::ExchangeTables { with, .. } => tables.swap(number, with.index(count)),
                    _ => {}
                }
                tables.concat()
            }
            Change::Add { behind, text: more } => {
                let header = lines.iter().position(|line| !behind.is_empty() && line.starts_with(behind));
                match header {
                    _ if behind.is_empty() => format!("{}\n\n{more}\n", text.trim_end()),
                    Some(header) => {
                        let more = format!("{more}\n");
                        lines.insert(header + 1, &more);
                        lines.concat()
                    }
                    None => text.to_owned(),
                }
            }
            _ => text.to_owned(),
        }
    }
}

pub(super) type Spans = Vec<std::ops::Range<usize>>;

/// Places of runs of characters for which `is_in` holds, which the character before must not be in.
fn runs(text: &str, is_in: impl Fn(char) -> bool) -> Spans {
    let mut spans = Vec::new();
    let mut start = None;
    for (place, c) in text.char_indices().chain([(text.len(), '\0')]) {
        match (is_in(c), start) {
            (true, None) => start = Some(place),
            (false, Some(from)) => {
                spans.push(from..place);
                start = None;
            }
            _ => {}
        }
    }
    spans
}

pub(super) fn numbers(text: &str) -> Spans {
    let spans = runs(text, |c| c.is_alphanumeric() || "+-._".contains(c));
    spans.into_iter().filter(|span| text[span.clone()].parse::<f64>().is_ok()).collect()
}

fn words(text: &str) -> Spans {
    let spans = runs(text, |c| c.is_alphabetic() || c == '_');
    spans.into_iter().filter(|span| span.len() > 1).collect()
}

/// The text behind the first ` = ` of each line.
pub(super) fn values(text: &str) -> Spans {
    parts(text, |line| line.find(" = ").map(|at| at + 3..line.trim_end().len()))
}

fn keys(text: &str) -> Spans {
    parts(text, |line| line.find(" = ").map(|at| 0..at))
}

pub(super) fn values_of(text: &str, keys: &[&str]) -> Spans {
    let of = |line: &str| {
        let (at, key) = keys.iter().find_map(|key| line.find(&format!("{key} = ")).map(|at| (at, key)))?;
        let start = at + key.len() + 3;
        let digits = line[start..].chars().take_while(char::is_ascii_digit).count();
        (digits > 0).then(|| start..start + digits)
    };
    parts(text, of)
}

pub(super) fn spans_of(text: &str, from: &str, to: &str) -> Spans {
    let starts = text.match_indices(from).map(|(start, _)| start);
    starts.filter_map(|start| text[start..].find(to).map(|end| start..start + end + to.len())).collect()
}

/// A place in each line that has one.
fn parts(text: &str, place: impl Fn(&str) -> Option<std::ops::Range<usize>>) -> Spans {
    let mut start = 0;
    let lines = text.split_inclusive('\n').filter_map(|line| {
        let at = start;
        start += line.len();
        place(line)
            .filter(|of| !line.starts_with('#') && of.start <= of.end)
            .map(|of| at + of.start..at + of.end)
    });
    lines.collect()
}

/// The text in pieces, each but the first from a table's header on.
pub(super) fn tables(text: &str) -> Vec<&str> {
    let mut places: Vec<usize> = text.match_indices("\n[").map(|(at, _)| at + 1).collect();
    places.insert(0, 0);
    places.push(text.len());
    places.windows(2).map(|pair| &text[pair[0]..pair[1]]).collect()
}
