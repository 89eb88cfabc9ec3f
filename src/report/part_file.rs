//! A part of the work on the disk: a line of JSON that names what it is a part of, then the results in binary.

use crate::decide::Part;
use crate::error::{Error, Result};
use crate::io::Output;
use crate::io::file::{hash, read_bytes};
use serde::{Deserialize, Serialize};
use std::io::Write;
use std::path::Path;

/// The format of such files: another number is another format.
const FORMAT: u32 = 1;

/// What a part is of, and how far it is.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Header {
    /// The format of the file.
    pub beamyield_part: u32,
    /// Version of the program.
    pub version: String,
    /// The command line without what it writes: the command and its arguments.
    pub command: Vec<String>,
    /// Fingerprint of the study with all of its changes.
    pub study_hash: String,
    /// The seed.
    pub seed: u64,
    /// Names of the calibration plans.
    pub plans: Vec<String>,
    /// What varies, as typed.
    pub vary: Vec<String>,
    /// Most units of a design, and the rule that stops earlier.
    pub trials: u64,
    /// The rule that stops earlier, in words; empty where there is none.
    pub stopping_rule: String,
    /// Number of the shard and how many there are.
    pub shard: Option<[u64; 2]>,
    /// Whether all of it is done.
    pub is_done: bool,
    /// Trials done, over all designs.
    pub trials_done: u64,
    /// Bytes of the file beside it that holds every unit, where units are kept.
    pub units_bytes: Option<u64>,
    /// Bytes after the first line.
    pub payload_bytes: u64,
    /// Their hash.
    pub payload_hash: String,
}

impl Header {
    /// Of no results yet; the words are those of the command line.
    pub(crate) fn new(command: Vec<String>) -> Header {
        Header {
            beamyield_part: FORMAT,
            version: env!("CARGO_PKG_VERSION").to_owned(),
            command,
            study_hash: String::new(),
            seed: 0,
            plans: Vec::new(),
            vary: Vec::new(),
            trials: 0,
            stopping_rule: String::new(),
            shard: None,
            is_done: false,
            trials_done: 0,
            units_bytes: None,
            payload_bytes: 0,
            payload_hash: String::new(),
        }
    }

    /// What keeps this part from being gone on with as `wanted`, or merged with it; `None` where nothing does.
    pub(crate) fn differs(&self, wanted: &Header) -> Option<String> {
        let kind = |of: &Header| of.command.first().cloned().unwrap_or_default();
        let shard =
            |of: &Header| of.shard.map_or("the whole".to_owned(), |[number, of]| format!("{number}/{of}"));
        let fields = [
            ("version of the program", self.version.clone(), wanted.version.clone()),
            ("command", kind(self), kind(wanted)),
            ("study_hash", self.study_hash.clone(), wanted.study_hash.clone()),
            ("seed", self.seed.to_string(), wanted.seed.to_string()),
            ("plans", self.plans.join(", "), wanted.plans.join(", ")),
            ("vary", self.vary.join("; "), wanted.vary.join("; ")),
            ("stopping rule", self.stopping_rule.clone(), wanted.stopping_rule.clone()),
            ("trials", self.trials.to_string(), wanted.trials.to_string()),
            ("shard", shard(self), shard(wanted)),
        ];
        let shown = |text: &str| if text.is_empty() { "none".to_owned() } else { text.to_owned() };
        let mut differing = fields.into_iter().filter(|(_, mine, theirs)| mine != theirs);
        let (name, mine, theirs) = differing.next()?;
        Some(format!("its {name} is {}, here it is {}", shown(&mine), shown(&theirs)))
    }
}

/// Writes a part.
///
/// # Errors
/// [`Error::File`] when the machine fails; what stood there before stays then.
pub(crate) fn write_part(mut to: Output, header: &mut Header, part: &Part) -> Result<()> {
    let payload = postcard::to_stdvec(part).map_err(|error| to.failure(std::io::Error::other(error)))?;
    header.trials_done = part.trials();
    (header.payload_bytes, header.payload_hash) = (payload.len() as u64, format!("{:016x}", hash(&payload)));
    let mut text = serde_json::to_string(header).map_err(|error| to.failure(error))?;
    text.push('\n');
    to.write_text(&text)?;
    to.write_all(&payload).map_err(|source| to.failure(source))?;
    to.finish()
}

/// Reads a part; `None` where there is no file.
///
/// # Errors
/// [`Error::Part`] when it is no such file, or damaged; [`Error::File`] when it cannot be read.
pub(crate) fn read_part(path: &Path) -> Result<Option<(Header, Part)>> {
    let refuse = |reason: &str| Err(Error::Part { path: path.to_owned(), reason: reason.to_owned() });
    let Some(bytes) = read_bytes(path)? else { return Ok(None) };
    let end = bytes.iter().position(|byte| *byte == b'\n').unwrap_or(bytes.len());
    let (head, payload) = (&bytes[..end], bytes.get(end + 1..).unwrap_or_default());
    let Ok(header) = serde_json::from_slice::<Header>(head) else {
        return refuse("it is no part of a run: its first line does not say what it is a part of");
    };
    if header.beamyield_part != FORMAT {
        let format = header.beamyield_part;
        return refuse(&format!("its format is {format}, and this program reads format {FORMAT}"));
    }
    let is_whole = header.payload_bytes == payload.len() as u64
        && header.payload_hash == format!("{:016x}", hash(payload));
    match postcard::from_bytes(if is_whole { payload } else { &[] }) {
        Ok(part) => Ok(Some((header, part))),
        Err(_) => refuse("it is damaged"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decide::{Keeper, Values, build, whole};
    use crate::engine::{Control, Outcomes};
    use crate::io::SourceText;
    use crate::random::{Key, Stream};
    use rand::RngExt;

    struct Nothing;

    impl Keeper for Nothing {
        fn take(&mut self, _: &[Outcomes]) -> Result<()> {
            Ok(())
        }
    }

    /// Bytes changed, cut, doubled, swapped, put in: an error each time, or what was written.
    #[test]
    fn damaged_files_are_refused() {
        let text = include_str!("../../tests/data/pair.toml");
        let source = SourceText { name: "pair.toml".into(), text: text.into() };
        let models = [crate::model::compile(&crate::study::parse(&source).expect("a study"), text)];
        let mut part = Part::default();
        build(&models, &whole(&models), Values::Kept, &mut part, Control::default(), &mut Nothing)
            .expect("a run");
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("a.part");
        let mut header = Header { seed: 3, ..Header::new(vec!["run".into(), "pair.toml".into()]) };
        write_part(Output::create(&path, &[]).expect("a file"), &mut header, &part).expect("room");
        let (read, _) = read_part(&path).expect("a part").expect("a file");
        assert_eq!((&read, read.trials_done), (&header, 300));

        let whole = std::fs::read(&path).expect("a file");
        let mut stream = Stream::new(Key::new(1, "damage"), 0, 0, 0);
        let mut refused = 0;
        for _ in 0..10_000 {
            let mut bytes = whole.clone();
            let (at, other) = (stream.random_range(0..whole.len()), stream.random_range(0..whole.len()));
            match stream.random_range(0..5) {
                0 => bytes[at] ^= 1 << stream.random_range(0..8),
                1 => bytes.truncate(at),
                2 => bytes.insert(at, stream.random_range(0..=255)),
                3 => bytes.swap(at, other),
                _ => bytes.extend_from_within(at..),
            }
            let mut output = Output::create(&path, &[]).expect("a file");
            output.write_all(&bytes).expect("room");
            output.finish().expect("room");
            match read_part(&path) {
                Err(Error::Part { .. }) => refused += 1,
                Err(other) => panic!("{other}"),
                // The first line is text: a word of it may be another one, which comparing it shows. What follows it is as it was.
                Ok(read) => {
                    let payload = |of: &[u8]| {
                        of.split(|byte| *byte == b'\n').skip(1).map(<[u8]>::to_vec).collect::<Vec<_>>()
                    };
                    assert!(read.is_some() && payload(&bytes) == payload(&whole));
                }
            }
        }
        assert!(refused > 9000, "{refused}");
    }
}
