//! Draws every figure file of a folder again, with the index page:
//! `cargo run --release --example redraw -- figures OUT`.

use std::error::Error;
use std::path::{Path, PathBuf};
use std::{env, fs};

use tidewright_figures::{FigureFile, Version, gallery};

fn main() -> Result<(), Box<dyn Error>> {
    let mut folders = env::args_os().skip(1).map(PathBuf::from);
    let (Some(from), Some(to)) = (folders.next(), folders.next()) else {
        return Err("two folders are needed: one with figure files, one to draw into".into());
    };
    fs::create_dir_all(&to)?;
    let mut drawn = Vec::new();
    for path in figure_files(&from)? {
        let (file, figure) =
            draw(&from, &to, &path).map_err(|e| format!("{}: {e}", path.display()))?;
        drawn.push((file, figure));
    }
    fs::write(to.join("README.md"), gallery(&drawn))?;
    Ok(())
}

fn figure_files(folder: &Path) -> Result<Vec<PathBuf>, Box<dyn Error>> {
    let paths = fs::read_dir(folder)?.map(|entry| entry.map(|entry| entry.path()));
    let mut paths = paths.collect::<Result<Vec<_>, _>>()?;
    paths.retain(|path| path.extension().is_some_and(|ending| ending == "ron"));
    paths.sort();
    Ok(paths)
}

fn draw(
    from: &Path,
    to: &Path,
    path: &Path,
) -> Result<(FigureFile, tidewright_figures::Figure), Box<dyn Error>> {
    let text = fs::read_to_string(path)?;
    let file = FigureFile::parse(&path.to_string_lossy(), &text).map_err(faults)?;
    let scenario_path = from.join(&file.scenario);
    let scenario = fs::read_to_string(&scenario_path)
        .map_err(|e| format!("{}: {e}", scenario_path.display()))?;
    let scenario = tidewright_scenario::parse(&file.scenario, &scenario).map_err(faults)?;
    let file = FigureFile::parse_for(&path.to_string_lossy(), &text, &scenario).map_err(faults)?;
    let figure = file.draw(&scenario, file.version)?;
    let quiz = file.draw(&scenario, Version::Student)?;
    let id = file.id.as_str();
    fs::write(to.join(format!("{id}.ron")), &text)?;
    fs::write(to.join(format!("{id}.svg")), figure.to_light_svg())?;
    fs::write(to.join(format!("{id}.quiz.svg")), quiz.to_light_svg())?;
    if let Some(folder) = env::var_os("FIGURES_PNG") {
        fs::create_dir_all(&folder)?;
        for (name, drawn) in [("", &figure), (".quiz", &quiz)] {
            let png = Path::new(&folder).join(format!("{id}{name}.png"));
            fs::write(png, drawn.to_png(96.0)?)?;
        }
    }
    Ok((file, figure))
}

/// Every fault of a file in one text.
fn faults(rejected: tidewright_scenario::Rejected) -> String {
    let told = rejected.faults().iter().map(|fault| {
        let place = rejected.place(fault);
        format!("line {}, column {}: {fault}; {}", place.line, place.column, fault.mend())
    });
    told.collect::<Vec<_>>().join("\n")
}
