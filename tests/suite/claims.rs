//! No sentence claims what its interval denies: sentences of random studies are read word by word.

use crate::program::Folder;
use serde_json::Value;

/// Words that say which way a quantity goes.
const SIGNS: &[&str] = &[
    "buy", "buys", "cost", "costs", "save", "saves", "gain", "gains", "lose", "loses", "beat", "beats",
    "more", "less", "fewer", "cheaper", "dearer", "rises", "falls", "raises", "lowers", "pay", "pays",
];

/// Words that say that it is not known.
const DOUBTS: &[&str] = &["cannot", "nothing", "whether", "not"];

/// The units of a change; other intervals are of shares, sizes and times.
const UNITS: &[&str] = &["points", "EUR"];

/// An interval of a change in a sentence, and the words of its clause.
#[derive(Debug)]
struct Change<'t> {
    low: f64,
    high: f64,
    clause: Vec<&'t str>,
}

impl Change<'_> {
    fn holds_0(&self) -> bool {
        self.low <= 0.0 && self.high >= 0.0
    }

    fn says(&self, words: &[&str]) -> bool {
        self.clause.iter().any(|word| words.contains(word))
    }

    fn claims_a_sign(&self) -> bool {
        self.says(SIGNS) && !self.says(DOUBTS)
    }
}

/// A word as a number, without brackets, stops and its sign of plus.
fn number(word: &str) -> Option<f64> {
    word.trim_matches(['(', ')', ',', ';', '.', ':']).trim_start_matches('+').parse().ok()
}

/// Every change that is given with its interval, "14.2 points (13.7 to 14.8)", "-0.7 to 0.1 points", "12 EUR (3 to 21)". A clause ends
/// with ";", ":", or a full stop, or at the next interval.
fn changes(text: &str) -> Vec<Change<'_>> {
    let words: Vec<&str> = text.split_whitespace().collect();
    let is_end = |word: &str| word.ends_with([';', ':', '.']) || word.ends_with("),");
    let mut found = Vec::new();
    for to in (1..words.len().saturating_sub(1)).filter(|at| words[*at] == "to") {
        let Some((low, high)) = number(words[to - 1]).zip(number(words[to + 1])) else { continue };
        let is_change = |at: Option<usize>| {
            at.and_then(|at| words.get(at))
                .is_some_and(|word| UNITS.contains(&word.trim_matches(['(', ')', ',', ';', '.', ':'])))
        };
        let is_bracketed = words[to - 1].starts_with('(');
        // "1.5 points of yield (-0.2 to 3.1)"
        let unit =
            if words[..to - 1].ends_with(&["of", "yield"]) { to.checked_sub(4) } else { to.checked_sub(2) };
        let before = is_bracketed && is_change(unit);
        if !before && !is_change(Some(to + 2)) {
            continue;
        }
        let start = (0..to - 1).rev().find(|at| is_end(words[*at])).map_or(0, |at| at + 1);
        let end = (to + 1..words.len()).find(|at| is_end(words[*at])).unwrap_or(words.len() - 1);
        let bare = |word: &&'_ str| -> bool { number(word).is_none() };
        let clause = words[start..=end].iter().copied().filter(bare);
        let clause = clause.map(|word| word.trim_matches(['(', ')', ',', ';', '.', ':', '"'])).collect();
        found.push(Change { low, high, clause });
    }
    found
}

/// Negative control: the checks detect sentences that rely on a value alone.
#[test]
fn a_claim_that_its_interval_denies_is_seen() {
    for (text, claims) in [
        ("shifter.bits 6 is enough: from 6 to 7 costs 1.5 points of yield (-0.2 to 3.1); no value", true),
        ("from 6 to 7 costs 1.5 points (-0.2 to 3.1).", true),
        ("from 5 to 6 buys 0.3 points (-0.1 to 0.7); about 9 would.", true),
        ("is not shown to differ in cost: it costs 3 EUR (-1 to 7) a good unit more.", true),
        ("It saves -3 to 5 EUR a good unit.", true),
        ("from 6 to 7 cannot tell (-0.7 to 0.1 points of yield).", false),
        ("12 min more buy nothing that 1500 units show: -0.3 to 0.1 points; about 9000 would.", false),
        ("it beats \"b\" by 3.1 points (2.8 to 3.4).", false),
        (
            "from 5 to 6 cannot tell (-1 to 2 points of yield), from 6 to 7 buys 3 points of yield (-1 to 7).",
            true,
        ),
    ] {
        let found = changes(text);
        let is_wrong = found.iter().any(|of| of.holds_0() && of.claims_a_sign());
        assert_eq!(is_wrong, claims, "{text}: {found:?}");
    }
}

/// A generator of its own, SplitMix64, so that the studies stay the same.
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    fn within(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.next()
    }
}

/// A small study whose plans differ by little.
fn study(dice: &mut Dice, number: usize) -> String {
    let [count, bits] = [(4.0, 8.0), (3.0, 6.0)].map(|(low, high)| dice.within(low, high + 0.99) as u32);
    let lead = dice.within(0.1, 0.6);
    format!(
        "title = \"random {number}\"\nseed = {}\ntrials = {}\nfrequencies = [\"10 GHz\"]\ntemperatures = [\"{:.0} degC\"]\n\
         [array]\nlayout = {{ kind = \"linear\", count = {count}, spacing = \"0.5 wavelength\" }}\n\
         [[beam]]\nname = \"ahead\"\ntheta = \"{:.1} deg\"\n\
         [[block]]\nname = \"lead\"\nkind = \"cable\"\nvelocity_factor = 0.7\n\
         phase_temperature = {{ nominal = \"-30 ppm/K\", normal = {{ sd = \"{:.1} ppm/K\" }} }}\n\
         length = {{ nominal = \"900 mm\", normal = {{ sd = \"{lead:.2} mm\" }}, inspection = {{ accept = \"{:.2} mm\", gauge = {{ sd = \"{:.2} mm\" }} }} }}\n\
         [[block]]\nname = \"driver\"\nkind = \"amplifier\"\ngain = {{ nominal = \"10 dB\", normal = {{ sd = \"0.5 dB\" }} }}\n\
         phase = {{ normal = {{ sd = \"{:.1} deg\" }} }}\n\
         [[block]]\nname = \"shifter\"\nkind = \"phase_shifter\"\nbits = {bits}\nbit_phase_error = {{ normal = {{ sd = \"{:.1} deg\" }} }}\n\
         [bench]\nreceiver = {{ noise = \"{:.2} dB\", resolution = \"0.01 dB\" }}\n\
         reconnection = {{ phase = {{ normal = {{ sd = \"{:.1} deg\" }} }} }}\ntime = {{ set_up = \"5 min\", reading = \"50 ms\" }}\n\
         [[calibration]]\nname = \"as built\"\n\
         [[calibration]]\nname = \"quick\"\nalign = {{ method = \"fit\", codes = 4 }}\noffsets = \"phases\"\n\
         [[calibration]]\nname = \"long\"\nalign = {{ method = \"fit\", codes = 8 }}\noffsets = \"phases\"\n\
         [[calibration]]\nname = \"climb\"\nalign = {{ method = \"climb\" }}\n\
         [[limit]]\nfigure = \"residual_phase_max\"\nat_most = \"{:.0} deg\"\n\
         [cost]\ncurrency = \"EUR\"\nunits_a_year = 300\nchannel = 40\nunit = 80\nbench_minute = {:.3}\nrejected_part = 0.5\n",
        number + 1,
        dice.within(1024.0, 1400.0) as u32,
        dice.within(-20.0, 60.0),
        dice.within(-30.0, 30.0),
        dice.within(0.5, 6.0),
        lead * dice.within(0.8, 2.5),
        lead * dice.within(0.05, 0.4),
        dice.within(2.0, 12.0),
        dice.within(0.3, 2.5),
        dice.within(0.02, 0.3),
        dice.within(0.1, 3.0),
        dice.within(6.0, 22.0),
        dice.within(0.001, 3.0),
    )
}

/// The sentences of a command on a study: its verdict and its lines outside tables.
fn said(folder: &Folder, arguments: &[&str]) -> String {
    let ended = folder.run(&[arguments, &["--quiet"]].concat());
    // A demand that is not met has an answer too.
    assert!(matches!(ended.code, Some(0 | 1)), "{arguments:?}: {}", ended.err);
    let text = ended.out;
    let paragraphs = text.split("\n\n").map(|paragraph| {
        let lines = paragraph.lines().filter(|line| !line.trim().contains("  "));
        lines.collect::<Vec<_>>().join(" ")
    });
    paragraphs.collect::<Vec<_>>().join(" . ")
}

/// The highest yield is claimed where every difference from it is below 0, and only found where one is not.
fn check_superlative(folder: &Folder, words: &str) {
    let claimed =
        words.split_once("\" has the highest yield,").and_then(|(before, _)| before.rsplit('"').next());
    let found =
        words.split_once("he highest yield found is that of \"").and_then(|(_, rest)| rest.split('"').next());
    let Some(best) = claimed.or(found) else { panic!("no plan is on top: {words}") };
    folder.done(&["compare", "study.toml", "--quiet", "--against", best, "--json", "c.json"]);
    let json = folder.json("c.json");
    let is_behind = |of: &Value| of["yield"]["difference"]["high"].as_f64().expect("a number") < 0.0;
    let all_behind = json["differences"].as_array().expect("differences").iter().all(is_behind);
    assert_eq!(claimed.is_some(), all_behind, "{best}: {words}");
}

#[test]
fn no_sentence_of_a_random_study_claims_a_sign_that_its_interval_denies() {
    let mut dice = Dice(20);
    let (mut shown, mut unclear) = (0, 0);
    for number in 0..6 {
        let study = study(&mut dice, number);
        let folder = Folder::with(&study);
        let commands: [&[&str]; 7] = [
            &["compare", "study.toml"],
            &["sweep", "study.toml", "--vary", "shifter.bits=3..7"],
            &["sweep", "study.toml", "--vary", "driver.phase.sd=4 deg, 5 deg, 6 deg"],
            &["budget", "study.toml"],
            &[
                "limit",
                "study.toml",
                "--find",
                "lead.length.sd=0.01 mm..5 mm",
                "--yield",
                "0.5",
                "--calibration",
                "long",
            ],
            &["cost", "study.toml"],
            &["inspect", "study.toml", "--source", "lead.length", "--calibration", "as built"],
        ];
        for arguments in commands {
            let said = said(&folder, arguments);
            for change in changes(&said) {
                let is_sure = !change.holds_0();
                assert!(is_sure || !change.claims_a_sign(), "{arguments:?} of\n{study}\n{change:?}\n{said}");
                shown += usize::from(is_sure && change.says(SIGNS));
                unclear += usize::from(!is_sure);
            }
            if arguments[0] == "compare" {
                let words = said.split_whitespace().collect::<Vec<_>>().join(" ");
                check_superlative(&folder, &words);
            }
        }
    }
    // There is something to read on both sides.
    assert!(shown >= 20 && unclear >= 10, "{shown} shown, {unclear} unclear");
}
