//! Counts the source files that name a registered kind.

use super::{read, root};
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

/// A part of a source text; comments are none.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Token {
    Word(String),
    Text(String),
    Sign(char),
}

use Token::{Sign, Text, Word};

/// The parts of a source text.
fn tokens(text: &str) -> Vec<Token> {
    let letters: Vec<char> = text.chars().collect();
    let mut tokens = Vec::new();
    let mut at = 0;
    while let Some(letter) = letters.get(at).copied() {
        let next = letters.get(at + 1).copied();
        let begin = at;
        if letter == '/' && next == Some('/') {
            at = end_of(&letters, at, |letter| letter != '\n');
        } else if letter == 'r' && letters[at + 1..].starts_with(&['"']) {
            at = end_of(&letters, at + 2, |letter| letter != '"') + 1;
            tokens.push(Text(letters[begin + 2..at - 1].iter().collect()));
        } else if letters[at..].starts_with(&['r', '#', '"']) {
            let rest = at + 3..letters.len();
            let end = rest.into_iter().find(|at| letters[*at..].starts_with(&['"', '#']));
            at = end.map_or(letters.len(), |end| end + 2);
            tokens.push(Text(letters[begin + 3..at - 2].iter().collect()));
        } else if letter == '"' {
            at += 1;
            while letters[at] != '"' {
                at += if letters[at] == '\\' { 2 } else { 1 };
            }
            at += 1;
            tokens.push(Text(letters[begin + 1..at - 1].iter().collect()));
        } else if letter == '\'' && (next == Some('\\') || letters.get(at + 2) == Some(&'\'')) {
            // A letter, where a lifetime is none.
            at = end_of(&letters, at + 3, |letter| letter != '\'' && next == Some('\\'));
            at += usize::from(letters.get(at) == Some(&'\''));
        } else if is_of_word(letter) {
            at = end_of(&letters, at, is_of_word);
            tokens.push(Word(letters[begin..at].iter().collect()));
        } else {
            at += 1;
            tokens.extend((!letter.is_whitespace()).then_some(Sign(letter)));
        }
    }
    tokens
}

fn is_of_word(letter: char) -> bool {
    letter.is_alphanumeric() || letter == '_'
}

fn end_of(letters: &[char], from: usize, goes_on: impl Fn(char) -> bool) -> usize {
    (from..letters.len()).find(|at| !goes_on(letters[*at])).unwrap_or(letters.len())
}

/// Leaves out the items that only tests see.
fn without_tests(tokens: Vec<Token>) -> Vec<Token> {
    let attribute = self::tokens("#[cfg(test)]");
    let mut kept = Vec::new();
    let mut rest = tokens.as_slice();
    while let Some(token) = rest.first() {
        let Some(item) = rest.strip_prefix(attribute.as_slice()) else {
            kept.push(token.clone());
            rest = &rest[1..];
            continue;
        };
        let mut depth = 0;
        let is_end = |token: &Token| {
            depth += i32::from(*token == Sign('{')) - i32::from(*token == Sign('}'));
            depth == 0 && [Sign('}'), Sign(';')].contains(token)
        };
        let end = item.iter().position(is_end).unwrap_or(item.len() - 1);
        rest = &item[end + 1..];
    }
    kept
}

/// A list of kinds in the source.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Registry {
    /// The macro that the list is given to.
    pub list: &'static str,
    /// The file that the list stands in, below `src`.
    pub file: &'static str,
    /// The folder of the kinds' files, below `src`.
    pub folder: &'static str,
    /// The enum with a variant for each kind.
    pub kinds: &'static str,
    /// Whether studies name the kinds, or the command line does.
    pub is_of_studies: bool,
}

/// One of them.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Kind {
    /// Its module, whose name is its word in a study or on the command line.
    pub module: String,
    /// Its type.
    pub named: String,
}

impl Registry {
    /// The kinds that the list holds.
    pub(crate) fn list(&self) -> Vec<Kind> {
        listed(&tokens(&read(root().join("src").join(self.file))), self.list)
    }

    fn top(&self) -> &str {
        self.folder.split('/').next().unwrap_or(self.folder)
    }

    /// Whether a file names a kind: its type, its module in a path, or its word as a text. A name that something else has too is the
    /// kind's in the same part of the source, and behind the registry's enum. In the registry's file names beyond the list's line count.
    fn is_named_in(&self, kind: &Kind, source: &Source, is_shared: bool) -> bool {
        let is_near = source.path.starts_with(&format!("{}/", self.top()));
        let folder = self.folder.rsplit('/').next();
        let tokens = &source.tokens;
        let mut bare = 0;
        for (at, token) in tokens.iter().enumerate() {
            // The two names before this one in a path, if it stands in one.
            let before = |names: usize| match at.checked_sub(3 * names) {
                Some(from) if tokens[from + 1..from + 3] == [Sign(':'), Sign(':')] => match &tokens[from] {
                    Word(name) => Some(name.as_str()),
                    _ => None,
                },
                _ => None,
            };
            let is_in_path = tokens[at + 1..].starts_with(&[Sign(':'), Sign(':')]);
            match token {
                Word(word) if *word == kind.named => {
                    let of = before(1);
                    let is_kind = match of {
                        Some(of) if of == self.kinds || of == "Self" && is_near => true,
                        // A variant of something else.
                        Some(of) if of.starts_with(|letter: char| letter.is_uppercase()) => false,
                        Some(of) if is_shared => of == kind.module && is_near,
                        Some(_) => true,
                        None => is_near || !is_shared,
                    };
                    bare += u32::from(is_kind);
                }
                Word(word) if *word == kind.module && is_in_path => {
                    let is_listed = source.path == self.file && before(1).is_none();
                    let is_kind = match before(1) {
                        Some(of) => Some(of) == folder || of == "self" || (of == "super" && is_near),
                        None => source.path.starts_with(&format!("{}/", self.folder)),
                    };
                    if is_kind && !is_listed {
                        return true;
                    }
                }
                Text(text) if *text == kind.module && (is_near || self.is_of_studies && !is_shared) => {
                    return true;
                }
                _ => {}
            }
        }
        bare > u32::from(source.path == self.file)
    }

    /// Files other than a kind's own that name it, but for its line in the registry.
    /// `is_shared` says whether another list has a kind of its name.
    pub(crate) fn places(&self, kind: &Kind, is_shared: bool, sources: &[Source]) -> BTreeSet<String> {
        let own = format!("{}/{}", self.folder, kind.module);
        let is_own =
            |path: &str| path.strip_prefix(&own).is_some_and(|rest| rest == ".rs" || rest.starts_with('/'));
        let is_shared =
            is_shared || sources.iter().map(|source| source.definitions(&kind.named)).sum::<usize>() > 1;
        let others = sources.iter().filter(|source| !is_own(&source.path));
        let naming = others.filter(|source| self.is_named_in(kind, source, is_shared));
        naming.map(|source| source.path.clone()).collect()
    }
}

/// The kinds of a list `name! { module::Type, ... }`.
fn listed(tokens: &[Token], name: &str) -> Vec<Kind> {
    let head = [Word(name.to_owned()), Sign('!'), Sign('{')];
    let begin =
        tokens.windows(3).position(|of| of == head).unwrap_or_else(|| panic!("no list `{name}!`")) + 3;
    let list = tokens[begin..].split(|token| *token == Sign('}')).next().unwrap_or(&[]);
    let kind = |entry: &[Token]| match entry {
        [.., Word(module), Sign(':'), Sign(':'), Word(named)] => {
            Some(Kind { module: module.clone(), named: named.clone() })
        }
        _ => None,
    };
    list.split(|token| *token == Sign(',')).filter_map(kind).collect()
}

/// A source file that is no test.
#[derive(Clone, Debug)]
pub(crate) struct Source {
    /// Its path below `src`.
    pub path: String,
    tokens: Vec<Token>,
}

impl Source {
    pub(crate) fn new(path: &str, text: &str) -> Source {
        Source { path: path.to_owned(), tokens: without_tests(tokens(text)) }
    }

    /// Types of a name that the file defines.
    fn definitions(&self, name: &str) -> usize {
        let defines = |of: &&[Token]| {
            let is_word = |word: &str| of[0] == Word(word.to_owned());
            ["struct", "enum", "trait", "type"].iter().any(|word| is_word(word))
                && of[1] == Word(name.to_owned())
        };
        self.tokens.windows(2).filter(defines).count()
    }
}

/// All source files but those that only tests see.
pub(crate) fn sources() -> Vec<Source> {
    let mut sources = Vec::new();
    gather(&root().join("src"), &mut sources);
    sources
}

fn gather(folder: &Path, sources: &mut Vec<Source>) {
    for entry in fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        let stem = path.file_stem().expect("a name").to_string_lossy().into_owned();
        if stem == "tests" || is_for_tests(&path, &stem) {
            continue;
        }
        if path.is_dir() {
            gather(&path, sources);
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            let below = path.strip_prefix(root().join("src")).expect("below src");
            sources.push(Source::new(&below.to_string_lossy(), &read(path.clone())));
        }
    }
}

/// Whether the folder's own module declares a file for tests alone.
fn is_for_tests(path: &Path, stem: &str) -> bool {
    let declares = |module: &Path| {
        let text = fs::read_to_string(module).unwrap_or_default();
        text.contains(&format!("#[cfg(test)]\nmod {stem};"))
    };
    path.parent()
        .is_some_and(|folder| declares(&folder.join("mod.rs")) || declares(&folder.with_extension("rs")))
}

const MADE_UP: Registry = Registry {
    list: "fruits",
    file: "garden/fruit/mod.rs",
    folder: "garden/fruit",
    kinds: "Fruit",
    is_of_studies: true,
};

fn kind(module: &str, named: &str) -> Kind {
    Kind { module: module.into(), named: named.into() }
}

#[test]
fn a_list_is_read() {
    let text = "macro_rules! fruits { ($a:ident) => {} }\nfruits! { // the list\n    pub red_apple::RedApple,\n    pear::Pear,\n}";
    assert_eq!(listed(&tokens(text), "fruits"), [kind("red_apple", "RedApple"), kind("pear", "Pear")]);
}

#[test]
fn a_place_that_names_a_kind_is_found() {
    let registry = "fruits! { pear::Pear }";
    let own = "pub struct Pear; impl Pear { const KIND: &str = \"pear\"; }";
    let places = |path: &str, text: &str| {
        let mut sources = vec![
            Source::new(MADE_UP.file, registry),
            Source::new("garden/fruit/pear.rs", own),
            Source::new("garden/fruit/pear/core.rs", "use super::Pear;"),
        ];
        sources.push(Source::new(path, text));
        MADE_UP.places(&kind("pear", "Pear"), false, &sources).into_iter().collect::<Vec<_>>()
    };
    for text in [
        "match of { Fruit::Pear => 1, _ => 0 }",
        "use crate::garden::fruit::Pear;",
        "let word = \"pear\";",
        "let quote = '\"'; let tick = '\\''; f::<'a>(Pear)",
        "use crate::garden::fruit::pear::CORES;",
        "#[cfg(test)]\nmod tests {\n    use Pear;\n}\nfn f() -> Pear {}",
    ] {
        assert_eq!(places("kitchen.rs", text), ["kitchen.rs"], "{text}");
    }
    for text in [
        "// Pear",
        "/// See [`Pear`].",
        "let text = \"a Pear, \\\"pear\\\"\";",
        "let pear = pear + 1; PearTree(pears)",
        "#[cfg(test)]\nmod tests {\n    use Pear;\n}",
        "use crate::tree::pear::Leaf;",
        "let shape = Shape::Pear;",
    ] {
        assert!(places("kitchen.rs", text).is_empty(), "{text}");
    }
    // Another type of the same name is another thing, but for the registry's own part of the source.
    assert!(places("kitchen.rs", "struct Pear; fn f(of: Pear) {}").is_empty());
    assert_eq!(places("kitchen.rs", "struct Pear; fn f(of: Fruit::Pear) {}"), ["kitchen.rs"]);
    assert_eq!(places("garden/tree.rs", "enum Pear {} fn f(of: Pear) {}"), ["garden/tree.rs"]);
}

#[test]
fn a_second_name_in_the_registry_is_found() {
    let places = |text: &str| {
        let sources =
            [Source::new(MADE_UP.file, text), Source::new("garden/fruit/pear.rs", "pub struct Pear;")];
        MADE_UP.places(&kind("pear", "Pear"), false, &sources)
    };
    assert!(places("fruits! { pear::Pear }").is_empty());
    for more in [
        "fn f(of: Fruit) -> bool { of == Fruit::Pear }",
        "use self::pear::CORES;",
        "const WORD: &str = \"pear\";",
    ] {
        assert_eq!(places(&format!("fruits! {{ pear::Pear }} {more}")).len(), 1, "{more}");
    }
}
