//! Charts and maps of plain numbers.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use roxmltree::Document;
use tidewright_figures::{
    Chart, ChartCurve, ChartPanel, Figure, FigureError, Heading, Line, Look, Map, Measure,
};

const VOLUME: Measure =
    Measure { key: "tidal-volume", name: "Tidal volume", short: "VT", unit: "mL", suffix: "ml" };
const HEADING: Heading<'static> =
    Heading { id: "study", title: "Volume <over> two settings", subtitle: "a cat" };

fn chart(curves: Vec<ChartCurve>) -> Chart<'static> {
    let panels = vec![ChartPanel { measure: VOLUME, curves }];
    Chart { heading: HEADING, along: "Flow (L/min)".to_owned(), panels }
}

fn curve(points: &[(f64, f64)]) -> ChartCurve {
    ChartCurve { label: "soft".to_owned(), line: Line::Family(0), pieces: vec![points.to_vec()] }
}

fn map(columns: usize, rows: usize) -> Map<'static> {
    let values = |n: usize| (0..n).map(|i| i as f64).collect::<Vec<_>>();
    Map {
        heading: HEADING,
        measure: VOLUME,
        across: "Flow (L/min)".to_owned(),
        columns: values(columns),
        up: "Pressure (cmH₂O)".to_owned(),
        rows: values(rows),
        cells: (0..rows)
            .map(|j| {
                (0..columns).map(|i| (i != 1 || j != 0).then_some((10 * i + j) as f64)).collect()
            })
            .collect(),
    }
}

#[test]
fn a_chart_is_sound_svg_with_caution_and_its_numbers() {
    let figure = chart(vec![curve(&[(1.0, 20.0), (2.0, 30.5)])]).figure(&Look::PAGE).unwrap();
    let svg = figure.to_svg();
    Document::parse(&svg).unwrap();
    assert!(svg.contains("Not a medical device") && svg.contains("Volume &lt;over&gt;"));
    assert_eq!(
        figure.to_csv(),
        "curve,flow_l_min,tidal_volume_ml,for_teaching_only_not_a_medical_device\n\
         soft,1.000000,20.000000,\nsoft,2.000000,30.500000,\n"
    );
    assert!(figure.description().contains("20 to 30.5 mL"), "{}", figure.description());
    // A single point, and a flat zero, have axes too.
    chart(vec![curve(&[(3.0, 1.0)])]).figure(&Look::PAGE).unwrap();
    chart(vec![curve(&[(0.0, 0.0), (1.0, 0.0)])]).figure(&Look::PAGE).unwrap();
}

#[test]
fn a_small_map_has_numbers_and_a_large_one_shades() {
    let small = map(3, 2).figure(&Look::PAGE).unwrap();
    let texts = |svg: &str| -> Vec<String> {
        let document = Document::parse(svg).unwrap();
        let texts = document.descendants().filter(|node| node.has_tag_name("text"));
        texts.filter_map(|node| node.text().map(str::to_owned)).collect()
    };
    let found = texts(&small.to_svg());
    for number in ["0", "20", "21", "11"] {
        assert!(found.iter().any(|text| text == number), "{number}: {found:?}");
    }
    let csv = small.to_csv();
    assert_eq!(csv.lines().count(), 7);
    assert!(csv.contains("\n0,1,\n"), "the cell without a value is empty: {csv}");
    let large = map(40, 30).figure(&Look::PAGE).unwrap();
    assert!(texts(&large.to_svg()).iter().any(|text| text.contains("(dark)")));
    assert_eq!(large.to_csv().lines().count(), 1201);
}

#[test]
fn what_no_reader_could_tell_apart_is_refused() {
    let refused = |drawn: Result<Figure, FigureError>| {
        let error = drawn.unwrap_err();
        let expected = matches!(error, FigureError::Crowded { .. } | FigureError::Value { .. });
        assert!(expected, "{error}");
    };
    refused(chart(vec![curve(&[(0.0, 1.0)]); 5]).figure(&Look::PAGE));
    refused(chart(vec![]).figure(&Look::PAGE));
    refused(chart(vec![curve(&[])]).figure(&Look::PAGE));
    refused(chart(vec![curve(&[(0.0, f64::NAN)])]).figure(&Look::PAGE));
    refused(map(101, 2).figure(&Look::PAGE));
    refused(map(0, 2).figure(&Look::PAGE));
    let mut infinite = map(2, 2);
    infinite.cells[1][1] = Some(f64::INFINITY);
    refused(infinite.figure(&Look::PAGE));
    // Nothing but cells without a value.
    let mut empty = map(2, 2);
    empty.cells = vec![vec![None; 2]; 2];
    refused(empty.figure(&Look::PAGE));
}
