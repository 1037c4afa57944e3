//! What each wrongly put together circuit does, by closed form, beside the one that was
//! meant. The numbers of the parts are choices for teaching, without a source.
#![expect(clippy::unwrap_used, reason = "a test stops where the setup is wrong")]

mod common;

use common::steady;
use tidewright::assembly::{Assembled, Assembly, Mistake};
use tidewright::exchange::{
    Conditions, Exchange, Fractions, GivenBreaths, LimbMixing, Moved, Pattern,
};
use tidewright::math::{atan2, cos, exp, ln};
use tidewright::prelude::*;
use tidewright::species::{Animal, Species};

/// Fresh gas, mL/s.
const Q: f64 = 30.0;
/// Compliance of the lung, mL/cmH2O, and resistance of its airway, cmH2O·s/mL.
const C: f64 = 4.0;
const R: f64 = 0.005;
const CYCLING: f64 = 9.0;
const LIMIT_S: f64 = 2.5;

fn patient(mode: Mode) -> Setup {
    let lung = Lung::single(Compliance::ml_per_cmh2o(C), Resistance::cmh2o_s_per_l(1000.0 * R));
    let ventilator = Ventilator {
        mode,
        fresh_gas_flow: Flow::ml_s(Q),
        cycling_pressure: Pressure::cmh2o(CYCLING),
        inspiratory_time_limit: Seconds::s(LIMIT_S),
        expiratory_time: Seconds::s(1.6),
        ..Ventilator::default()
    };
    Setup { lung, ventilator, ..Setup::default() }
}

fn made(circuit: &Assembly, mode: Mode) -> Assembled {
    circuit.assemble(&patient(mode)).unwrap()
}

/// A signal some seconds after standby began with everything at rest.
fn in_standby(circuit: &Assembly, signal: Signal, after_s: f64) -> f64 {
    after(&made(circuit, Mode::Standby).setup, signal, after_s)
}

fn after(setup: &Setup, signal: Signal, after_s: f64) -> f64 {
    let duration = Seconds::s(after_s);
    let protocol = Protocol { start: setup.clone(), changes: vec![], duration };
    let run = Simulation::new(&protocol).unwrap();
    let last = run.steps().last().unwrap().unwrap();
    last.piece.last(signal)
}

fn ventilated(circuit: &Assembly) -> Breath {
    steady(&made(circuit, Mode::Ventilating).setup)
}

#[track_caller]
fn within(shown: f64, exact: f64, share: f64) {
    assert!((shown / exact - 1.0).abs() < share, "{shown}, and not {exact}");
}

/// Inspiration from a baseline to the cycling pressure, once its start is forgotten: lung
/// and circuit fill at one pace, the lung behind by what its airway takes.
fn inspiration_s(compliance: f64, resistance: f64, base: f64) -> f64 {
    let pace = Q / (C + compliance);
    (CYCLING - base) / pace - resistance * C * compliance / (C + compliance) + {
        // What the lung is behind at the end it need not be given.
        -resistance * C * C / (C + compliance)
    }
}

#[test]
fn closed_form_sensing_line_off() {
    let breath = ventilated(&Mistake::SensingLineOff.made());
    assert_eq!(breath.ended_by, EndedBy::Time);
    assert_eq!(ventilated(&Mistake::SensingLineOff.meant()).ended_by, EndedBy::Pressure);
    // Flow times time limit goes in, less what the loose line lets out: its own
    // resistance, 1.5 m of 2 mm bore, by Poiseuille's law.
    let setup = made(&Mistake::SensingLineOff.made(), Mode::Ventilating).setup;
    let hole = setup.circuit.leak.unwrap().conductance_ml_s_per_cmh2o();
    let poiseuille = 128.0 * 2.04e-5 * 1.5 / (std::f64::consts::PI * 16e-12);
    within(1000.0 / hole, poiseuille * 1e-6 / 98.0665 * 1000.0, 0.02);
    let tau = (C + 0.15) / hole;
    let peak = Q / hole * (1.0 - exp(-LIMIT_S / tau));
    within(breath.peak_pressure.as_cmh2o(), peak, 0.03);
    assert!(breath.peak_pressure.as_cmh2o() > 1.2 * CYCLING);
}

#[test]
fn closed_form_sensing_line_at_the_far_end() {
    // At rest: the T-piece feels limb and valve, the far end the valve alone.
    let wrong = Mistake::SensingAtFarEnd.made();
    within(in_standby(&wrong, Signal::AirwayPressure, 60.0), Q * 0.005, 1e-9);
    within(in_standby(&wrong, Signal::SensedPressure, 60.0), Q * 0.002, 1e-9);
    let right = Mistake::SensingAtFarEnd.meant();
    within(in_standby(&right, Signal::SensedPressure, 60.0), Q * 0.005, 1e-9);
    // A limb of 100 times the resistance hides its pressure.
    let mut blocked = made(&wrong, Mode::Standby).setup;
    blocked.circuit.limb.as_mut().unwrap().resistance = Resistance::cmh2o_s_per_l(300.0);
    within(after(&blocked, Signal::AirwayPressure, 60.0), Q * 0.302, 1e-9);
    within(after(&blocked, Signal::SensedPressure, 60.0), Q * 0.002, 1e-9);
    // Ventilating, the patient is past the pressure at the far end by what the filling
    // limb takes: its resistance times its share of the flow.
    let breath = ventilated(&wrong);
    let over = 0.003 * Q * 0.13 / (C + 0.15);
    within(breath.peak_pressure.as_cmh2o() - CYCLING, over, 0.05);
}

/// Breaths of the patient's own, or given ones, on the breathing system of a circuit.
fn arterial_mmhg(circuit: &Assembly, tidal_ml: f64, cycle_s: f64) -> f64 {
    arterial_where(circuit, tidal_ml, cycle_s, &|_| ())
}

fn arterial_where(
    circuit: &Assembly,
    tidal_ml: f64,
    cycle_s: f64,
    change: &dyn Fn(&mut Exchange),
) -> f64 {
    let (cat, mut exchange) = cat_on(circuit);
    change(&mut exchange);
    let now = Conditions::of(&cat, 38.0, Fractions::OXYGEN);
    let breaths = GivenBreaths {
        pattern: Pattern::Sinusoid { pause: 0.2 },
        tidal: Volume::ml(tidal_ml),
        cycle: Seconds::s(cycle_s),
    };
    let settled = breaths.settled(&exchange, &now, Flow::ml_s(Q));
    settled.map_or(f64::INFINITY, |gas| gas.arterial_carbon_dioxide.as_mmhg())
}

fn cat_on(circuit: &Assembly) -> (Animal, Exchange) {
    let cat = Animal::typical(Species::Cat, Mass::kg(3.2));
    let apparatus = made(circuit, Mode::Standby).apparatus;
    let exchange = Exchange::new(&cat, &cat.lung(), apparatus).unwrap();
    (cat, exchange)
}

/// What dead space does: arterial carbon dioxide goes as 1 over what passes it.
fn dead_space_costs(mistake: Mistake, more_ml: f64) {
    let adapters = [mistake.meant(), mistake.made()]
        .map(|circuit| made(&circuit, Mode::Standby).apparatus.adapter_ml);
    within(adapters[1] - adapters[0], more_ml, 1e-12);
    let (tidal_ml, cycle_s) = (38.0, 3.0);
    let (_, exchange) = cat_on(&mistake.meant());
    let passes = tidal_ml - exchange.airway_ml - adapters[0];
    let [meant, wrong] =
        [mistake.meant(), mistake.made()].map(|circuit| arterial_mmhg(&circuit, tidal_ml, cycle_s));
    within(wrong / meant, passes / (passes - more_ml), 0.06);
}

#[test]
fn closed_form_a_turned_t_piece_and_a_second_adapter_are_dead_space() {
    // The long leg of 9 mL in the place of one of 1 mL.
    dead_space_costs(Mistake::TPieceTurned, 8.0);
    dead_space_costs(Mistake::TwoAdapters, 8.0);
    // Neither pressures nor volumes tell.
    for mistake in [Mistake::TPieceTurned, Mistake::TwoAdapters] {
        let [meant, wrong] = [mistake.meant(), mistake.made()].map(|circuit| ventilated(&circuit));
        assert_eq!(meant.inspired_tidal_volume, wrong.inspired_tidal_volume);
    }
}

#[test]
fn closed_form_a_limb_between_patient_and_t_piece_is_dead_space() {
    let adapter = made(&Mistake::LimbAtPatient.made(), Mode::Standby).apparatus.adapter_ml;
    assert_eq!(adapter, 97.0); // connector 1, limb 95, leg 1
    // More than any breath of this cat: nothing fresh comes down, and no state is steady.
    assert_eq!(arterial_mmhg(&Mistake::LimbAtPatient.made(), 38.0, 3.0), f64::INFINITY);
    assert!(arterial_mmhg(&Mistake::LimbAtPatient.meant(), 38.0, 3.0) < 60.0);
    // The breath itself hardly tells: what the limb's 3 cmH2O·s/L take from the inflation
    // they no longer hold up at rest.
    let [meant, wrong] = [Mistake::LimbAtPatient.meant(), Mistake::LimbAtPatient.made()]
        .map(|circuit| ventilated(&circuit).inspired_tidal_volume.as_ml());
    let q = Q * C / (C + 0.15);
    let less = C * (0.003 * q - 0.003 * Q);
    assert!((meant - wrong - less).abs() < 0.01, "{meant} and {wrong} mL, {less}");
    assert!((wrong / meant - 1.0).abs() < 1e-3);
}

#[test]
fn twin_fresh_gas_at_the_far_end() {
    let wrong = Mistake::HoseAtFarEnd.made();
    let meant = Mistake::HoseAtFarEnd.meant();
    // In standby what comes in beside the valve leaves by it: the limb is dead space, and
    // larger than the breath. Only what mixes in the limb comes down it.
    let unmixed = |exchange: &mut Exchange| {
        exchange.apparatus.limb_mixing = LimbMixing::PlugFlow;
        exchange.apparatus.limb_parcels = 60;
    };
    assert!(arterial_mmhg(&meant, 38.0, 3.0) < 60.0);
    assert!(arterial_mmhg(&wrong, 38.0, 3.0) > 90.0);
    assert_eq!(arterial_where(&wrong, 38.0, 3.0, &unmixed), f64::INFINITY);
    // The gas' own statement of it, on the ready-made circuit, says the same.
    let (cat, mut exchange) = cat_on(&meant);
    exchange.apparatus.inlet = FreshGasInlet::Machine;
    unmixed(&mut exchange);
    let now = Conditions::of(&cat, 38.0, Fractions::OXYGEN);
    let breaths = GivenBreaths {
        pattern: Pattern::Sinusoid { pause: 0.2 },
        tidal: Volume::ml(38.0),
        cycle: Seconds::s(3.0),
    };
    assert_eq!(breaths.settled(&exchange, &now, Flow::ml_s(Q)), None);
    // Pressure at rest: none along the limb, in which nothing flows.
    within(in_standby(&wrong, Signal::AirwayPressure, 60.0), Q * 0.002, 1e-9);
    within(in_standby(&meant, Signal::AirwayPressure, 60.0), Q * 0.005, 1e-9);
    // An inflation comes through the limb and ends where it is sensed, at the T-piece.
    let breath = ventilated(&wrong);
    assert_eq!(breath.ended_by, EndedBy::Pressure);
    within(breath.peak_pressure.as_cmh2o(), CYCLING, 1e-6);
}

/// Oxygen in a breath in standby that outruns the fresh gas, and of a fresh gas' own agent
/// as a share of what it holds.
fn drawn(circuit: &Assembly) -> f64 {
    let (cat, mut exchange) = cat_on(circuit);
    exchange.apparatus.limb_mixing = LimbMixing::PlugFlow;
    exchange.apparatus.limb_parcels = 200;
    // Nothing is used up and nothing made, so that air alone can dilute.
    let mut now = Conditions::of(&cat, 38.0, Fractions::OXYGEN);
    now.demand.cardiac_output_ml_s = 0.0;
    let mut gas = exchange.steady(PartialPressure::mmhg(40.0), &now);
    let (tidal, cycle_s, steps) = (60.0, 3.0, 600_u32);
    let step_s = cycle_s / f64::from(steps);
    let (mut oxygen, mut went_in) = (0.0, 0.0);
    for cycle in 0..3 {
        for step in 1..=steps {
            let turn = std::f64::consts::TAU * f64::from(step) / f64::from(steps);
            let mut compartments_ml = [0.0; 6];
            compartments_ml[0] = tidal / 2.0 * (1.0 - cos(turn));
            let moved = Moved {
                step_s,
                fresh_ml: Q * step_s,
                leak_ml: 0.0,
                outlet_ml: 0.0,
                compartments_ml,
                reached: [true; 6],
                circuit_ml: 0.0,
                outlet_is_open: true,
                port: PatientPort::Connected,
            };
            let passed = exchange.step(&mut gas, &moved, &now);
            if cycle == 2 && passed.volume_ml > 0.0 {
                went_in += passed.volume_ml;
                let others = 1.0 - passed.mixture.oxygen - passed.mixture.carbon_dioxide;
                oxygen += passed.volume_ml * (1.0 - others);
            }
        }
    }
    oxygen / went_in
}

#[test]
fn closed_form_without_a_limb_room_air_is_drawn_in() {
    // Peak flow πV/T is 62.8 mL/s over Q = 30: what is above it comes from the limb's
    // 6 mL, and then from the room. ∫(πV/T·sin − Q) between the times where they are
    // equal.
    let (v, t) = (60.0, 3.0);
    let peak = std::f64::consts::PI * v / t;
    let first = t / std::f64::consts::TAU * atan2(Q / peak, (1.0 - Q * Q / peak / peak).sqrt());
    let between = t / 2.0 - 2.0 * first;
    let over = peak * t / std::f64::consts::TAU * 2.0 * cos(std::f64::consts::TAU * first / t)
        - Q * between;
    let room = over - 5.0; // leg 1 and ventilator 4
    assert!(room > 10.0);
    let air = room / v;
    let exact = 1.0 - air * (1.0 - 0.2095);
    let shown = drawn(&Mistake::NoLimb.made());
    // What was breathed out holds the air of the breath before and is drawn back first.
    assert!((shown - exact).abs() < 0.04, "{shown}, about {exact}");
    assert!(drawn(&Mistake::NoLimb.meant()) > 0.999);
}

#[test]
fn closed_form_a_bag_with_a_closed_tail_fills_and_then_the_pressure_climbs() {
    let wrong = Mistake::BagTailClosed.made();
    // All gas of a minute is in bag, circuit and lung, at one pressure: 500 mL hang slack
    // at 0.5 cmH2O, beyond it the bag takes 20 mL for each cmH2O.
    let whole = Q * 60.0;
    let taken = 20.0 + C + 0.15;
    let pressure = 0.5 + (whole - 500.0 - (C + 0.15) * 0.5) / taken;
    within(in_standby(&wrong, Signal::AlveolarPressure, 60.0), pressure, 0.005);
    assert!(pressure > 50.0);
    // Before it is full nothing is felt.
    assert!(in_standby(&wrong, Signal::AirwayPressure, 12.0) < 1.0);
    assert!(in_standby(&Mistake::BagTailClosed.meant(), Signal::AirwayPressure, 60.0) < 1.0);
}

#[test]
fn closed_form_a_twisted_tail_holds_flow_times_its_resistance() {
    // 2 cmH2O·s/L of the free tail, a hundred times that at a tenth of the area.
    let wrong = in_standby(&Mistake::BagTailTwisted.made(), Signal::AirwayPressure, 600.0);
    within(wrong, Q * (0.2 + 0.005), 1e-3);
    let meant = in_standby(&Mistake::BagTailTwisted.meant(), Signal::AirwayPressure, 600.0);
    within(meant, Q * (0.002 + 0.005), 1e-3);
}

#[test]
fn closed_form_a_shut_outlet_lets_pressure_climb_by_flow_over_compliance() {
    for mistake in [Mistake::ScavengingBlocked, Mistake::PlugForgotten] {
        for mode in [Mode::Standby, Mode::Ventilating] {
            let setup = made(&mistake.made(), mode).setup;
            for after_s in [4.0, 8.0] {
                let climbed = after(&setup, Signal::AirwayPressure, after_s);
                // The airway takes R·Q of it at the T-piece, less the circuit's share.
                let pace = Q / (C + 0.15);
                let exact = pace * after_s + R * pace * C * C / (C + 0.15);
                within(climbed, exact, 1e-6);
            }
            assert!(after(&made(&mistake.meant(), mode).setup, Signal::AirwayPressure, 8.0) < 9.01);
        }
    }
}

#[test]
fn closed_form_suction_without_relief_pulls_the_lung_down() {
    let [meant, wrong] = [Mistake::ScavengingPulls.meant(), Mistake::ScavengingPulls.made()];
    // 6 cmH2O of suction, flow times valve, limb and way in.
    let at_rest = Q * 0.006 - 6.0;
    within(in_standby(&wrong, Signal::AirwayPressure, 60.0), at_rest, 1e-9);
    within(in_standby(&wrong, Signal::LungVolume, 60.0), C * at_rest, 1e-9);
    assert!(in_standby(&meant, Signal::AirwayPressure, 60.0) > 0.0);
    let [meant, wrong] = [meant, wrong].map(|circuit| ventilated(&circuit));
    within(wrong.inspiratory_time.as_s(), inspiration_s(0.15, R, at_rest), 0.01);
    within(meant.inspiratory_time.as_s(), inspiration_s(0.15, R, Q * 0.006), 0.01);
    assert!(wrong.inspired_tidal_volume.as_ml() > 1.5 * meant.inspired_tidal_volume.as_ml());
}

#[test]
fn closed_form_a_wide_long_limb_takes_time_and_not_volume() {
    let [meant, wrong] = [Mistake::LimbTooWide.meant(), Mistake::LimbTooWide.made()];
    let limb_ml = std::f64::consts::PI * 1.21 * 160.0;
    let apparatus = made(&wrong, Mode::Standby).apparatus;
    within(apparatus.limb_ml, limb_ml + 5.0, 1e-9);
    let compliance = 0.02 + limb_ml / 1033.23 + 1.5 + 0.01;
    let [meant, wrong] = [meant, wrong].map(|circuit| ventilated(&circuit));
    within(wrong.inspiratory_time.as_s(), inspiration_s(compliance, R, Q * 0.002), 0.02);
    within(meant.inspiratory_time.as_s(), inspiration_s(0.15, R, Q * 0.005), 0.02);
    let volumes = [meant, wrong].map(|breath| breath.inspired_tidal_volume.as_ml());
    within(volumes[1], volumes[0], 0.03);
    let minute = [meant, wrong].map(|b| b.inspired_tidal_volume.as_ml() * b.rate_per_min());
    assert!(minute[1] < 0.85 * minute[0], "{minute:?}");
}

#[test]
fn closed_form_a_joint_only_pushed_on_lengthens_inspiration() {
    let [meant, wrong] =
        [Mistake::PushedOn.meant(), Mistake::PushedOn.made()].map(|circuit| ventilated(&circuit));
    // 1 mL/s for each cmH2O: Ti = −(C/G)·ln(1 − G·P/Q), the airway's little share aside.
    let exact = -(C + 0.15) * ln(1.0 - CYCLING / Q);
    within(wrong.inspiratory_time.as_s(), exact, 0.03);
    assert!(wrong.inspiratory_time.as_s() > 1.15 * meant.inspiratory_time.as_s());
    assert_eq!(wrong.ended_by, EndedBy::Pressure);
}

#[test]
fn closed_form_a_cracked_limb_lengthens_inspiration() {
    let [meant, wrong] = [Mistake::CrackedLimb.meant(), Mistake::CrackedLimb.made()]
        .map(|circuit| ventilated(&circuit));
    // A sharp hole of 1 mm: k√P with k of area, jet and density; with u = √P,
    // Ti = C·∫2u/(Q − k·u)du = −2C/k·(u + Q/k·ln(1 − k·u/Q)).
    let speed = (2.0 * 98.0665 / 1.331_f64).sqrt();
    let k = 0.6 * std::f64::consts::PI / 4.0 * speed; // mL/s for √cmH2O
    let u = CYCLING.sqrt();
    let exact = -2.0 * (C + 0.15) / k * (u + Q / k * ln(1.0 - k * u / Q));
    within(wrong.inspiratory_time.as_s(), exact, 0.04);
    assert!(wrong.inspiratory_time.as_s() > 1.4 * meant.inspiratory_time.as_s());
}

#[test]
fn closed_form_a_wet_filter_takes_its_share_of_the_pressure() {
    let [meant, wrong] =
        [Mistake::WetFilter.meant(), Mistake::WetFilter.made()].map(|circuit| ventilated(&circuit));
    // V = C·(P − R·q), q the lung's part of the flow; 5 cmH2O·s/L dry, 60 wet. The lung
    // also rests a little above the room: flow times limb and valve.
    let q = Q * C / (C + 0.15);
    for (breath, filter) in [(meant, 0.005), (wrong, 0.060)] {
        let volume = C * (CYCLING - (R + filter) * q - Q * 0.005);
        within(breath.inspired_tidal_volume.as_ml(), volume, 0.02);
        within(breath.peak_pressure.as_cmh2o(), CYCLING, 1e-9);
    }
    assert!(wrong.inspiratory_time < meant.inspiratory_time);
}
