//! The words of the job, each with its relation.

use tidewright_scenario::Scenario;
use tidewright_scenario::report;

use crate::text::said;

/// A word, its cousins, what it means and the relation behind it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Term {
    /// The word.
    pub name: &'static str,
    /// Other words for it.
    pub also: &'static [&'static str],
    /// What it means.
    pub meaning: &'static str,
    /// The relation, or nothing.
    pub relation: &'static str,
}

/// Every term.
pub const TERMS: [Term; 18] = [
    Term {
        name: "cycling pressure",
        also: &["trigger pressure", "pressure termination"],
        meaning: "The airway pressure at which inspiration ends and the outlet valve opens.",
        relation: "tidal volume = compliance × (cycling pressure − baseline − resistance × flow)",
    },
    Term {
        name: "inspiratory time limit",
        also: &["time limit"],
        meaning: "The longest inspiration when the cycling pressure is not reached: a safety setting.",
        relation: "largest volume = fresh gas flow × time limit",
    },
    Term {
        name: "expiratory time",
        also: &[],
        meaning: "How long the outlet valve stays open.",
        relation: "rate = 60 / (inspiratory time + expiratory time)",
    },
    Term {
        name: "fresh gas flow",
        also: &["flow"],
        meaning: "The constant flow of gas into the T-piece. In inspiration all of it goes to the patient and the circuit.",
        relation: "minute volume is at most the fresh gas flow",
    },
    Term {
        name: "inspiratory time",
        also: &["inflation time"],
        meaning: "A result, not a setting: the compliance meter of this ventilator.",
        relation: "inspiratory time = (tidal volume + circuit compliance × pressure) / flow",
    },
    Term {
        name: "tidal volume",
        also: &["breath volume"],
        meaning: "The change of lung volume over a breath; a result, not a setting.",
        relation: "tidal volume = compliance × (cycling pressure − baseline − resistance × flow)",
    },
    Term {
        name: "compliance",
        also: &["stiffness"],
        meaning: "Volume taken up for each cmH2O. A stiff lung has little.",
        relation: "compliance = change of volume / change of pressure",
    },
    Term {
        name: "resistance",
        also: &[],
        meaning: "Pressure lost along tube and airway for each unit of flow.",
        relation: "pressure lost = resistance × flow",
    },
    Term {
        name: "peak pressure",
        also: &[],
        meaning: "The highest airway pressure of a breath. Where pressure ends the breath it is always the cycling pressure, and hides the fault.",
        relation: "",
    },
    Term {
        name: "baseline pressure",
        also: &["PEEP", "end-expiratory pressure"],
        meaning: "Airway pressure at the end of expiration. The fresh gas flows through the limb all the time.",
        relation: "baseline = device pressure + fresh gas flow × limb resistance",
    },
    Term {
        name: "intrinsic PEEP",
        also: &["auto-PEEP", "breath stacking", "trapped gas", "air trapping"],
        meaning: "Alveolar pressure above the baseline at the end of an expiration that was too short.",
        relation: "left in the lung ≈ tidal volume × e^(−expiratory time / (resistance × compliance))",
    },
    Term {
        name: "leak",
        also: &[],
        meaning: "Gas that escapes from the circuit. A small one only lengthens inspiration; a large one keeps the cycling pressure from being reached.",
        relation: "highest pressure = fresh gas flow / leak conductance",
    },
    Term {
        name: "cuff leak",
        also: &["seal pressure"],
        meaning: "Gas past the cuff once the pressure is above what the cuff holds: a flat top, and a port test that passes.",
        relation: "no leak below the seal pressure",
    },
    Term {
        name: "end-tidal carbon dioxide",
        also: &["EtCO2", "end-tidal CO2", "end-tidal"],
        meaning: "The highest carbon dioxide of a breath's expired gas. It falls when less is made, less blood brings it, more is breathed out, or the monitor draws something else.",
        relation: "alveolar carbon dioxide = 0.863 × carbon dioxide made / alveolar ventilation",
    },
    Term {
        name: "dead space",
        also: &["apparatus dead space"],
        meaning: "The part of each breath that meets no blood: adapter, tube, airways. It is the same for every breath, so small and fast breaths lose most.",
        relation: "alveolar ventilation = (tidal volume − dead space) × rate",
    },
    Term {
        name: "rebreathing",
        also: &["inspired carbon dioxide"],
        meaning: "Breathing in what was breathed out: from a large adapter, or from the limb when the fresh gas flow is low.",
        relation: "",
    },
    Term {
        name: "depth of anaesthesia",
        also: &["depth"],
        meaning: "Here a number from 0, awake, to 1, too deep to breathe: depth raises the carbon dioxide at which a patient breathes by itself, and makes it answer less.",
        relation: "own minute volume = slope × (arterial carbon dioxide − threshold)",
    },
    Term {
        name: "weaning",
        also: &["wean"],
        meaning: "Letting a patient take its breathing back: lighter, fewer ventilator breaths so that carbon dioxide rises a little, then alone, and watched.",
        relation: "",
    },
];

/// Finds a term by its name or a cousin, in any case.
#[must_use]
pub fn find(word: &str) -> Option<&'static Term> {
    let word = word.trim().to_lowercase();
    TERMS.iter().find(|term| {
        term.name.to_lowercase() == word || term.also.iter().any(|also| also.to_lowercase() == word)
    })
}

/// The term in words, with the numbers of a scenario's last breath if one is given.
#[must_use]
pub fn explained(term: &Term, scenario: Option<&Scenario>) -> String {
    let mut text = format!("{}\n{}", term.name, term.meaning);
    if !term.also.is_empty() {
        text += &format!("\nAlso: {}.", term.also.join(", "));
    }
    if !term.relation.is_empty() {
        text += &format!("\n{}", term.relation);
    }
    let Some(scenario) = scenario else { return text };
    let start = scenario.protocol_without_faults().start;
    let lung = &start.lung;
    let resistance = lung.compartments.first().map(|part| part.resistance.as_cmh2o_s_per_l());
    let set = &scenario.ventilator;
    text += &format!(
        "\n\nIn `{}`: compliance {} mL/cmH2O, resistance {} cmH2O·s/L, flow {} L/min, cycling \
         pressure {} cmH2O, time limit {} s, expiratory time {} s",
        scenario.id,
        said(lung.total_compliance().as_ml_per_cmh2o()),
        said(resistance.unwrap_or(0.0)),
        said(set.fresh_gas_flow_l_min),
        said(set.cycling_pressure_cmh2o),
        said(set.inspiratory_time_limit_s),
        said(set.expiratory_time_s)
    );
    let last = report::run(scenario, |_, _| Ok(())).ok().and_then(|end| end.summary.last_breath);
    match last {
        Some(row) => {
            text += &format!(
                "; its last breath: inspiratory time {} s, tidal volume {} mL ({} mL/kg), peak {} \
                 cmH2O, baseline {} cmH2O.",
                said(row.inspiratory_time_s),
                said(row.expired_tidal_volume_ml),
                said(row.expired_tidal_volume_ml / scenario.patient.weight_kg),
                said(row.peak_pressure_cmh2o),
                said(row.baseline_pressure_cmh2o)
            );
        }
        None => text.push('.'),
    }
    text
}
