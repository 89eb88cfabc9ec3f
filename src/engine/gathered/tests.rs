use super::*;
use crate::engine::{Control, End, gather, run};
use crate::io::SourceText;
use crate::study::{Trials, parse};
use crate::{plan, stats};
use std::sync::atomic::AtomicBool;

/// Four channels with dead ones among them, figures that are missed, gains of a lot alike where it has a size.
fn plan(lot: Option<u64>, trials: u64) -> Plan {
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
    plan::compile(&parse(&source).expect("the study is right"), &text)
}

fn control(threads: usize) -> Control<'static> {
    static NEVER: AtomicBool = AtomicBool::new(false);
    Control { threads, interrupt: &NEVER }
}

fn range(plan: &Plan, trials: Range<u64>) -> Gathered {
    let (gathered, end) = gather(plan, trials, control(1), |_| Ok(())).expect("the run ends well");
    assert_eq!(end, End::Done);
    gathered
}

/// Written down and read again, as between machines.
fn bytes(gathered: &Gathered) -> Vec<u8> {
    postcard::to_stdvec(gathered).expect("it can be written down")
}

fn read(bytes: &[u8]) -> Gathered {
    postcard::from_bytes(bytes).expect("it can be read")
}

/// Numbers below a bound, by a fixed rule.
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, bound: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
        (self.0 >> 33) % bound
    }
}

/// Splits at random, at chunk ends and between them, puts the parts together in a random order, and compares.
fn split(plan: &Plan, rounds: u64, numbers: &mut Numbers) {
    let trials = plan.trials.most();
    let whole = bytes(&range(plan, 0..trials));
    for round in 0..rounds {
        let mut cuts: Vec<u64> = (0..numbers.below(9)).map(|_| numbers.below(trials)).collect();
        if round % 3 == 0 {
            cuts.iter_mut().for_each(|cut| *cut = *cut / CHUNK as u64 * CHUNK as u64);
        }
        cuts.extend([0, trials]);
        cuts.sort_unstable();
        cuts.dedup();
        let mut parts: Vec<Vec<u8>> =
            cuts.windows(2).map(|ends| bytes(&range(plan, ends[0]..ends[1]))).collect();
        (1..parts.len()).for_each(|i| parts.swap(i, numbers.below(1 + i as u64) as usize));
        let mut joined = Gathered::new(plan);
        parts.iter().for_each(|part| joined.merge(plan, read(part)).expect("the trials are apart"));
        assert!(bytes(&joined) == whole, "round {round}, cut at {cuts:?}");
    }
}

#[test]
fn any_split_put_together_in_any_order_is_the_run_in_one_piece() {
    let mut numbers = Numbers(3);
    split(&plan(None, 1000), 500, &mut numbers);
    // Lots that end within chunks, and one that is longer than some parts.
    split(&plan(Some(37), 700), 250, &mut numbers);
    split(&plan(Some(300), 700), 250, &mut numbers);
}

/// More trials than values are kept of: what was kept by one part and counted by another comes to the same.
#[test]
fn parts_that_keep_values_and_parts_that_count_them_come_to_the_same() {
    let mut plan = plan(None, stats::column::EXACT + 200);
    plan.calibrations.truncate(1);
    plan.courses.truncate(1);
    split(&plan, 4, &mut Numbers(8));
}

#[test]
fn a_summary_is_that_of_the_run() {
    for lot in [None, Some(37)] {
        let plan = plan(lot, 1000);
        let run = run(&plan, control(2), |_| Ok(())).expect("the run ends well").summary.expect("trials");
        let mut joined = range(&plan, 333..1000);
        assert!(joined.clone().summary(&plan).is_some_and(|of| of.trials == 667));
        joined.merge(&plan, range(&plan, 0..200)).expect("apart");
        // What lacks trials between others is no run.
        assert!(joined.clone().summary(&plan).is_none());
        assert_eq!(joined.ranges(), [0..200, 333..1000]);
        joined.merge(&plan, range(&plan, 200..333)).expect("apart");
        assert_eq!((joined.ranges().as_slice(), joined.trials()), (std::slice::from_ref(&(0..1000)), 1000));
        let joined = joined.summary(&plan).expect("trials");
        assert_eq!(format!("{joined:?}"), format!("{run:?}"));
    }
}

#[test]
fn what_is_not_apart_is_refused() {
    let plan = plan(None, 1000);
    let mut some = range(&plan, 0..200);
    let before = bytes(&some);
    assert_eq!(some.merge(&plan, range(&plan, 199..201)), Err(CannotMerge::Overlap(199..200)));
    let other = Plan { seed: 12, ..plan.clone() };
    assert_eq!(some.merge(&plan, range(&other, 200..210)), Err(CannotMerge::OtherUnits));
    assert_eq!(bytes(&some), before);
    some.merge(&plan, Gathered::new(&plan)).expect("nothing is apart from all");
    assert_eq!(bytes(&some), before);
    let other = Plan { trials: Trials::Fixed(1), ..plan.clone() };
    assert_eq!(bytes(&range(&other, 0..200)), before);
}
