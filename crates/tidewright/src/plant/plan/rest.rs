//! What a plan says of gas at rest: whether it has a way out, whether it would be
//! lost from one plan to the next, and how much stands where at one pressure.

use super::{BAG, PLEURA, Plan, T_PIECE, VALVE_END, VISCOELASTIC};
use crate::plant::network::{MAX_NODES, NodeVec, NowhereToGo, Path};
use crate::plant::signal::Signal;

impl Plan {
    /// Whether every node without a store has some way to pass gas on, be it one
    /// that opens only at a higher pressure.
    pub fn check_ways_out(&self) -> Result<(), NowhereToGo> {
        let wide_open = |path: &Path| path.law.wide_open();
        let conductances: Vec<f64> = self.network.paths.iter().map(wide_open).collect();
        self.network.reduce(&conductances).map(|_| ())
    }

    /// Whether gas is held at a place.
    pub fn holds_gas(&self, place: usize) -> bool {
        let node = self.places.iter().position(|&p| p == place);
        node.is_some_and(|node| self.network.stores_gas(node))
    }

    /// What would lose its gas, or would have to have some from nowhere, if this
    /// plan gave way to `next`. A chest wall may appear: it then holds just what
    /// the lung holds. So may a limb, filled with gas at atmospheric pressure, and a flat bag.
    pub fn misplaces_gas(&self, next: &Self) -> Option<&'static str> {
        let places = [
            (T_PIECE, "circuit's compliance", false),
            (VALVE_END, "limb's compliance", true),
            (PLEURA, "chest wall", true),
            (VISCOELASTIC, "viscoelastic branch", false),
            (BAG, "bag behind the outlet", true),
        ];
        places
            .into_iter()
            .find(|&(place, _, may_appear)| match (self.holds_gas(place), next.holds_gas(place)) {
                (true, false) => true,
                (false, true) => !may_appear,
                _ => false,
            })
            .map(|(_, name, _)| name)
            .or_else(|| {
                let compartments = |plan: &Self| plan.probe_of(Signal::LungVolume).volumes.len();
                let changed = compartments(self) != compartments(next);
                changed.then_some("lung compartment")
            })
    }

    /// Gas at each place when everything stands at one pressure and no muscle pulls.
    pub fn stored_at_rest(&self, pressure: f64) -> NodeVec {
        let network = &self.network;
        let lungs = &self.probes[Signal::LungVolume as usize].volumes;
        let pleura = self.probes[Signal::PleuralPressure as usize].pressures.first();
        let lung_volume = |around: f64| {
            let volume = |&(node, _): &(usize, f64)| {
                network.nodes[node].store.as_ref().map_or(0.0, |s| s.law.volume(pressure - around))
            };
            lungs.iter().map(volume).sum::<f64>()
        };
        let around =
            pleura.and_then(|&(node, _)| network.nodes[node].store.as_ref()).map_or(0.0, |wall| {
                // The chest wall holds just the gas that the lungs hold.
                let excess = |p: f64| lung_volume(p) - wall.law.volume(p - network.pressed_by);
                falling_root(excess, pressure)
            });
        let mut volumes = [0.0; MAX_NODES];
        for (i, node) in network.nodes.iter().enumerate() {
            let Some(store) = &node.store else { continue };
            let is_lung = lungs.iter().any(|&(lung, _)| lung == i);
            volumes[i] = match () {
                () if is_lung => store.law.volume(pressure - around),
                () if pleura.is_some_and(|&(node, _)| node == i) => {
                    store.law.volume(around - network.pressed_by)
                }
                // A viscoelastic branch has given way; anything else is circuit.
                () if lungs.iter().any(|&(lung, _)| self.parent(lung) == Some(i)) => 0.0,
                // A bag behind the outlet hangs flat, whatever the valve holds.
                () if self.places[i] == BAG => 0.0,
                () => store.law.volume(pressure),
            };
        }
        let mut stored = volumes;
        for i in 0..network.nodes.len() {
            if let Some(parent) = self.parent(i) {
                stored[parent] -= volumes[i];
            }
        }
        self.by_place(&stored)
    }

    fn parent(&self, node: usize) -> Option<usize> {
        self.network.nodes[node].store.as_ref()?.parent
    }
}

/// The zero of a falling function, by bisection from a bracket grown around `near`.
fn falling_root(f: impl Fn(f64) -> f64, near: f64) -> f64 {
    let mut reach = 1.0;
    while (f(near - reach) < 0.0 || f(near + reach) > 0.0) && reach < 1e6 {
        reach *= 2.0;
    }
    let (mut low, mut high) = (near - reach, near + reach);
    loop {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            return middle;
        }
        if f(middle) > 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
}
