//! Pages of a PDF: the same bytes, text as text, tags, and nothing but vectors.

#![allow(clippy::unwrap_used)]

mod cases;

use std::fs;

use tidewright_figures::{FigureError, FigureFile, Version, Waveforms};

fn holds(pdf: &[u8], words: &str) -> bool {
    pdf.windows(words.len()).any(|window| window == words.as_bytes())
}

#[test]
fn every_figure_of_the_gallery_is_a_tagged_page_of_vectors_with_the_same_bytes() {
    let folder = format!("{}/../../figures", env!("CARGO_MANIFEST_DIR"));
    let mut drawn = 0;
    for entry in fs::read_dir(&folder).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|ending| ending != "ron") {
            continue;
        }
        let file = FigureFile::parse("f.ron", &fs::read_to_string(&path).unwrap()).unwrap();
        let scenario = fs::read_to_string(format!("{folder}/{}", file.scenario)).unwrap();
        let scenario = tidewright_scenario::parse("s.ron", &scenario).unwrap();
        let figure = file.draw(&scenario, Version::Teacher).unwrap();
        let pdf = figure.to_pdf().unwrap();
        assert!(pdf == figure.to_pdf().unwrap(), "{}", file.id);
        assert!(pdf.starts_with(b"%PDF-1.7"));
        // 600 by 680 or 960 by 540 px are 450 by 510 or 720 by 405 pt.
        assert!(holds(&pdf, "0 0 450 510") || holds(&pdf, "0 0 720 405"), "{}", file.id);
        for part in ["/StructTreeRoot", "/S/Figure", "/Alt", "/ToUnicode", "pdfuaid"] {
            assert!(holds(&pdf, part), "{}: {part}", file.id);
        }
        for none in ["/CreationDate", "/ModDate", "/Subtype/Image"] {
            assert!(!holds(&pdf, none), "{}: {none}", file.id);
        }
        drawn += 1;
    }
    assert!(drawn >= 16, "{drawn}");
}

#[test]
fn a_letter_that_the_font_lacks_is_told_and_not_left_out() {
    let case = cases::all().into_iter().find(|case| case.name == "rat").unwrap();
    let data = Waveforms { title: "A cat, 猫".into(), ..case.waveforms };
    let refused = data.figure(&case.look).unwrap().to_pdf().unwrap_err();
    assert!(matches!(refused, FigureError::NoLetter { letter: '猫', .. }));
}
