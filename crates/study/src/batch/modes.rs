//! The two modes of plain machines in one phase, lane by lane.
//!
//! With K the conductance from the T-piece to the boundaries and b the flow into it
//! when its pressure is zero,
//!
//! Cc·p′ = b − K·p − g·(p − a),  C·a′ = g·(p − a),
//!
//! p(t) = p₀ + P₁·φ₁(λ₁,t) + P₂·φ₁(λ₂,t),  a(t) = a₀ + ρ·P₁·φ₁(λ₁,t) + σ·P₂·φ₁(λ₂,t),
//!
//! with P₁ and P₂ affine in the state. The slow rate comes from the determinant, the
//! fast one from the trace, so that nothing cancels.

use super::functions::phis;
use super::lanes::Lanes;

/// The modes of a phase.
#[derive(Clone, Copy, Debug)]
pub(super) struct Modes<const N: usize> {
    /// λ₁.
    pub slow: Lanes<N>,
    /// λ₂.
    pub fast: Lanes<N>,
    /// 1/λ₂.
    pub fast_time: Lanes<N>,
    /// ρ: the lung's share in the slow mode for one of the T-piece's.
    pub rho: Lanes<N>,
    /// σ: the same in the fast mode.
    pub sigma: Lanes<N>,
    /// P₁ = P₁₀ + P₁ₚ·p + P₁ₐ·a.
    pub p1: Affine<N>,
    /// P₂.
    pub p2: Affine<N>,
}

/// A number that is affine in the pressures at the T-piece and in the lung.
#[derive(Clone, Copy, Debug)]
pub(super) struct Affine<const N: usize> {
    pub offset: Lanes<N>,
    pub t_piece: Lanes<N>,
    pub lung: Lanes<N>,
}

impl<const N: usize> Affine<N> {
    #[inline(always)]
    pub fn at(&self, t_piece: Lanes<N>, lung: Lanes<N>) -> Lanes<N> {
        self.offset + self.t_piece * t_piece + self.lung * lung
    }

    #[inline(always)]
    pub fn times(&self, factor: Lanes<N>) -> Self {
        Self {
            offset: self.offset * factor,
            t_piece: self.t_piece * factor,
            lung: self.lung * factor,
        }
    }

    #[inline(always)]
    pub fn plus(&self, other: &Self) -> Self {
        Self {
            offset: self.offset + other.offset,
            t_piece: self.t_piece + other.t_piece,
            lung: self.lung + other.lung,
        }
    }
}

impl<const N: usize> Modes<N> {
    #[inline(always)]
    pub fn new(
        circuit: Lanes<N>,
        lung: Lanes<N>,
        airway: Lanes<N>,
        boundary: Lanes<N>,
        inflow: Lanes<N>,
    ) -> Self {
        let (zero, one, half) = (Lanes::all(0.0), Lanes::all(1.0), Lanes::all(0.5));
        let (per_circuit, per_lung) = (one / circuit, one / lung);
        let alpha = (airway + boundary) * per_circuit;
        let gamma = airway * per_lung;
        let beta2 = airway * airway * per_circuit * per_lung;
        let delta = half * (alpha - gamma);
        let root = (delta * delta + beta2).sqrt();
        // α − λ₁, from whichever of root ± δ does not cancel.
        let size = delta.max(-delta) + root;
        let above = delta.below(zero).choose(beta2 / size, size);
        let fast = half * (alpha + gamma) + root;
        let fast_time = one / fast;
        let slow = boundary * airway * per_circuit * per_lung * fast_time;
        // The slow mode's direction is (β, α − λ₁): squares of cosine and sine.
        let norm = one / (beta2 + above * above);
        let (cos2, sin2) = (beta2 * norm, above * above * norm);
        // tan·√(Cc/C) and its twin; β·√(C/Cc) = g/Cc.
        let rho = above * circuit / airway;
        let sigma = -(airway * per_lung) / above;
        let p1 = Affine {
            offset: cos2 * per_circuit * inflow,
            t_piece: -(slow * cos2),
            lung: -(slow * cos2 * rho * lung * per_circuit),
        };
        let p2 = Affine {
            offset: sin2 * per_circuit * inflow,
            t_piece: -(fast * sin2),
            lung: -(fast * sin2 * sigma * lung * per_circuit),
        };
        Self { slow, fast, fast_time, rho, sigma, p1, p2 }
    }

    /// State and ∫p after a set time, as affine maps of the state before.
    #[inline(always)]
    pub fn over(&self, time: Lanes<N>) -> Passage<N> {
        let (zero, one) = (Lanes::all(0.0), Lanes::all(1.0));
        let (phi1_slow, phi2_slow) = phis(self.slow * time);
        let (phi1_fast, phi2_fast) = phis(self.fast * time);
        let (slow, fast) = (self.p1.times(time * phi1_slow), self.p2.times(time * phi1_fast));
        let square = time * time;
        let t_piece = Affine { offset: zero, t_piece: one, lung: zero };
        let lung = Affine { offset: zero, t_piece: zero, lung: one };
        Passage {
            t_piece: t_piece.plus(&slow).plus(&fast),
            lung: lung.plus(&slow.times(self.rho)).plus(&fast.times(self.sigma)),
            integral: t_piece
                .times(time)
                .plus(&self.p1.times(square * phi2_slow))
                .plus(&self.p2.times(square * phi2_fast)),
        }
    }
}

/// What a set time does.
#[derive(Clone, Copy, Debug)]
pub(super) struct Passage<const N: usize> {
    /// Pressure at the T-piece afterwards.
    pub t_piece: Affine<N>,
    /// Pressure in the lung afterwards.
    pub lung: Affine<N>,
    /// Integral of the pressure at the T-piece.
    pub integral: Affine<N>,
}
