//! Thousands of corrupted and changed studies, with their files, for the real program: it always ends by itself with one of its exit
//! codes, gives the reason of a failure, and leaves complete outputs or none.
//!
//! `cargo bench --bench campaign` runs the same for hours.

mod case;
mod changes;
mod commands;
mod drive;
mod judge;
pub mod launch;
mod studies;
mod tests;

pub use case::names;
use drive::Campaign;
pub use judge::faults_of_file;
use std::path::Path;

/// Cases that the suite launches; a run of the bench with the same seed begins with them.
const CASES: u64 = 3000;
const SEED: u64 = 1;

#[test]
fn whatever_it_is_given_it_ends_well() {
    let kept = Path::new(env!("CARGO_TARGET_TMPDIR")).join("campaign");
    let found = Campaign { seed: SEED, numbers: 0..CASES, until: None, workers: 2 }.run(&kept);
    println!("{found}");
    assert!(found.failures.is_empty(), "{found}");
    // The campaign is one: every command does what it is asked and refuses what is wrong, each often enough.
    for command in ["check", "run", "unit", "sheet", "compare", "sweep", "limit", "budget", "inspect", "cost"]
    {
        let count = |ends: &[&str]| -> u64 {
            ends.iter().filter_map(|end| found.ends.get(&(command, (*end).to_owned()))).sum()
        };
        let (done, refused) = (count(&["exit 0", "exit 1"]), count(&["exit 2"]));
        assert!(done.min(refused) >= CASES / 300, "{command}: {done} done, {refused} refused\n{found}");
    }
}

/// The same case each time, and another for another number.
#[test]
fn a_case_is_known_by_its_seed_and_number() {
    let origins = studies::origins();
    let case = |seed, number| case::Case::new(&origins, seed, number);
    assert_eq!(case(7, 21).files, case(7, 21).files);
    assert_eq!(case(7, 21).words(), case(7, 21).words());
    let differ = (0..20).filter(|number| case(7, *number).files[0].1 != case(8, *number).files[0].1);
    assert!(differ.count() >= 15);
}
