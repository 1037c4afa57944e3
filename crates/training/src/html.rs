//! The debrief as one self-contained page.

use std::fmt::Write as _;

use crate::debrief::Debrief;
use crate::text::said;

const STYLE: &str = "body{font:16px/1.5 sans-serif;max-width:50rem;margin:2rem auto;padding:0 1rem;\
color:#111;background:#fff}table{border-collapse:collapse;width:100%}th,td{text-align:left;\
vertical-align:top;padding:.3rem .6rem;border-bottom:1px solid #999}.caution{border:2px solid #111;\
padding:.6rem}figure{margin:1rem 0}figure svg{max-width:100%;height:auto}td{overflow-wrap:anywhere}\
@media(max-width:30rem){body{margin:.5rem auto;padding:0 .5rem;font-size:15px}th,td{padding:.2rem}}";

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
    page.push_str("<table><tr><th>Time</th><th>Kind</th><th>What</th></tr>");
    for entry in &debrief.happened {
        let (at_s, kind, text) = (entry.at_s, entry.kind, escaped(&entry.text));
        let _ = write!(page, "<tr><td>{at_s:.1} s</td><td>{kind}</td><td>{text}</td></tr>");
    }
    let with_gas = debrief.counterfactuals.iter().any(|one| one.lowest_spo2_percent.is_some());
    let _ = write!(
        page,
        "</table><h2>2 What could be seen, and when</h2><p>{}</p><h2>3 Why</h2><p>{}</p><table><tr>\
         <th>What might have been</th><th>Highest alveolar pressure</th><th>Longest time without a \
         breath</th><th>Last breath</th>{}</tr>",
        escaped(&debrief.visible),
        escaped(&debrief.why),
        if with_gas { "<th>Highest EtCO2</th><th>Lowest SpO2</th>" } else { "" }
    );
    for course in &debrief.counterfactuals {
        let _ = write!(
            page,
            "<tr><td>{}</td><td>{} cmH2O</td><td>{} s</td><td>{} mL/kg</td>{}</tr>",
            escaped(&course.name),
            said(course.highest_alveolar_pressure_cmh2o),
            said(course.longest_apnoea_s),
            course.last_tidal_volume_ml_kg.map_or_else(|| "–".to_owned(), said),
            if with_gas {
                format!(
                    "<td>{} mmHg</td><td>{} %</td>",
                    whole(course.highest_end_tidal_co2_mmhg),
                    whole(course.lowest_spo2_percent)
                )
            } else {
                String::new()
            }
        );
    }
    if let Some(left_out) = &debrief.left_out {
        let columns = if with_gas { 6 } else { 4 };
        let _ = write!(page, "<tr><td colspan=\"{columns}\">{}</td></tr>", escaped(left_out));
    }
    let _ = write!(page, "</table><h2>4 Next</h2><p>{}</p>", escaped(&debrief.next));
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
         seed {}, version {}, revision {} of the model; {}.</p><table><tr><th>Measured</th><th>Found</th><th>Wanted</th>\
         <th>Met</th><th>Points</th></tr>",
        said(marking.points),
        said(marking.points_of),
        said(marking.pass_percent),
        escaped(&marking.pseudonym),
        marking.seed,
        escaped(&marking.engine),
        marking.model,
        escaped(marking.ended)
    );
    for judged in &marking.criteria {
        let met = if judged.met { "yes" } else { "<strong>no</strong>" };
        let points = format!("{}/{}", said(judged.points), said(judged.points_of));
        let points = match judged.points_of {
            of if of > 0.0 || judged.points < 0.0 => points,
            _ if judged.strand == "safety" => "must be met".to_owned(),
            _ => "–".to_owned(),
        };
        let _ = write!(
            page,
            "<tr><td>{}</td><td>{}</td><td>{}</td><td>{met}</td><td>{points}</td></tr>",
            escaped(&judged.measure),
            escaped(&judged.found),
            escaped(&judged.wanted)
        );
    }
    page.push_str("</table>");
    for needless in &marking.needless {
        let _ = write!(page, "<p>Not called for: {}</p>", escaped(needless));
    }
    page
}

fn whole(value: Option<f64>) -> String {
    value.map_or_else(|| "–".to_owned(), |value| format!("{value:.0}"))
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}
