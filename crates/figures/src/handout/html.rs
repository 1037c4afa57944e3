//! The handout as HTML with its own print style.

use super::asks::HOLDS;
use super::test::numbered;
use super::{
    Answer, CAUTION, FROM_ENGINE, Handout, LINES_PER_QUESTION, MEASURES, NOT_SETTLED, PREDICT,
    Paper, RECORD, RECORD_COLUMNS, Sheets, Test,
};
use crate::paper::figure::Figure;
use crate::paper::svg::escape;

pub(super) fn page(handouts: &[Handout], sheets: Sheets, paper: Paper) -> String {
    let (wide, high, side) = paper.mm();
    let (scale, top) = (paper.scale(), side * 6.0 / 7.0);
    let mm = |length: f64| format!("{:.1}mm", length * scale);
    let size = paper.name();
    let (width, margin) =
        (format!("{:.1}mm", wide - 2.0 * side), format!("{top:.1}mm {side:.1}mm"));
    let body_pt = 11.0 * scale;
    // On a small page a figure has a page of its own.
    let tall = (160.0 * scale).min(high - 2.0 * top - 70.0);
    let (of_work, of_answer) =
        (format!("{tall:.1}mm"), format!("{:.1}mm", tall.min(100.0 * scale)));
    let (line, cell) = (mm(7.0), mm(5.5));
    let mut body = String::new();
    if sheets == Sheets::Answers {
        body += &key(handouts, paper);
    }
    for (i, handout) in handouts.iter().enumerate() {
        if sheets != Sheets::Answers {
            body += &work(handout, i, paper);
        }
        if sheets != Sheets::Work {
            body += &answers(handout, i, paper);
        }
    }
    let title = match (sheets, handouts) {
        (Sheets::Answers, [first, ..]) => format!("Answers: {}", first.title()),
        (_, [first, ..]) => first.patient(),
        _ => String::new(),
    };
    let title = escape(&title);
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width\">\n<title>{title}</title>\n\
         <style>\n@page {{ size: {size}; margin: {margin}; }}\n\
         body {{ font: {body_pt:.1}pt/1.4 Arial, Helvetica, sans-serif; color: #1a1a1a; \
         max-width: {width}; margin: 0 auto; }}\n\
         h1 {{ font-size: 1.45em; margin: 0 0 2mm; }} h2 {{ font-size: 1.09em; margin: 3mm 0 1mm; }} \
         h3 {{ font-size: 1em; margin: 2mm 0 1mm; }}\n\
         p {{ margin: 0 0 1mm; }} .case {{ border: 0.5mm solid #1a1a1a; padding: 2mm 3mm; }}\n\
         svg {{ display: block; width: auto; max-width: 100%; height: {of_work}; margin: 2mm auto; }}\n\
         .answers svg {{ height: {of_answer}; }} .record {{ table-layout: fixed; }} \
         .record th {{ width: 19%; }}\n\
         table {{ border-collapse: collapse; width: 100%; }} tr {{ break-inside: avoid; }}\n\
         th, td {{ border: 0.25mm solid #505050; padding: 0.8mm 1.5mm; text-align: left; \
         font-weight: normal; font-size: 0.91em; height: {cell}; }}\n\
         td {{ white-space: nowrap; }}\n\
         .line {{ border-bottom: 0.25mm solid #505050; height: {line}; }}\n\
         .question, .record, footer {{ break-inside: avoid; }} h1, h2, h3 {{ break-after: avoid; }}\n\
         footer {{ font-size: 0.73em; line-height: 1.25; margin-top: 3mm; color: #505050; }}\n\
         .sheet + .sheet {{ break-before: page; }}\n</style>\n</head>\n<body>\n\
         {body}</body>\n</html>\n"
    )
}

fn work(handout: &Handout, place: usize, paper: Paper) -> String {
    let patient = escape(&handout.patient());
    let name = match &handout.student {
        Some(student) => format!("<b>{}</b>", escape(student)),
        None => "______________________".to_owned(),
    };
    let story = match handout.story() {
        "" => String::new(),
        story => format!("<p>{}</p>", escape(story)),
    };
    let settings = escape(&handout.settings());
    let foot = footer(handout, false, paper);
    // The names of its parts would tell the scenario's.
    let quiz = renamed(handout, &handout.quiz, &format!("traces{place}"));
    let predict = match handout.predicts() {
        false => String::new(),
        true => format!("<h2>{PREDICT}</h2>\n{}", table(&handout.answers, false)),
    };
    let (questions, record) = match &handout.test {
        Some(test) => (asked(test), String::new()),
        None => (questions(handout), format!("<h2>Record</h2>\n{}", record())),
    };
    format!(
        "<section class=\"sheet\">\n<h1>{patient}</h1>\n\
         <p>Name: {name} &nbsp; Date: ______________</p>\n\
         <div class=\"case\">{story}<p>{settings}</p></div>\n\
         {quiz}{foot}\n</section>\n\
         <section class=\"sheet\">\n{predict}{questions}{record}{foot}\n</section>\n"
    )
}

fn answers(handout: &Handout, place: usize, paper: Paper) -> String {
    let title = escape(handout.title());
    let teaches = escape(handout.teaches());
    let named = |figure, name: &str| renamed(handout, figure, &format!("{name}{place}"));
    let answer = named(&handout.answer, "answer");
    let circuit = handout.circuit.as_ref();
    let circuit = circuit.map_or_else(String::new, |figure| named(figure, "circuit"));
    let whose = escape(&handout.whose());
    let differs = handout.differs().map(|text| format!("<p>{}</p>\n", escape(&text)));
    let differs = differs.unwrap_or_default();
    let table = match handout.answers.is_empty() {
        true => String::new(),
        false => format!("<h2>{FROM_ENGINE}</h2>\n{}", table(&handout.answers, true)),
    };
    let holds: String =
        handout.holds(paper).iter().map(|text| format!("<li>{}</li>\n", escape(text))).collect();
    let foot = footer(handout, true, paper);
    let key = handout.test.as_ref().and_then(Test::key);
    let key = key.map(|key| format!("<p><b>{}</b></p>\n", escape(&key))).unwrap_or_default();
    format!(
        "<section class=\"sheet answers\">\n<h1>Answers: {title}</h1>\n<p>{whose}</p>\n\
         <p><b>{teaches}</b></p>\n{differs}{answer}{table}{key}<h2>{HOLDS}</h2>\n<ol>\n{holds}</ol>\n{circuit}{foot}\n</section>\n"
    )
}

/// A figure whose parts have names of their own: ids must not repeat within one page.
fn renamed(handout: &Handout, figure: &Figure, name: &str) -> String {
    let id = &handout.scenario.id;
    let svg = figure.to_light_svg().replace(&format!("\"{id}-"), &format!("\"{name}-"));
    svg.replace(&format!(" {id}-desc"), &format!(" {name}-desc"))
}

/// One line for each student of a class: what the first change does.
fn key(handouts: &[Handout], paper: Paper) -> String {
    let Some(first) = handouts.first() else {
        return String::new();
    };
    let title = escape(first.title());
    let rows = super::key_rows(handouts);
    let rows: String = rows.iter().enumerate().map(|(i, cells)| row(cells, i == 0)).collect();
    let caution = paper.words(CAUTION);
    format!(
        "<section class=\"sheet\">\n<h1>Key: {title}</h1>\n\
         <p>What the first change does to the settled breath, for each student's patient.</p>\n\
         <table>\n{rows}</table>\n<footer>{caution}</footer>\n</section>\n"
    )
}

fn footer(handout: &Handout, answers: bool, paper: Paper) -> String {
    let caution = paper.words(CAUTION);
    format!("<footer>{caution}<br>{}</footer>", escape(&handout.origin(answers)))
}

fn questions(handout: &Handout) -> String {
    let lines = "<div class=\"line\"></div>".repeat(LINES_PER_QUESTION);
    let question = |(i, text): (usize, &str)| {
        format!("<div class=\"question\"><h2>{}. {text}</h2>{lines}</div>\n", i + 1)
    };
    handout.questions().into_iter().enumerate().map(question).collect()
}

fn asked(test: &Test) -> String {
    let mut text = format!("<h2>{}</h2>\n", escape(&test.heading()));
    for (place, own) in test.own.iter().enumerate() {
        let head = escape(&numbered(place, &own.asks, own.marks));
        let lines = "<div class=\"line\"></div>".repeat(own.lines());
        text += &format!("<div class=\"question\"><h3>{head}</h3>{lines}</div>\n");
    }
    for (place, choice) in test.choices.iter().enumerate() {
        let head = escape(&numbered(test.own.len() + place, &choice.asks, 1));
        let answers: String =
            choice.lettered().map(|answer| format!("<p>{}</p>", escape(&answer))).collect();
        text += &format!("<div class=\"question\"><h3>{head}</h3>{answers}</div>\n");
    }
    text
}

fn record() -> String {
    let cells = "<td></td>".repeat(RECORD_COLUMNS);
    let row = |name: &str| format!("<tr><th scope=\"row\">{name}</th>{cells}</tr>\n");
    format!("<table class=\"record\">\n{}</table>\n", RECORD.map(row).concat())
}

fn row(cells: &[String], head: bool) -> String {
    let cell = |(i, text): (usize, &String)| {
        let text = escape(text);
        match (head, i) {
            (true, _) => format!("<th scope=\"col\">{text}</th>"),
            (false, 0) => format!("<th scope=\"row\">{text}</th>"),
            (false, _) => format!("<td>{text}</td>"),
        }
    };
    format!("<tr>{}</tr>\n", cells.iter().enumerate().map(cell).collect::<String>())
}

fn table(answers: &[Answer], filled: bool) -> String {
    let mut text = format!("<table>\n{}", row(&super::head("Change"), true));
    for (i, answer) in answers.iter().enumerate() {
        let mut cells = vec![answer.row_name(filled, i == 0)];
        match (answer.told(), filled) {
            (Some(told), true) => cells.extend(told),
            (None, true) => {
                let label = escape(&cells[0]);
                let count = MEASURES.len();
                text += &format!(
                    "<tr><th scope=\"row\">{label}</th><td colspan=\"{count}\">{NOT_SETTLED}</td></tr>\n"
                );
                continue;
            }
            (_, false) => cells.resize(1 + MEASURES.len(), String::new()),
        }
        text += &row(&cells, false);
    }
    text + "</table>\n"
}
