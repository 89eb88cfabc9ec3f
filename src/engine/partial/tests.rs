use super::*;
use crate::engine::{Control, End, accumulate, run};
use crate::io::SourceText;
use crate::random::{Key, Stream};
use crate::study::{Trials, parse};
use crate::{model, stats};
use rand::RngExt;
use std::sync::atomic::AtomicBool;

/// Four channels with dead ones among them, figures that are missed, gains of a lot alike where it has a size.
fn model(lot: Option<u64>, trials: u64) -> Model {
    let (scope, lot) = match lot {
        Some(units) => (", scope = \"lot\"", format!("lot = {units}")),
        None => ("", String::new()),
    };
    let text = format!(
        r#"
title = "split"
seed = 11
trials = {trials}
{lot}
frequencies = ["10 GHz"]
figures = ["array_gain_loss", "pointing_error"]
array = {{ layout = {{ kind = "linear", count = 4, spacing = "15 mm" }}, dead_channel = {{ probability = 0.01 }} }}
beam = [{{ name = "ahead", theta = "0 deg" }}, {{ name = "left", theta = "-20 deg" }}]
block = [
    {{ name = "amplifier", kind = "amplifier", gain = {{ nominal = "10 dB", normal = {{ sd = "1 dB" }}{scope} }}, phase = {{ normal = {{ sd = "9 deg" }} }} }},
    {{ name = "shifter", kind = "phase_shifter", bits = 4 }},
]
calibration = [{{ name = "none" }}, {{ name = "fit", align = {{ method = "fit", codes = 4 }} }}]
limit = [{{ figure = "array_gain_loss", at_most = "0.1 dB" }}, {{ figure = "pointing_error", at_most = "1 deg" }}]
"#
    );
    let source = SourceText { name: "split.toml".into(), text: text.clone() };
    model::compile(&parse(&source).expect("the study is right"), &text)
}

fn control(threads: usize) -> Control<'static> {
    static NEVER: AtomicBool = AtomicBool::new(false);
    Control { threads, interrupt: &NEVER }
}

fn range(model: &Model, trials: Range<u64>) -> Partial {
    let (partial, end) = accumulate(model, trials, control(1), |_| Ok(())).expect("the run ends well");
    assert_eq!(end, End::Done);
    partial
}

/// Written down and read again, as between machines.
fn bytes(partial: &Partial) -> Vec<u8> {
    postcard::to_stdvec(partial).expect("it can be written down")
}

fn read(bytes: &[u8]) -> Partial {
    postcard::from_bytes(bytes).expect("it can be read")
}

/// Numbers below a bound, from a stream of its own.
struct Numbers(Stream);

impl Numbers {
    fn new(seed: u64) -> Numbers {
        Numbers(Stream::new(Key::new(seed, "splits"), 0, 0, 0))
    }

    fn below(&mut self, bound: u64) -> u64 {
        self.0.random_range(0..bound)
    }
}

/// Splits at random, at chunk ends and between them, puts the parts together in a random order, and compares.
fn split(model: &Model, rounds: u64, numbers: &mut Numbers) {
    let trials = model.trials.most();
    let whole = bytes(&range(model, 0..trials));
    for round in 0..rounds {
        let mut cuts: Vec<u64> = (0..numbers.below(9)).map(|_| numbers.below(trials)).collect();
        if round % 3 == 0 {
            cuts.iter_mut().for_each(|cut| *cut = *cut / CHUNK as u64 * CHUNK as u64);
        }
        cuts.extend([0, trials]);
        cuts.sort_unstable();
        cuts.dedup();
        let mut parts: Vec<Vec<u8>> =
            cuts.windows(2).map(|ends| bytes(&range(model, ends[0]..ends[1]))).collect();
        (1..parts.len()).for_each(|i| parts.swap(i, numbers.below(1 + i as u64) as usize));
        let mut joined = Partial::new(model);
        parts.iter().for_each(|part| joined.merge(model, read(part)).expect("the trials are apart"));
        assert!(bytes(&joined) == whole, "round {round}, cut at {cuts:?}");
    }
}

#[test]
fn any_split_put_together_in_any_order_is_the_run_in_one_piece() {
    let mut numbers = Numbers::new(3);
    split(&model(None, 1000), 500, &mut numbers);
    // Lots that end within chunks, and one that is longer than some parts.
    split(&model(Some(37), 700), 250, &mut numbers);
    split(&model(Some(300), 700), 250, &mut numbers);
}

/// More trials than values are kept of: what was kept by one part and counted by another gives the same result.
#[test]
fn parts_that_keep_values_and_parts_that_count_them_come_to_the_same() {
    let mut model = model(None, stats::column::EXACT + 200);
    model.calibrations.truncate(1);
    model.courses.truncate(1);
    split(&model, 4, &mut Numbers::new(8));
}

#[test]
fn a_summary_is_that_of_the_run() {
    for lot in [None, Some(37)] {
        let model = model(lot, 1000);
        let run = run(&model, control(2), |_| Ok(())).expect("the run ends well").summary.expect("trials");
        let mut joined = range(&model, 333..1000);
        assert!(joined.clone().summary(&model).is_some_and(|of| of.trials == 667));
        joined.merge(&model, range(&model, 0..200)).expect("apart");
        // Trials may be missing between others, unless they share lots.
        let summary = joined.clone().summary(&model);
        assert_eq!(summary.map(|of| of.trials), lot.is_none().then_some(867));
        assert_eq!(joined.ranges(), [0..200, 333..1000]);
        joined.merge(&model, range(&model, 200..333)).expect("apart");
        assert_eq!((joined.ranges().as_slice(), joined.trials()), (std::slice::from_ref(&(0..1000)), 1000));
        let joined = joined.summary(&model).expect("trials");
        assert_eq!(format!("{joined:?}"), format!("{run:?}"));
    }
}

#[test]
fn what_is_not_apart_is_refused() {
    let model = model(None, 1000);
    let mut some = range(&model, 0..200);
    let before = bytes(&some);
    assert_eq!(some.merge(&model, range(&model, 199..201)), Err(CannotMerge::Overlap(199..200)));
    let other = Model { seed: 12, ..model.clone() };
    assert_eq!(some.merge(&model, range(&other, 200..210)), Err(CannotMerge::OtherUnits));
    assert_eq!(bytes(&some), before);
    some.merge(&model, Partial::new(&model)).expect("nothing is apart from all");
    assert_eq!(bytes(&some), before);
    let other = Model { trials: Trials::Fixed(1), ..model.clone() };
    assert_eq!(bytes(&range(&other, 0..200)), before);
}
