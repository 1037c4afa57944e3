//! Gas in a tube that mixes as so many well-mixed cells of one size, one behind the other.
//!
//! Gas of one mixture that flows through changes what cell k holds beyond that mixture to
//! dₖ(θ) = Σ_{j≤k} e^(−θ)·θʲ/j!·dₖ₋ⱼ(0), with θ the volume that flowed over that of a
//! cell: the closed form of n tanks in series. Two flows of the same gas are one of both
//! volumes together, so how a breath is cut into strides does not matter. A front that
//! has passed n of n cells is spread over V/√n (standard deviation): that is plug flow
//! with a dispersion number of 1/(2n) (Levenspiel, textbook, from memory).

use super::parcel::{Fractions, Parcel};
use super::plug::End;
use crate::base::math::{RECIPROCAL, exp};

/// Terms below this share are left out.
const LEAST: f64 = 1e-18;
/// Most of a cell that comes to a cell where a tube swells or shrinks by a part.
const MOST_OF_CELL: f64 = 0.25;
/// Cell volumes that flow through in one part.
const MOST_AT_ONCE: f64 = 32.0;
/// Terms that they need at most.
const TERMS: usize = 128;

/// A tube of well-mixed cells.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(crate) struct Cells {
    /// From the near end to the far.
    cells: Vec<Fractions>,
    /// Of all of them together, mL.
    volume: f64,
}

impl Cells {
    /// So many cells that hold a volume (mL) of a mixture together.
    pub fn filled(volume: f64, mixture: Fractions, count: u32) -> Self {
        Self { cells: vec![mixture; count.max(1) as usize], volume }
    }

    /// Cells of one size that hold this, from the near end to the far.
    pub fn of(gas: &[Parcel]) -> Self {
        let volume = gas.iter().map(|gas| gas.volume).sum();
        Self { cells: gas.iter().map(Parcel::fractions).collect(), volume }
    }

    /// All of them together, mL.
    pub fn volume(&self) -> f64 {
        self.volume
    }

    /// All the gas in it.
    pub fn contents(&self) -> Parcel {
        let cell_ml = self.cell_ml();
        self.cells.iter().fold(Parcel::default(), |mut sum, &cell| {
            sum += Parcel::of(cell, cell_ml);
            sum
        })
    }

    /// What stands at an end.
    pub fn mixture_at(&self, end: End) -> Fractions {
        match end {
            End::Near => self.cells[0],
            End::Far => self.cells[self.cells.len() - 1],
        }
    }

    /// Gas flows in at an end, and as much out at the other: returns that.
    pub fn through(&mut self, end: End, gas: Parcel) -> Parcel {
        if self.volume <= 0.0 || gas.volume <= 0.0 {
            return gas;
        }
        let mixture = gas.fractions();
        if self.cells.iter().all(|cell| cell.is_like(mixture)) {
            return gas;
        }
        let most_ml = MOST_AT_ONCE * self.cell_ml();
        let mut parts = 1.0;
        if gas.volume > most_ml {
            parts = (gas.volume / most_ml).ceil();
            // After so many the tube has been rinsed to the last bit.
            if parts > 2.0 + self.cells.len() as f64 {
                let mut out = self.contents();
                out += gas;
                self.cells.fill(mixture);
                return out - self.contents();
            }
        }
        let theta = gas.volume / parts / self.cell_ml();
        let mut gone = Fractions::default();
        self.seen_from(end, |cells| {
            let mut done = 0.0;
            while done < parts {
                let more = rinse(cells, mixture, theta);
                gone.carbon_dioxide += more.carbon_dioxide;
                gone.oxygen += more.oxygen;
                done += 1.0;
            }
        });
        let cell_ml = self.cell_ml();
        Parcel {
            volume: gas.volume,
            carbon_dioxide: gas.carbon_dioxide + gone.carbon_dioxide * cell_ml,
            oxygen: gas.oxygen + gone.oxygen * cell_ml,
        }
    }

    /// Gas flows in at an end, and none out: every cell grows alike.
    pub fn swell(&mut self, end: End, gas: Parcel) {
        let mixture = gas.fractions();
        if self.volume <= 0.0 {
            self.cells.fill(mixture);
            self.volume = gas.volume;
            return;
        }
        let count = self.cells.len() as f64;
        let (mut left_ml, mut volume) = (gas.volume, self.volume);
        self.seen_from(end, |cells| {
            while left_ml > 0.0 {
                let part_ml = left_ml.min(MOST_OF_CELL * volume / count);
                left_ml -= part_ml;
                volume += part_ml;
                // What comes from the cell before, as a share of what the cell then holds.
                let each = part_ml / volume;
                for k in (1..cells.len()).rev() {
                    cells[k] = cells[k].toward(cells[k - 1], each * (count - k as f64));
                }
                cells[0] = cells[0].toward(mixture, each * count);
            }
        });
        self.volume = volume;
    }

    /// Gas flows out at an end, and none in, at most all: every cell shrinks alike.
    /// Returns it.
    pub fn shrink(&mut self, end: End, volume: f64) -> Parcel {
        if volume >= self.volume {
            let all = self.contents();
            self.volume = 0.0;
            return all;
        }
        let count = self.cells.len() as f64;
        let (mut left_ml, mut rest) = (volume, self.volume);
        let mut out = Parcel::default();
        self.seen_from(end, |cells| {
            while left_ml > 0.0 {
                let part_ml = left_ml.min(MOST_OF_CELL * rest / (count + MOST_OF_CELL));
                left_ml -= part_ml;
                out += Parcel::of(cells[0], part_ml);
                rest -= part_ml;
                let each = part_ml / rest;
                for k in 1..cells.len() {
                    cells[k - 1] = cells[k - 1].toward(cells[k], each * (count - k as f64));
                }
            }
        });
        self.volume = rest;
        out
    }

    /// The cells in their order from an end on.
    fn seen_from(&mut self, end: End, change: impl FnOnce(&mut [Fractions])) {
        if end == End::Far {
            self.cells.reverse();
        }
        change(&mut self.cells);
        if end == End::Far {
            self.cells.reverse();
        }
    }

    fn cell_ml(&self) -> f64 {
        self.volume / self.cells.len() as f64
    }
}

/// So many cell volumes of a mixture flow through cells from the first to the last. Returns
/// what all of them lost, as fractions of a cell.
fn rinse(cells: &mut [Fractions], mixture: Fractions, theta: f64) -> Fractions {
    // The airway's cells and the usual limb's, written out.
    if let Ok(three) = <&mut [Fractions; 3]>::try_from(&mut *cells) {
        return rinse_few(three, mixture, theta);
    }
    if let Ok(four) = <&mut [Fractions; 4]>::try_from(&mut *cells) {
        return rinse_few(four, mixture, theta);
    }
    let mut weights = [0.0; TERMS];
    let (mut weight, mut terms) = (exp(-theta), 0);
    while terms < TERMS.min(cells.len()) && (weight > LEAST || (terms as f64) < theta) {
        weights[terms] = weight;
        terms += 1;
        weight *= theta / terms as f64;
    }
    let mut gone = Fractions::default();
    for k in (0..cells.len()).rev() {
        let behind = cells[..=k].iter().rev();
        let new = mixed(mixture, weights[..terms].iter().zip(behind));
        gone.carbon_dioxide += cells[k].carbon_dioxide - new.carbon_dioxide;
        gone.oxygen += cells[k].oxygen - new.oxygen;
        cells[k] = new;
    }
    gone
}

fn rinse_few<const N: usize>(
    cells: &mut [Fractions; N],
    mixture: Fractions,
    theta: f64,
) -> Fractions {
    let mut weights = [0.0; N];
    let mut weight = exp(-theta);
    for (j, place) in weights.iter_mut().enumerate() {
        *place = weight;
        weight *= theta * RECIPROCAL[j + 1];
    }
    let old = *cells;
    let mut gone = Fractions::default();
    for (k, cell) in cells.iter_mut().enumerate() {
        *cell = mixed(mixture, weights[..=k].iter().zip(old[..=k].iter().rev()));
        gone.carbon_dioxide += old[k].carbon_dioxide - cell.carbon_dioxide;
        gone.oxygen += old[k].oxygen - cell.oxygen;
    }
    gone
}

/// A mixture and so much of what others hold beyond it.
#[inline(always)]
fn mixed<'a>(
    mixture: Fractions,
    others: impl Iterator<Item = (&'a f64, &'a Fractions)>,
) -> Fractions {
    let mut new = mixture;
    for (weight, cell) in others {
        new.carbon_dioxide += weight * (cell.carbon_dioxide - mixture.carbon_dioxide);
        new.oxygen += weight * (cell.oxygen - mixture.oxygen);
    }
    new
}

#[cfg(test)]
mod tests {
    use super::*;

    const OLD: Fractions = Fractions { carbon_dioxide: 0.05, oxygen: 0.2 };

    fn left_of(count: u32, theta: f64) -> f64 {
        let (mut term, mut sum) = (exp(-theta), 0.0);
        for j in 1..=count {
            sum += term;
            term *= theta / f64::from(j);
        }
        sum
    }

    /// Tanks in series, rinsed: the last holds e^(−θ)·Σ_{j<n} θʲ/j! of what it held.
    #[test]
    fn closed_form_tanks_in_series() {
        for count in [1_u32, 2, 5, 30, 200] {
            for turns in [0.1, 0.5, 1.0, 2.0] {
                let mut tube = Cells::filled(60.0, OLD, count);
                for _ in 0..100 {
                    tube.through(End::Near, Parcel::of(Fractions::OXYGEN, 0.6 * turns));
                }
                let left = tube.mixture_at(End::Far).carbon_dioxide / OLD.carbon_dioxide;
                let law = left_of(count, turns * f64::from(count));
                assert!((left - law).abs() < 1e-11, "{count} {turns}: {left} and {law}");
            }
        }
    }

    /// However a flow is cut, the gas is the same; and what goes in comes out or stays.
    #[test]
    fn closed_form_two_flows_are_one_and_gas_is_kept() {
        let mut one = Cells::filled(40.0, OLD, 7);
        one.through(End::Far, Parcel::of(Fractions::AIR, 9.0));
        let mut many = one.clone();
        let before = one.contents();
        let gas = Parcel::of(Fractions::OXYGEN, 90.0);
        let out = one.through(End::Near, gas);
        let mut sum = Parcel::default();
        for _ in 0..1000 {
            sum += many.through(End::Near, gas.part(1e-3));
        }
        for (a, b) in one.cells.iter().zip(&many.cells) {
            assert!((a.oxygen - b.oxygen).abs() < 1e-12, "{a:?} {b:?}");
        }
        assert!((out.oxygen - sum.oxygen).abs() < 1e-10);
        let mut all = before;
        all += gas;
        let lost = all - out - one.contents();
        assert!(lost.oxygen.abs() < 1e-12 && lost.carbon_dioxide.abs() < 1e-12, "{lost:?}");
    }

    /// Many cells are plug flow with dispersion: a front that has gone half-way is half
    /// over, and as steep as the normal curve of variance V²·x/n.
    #[test]
    fn closed_form_many_cells_are_plug_flow_with_dispersion() {
        let n = 200;
        let mut tube = Cells::filled(100.0, OLD, n);
        tube.through(End::Near, Parcel::of(Fractions::OXYGEN, 50.0));
        let oxygen = |ml: usize| (tube.cells[2 * ml].oxygen - 0.2) / 0.8;
        let width = (100.0_f64 * 50.0 / f64::from(n)).sqrt();
        let slope = (oxygen(47) - oxygen(53)) / 6.0;
        let normal = 1.0 / (width * (2.0 * std::f64::consts::PI).sqrt());
        assert!((oxygen(50) - 0.5).abs() < 0.03, "{}", oxygen(50));
        assert!((slope / normal - 1.0).abs() < 0.08, "{slope} and {normal}");
    }

    #[test]
    fn closed_form_a_tube_that_swells_and_shrinks_keeps_gas_and_mixture() {
        let mut tube = Cells::filled(40.0, OLD, 4);
        tube.swell(End::Near, Parcel::of(OLD, 7.0));
        assert!((tube.mixture_at(End::Far).oxygen - 0.2).abs() < 1e-15);
        let before = tube.contents();
        tube.swell(End::Far, Parcel::of(Fractions::OXYGEN, 1.0));
        let out = tube.shrink(End::Near, 12.0);
        let kept = tube.contents();
        assert!((before.oxygen + 1.0 - out.oxygen - kept.oxygen).abs() < 1e-12);
        assert!((tube.volume() - 36.0).abs() < 1e-12);
        assert_eq!(tube.shrink(End::Far, 50.0).volume, kept.volume);
    }
}
