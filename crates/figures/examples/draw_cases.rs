//! Draws the figures that the tests check, to look at them:
//! `cargo run -p tidewright-figures --example draw_cases FOLDER [DPI]`.

#[path = "../tests/cases/mod.rs"]
mod cases;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let folder = arguments.next().ok_or("name a folder to draw in")?;
    let dpi: f64 = arguments.next().map_or(Ok(144.0), |dpi| dpi.parse())?;
    for case in cases::all() {
        let figure = case.waveforms.figure(&case.look)?;
        let file = format!("{folder}/{}", case.name);
        std::fs::write(format!("{file}.svg"), figure.to_svg())?;
        std::fs::write(format!("{file}.png"), figure.to_png(dpi)?)?;
        std::fs::write(format!("{file}.txt"), figure.description())?;
    }
    Ok(())
}
