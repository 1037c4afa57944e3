//! The same scenario with a patient of another weight.

use tidewright::quantity::Flow;
use tidewright::setup;
use tidewright::species::{Animal, Parameter};

use crate::format::{
    Change, ChestWall, Compartment, Effort, Lung, Patient, PressureVolume, Scenario, Tube,
    Viscoelastic,
};

impl Scenario {
    /// The same scenario with a patient of another weight, kg; above 0.
    ///
    /// What is typical follows the weight by itself. What the file says of lung,
    /// tube, chest wall and dead space keeps its ratio to what is typical, so a lung
    /// that is stiff for its weight stays as stiff for its weight. Pressures, holes,
    /// equipment and settings stay as they are; how often and how long the patient
    /// breathes by itself goes with the usual rate.
    ///
    /// ```
    /// let scenario = tidewright_scenario::parse("demo.ron", tidewright_scenario::DEMO)?;
    /// let heavier = scenario.at_weight(2.0 * scenario.patient.weight_kg);
    /// let compliance = |s: &tidewright_scenario::Scenario| {
    ///     s.protocol().start.lung.total_compliance().as_ml_per_cmh2o()
    /// };
    /// // A cat's compliance goes with its weight.
    /// assert!((compliance(&heavier) / compliance(&scenario) - 2.0).abs() < 0.1);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn at_weight(&self, weight_kg: f64) -> Self {
        let mut other = self.clone();
        other.patient.weight_kg = weight_kg;
        let ratios = Ratios::new(&self.patient.animal(), &other.patient.animal());
        ratios.patient(&mut other.patient);
        for entry in &mut other.timeline {
            ratios.change(&mut entry.set, self.patient.tube.is_some());
        }
        if let Some(ml) = other.gas.as_mut().and_then(|gas| gas.airway_dead_space_ml.as_mut()) {
            *ml *= ratios.dead_space;
        }
        other
    }

    /// The story with the patient's weight in its place; nothing if there is none.
    ///
    /// ```
    /// let mut scenario = tidewright_scenario::parse("demo.ron", tidewright_scenario::DEMO)?;
    /// scenario.story = Some("{weight}.".to_owned());
    /// assert_eq!(scenario.story_told().as_deref(), Some("4.5 kg."));
    /// assert_eq!(scenario.at_weight(0.35).story_told().as_deref(), Some("350 g."));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn story_told(&self) -> Option<String> {
        let story = self.story.as_deref()?;
        let mut story = story.replace("{weight}", &self.patient.weight_told());
        if let Some(pace) = self.pace_of_warmth() {
            story += &format!(" {pace}");
        }
        Some(story)
    }
}

impl Patient {
    /// The weight as one says it: `4.6 kg`, `350 g`.
    #[must_use]
    pub fn weight_told(&self) -> String {
        let kg = self.weight_kg;
        // Rounding takes away what a division leaves, as in 0.35 × 1000.
        let told = |value: f64| (value * 1000.0).round() / 1000.0;
        if kg < 1.0 { format!("{} g", told(1000.0 * kg)) } else { format!("{} kg", told(kg)) }
    }
}

/// What is typical at the new weight, divided by the same at the old.
struct Ratios {
    compliance: f64,
    airway: f64,
    tube: f64,
    /// Airway and tube together.
    whole: f64,
    tube_diameter: f64,
    tube_length: f64,
    dead_space: f64,
    rate: f64,
}

impl Ratios {
    fn new(old: &Animal, new: &Animal) -> Self {
        let ratio = |parameter| new.value(parameter) / old.value(parameter);
        let tube = |animal: &Animal| match animal.lung().tube {
            setup::Tube::Linear(tube) => tube.as_cmh2o_s_per_l(),
            _ => 0.0,
        };
        let smooth = |animal: &Animal| {
            let flow = Flow::ml_s(10.0 * animal.weight.as_kg());
            animal.tube().resistance_at(flow).as_cmh2o_s_per_l()
        };
        let whole = |animal: &Animal| animal.value(Parameter::AirwayResistance) + tube(animal);
        Self {
            compliance: ratio(Parameter::Compliance),
            airway: ratio(Parameter::AirwayResistance),
            tube: smooth(new) / smooth(old),
            whole: whole(new) / whole(old),
            tube_diameter: ratio(Parameter::TubeDiameter),
            tube_length: ratio(Parameter::TubeLength),
            dead_space: ratio(Parameter::DeadSpace),
            rate: ratio(Parameter::Rate),
        }
    }

    fn patient(&self, patient: &mut Patient) {
        let has_tube = patient.tube.is_some();
        patient.lung.iter_mut().for_each(|lung| self.lung(lung, has_tube));
        patient.tube.iter_mut().for_each(|tube| self.tube(tube));
        patient.chest_wall.iter_mut().for_each(|wall| self.chest_wall(wall));
        patient.viscoelastic.iter_mut().for_each(|branch| self.viscoelastic(branch));
        patient.effort.iter_mut().for_each(|effort| self.effort(effort));
    }

    fn change(&self, change: &mut Change, has_tube: bool) {
        match change {
            Change::Lung(lung) => self.lung(lung, has_tube),
            Change::Tube(tube) => self.tube(tube),
            Change::ChestWall(wall) => self.chest_wall(wall),
            Change::Viscoelastic(branch) => self.viscoelastic(branch),
            Change::Effort(effort) => self.effort(effort),
            _ => {}
        }
    }

    fn lung(&self, lung: &mut Lung, has_tube: bool) {
        match lung {
            // One compartment's resistance holds the tube's, too.
            Lung::Single(only) if !has_tube => self.compartment(only, self.whole),
            Lung::Single(only) => self.compartment(only, self.airway),
            Lung::Compartments(parts) => {
                parts.tube_resistance_cmh2o_s_l *= self.tube;
                for part in &mut parts.compartments {
                    self.compartment(part, self.airway);
                }
            }
        }
    }

    fn compartment(&self, part: &mut Compartment, resistance: f64) {
        part.compliance_ml_cmh2o *= self.compliance;
        part.resistance_cmh2o_s_l *= resistance;
        part.expiratory_resistance_cmh2o_s_l.iter_mut().for_each(|out| *out *= resistance);
        match &mut part.law {
            PressureVolume::Linear => {}
            PressureVolume::Sigmoid(curve) => {
                curve.lower_ml *= self.compliance;
                curve.span_ml *= self.compliance;
            }
            PressureVolume::Table(table) => table.points.stretch(self.compliance),
        }
    }

    fn tube(&self, tube: &mut Tube) {
        match tube {
            Tube::Linear(tube) => tube.cmh2o_s_l *= self.tube,
            Tube::Quadratic(tube) => {
                tube.k1_cmh2o_s_l *= self.tube;
                tube.k2_cmh2o_s2_l2 *= self.tube;
            }
            Tube::Sized(tube) => {
                tube.internal_diameter_mm *= self.tube_diameter;
                tube.length_cm *= self.tube_length;
            }
            Tube::OneWay(tube) => {
                let both = [&mut tube.inward_cmh2o_s_l, &mut tube.outward_cmh2o_s_l];
                both.into_iter().flatten().for_each(|way| *way *= self.tube);
            }
            Tube::Shut => {}
        }
    }

    fn chest_wall(&self, wall: &mut ChestWall) {
        wall.compliance_ml_cmh2o *= self.compliance;
    }

    fn viscoelastic(&self, branch: &mut Viscoelastic) {
        branch.compliance_ml_cmh2o *= self.compliance;
        // It gives way as slowly as before.
        branch.resistance_cmh2o_s_l /= self.compliance;
    }

    fn effort(&self, effort: &mut Effort) {
        if let Effort::Breaths(breaths) = effort {
            breaths.rate_per_min *= self.rate;
            breaths.duration_s /= self.rate;
            breaths.delay_s /= self.rate;
        }
    }
}
