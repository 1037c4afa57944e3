//! The waveform of a plain machine at regular times, about as fast as memory takes it.
//!
//! Along a phase each mode is x(t) = P·φ₁(λ, t), and from one sample to the one eight
//! samples on it is x(t + H) = e^(−λH)·x(t) + P·φ₁(λ, H). Eight samples go side by
//! side; after some hundred the exponential is taken anew, so that rounding does not
//! add up.

use tidewright::machine::{Machine, Signal};
use tidewright::quantity::Volume;
use tidewright::step::{Moment, Place, step};

use super::block::{Block, Breaths};
use super::functions::{exp_neg, phis};
use super::lanes::Lanes;
use super::modes::Modes;
use super::{BatchError, TwoNode};

/// Samples side by side.
const SIDE: usize = 8;
/// Samples from one exponential to the next.
const AT_ONCE: usize = 128 * SIDE;

/// Samples of a waveform; all three of one length.
#[derive(Debug)]
pub struct Samples<'a> {
    /// Airway pressure, cmH2O.
    pub pressure_cmh2o: &'a mut [f64],
    /// Flow into the lung, mL/s.
    pub flow_ml_s: &'a mut [f64],
    /// Lung volume above rest, mL.
    pub volume_ml: &'a mut [f64],
}

impl Samples<'_> {
    /// Room for samples: that of the shortest.
    #[must_use]
    pub fn len(&self) -> usize {
        self.pressure_cmh2o.len().min(self.flow_ml_s.len()).min(self.volume_ml.len())
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    fn part(&mut self, from: usize, to: usize) -> Samples<'_> {
        Samples {
            pressure_cmh2o: &mut self.pressure_cmh2o[from..to],
            flow_ml_s: &mut self.flow_ml_s[from..to],
            volume_ml: &mut self.volume_ml[from..to],
        }
    }
}

/// Writes the waveform of a plain machine from rest on: sample k at exactly k divided
/// by the rate; one that falls on an event shows the value before it.
///
/// # Errors
/// As [`Block::breath`].
///
/// # Panics
/// If the rate is not a finite number above 0.
///
/// ```
/// use tidewright::prelude::*;
/// use tidewright_study::batch::{Samples, TwoNode, write_waveform};
/// let cat = TwoNode::of(&Setup::default()).unwrap();
/// let (mut pressure, mut flow, mut volume) = ([0.0; 1000], [0.0; 1000], [0.0; 1000]);
/// let mut samples = Samples {
///     pressure_cmh2o: &mut pressure, flow_ml_s: &mut flow, volume_ml: &mut volume,
/// };
/// write_waveform(&cat, 1000.0, &mut samples)?;
/// assert_eq!(volume[0], 0.0);
/// assert!(pressure[999] > pressure[99] && flow[999] > 10.0 && volume[999] > 15.0);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn write_waveform(
    machine: &TwoNode,
    rate_per_s: f64,
    into: &mut Samples<'_>,
) -> Result<(), BatchError> {
    assert!(
        rate_per_s.is_finite() && rate_per_s > 0.0,
        "a sampling rate is a finite number above 0, not {rate_per_s}"
    );
    let mut block = Block::new(&[*machine]);
    let mut breaths = Breaths::default();
    let phases = Phases::of(machine);
    let count = into.len();
    let (mut next, mut start_s) = (0, 0.0);
    while next < count {
        let before = block.state(0);
        let odd = block.breathe(&mut breaths)?;
        let turn_s = start_s + breaths.inspiratory_time_s[0];
        let end_s = turn_s + breaths.expiratory_time_s[0];
        let first_beyond = |time_s: f64| first_beyond(time_s, rate_per_s).clamp(next, count);
        let (turn, end) = (first_beyond(turn_s), first_beyond(end_s));
        if odd.any() {
            one_by_one(machine, before, start_s, (rate_per_s, next), &mut into.part(next, end))?;
        } else {
            let inspiration = phases.inspiration(before);
            let turned = inspiration.after(breaths.inspiratory_time_s[0]);
            // The valve opens: pressures go on, flow and their slopes jump.
            let turned = [
                if breaths.ended_by_pressure[0] { machine.cycling_pressure } else { turned[0] },
                turned[1],
            ];
            inspiration.write((start_s, rate_per_s, next), &mut into.part(next, turn));
            let expiration = phases.expiration(turned);
            expiration.write((turn_s, rate_per_s, turn), &mut into.part(turn, end));
        }
        (next, start_s) = (end, end_s);
    }
    Ok(())
}

/// The first sample that comes after a time.
fn first_beyond(time_s: f64, rate_per_s: f64) -> usize {
    // Right but for rounding, which is mended by what the samples' own times say.
    let mut k = (time_s * rate_per_s).floor().max(0.0) as usize;
    while k > 0 && (k as f64) / rate_per_s > time_s {
        k -= 1;
    }
    while (k as f64) / rate_per_s <= time_s {
        k += 1;
    }
    k
}

/// Both phases of a machine.
struct Phases<'a> {
    machine: &'a TwoNode,
    inspiration: Modes<1>,
    expiration: Modes<1>,
}

impl<'a> Phases<'a> {
    fn of(machine: &'a TwoNode) -> Self {
        let one = |value: f64| Lanes([value]);
        let modes = |outlet: f64| {
            Modes::new(
                one(machine.circuit_compliance),
                one(machine.lung_compliance),
                one(1000.0 / machine.airway_resistance),
                one(machine.leak_conductance + outlet),
                one(machine.fresh_gas_flow + outlet * machine.end_expiratory_pressure),
            )
        };
        let outlet = 1000.0 / machine.valve_resistance;
        Self { machine, inspiration: modes(0.0), expiration: modes(outlet) }
    }

    fn inspiration(&self, state: [f64; 2]) -> Phase<'a> {
        Phase::of(self.machine, &self.inspiration, state)
    }

    fn expiration(&self, state: [f64; 2]) -> Phase<'a> {
        Phase::of(self.machine, &self.expiration, state)
    }
}

/// One phase from one state on.
struct Phase<'a> {
    machine: &'a TwoNode,
    /// Pressures at the T-piece and in the lung at its start.
    state: [f64; 2],
    rates: [f64; 2],
    slopes: [f64; 2],
    /// What the lung's pressure moves for one of the T-piece's.
    shares: [f64; 2],
}

impl<'a> Phase<'a> {
    fn of(machine: &'a TwoNode, modes: &Modes<1>, state: [f64; 2]) -> Self {
        let (p, a) = (Lanes([state[0]]), Lanes([state[1]]));
        Self {
            machine,
            state,
            rates: [modes.slow.0[0], modes.fast.0[0]],
            slopes: [modes.p1.at(p, a).0[0], modes.p2.at(p, a).0[0]],
            shares: [modes.rho.0[0], modes.sigma.0[0]],
        }
    }

    /// The state after a time.
    fn after(&self, time_s: f64) -> [f64; 2] {
        let [x, y] = [0, 1].map(|mode| self.mode(mode, Lanes([time_s])).0[0]);
        let [p, a] = self.state;
        [p + x + y, a + (self.shares[0] * x + self.shares[1] * y)]
    }

    /// P·φ₁(λ, t) of a mode, at several times.
    #[inline(always)]
    fn mode<const N: usize>(&self, mode: usize, time: Lanes<N>) -> Lanes<N> {
        let (phi1, _) = phis(Lanes::all(self.rates[mode]) * time);
        Lanes::all(self.slopes[mode]) * (time * phi1)
    }

    /// Writes samples from number `first` on.
    fn write(&self, (start_s, rate, first): (f64, f64, usize), into: &mut Samples<'_>) {
        let stride = Lanes::<1>::all(SIDE as f64 / rate);
        let fade = self.rates.map(|rate| exp_neg(Lanes::<1>::all(rate) * stride).0[0]);
        let gain = [0, 1].map(|mode| self.mode(mode, stride).0[0]);
        let mut done = 0;
        while done < into.len() {
            let end = into.len().min(done + AT_ONCE);
            let mut times = Lanes::<SIDE>::all(0.0);
            for (lane, time) in times.0.iter_mut().enumerate() {
                *time = ((first + done + lane) as f64 / rate - start_s).max(0.0);
            }
            let modes = [self.mode(0, times), self.mode(1, times)];
            self.stretch(modes, fade, gain, into.part(done, end));
            done = end;
        }
    }

    #[inline(always)]
    fn stretch(
        &self,
        [mut x, mut y]: [Lanes<SIDE>; 2],
        fade: [f64; 2],
        gain: [f64; 2],
        into: Samples<'_>,
    ) {
        let all = Lanes::<SIDE>::all;
        let [p0, a0] = self.state.map(all);
        let [rho, sigma] = self.shares.map(all);
        let (fade, gain) = (fade.map(all), gain.map(all));
        let airway = all(1000.0 / self.machine.airway_resistance);
        let lung = all(self.machine.lung_compliance);
        let (pressures, last_pressures) = into.pressure_cmh2o.as_chunks_mut::<SIDE>();
        let (flows, last_flows) = into.flow_ml_s.as_chunks_mut::<SIDE>();
        let (volumes, last_volumes) = into.volume_ml.as_chunks_mut::<SIDE>();
        for ((pressures, flows), volumes) in pressures.iter_mut().zip(flows).zip(volumes) {
            let p = p0 + x + y;
            let a = a0 + (rho * x + sigma * y);
            *pressures = p.0;
            *flows = (airway * (p - a)).0;
            *volumes = (lung * a).0;
            x = fade[0] * x + gain[0];
            y = fade[1] * y + gain[1];
        }
        let p = p0 + x + y;
        let a = a0 + (rho * x + sigma * y);
        last_pressures.copy_from_slice(&p.0[..last_pressures.len()]);
        last_flows.copy_from_slice(&(airway * (p - a)).0[..last_flows.len()]);
        last_volumes.copy_from_slice(&(lung * a).0[..last_volumes.len()]);
    }
}

/// A breath that is not of the plain kind, by the general engine.
fn one_by_one(
    plain: &TwoNode,
    [p, a]: [f64; 2],
    start_s: f64,
    (rate, first): (f64, usize),
    into: &mut Samples<'_>,
) -> Result<(), BatchError> {
    let machine = Machine::new(plain.setup())?;
    let mut moment = Moment::at_rest(&machine)
        .with_gas(Place::TPiece, Volume::ml(plain.circuit_compliance * p))
        .with_gas(Place::Compartment(0), Volume::ml(plain.lung_compliance * a));
    let mut done = 0;
    while done < into.len() {
        let stepped = step(&machine, &moment, f64::INFINITY)
            .map_err(tidewright::steady::SteadyError::from)?;
        let piece = &stepped.piece;
        while done < into.len() {
            let time_s = (first + done) as f64 / rate - start_s;
            // The last sample of a breath may lie beyond its end by rounding.
            if time_s > piece.end_s() && done + 1 < into.len() {
                break;
            }
            let local_s = (time_s - piece.start_s).clamp(0.0, piece.duration_s);
            into.pressure_cmh2o[done] = piece.nearest(Signal::AirwayPressure, local_s);
            into.flow_ml_s[done] = piece.nearest(Signal::AirwayFlow, local_s);
            into.volume_ml[done] = piece.nearest(Signal::LungVolume, local_s);
            done += 1;
        }
        moment = stepped.next;
    }
    Ok(())
}
