//! The studies at the start of a campaign, with their files.

use std::path::Path;

/// A study with all that it needs, by names in a folder of its own; the study is the first.
pub struct Origin {
    /// Work for a unit: channels times calibration plans.
    pub load: usize,
    pub files: Vec<(String, Vec<u8>)>,
    /// Addresses of its values and the values, as for `--set`.
    pub values: Vec<(String, String)>,
    /// Addresses of normal distributions, and their spreads.
    pub distributions: Vec<(String, String)>,
    /// Names of its calibration plans.
    pub plans: Vec<String>,
}

/// Name of the study in its folder.
pub const STUDY: &str = "study.toml";

/// Every study of the project and of its tests.
pub fn origins() -> Vec<Origin> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut all = Vec::new();
    for folder in ["studies", "tests/data", "tests/data/layouts"] {
        let mut studies: Vec<_> = entries(&root.join(folder));
        studies.retain(|path| path.extension().is_some_and(|of| of == "toml"));
        all.extend(studies.iter().filter_map(|study| origin(study)));
    }
    assert!(all.len() > 15, "the studies are where they are looked for");
    all
}

fn entries(folder: &Path) -> Vec<std::path::PathBuf> {
    let entries = std::fs::read_dir(folder).expect("a folder of the project");
    let mut paths: Vec<_> = entries.map(|entry| entry.expect("an entry").path()).collect();
    paths.sort();
    paths
}

fn origin(study: &Path) -> Option<Origin> {
    let text = std::fs::read_to_string(study).expect("a study of the project");
    let table: toml::Table = text.parse().ok()?;
    // Documents that hold pieces of a study are none.
    table.get("array")?;
    let folder = study.parent().expect("a folder");
    let mut files = vec![(STUDY.to_owned(), text.clone().into_bytes())];
    for beside in ["", "parts", "touchstone"] {
        let folder = folder.join(beside);
        for path in if folder.is_dir() { entries(&folder) } else { Vec::new() } {
            let ending = path.extension().and_then(|of| of.to_str()).unwrap_or("");
            let name = path.file_name().expect("a name").to_string_lossy().into_owned();
            let is_named = match ending {
                "csv" | "ts" => text.contains(&name),
                "s2p" => text.contains("touchstone/"),
                _ => false,
            };
            if is_named {
                let name = if beside.is_empty() { name } else { format!("{beside}/{name}") };
                files.push((name, std::fs::read(&path).expect("a file of the project")));
            }
        }
    }
    let (mut values, mut distributions, mut plans) = (Vec::new(), Vec::new(), Vec::new());
    for (key, value) in &table {
        match value {
            toml::Value::Array(items) => {
                for item in items.iter().filter_map(toml::Value::as_table) {
                    let name = item.get("name").and_then(toml::Value::as_str).unwrap_or("");
                    match key.as_str() {
                        "block" => walk(name, item, &mut values, &mut distributions),
                        "calibration" => plans.push(name.to_owned()),
                        _ => {}
                    }
                }
            }
            toml::Value::Table(item) => walk(key, item, &mut values, &mut distributions),
            _ => {}
        }
    }
    let load = count(&table) as usize * plans.len().max(1);
    Some(Origin { load, files, values, distributions, plans })
}

/// About how many channels a study has.
fn count(study: &toml::Table) -> i64 {
    let layout = study.get("array").and_then(|array| array.get("layout"));
    let number = |key: &str| layout.and_then(|of| of.get(key)).and_then(toml::Value::as_integer);
    number("count").unwrap_or(number("columns").unwrap_or(24) * number("rows").unwrap_or(1))
}

fn walk(
    address: &str,
    table: &toml::Table,
    values: &mut Vec<(String, String)>,
    distributions: &mut Vec<(String, String)>,
) {
    for (key, value) in table {
        let address = format!("{address}.{key}");
        match value {
            toml::Value::Table(inner) => {
                if let Some(spread) = inner.get("normal").and_then(|distribution| distribution.get("sd")) {
                    values.push((format!("{address}.sd"), spread.to_string()));
                    distributions.push((address.clone(), spread.to_string()));
                }
                walk(&address, inner, values, distributions);
            }
            toml::Value::Array(_) => {}
            plain => values.push((address, plain.to_string())),
        }
    }
}
