//! What is told of parts, checks and the gas supply.

use tidewright::quantity::Seconds;
use tidewright::supply::cylinder_contents_l;
use tidewright_scenario::format::{Act, Cylinder};

use crate::bedside::Bedside;
use crate::words::text::said;

pub(super) fn seen(session: &Bedside, act: &Act) -> Option<String> {
    Some(match act {
        Act::Join(two) => format!("{} is on {}.", two.a, two.b),
        Act::Part(one) => format!("{} is off.", one.port),
        Act::Trace => {
            let seen = session.world().table.as_ref()?.parts().as_seen();
            match seen.trace() {
                Ok(told) => told.join(" "),
                Err(error) => format!("The path cannot be told: {error}."),
            }
        }
        Act::Check(one) => {
            let check = session.training().checks.iter().find(|known| known.id == one.check)?;
            let finds = session.amiss(act).map_or(&check.finds, |amiss| &amiss.finds);
            format!("{}: {finds}", check.does)
        }
        Act::PutRight(_) => match session.amiss(act) {
            Some(amiss) => amiss.mends.clone(),
            None => "There is nothing to put right; it is left as it is.".to_owned(),
        },
        _ => return None,
    })
}

/// What gauges of pipeline and cylinders show; nothing where the lesson has no supply. The
/// cylinder in use falls by what the flowmeter let through, where there is no pipeline.
pub(super) fn supply(session: &Bedside) -> String {
    let of_case = session.drawn().and_then(|drawn| drawn.case.supply.as_ref());
    let Some(supply) = of_case.or(session.training().supply.as_ref()) else {
        return String::new();
    };
    let mut told = String::new();
    if let Some(bar) = supply.pipeline_bar {
        told += &format!(" The pipeline's gauge shows {} bar.", said(bar));
    }
    let used_l = if supply.pipeline_bar.is_some() { 0.0 } else { let_through_l(session) };
    let all = [("The cylinder", &supply.cylinder, used_l), ("The spare", &supply.reserve, 0.0)];
    for (which, cylinder, used_l) in all {
        let Some(&Cylinder { inner_volume_l, gauge_bar }) = cylinder.as_ref() else { continue };
        let bar = (gauge_bar - used_l / cylinder_contents_l(inner_volume_l, 1.0)).max(0.0);
        told += &format!(
            " {which} has {} L of inner volume; its gauge shows {} bar.",
            said(inner_volume_l),
            said(bar)
        );
    }
    told
}

/// Fresh gas that came so far, L.
fn let_through_l(session: &Bedside) -> f64 {
    let run = session.protocol();
    let starts = run.changes.iter().map(|change| (change.at, &change.setup));
    let starts: Vec<_> = [(Seconds::ZERO, &run.start)].into_iter().chain(starts).collect();
    let ends = starts.iter().skip(1).map(|(at, _)| *at).chain([run.duration]);
    let ml = starts
        .iter()
        .zip(ends)
        .map(|((from, setup), to)| (setup.ventilator.fresh_gas_flow * (to - *from)).as_ml());
    ml.sum::<f64>() / 1000.0
}
