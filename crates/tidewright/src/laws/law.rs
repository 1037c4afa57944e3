//! How a path lets gas through and how a compliance takes it up: linear laws and
//! the others. A law is a strictly or weakly rising function; its slope is what
//! the numeric road linearises with.

use std::fmt;
use std::sync::Arc;

use crate::base::math::{exp, ln};
use crate::base::quantity::Compliance;
use crate::laws::series::Series;

/// Flow through a path as a function of the pressure across it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum PathLaw {
    /// g·Δp, mL/s for each cmH2O; 0 is a shut path.
    Linear(f64),
    /// k·√Δp, mL/s for each √cmH2O, odd in Δp: a sharp-edged hole.
    Orifice(f64),
    /// Δp = k₁·Q + k₂·Q·|Q|, cmH2O·s/mL and cmH2O·s²/mL²; k₁ above 0.
    Quadratic { k1: f64, k2: f64 },
    /// A tube by its size and gas, and what linear resistance is behind it.
    Smooth(Series),
    /// g·max(Δp − opens_at, 0): a seal, a relief valve, a column of water.
    OpensAt { conductance: f64, opens_at: f64 },
    /// As `Quadratic` with Δp − opens_at above 0, and shut below: a curved outlet
    /// behind water or a check valve.
    CurvedAbove { opens_at: f64, k1: f64, k2: f64 },
    /// One conductance forward, another backward: narrowed for one direction
    /// (bronchospasm), or shut to it (a check valve, a flap).
    TwoWay { forward: f64, backward: f64 },
}

/// Below this pressure, cmH2O, an orifice passes flow in proportion to pressure:
/// a real hole turns laminar, and the square root has no slope at zero.
pub(crate) const ORIFICE_LAMINAR_BELOW: f64 = 0.01;

impl PathLaw {
    /// The conductance if the law is linear.
    pub fn linear(&self) -> Option<f64> {
        match *self {
            Self::Linear(conductance) => Some(conductance),
            Self::Quadratic { k1, k2: 0.0 } => Some(1.0 / k1),
            Self::TwoWay { forward, backward } if forward == backward => Some(forward),
            _ => None,
        }
    }

    /// The one law of this path and a linear resistance (cmH2O·s/mL) behind it,
    /// where that has a closed form.
    pub fn in_series(&self, resistance: f64) -> Option<Self> {
        match *self {
            Self::Linear(conductance) if conductance > 0.0 => {
                Some(Self::Linear(1.0 / (1.0 / conductance + resistance)))
            }
            Self::Quadratic { k1, k2 } => Some(Self::Quadratic { k1: k1 + resistance, k2 }),
            Self::Smooth(series) => Some(Self::Smooth(series.with(resistance))),
            _ => None,
        }
    }

    /// Conductance where the path lets through as well as it ever does at low flow:
    /// above zero unless it is shut for good.
    pub fn wide_open(&self) -> f64 {
        match self {
            Self::Linear(conductance) | Self::OpensAt { conductance, .. } => *conductance,
            Self::TwoWay { forward, backward } => forward.max(*backward),
            Self::Orifice(k) => *k,
            Self::Quadratic { k1, .. } | Self::CurvedAbove { k1, .. } => 1.0 / k1,
            Self::Smooth(series) => series.widest(),
        }
    }

    /// Pressure differences at which the law, or a slope of it, has a kink.
    pub fn kinks(&self) -> [Option<f64>; 2] {
        match *self {
            Self::Linear(_) | Self::Smooth(_) => [None, None],
            Self::Orifice(_) => [Some(-ORIFICE_LAMINAR_BELOW), Some(ORIFICE_LAMINAR_BELOW)],
            Self::OpensAt { opens_at, .. } | Self::CurvedAbove { opens_at, .. } => {
                [Some(opens_at), None]
            }
            Self::Quadratic { .. } | Self::TwoWay { .. } => [Some(0.0), None],
        }
    }

    /// Flow and its slope at a pressure difference.
    #[inline]
    pub fn flow(&self, across: f64) -> (f64, f64) {
        match *self {
            Self::Linear(conductance) => (conductance * across, conductance),
            Self::Orifice(k) => {
                // √ above the threshold; below it a cubic that meets the root in
                // value and slope, so the law stays smooth and odd.
                let (size, e) = (across.abs(), ORIFICE_LAMINAR_BELOW);
                if size >= e {
                    let root = size.sqrt();
                    (k * root.copysign(across), 0.5 * k / root)
                } else {
                    let (a, b) = (1.25 / e.sqrt(), 0.25 / (e * e * e.sqrt()));
                    let flow = k * across * (a - b * across * across);
                    (flow, k * (a - 3.0 * b * across * across))
                }
            }
            Self::Quadratic { k1, k2 } => quadratic(k1, k2, across),
            Self::CurvedAbove { opens_at, k1, k2 } => {
                let over = across - opens_at;
                if over > 0.0 { quadratic(k1, k2, over) } else { (0.0, 0.0) }
            }
            Self::Smooth(series) => series.flow(across),
            Self::OpensAt { conductance, opens_at } => {
                let over = across - opens_at;
                if over > 0.0 { (conductance * over, conductance) } else { (0.0, 0.0) }
            }
            Self::TwoWay { forward, backward } => {
                let conductance = if across >= 0.0 { forward } else { backward };
                (conductance * across, conductance)
            }
        }
    }
}

/// Flow and its slope where Δp = k₁·Q + k₂·Q·|Q|.
#[inline]
fn quadratic(k1: f64, k2: f64, across: f64) -> (f64, f64) {
    let root = (k1 * k1 + 4.0 * k2 * across.abs()).sqrt();
    (2.0 * across / (k1 + root), 1.0 / root)
}

/// Pressure across a compliance as a function of the gas in it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum StoreLaw {
    /// V/C, mL/cmH2O.
    Linear(f64),
    /// Anything else.
    Curved(Curved),
}

/// A pressure-volume law that is not a straight line.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Curved {
    Sigmoid(Sigmoid),
    Table(Vec<(f64, f64)>),
    User(UserLaw),
}

/// V = lower + span/(1 + e^(−(P − middle)/width)).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Sigmoid {
    pub lower: f64,
    pub span: f64,
    pub middle: f64,
    pub width: f64,
}

/// A pressure-volume law given by the user of the library: from the gas in a
/// compartment, mL, to its pressure, cmH2O, and the slope of that, cmH2O/mL.
pub trait ElasticLaw: Send + Sync {
    /// Elastic recoil pressure, cmH2O, and its slope, cmH2O/mL, with `volume_ml`
    /// of gas in the compartment. The slope must be above 0; it is held against the
    /// pressure when a machine is made.
    fn pressure(&self, volume_ml: f64) -> (f64, f64);
}

impl<F: Fn(f64) -> (f64, f64) + Send + Sync> ElasticLaw for F {
    fn pressure(&self, volume_ml: f64) -> (f64, f64) {
        self(volume_ml)
    }
}

/// A law whose slope is not the slope of its pressure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct WrongSlope {
    /// Up to where it was looked at, mL.
    pub volume_ml: f64,
    /// What its pressure rises by, cmH2O.
    pub rises_cmh2o: f64,
    /// The integral of its slope, cmH2O.
    pub told_cmh2o: f64,
}

/// A shared handle to a user's law. Two handles are equal if they share it.
#[derive(Clone)]
pub struct UserLaw(Arc<dyn ElasticLaw>);

impl UserLaw {
    /// Wraps a law.
    pub fn new(law: impl ElasticLaw + 'static) -> Self {
        Self(Arc::new(law))
    }

    /// Holds the slope that the law tells against its pressure, up to what a lung of
    /// this compliance takes up at 40 cmH2O, or to where the law ends.
    pub(crate) fn check_slope(&self, compliance: Compliance) -> Result<(), WrongSlope> {
        const LOOKS: u32 = 400;
        /// Kinks and teeth fall between the looks.
        const OFF: f64 = 0.1;
        let step_ml = 40.0 * compliance.as_ml_per_cmh2o() / f64::from(LOOKS);
        let (first, mut slope) = self.0.pressure(0.0);
        let (mut volume_ml, mut last, mut told_cmh2o) = (0.0, first, 0.0);
        for look in 1..=LOOKS {
            let next_ml = f64::from(look) * step_ml;
            let (pressure, next_slope) = self.0.pressure(next_ml);
            if !(pressure.is_finite() && next_slope.is_finite() && pressure < 1e3) {
                break;
            }
            told_cmh2o += 0.5 * (slope + next_slope) * step_ml;
            (volume_ml, last, slope) = (next_ml, pressure, next_slope);
        }
        let rises_cmh2o = last - first;
        if (told_cmh2o - rises_cmh2o).abs() > OFF * rises_cmh2o.abs() {
            return Err(WrongSlope { volume_ml, rises_cmh2o, told_cmh2o });
        }
        Ok(())
    }

    /// The law of a part of what this law holds, at the same pressure.
    pub(crate) fn scaled(&self, share: f64) -> Self {
        let whole = self.clone();
        Self::new(move |volume: f64| {
            let (pressure, slope) = whole.0.pressure(volume / share);
            (pressure, slope / share)
        })
    }
}

impl fmt::Debug for UserLaw {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("UserLaw")
    }
}

impl PartialEq for UserLaw {
    fn eq(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.0, &other.0)
    }
}

impl StoreLaw {
    /// The compliance if the law is linear.
    pub fn linear(&self) -> Option<f64> {
        match self {
            Self::Linear(compliance) => Some(*compliance),
            Self::Curved(_) => None,
        }
    }

    /// Pressure across it and the slope of that (elastance) at a volume.
    #[inline]
    pub fn pressure(&self, volume: f64) -> (f64, f64) {
        match self {
            Self::Linear(compliance) => (volume / compliance, 1.0 / compliance),
            Self::Curved(Curved::Sigmoid(sigmoid)) => sigmoid.pressure(volume),
            Self::Curved(Curved::Table(points)) => table_pressure(points, volume),
            Self::Curved(Curved::User(law)) => law.0.pressure(volume),
        }
    }

    /// Gas in it at a pressure: the inverse of [`StoreLaw::pressure`].
    pub fn volume(&self, pressure: f64) -> f64 {
        match self {
            Self::Linear(compliance) => compliance * pressure,
            Self::Curved(Curved::Sigmoid(sigmoid)) => sigmoid.volume(pressure),
            Self::Curved(Curved::Table(points)) => {
                let swapped: Vec<_> = points.iter().map(|&(p, v)| (v, p)).collect();
                table_pressure(&swapped, pressure).0
            }
            Self::Curved(Curved::User(law)) => inverse(&*law.0, pressure),
        }
    }
}

/// Part of the span next to each asymptote where the sigmoid goes over into its
/// tangent: a real lung bursts or collapses there, a model must stay finite.
const TANGENT_ZONE: f64 = 1e-3;

impl Sigmoid {
    fn pressure(&self, volume: f64) -> (f64, f64) {
        let share = (volume - self.lower) / self.span;
        let inside = share.clamp(TANGENT_ZONE, 1.0 - TANGENT_ZONE);
        let slope = self.width / (self.span * inside * (1.0 - inside));
        let at = self.middle + self.width * ln(inside / (1.0 - inside));
        (at + slope * (share - inside) * self.span, slope)
    }

    fn volume(&self, pressure: f64) -> f64 {
        let share = 1.0 / (1.0 + exp(-(pressure - self.middle) / self.width));
        let inside = share.clamp(TANGENT_ZONE, 1.0 - TANGENT_ZONE);
        let (at, slope) = self.pressure(self.lower + self.span * inside);
        self.lower + self.span * inside + (pressure - at) / slope
    }
}

/// Straight lines between (pressure, volume) points, the end ones prolonged.
fn table_pressure(points: &[(f64, f64)], volume: f64) -> (f64, f64) {
    let inner = &points[1..points.len() - 1];
    let i = inner.partition_point(|&(_, v)| v <= volume);
    let ((p0, v0), (p1, v1)) = (points[i], points[i + 1]);
    let slope = (p1 - p0) / (v1 - v0);
    (p0 + slope * (volume - v0), slope)
}

/// Newton's method on a rising law, kept from running away by halving.
fn inverse(law: &dyn ElasticLaw, pressure: f64) -> f64 {
    let mut volume = 0.0;
    let mut miss = law.pressure(volume).0 - pressure;
    for _ in 0..200 {
        let (_, slope) = law.pressure(volume);
        let mut move_by = -miss / slope;
        let mut better = law.pressure(volume + move_by).0 - pressure;
        while better.abs() > miss.abs() && move_by.abs() > 1e-300 {
            move_by *= 0.5;
            better = law.pressure(volume + move_by).0 - pressure;
        }
        volume += move_by;
        miss = better;
        if move_by.abs() <= 1e-15 * volume.abs() {
            break;
        }
    }
    volume
}
