//! The work before and after a patient: names of checks and steps that must be names of
//! something, and acts that need parts, checks or a supply.

use tidewright::assembly::JoinError;

use super::lesson_places::Places;
use crate::fault::{Fault, Faults, Problem};
use crate::format::{ActName, Assembly, AssemblyStart, Circuit, Measure, Part, Scenario, Training};
use crate::read::{any, read_absent};

pub(super) fn check(
    scenario: &Scenario,
    training: &Training,
    places: &Places<'_>,
    faults: &mut Faults,
) {
    references(training, places, faults);
    tables(scenario, training, places, faults);
    offers(training, places, faults);
}

fn references(training: &Training, places: &Places<'_>, faults: &mut Faults) {
    let checks: Vec<String> = training.checks.iter().map(|one| one.id.to_string()).collect();
    let steps: Vec<String> = training.steps.iter().map(|one| one.id.to_string()).collect();
    let mut known = |what, found: &str, known: &[String], path: &[&str]| {
        if !known.iter().any(|one| one == found) {
            let (found, known) = (found.to_owned(), known.to_vec());
            let problem = Problem::UnknownReference { what, found, known };
            faults.push(Fault::new(places.of(path), problem));
        }
    };
    for (index, step) in training.steps.iter().enumerate() {
        let index_said = index.to_string();
        if let Some(check) = &step.check {
            known("check", check.as_str(), &checks, &["steps", &index_said, "check"]);
        }
        // What must come before stands before, so that no two wait for each other.
        for after in &step.after {
            let path = ["steps", &index_said, "after"];
            known("step before this one", after.as_str(), &steps[..index], &path);
        }
    }
    for (index, case) in training.pool.iter().enumerate() {
        for (number, amiss) in case.amiss.iter().enumerate() {
            let path = ["pool", &index.to_string(), "amiss", &number.to_string(), "check"];
            known("check", amiss.check.as_str(), &checks, &path);
        }
    }
    for (index, criterion) in training.criteria.iter().enumerate() {
        if let Measure::InOrder(done) = &criterion.measure {
            let path = ["criteria", &index.to_string(), "measure"];
            for step in &done.steps {
                known("step", step.as_str(), &steps, &path);
            }
            if steps.is_empty() {
                known("step", "steps", &steps, &path);
            }
        }
    }
}

fn tables(scenario: &Scenario, training: &Training, places: &Places<'_>, faults: &mut Faults) {
    let Some(table) = &training.table else {
        for (index, case) in
            training.pool.iter().enumerate().filter(|(_, case)| case.table.is_some())
        {
            let message = format!("the case `{}` changes a table that is not there", case.id);
            let (expected, mend) = ("`table` in the lesson".to_owned(), "write `table`".to_owned());
            let at = places.of(&["pool", &index.to_string(), "table"]);
            faults.push(Fault::new(at, Problem::Unfit { message, expected, mend }));
        }
        return;
    };
    let mut refused = |error: Option<JoinError>, path: &[&str]| {
        if let Some(error) = error {
            let why = error.to_string();
            faults.push(Fault::new(places.of(path), Problem::Refused { why }));
        }
    };
    let own = table.put_together().err();
    let is_whole = own.is_none();
    refused(own, &["table"]);
    for (index, case) in training.pool.iter().enumerate().filter(|_| is_whole) {
        let other = case.table.as_ref().and_then(|other| table.put_together_with(other).err());
        refused(other, &["pool", &index.to_string(), "table"]);
    }
    let usual: Option<Circuit> = read_absent(&any().or_empty());
    for (field, said) in [
        ("circuit", usual.as_ref() != Some(&scenario.circuit)),
        ("assembly", scenario.assembly.is_some()),
    ] {
        if said {
            let fault = Fault::new(places.around(&[field]), Problem::AssemblyAlone);
            faults.push(fault.and(places.of(&["table"]), "parts say it here"));
        }
    }
}

fn offers(training: &Training, places: &Places<'_>, faults: &mut Faults) {
    let mut needs = |asked: Option<String>, there: bool, what: &str, path: &[&str]| {
        let Some(asked) = asked.filter(|_| !there) else { return };
        let message = format!("`{asked}` finds nothing that it is of");
        let (expected, mend) = (format!("`{what}` in the lesson"), format!("write `{what}`"));
        let problem = Problem::Unfit { message, expected, mend };
        faults.push(Fault::new(places.of(path), problem));
    };
    let offered = |names: &[ActName]| {
        let name = names.iter().find(|name| training.offers.contains(name))?;
        Some(format!("{name:?}"))
    };
    let table = training.table.is_some();
    let of_table = offered(&[ActName::Join, ActName::Part, ActName::Trace]);
    needs(of_table, table, "table", &["offers"]);
    let of_checks = offered(&[ActName::Check, ActName::PutRight]);
    needs(of_checks, !training.checks.is_empty(), "checks", &["offers"]);
    let patient = |table: &Assembly| {
        table.start == AssemblyStart::ReadyMade
            || table.parts.iter().any(|one| matches!(one.part, Part::Patient))
    };
    let patient = training.table.as_ref().is_none_or(patient);
    needs(offered(&[ActName::Reconnect]), patient, "patient", &["offers"]);
    for (index, criterion) in training.criteria.iter().enumerate() {
        let measured = matches!(criterion.measure, Measure::Circuit(_));
        let path = ["criteria", &index.to_string(), "measure"];
        needs(measured.then(|| "Circuit".to_owned()), table, "table", &path);
    }
}
