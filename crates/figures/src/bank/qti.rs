//! QTI 2.1: a content package of items and a test.

use std::fmt::Write as _;

use super::{Asked, BankPaper, letter};
use crate::CAUTION;
use crate::paper::svg::escape;

const HEAD: &str = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n";
const QTI: &str = "xmlns=\"http://www.imsglobal.org/xsd/imsqti_v2p1\" \
    xmlns:xsi=\"http://www.w3.org/2001/XMLSchema-instance\" \
    xsi:schemaLocation=\"http://www.imsglobal.org/xsd/imsqti_v2p1 \
    http://www.imsglobal.org/xsd/qti/qtiv2p1/imsqti_v2p1.xsd\"";
const PACKAGE: &str = "xmlns=\"http://www.imsglobal.org/xsd/imscp_v1p1\"";
const MATCH: &str = "http://www.imsglobal.org/question/qti_v2p1/rptemplates/match_correct";

pub(super) fn write(paper: &BankPaper<'_>) -> Vec<(String, Vec<u8>)> {
    let mut files = vec![
        ("imsmanifest.xml".to_owned(), manifest(paper).into_bytes()),
        ("test.xml".to_owned(), test(paper).into_bytes()),
    ];
    for asked in &paper.asked {
        files.push((file(asked), item(paper, asked).into_bytes()));
    }
    for picture in used(paper) {
        files.push((picture.name.clone(), picture.png.clone()));
    }
    files
}

/// The pictures of the questions, each once.
fn used<'a>(paper: &'a BankPaper<'_>) -> impl Iterator<Item = &'a super::Picture> {
    let asked = |place: usize| paper.asked.iter().any(|one| one.question.picture == Some(place));
    let places = paper.pictures.iter().enumerate();
    places.filter(move |(place, _)| asked(*place)).map(|(_, picture)| picture)
}

fn file(asked: &Asked<'_>) -> String {
    format!("{}.xml", asked.question.id)
}

/// An identifier begins with a letter.
fn identifier(asked: &Asked<'_>) -> String {
    format!("q-{}", asked.question.id)
}

fn item(paper: &BankPaper<'_>, asked: &Asked<'_>) -> String {
    let (id, title) = (identifier(asked), escape(&asked.question.id));
    let mut body = String::new();
    let (last, before) = match asked.question.asks.split_last() {
        Some((last, before)) => (last.as_str(), before),
        None => ("", &[][..]),
    };
    for paragraph in before {
        let _ = writeln!(body, "<p>{}</p>", escape(paragraph));
    }
    if let Some(picture) = paper.picture(asked) {
        let (name, alt) = (escape(&picture.name), escape(&picture.alt));
        let _ = writeln!(body, "<p><img src=\"{name}\" alt=\"{alt}\"/></p>");
    }
    let mut choices = String::new();
    for (place, answer) in asked.answers.iter().enumerate() {
        let (letter, answer) = (letter(place), escape(answer));
        let _ = writeln!(
            choices,
            "<simpleChoice identifier=\"{letter}\" fixed=\"true\">{answer}</simpleChoice>"
        );
    }
    let (right, asks) = (letter(asked.right), escape(last));
    let because = escape(&asked.question.because);
    format!(
        "{HEAD}<assessmentItem {QTI} identifier=\"{id}\" title=\"{title}\" adaptive=\"false\" \
         timeDependent=\"false\">\n\
         <responseDeclaration identifier=\"RESPONSE\" cardinality=\"single\" \
         baseType=\"identifier\">\n<correctResponse><value>{right}</value></correctResponse>\n\
         </responseDeclaration>\n\
         <outcomeDeclaration identifier=\"SCORE\" cardinality=\"single\" baseType=\"float\">\n\
         <defaultValue><value>0</value></defaultValue>\n</outcomeDeclaration>\n\
         <itemBody>\n<rubricBlock view=\"scorer\"><p>{because}</p></rubricBlock>\n{body}\
         <choiceInteraction responseIdentifier=\"RESPONSE\" shuffle=\"false\" maxChoices=\"1\">\n\
         <prompt>{asks}</prompt>\n{choices}</choiceInteraction>\n\
         <p><small>{CAUTION}</small></p>\n</itemBody>\n\
         <responseProcessing template=\"{MATCH}\"/>\n</assessmentItem>\n"
    )
}

fn test(paper: &BankPaper<'_>) -> String {
    let title = escape(&paper.title);
    let mut items = String::new();
    for asked in &paper.asked {
        let (id, file) = (identifier(asked), file(asked));
        let _ = writeln!(items, "<assessmentItemRef identifier=\"{id}\" href=\"{file}\"/>");
    }
    format!(
        "{HEAD}<assessmentTest {QTI} identifier=\"test\" title=\"{title}\">\n\
         <testPart identifier=\"part\" navigationMode=\"nonlinear\" \
         submissionMode=\"simultaneous\">\n\
         <assessmentSection identifier=\"section\" title=\"{title}\" visible=\"true\">\n\
         {items}</assessmentSection>\n</testPart>\n</assessmentTest>\n"
    )
}

fn manifest(paper: &BankPaper<'_>) -> String {
    let mut resources = String::new();
    let _ = writeln!(
        resources,
        "<resource identifier=\"r-test\" type=\"imsqti_test_xmlv2p1\" href=\"test.xml\">\n\
         <file href=\"test.xml\"/>"
    );
    for asked in &paper.asked {
        let _ = writeln!(resources, "<dependency identifierref=\"r-{}\"/>", identifier(asked));
    }
    resources += "</resource>\n";
    for asked in &paper.asked {
        let (id, file) = (identifier(asked), file(asked));
        let _ = writeln!(
            resources,
            "<resource identifier=\"r-{id}\" type=\"imsqti_item_xmlv2p1\" href=\"{file}\">\n\
             <file href=\"{file}\"/>"
        );
        if let Some(picture) = paper.picture(asked) {
            let _ = writeln!(resources, "<file href=\"{}\"/>", escape(&picture.name));
        }
        resources += "</resource>\n";
    }
    format!(
        "{HEAD}<manifest {PACKAGE} identifier=\"package\">\n<metadata>\n\
         <schema>QTIv2.1 Package</schema>\n<schemaversion>1.0.0</schemaversion>\n</metadata>\n\
         <organizations/>\n<resources>\n{resources}</resources>\n</manifest>\n"
    )
}
