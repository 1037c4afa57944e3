//! The wall chart of the faults: the engine's own numbers, every fault, room for all.

#![allow(clippy::unwrap_used)]

mod texts;

use roxmltree::{Document, Node};
use texts::assert_texts_are_clear;
use tidewright::fault::{CASES, Fault, signs_table};
use tidewright_figures::{ChartPaper, SignsChart};

fn with_role<'a, 'i>(node: &Node<'a, 'i>, role: &str) -> Vec<Node<'a, 'i>> {
    node.descendants().filter(|n| n.attribute("role") == Some(role)).collect()
}

fn words(node: &Node<'_, '_>) -> String {
    let texts = node.descendants().filter(|n| n.has_tag_name("text"));
    texts.filter_map(|n| n.text()).collect::<Vec<_>>().join(" ")
}

#[test]
fn twin_every_row_of_the_printed_table_stands_on_the_chart_with_the_same_numbers() {
    let svg = SignsChart::new().unwrap().to_svg();
    let document = Document::parse(&svg).unwrap();
    let rows = with_role(&document.root_element(), "row");
    let rows: Vec<Vec<String>> = rows
        .iter()
        .map(|row| row.children().filter(|n| n.has_tag_name("g")).map(|n| words(&n)).collect())
        .collect();
    let mut found = 0;
    for line in signs_table().lines().skip(2) {
        let cells: Vec<&str> = line.split('|').map(str::trim).collect();
        let name = cells[1].parse().map_or(cells[1].to_owned(), Fault::in_words);
        let severity = cells[2];
        let is_row = |row: &&Vec<String>| {
            let head = row[0].to_lowercase();
            match severity.parse::<f64>() {
                Ok(severity) => head == format!("{name} {severity}"),
                Err(_) => head == "healthy",
            }
        };
        let row = rows.iter().find(is_row).unwrap_or_else(|| panic!("no row of {name}"));
        // TI, baseline and peak are shown as the table shows them.
        assert_eq!([&*row[2], &*row[5], &*row[6]], [cells[3], cells[11], cells[9]], "{name}");
        let number = |text: &str| text.split(' ').next().unwrap().parse::<f64>().unwrap();
        assert!((number(&row[3]) - number(cells[7])).abs() <= 0.56, "{name}");
        found += 1;
    }
    assert_eq!(found, CASES.len() + 1);
}

#[test]
fn the_chart_is_sound_readable_and_cautious() {
    let chart = SignsChart::new().unwrap();
    let svg = chart.to_svg();
    assert_eq!(svg, SignsChart::new().unwrap().to_svg());
    let document = Document::parse(&svg).unwrap();
    let root = document.root_element();
    let first: Vec<_> = root.children().filter(Node::is_element).take(2).collect();
    assert!(first[0].has_tag_name("title") && first[1].has_tag_name("desc"));
    assert_eq!(first[1].text(), Some(chart.description()));
    assert_texts_are_clear("chart", &svg);
    let smallest = root.descendants().filter_map(|n| n.attribute("font-size"));
    let smallest = smallest.map(|size| size.parse::<f64>().unwrap()).fold(99.0, f64::min);
    // On A3 a pixel is 0.75 pt; A2 is larger by the root of two. Sizes are written in
    // twentieths of a pixel.
    let on_a3 = (smallest + 0.05) * 0.75;
    assert!(on_a3 >= 14.0 && on_a3 * std::f64::consts::SQRT_2 >= 18.0, "{smallest}");
    for caution in ["Not a medical device", "veterinary surgeon", "decisions about a patient"] {
        let all = words(&root);
        assert!(all.contains(caution), "{caution}");
        assert!(chart.to_html(ChartPaper::A4).contains(caution), "{caution}");
    }
}

#[test]
fn the_pdf_has_the_size_of_its_paper_and_the_same_bytes() {
    let chart = SignsChart::new().unwrap();
    for (paper, size) in [
        (ChartPaper::A3, "0 0 1190.5"),
        (ChartPaper::A4, "0 0 841.8"),
        (ChartPaper::Letter, "0 0 79"),
    ] {
        let pdf = chart.to_pdf(paper).unwrap();
        assert!(pdf == chart.to_pdf(paper).unwrap());
        let holds = |words: &str| pdf.windows(words.len()).any(|w| w == words.as_bytes());
        assert!(holds(size), "{size}");
        assert!(holds("/S/Table") && holds("/S/TH") && !holds("/Subtype/Image"));
    }
}

#[test]
fn letter_speaks_of_a_veterinarian() {
    let chart = SignsChart::new().unwrap();
    let (a4, letter) = (chart.to_html(ChartPaper::A4), chart.to_html(ChartPaper::Letter));
    assert!(a4.contains("veterinary surgeon") && !a4.contains("veterinarian"));
    assert!(letter.contains("veterinarian") && !letter.contains("surgeon"));
    let svg = letter.split_once("<body>").unwrap().1.split_once("</body>").unwrap().0;
    assert_texts_are_clear("letter", svg.trim());
}
