//! `tidewright species`: what a typical animal brings, and how we know.

use clap::Args;
use tidewright::math::exp;
use tidewright::quantity::Mass;
use tidewright::species::{
    self, Animal, Applied, Confidence, Estimate, Law, Parameter, Source, State, UnknownSpecies,
    When,
};
use tidewright_scenario::report::BANNER;

use crate::exit::Exit;
use crate::files::problem::Problem;
use crate::page::{Align, Page};

/// Show the typical values of an animal, with law, spread and source
///
/// These are the values a scenario takes where it gives none of its own: typical
/// published ones under anaesthesia, not those of an animal in front of you.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Species {
    /// Cat, Dog, Rabbit, Ferret, GuineaPig, Rat, Horse or Other
    #[arg(value_name = "SPECIES", value_parser = species)]
    species: species::Species,

    /// Body weight in kg
    #[arg(long, value_name = "KG", value_parser = weight, allow_negative_numbers = true)]
    weight_kg: f64,
}

const EXAMPLES: &str = "\
Examples:
  tidewright species cat --weight-kg 4
  tidewright species guinea-pig --weight-kg 0.9";

/// The weights of a scenario file.
const WEIGHTS_KG: std::ops::RangeInclusive<f64> = 0.01..=1500.0;

fn species(text: &str) -> Result<species::Species, UnknownSpecies> {
    text.parse()
}

fn weight(text: &str) -> Result<f64, String> {
    let text = text.strip_suffix("kg").unwrap_or(text).trim_end();
    let weight: f64 = text.parse().map_err(|_| "write a number of kg, such as 4.2".to_owned())?;
    if WEIGHTS_KG.contains(&weight) {
        return Ok(weight);
    }
    Err(format!("write {} to {} kg", WEIGHTS_KG.start(), WEIGHTS_KG.end()))
}

impl Species {
    /// Prints the values.
    pub fn perform(self) -> Result<Exit, Problem> {
        let animal = Animal::typical(self.species, Mass::kg(self.weight_kg));
        let estimates: Vec<(Parameter, Estimate)> =
            Parameter::ALL.into_iter().map(|p| (p, animal.estimate(p))).collect();
        let mut sources = Sources::default();
        let mut page = Page::new();
        page.paragraph(BANNER);
        page.heading(&format!("{}, {} kg, under anaesthesia", self.species, self.weight_kg));
        page.paragraph(
            "Typical published values of an animal of ideal body condition that lies on its side, \
             for teaching: not those of the animal in front of you.",
        );
        let (light, heavy) = self.species.usual_weight_kg();
        if animal.has_usual_weight() {
            page.paragraph(&format!("Usual weights of this species: {light} to {heavy} kg."));
        } else {
            page.warning(&format!(
                "{} kg is outside the usual {light} to {heavy} kg of this species: the laws are \
                 stretched beyond the animals they come from.",
                self.weight_kg
            ));
        }
        page.gap();
        let rows: Vec<_> = estimates.iter().map(|(p, estimate)| row(*p, estimate)).collect();
        let columns = [
            ("", Align::Left),
            ("typical", Align::Right),
            ("", Align::Left),
            ("19 of 20 animals", Align::Left),
        ];
        page.table(columns, &rows);
        page.paragraph(
            "19 of 20 animals: how far animals of this weight differ; partly a teaching choice.",
        );
        page.heading("Laws, with M the body weight in kg");
        for (parameter, estimate) in &estimates {
            page.item("- ", &law(*parameter, estimate, &mut sources));
        }
        page.heading("Sources");
        for (number, source) in (1..).zip(&sources.cited) {
            let trust = trust(source.confidence);
            page.item(&format!("[{number}] "), &format!("{trust}: {}", source.citation));
        }
        page.print()?;
        Ok(Exit::Done)
    }
}

/// The names of everything that an animal brings.
pub fn parameters() -> impl Iterator<Item = &'static str> {
    Parameter::ALL.into_iter().map(Parameter::name)
}

/// What an animal brings, by its name or the beginning of it, in any case.
pub fn parameter(word: &str) -> Option<Parameter> {
    let word = word.trim().to_lowercase();
    let begins = |parameter: &Parameter| {
        let name = parameter.name().to_lowercase();
        name.strip_prefix(&*word).is_some_and(|rest| !rest.starts_with(char::is_alphanumeric))
    };
    Parameter::ALL.into_iter().find(|parameter| !word.is_empty() && begins(parameter))
}

/// The law of a parameter for every species, with its sources.
pub fn explained(parameter: Parameter) -> String {
    let mut sources = Sources::default();
    let mut laws: Vec<(String, Vec<&str>)> = Vec::new();
    for species in species::Species::ALL {
        let (light, heavy) = species.usual_weight_kg();
        let animal = Animal::typical(species, Mass::kg((light * heavy).sqrt()));
        let law = law(parameter, &animal.estimate(parameter), &mut sources);
        match laws.iter_mut().find(|(known, _)| *known == law) {
            Some((_, whose)) => whose.push(species.name()),
            None => laws.push((law, vec![species.name()])),
        }
    }
    let unit = match parameter.unit() {
        "" => String::new(),
        unit => format!(" ({unit})"),
    };
    let mut text = format!(
        "{}{unit}\nWhat a typical animal brings, for teaching; M is its body weight in kg.\n",
        parameter.name()
    );
    for (law, whose) in &laws {
        let law = law.split_once(": ").map_or(&**law, |(_, law)| law);
        text += &format!("\n{}: {law}", whose.join(", "));
    }
    text += "\n";
    for (number, source) in (1..).zip(&sources.cited) {
        text += &format!("\n[{number}] {}: {}", trust(source.confidence), source.citation);
    }
    text
}

fn trust(confidence: Confidence) -> &'static str {
    match confidence {
        Confidence::Read => "read",
        Confidence::Memory => "from memory",
        Confidence::Computed => "computed",
    }
}

/// Sources in the order in which they are cited.
#[derive(Default)]
struct Sources {
    cited: Vec<Source>,
}

impl Sources {
    fn cite(&mut self, source: Source) -> String {
        let known = self.cited.iter().position(|cited| *cited == source);
        let index = known.unwrap_or_else(|| {
            self.cited.push(source);
            self.cited.len() - 1
        });
        format!("[{}]", index + 1)
    }
}

fn row(parameter: Parameter, estimate: &Estimate) -> [String; 4] {
    let value = estimate.value;
    let between = species::spread(parameter).map_or_else(String::new, |spread| {
        let factor = exp(1.96 * spread.log_sd);
        format!("{} to {}", digits(value / factor), digits(value * factor))
    });
    [parameter.name().to_owned(), digits(value), parameter.unit().to_owned(), between]
}

fn law(parameter: Parameter, estimate: &Estimate, sources: &mut Sources) -> String {
    let Law { coefficient, exponent, measured, source, .. } = *estimate.law;
    let power = match exponent {
        0.0 => String::new(),
        1.0 => " × M".to_owned(),
        exponent => format!(" × M^{}", digits(exponent)),
    };
    let state = match measured {
        State::Awake => "awake",
        State::Anaesthetised => "under anaesthesia",
    };
    let mut text = format!(
        "{}: {}{power}, {state} {}",
        parameter.name(),
        digits(coefficient),
        sources.cite(source)
    );
    for (factor, applied) in &estimate.factors {
        let sign = match applied {
            Applied::Multiplied => '×',
            Applied::Divided => '÷',
        };
        let when = match factor.when {
            When::Anaesthetised => "under anaesthesia",
            When::Overweight => "when overweight",
            When::Obese => "when obese",
            When::Sternal => "on the breastbone",
            When::Dorsal => "on the back",
        };
        text +=
            &format!("; {sign} {} {when} {}", digits(factor.factor), sources.cite(factor.source));
    }
    text
}

/// Three digits that count.
fn digits(value: f64) -> String {
    let size = value.abs();
    let decimals = [1000.0, 100.0, 10.0, 1.0, 0.1, 0.01].iter().position(|&least| size >= least);
    let decimals = decimals.unwrap_or(6).saturating_sub(1);
    let text = format!("{value:.decimals$}");
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}
