//! The handout as HTML with its own print style.

use std::fmt::Write as _;

use tidewright_scenario::format::Scenario;
use tidewright_scenario::report;

use super::{Answer, MEASURES, Paper};
use crate::svg::escape;
use crate::ticks::number;

const CAUTION: &str = "For teaching only. Not a medical device. Simulated animals and equipment: \
    real ones differ. Do not use for decisions about a patient. Follow the veterinary surgeon in \
    charge, local law, your workplace rules and the instructions of the equipment in front of you.";
const RECORD: [&str; 6] =
    ["Time (min)", "Fresh gas (L/min)", "Peak (cmH₂O)", "Rate (per min)", "Insp. time (s)", "CO₂"];
const COLUMNS: usize = 12;

pub(super) fn page(
    scenario: &Scenario,
    paper: Paper,
    seed: u64,
    quiz: &str,
    answer: &str,
    changes: &[Answer],
) -> String {
    let (size, width_mm) = match paper {
        Paper::A4 => ("A4", 182),
        Paper::Letter => ("letter", 187),
    };
    let title = escape(scenario.title.as_deref().unwrap_or(scenario.id.as_str()));
    let story = escape(scenario.story.as_deref().unwrap_or_default());
    let patient = escape(&report::patient(scenario));
    let settings = escape(&report::settings(scenario).join(", "));
    let teaches = escape(scenario.teaches.as_deref().unwrap_or_default());
    let version = env!("CARGO_PKG_VERSION");
    // The scenario's own name would tell the answer on the student's pages.
    let foot = format!("<footer>{CAUTION}<br>Seed {seed}, Tidewright {version}</footer>");
    let answer_foot = foot.replace("Seed", &format!("{}, seed", scenario.id));
    // Ids must not repeat within one page.
    let answer = answer
        .replace(&format!("\"{}-", scenario.id), &format!("\"answer-{}-", scenario.id))
        .replace(&format!(" {}-desc", scenario.id), &format!(" answer-{}-desc", scenario.id));
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width\">\n<title>{patient}</title>\n\
         <style>\n@page {{ size: {size}; margin: 12mm 14mm; }}\n\
         body {{ font: 11pt/1.4 Arial, Helvetica, sans-serif; color: #1a1a1a; \
         max-width: {width_mm}mm; margin: 0 auto; }}\n\
         h1 {{ font-size: 16pt; margin: 0 0 2mm; }} h2 {{ font-size: 12pt; margin: 3mm 0 1mm; }}\n\
         p {{ margin: 0 0 1mm; }} .case {{ border: 0.5mm solid #1a1a1a; padding: 2mm 3mm; }}\n\
         svg {{ display: block; width: auto; max-width: 100%; height: 160mm; margin: 2mm auto; }}\n\
         .answers svg {{ height: 118mm; }} .record {{ table-layout: fixed; }} \
         .record th {{ width: 34mm; }}\n\
         table {{ border-collapse: collapse; width: 100%; break-inside: avoid; }}\n\
         th, td {{ border: 0.25mm solid #505050; padding: 0.8mm 1.5mm; text-align: left; \
         font-weight: normal; font-size: 10pt; height: 5.5mm; }}\n\
         .line {{ border-bottom: 0.25mm solid #505050; height: 7mm; }}\n\
         .question {{ break-inside: avoid; }}\n\
         footer {{ font-size: 8pt; line-height: 1.25; margin-top: 3mm; color: #505050; }}\n\
         .sheet + .sheet {{ break-before: page; }}\n</style>\n</head>\n<body>\n\
         <section class=\"sheet\">\n<h1>{patient}</h1>\n\
         <p>Name: ______________________ &nbsp; Date: ______________</p>\n\
         <div class=\"case\"><p>{story}</p><p>At the start: {settings}.</p></div>\n\
         {quiz}{foot}\n</section>\n\
         <section class=\"sheet\">\n<h2>Predict: ↑ up, ↓ down, = as before</h2>\n{}\
         {}<h2>Record</h2>\n{}{foot}\n</section>\n\
         <section class=\"sheet answers\">\n<h1>Answers: {title}</h1>\n<p><b>{teaches}</b></p>\n\
         {answer}<h2>From the engine, settled breath before and after</h2>\n{}{answer_foot}\n</section>\n\
         </body>\n</html>\n",
        table(changes, false),
        questions(),
        record(),
        table(changes, true),
    )
}

fn questions() -> String {
    let asked = [
        "Describe: what do the traces show before and after the change?",
        "Explain: which part of flow, pressure, compliance, resistance or leak does it come from?",
        "Act: what do you do first, what next, and whom do you tell?",
    ];
    let lines = "<div class=\"line\"></div>".repeat(3);
    let question = |(i, text): (usize, &str)| {
        format!("<div class=\"question\"><h2>{}. {text}</h2>{lines}</div>\n", i + 1)
    };
    asked.into_iter().enumerate().map(question).collect()
}

fn record() -> String {
    let cells = "<td></td>".repeat(COLUMNS);
    let row = |name: &str| format!("<tr><th scope=\"row\">{name}</th>{cells}</tr>\n");
    format!("<table class=\"record\">\n{}</table>\n", RECORD.map(row).concat())
}

fn table(changes: &[Answer], filled: bool) -> String {
    let mut text = "<table>\n<tr><th scope=\"col\">Change</th>".to_owned();
    for (name, unit) in MEASURES {
        let _ = write!(text, "<th scope=\"col\">{name} ({unit})</th>");
    }
    text += "</tr>\n";
    for (i, change) in changes.iter().enumerate() {
        let at = number(change.at_s);
        let label = match filled {
            true => escape(&format!("{at} s: {}", change.label)),
            // The first change is the one to find in the traces.
            false if i == 0 => format!("at {at} s, as seen"),
            false => escape(&format!("{at} s: {}", change.label)),
        };
        let _ = write!(text, "<tr><th scope=\"row\">{label}</th>");
        match (&change.measures, filled) {
            (_, false) => text += &"<td></td>".repeat(MEASURES.len()),
            (None, true) => {
                let _ = write!(text, "<td colspan=\"{}\">no settled breath</td>", MEASURES.len());
            }
            (Some(measures), true) => {
                for &pair in measures {
                    let _ = write!(text, "<td>{}</td>", Answer::told(pair));
                }
            }
        }
        text += "</tr>\n";
    }
    text + "</table>\n"
}
