//! The figure of a sweep: a family of curves, or a map where they would be too many.

use tidewright_figures::{
    Chart, ChartCurve, ChartPanel, Figure, FigureError, Heading, Line, Look, Map,
};
use tidewright_scenario::Scenario;
use tidewright_scenario::report;
use tidewright_study::Metric;
use tidewright_study::sweep::Sweep;

use crate::files::problem::Problem;

/// More curves than this become a map.
const MOST_CURVES: usize = 4;

/// Draws the measures of a sweep.
pub fn draw(scenario: &Scenario, sweep: &Sweep, show: &[Metric]) -> Result<Figure, Problem> {
    let title = scenario.title.clone().unwrap_or_else(|| scenario.id.to_string());
    let subtitle = report::patient(scenario);
    let heading = Heading { id: scenario.id.as_str(), title: &title, subtitle: &subtitle };
    let figure = match (&sweep.fields[..], show) {
        ([first, _], &[metric]) if values(sweep, 0).len() > MOST_CURVES => {
            let (rows, columns) = (values(sweep, 0), values(sweep, 1));
            Map {
                heading,
                measure: metric.into(),
                across: subscripts(&sweep.fields[1].label()),
                up: subscripts(&first.label()),
                cells: cells(sweep, metric, &rows, &columns),
                columns,
                rows,
            }
            .figure(&Look::PAGE)
        }
        ([_, _], _) if values(sweep, 0).len() > MOST_CURVES => {
            return Err(Problem::usage(
                format!(
                    "the first field takes {} values: a map shows them, of one measure at a time",
                    values(sweep, 0).len()
                ),
                format!("write one `--show`, or at most {MOST_CURVES} values of the first field"),
            ));
        }
        _ => family(heading, sweep, show),
    };
    figure.map_err(|source| match source {
        FigureError::Crowded { .. } => Problem::usage(
            source.to_string(),
            "write fewer values with --over, or no more than four measures with --show",
        ),
        source => source.into(),
    })
}

fn family(heading: Heading<'_>, sweep: &Sweep, show: &[Metric]) -> Result<Figure, FigureError> {
    let Some(along) = sweep.fields.last() else {
        return Err(FigureError::Crowded { what: "fields", count: 0, most: 2 });
    };
    let panel = |&metric: &Metric| {
        let curve = |(index, curve): (usize, tidewright_study::sweep::Curve)| {
            let mut points = curve.points;
            points.sort_by(|a, b| a.0.total_cmp(&b.0));
            let label = match (&sweep.fields[..], curve.at) {
                ([_, _], Some(at)) => at.to_string(),
                _ => String::new(),
            };
            ChartCurve { label, line: Line::Family(index), pieces: vec![points] }
        };
        let curves = sweep.curves(metric).into_iter().enumerate().map(curve);
        let curves = curves.filter(|curve| curve.pieces.iter().any(|piece| !piece.is_empty()));
        ChartPanel { measure: metric.into(), curves: curves.collect() }
    };
    let subtitle = match &sweep.fields[..] {
        [first, _] => format!("{} · curves: {}", heading.subtitle, subscripts(&first.label())),
        _ => heading.subtitle.to_owned(),
    };
    let chart = Chart {
        heading: Heading { subtitle: &subtitle, ..heading },
        along: subscripts(&along.label()),
        panels: show.iter().map(panel).collect(),
    };
    match chart.figure(&Look::PAGE) {
        // Several panels with several labels want a longer page.
        Err(FigureError::TooSmall { least_width_px, least_height_px, .. }) => {
            let look = Look { width_px: least_width_px, height_px: least_height_px, ..Look::PAGE };
            chart.figure(&look)
        }
        drawn => drawn,
    }
}

/// The values of one of the fields, rising.
fn values(sweep: &Sweep, field: usize) -> Vec<f64> {
    let mut values: Vec<f64> =
        sweep.rows.iter().filter_map(|row| row.values.get(field).copied()).collect();
    values.sort_by(f64::total_cmp);
    values.dedup();
    values
}

fn cells(sweep: &Sweep, metric: Metric, rows: &[f64], columns: &[f64]) -> Vec<Vec<Option<f64>>> {
    let mut cells = vec![vec![None; columns.len()]; rows.len()];
    let Some(grid) = sweep.grid(metric) else { return cells };
    let place = |values: &[f64], value: &f64| values.iter().position(|known| known == value);
    for (row, line) in grid.rows.iter().zip(&grid.cells) {
        for (column, cell) in grid.columns.iter().zip(line) {
            if let (Some(j), Some(i)) = (place(rows, row), place(columns, column)) {
                cells[j][i] = *cell;
            }
        }
    }
    cells
}

fn subscripts(label: &str) -> String {
    label.replace("cmH2O", "cmH₂O")
}
