//! Blood against measured samples of other people's blood.
#![expect(clippy::unwrap_used, reason = "a test stops at a bad row")]

use tidewright::blood::acid_base::{base_excess, carbon_dioxide_content};

/// A row of `reference/blood-co2/data.csv`; see `source.md` beside it.
struct Sample {
    ph: f64,
    haemoglobin: f64,
    saturation: f64,
    pco2: f64,
    content: f64,
}

fn samples() -> Vec<Sample> {
    include_str!("../reference/blood-co2/data.csv")
        .lines()
        .skip(1)
        .map(|line| {
            let cell = |i: usize| line.split(',').nth(i).unwrap().parse::<f64>().unwrap();
            Sample {
                ph: cell(2),
                haemoglobin: cell(3),
                saturation: cell(4),
                pco2: cell(5),
                content: cell(6),
            }
        })
        .collect()
}

fn mean_and_sd(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let square = values.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / (n - 1.0);
    (mean, square.sqrt())
}

/// Douglas, Jones & Reed state 0.02 ± 1.19 mL/100 mL for their own samples
/// (abstract); these were measured elsewhere.
#[test]
fn published_carbon_dioxide_content_of_blood() {
    let differences: Vec<f64> = samples()
        .iter()
        .map(|s| carbon_dioxide_content(s.pco2, s.ph, s.haemoglobin, s.saturation) - s.content)
        .collect();
    assert_eq!(differences.len(), 38);
    let (mean, sd) = mean_and_sd(&differences);
    assert!(mean.abs() < 0.4, "mean {mean}"); // two standard errors
    assert!(sd < 1.3, "SD {sd}");
}

/// Arterial and venous samples of one moment have one base excess, although
/// the venous one holds less oxygen and more carbon dioxide. The equation's
/// authors state an error below 1 mmol/L in a sample (Lang & Zander 2002,
/// abstract); exercise adds a little acid on the venous side.
#[test]
fn published_samples_keep_their_base_excess_from_artery_to_vein() {
    let differences: Vec<f64> = samples()
        .chunks_exact(2)
        .map(|pair| {
            let [artery, vein] = [&pair[0], &pair[1]]
                .map(|s| base_excess(s.pco2, s.ph, s.haemoglobin, s.saturation));
            vein - artery
        })
        .collect();
    let (mean, sd) = mean_and_sd(&differences);
    assert!(mean.abs() < 1.0, "mean {mean}");
    assert!(sd < 1.0, "SD {sd}");
}
