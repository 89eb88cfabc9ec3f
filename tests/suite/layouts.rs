//! Studies of every layout, run by the program.

use crate::program::Folder;

const STUDIES: [(&str, &str); 3] = [
    ("triangular", include_str!("../data/layouts/triangular.toml")),
    ("ring", include_str!("../data/layouts/ring.toml")),
    ("spiral", include_str!("../data/layouts/spiral.toml")),
];

fn folder_of(study: &str) -> Folder {
    let folder = Folder::with(study);
    folder.put("spiral.csv", include_str!("../data/layouts/spiral.csv"));
    folder.put("spiral-amplitudes.csv", include_str!("../data/layouts/spiral-amplitudes.csv"));
    folder
}

#[test]
fn studies_of_every_layout_run() {
    for ((name, study), says) in STUDIES.iter().zip([
        "42 elements on a triangular lattice: 6 rows 15 mm",
        "24 elements around a ring of radius 59.9585 mm",
        "30 elements at places of their own, the closest",
    ]) {
        let folder = folder_of(study);
        let checked = folder.done(&["check", "study.toml"]);
        let words = checked.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(words.contains(says), "{name}\n{checked}");
        folder.done(&["run", "study.toml", "--quiet"]);
    }
}
