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
use crate::base::math::exp;

/// Terms below this share are left out.
const LEAST: f64 = 1e-18;
/// Most of a cell that goes to or from each cell where a tube swells or shrinks by a part.
const MOST_OF_CELL: f64 = 0.25;
/// Cell volumes that flow through in one part.
const MOST_AT_ONCE: f64 = 32.0;
/// Terms that they need at most, and as many as few cells have.
const TERMS: usize = 128;
const FEW: usize = 8;

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
        self.cells[self.place(end, 0)]
    }

    /// Gas flows in at an end, and as much out at the other: returns that.
    pub fn through(&mut self, end: End, gas: Parcel) -> Parcel {
        if self.volume <= 0.0 || gas.volume <= 0.0 {
            return gas;
        }
        let mixture = gas.fractions();
        if self.cells.iter().all(|cell| *cell == mixture) {
            return gas;
        }
        let parts = (gas.volume / (MOST_AT_ONCE * self.cell_ml())).ceil();
        // After so many the tube has been rinsed to the last bit.
        if parts > 2.0 + self.cells.len() as f64 {
            let mut out = self.contents();
            out += gas;
            self.cells.fill(mixture);
            return out - self.contents();
        }
        let part = if parts > 1.0 { gas.part(1.0 / parts) } else { gas };
        let (mut out, mut done) = (Parcel::default(), 0.0);
        while done < parts {
            out += match self.cells.len() {
                0..=FEW => self.part_through::<FEW>(end, part),
                _ => self.part_through::<TERMS>(end, part),
            };
            done += 1.0;
        }
        out
    }

    fn part_through<const TERMS: usize>(&mut self, end: End, gas: Parcel) -> Parcel {
        let (cell_ml, mixture) = (self.cell_ml(), gas.fractions());
        let theta = gas.volume / cell_ml;
        let mut weights = [0.0; TERMS];
        let (mut weight, mut terms) = (exp(-theta), 0);
        while terms < TERMS.min(self.cells.len()) && (weight > LEAST || (terms as f64) < theta) {
            weights[terms] = weight;
            terms += 1;
            weight *= theta / terms as f64;
        }
        let mut gone = Fractions::default();
        for k in (0..self.cells.len()).rev() {
            let mut beyond = Fractions::default();
            for (j, weight) in weights[..terms.min(k + 1)].iter().enumerate() {
                let cell = self.cells[self.place(end, k - j)];
                beyond.carbon_dioxide += weight * (cell.carbon_dioxide - mixture.carbon_dioxide);
                beyond.oxygen += weight * (cell.oxygen - mixture.oxygen);
            }
            let here = self.place(end, k);
            let cell = &mut self.cells[here];
            let new = Fractions {
                carbon_dioxide: mixture.carbon_dioxide + beyond.carbon_dioxide,
                oxygen: mixture.oxygen + beyond.oxygen,
            };
            gone.carbon_dioxide += cell.carbon_dioxide - new.carbon_dioxide;
            gone.oxygen += cell.oxygen - new.oxygen;
            *cell = new;
        }
        Parcel {
            volume: gas.volume,
            carbon_dioxide: gas.carbon_dioxide + gone.carbon_dioxide * cell_ml,
            oxygen: gas.oxygen + gone.oxygen * cell_ml,
        }
    }

    /// Gas flows in at an end, and none out: every cell grows alike.
    pub fn swell(&mut self, end: End, gas: Parcel) {
        let count = self.cells.len() as f64;
        let parts = (gas.volume * count / (MOST_OF_CELL * self.volume)).ceil().clamp(1.0, count);
        let part = gas.part(1.0 / parts);
        let mut done = 0.0;
        while done < parts {
            let (old_ml, new_ml) = (self.cell_ml(), (self.volume + part.volume) / count);
            for k in (0..self.cells.len()).rev() {
                let place = self.place(end, k);
                let before = match k {
                    0 => part.fractions(),
                    _ => self.cells[self.place(end, k - 1)],
                };
                let in_ml = part.volume * (count - k as f64) / count;
                let out_ml = part.volume * (count - k as f64 - 1.0) / count;
                let cell = &mut self.cells[place];
                let of =
                    |here: f64, before: f64| (here * (old_ml - out_ml) + before * in_ml) / new_ml;
                *cell = Fractions {
                    carbon_dioxide: of(cell.carbon_dioxide, before.carbon_dioxide),
                    oxygen: of(cell.oxygen, before.oxygen),
                };
            }
            self.volume += part.volume;
            done += 1.0;
        }
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
        let rest = self.volume - volume;
        let parts = (volume * count / (MOST_OF_CELL * rest)).ceil().clamp(1.0, count);
        let part_ml = volume / parts;
        let (mut out, mut done) = (Parcel::default(), 0.0);
        while done < parts {
            let (old_ml, new_ml) = (self.cell_ml(), (self.volume - part_ml) / count);
            out += Parcel::of(self.mixture_at(end), part_ml);
            for k in 0..self.cells.len() {
                let out_ml = part_ml * (count - k as f64) / count;
                let in_ml = part_ml * (count - k as f64 - 1.0) / count;
                let behind = self.cells[self.place(end, (k + 1).min(self.cells.len() - 1))];
                let place = self.place(end, k);
                let cell = &mut self.cells[place];
                let of =
                    |here: f64, behind: f64| (here * (old_ml - out_ml) + behind * in_ml) / new_ml;
                *cell = Fractions {
                    carbon_dioxide: of(cell.carbon_dioxide, behind.carbon_dioxide),
                    oxygen: of(cell.oxygen, behind.oxygen),
                };
            }
            self.volume -= part_ml;
            done += 1.0;
        }
        out
    }

    fn cell_ml(&self) -> f64 {
        self.volume / self.cells.len() as f64
    }

    /// The place of the k-th cell from an end.
    fn place(&self, end: End, k: usize) -> usize {
        match end {
            End::Near => k,
            End::Far => self.cells.len() - 1 - k,
        }
    }
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
