//! Gas is neither made nor lost on its way.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use tidewright::exchange::{
    Apparatus, Conditions, Content, Exchange, Fractions, GasState, Moved, Passage,
};
use tidewright::prelude::*;
use tidewright::species::{Animal, Species};

fn cat() -> (Exchange, Conditions, GasState) {
    let cat = Animal::typical(Species::Cat, Mass::kg(4.0));
    let exchange = Exchange::new(&cat, &cat.lung(), Apparatus::default()).unwrap();
    let now = Conditions::of(&cat, 38.5, Fractions::OXYGEN);
    let state = exchange.steady(PartialPressure::mmhg(40.0), &now);
    (exchange, now, state)
}

/// Conservation: what blood and tissues store grows by what the lung returned more than
/// came to it, and by what was made; of oxygen less what was used.
#[test]
fn closed_form_blood_and_tissues_hold_what_comes_in() {
    let (exchange, now, mut state) = cat();
    let body = &exchange.body;
    let came = state.body.venous;
    let returned =
        Content { carbon_dioxide: came.carbon_dioxide - 0.06, oxygen: came.oxygen + 0.05 };
    let flow = now.demand.cardiac_output_ml_s;
    let lung = Passage { came, returned };
    for _ in 0..20 {
        let before = body.stored(&state.body);
        let made = body.advance(&mut state.body, &lung, &now.demand, 0.5);
        let after = body.stored(&state.body);
        let carbon_dioxide = flow * 0.5 * -0.06 + made.carbon_dioxide;
        let oxygen = flow * 0.5 * 0.05 - made.oxygen;
        assert!((after.carbon_dioxide - before.carbon_dioxide - carbon_dioxide).abs() < 1e-9);
        assert!((after.oxygen - before.oxygen - oxygen).abs() < 1e-9);
        assert!((made.carbon_dioxide / 0.5 / now.demand.carbon_dioxide_ml_s - 1.0).abs() < 1e-9);
    }
    // More was blown off than made, so tissues give: their pressure falls.
    let fallen = state.body.tissue_mmhg;
    let (.., fresh) = cat();
    assert!(fallen.iter().zip(fresh.body.tissue_mmhg).all(|(now, then)| *now < then));
}

/// A leak that lets room air in while the patient breathes in: oxygen at the connection is
/// that of the mixture of fresh gas and air, and the ledger knows where it came from.
#[test]
fn closed_form_room_air_through_a_leak_dilutes_what_is_breathed() {
    let (exchange, now, mut state) = cat();
    let before = exchange.ledger(&state);
    let (fresh_ml, air_ml) = (6.0, 4.0);
    let mut moved = Moved {
        step_s: 0.1,
        fresh_ml,
        leak_ml: -air_ml,
        outlet_ml: 0.0,
        compartments_ml: Default::default(),
        reached: [true; _],
        circuit_ml: 0.0,
        outlet_is_open: false,
        port: PatientPort::Connected,
    };
    moved.compartments_ml[0] = fresh_ml + air_ml;
    let passed = exchange.step(&mut state, &moved, &now);
    let oxygen = (fresh_ml + air_ml * Fractions::AIR.oxygen) / (fresh_ml + air_ml);
    // What blood takes up meanwhile is drawn from the limb, too.
    assert!((passed.mixture.oxygen - oxygen).abs() < 2e-3, "{}", passed.mixture.oxygen);
    let since = exchange.ledger(&state).since(&before);
    assert!(since.oxygen.room_air_ml > 0.0);
    for account in [since.oxygen, since.carbon_dioxide] {
        assert!(account.unexplained_ml().abs() < 1e-9, "{account:?}");
    }
}
