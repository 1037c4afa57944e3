//! What is looked up: words, animals, signs.

use serde_json::{Value, json};
use tidewright::fault::signs_table;
use tidewright::quantity::Mass;
use tidewright::species::{Animal, Confidence, Parameter, Species, spread};
use tidewright_scenario::Scenario;
use tidewright_scenario::fault::near;
use tidewright_scenario::report::BANNER;
use tidewright_training::glossary::{self, TERMS, find};
use tidewright_training::text::said;

use crate::wrong::Wrong;

/// The words of the job.
pub fn words() -> Value {
    let all = TERMS.iter().map(|term| {
        json!({
            "name": term.name,
            "also": term.also,
            "meaning": term.meaning,
            "relation": term.relation,
        })
    });
    json!({ "words": all.collect::<Vec<_>>() })
}

/// A word, with the numbers of a scenario.
pub fn explained(word: &str, scenario: Option<&Scenario>) -> Result<Value, Wrong> {
    let term = find(word).ok_or_else(|| {
        let names = TERMS.iter().flat_map(|term| term.also.iter().chain([&term.name]));
        let names: Vec<&str> = names.copied().collect();
        let mend = match near(word, &names) {
            Some(near) => format!("did you mean `{near}`?"),
            None => "choose one from the list".to_owned(),
        };
        Wrong::told(format!("`{word}` is not in the glossary"), mend)
    })?;
    Ok(json!({"word": term.name, "text": glossary::explained(term, scenario)}))
}

/// The typical values of an animal under anaesthesia, with their spread and sources.
pub fn species(name: &str, weight_kg: f64) -> Result<Value, Wrong> {
    let species: Species =
        name.parse().map_err(|error| Wrong::told(error, "choose one from the list"))?;
    if !(0.01..=1500.0).contains(&weight_kg) {
        return Err(Wrong::told("this is no weight", "write 0.01 to 1500 kg"));
    }
    let animal = Animal::typical(species, Mass::kg(weight_kg));
    let rows = Parameter::ALL.into_iter().map(|parameter| {
        let estimate = animal.estimate(parameter);
        let between = spread(parameter).map(|spread| {
            let factor = tidewright::math::exp(1.96 * spread.log_sd);
            [said(estimate.value / factor), said(estimate.value * factor)]
        });
        let source = estimate.law.source;
        let trust = match source.confidence {
            Confidence::Read => "read",
            Confidence::Memory => "from memory",
            Confidence::Computed => "computed",
        };
        json!({
            "name": parameter.name(),
            "value": said(estimate.value),
            "unit": parameter.unit(),
            "between": between,
            "source": format!("{trust}: {}", source.citation),
        })
    });
    let (least, most) = species.usual_weight_kg();
    Ok(json!({
        "species": species.to_string(),
        "weight_kg": weight_kg,
        "usual": [least, most],
        "is_usual": animal.has_usual_weight(),
        "rows": rows.collect::<Vec<_>>(),
        "caution": BANNER,
    }))
}

/// What each fault shows, as a Markdown table.
pub fn signs() -> Value {
    json!({"markdown": signs_table(), "caution": BANNER})
}
