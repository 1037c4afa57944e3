//! Whatever a person types, a figure is drawn soundly or refused with its reason.

mod texts;

use proptest::prelude::*;
use texts::assert_texts_are_clear;
use tidewright::prelude::*;
use tidewright_figures::{BreathEnd, Event, FigureError, Ghost, Look, Phase, Piece, Waveforms};

fn curve(scale: f64) -> impl Strategy<Value = Vec<Piece>> {
    let piece = prop::collection::vec((0.0..1.0_f64, -scale..scale), 1..6);
    prop::collection::vec(piece, 1..8).prop_map(|pieces| {
        let mut start = 0.0;
        let place = |piece: Vec<(f64, f64)>| {
            let mut points: Piece = piece.into_iter().map(|(t, y)| (start + t, y)).collect();
            points.sort_by(|a, b| a.0.total_cmp(&b.0));
            start += 1.0;
            points
        };
        pieces.into_iter().map(place).collect()
    })
}

fn breath_end(scale: f64) -> impl Strategy<Value = BreathEnd> {
    let by = prop::sample::select(vec![EndedBy::Pressure, EndedBy::Time, EndedBy::Standby]);
    (0.0..8.0_f64, -scale..9e8_f64.min(4.0 * scale), by)
        .prop_map(|(at_s, pressure_cmh2o, by)| BreathEnd { at_s, pressure_cmh2o, by })
}

/// Phases one after the other, some of no length.
fn phases() -> impl Strategy<Value = Vec<Phase>> {
    let kinds = vec![PhaseKind::Inspiration, PhaseKind::Expiration, PhaseKind::Standby];
    let lengths = prop_oneof![Just(0.0), 0.0..3.0_f64];
    let phases = prop::collection::vec((lengths, prop::sample::select(kinds)), 0..12);
    phases.prop_map(|phases| {
        let mut end_s = 0.0;
        let place = |(length, kind)| {
            let start_s = end_s;
            end_s += length;
            Phase { start_s, end_s, kind }
        };
        phases.into_iter().map(place).collect()
    })
}

fn event() -> impl Strategy<Value = Event> {
    (0.0..8.0_f64, ".{0,40}").prop_map(|(at_s, label)| Event { at_s, label })
}

fn waveforms() -> impl Strategy<Value = Waveforms> {
    let scale = prop::sample::select(vec![1e-9, 0.03, 1.0, 12.0, 7e3, 9e8]);
    scale.prop_flat_map(|scale| {
        let words = (".{0,300}", prop::option::of(".{0,200}"), ".{0,20}", ".{0,60}");
        let capnogram = prop::option::of(curve(scale));
        let curves = (curve(scale), curve(scale), curve(scale), curve(scale), capnogram);
        let marks = (
            prop::collection::vec(breath_end(scale), 0..40),
            phases(),
            prop::collection::vec(event(), 0..9),
        );
        let window = (0.0..0.9_f64, 1.0..9.0_f64);
        (words, curves, marks, window).prop_map(|(words, curves, marks, window)| {
            let (title, subtitle, id, label) = words;
            let (mut breath_ends, phases, mut events) = marks;
            breath_ends.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
            events.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
            Waveforms {
                id,
                title,
                subtitle,
                start_s: window.0,
                end_s: window.1,
                airway_pressure_cmh2o: curves.0,
                airway_flow_ml_s: curves.1,
                lung_volume_ml: curves.2.clone(),
                capnogram_mmhg: curves.4.unwrap_or_default(),
                phases,
                breath_ends,
                events,
                cycling_pressure_cmh2o: curves.2,
                ghost: Some(Ghost { label, lung_volume_ml: curves.3, ..Ghost::default() }),
            }
        })
    })
}

/// A run with changes at any times, in and out of standby.
fn protocol() -> impl Strategy<Value = Protocol> {
    let change = (0.0..3.0_f64, 0.3..6.0_f64, 3.0..20.0_f64, any::<bool>());
    (prop::collection::vec(change, 0..6), 1.0..20.0_f64).prop_map(|(changes, duration_s)| {
        let mut at_s = 0.0;
        let changes = changes.into_iter().map(|(later_s, flow, pressure, standby)| {
            at_s += later_s;
            let mut setup = Setup::default();
            setup.ventilator.fresh_gas_flow = Flow::l_per_min(flow);
            setup.ventilator.cycling_pressure = Pressure::cmh2o(pressure);
            setup.ventilator.mode = if standby { Mode::Standby } else { Mode::Ventilating };
            Change { at: Seconds::s(at_s), setup }
        });
        let changes = changes.collect();
        Protocol { start: Setup::default(), changes, duration: Seconds::s(duration_s) }
    })
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_figure_is_sound_or_refused(
        waveforms in waveforms(),
        width_px in 0..1500_u32,
        height_px in 0..1200_u32,
    ) {
        let look = Look { width_px, height_px, ..Look::PAGE };
        match waveforms.figure(&look) {
            Ok(figure) => {
                let svg = figure.to_svg();
                let document = roxmltree::Document::parse(&svg).unwrap();
                prop_assert!(document.root_element().children().count() > 4);
                assert_texts_are_clear("any", &svg);
                match figure.to_png(30.0) {
                    Ok(bytes) => prop_assert_eq!(&bytes[1..4], b"PNG"),
                    Err(error) => {
                        let refused = matches!(error, FigureError::NoLetter { .. });
                        prop_assert!(refused, "{}", error);
                    }
                }
            }
            Err(FigureError::TooSmall { least_width_px, least_height_px, .. }) => {
                prop_assert!(least_width_px > width_px || least_height_px > height_px);
            }
            Err(FigureError::Empty { .. }) => (),
            Err(error) => prop_assert!(false, "{}", error),
        }
    }
    #[test]
    fn any_run_can_be_drawn(protocol in protocol()) {
        let simulation = Simulation::new(&protocol).unwrap();
        let trace = simulation.trace().unwrap();
        let waveforms = Waveforms::from_run(&trace, 0.0..protocol.duration.as_s());
        let breaths = trace.breaths();
        let ended: Vec<EndedBy> = waveforms.breath_ends.iter().map(|end| end.by).collect();
        let counted: Vec<EndedBy> = breaths.iter().map(|breath| breath.ended_by).collect();
        prop_assert!(ended.starts_with(&counted), "{:?} {:?}", ended, counted);
        let figure = waveforms.figure(&Look::PAGE).map_err(|e| TestCaseError::fail(e.to_string()))?;
        assert_texts_are_clear("run", &figure.to_svg());
    }
}
