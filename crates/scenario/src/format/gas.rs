//! What matters to carbon dioxide and oxygen alone.

use tidewright::supply::cylinder_contents_l;

use crate::read::{Rule, any, block, choice, number};

// Wider than any animal or equipment, as all ranges of the format are.
const OXYGEN: Rule = number(0.0, 100.0);
const CARDIAC_OUTPUT: Rule = number(0.0, 400.0);
const TEMPERATURE: Rule = number(20.0, 45.0);
const END_TIDAL: Rule = number(0.0, 200.0);
const DEPTH: Rule =
    number(0.0, 1.0).hint("write 0 for awake, 1 for so deep that no breath is left");

block! {
    /// Gas exchange: with this block a run follows carbon dioxide and oxygen from
    /// the fresh gas to the tissues and back. `gas: ()` takes what is typical for
    /// the patient. In slow deep breaths mean alveolar carbon dioxide lies some percent
    /// above 0.863 × carbon dioxide made / alveolar ventilation: gas leaves a lung when it
    /// is most diluted, and that relation holds for what is breathed out.
    pub struct Gas {
        /// Oxygen in the fresh gas; the rest is air's nitrogen, or other gas that
        /// nobody uses up.
        oxygen_percent: f64 = OXYGEN.or(100.0),
        /// Where the fresh gas enters.
        fresh_gas_inlet: FreshGasInlet = any().or_word("NearPatient"),
        /// Gas between the tube and the T-piece: adapter, filter, cuvette.
        adapter_ml: Option<f64> = number(0.0, 1000.0).or_nothing("0.5 mL for each kg, at most 20 mL"),
        /// Gas in the limb from the T-piece to its end.
        limb_ml: Option<f64> = number(0.1, 20_000.0).or_nothing("1.5 times the usual tidal volume, at least 100 mL"),
        /// Into how many well mixed parts the limb is divided: many keep a front
        /// of gas sharp, few blur it.
        limb_parcels: u32 = number(1.0, 200.0).or(4.0),
        /// How gas mixes in the limb.
        limb_mixing: LimbMixing = any().or_word("Cells"),
        /// What is on the end of the limb.
        reservoir: Reservoir = any().or_word("OpenTube"),
        /// Arterial carbon dioxide at the start, in a steady state.
        arterial_co2_mmhg: Option<f64> = number(5.0, 150.0).or_nothing("usual for the species; with `Drive`, where it asks for the usual minute volume"),
        /// Blood that the heart pumps, of what is typical; 0 for an arrest.
        cardiac_output_percent: f64 = CARDIAC_OUTPUT.or(100.0),
        /// Core temperature: metabolism follows it.
        temperature_c: Option<f64> = TEMPERATURE.or_nothing("usual for the species"),
        /// Blood that passes no alveoli.
        shunt_percent: Option<f64> = number(0.0, 95.0).or_nothing("typical"),
        /// Alveolar ventilation that meets no blood.
        alveolar_dead_space_percent: Option<f64> = number(0.0, 95.0).or_nothing("typical"),
        /// Gas in tube and conducting airways.
        airway_dead_space_ml: Option<f64> = number(0.0, 20_000.0).or_nothing("typical, with a typical tube"),
        /// The carbon dioxide monitor.
        capnograph: Capnograph = any().or_empty(),
        /// The vaporiser that the fresh gas comes through.
        vaporiser: Option<Vaporiser> = any().or_nothing("none"),
        /// The cylinder that the oxygen comes from.
        cylinder: Option<Cylinder> = any().or_nothing("none"),
        /// What the summary counts as outside.
        limits: Limits = any().or_empty(),
    }
}

choice! {
    /// Where the fresh gas enters.
    #[derive(Copy, Eq)]
    pub enum FreshGasInlet {
        /// At the T-piece, near the patient.
        NearPatient,
        /// At the machine end of the limb.
        MachineEnd,
    }
}

choice! {
    /// How gas mixes in the limb.
    #[derive(Copy, Eq)]
    pub enum LimbMixing {
        /// In `limb_parcels` cells of one size, each well mixed. Four lie nearest to what
        /// was measured in cats that breathed by themselves; from two to ten hardly differ.
        Cells,
        /// Not at all, as in textbooks: gas comes out in the order in which it went in,
        /// whatever `limb_parcels` says.
        PlugFlow,
    }
}

choice! {
    /// What is on the end of the limb.
    pub enum Reservoir {
        /// Nothing: what is drawn past its end is room air.
        OpenTube,
        /// An open-tailed bag.
        OpenBag(OpenBag),
    }
}

block! {
    /// An open-tailed bag.
    pub struct OpenBag {
        /// Gas that it holds.
        ml: f64 = number(1.0, 50_000.0),
    }
}

block! {
    /// A carbon dioxide monitor at the patient connection. `(sample_ml_min: 0,
    /// delay_s: 0)` is one without a sampling line.
    pub struct Capnograph {
        /// Gas that it draws.
        sample_ml_min: f64 = number(0.0, 1000.0).or(50.0),
        /// How late it shows what it drew.
        delay_s: f64 = number(0.0, 30.0).or(1.5),
        /// Time that it takes to rise from 10 to 90 % of a step.
        rise_time_s: f64 = number(0.0, 10.0).or(0.2),
    }
}

block! {
    /// A vaporiser.
    pub struct Vaporiser {
        /// What its dial is set to.
        dial_percent: f64 = number(0.0, 20.0),
        /// Vapour from 1 mL of liquid.
        vapour_ml_per_ml: f64 = number(50.0, 500.0).or(200.0),
    }
}

block! {
    /// An oxygen cylinder as it is at the start. When it is empty the fresh gas stops:
    /// other gases are shut off when oxygen fails (common practice, no source). Not
    /// for lessons, in which `CylinderEmptying` is a stage of a case.
    pub struct Cylinder {
        /// Inner volume: litres of water that it would hold.
        inner_volume_l: f64 = number(0.1, 100.0),
        /// Pressure on its gauge.
        gauge_bar: f64 = number(0.0, 350.0),
    }
}

impl Cylinder {
    /// Gas in it, L at atmospheric pressure.
    pub(crate) fn contents_l(&self) -> f64 {
        cylinder_contents_l(self.inner_volume_l, self.gauge_bar)
    }
}

block! {
    /// Outside these, time is counted in the summary.
    pub struct Limits {
        /// Lowest end-tidal carbon dioxide.
        lowest_end_tidal_co2_mmhg: f64 = END_TIDAL.or(35.0),
        /// Highest end-tidal carbon dioxide.
        highest_end_tidal_co2_mmhg: f64 = END_TIDAL.or(45.0),
        /// Lowest saturation.
        lowest_spo2_percent: f64 = number(0.0, 100.0).or(90.0),
    }
}

block! {
    /// Breathing by the patient's own drive: how deep and how often follows its
    /// arterial carbon dioxide, breath by breath. Needs `gas`.
    pub struct Drive {
        /// Depth of anaesthesia: 0 for awake, 1 for so deep that no breath is left.
        depth: f64 = DEPTH,
    }
}

block! {
    /// Another fresh gas.
    pub struct FreshGasOxygen {
        /// Oxygen in it.
        percent: f64 = OXYGEN,
    }
}

block! {
    /// Another cardiac output.
    pub struct CardiacOutput {
        /// Of what is typical; 0 for an arrest.
        percent: f64 = CARDIAC_OUTPUT,
    }
}

block! {
    /// Another core temperature.
    pub struct Temperature {
        /// Temperature.
        c: f64 = TEMPERATURE,
    }
}
