//! The blocks in order, and the reference plane that parts what the bench sees from what it does not.

use crate::chain::{Amplifier, Attenuator, Block, Conditions, Listed, NeighbourCoupling, PhaseShifter, Rapp};
use crate::inspection;
use crate::io::{Findings, Table};
use crate::random::{Correlation, Draws, Grouping, Parameter, Sources, Tolerance, Value};

/// A block with the name the study gives it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Named<T = Value> {
    /// Name, unique in the study.
    pub name: String,
    /// What it is.
    pub block: Block<T>,
    /// Which of its parameters vary together.
    pub correlations: Vec<Correlation>,
}

/// A side of the reference plane.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Side {
    /// What the bench sees.
    Before,
    /// What stays as an error of the beam.
    Behind,
}

/// One channel's chain, the same for all channels but for its draws.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Chain<T = Value> {
    blocks: Vec<Named<T>>,
    plane: usize,
    shifter: usize,
    attenuator: Option<usize>,
    /// Power at the feed of a nominal channel without taper, dBm.
    drive: Option<f64>,
}

impl<T> Chain<T> {
    /// A chain of blocks from feed to element; the bench sees the first `plane` of them. `shifter` and
    /// `attenuator` are the places of the blocks that are stepped.
    ///
    /// Errors: `None` when those places do not hold such blocks.
    pub(crate) fn new(
        blocks: Vec<Named<T>>,
        plane: usize,
        shifter: usize,
        attenuator: Option<usize>,
    ) -> Option<Chain<T>> {
        let is_shifter = blocks.get(shifter)?.block.stepped_in_phase().is_some();
        let is_attenuator = match attenuator {
            Some(at) => blocks.get(at)?.block.stepped_in_level().is_some(),
            None => true,
        };
        (is_shifter && is_attenuator && plane <= blocks.len()).then_some(Chain {
            blocks,
            plane,
            shifter,
            attenuator,
            drive: None,
        })
    }

    /// The same chain, fed with a power (dBm) in a nominal channel without taper.
    pub(crate) fn driven_with(self, dbm: f64) -> Chain<T> {
        Chain { drive: Some(dbm), ..self }
    }

    /// Power at the feed of a nominal channel without taper, dBm.
    pub(crate) fn drive(&self) -> Option<f64> {
        self.drive
    }

    /// Interpolates what was measured for all frequencies in use, Hz. A frequency that was not measured is recorded as an
    /// error of its file.
    pub(crate) fn prepare(&mut self, frequencies: &[f64], findings: &Findings) {
        for Named { block, .. } in &mut self.blocks {
            block.roles_mut().prepare(frequencies, findings);
        }
    }

    /// The blocks with their names, in order.
    pub(crate) fn blocks(&self) -> &[Named<T>] {
        &self.blocks
    }

    /// How many of the blocks the bench sees.
    pub(crate) fn plane(&self) -> usize {
        self.plane
    }

    /// True where an amplifier compresses.
    pub(crate) fn compresses(&self) -> bool {
        self.blocks.iter().any(|named| named.block.compression().is_some())
    }

    /// Place of the stepped shifter among the blocks.
    pub(crate) fn shifter_place(&self) -> usize {
        self.shifter
    }

    /// Place of the stepped attenuator among the blocks.
    pub(crate) fn attenuator_place(&self) -> Option<usize> {
        self.attenuator
    }

    /// The stepped phase shifter.
    pub(crate) fn shifter(&self) -> &PhaseShifter<T> {
        match self.blocks[self.shifter].block.stepped_in_phase() {
            Some(shifter) => shifter,
            None => unreachable!("checked when the chain was made"),
        }
    }

    /// The stepped attenuator.
    pub(crate) fn attenuator(&self) -> Option<&Attenuator<T>> {
        self.attenuator.and_then(|at| self.blocks[at].block.stepped_in_level())
    }

    /// How the elements at its end couple to their neighbours.
    pub(crate) fn coupling(&self) -> Option<&NeighbourCoupling<T>> {
        self.blocks.last().and_then(|named| named.block.coupling())
    }
}

impl Chain<Tolerance> {
    /// Gives every tolerance its place among the draws: the chain as units have it.
    pub(crate) fn bind(&self, sources: &mut Sources) -> Chain {
        let bind = |Named { name, block, correlations }: &Named<Tolerance>| {
            let block = block.map(&mut |listed| listed.bind(name, sources));
            correlations.iter().for_each(|correlation| sources.correlate(name, correlation));
            Named { name: name.clone(), block, correlations: correlations.clone() }
        };
        let Chain { blocks, plane, shifter, attenuator, drive } = self;
        Chain {
            blocks: blocks.iter().map(bind).collect(),
            plane: *plane,
            shifter: *shifter,
            attenuator: *attenuator,
            drive: *drive,
        }
    }
}

impl Chain {
    /// Whether a block has a coefficient of temperature, or a step over it.
    pub(crate) fn depends_on_temperature(&self) -> bool {
        self.blocks.iter().any(|of| of.block.tolerances().iter().any(Listed::is_of_temperature))
    }

    /// True where code 0 of a stepped block is no neutral state: each state has its own error, a bit may be stuck, or the states
    /// are a vector sum.
    pub(crate) fn shows_code_0(&self) -> bool {
        self.shifter().shows_code_0() || self.attenuator().is_some_and(Attenuator::shows_code_0)
    }

    /// Adds what all blocks of one side do to every channel, but for the state of the stepped blocks: nepers
    /// and rad, `[channel][lane]`. An amplifier that compresses adds its small-signal gain; `tap` is handed the gains before it.
    pub(crate) fn add<const W: usize>(
        &self,
        side: Side,
        conditions: &Conditions,
        draws: &Draws<W>,
        gain: &mut [[f64; W]],
        phase: &mut [[f64; W]],
        mut tap: impl FnMut(&[[f64; W]]),
    ) {
        let blocks = match side {
            Side::Before => &self.blocks[..self.plane],
            Side::Behind => &self.blocks[self.plane..],
        };
        for named in blocks {
            if named.block.compression().is_some() {
                tap(gain);
            }
            named.block.add(conditions, draws, gain, phase);
        }
    }
}

impl Block<Tolerance> {
    /// Reads which of the parameters of the block at `table` vary together, and checks what shares their draws and how their
    /// parts are inspected.
    pub(crate) fn read_correlations(&self, table: &Table, grouping: &Grouping) -> Vec<Correlation> {
        let listed = self.tolerances();
        for of in &listed {
            grouping.check(table, of.tolerance);
            inspection::check(of.tolerance, table, of.slots);
        }
        let parameters =
            listed.iter().map(|of| Parameter { key: of.key, tolerance: of.tolerance, slots: of.slots });
        Correlation::read(table, &parameters.collect::<Vec<_>>())
    }
}

impl<T> Block<T> {
    /// The block as what bench and beam step in phase; none where it cannot be, or is left at a code.
    pub(crate) fn stepped_in_phase(&self) -> Option<&PhaseShifter<T>> {
        self.roles().stepped_in_phase()
    }

    /// The block as what the bench and a taper step in level; none where it cannot be, or is left at a code.
    pub(crate) fn stepped_in_level(&self) -> Option<&Attenuator<T>> {
        self.roles().stepped_in_level()
    }

    /// Whether some unit may have a bit of it that is stuck.
    pub(crate) fn may_stick(&self) -> bool {
        self.roles().may_stick()
    }

    /// The coupling to its neighbours, where it has one.
    pub(crate) fn coupling(&self) -> Option<&NeighbourCoupling<T>> {
        self.roles().coupling()
    }

    /// How it compresses, where it does.
    pub(crate) fn compression(&self) -> Option<(&Amplifier<T>, &Rapp<T>)> {
        self.roles().compression()
    }

    /// What a report says of it that none of its tolerances says: "6 bits, 64 states, 5.625 deg a step".
    pub(crate) fn words(&self) -> Option<String> {
        self.roles().words()
    }
}
