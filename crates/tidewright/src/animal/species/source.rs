//! Where the numbers of the table come from.

/// How far a number can be trusted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Confidence {
    /// Read in the stated source (mostly in its abstract).
    Read,
    /// Quoted from memory: expect the right size, not the digits.
    Memory,
    /// Arithmetic on numbers that were read, a choice that they bound, or a number read
    /// for one species and taken over for another.
    Computed,
}

/// A citation and how far to trust the number beside it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Source {
    /// What was read or remembered, and where.
    pub citation: &'static str,
    /// How far to trust the number.
    pub confidence: Confidence,
}

const fn read(citation: &'static str) -> Source {
    Source { citation, confidence: Confidence::Read }
}

const fn computed(citation: &'static str) -> Source {
    Source { citation, confidence: Confidence::Computed }
}

const fn memory(citation: &'static str) -> Source {
    Source { citation, confidence: Confidence::Memory }
}

pub(super) const STAHL: Source = memory(
    "Stahl WR, J Appl Physiol 1967;22:453-460; scope read in the abstract, coefficients from memory",
);
pub(super) const TEXTBOOK: Source = memory("textbook value, no source at hand");
pub(super) const PRACTICE: Source =
    memory("common practice, no source; in proportion to the cube root of body mass");
pub(super) const CHOICE: Source = memory("direction well known; the size is a teaching choice");

pub(super) const CAT_COMPLIANCE: Source = computed(
    "rounded between 6.7 ± 2.2 mL/kg at 5 cmH2O (Martins et al., Front Vet Sci 2022;9:842528; the paper was found again, the number not) and the mammals' law awake",
);
pub(super) const CAT_RESISTANCE: Source = computed(
    "so that the time constant, tube included, is near the passive 0.121 ± 0.008 s of adult cats (Zin et al. 1983, Active and passive respiratory mechanics in kittens, abstract)",
);
pub(super) const CAT_FLOWS: Source = computed(
    "26 mL, 15/min, VO2 18.5 mL/min, cardiac output 234 mL/min (Fick) at about 2.6 kg, chloralose: Tidal volume, oxygen uptake, cardiac output, and body surface in the cat, Am J Physiol (abstract); mammals' exponent",
);
pub(super) const CAT_OUTPUT: Source = computed(
    "0.90 ± 0.20 mL/beat/kg in six ventilated cats, 1.3 MAC isoflurane (Front Vet Sci 2022;9:865673, abstract; the paper was found again, the number not), at the remembered 140 beats a minute of 4 kg; mammals' exponent. Chloralose cats had less (90 mL/kg/min, Fick), which with the remembered haemoglobin left them half of their oxygen",
);
pub(super) const CAT_PRESSURE: Source = read(
    "71 (67 to 113) mmHg in six ventilated cats, 1.3 MAC isoflurane: Front Vet Sci 2022;9:865673 (abstract; the paper was found again, the number not)",
);
pub(super) const DOG_PRESSURE: Source =
    read("103 mmHg in 97 awake dogs: Comp Med 2005;55:156 (abstract)");
pub(super) const DOG_PRESSURE_FALLS: Source = computed(
    "taken over from dogs for every animal without a number of its own: −22 ± 4 % at 1.2 MAC, −38 ± 4 % at 2 MAC of sevoflurane in eleven instrumented dogs, 1990 (abstract): a straight line",
);
pub(super) const RABBIT_PRESSURE: Source = computed(
    "52.8 ± 5.6 and 54.8 ± 6.2 mmHg at 0.8 MAC of halothane and isoflurane, eight rabbits (Am J Vet Res 1999;60:1189, abstract), brought to 1.2 MAC along the fall of dogs",
);
pub(super) const ASOREY: Source = read(
    "1.3 ± 0.3 mL/cmH2O/kg in 100 dogs: Asorey et al., J Small Anim Pract 2020;61:617-623 (abstract)",
);
pub(super) const FAT_DOGS: Source = memory(
    "lower with a high body condition score: Asorey et al. 2020 (abstract); the size is a teaching choice",
);
pub(super) const CORCORAN: Source = read(
    "static compliance falls by 26 % within 25 min: Corcoran & Abercromby, Vet Rec 1989;125:450-453 (abstract, dogs)",
);
pub(super) const CORCORAN_TAKEN: Source = computed(
    "taken over from dogs: static compliance falls by 26 % within 25 min: Corcoran & Abercromby, Vet Rec 1989;125:450-453 (abstract)",
);
pub(super) const DOG_FRC: Source = read(
    "38.6 ± 8.2 mL/kg in 67 supine dogs, pentobarbital: Functional residual capacity and body position in the dog, J Appl Physiol 1978;44:291-296 (abstract)",
);
pub(super) const DOG_OUTPUT: Source = computed(
    "156 (50 to 303) mL/kg/min by lithium dilution in six dogs of 22 to 25 kg, isoflurane: Vet Emerg Crit Care 2004, doi 10.1111/j.1534-6935.2004.04017.x (abstract); mammals' exponent",
);
pub(super) const MIKAT: Source = computed(
    "taken over from dogs for every animal without a number of its own: 3.54 (2 % halothane, controlled) against 5.57 mL/kg/min (awake, alert): Mikat et al., Anesthesiology 1984 (abstract)",
);
pub(super) const FERRET_MECHANICS: Source = computed(
    "2.48 ± 0.21 mL/cmH2O (dynamic, lung; the chest wall is almost infinitely compliant), FRC 17.8 mL at 0.576 kg: Respiratory mechanics of a small carnivore: the ferret, J Appl Physiol (abstract)",
);
pub(super) const FERRET_RESISTANCE: Source = computed(
    "through 24 cmH2O·s/L at 0.28 kg and 22.56 ± 1.61 at 0.576 kg: two ferret studies, J Appl Physiol (abstracts)",
);
pub(super) const LAI: Source = computed(
    "0.57 ± 0.03 mL/cmH2O, FRC 2.51 ± 0.20 mL at 0.307 kg: Lai & Hildebrandt, J Appl Physiol 1978;45:255-260 (abstract)",
);
pub(super) const RAT_RESISTANCE: Source = computed(
    "10.3 kPa·s/L at 10 Hz (105 cmH2O·s/L, cannula subtracted) at 0.351 kg, paralysed rats, forced oscillation (abstract); slower breathing meets more; mammals' exponent",
);
pub(super) const HORSE_COMPLIANCE: Source = computed(
    "bounded by 12 mL/kg (research protocol, not found again) at the usual 20 to 25 cmH2O (J Jpn Vet Anaesth 1993;24(3):21, abstract)",
);
pub(super) const HORSE_FRC: Source = read(
    "51 mL/kg, standing: Manual of Equine Anesthesia and Analgesia (page excerpt, not found again)",
);
pub(super) const GUINEA_PIG_OXYGEN: Source = computed(
    "through 1.14 mL/g/h at 269 g and 0.82 at 817 g, awake: Blake & Banchero, Respir Physiol 1985;61:347-355 (abstract)",
);
pub(super) const NUMA: Source = computed(
    "taken over from man: 1.03 mL/kg intrathoracic of 2.2 mL/kg in all in adults: Numa & Newth, J Appl Physiol 1996;80:1485-1489 (abstract)",
);
pub(super) const CLERBAUX: Source = read(
    "26.6 ± 1.2 (man), 23.8 ± 0.8 mmHg (horse): Clerbaux et al., Comp Biochem Physiol A 1993;106:687-694 (abstract)",
);
pub(super) const CLERBAUX_TAKEN: Source = computed(
    "taken over from man: 26.6 ± 1.2 mmHg: Clerbaux et al., Comp Biochem Physiol A 1993;106:687-694 (abstract)",
);
pub(super) const CAMBIER: Source = read(
    "dog 30.0 ± 1.3, −0.370, 0.020; cat 34.1 ± 1.8, −0.405, 0.016: Cambier et al., Res Vet Sci 2004;77:83-88 (abstract)",
);
pub(super) const SEVERINGHAUS: Source = computed(
    "taken over from man: slopes of log P50 at P50, −1.20/ln 10 and 0.070/ln 10: Severinghaus, J Appl Physiol 1979;46:599-602 (abstract)",
);
pub(super) const DOG_GASES: Source = computed(
    "pH 7.42, PaCO2 36.8 ± 2.4 mmHg, 39 °C, in 30 dogs: Normal arterial blood pH, oxygen, and carbon dioxide tensions in unanesthetized dogs, J Appl Physiol 1972 (abstract)",
);
pub(super) const CAT_GASES: Source = read(
    "PaCO2 33.6 ± 7 mmHg, bicarbonate 17.5 ± 3 mmol/L: Waddell, Clinician's Brief 2016, Table 1",
);
pub(super) const RABBIT_GASES: Source = computed(
    "middle of 29.1 to 36.8 mmHg and 17.5 to 27.6 mmol/L in 20 arterial samples: Vet Clin North Am Exot Anim Pract 2013;16:175-195 (abstract)",
);
pub(super) const CARBON_DIOXIDE_STORES: Source = computed(
    "taken over from dogs for every animal: 1.02 mL/kg/mmHg in tissue without blood: Farhi & Rahn, J Appl Physiol 1955 (abstract); split so that stores follow a step in ventilation with their half-time of 4 min",
);
pub(super) const SLOW_TISSUE: Source = computed(
    "taken over from dogs for every animal but the horse: slow tissue follows arterial blood at 0.062/min: Tissue carbon dioxide stores: magnitude of acute change in the dog, J Appl Physiol (abstract)",
);
pub(super) const LUNG_TISSUE: Source = memory(
    "1.5 mL of gas for each g of lung (11.3 g at 1 kg, Stahl 1967): a slope about half that of blood; a teaching choice",
);
pub(super) const HORSE_OXYGEN: Source = memory(
    "the mammals' awake law without the fall of anaesthesia; resting horses use 3 mL/kg/min or more",
);
pub(super) const HORSE_APNOEA: Source = computed(
    "so that apnoea raises arterial CO2 by about 5.5 mmHg/min over 10 min: Blaze & Robinson 1987, as a later abstract cites it",
);
pub(super) const HORSE_DEAD_SPACE: Source = read(
    "23 ± 13 % of alveolar tidal volume, halothane: Moens, Equine Vet J 1989;21:282-284 (abstract)",
);
