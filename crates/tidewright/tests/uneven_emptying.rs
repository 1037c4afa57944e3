//! The plateau of the capnogram where lungs empty unevenly: its slope, and where the
//! carbon dioxide under it comes from.
#![expect(clippy::unwrap_used, reason = "a test stops where the setup is wrong")]

use tidewright::alveolar::btps_per_stpd;
use tidewright::exchange::{
    Apparatus, Conditions, Exchange, Fowler, Fractions, Steps, USUAL_STEPS, follow,
};
use tidewright::prelude::*;
use tidewright::species::{Animal, Species};

/// Hours of the same breaths, after which slow tissue gives off less than 1 % of what is made.
const HOURS: f64 = 2.0;

/// What one breath of a dog shows after minutes of the same.
struct Read {
    fowler: Fowler,
    expired_ml: f64,
    /// Carbon dioxide that leaves with a breath, and what is made meanwhile, mL BTPS.
    net_ml: f64,
    made_ml: f64,
}

/// Two halves of a dog's lung behind resistances of their own.
fn read(resistances: [f64; 2]) -> Read {
    let dog = Animal::typical(Species::Dog, Mass::kg(20.0));
    let whole = dog.lung();
    let half = whole.total_compliance() / 2.0;
    let part = |ohms: f64| Compartment::new(half, Resistance::cmh2o_s_per_l(ohms));
    let mut setup = Setup::default();
    setup.lung = Lung { compartments: resistances.map(part).to_vec(), ..whole };
    setup.circuit.valve_resistance = Resistance::cmh2o_s_per_l(0.5);
    setup.ventilator.fresh_gas_flow = Flow::l_per_min(20.0);
    setup.ventilator.cycling_pressure = Pressure::cmh2o(14.0);
    setup.ventilator.inspiratory_time_limit = Seconds::s(1.0);
    setup.ventilator.expiratory_time = Seconds::s(4.0);
    let exchange = Exchange::new(&dog, &setup.lung, Apparatus::default()).unwrap();
    let now = Conditions::of(&dog, 38.0, Fractions::OXYGEN);
    let mut gas = exchange.steady(PartialPressure::mmhg(40.0), &now);
    let protocol = Protocol { start: setup, changes: vec![], duration: Seconds::s(HOURS * 3600.0) };
    let (mut out, mut net_ml, mut since_s) = (Vec::new(), 0.0, 0.0);
    let mut last = None;
    let mut inspiring = true;
    for stretch in Simulation::new(&protocol).unwrap().steps() {
        let stretch = stretch.unwrap();
        let steps = if stretch.piece.start_s > HOURS * 3600.0 - 20.0 {
            Steps::new(0.01, 0.01).unwrap()
        } else {
            USUAL_STEPS
        };
        follow(&exchange, &mut gas, &stretch, &now, steps, |_, sample| {
            let inspires = sample.phase.is_inspiration();
            if inspires && !inspiring {
                last = Some((std::mem::take(&mut out), net_ml, sample.at_s - since_s));
                (net_ml, since_s) = (0.0, sample.at_s);
            }
            inspiring = inspires;
            let fraction = sample.passed.mixture.carbon_dioxide;
            net_ml -= sample.passed.volume_ml * fraction;
            if sample.passed.volume_ml < 0.0 {
                out.push((-sample.passed.volume_ml, fraction * exchange.dry_mmhg()));
            }
        })
        .unwrap();
    }
    let (out, net_ml, lasted_s) = last.unwrap();
    let made_ml = now.demand.carbon_dioxide_ml_s * lasted_s * btps_per_stpd(exchange.barometric);
    let expired_ml = out.iter().map(|step| step.0).sum();
    Read { fowler: Fowler::of(&out).unwrap(), expired_ml, net_ml, made_ml }
}

/// The slow half is ventilated less, so it holds more carbon dioxide, and it comes out
/// last: the plateau rises more than that of two halves alike, the more the further their
/// time constants part (until the slow half hardly takes part), whichever half is slow. What
/// leaves under the curve is what is made.
#[test]
fn law_of_conservation_under_a_plateau_that_uneven_halves_tilt() {
    let all = [[10.0, 10.0], [5.0, 30.0], [5.0, 60.0], [60.0, 5.0]].map(read);
    let rise = all.each_ref().map(|read| read.fowler.slope_per_ml * read.expired_ml);
    assert!(rise[0] > 0.0 && rise[1] > 1.2 * rise[0] && rise[2] > 1.1 * rise[1], "{rise:?}");
    assert!((rise[3] / rise[2] - 1.0).abs() < 1e-6, "{rise:?}");
    for read in all {
        let off = read.net_ml / read.made_ml - 1.0;
        assert!(off.abs() < 0.01, "{off}");
    }
}
