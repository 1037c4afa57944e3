//! The page as a folder for a web server: the same page, which a browser may install
//! and keep for times without a network.

use std::fs;
use std::path::Path;

use super::PackError;

/// What a served page needs and one from disk must not ask for.
const POLICY: [(&str, &str); 2] = [
    ("worker-src blob:", "worker-src 'self' blob:"),
    ("img-src data:", "manifest-src 'self'; img-src 'self' data:"),
];
const ICON: (&str, &str) = (
    "<link rel=\"icon\" href=\"data:,\">",
    "<link rel=\"icon\" href=\"icon.svg\">\n<link rel=\"manifest\" href=\"manifest.webmanifest\">",
);

/// Writes the folder; the page as it is from disk, and where the sources lie.
pub fn write(folder: &Path, page: &[u8], sources: &Path) -> Result<(), PackError> {
    let served = served(&String::from_utf8_lossy(page))?;
    let wrong = |path: &Path, error| PackError::Write(path.to_owned(), error);
    fs::create_dir_all(folder).map_err(|error| wrong(folder, error))?;
    let version = format!("{:016x}", hash(served.as_bytes()));
    let put = |name: &str, text: &str| {
        let path = folder.join(name);
        fs::write(&path, text).map_err(|error| wrong(&path, error))
    };
    put("index.html", &served)?;
    for name in ["sw.js", "manifest.webmanifest", "icon.svg"] {
        let path = sources.join("served").join(name);
        let text = fs::read_to_string(&path).map_err(|error| PackError::Read(path, error))?;
        put(name, &text.replace("VERSION", &version))?;
    }
    Ok(())
}

fn served(page: &str) -> Result<String, PackError> {
    let mut page = page.to_owned();
    for (from, to) in POLICY.into_iter().chain([ICON]) {
        let (before, after) = page.split_once(from).ok_or(PackError::Placeholder(from))?;
        page = [before, to, after].concat();
    }
    Ok(page)
}

/// 64-bit FNV-1a.
fn hash(bytes: &[u8]) -> u64 {
    let step = |hash: u64, &byte: &u8| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
    bytes.iter().fold(0xcbf2_9ce4_8422_2325, step)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_has_all_that_its_worker_keeps_and_a_new_page_another_name() {
        let sources = Path::new(env!("CARGO_MANIFEST_DIR")).join("page");
        let into = std::env::temp_dir().join(format!("tidewright-served-{}", std::process::id()));
        let page = fs::read(sources.join("index.html")).expect("the page");
        let mut workers = Vec::new();
        for more in ["", "<!-- another -->"] {
            write(&into, &[&page[..], more.as_bytes()].concat(), &sources).expect("a folder");
            workers.push(fs::read_to_string(into.join("sw.js")).expect("a worker"));
        }
        assert_ne!(workers[0], workers[1]);
        for name in ["index.html", "manifest.webmanifest", "icon.svg"] {
            assert!(workers[0].contains(name) && into.join(name).exists(), "{name}");
        }
        let served = fs::read_to_string(into.join("index.html")).expect("a page");
        assert!(served.contains("manifest-src 'self'") && served.contains("connect-src 'none'"));
        fs::remove_dir_all(into).expect("removed");
    }
}
