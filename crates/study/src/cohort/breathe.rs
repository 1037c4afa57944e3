//! The breaths of patients: plain ones side by side, the others one by one.

use std::ops::Range;

use tidewright::machine::Machine;
use tidewright::quantity::Mass;
use tidewright::setup::Setup;
use tidewright::steady::{one_breath, periodic};
use tidewright::step::Moment;

use super::draw::resistance;
use super::file::{BreathNumber, WhichBreath};
use super::gas::follow;
use super::patient::{Drawing, Patient};
use super::{Cohort, Row};
use crate::batch::{BatchError, Block, Breaths, TwoNode};

/// Lanes of a block: what runs fastest on today's machines.
const LANES: usize = 8;
/// Breaths after which a plain patient is left to the direct search.
const MOST_WAITED: u32 = 60;
/// A pressure that changes by less than this from breath to breath has settled, cmH2O.
const STILL: f64 = 1e-13;

type Breathed = Option<Result<Breaths<1>, String>>;

pub(super) fn rows(cohort: &Cohort, patients: Range<u64>) -> Vec<Row> {
    let mut drawing = Drawing::of(cohort);
    let drawn: Vec<Patient> = patients.clone().map(|index| drawing.patient(index)).collect();
    let mut breaths: Vec<Breathed> = vec![None; drawn.len()];
    let mut waiting: Vec<(usize, TwoNode)> = Vec::with_capacity(LANES);
    let which = cohort.file.breath;
    for (place, patient) in drawn.iter().enumerate() {
        if let Some(problem) = &patient.problem {
            breaths[place] = Some(Err(problem.clone()));
        } else if let Some(plain) = TwoNode::of(&patient.setup) {
            waiting.push((place, plain));
            if waiting.len() == LANES {
                side_by_side::<LANES>(&waiting, which, &mut breaths);
                waiting.clear();
            }
        }
    }
    side_by_side::<LANES>(&waiting, which, &mut breaths);
    let rows = patients.zip(drawn).zip(breaths);
    rows.map(|((index, patient), breath)| {
        let breath = breath.unwrap_or_else(|| one_by_one(&patient.setup, which));
        row(cohort, index, &patient, breath)
    })
    .collect()
}

/// The breaths of plain patients. What a block cannot do is left to the general engine.
fn side_by_side<const N: usize>(
    patients: &[(usize, TwoNode)],
    which: WhichBreath,
    into: &mut [Breathed],
) {
    let Some(&(_, last)) = patients.last() else { return };
    let machines: [TwoNode; N] =
        std::array::from_fn(|lane| patients.get(lane).map_or(last, |&(_, plain)| plain));
    let mut block = Block::new(&machines);
    let done = match which {
        WhichBreath::Number(BreathNumber { n }) => numbered(&mut block, n, patients, into),
        WhichBreath::Settled => settled(&mut block, patients, into),
    };
    // One patient that fails must not decide how its neighbours are computed.
    if done.is_err() && N > 1 {
        for patient in patients {
            side_by_side::<1>(std::slice::from_ref(patient), which, into);
        }
    }
}

fn numbered<const N: usize>(
    block: &mut Block<N>,
    number: u32,
    patients: &[(usize, TwoNode)],
    into: &mut [Breathed],
) -> Result<(), BatchError> {
    let mut breaths = Breaths::default();
    for _ in 0..number {
        block.breath(&mut breaths)?;
    }
    for (lane, &(place, _)) in patients.iter().enumerate() {
        into[place] = Some(Ok(breaths.lane(lane)));
    }
    Ok(())
}

fn settled<const N: usize>(
    block: &mut Block<N>,
    patients: &[(usize, TwoNode)],
    into: &mut [Breathed],
) -> Result<(), BatchError> {
    let (mut before, mut now) = (Breaths::<N>::default(), Breaths::<N>::default());
    for _ in 0..MOST_WAITED {
        block.breath(&mut now)?;
        let moves = |of: fn(&Breaths<N>) -> &[f64; N], lane: usize| {
            let (now, before) = (of(&now)[lane], of(&before)[lane]);
            (now - before).abs() > STILL * (1.0 + now.abs())
        };
        let mut all = true;
        for (lane, &(place, _)) in patients.iter().enumerate() {
            let moves = moves(|breaths| &breaths.baseline_pressure_cmh2o, lane)
                || moves(|breaths| &breaths.end_expiratory_alveolar_pressure_cmh2o, lane);
            // A patient's breath is the first settled one, whoever is beside.
            if !moves && into[place].is_none() {
                into[place] = Some(Ok(now.lane(lane)));
            }
            all &= into[place].is_some();
        }
        if all {
            break;
        }
        before = now;
    }
    Ok(())
}

/// The breath of any patient.
fn one_by_one(setup: &Setup, which: WhichBreath) -> Result<Breaths<1>, String> {
    let say = |error: &dyn std::error::Error| error.to_string();
    let machine = Machine::new(setup.clone()).map_err(|error| say(&error))?;
    let breath = match which {
        WhichBreath::Settled => periodic(&machine).map_err(|error| say(&error))?.breath,
        WhichBreath::Number(BreathNumber { n }) => {
            let mut moment = Moment::at_rest(&machine);
            for _ in 1..n {
                moment = one_breath(&machine, &moment).map_err(|error| say(&error))?.1;
            }
            one_breath(&machine, &moment).map_err(|error| say(&error))?.0
        }
    };
    Ok(Breaths::from(&breath))
}

fn row(
    cohort: &Cohort,
    index: u64,
    patient: &Patient,
    mut breath: Result<Breaths<1>, String>,
) -> Row {
    let mut gas = None;
    if let (Ok(_), Some(asked), Some(base)) = (&breath, &cohort.file.gas, &cohort.followed) {
        match follow(base, asked, patient.weight_kg, &patient.setup) {
            Ok(outcome) => gas = Some((outcome, outcome.harms(asked))),
            Err(problem) => breath = Err(problem),
        }
    }
    let weight = Mass::kg(patient.weight_kg);
    let (lung, circuit) = (&patient.setup.lung, &patient.setup.circuit);
    let (within_target, harmed) = match &breath {
        Err(_) => (false, false),
        Ok(breath) => {
            let file = &cohort.file;
            let within = file.targets.iter().all(|target| {
                (target.from..=target.to).contains(&target.measure.told(&breath.into(), weight))
            });
            let harmed = file
                .harms
                .iter()
                .any(|harm| harm.measure.told(&breath.into(), weight) > harm.above);
            (within, harmed || gas.is_some_and(|(_, harms)| harms))
        }
    };
    Row {
        patient: index + 1,
        weight,
        compliance_ml_cmh2o: lung.total_compliance().as_ml_per_cmh2o(),
        resistance_cmh2o_s_l: resistance(lung),
        circuit_compliance_ml_cmh2o: circuit.compliance.as_ml_per_cmh2o(),
        leak_ml_min: circuit.leak.as_ref().map_or(0.0, |leak| leak.flow.as_ml_s() * 60.0),
        ventilator: patient.setup.ventilator,
        breath,
        follows_gas: cohort.file.gas.is_some(),
        gas: gas.map(|(outcome, _)| outcome),
        within_target,
        harmed,
    }
}
