//! Every kind of figure: a sound document, nothing clipped, nothing covered.

mod cases;
mod texts;

use roxmltree::{Document, Node};
use texts::assert_texts_are_clear;
use tidewright::prelude::*;
use tidewright_figures::{CAUTION, FigureError, FlowUnit, Look, Waveforms};

#[test]
fn svg_is_sound_and_says_what_it_shows() {
    for case in cases::all() {
        let figure = case.waveforms.figure(&case.look).unwrap();
        let svg = figure.to_svg();
        let document = Document::parse(&svg).unwrap();
        let root = document.root_element();
        assert_eq!(root.attribute("role"), Some("img"), "{}", case.name);

        let named: Vec<Node> = root.children().filter(Node::is_element).take(2).collect();
        assert_eq!(named[0].text(), Some(figure.title()));
        assert_eq!(named[1].text(), Some(figure.description()));
        let labelled_by = named.iter().map(|node| node.attribute("id").unwrap());
        let labelled_by: Vec<&str> = labelled_by.collect();
        assert_eq!(root.attribute("aria-labelledby"), Some(&*labelled_by.join(" ")));

        let mut ids: Vec<&str> = document.descendants().filter_map(|n| n.attribute("id")).collect();
        let count = ids.len();
        ids.sort_unstable();
        ids.dedup();
        assert_eq!(ids.len(), count, "{}: ids are not unique", case.name);
        for id in ids {
            assert!(id.chars().all(|c| c.is_ascii_alphanumeric() || c == '-'), "{id}");
        }
        for word in ["NaN", "inf"] {
            assert!(!document.descendants().any(|n| n.attributes().any(|a| a.value() == word)));
            assert!(!figure.description().contains(&format!(" {word} ")));
        }
    }
}

#[test]
fn text_is_read_from_the_heading_to_the_caution() {
    for case in cases::all() {
        let svg = case.waveforms.figure(&case.look).unwrap().to_svg();
        let document = Document::parse(&svg).unwrap();
        let texts: Vec<&str> = document
            .descendants()
            .filter(|node| node.has_tag_name("text"))
            .filter_map(|node| node.text())
            .collect();
        let place = |word: &str| texts.iter().position(|text| text.starts_with(word));
        let order = [place("airway"), place("Time (s)"), place("For teaching only")];
        assert!(case.waveforms.title.starts_with(texts[0]), "{}", texts[0]);
        assert!(order.iter().all(Option::is_some) && order.is_sorted(), "{order:?}");
        assert!(CAUTION.ends_with(texts.last().unwrap()));
    }
}

#[test]
fn no_text_is_clipped_or_covered() {
    for case in cases::all() {
        let svg = case.waveforms.figure(&case.look).unwrap().to_svg();
        assert_texts_are_clear(case.name, &svg);
    }
}

#[test]
fn the_same_data_give_the_same_bytes() {
    for (first, second) in cases::all().into_iter().zip(cases::all()) {
        let [first, second] = [first, second].map(|case| case.waveforms.figure(&case.look));
        let (first, second) = (first.unwrap(), second.unwrap());
        assert_eq!(first, second);
        assert_eq!(first.to_png(48.0).unwrap(), second.to_png(48.0).unwrap());
    }
}

#[test]
fn a_figure_stays_small_however_long_the_run() {
    for case in cases::all() {
        let svg = case.waveforms.figure(&case.look).unwrap().to_svg();
        assert!(svg.len() < 100_000, "{}: {} bytes", case.name, svg.len());
    }
}

#[test]
fn each_end_of_a_breath_is_marked_by_what_ended_it() {
    let case = cases::all().into_iter().find(|case| case.name == "leak-opens").unwrap();
    let figure = case.waveforms.figure(&case.look).unwrap();
    let svg = figure.to_svg();
    let document = Document::parse(&svg).unwrap();
    let marks = document
        .descendants()
        .find(|node| node.attribute("id") == Some("leak-opens-ends-of-breaths"))
        .unwrap();
    let corners = |node: Node| node.attribute("d").map(|d| d.matches(' ').count().div_ceil(2));
    let corners: Vec<usize> = marks.children().filter_map(corners).collect();
    let expected: Vec<usize> = case
        .waveforms
        .breath_ends
        .iter()
        .map(|end| if end.by == EndedBy::Pressure { 3 } else { 4 })
        .collect();
    assert_eq!(corners, expected);
    assert!(expected.contains(&3) && expected.contains(&4));
    assert!(figure.description().contains("Ended: two by pressure, four by the time limit."));
}

#[test]
fn descriptions_are_made_from_the_data() {
    let case = cases::all().into_iter().find(|case| case.name == "effort").unwrap();
    let description = case.waveforms.figure(&case.look).unwrap().description().to_owned();
    assert_eq!(
        description,
        "Airway pressure, airway flow and lung volume over time, from 0 s to 10 s. One breath. \
         Inspiration lasts 1 s and ends at 9 cmH2O. It was ended by pressure. Airway pressure \
         lies between −3.5 and 9 cmH2O, airway flow lies between −8 and 2.4 L/min, lung volume \
         lies between 0 and 40 mL."
    );
}

#[test]
fn points_of_a_run_lie_on_it_and_chords_stay_close() {
    let protocol =
        Protocol { start: Setup::default(), changes: vec![], duration: Seconds::s(20.0) };
    let simulation = Simulation::new(&protocol).unwrap();
    let trace = simulation.trace().unwrap();
    let waveforms = Waveforms::from_run(&trace, 0.0..20.0);
    for (pieces, signal, span) in [
        (&waveforms.airway_pressure_cmh2o, Signal::AirwayPressure, 10.0),
        (&waveforms.airway_flow_ml_s, Signal::AirwayFlow, 400.0),
        (&waveforms.lung_volume_ml, Signal::LungVolume, 60.0),
    ] {
        for (points, stretch) in pieces.iter().zip(&trace.stretches) {
            let at = |t: f64| stretch.piece.at(signal, t - stretch.piece.start_s).unwrap();
            assert_eq!(points[0].1, stretch.piece.first(signal));
            for pair in points.windows(2) {
                let [(t0, y0), (t1, y1)] = [pair[0], pair[1]];
                assert!((at(t1) - y1).abs() < 1e-9 * span);
                for share in [0.1, 0.37, 0.5, 0.8] {
                    let chord = y0 + share * (y1 - y0);
                    let miss = (at(t0 + share * (t1 - t0)) - chord).abs();
                    assert!(miss < span / 4000.0, "{signal:?} at {t0}: {miss}");
                }
            }
        }
    }
}

#[test]
fn a_window_into_a_run_shows_only_that_window() {
    let case = cases::all().into_iter().find(|case| case.name == "leak-opens").unwrap();
    let waveforms = Waveforms { start_s: 14.0, end_s: 18.0, ..case.waveforms };
    let figure = waveforms.figure(&Look::PAGE).unwrap();
    assert!(figure.description().contains("from 14 s to 18 s. One breath."));
    assert!(figure.description().contains("At 16 s: large leak."));
    assert!(!figure.description().contains("small leak"));
    assert_texts_are_clear("window", &figure.to_svg());
}

#[test]
fn flow_can_be_shown_in_ml_per_s() {
    let case = cases::all().into_iter().find(|case| case.name == "rat").unwrap();
    let look = Look { flow_unit: FlowUnit::MlPerS, ..Look::PAGE };
    let figure = case.waveforms.figure(&look).unwrap();
    assert!(figure.to_svg().contains(">Flow (mL/s)<"));
    // Of 5 mL/s, the lung takes its share of the compliance: 0.35 / (0.35 + 0.02).
    assert!(figure.description().contains("and 4.73 mL/s"), "{}", figure.description());
}

#[test]
fn png_has_the_size_and_the_words_of_the_figure() {
    let case = cases::all().into_iter().find(|case| case.name == "one-breath").unwrap();
    let figure = case.waveforms.figure(&case.look).unwrap();
    let bytes = figure.to_png(300.0).unwrap();
    let mut reader = png::Decoder::new(std::io::Cursor::new(bytes)).read_info().unwrap();
    let mut pixels = vec![0; reader.output_buffer_size().unwrap()];
    reader.next_frame(&mut pixels).unwrap();
    let info = reader.info();
    assert_eq!((info.width, info.height), (1875, 2125));
    let dots_per_metre = info.pixel_dims.unwrap().xppu;
    assert_eq!(dots_per_metre, 11_811);
    let texts: Vec<String> = info.utf8_text.iter().map(|chunk| chunk.get_text().unwrap()).collect();
    assert_eq!(texts, [figure.title(), figure.description()]);
    assert_eq!(pixels[..3], [255, 255, 255]);
    let ink = pixels.chunks_exact(3).filter(|pixel| pixel[0] < 100).count();
    assert!(ink > 20_000, "{ink}");
}

/// The pixels are those that a general renderer of SVG gives, but for its way to round
/// a circle and to place a letter: at the edges a shade lighter or darker.
#[test]
fn twin_pixels_are_those_of_a_general_renderer() {
    for case in cases::all() {
        let figure = case.waveforms.figure(&case.look).unwrap();
        let bytes = figure.to_png(120.0).unwrap();
        let mut reader = png::Decoder::new(std::io::Cursor::new(bytes)).read_info().unwrap();
        let mut ours = vec![0; reader.output_buffer_size().unwrap()];
        reader.next_frame(&mut ours).unwrap();
        let (width, height) = (reader.info().width, reader.info().height);
        let theirs = texts::pixels(&figure.to_svg(), width, height);
        assert_eq!(ours.len(), theirs.len());
        let apart: Vec<u8> = ours.iter().zip(&theirs).map(|(a, b)| a.abs_diff(*b)).collect();
        let (far, most) = (apart.iter().filter(|&&d| d > 8).count(), apart.iter().max().unwrap());
        let mean = apart.iter().map(|&d| f64::from(d)).sum::<f64>() / apart.len() as f64;
        assert!(far * 1000 < apart.len() && mean < 0.02, "{}: {far}, {mean}, {most}", case.name);
    }
}

#[test]
fn what_cannot_be_drawn_is_refused_with_its_reason() {
    let sound = || cases::all().into_iter().find(|case| case.name == "effort").unwrap().waveforms;
    let message = |waveforms: Waveforms, look: Look| match waveforms.figure(&look) {
        Ok(_) => "drawn".to_owned(),
        Err(error) => error.to_string(),
    };

    let backwards = Waveforms { start_s: 3.0, end_s: 2.0, ..sound() };
    assert!(message(backwards, Look::PAGE).contains("window is 3 s to 2 s"));
    let elsewhere = Waveforms { start_s: 50.0, end_s: 60.0, ..sound() };
    assert!(message(elsewhere, Look::PAGE).contains("no point between 50 s and 60 s"));
    let mut broken = sound();
    broken.lung_volume_ml[0][1].1 = f64::NAN;
    assert!(message(broken, Look::PAGE).contains("lung volume holds NaN at 1.5 s"));
    let mut folded = sound();
    folded.airway_flow_ml_s[2][0].0 = 1.0;
    assert!(message(folded, Look::PAGE).contains("airway flow goes back in time"));
    let mut dizzy = sound();
    dizzy.breath_ends[0].pressure_cmh2o = f64::INFINITY;
    assert!(message(dizzy, Look::PAGE).contains("the end of a breath holds inf at 7 s"));

    let stamp = Look { width_px: 200, height_px: 150, ..Look::PAGE };
    let refusal = sound().figure(&stamp).unwrap_err();
    let FigureError::TooSmall { least_width_px, least_height_px, .. } = refusal else {
        panic!("{refusal}");
    };
    let enough = Look { width_px: least_width_px, height_px: least_height_px, ..stamp };
    let narrower = Look { width_px: least_width_px - 1, ..enough };
    assert!(sound().figure(&enough).is_ok());
    assert!(matches!(sound().figure(&narrower), Err(FigureError::TooSmall { .. })));
    let wall = Look { width_px: 20_000, ..Look::PAGE };
    assert!(message(sound(), wall).contains("too large"));

    let figure = sound().figure(&Look::PAGE).unwrap();
    for dpi in [0.0, -96.0, 10.0, 5000.0, f64::NAN] {
        assert!(matches!(figure.to_png(dpi), Err(FigureError::Dpi { .. })), "{dpi}");
    }
    let greek = Waveforms { title: "γάτα".into(), ..sound() }.figure(&Look::PAGE).unwrap();
    assert!(greek.to_svg().contains("γάτα"));
    let refusal = greek.to_png(96.0).unwrap_err().to_string();
    assert!(refusal.contains("no letter 'γ'"), "{refusal}");
}
