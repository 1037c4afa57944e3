//! Which competences which lessons cover.

use tidewright_scenario::Scenario;
use tidewright_scenario::format::Competence;

/// Every competence and its name.
pub const COMPETENCES: [(Competence, &str); 14] = [
    (Competence::LawAndRole, "law and role"),
    (Competence::Plan, "plan"),
    (Competence::PreUseCheck, "pre-use check"),
    (Competence::FunctionalTest, "functional test"),
    (Competence::LeakTest, "leak test"),
    (Competence::Airway, "airway"),
    (Competence::ChooseSettings, "choose settings"),
    (Competence::Start, "start"),
    (Competence::Monitor, "monitor"),
    (Competence::Adjust, "adjust"),
    (Competence::Faults, "faults"),
    (Competence::Wean, "wean"),
    (Competence::RecordAndHandOver, "record and hand over"),
    (Competence::StaffSafety, "staff safety"),
];

/// The lessons that serve a competence, in the order given.
#[must_use]
pub fn lessons_for(scenarios: &[Scenario], competence: Competence) -> Vec<&Scenario> {
    let serves = |scenario: &&Scenario| {
        scenario.training.as_ref().is_some_and(|training| {
            training.objectives.iter().any(|one| one.competences.contains(&competence))
        })
    };
    scenarios.iter().filter(serves).collect()
}
