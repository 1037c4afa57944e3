//! What happened to carbon dioxide and oxygen, in a sentence or two.

use tidewright::coupled::{GasPoint, GasRun, GasStretch};
use tidewright::exchange::GasBreath;
use tidewright::run::Stretch;

use super::Summary;
use super::no_breath::why;
use super::story::Story;
use super::words::said;
use crate::format::Scenario;
use crate::protocol::moments;

/// Mean inspired carbon dioxide that is called rebreathing, mmHg (common
/// practice, no source).
const REBREATHING_MMHG: f64 = 2.0;
/// Cardiac output that is called low, % (a teaching choice).
const LOW_OUTPUT_PERCENT: f64 = 60.0;
/// Time without a breath that is called apnoea, s (common practice, no source).
const APNOEA_S: f64 = 20.0;

/// Collects what is told of the gas while the run goes on.
#[derive(Debug)]
pub(super) struct GasStory {
    weight_kg: f64,
    /// At the end, of what is typical, %.
    cardiac_output_percent: f64,
    first: Option<GasPoint>,
    last: Option<GasPoint>,
    /// First and last breath that brought gas to the lung.
    breaths: Option<(GasBreath, GasBreath)>,
    /// Gas between T-piece and alveoli, mL.
    dead_ml: f64,
    /// When the last breath began, s.
    since_s: f64,
    /// The point at which it began.
    since: Option<GasPoint>,
    /// Start and end of the longest time without a breath, and why there was none.
    apnoea: Option<(GasPoint, GasPoint, &'static str)>,
    /// The breath with the lowest end-tidal carbon dioxide while the heart pumped little,
    /// and what it then pumped, of what is usual.
    low_flow: Option<(GasBreath, f64)>,
}

impl GasStory {
    pub fn new(scenario: &Scenario, run: Option<&GasRun>) -> Self {
        let exchange = run.map(GasRun::exchange);
        let last = moments(scenario).pop().and_then(|moment| moment.settings.gas);
        let cardiac_output = last.map(|gas| gas.cardiac_output_percent);
        Self {
            weight_kg: scenario.patient.weight_kg,
            cardiac_output_percent: cardiac_output.unwrap_or(100.0),
            first: None,
            last: None,
            breaths: None,
            dead_ml: exchange.map_or(0.0, |all| all.airway_ml + all.apparatus.adapter_ml),
            since_s: 0.0,
            since: None,
            apnoea: None,
            low_flow: None,
        }
    }

    pub fn take(&mut self, stretch: &Stretch<'_>, gas: &GasStretch) {
        for breath in gas.breaths.iter().filter(|breath| breath.reaches_lung) {
            self.breaths = Some((self.breaths.map_or(*breath, |(first, _)| first), *breath));
        }
        let Some(last) = gas.points.last() else { return };
        self.first = self.first.or(gas.points.first().copied());
        self.last = Some(*last);
        let pumped = last.pulse.output_share;
        for breath in gas
            .breaths
            .iter()
            .filter(|breath| breath.reaches_lung && 100.0 * pumped < LOW_OUTPUT_PERCENT)
        {
            let end_tidal = breath.end_tidal_carbon_dioxide;
            if self.low_flow.is_none_or(|(low, _)| end_tidal < low.end_tidal_carbon_dioxide) {
                self.low_flow = Some((*breath, pumped));
            }
        }
        if gas.breath_since_s != self.since_s {
            self.since_s = gas.breath_since_s;
            self.since = gas.points.iter().find(|point| point.at_s >= self.since_s).copied();
        }
        let since = *self.since.get_or_insert(gas.points[0]);
        let longest = self.apnoea.map_or(0.0, |(from, to, _)| to.at_s - from.at_s);
        if last.at_s - since.at_s > longest.max(APNOEA_S) {
            self.apnoea = Some((since, *last, why(stretch.machine.setup())));
        }
    }

    /// The story of the breaths, with what the gas adds to it.
    pub fn told(&self, breaths: String, story: &Story<'_>, summary: &Summary) -> String {
        let (Some(first), Some(last), Some(gas)) = (&self.first, &self.last, &summary.gas) else {
            return breaths;
        };
        let own = gas.own_breaths > 0 && summary.breaths == 0;
        let before = if own { format!("{} {}", story.beginning(), self.own()) } else { breaths };
        let limits = gas.totals().limits;
        let mut told = vec![before, self.carbon_dioxide(first, last, &limits)];
        let recovered = 100.0 * last.pulse.output_share >= LOW_OUTPUT_PERCENT;
        if let Some((low, pumped)) = self.low_flow.filter(|_| recovered) {
            told.push(format!(
                "In between, while the heart pumps {} % of what is typical, end-tidal carbon \
                 dioxide falls to {} mmHg, and arterial is {} mmHg: less comes to the lung, and \
                 part of the gas there meets no blood.",
                percent(pumped),
                said(low.end_tidal_carbon_dioxide.as_mmhg()),
                said(low.arterial_carbon_dioxide.as_mmhg()),
            ));
        }
        if let Some((from, to, why)) = &self.apnoea {
            let saturation = match [from, to].map(|point| percent(point.saturation)) {
                [then, now] if then == now => format!("the saturation stays at {now} %"),
                [then, now] => format!("the saturation goes from {then} to {now} %"),
            };
            told.push(format!(
                "For {} s there is no breath, as {why}: in that time arterial carbon dioxide goes \
                 from {} to {} mmHg, and {saturation}.",
                said(to.at_s - from.at_s),
                said(from.arterial_carbon_dioxide_mmhg),
                said(to.arterial_carbon_dioxide_mmhg),
            ));
        }
        let lowest = gas.lowest_spo2_percent.map_or(1.0, |percent| percent / 100.0);
        if lowest < limits.lowest_saturation {
            told.push(format!(
                "The saturation falls to {} %, and is below {} % for {} min.",
                percent(lowest),
                percent(limits.lowest_saturation),
                said(gas.spo2_below_limit_min)
            ));
        }
        told.join(" ")
    }

    /// How the patient breathes by itself, at the start and at the end.
    fn own(&self) -> String {
        let Some((first, last)) = &self.breaths else { return String::new() };
        let breath = |breath: &GasBreath| {
            let ml = breath.inspired.as_ml();
            format!(
                "{} mL ({} mL/kg) {} times a minute",
                said(ml),
                said(ml / self.weight_kg),
                said(60.0 / breath.duration.as_s())
            )
        };
        format!("It breathes {} by itself, and {} at the end.", breath(first), breath(last))
    }

    /// Whether carbon dioxide falls after a time without a breath.
    fn is_washing_out(&self, last: &GasPoint) -> bool {
        self.apnoea.is_some_and(|(_, to, _)| {
            last.arterial_carbon_dioxide_mmhg < to.arterial_carbon_dioxide_mmhg
        })
    }

    /// What end-tidal and arterial carbon dioxide did, and why.
    fn carbon_dioxide(
        &self,
        first: &GasPoint,
        last: &GasPoint,
        limits: &tidewright::coupled::GasLimits,
    ) -> String {
        let arterial = format!(
            "arterial carbon dioxide goes from {} to {} mmHg",
            said(first.arterial_carbon_dioxide_mmhg),
            said(last.arterial_carbon_dioxide_mmhg)
        );
        let Some((start, end)) = &self.breaths else {
            return format!("No gas is breathed: {arterial}.");
        };
        let inspired = end.mean_inspired_carbon_dioxide.as_mmhg();
        let (low, high) = (limits.lowest_end_tidal, limits.highest_end_tidal);
        let now = end.end_tidal_carbon_dioxide;
        let not_breathing = last.at_s - self.since_s > APNOEA_S;
        let why = if not_breathing {
            String::new()
        } else if end.inspired.as_ml() < self.dead_ml {
            format!(
                " Its breaths of {} mL fill little more than the {} mL of adapter, tube and \
                 airway: hardly any fresh gas reaches the alveoli.",
                said(end.inspired.as_ml()),
                said(self.dead_ml)
            )
        } else if inspired >= REBREATHING_MMHG {
            format!(
                " The gas that it breathes in has {} mmHg of carbon dioxide: it rebreathes.",
                said(inspired)
            )
        } else if now > high && self.is_washing_out(last) {
            " What gathered while there was no breath is still being breathed out.".to_owned()
        } else if now > high {
            let ventilation = said(end.alveolar_ventilation_l_min());
            format!(" {ventilation} L/min reach its alveoli, too little for what it makes.")
        } else if now < low && self.cardiac_output_percent < LOW_OUTPUT_PERCENT {
            format!(
                " The heart pumps {} % of what is typical: less carbon dioxide comes to the lung.",
                said(self.cardiac_output_percent)
            )
        } else if now < low && now.as_mmhg() < end.arterial_carbon_dioxide.as_mmhg() - 10.0 {
            " Far less reaches the alveoli than is in the blood: little blood flows, or much of \
             the gas meets none."
                .to_owned()
        } else if now < low {
            let ventilation = said(end.alveolar_ventilation_l_min());
            format!(" {ventilation} L/min reach its alveoli, more than it needs.")
        } else {
            String::new()
        };
        format!(
            "End-tidal carbon dioxide goes from {} to {} mmHg, and {arterial}.{why}",
            said(start.end_tidal_carbon_dioxide.as_mmhg()),
            said(now.as_mmhg())
        )
    }
}

/// A share as a whole percentage.
fn percent(share: f64) -> String {
    format!("{:.0}", 100.0 * share)
}
