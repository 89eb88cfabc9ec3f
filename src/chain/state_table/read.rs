//! Tables of states as files: one CSV file, or one Touchstone file a state.

use super::{Curve, StateTable};
use crate::io::{Columns, Dimension, Key, Nested, Optional, Table, Text, TwoPort, keys};
use crate::math::{TAU, elementary, scalar};

/// Files that cannot be read before the rest is left alone: they are missing for one and the same reason.
const MOST_UNREADABLE: usize = 3;

keys! {
    KEYS: "Its states as they were measured";
    CSV: Optional<Text> =
        Key::text("csv", "shifter.csv", "A file with the columns code, phase_deg, gain_db and, if need be, frequency_ghz").optional();
    TOUCHSTONE: Optional<Text> =
        Key::text("touchstone", "shifter_{code:2}.s2p",
            "A file for each state; {code} stands for the code, {code:2} for two digits of it").optional();
}

/// The table of them in that of their block.
pub(in crate::chain) const STATES: Key<Nested> = Key::table("states", &KEYS, "{ csv = \"shifter.csv\" }");

impl StateTable {
    /// Reads the table at `states`, if there is one, of a block of so many codes.
    pub(in crate::chain) fn read(table: &Table, codes: usize) -> Option<StateTable> {
        if !table.has(STATES) {
            return None;
        }
        let states = table.table(STATES)?;
        let (has_csv, has_files) = (states.has(CSV), states.has(TOUCHSTONE));
        if has_csv == has_files {
            let message = if has_csv { "states from two places" } else { "states from nowhere" };
            let help =
                "`csv = \"shifter.csv\"`, or `touchstone = \"shifter_{code}.s2p\"` for one file a state";
            table.error(
                states.span(),
                message,
                "one of `csv` and `touchstone` is expected",
                Some(help.into()),
            );
            return None;
        }
        if !table.is_sound("bits") {
            // It is not known how many states are expected.
            return None;
        }
        let (name, curves) = if has_csv {
            (states.read(&CSV.required()), from_csv(&states.columns(&CSV.required())?, codes)?)
        } else {
            (states.read(&TOUCHSTONE.required()), from_files(&states, codes)?)
        };
        Some(StateTable { name, curves, prepared: Vec::new() })
    }
}

/// One file: a row for each code, at each frequency where it states any.
fn from_csv(columns: &Columns, codes: usize) -> Option<Vec<Curve>> {
    let code = columns.quantity("code", Dimension::Ratio);
    let phase = columns.quantity("phase", Dimension::Angle);
    let gain = columns.quantity("gain", Dimension::Level);
    let has_frequency = columns.has("frequency", Dimension::Frequency);
    let frequency = match has_frequency {
        true => columns.quantity("frequency", Dimension::Frequency),
        false => Some(vec![0.0; columns.rows()]),
    };
    let (code, phase, gain, frequency) = (code?, phase?, gain?, frequency?);
    let mut frequencies = frequency.clone();
    frequencies.sort_by(f64::total_cmp);
    frequencies.dedup();

    // `[frequency][code]`.
    let mut rows: Vec<Vec<Option<usize>>> = vec![vec![None; codes]; frequencies.len()];
    let mut is_sound = true;
    for (row, (of, hertz)) in code.iter().zip(&frequency).enumerate() {
        let mut refuse = |message: String, label: &str, help: &str| {
            is_sound = false;
            columns.error(row, "code", message, label, help);
        };
        if of.fract() != 0.0 || *of < 0.0 || *of >= codes as f64 {
            let help = "a whole number for each code, from 0: as many as 2 to the power of `bits`";
            refuse(format!("there is no code {of}"), &format!("codes go from 0 to {}", codes - 1), help);
            continue;
        }
        let at = frequencies.partition_point(|known| known < hertz);
        if rows[at][*of as usize].replace(row).is_some() {
            let help =
                "one row a code; where states were measured at several frequencies, a column `frequency_ghz`";
            refuse(format!("code {of} stands twice"), "stated before", help);
        }
    }
    for (hertz, rows) in frequencies.iter().zip(&rows) {
        let missing = rows.iter().filter(|row| row.is_none()).count();
        if let (true, Some(first)) = (is_sound, rows.iter().position(Option::is_none)) {
            let row = frequency.iter().position(|of| of == hertz).unwrap_or(0);
            let message = match missing {
                1 => format!("no row for code {first}"),
                _ => format!("no rows for {missing} of {codes} codes, the first of them {first}"),
            };
            let (key, label) = if has_frequency { ("frequency", "at this frequency") } else { ("code", "") };
            columns.error(row, key, message, label, "a row for every code, at each frequency");
        }
        is_sound &= missing == 0;
    }
    if !is_sound {
        return None;
    }
    let curve = |code: usize| {
        let of =
            |values: &[f64]| rows.iter().filter_map(|rows| Some(values[rows[code]?])).collect::<Vec<f64>>();
        Curve {
            source: columns.source().clone(),
            frequencies: if has_frequency { frequencies.clone() } else { Vec::new() },
            gain: of(&gain),
            phase: unwrapped(of(&phase)),
        }
    };
    Some((0..codes).map(curve).collect())
}

/// One Touchstone file for each code.
fn from_files(states: &Table, codes: usize) -> Option<Vec<Curve>> {
    let key = TOUCHSTONE.name;
    let pattern = states.read(&TOUCHSTONE.required());
    if states.is_sound(key) && file_of(&pattern, 0).is_none() {
        let help = "`{code}` stands for the code, `{code:2}` for two digits of it: \"shifter_{code}.s2p\"";
        states.error(
            states.span_of(key),
            "no place for the code in the file's name",
            "one file a state",
            Some(help.into()),
        );
        return None;
    }
    let mut unreadable = 0;
    let mut curves = Vec::with_capacity(codes);
    for name in (0..codes).map_while(|code| file_of(&pattern, code)) {
        let curve = states.touchstone(key, &name).and_then(|part| curve_of(states, &part));
        unreadable += usize::from(curve.is_none());
        if unreadable == MOST_UNREADABLE {
            return None;
        }
        curves.extend(curve);
    }
    (curves.len() == codes).then_some(curves)
}

/// The name of a code's file: `{code}` in the pattern stands for the code, `{code:N}` for at least N digits of it. `None`
/// where the pattern has no such place.
fn file_of(pattern: &str, code: usize) -> Option<String> {
    let (before, rest) = pattern.split_once("{code")?;
    let (digits, after) = rest.split_once('}')?;
    let digits: usize = match digits {
        "" => 1,
        digits => digits.strip_prefix(':')?.parse().ok().filter(|digits| (1..=9).contains(digits))?,
    };
    Some(format!("{before}{code:0digits$}{after}"))
}

/// The transmission of a part over frequency.
fn curve_of(states: &Table, part: &TwoPort) -> Option<Curve> {
    let through = || part.parameters.iter().map(|s| s.s21);
    if through().any(|s21| s21.norm_sqr() == 0.0) {
        let help = "a transmission above zero at every frequency";
        states.findings().error_in(
            part.source(),
            None,
            "S21 is zero: it transmits nothing",
            "",
            Some(help.into()),
        );
        return None;
    }
    Some(Curve {
        source: part.source().clone(),
        frequencies: part.frequencies.clone(),
        gain: through().map(|s21| 20.0 * scalar::log10(scalar::hypot(s21.re, s21.im))).collect(),
        phase: unwrapped(through().map(|s21| scalar::atan2(s21.im, s21.re)).collect()),
    })
}

/// Phases over frequency without jumps of a turn: each within half a turn of the one before.
fn unwrapped(mut phases: Vec<f64>) -> Vec<f64> {
    for i in 1..phases.len() {
        let turns = (phases[i] - phases[i - 1]) / TAU;
        phases[i] = phases[i - 1] + (turns - elementary::round(turns)) * TAU;
    }
    phases
}
