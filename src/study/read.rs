//! Reading and cross-checking a study file.

use crate::array::{Element, LAYOUT, Layout, MOST_A_SIDE, SPEED_OF_LIGHT, TAPER, Taper, TaperBy};
use crate::bench::{self, Calibration, Clock, Fixture, Receiver};
use crate::chain::{self, Block, Chain, MOST_BITS, Named};
use crate::figure::Figure;
use crate::io::{Diagnostic, Document, Findings, SourceText, Span, Table, suggest};
use crate::random::{Grouping, Sources, Tolerance};
use crate::study::cost::{COST, Names};
use crate::study::keys::{
    AFTER, ARRAY, BEAMS, BENCH, BLOCKS, CALIBRATIONS, COMMAND_FREQUENCY, CONFIDENCE, DRIVE, FIGURES,
    FREQUENCIES, REFERENCE_PLANE, SEED, TITLE,
};
use crate::study::limit::LIMITS;
use crate::study::temperature::{AT_BENCH, IN_USE, Temperatures};
use crate::study::{Beam, Cost, DeadChannels, Limit, Offer, Replacing, Study, Trials, Written, beam, size};

/// Reads a study.
///
/// Errors: every finding of the text, in the order of their places, and of each offer that makes something of it that cannot be read.
pub(crate) fn parse(source: &SourceText) -> Result<Study, Vec<Diagnostic>> {
    let mut study = parse_alone(source)?;
    let findings = Findings::default();
    study.of_offers = study.offers.iter().flat_map(|offer| offer.check(source, &findings)).collect();
    if findings.has_errors() { Err(findings.into_vec()) } else { Ok(study) }
}

/// Reads a study, its offers not tried.
pub(super) fn parse_alone(source: &SourceText) -> Result<Study, Vec<Diagnostic>> {
    let document = Document::parse(SourceText { name: source.name.clone(), text: source.text.clone() });
    let findings = Findings::default();
    let study = read(&document.root(&findings));
    match study {
        Some(study) if !findings.has_errors() => Ok(Study { companions: document.companions(), ..study }),
        _ => Err(findings.into_vec()),
    }
}

/// `None` where a part is missing without which nothing can be made up; the error is recorded by then.
pub(super) fn read(root: &Table) -> Option<Study> {
    let title = root.read(&TITLE);
    let seed = root.read(&SEED);
    let trials = Trials::read(root);
    let confidence = root.read(&CONFIDENCE);
    let (frequencies, command_frequency) = read_frequencies(root);
    let used = if root.is_sound(FREQUENCIES) { frequencies.as_slice() } else { &[] };
    let figures = read_figures(root);

    let array = root.required_table(ARRAY, ARRAY.example)?;
    let layout = Layout::read(&array, SPEED_OF_LIGHT / command_frequency);
    let (taper, taper_by) = Taper::read(&array, layout.as_ref().filter(|_| array.is_sound(LAYOUT)));
    let element = Element::read(&array);
    // Without a layout nothing is called too large for it.
    let channels = layout.as_ref().map_or(MOST_A_SIDE as usize, Layout::channels);
    let drive = array.read(&DRIVE);
    let grouping = Grouping::read(root, &array, channels);

    let is_line = layout.as_ref().is_some_and(Layout::is_line);
    let beams = read_beams(root, is_line);
    let names: Vec<String> = beams.iter().map(|beam| beam.name.clone()).collect();

    let blocks = read_blocks(root, &grouping);
    let bench = root.table(BENCH);
    let dead = DeadChannels::read(&array, bench.as_ref(), channels);
    let temperatures = Temperatures::read(root, bench.as_ref());
    if let (None, Some(bench)) = (&blocks, &bench) {
        // Nothing can be said of it, but it is not unknown.
        bench.has(REFERENCE_PLANE);
    }
    let (blocks, spans) = blocks.map_or((None, Vec::new()), |(blocks, spans)| (Some(blocks), spans));
    let mut chain = blocks.and_then(|blocks| make_chain(root, bench.as_ref(), blocks, &spans));
    chain = match (chain, drive) {
        (Some(chain), Some(drive)) => Some(chain.driven_with(drive)),
        (chain, _) => chain,
    };
    if let (Some(chain), false) = (&chain, array.has(DRIVE)) {
        check_drive(root, chain, &spans);
    }
    let (receiver, stability) = Receiver::read(bench.as_ref());
    let fixture = Fixture::read(bench.as_ref());
    let clock = Clock::read(bench.as_ref());

    if taper_by == TaperBy::Attenuators && chain.as_ref().is_some_and(|chain| chain.attenuator().is_none()) {
        array.error(
            array.span_of(TAPER),
            "nothing to set the taper with",
            "the chain has no attenuator that is stepped",
            Some("add a `[[block]]` of kind \"attenuator\", or let the divider set it".into()),
        );
    }
    let states = chain.as_ref().map_or(1 << MOST_BITS, |chain| chain.shifter().states());
    let (calibrations, plans_at) = read_calibrations(root, channels, states, chain.as_ref());
    if let Some(chain) = &mut chain {
        let mut in_use = used.to_vec();
        let on_bench = calibrations.iter().flat_map(|of| of.frequencies(command_frequency));
        let is_sound = root.is_sound(COMMAND_FREQUENCY) && !used.is_empty();
        in_use.extend(on_bench.chain([command_frequency]).filter(|_| is_sound));
        in_use.sort_by(f64::total_cmp);
        in_use.dedup();
        chain.prepare(&in_use, root.findings());
    }
    let limits = root
        .tables(LIMITS)
        .iter()
        .map(|table| Limit::read(table, &names, used, temperatures.used(root)))
        .collect();
    let cost = root.table(COST).map(|table| {
        let plans: Vec<String> = calibrations.iter().map(|of| of.name.clone()).collect();
        let inspected = inspected(grouping, chain.as_ref(), &fixture);
        let parts = chain.as_ref().map(|chain| replaceable(chain, &dead));
        Cost::read(&table, channels, Names { plans: &plans, inspected: &inspected, parts: parts.as_deref() })
    });
    let offers = Offer::read_all(root);
    if let (Some(layout), true) = (&layout, array.is_sound(LAYOUT)) {
        size::check_layout(&array, layout, used, command_frequency);
        if let Some(chain) = &chain {
            size::check_draws(root, chain, grouping);
        }
    }
    let bench_has = |key: &str| bench.as_ref().filter(|bench| bench.has(key));
    let written = Written {
        blocks: spans,
        calibrations: plans_at,
        reference_plane: bench_has(REFERENCE_PLANE.name).is_some(),
        temperatures: root.has(IN_USE).then(|| root.span_of(IN_USE)),
        bench_temperature: bench_has(AT_BENCH.name).map(|bench| bench.span_of(AT_BENCH)),
    };
    Some(Study {
        title,
        seed,
        trials,
        confidence,
        frequencies,
        command_frequency,
        temperatures: temperatures.in_use,
        reference_temperature: temperatures.reference,
        bench_temperature: temperatures.at_bench,
        figures,
        layout: layout?,
        taper,
        taper_by,
        element,
        grouping,
        beams,
        chain: chain?,
        dead,
        receiver,
        stability,
        fixture,
        clock,
        calibrations,
        limits,
        cost,
        offers,
        written,
        companions: Vec::new(),
        of_offers: Vec::new(),
    })
}

fn read_frequencies(root: &Table) -> (Vec<f64>, f64) {
    let listed = root.read(&FREQUENCIES);
    let frequencies: Vec<f64> = listed.iter().map(|(hz, _)| *hz).collect();
    for (i, (hz, span)) in listed.iter().enumerate() {
        if frequencies[..i].contains(hz) {
            let help = "leave one of the two out";
            root.error(span.clone(), "a frequency stands twice", "listed before", Some(help.into()));
        }
    }
    let mut ascending = frequencies.clone();
    ascending.sort_by(f64::total_cmp);
    // The middle one: of an even number, the lower of the two.
    let middle = ascending.get(ascending.len().saturating_sub(1) / 2).copied().unwrap_or(1e9);
    let command = root.read(&COMMAND_FREQUENCY).unwrap_or(middle);
    (frequencies, command)
}

fn read_figures(root: &Table) -> Vec<Figure> {
    let names = || Figure::ALL.iter().map(|figure| figure.name());
    let Some(words) = root.optional_texts(FIGURES.name, FIGURES.example) else { return Figure::usual() };
    let mut figures = Vec::new();
    for (word, span) in words {
        match Figure::from_name(&word) {
            Some(figure) if figures.contains(&figure) => {
                let help = "leave one of the two out";
                root.error(span, format!("figure `{word}` stands twice"), "listed before", Some(help.into()));
            }
            Some(figure) => figures.push(figure),
            None => {
                let help = suggest::instead_of(&word, names());
                root.error(span, format!("unknown figure `{word}`"), "not a figure", Some(help));
            }
        }
    }
    figures
}

fn read_beams(root: &Table, is_line: bool) -> Vec<Beam> {
    let tables = root.required_tables(BEAMS, "no beam", "add `[[beam]]` with `name` and `theta`");
    let beams: Vec<Beam> = tables.iter().map(|table| Beam::read(table, is_line)).collect();
    let named =
        beams.iter().zip(&tables).map(|(beam, table)| (beam.name.as_str(), table.span_of(beam::NAME)));
    check_names(root, "beam", named);
    beams
}

/// The blocks, and where each stands.
fn read_blocks(root: &Table, grouping: &Grouping) -> Option<(Vec<Named<Tolerance>>, Vec<Span>)> {
    let help = "add `[[block]]` with `name` and `kind`, from the feed to the element";
    let tables = root.required_tables(BLOCKS, "no block", help);
    let names: Vec<String> = tables.iter().map(|table| table.read(&chain::NAME)).collect();
    let spans = tables.iter().map(|table| table.span_of(chain::NAME));
    check_names(root, "block", names.iter().map(String::as_str).zip(spans));
    // Read every block before giving up on one, so that all errors come out.
    let named = tables.iter().zip(names).map(|(table, name)| {
        let block = Block::read(table)?;
        let correlations = block.read_correlations(table, grouping);
        Some((Named { name, block, correlations }, table.span()))
    });
    let named: Vec<Option<(Named<Tolerance>, Span)>> = named.collect();
    named.into_iter().collect()
}

fn make_chain(
    root: &Table,
    bench: Option<&Table>,
    blocks: Vec<Named<Tolerance>>,
    spans: &[Span],
) -> Option<Chain<Tolerance>> {
    let plane = bench.and_then(|bench| bench.table(REFERENCE_PLANE)).map(|table| {
        let after = table.read(&AFTER);
        let found = blocks.iter().position(|named| named.name == after);
        if found.is_none() {
            let help = suggest::instead_of(&after, blocks.iter().map(|named| named.name.as_str()));
            table.error(
                table.span_of(AFTER),
                format!("there is no block `{after}`"),
                "not a block",
                Some(help),
            );
        }
        (found.map_or(blocks.len(), |at| at + 1), table.span_of(AFTER))
    });
    let (plane, plane_span) = plane.map_or((blocks.len(), None), |(at, span)| (at, Some(span)));

    let shifter = find_stepped(root, &blocks, spans, |block| block.stepped_in_phase().is_some());
    let attenuator = find_stepped(root, &blocks, spans, |block| block.stepped_in_level().is_some());
    let Some(shifter) = shifter else {
        if !blocks.is_empty() {
            root.error(
                None,
                "the chain has no phase shifter to steer with",
                "",
                Some("add a `[[block]]` of kind \"phase_shifter\" without `stands_at`".into()),
            );
        }
        return None;
    };
    for at in [Some(shifter), attenuator].into_iter().flatten() {
        if at >= plane {
            root.error(
                plane_span.clone().unwrap_or_else(|| spans[at].clone()),
                format!("the bench cannot see `{}`, which it has to step", blocks[at].name),
                "the reference plane stands before it",
                Some(format!("let the plane stand after `{}` or a later block", blocks[at].name)),
            );
        }
    }
    check_coupling(root, &blocks, spans);
    Chain::new(blocks, plane, shifter, attenuator)
}

/// Coupling is between what the elements radiate, so nothing can stand behind the element that has it.
fn check_coupling(root: &Table, blocks: &[Named<Tolerance>], spans: &[Span]) {
    let mut coupled = blocks.iter().zip(spans).filter(|(named, _)| named.block.coupling().is_some()).rev();
    let Some((last, at)) = coupled.next() else { return };
    if blocks.last().is_some_and(|end| end.name != last.name) {
        root.error(
            at.clone(),
            format!("`{}` couples to its neighbours, but is not the end of the channel", last.name),
            "another block stands behind it",
            Some("let the block with `coupling` be the last".into()),
        );
    }
    for (_, at) in coupled {
        root.error(
            at.clone(),
            "two blocks have a coupling",
            format!("`{}` has one too", last.name),
            Some("keep the `coupling` of the last block alone".into()),
        );
    }
}

/// What an amplifier compresses hangs on the power that comes in.
fn check_drive(root: &Table, chain: &Chain<Tolerance>, spans: &[Span]) {
    let blocks = chain.blocks().iter().zip(spans);
    for (named, at) in blocks.filter(|(named, _)| named.block.compression().is_some()) {
        root.error(
            at.clone(),
            format!("`{}` compresses, but nothing says how far it is driven", named.name),
            "has a `compression`",
            Some("add, for example, `drive = \"-8 dBm\"` to `[array]`: the power at a channel's feed".into()),
        );
    }
}

/// Place of the one block that is stepped in a way; a second one is an error.
fn find_stepped(
    root: &Table,
    blocks: &[Named<Tolerance>],
    spans: &[Span],
    is_stepped: impl Fn(&Block<Tolerance>) -> bool,
) -> Option<usize> {
    let mut stepped = (0..blocks.len()).filter(|at| is_stepped(&blocks[*at].block));
    let first = stepped.next()?;
    for second in stepped {
        root.error(
            spans[second].clone(),
            format!("two blocks of kind {} are stepped", blocks[second].block.kind()),
            format!("`{}` is stepped too", blocks[first].name),
            Some("give one of them `stands_at = 0`, the code it is left at".into()),
        );
    }
    Some(first)
}

/// The calibration plans, and where each stands by its name.
fn read_calibrations(
    root: &Table,
    channels: usize,
    states: usize,
    chain: Option<&Chain<Tolerance>>,
) -> (Vec<Calibration>, Vec<(String, Span)>) {
    let help = "add `[[calibration]]` with `name`; without `level` and `align` it leaves the units as built";
    let tables = root.required_tables(CALIBRATIONS, "no calibration plan", help);
    let plans: Vec<Calibration> =
        tables.iter().map(|table| Calibration::read(table, channels, states)).collect();
    let place = |(plan, table): (&Calibration, &Table)| (plan.name.clone(), table.span_of(bench::NAME));
    let places: Vec<(String, Span)> = plans.iter().zip(&tables).map(place).collect();
    check_names(root, "calibration", places.iter().map(|(name, span)| (name.as_str(), span.clone())));
    for (plan, table) in plans.iter().zip(&tables) {
        if plan.level.is_some() && chain.is_some_and(|chain| chain.attenuator().is_none()) {
            root.error(
                table.span_of(bench::LEVEL),
                "nothing to level with",
                "the chain has no attenuator that is stepped",
                Some("add a `[[block]]` of kind \"attenuator\", or leave `level` out".into()),
            );
        }
    }
    (plans, places)
}

/// Names of what rework can replace.
fn replaceable(chain: &Chain<Tolerance>, dead: &DeadChannels<Tolerance>) -> Vec<String> {
    let dead = (!dead.fate.is_zero()).then(|| Replacing::DEAD_CHANNEL.to_owned());
    chain.blocks().iter().map(|named| named.name.clone()).chain(dead).collect()
}

/// Names of the sources that are inspected.
fn inspected(
    grouping: Grouping,
    chain: Option<&Chain<Tolerance>>,
    fixture: &Fixture<Tolerance>,
) -> Vec<String> {
    let mut sources = Sources::new(0, grouping);
    if let Some(chain) = chain {
        chain.bind(&mut sources);
    }
    fixture.bind(&mut sources);
    let inspected = sources.list().iter().filter(|source| source.inspected.is_some());
    inspected.map(|source| source.name.clone()).collect()
}

/// Names address things (`block.key`), so they must be there, be unlike, and hold no point or equals sign.
fn check_names<'n>(root: &Table, what: &str, names: impl Iterator<Item = (&'n str, Span)>) {
    let mut seen: Vec<&str> = Vec::new();
    for (name, span) in names {
        if name.trim().is_empty() || name.contains(['.', '=']) || name.chars().any(char::is_control) {
            root.error(
                span,
                format!("`{name}` cannot name a {what}"),
                "a name is not empty and holds no point, equals sign or control character",
                None,
            );
        } else if seen.contains(&name) {
            let help = "a name of its own for each";
            root.error(
                span,
                format!("two things of kind {what} are named `{name}`"),
                "named so before",
                Some(help.into()),
            );
        }
        seen.push(name);
    }
}
