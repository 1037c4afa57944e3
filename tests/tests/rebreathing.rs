//! Rebreathing at a T-piece against its closed form: sinusoidal breaths, plug
//! flow, a limb larger than the tidal volume. `reference/t-piece/source.md` has
//! the derivation.
#![expect(clippy::unwrap_used, reason = "a test stops where the setup is wrong")]

use tidewright::exchange::{Apparatus, Conditions, Demand, Exchange, Fractions, GasState, Moved};
use tidewright::prelude::*;
use tidewright::species::{Animal, Species};
use tidewright_tests::reference::rows;

const TIDAL_ML: f64 = 40.0;
const CYCLE_S: f64 = 2.0;

/// Carbon dioxide breathed in as a part of what was breathed out, once breaths
/// repeat; and the smallest part that any inspired step held.
///
/// The patient has no dead space, a lung so large that its gas does not change,
/// and no metabolism: what it breathes in of its own gas it breathed out before.
fn rebreathed(fresh_over_minute_volume: f64, pause: f64, steps: u32) -> f64 {
    let cat = Animal::typical(Species::Cat, Mass::kg(4.0));
    let apparatus =
        Apparatus { adapter_ml: 0.0, limb_ml: 200.0, parcels: 1_000_000, ..Apparatus::default() };
    let mut exchange = Exchange::new(&cat, &cat.lung(), apparatus).unwrap();
    exchange.airway_ml = 0.0;
    exchange.relaxed_ml[0] = 1e9;
    let now = Conditions {
        demand: Demand { cardiac_output_ml_s: 0.0, oxygen_ml_s: 1.0, carbon_dioxide_ml_s: 1.0 },
        fresh_gas: Fractions::OXYGEN,
    };
    let mut gas: GasState = exchange.steady(PartialPressure::mmhg(40.0), &now);
    let alveolar = exchange.alveolar(&gas, 0).carbon_dioxide;

    let step_s = CYCLE_S / f64::from(steps);
    let moving_s = CYCLE_S * (1.0 - pause);
    let fresh_ml = fresh_over_minute_volume * TIDAL_ML / f64::from(steps);
    let mut back = 0.0;
    for cycle in 0..6 {
        back = 0.0;
        for step in 1..=steps {
            let t = step_s * f64::from(step);
            let turn = 2.0 * std::f64::consts::PI * (t / moving_s).min(1.0);
            let mut compartments_ml = [0.0; 6];
            compartments_ml[0] = TIDAL_ML / 2.0 * (1.0 - turn.cos());
            let moved = Moved {
                step_s,
                fresh_ml,
                leak_ml: 0.0,
                outlet_ml: 0.0,
                compartments_ml,
                circuit_ml: 0.0,
                outlet_is_open: true,
                port: PatientPort::Connected,
            };
            let passed = exchange.step(&mut gas, &moved, &now);
            if cycle == 5 && passed.volume_ml > 0.0 {
                back += passed.volume_ml * passed.mixture.carbon_dioxide;
            }
        }
    }
    back / (TIDAL_ML * alveolar)
}

/// x = flow/(π·VE) solves πx − 1 = √(1 − x²) + x·asin x: the fresh gas pushed into
/// the limb early in inspiration is drawn back before anything else.
#[test]
fn closed_form_least_fresh_gas_flow_without_a_pause() {
    let excess = |x: f64| std::f64::consts::PI * x - 1.0 - (1.0 - x * x).sqrt() - x * x.asin();
    let (mut low, mut high) = (0.5, 1.0);
    for _ in 0..100 {
        let middle = (low + high) / 2.0;
        if excess(middle) < 0.0 { low = middle } else { high = middle }
    }
    let needed = std::f64::consts::PI * low;
    assert!((needed - 2.2764).abs() < 5e-5, "{needed}");

    let steps = 20_000;
    assert_eq!(rebreathed(1.001 * needed, 0.0, steps), 0.0);
    assert!(rebreathed(0.999 * needed, 0.0, steps) > 0.0);
}

#[test]
fn closed_form_a_pause_lowers_the_need() {
    for row in rows("t-piece/data.csv") {
        let pause = row.number("expiratory_pause_of_cycle");
        let needed = row.number("fresh_gas_over_minute_volume");
        assert_eq!(rebreathed(1.002 * needed, pause, 20_000), 0.0, "pause {pause}");
        assert!(rebreathed(0.998 * needed, pause, 20_000) > 0.0, "pause {pause}");
    }
}

#[test]
fn closed_form_rebreathed_part_at_lower_flows() {
    for row in rows("t-piece/rebreathing.csv") {
        let pause = row.number("expiratory_pause_of_cycle");
        let flow = row.number("fresh_gas_over_minute_volume");
        let expected = row.number("rebreathed_of_tidal_volume");
        let part = rebreathed(flow, pause, 4000);
        assert!((part - expected).abs() < 1e-3, "flow {flow}, pause {pause}: {part}, {expected}");
    }
}
