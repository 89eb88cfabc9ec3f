//! Sums over elements that stand on no rectangular lattice.
//!
//! Elements at one y form a row. Each row is summed over x first, then the rows over y: for a lattice of M rows and N columns
//! M N + M products a column of samples and not M N a sample. The phasors do not depend on the unit and are tabled.

use crate::array::Array;
use crate::figure::visible::{Axis, Window};
use crate::math::scalar;
use multiversion::multiversion;

/// Places closer than this (rad per direction cosine) are one.
const SAME: f64 = 1e-6;

/// Samples that are summed side by side, so that one sum does not wait for its own last step.
const BESIDE: usize = 4;

/// Elements summed before they join the sum over all, which rounds less than one long sum.
const BLOCK: usize = 32;

/// An element of a row.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Member {
    pub channel: usize,
    /// Number of its place along x.
    pub place: usize,
}

/// The elements by rows.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Rows {
    /// The places along x that are taken, phase at them per direction cosine, rad.
    pub x: Vec<f64>,
    /// The same along y, `[row]`.
    pub y: Vec<f64>,
    /// Row by row, and where each row ends.
    members: Vec<Member>,
    ends: Vec<usize>,
}

impl Rows {
    fn new(array: &Array, wavenumber: f64) -> Rows {
        let (x, place_of) = places(&array.x, wavenumber);
        let (y, row_of) = places(&array.y, wavenumber);
        let mut channels: Vec<usize> = (0..array.channels()).collect();
        channels.sort_by_key(|channel| row_of[*channel]);
        let members = channels.iter().map(|channel| Member { channel: *channel, place: place_of[*channel] });
        let ends = (0..y.len()).map(|row| channels.partition_point(|channel| row_of[*channel] <= row));
        Rows { x, y, members: members.collect(), ends: ends.collect() }
    }

    /// The elements of each row.
    pub(super) fn members(&self) -> impl Iterator<Item = &[Member]> {
        let starts = [0].into_iter().chain(self.ends.iter().copied());
        starts.zip(&self.ends).map(|(start, end)| &self.members[start..*end])
    }
}

/// The places that are taken, in ascending order, and the number of each position among them.
fn places(position: &[f64], wavenumber: f64) -> (Vec<f64>, Vec<usize>) {
    let mut order: Vec<usize> = (0..position.len()).collect();
    order.sort_by(|a, b| position[*a].total_cmp(&position[*b]));
    let mut taken: Vec<f64> = Vec::new();
    let mut number = vec![0; position.len()];
    for channel in order {
        let place = wavenumber * position[channel];
        if taken.last().is_none_or(|last| place - last > SAME) {
            taken.push(place);
        }
        number[channel] = taken.len() - 1;
    }
    (taken, number)
}

/// A phasor for each of the samples beside one another: real and imaginary parts.
type Phasors = [[f32; BESIDE]; 2];

/// Sums for as many samples: real and imaginary parts, lane by lane.
pub(super) type RowSums<const W: usize> = [[[f32; W]; 2]; BESIDE];

/// The rows of an array with the phasors of one beam point.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Direct {
    pub rows: Rows,
    columns: Axis,
    lines: Axis,
    /// Phasors of the places along x, `[block of column samples][place]`.
    along_x: Vec<Phasors>,
    /// Phasors of the rows, `[block of row samples][row]`.
    along_y: Vec<Phasors>,
}

impl Direct {
    pub(super) fn new(array: &Array, wavenumber: f64, columns: &Axis, lines: &Axis) -> Direct {
        let rows = Rows::new(array, wavenumber);
        let (along_x, along_y) = (table(&rows.x, columns), table(&rows.y, lines));
        Direct { rows, columns: *columns, lines: *lines, along_x, along_y }
    }

    /// Levels of the channels' contributions without the element at the samples of a window, and some beside it, `[row][column]`; `room`
    /// is scratch.
    pub(super) fn scan<const W: usize>(
        &self,
        window: &Window,
        re: &[[f32; W]],
        im: &[[f32; W]],
        room: &mut Vec<RowSums<W>>,
        level: &mut [[f32; W]],
    ) {
        room.resize(self.rows.y.len(), [[[0.0; W]; 2]; BESIDE]);
        let blocks = self.along_x.chunks_exact(self.rows.x.len()).enumerate();
        for (block, along_x) in blocks.take(window.columns.end.div_ceil(BESIDE)) {
            let first = block * BESIDE;
            let columns = first.max(window.columns.start)..(first + BESIDE).min(window.columns.end);
            if !columns.is_empty() {
                sum_rows(&self.rows, along_x, re, im, room);
            }
            for column in columns {
                join_rows(self, window, column, room, level);
            }
        }
    }
}

/// exp(j x u) for each place x at each sample u of an axis, those beyond the last block of samples filled up.
fn table(places: &[f64], axis: &Axis) -> Vec<Phasors> {
    let mut table = Vec::with_capacity(places.len() * axis.count.div_ceil(BESIDE));
    for first in (0..axis.count).step_by(BESIDE) {
        for place in places {
            let mut phasors = [[0.0; BESIDE]; 2];
            for beside in 0..BESIDE {
                let (sine, cosine) = scalar::sin_cos(place * axis.offset(first + beside));
                (phasors[0][beside], phasors[1][beside]) = (cosine as f32, sine as f32);
            }
            table.push(phasors);
        }
    }
    table
}

/// Sums each row at a block of column samples.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn sum_rows<const W: usize>(
    rows: &Rows,
    phasors: &[Phasors],
    re: &[[f32; W]],
    im: &[[f32; W]],
    sums: &mut [RowSums<W>],
) {
    for (members, sum) in rows.members().zip(sums) {
        *sum = [[[0.0; W]; 2]; BESIDE];
        for members in members.chunks(BLOCK) {
            let mut part = [[[0.0; W]; 2]; BESIDE];
            for Member { channel, place } in members {
                turn(&mut part, &re[*channel], &im[*channel], &phasors[*place]);
            }
            join(sum, &part);
        }
    }
}

/// Sums the rows at each row sample of one column, and takes the levels.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512dq+avx512vl", "x86_64+avx2"))]
fn join_rows<const W: usize>(
    direct: &Direct,
    window: &Window,
    column: usize,
    sums: &[RowSums<W>],
    level: &mut [[f32; W]],
) {
    let Direct { rows, columns, along_y, .. } = direct;
    let blocks = window.rows.start / BESIDE..window.rows.end.div_ceil(BESIDE);
    for (block, phasors) in along_y.chunks_exact(rows.y.len()).enumerate().take(blocks.end).skip(blocks.start)
    {
        let mut sum = [[[0.0; W]; 2]; BESIDE];
        for (sums, phasors) in sums.chunks(BLOCK).zip(phasors.chunks(BLOCK)) {
            let mut part = [[[0.0; W]; 2]; BESIDE];
            for (of_row, phasors) in sums.iter().zip(phasors) {
                let [re, im] = &of_row[column % BESIDE];
                turn(&mut part, re, im, phasors);
            }
            join(&mut sum, &part);
        }
        let first = block * BESIDE;
        for (line, [re, im]) in (first..window.rows.end).zip(&sum) {
            let level = &mut level[line * columns.count + column];
            for l in 0..W {
                level[l] = re[l] * re[l] + im[l] * im[l];
            }
        }
    }
}

/// Adds one number, turned by the phasor of each sample.
#[inline(always)]
fn turn<const W: usize>(sums: &mut RowSums<W>, re: &[f32; W], im: &[f32; W], phasors: &Phasors) {
    let [[a, b], [c, d], [e, f], [g, h]] = sums;
    let [cosine, sine] = phasors;
    for l in 0..W {
        a[l] += re[l] * cosine[0] - im[l] * sine[0];
        b[l] += im[l] * cosine[0] + re[l] * sine[0];
        c[l] += re[l] * cosine[1] - im[l] * sine[1];
        d[l] += im[l] * cosine[1] + re[l] * sine[1];
        e[l] += re[l] * cosine[2] - im[l] * sine[2];
        f[l] += im[l] * cosine[2] + re[l] * sine[2];
        g[l] += re[l] * cosine[3] - im[l] * sine[3];
        h[l] += im[l] * cosine[3] + re[l] * sine[3];
    }
}

#[inline(always)]
fn join<const W: usize>(sums: &mut RowSums<W>, part: &RowSums<W>) {
    for (sum, part) in
        sums.as_flattened_mut().as_flattened_mut().iter_mut().zip(part.as_flattened().as_flattened())
    {
        *sum += part;
    }
}
