//! The debrief as one self-contained page.

use std::fmt::Write as _;

use crate::debrief::Debrief;
use crate::words::text::said;

const STYLE: &str = "body{font:16px/1.5 sans-serif;max-width:50rem;margin:2rem auto;padding:0 1rem;\
color:#111;background:#fff}table{border-collapse:collapse;width:100%}th,td{text-align:left;\
vertical-align:top;padding:.3rem .6rem;border-bottom:1px solid #999}.caution{border:2px solid #111;\
padding:.6rem}figure{margin:1rem 0}figure svg{max-width:100%;height:auto}td{overflow-wrap:anywhere}\
@media(max-width:30rem){body{margin:.5rem auto;padding:0 .5rem;font-size:15px}thead{display:none}\
tr,td{display:block;border:0;padding:.1rem 0}tr{border-bottom:1px solid #999;padding:.4rem 0}\
td::before{content:attr(data-is);font-weight:bold}figure{overflow-x:auto}\
figure svg{max-width:none;min-width:36rem}}";

/// What no page may leave open.
const NO_PROOF: &str = "A log tells what was done and when; it is no proof of who did it.";

/// The page. `figure_svg` is the traces of the session, drawn by the caller, or
/// nothing.
#[must_use]
pub fn page(debrief: &Debrief, figure_svg: &str) -> String {
    let mut page = String::new();
    let title = escaped(&debrief.title);
    // Writing to a `String` cannot fail.
    let _ = write!(
        page,
        "<!doctype html><html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" \
         content=\"width=device-width\"><title>{title}</title><style>{STYLE}</style></head><body>\
         <p class=\"caution\">{}</p><h1>{title}</h1><p><strong>{}</strong></p>",
        escaped(debrief.caution),
        escaped(&debrief.patient)
    );
    let first =
        [("What helped most", &debrief.helped), ("What to do otherwise", &debrief.otherwise)];
    for (name, text) in first {
        if let Some(text) = text {
            let _ = write!(page, "<p>{name}: {}</p>", escaped(text));
        }
    }
    page.push_str("<h2>1 What happened</h2>");
    if !figure_svg.is_empty() {
        let _ = write!(page, "<figure>{figure_svg}</figure>");
    }
    let rows = debrief.happened.iter().map(|entry| {
        let at = format!("{:.1} s", entry.at_s);
        vec![at, entry.kind.to_owned(), escaped(&entry.text)]
    });
    page += &table(&["Time", "Kind", "What"], rows);
    let with_gas = debrief.counterfactuals.iter().any(|one| one.lowest_spo2_percent.is_some());
    let _ = write!(
        page,
        "<h2>2 What could be seen, and when</h2><p>{}</p><h2>3 Why</h2><p>{}</p>",
        escaped(&debrief.visible),
        escaped(&debrief.why)
    );
    let heads = [
        "What might have been",
        "Highest alveolar pressure",
        "Longest time without a breath",
        "Last breath",
        "Highest EtCO2",
        "Lowest SpO2",
    ];
    let heads = if with_gas { &heads[..] } else { &heads[..4] };
    let courses = debrief.counterfactuals.iter().map(|course| {
        let mut cells = vec![
            escaped(&course.name),
            format!("{} cmH2O", said(course.highest_alveolar_pressure_cmh2o)),
            format!("{} s", said(course.longest_apnoea_s)),
            course
                .last_tidal_volume_ml_kg
                .map_or_else(|| "–".to_owned(), |volume| format!("{} mL/kg", said(volume))),
        ];
        if with_gas {
            cells.push(format!("{} mmHg", whole(course.highest_end_tidal_co2_mmhg)));
            cells.push(format!("{} %", whole(course.lowest_spo2_percent)));
        }
        cells
    });
    page += &table(heads, courses);
    if let Some(left_out) = &debrief.left_out {
        let _ = write!(page, "<p>{}</p>", escaped(left_out));
    }
    let _ = write!(page, "<h2>4 Next</h2><p>{}</p>", escaped(&debrief.next));
    page += &marks(debrief);
    let _ =
        write!(page, "<p><small>{} {NO_PROOF}</small></p></body></html>", escaped(debrief.limits));
    page
}

fn marks(debrief: &Debrief) -> String {
    let marking = &debrief.marking;
    let mut page = String::new();
    let verdict = if marking.passed { "Passed" } else { "Not passed" };
    let safety = if marking.safe { "met" } else { "not met" };
    let _ = write!(
        page,
        "<h2>5 Marks</h2><p><strong>{verdict}</strong>: {} of {} points \
         (pass mark {} %, a suggestion unless your teacher set it); safety {safety}. Pseudonym {}, \
         seed {}, version {}, revision {} of the model; {}.</p>",
        said(marking.points),
        said(marking.points_of),
        said(marking.pass_percent),
        escaped(&marking.pseudonym),
        marking.seed,
        escaped(&marking.engine),
        marking.model,
        escaped(marking.ended)
    );
    let rows = marking.criteria.iter().map(|judged| {
        let met = if judged.met { "yes" } else { "<strong>no</strong>" };
        let points = format!("{}/{}", said(judged.points), said(judged.points_of));
        let points = match judged.points_of {
            of if of > 0.0 || judged.points < 0.0 => points,
            _ if judged.strand == "safety" => "must be met".to_owned(),
            _ => "–".to_owned(),
        };
        let texts = [&judged.measure, &judged.found, &judged.wanted].map(|text| escaped(text));
        texts.into_iter().chain([met.to_owned(), points]).collect()
    });
    page += &table(&["Measured", "Found", "Wanted", "Met", "Points"], rows);
    for needless in &marking.needless {
        let _ = write!(page, "<p>Not called for: {}</p>", escaped(needless));
    }
    page
}

/// A table of cells that are markup already; on a narrow screen each cell says what it is.
fn table(heads: &[&str], rows: impl Iterator<Item = Vec<String>>) -> String {
    let mut text = String::from("<table><thead><tr>");
    for head in heads {
        let _ = write!(text, "<th>{head}</th>");
    }
    text.push_str("</tr></thead><tbody>");
    for row in rows {
        text.push_str("<tr>");
        for (head, cell) in heads.iter().zip(row) {
            let _ = write!(text, "<td data-is=\"{head}: \">{cell}</td>");
        }
        text.push_str("</tr>");
    }
    text + "</tbody></table>"
}

fn whole(value: Option<f64>) -> String {
    value.map_or_else(|| "–".to_owned(), |value| format!("{value:.0}"))
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}
