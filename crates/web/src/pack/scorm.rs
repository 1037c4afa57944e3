//! The page as packages that learning platforms take: SCORM 1.2 and SCORM 2004, each
//! lesson an item of its own with its score and completion (`page/platform.js`).
//!
//! Names and namespaces are those of the content packaging parts of both editions; read in
//! public manifests of both, and tried in a browser against an open run-time.

use std::fs;
use std::io::{Cursor, Write as _};
use std::path::{Path, PathBuf};

use tidewright_shelf::LESSONS;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, DateTime, ZipWriter};

use super::PackError;

/// What the editions call things.
struct Edition {
    file: &'static str,
    version: &'static str,
    packaging: &'static str,
    content: &'static str,
    kind: &'static str,
}

const EDITIONS: [Edition; 2] = [
    Edition {
        file: "tidewright-scorm-1.2.zip",
        version: "1.2",
        packaging: "http://www.imsproject.org/xsd/imscp_rootv1p1p2",
        content: "http://www.adlnet.org/xsd/adlcp_rootv1p2",
        kind: "scormtype",
    },
    Edition {
        file: "tidewright-scorm-2004.zip",
        version: "2004 4th Edition",
        packaging: "http://www.imsglobal.org/xsd/imscp_v1p1",
        content: "http://www.adlnet.org/xsd/adlcp_v1p3",
        kind: "scormType",
    },
];

/// Writes a package of each edition into a folder; where they lie.
pub fn write(folder: &Path, page: &[u8]) -> Result<Vec<PathBuf>, PackError> {
    fs::create_dir_all(folder).map_err(|error| PackError::Write(folder.to_owned(), error))?;
    let lessons = lessons()?;
    let write = |edition: &Edition| {
        let path = folder.join(edition.file);
        let bytes = package(&manifest(edition, &lessons), page);
        let written = bytes.and_then(|bytes| fs::write(&path, bytes));
        written.map_err(|error| PackError::Write(path.clone(), error))?;
        Ok(path)
    };
    EDITIONS.iter().map(write).collect()
}

/// Name and title of each lesson, in their order.
fn lessons() -> Result<Vec<(&'static str, String)>, PackError> {
    let title = |lesson: &tidewright_shelf::Lesson| {
        let read = tidewright_scenario::parse(lesson.id, lesson.text);
        let read = read.map_err(|error| PackError::Build(error.to_string()))?;
        Ok((lesson.id, read.title.unwrap_or_else(|| lesson.id.to_owned())))
    };
    LESSONS.iter().map(title).collect()
}

/// A zip file without times, so that the same page gives the same bytes.
fn package(manifest: &str, page: &[u8]) -> std::io::Result<Vec<u8>> {
    let options = SimpleFileOptions::default()
        .compression_method(CompressionMethod::Deflated)
        .last_modified_time(DateTime::default());
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in [("imsmanifest.xml", manifest.as_bytes()), ("index.html", page)] {
        zip.start_file(name, options)?;
        zip.write_all(bytes)?;
    }
    Ok(zip.finish().map_err(std::io::Error::from)?.into_inner())
}

fn manifest(edition: &Edition, lessons: &[(&str, String)]) -> String {
    let Edition { version, packaging, content, kind, .. } = edition;
    let mut items = String::new();
    for (id, title) in lessons {
        let title = escaped(title);
        items += &format!(
            "      <item identifier=\"lesson-{id}\" identifierref=\"page\" \
             parameters=\"#practise/{id}\">\n        <title>{title}</title>\n      </item>\n"
        );
    }
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
         <manifest identifier=\"tidewright\" version=\"{}\" xmlns=\"{packaging}\" \
         xmlns:adlcp=\"{content}\">\n  <metadata>\n    <schema>ADL SCORM</schema>\n    \
         <schemaversion>{version}</schemaversion>\n  </metadata>\n  \
         <organizations default=\"lessons\">\n    <organization identifier=\"lessons\">\n      \
         <title>Tidewright</title>\n{items}    </organization>\n  </organizations>\n  \
         <resources>\n    <resource identifier=\"page\" type=\"webcontent\" \
         adlcp:{kind}=\"sco\" href=\"index.html\">\n      <file href=\"index.html\"/>\n    \
         </resource>\n  </resources>\n</manifest>\n",
        env!("CARGO_PKG_VERSION")
    )
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}

#[cfg(test)]
mod tests {
    use roxmltree::Document;

    use super::*;

    #[test]
    fn each_edition_lists_every_lesson_and_the_file_that_shows_it() {
        let lessons = lessons().expect("the shelf");
        assert_eq!(lessons.len(), LESSONS.len());
        for edition in &EDITIONS {
            let text = manifest(edition, &lessons);
            let xml = Document::parse(&text).expect("XML");
            let all = |name: &str| {
                xml.descendants().filter(|node| node.has_tag_name(name)).collect::<Vec<_>>()
            };
            let items = all("item");
            assert_eq!(items.len(), lessons.len());
            for (item, (id, title)) in items.iter().zip(&lessons) {
                let parameters = format!("#practise/{id}");
                assert_eq!(item.attribute("parameters"), Some(&*parameters));
                let found = item.descendants().find(|node| node.has_tag_name("title"));
                assert_eq!(found.and_then(|node| node.text()), Some(&**title));
            }
            let resource = all("resource")[0];
            assert_eq!(resource.attribute((edition.content, edition.kind)), Some("sco"));
            assert_eq!(items[0].attribute("identifierref"), resource.attribute("identifier"));
            assert_eq!(all("schemaversion")[0].text(), Some(edition.version));
        }
    }

    #[test]
    fn the_same_page_gives_the_same_package() {
        let make = || package("<manifest/>", b"page").expect("a package");
        assert_eq!(make(), make());
        let mut zip = zip::ZipArchive::new(Cursor::new(make())).expect("a zip");
        let mut page = String::new();
        let mut file = zip.by_name("index.html").expect("the page");
        std::io::Read::read_to_string(&mut file, &mut page).expect("a text");
        assert_eq!(page, "page");
    }
}
