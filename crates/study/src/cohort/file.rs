//! Cohort files: who is drawn, from what, how each is ventilated, what is asked.
//!
//! Read with the same reader as scenarios, so each fault has its place and its
//! remedy.

use tidewright_scenario::fault::{Faults, Problem};
use tidewright_scenario::format::{Id, TimedFault};
use tidewright_scenario::read::{any, list, number, text};
use tidewright_scenario::text::Node;
use tidewright_scenario::{Fault, Rejected, block, choice, parse_as, text_of};

use crate::Metric;
use crate::plan;

block! {
    /// A cohort: many patients like one of a scenario, drawn by chance.
    pub struct Cohort {
        /// Version of the format.
        format: u32 = number(1.0, 1.0).hint("write `format: 1`, or use a newer version of the program"),
        /// Short name, as a file name: small letters, digits and hyphens.
        id: Id = text(64),
        /// What it is, in a few words.
        title: Option<String> = text(120).or_nothing("the `id`"),
        /// The scenario whose patient, circuit and ventilator hold where nothing is
        /// drawn, as a path from the folder of this file.
        base: String = text(200),
        /// How many patients.
        patients: u32 = number(1.0, 100_000_000.0),
        /// The same seed draws the same patients.
        seed: u32 = number(0.0, 4_294_967_295.0).or(1.0),
        /// Whose lungs they have.
        lungs: Lungs = any().or_word("Base"),
        /// What is drawn for each patient.
        vary: Vary = any().or_empty(),
        /// How the ventilator is set for each patient.
        settings: Settings = any().or_word("Fixed"),
        /// Which breath is measured.
        breath: WhichBreath = any().or_word("Settled"),
        /// A patient is within the target where every one of these holds.
        targets: Vec<Target> = list(0, 12).or_empty(),
        /// A patient is harmed where any of these is passed.
        harms: Vec<Harm> = list(0, 12).or_empty(),
        /// Follows the gas of every patient for a while.
        gas: Option<Gas> = any().or_nothing("breaths alone"),
    }
}

block! {
    /// A run of each patient from its start, healthy at first: carbon dioxide and oxygen as
    /// the `gas` of the base says, or as is typical. Circulation and metabolism are those of
    /// the typical animal of the patient's weight. The breath that is measured is one
    /// without the faults.
    pub struct Gas {
        /// How long each patient is followed.
        duration_s: f64 = number(10.0, 86_400.0).or(600.0),
        /// What goes wrong, the same for all.
        faults: Vec<TimedFault> = list(0, 12).or_empty(),
        /// A patient is harmed whose oxygen saturation falls below this.
        lowest_spo2_percent: Option<f64> = number(0.0, 100.0).or_nothing("no harm by it"),
        /// A patient is harmed whose end-tidal carbon dioxide rises above this.
        highest_end_tidal_co2_mmhg: Option<f64> = number(0.0, 300.0).or_nothing("no harm by it"),
        /// A patient is harmed that is apnoeic for longer than this, all together.
        time_apnoeic_s: Option<f64> = number(0.0, 86_400.0).or_nothing("no harm by it"),
    }
}

choice! {
    /// Whose lungs the patients have.
    #[derive(Copy, Eq)]
    pub enum Lungs {
        /// The lung of the base.
        Base,
        /// Each an individual one for species and weight, as animals of one weight
        /// differ; compliance and resistance move together.
        Individual,
    }
}

block! {
    /// What is drawn. Each of these is drawn by chance of its own: drawing one more
    /// leaves the others as they were.
    pub struct Vary {
        /// Body weight.
        weight_kg: Option<Distribution> = any().or_nothing("as in the base"),
        /// Compliance of the lung, all compartments together.
        compliance_ml_cmh2o: Option<Distribution> = any().or_nothing("as in the base"),
        /// The same for each kg of body weight.
        compliance_ml_cmh2o_kg: Option<Distribution> = any().or_nothing("as in the base"),
        /// Resistance of tube and airways together; of the airways alone where the
        /// tube's is not in proportion to the flow.
        resistance_cmh2o_s_l: Option<Distribution> = any().or_nothing("as in the base"),
        /// Compliance of the circuit.
        circuit_compliance_ml_cmh2o: Option<Distribution> = any().or_nothing("as in the base"),
        /// Resistance of the open outlet path.
        valve_resistance_cmh2o_s_l: Option<Distribution> = any().or_nothing("as in the base"),
        /// Flow of the leak at the pressure that the base states for it, or 30 cmH2O.
        leak_ml_min: Option<Distribution> = any().or_nothing("as in the base"),
        /// Pressure of the end-expiratory pressure device.
        end_expiratory_pressure_cmh2o: Option<Distribution> = any().or_nothing("as in the base"),
        /// Fresh gas flow; over any rule.
        fresh_gas_flow_l_min: Option<Distribution> = any().or_nothing("as set"),
        /// Cycling pressure; over any rule.
        cycling_pressure_cmh2o: Option<Distribution> = any().or_nothing("as set"),
        /// Expiratory time; over any rule.
        expiratory_time_s: Option<Distribution> = any().or_nothing("as set"),
    }
}

choice! {
    /// What a value is drawn from. Nothing below 0 is drawn.
    #[derive(Copy)]
    pub enum Distribution {
        /// Anywhere between two values, evenly.
        Uniform(Uniform),
        /// Around a mean. Values below 0, and those more than 4 standard deviations
        /// off, are drawn again.
        Normal(Normal),
        /// Around a median, by factors. Factors beyond 4 standard deviations are drawn
        /// again.
        LogNormal(LogNormal),
    }
}

block! {
    /// Values between two ends.
    pub struct Uniform {
        /// The least.
        from: f64 = number(0.0, 1_000_000.0),
        /// The most.
        to: f64 = number(0.0, 1_000_000.0),
    }
}
impl Copy for Uniform {}

block! {
    /// Values around a mean.
    pub struct Normal {
        /// Their mean.
        mean: f64 = number(1e-6, 1_000_000.0),
        /// Their standard deviation.
        sd: f64 = number(0.0, 1_000_000.0),
    }
}
impl Copy for Normal {}

block! {
    /// Values around a median.
    pub struct LogNormal {
        /// Their median.
        median: f64 = number(1e-6, 1_000_000.0),
        /// Standard deviation of their natural logarithm; 0.25 is about a quarter up or down.
        log_sd: f64 = number(0.0, 3.0),
    }
}
impl Copy for LogNormal {}

choice! {
    /// How the ventilator is set for each patient.
    pub enum Settings {
        /// As in the base, the same for all.
        Fixed,
        /// As in the base, but the fresh gas flow by weight.
        FlowByWeight(FlowByWeight),
        /// By the rule of thumb for the typical patient of this weight: nobody knows
        /// the lung of the one in front of them.
        RuleOfThumb(Goals),
        /// By a plan with the model for the typical patient of this weight.
        Plan(Goals),
    }
}

block! {
    /// A fresh gas flow by weight.
    pub struct FlowByWeight {
        /// Flow for each kg of body weight.
        l_min_for_each_kg: f64 = number(0.001, 100.0),
    }
}

block! {
    /// What is wanted of the breaths.
    pub struct Goals {
        /// Tidal volume for each kg of body weight.
        tidal_volume_ml_kg: f64 = number(0.1, 100.0),
        /// Breaths a minute.
        rate_per_min: f64 = number(0.1, 600.0),
        /// Inspiratory time.
        inspiratory_time_s: Option<f64> = number(0.02, 60.0).or_nothing("a third of a breath"),
        /// The airway pressure that a plan must not pass.
        pressure_ceiling_cmh2o: f64 = number(0.5, 100.0).or(20.0),
        /// The most that the flowmeter can give.
        largest_fresh_gas_flow_l_min: f64 = number(0.01, 1_000.0).or(10.0),
    }
}

choice! {
    /// Which breath of a patient is measured.
    #[derive(Copy)]
    pub enum WhichBreath {
        /// The breath that the patient settles to.
        Settled,
        /// A breath by its number.
        Number(BreathNumber),
    }
}

block! {
    /// The number of a breath.
    pub struct BreathNumber {
        /// From 1.
        n: u32 = number(1.0, 100_000.0),
    }
}
impl Copy for BreathNumber {}

block! {
    /// What counts as success.
    pub struct Target {
        /// The measure.
        measure: Metric = any(),
        /// The least that counts.
        from: f64 = number(0.0, 1_000_000.0),
        /// The most that counts.
        to: f64 = number(0.0, 1_000_000.0),
    }
}

block! {
    /// What counts as harm.
    pub struct Harm {
        /// The measure.
        measure: Metric = any(),
        /// More than this is harm.
        above: f64 = number(0.0, 1_000_000.0),
    }
}

impl Cohort {
    /// Reads a cohort file from its text.
    ///
    /// # Errors
    /// [`Rejected`] with every fault of the text, each with its place.
    ///
    /// ```
    /// use tidewright_study::cohort::CohortFile;
    /// let text = r#"Cohort(
    ///     format: 1, id: "cats", base: "first.ron", patients: 1000,
    ///     vary: (compliance_ml_cmh2o: LogNormal(medain: 5, log_sd: 0.25)),
    /// )"#;
    /// let rejected = CohortFile::parse("cats.ron", text).unwrap_err();
    /// assert_eq!(rejected.faults()[0].mend(), "did you mean `median`?");
    /// ```
    pub fn parse(file_name: &str, text: &str) -> Result<Self, Rejected> {
        parse_as(file_name, text, "Cohort", check)
    }

    /// Reads a cohort file from its bytes.
    ///
    /// # Errors
    /// [`Rejected`] with every fault of the text, or that it is not text at all.
    pub fn parse_bytes(file_name: &str, bytes: &[u8]) -> Result<Self, Rejected> {
        Self::parse(file_name, text_of(file_name, bytes)?)
    }

    /// The fault of a cohort whose base the caller could not read, at the place where
    /// the text names it; nothing where the text is no longer that of a cohort.
    ///
    /// ```
    /// use tidewright_study::cohort::CohortFile;
    /// let text = "Cohort(format: 1, id: \"cats\",\n    base: \"frist.ron\", patients: 10)";
    /// let why = "there is no `frist.ron`";
    /// let rejected = CohortFile::base_unreadable("cats.ron", text, why).unwrap();
    /// let fault = &rejected.faults()[0];
    /// assert_eq!(fault.to_string(), "the base of this cohort: there is no `frist.ron`");
    /// assert_eq!((rejected.place(fault).line, rejected.place(fault).column), (2, 11));
    /// ```
    #[must_use]
    pub fn base_unreadable(file_name: &str, text: &str, why: &str) -> Option<Rejected> {
        let read = parse_as::<Self>(file_name, text, "Cohort", |_file, root, faults| {
            let problem = Problem::Unfit {
                message: format!("the base of this cohort: {why}"),
                expected: "the path of a scenario".to_owned(),
                mend: BASE_MEND.to_owned(),
            };
            faults.push(Fault::new(root.get("base").unwrap_or(root).mark(), problem));
        });
        read.err()
    }
}

/// What to do about a base that cannot be read.
pub const BASE_MEND: &str = "write its path as seen from the folder of the cohort file";

/// Values that are each in range but do not go together.
fn check(file: &Cohort, root: &Node, faults: &mut Faults) {
    let mut unfit = |place: &Node, message: String, expected: &str, mend: &str| {
        let (expected, mend) = (expected.to_owned(), mend.to_owned());
        faults.push(Fault::new(place.mark(), Problem::Unfit { message, expected, mend }));
    };
    let vary = root.get("vary").unwrap_or(root);
    for (name, from) in file.vary.each() {
        if let Distribution::Uniform(Uniform { from, to }) = from
            && from > to
        {
            let message = format!("`{name}` is drawn from {from} to {to}");
            let place = vary.get(name).unwrap_or(vary);
            unfit(place, message, "`from` not above `to`", "exchange the two");
        }
    }
    if file.vary.compliance_ml_cmh2o.is_some() && file.vary.compliance_ml_cmh2o_kg.is_some() {
        unfit(
            vary.get("compliance_ml_cmh2o_kg").unwrap_or(vary),
            "the compliance is drawn twice, once in all and once for each kg".to_owned(),
            "one of `compliance_ml_cmh2o` and `compliance_ml_cmh2o_kg`",
            "remove one of them",
        );
    }
    for target in &file.targets {
        if target.from > target.to {
            unfit(
                root.get("targets").unwrap_or(root),
                format!("a target runs from {} to {}", target.from, target.to),
                "`from` not above `to`",
                "exchange the two",
            );
        }
    }
}

impl Vary {
    /// What is drawn, by the names of the fields.
    pub(super) fn each(&self) -> impl Iterator<Item = (&'static str, Distribution)> {
        let all = [
            ("weight_kg", self.weight_kg),
            ("compliance_ml_cmh2o", self.compliance_ml_cmh2o),
            ("compliance_ml_cmh2o_kg", self.compliance_ml_cmh2o_kg),
            ("resistance_cmh2o_s_l", self.resistance_cmh2o_s_l),
            ("circuit_compliance_ml_cmh2o", self.circuit_compliance_ml_cmh2o),
            ("valve_resistance_cmh2o_s_l", self.valve_resistance_cmh2o_s_l),
            ("leak_ml_min", self.leak_ml_min),
            ("end_expiratory_pressure_cmh2o", self.end_expiratory_pressure_cmh2o),
            ("fresh_gas_flow_l_min", self.fresh_gas_flow_l_min),
            ("cycling_pressure_cmh2o", self.cycling_pressure_cmh2o),
            ("expiratory_time_s", self.expiratory_time_s),
        ];
        all.into_iter().filter_map(|(name, from)| Some((name, from?)))
    }
}

impl Goals {
    /// For the planner, and a weight.
    pub(super) fn for_weight(&self, weight: tidewright::quantity::Mass) -> plan::Goals {
        use tidewright::quantity::{Flow, Pressure, Seconds};
        let goals = plan::Goals {
            weight,
            tidal_volume_ml_kg: self.tidal_volume_ml_kg,
            pace: plan::Pace::Rate { per_min: self.rate_per_min },
            pressure_ceiling: Pressure::cmh2o(self.pressure_ceiling_cmh2o),
            largest_fresh_gas_flow: Flow::l_per_min(self.largest_fresh_gas_flow_l_min),
            ..plan::Goals::default()
        };
        match self.inspiratory_time_s {
            Some(s) => plan::Goals { inspiratory_time: Seconds::s(s), ..goals },
            None => goals.with_usual_inspiration(),
        }
    }
}
