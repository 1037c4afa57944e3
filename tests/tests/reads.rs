//! Reads that cannot be wrong: a piece answers for the time that it covers and from the
//! machine that made it, and a law of one's own is held against its own slope.

use tidewright::prelude::*;

fn bent() -> Setup {
    let mut setup = tidewright_tests::two_node::cat();
    setup.circuit.leak =
        Some(Leak { flow: Flow::ml_s(2.0), at: Pressure::cmh2o(10.0), law: LeakLaw::Orifice });
    setup
}

/// On every road: inside what it is, outside a typed answer and never a number.
#[test]
fn a_time_outside_a_piece_is_an_error() {
    for solver in [Solver::Auto, Solver::Numeric, Solver::Reference] {
        let machine = Machine::with_solver(bent(), solver).unwrap();
        let piece = step(&machine, &Moment::at_rest(&machine), 60.0).unwrap().piece;
        let lasts_s = piece.duration_s;
        assert!(lasts_s > 0.0);
        for signal in Signal::ALL {
            for t_s in [-1.0, -1e-6, lasts_s + 1e-6, lasts_s + 1.0, 1e9, f64::NAN, f64::INFINITY] {
                let outside = piece.at(signal, t_s).unwrap_err();
                assert_eq!(outside.duration_s, lasts_s);
                assert!(outside.to_string().contains("outside a piece"), "{outside}");
            }
            // What clocks are off by is not outside, and tells the value at the end.
            let end = piece.at(signal, lasts_s).unwrap();
            assert_eq!(piece.at(signal, lasts_s + 1e-12).unwrap(), end);
            assert_eq!(piece.nearest(signal, lasts_s + 5.0), end);
            assert_eq!(piece.nearest(signal, -5.0), piece.at(signal, 0.0).unwrap());
            assert_eq!(piece.nearest(signal, f64::NAN), piece.at(signal, 0.0).unwrap());
        }
    }
}

/// The machine goes with the piece; a twin of it makes an equal piece.
#[test]
fn a_piece_knows_its_machine() {
    let first = |machine| step(machine, &Moment::at_rest(machine), 60.0).unwrap().piece;
    let (one, twin) = (Machine::new(bent()).unwrap(), Machine::new(bent()).unwrap());
    assert!(std::ptr::eq(first(&one).machine(), &raw const one));
    assert_eq!(first(&one), first(&twin));
    let mut stiff = bent();
    stiff.lung.compartments[0].compliance = Compliance::ml_per_cmh2o(2.0);
    let stiff = Machine::new(stiff).unwrap();
    assert_ne!(first(&one), first(&stiff));
    // A stretch is made of a piece, which brings its machine along.
    let stretch = Stretch::from(first(&one));
    assert!(std::ptr::eq(stretch.machine, &raw const one));
}

fn with_law(slope_factor: f64) -> Result<Machine, SetupError> {
    // 5 mL for each cmH2O, stiffening above 100 mL.
    let law = move |ml: f64| {
        let over = (ml - 100.0).max(0.0);
        (ml / 5.0 + over * over / 500.0, slope_factor * (0.2 + over / 250.0))
    };
    let mut setup = tidewright_tests::two_node::cat();
    setup.lung.compartments[0].law = PressureVolume::User(UserLaw::new(law));
    Machine::new(setup)
}

/// A slope ten times too steep, or one that turns the wrong way, is found when the
/// machine is made, and so is one that is a quarter off.
#[test]
fn a_law_is_held_against_its_own_slope() {
    assert!(with_law(1.0).is_ok());
    for wrong in [10.0, 0.1, -1.0, 1.25, 0.0] {
        let error = with_law(wrong).unwrap_err();
        let SetupError::Slope { rises_cmh2o, told_cmh2o, .. } = error else {
            panic!("{error}");
        };
        assert!((told_cmh2o / rises_cmh2o - wrong).abs() < 0.02, "{error}");
    }
}
