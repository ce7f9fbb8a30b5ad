//! The sheet's law: how much work one cubic millimetre takes up at given strains of its plane.
//!
//! Stresses in MPa, strains logarithmic. The path of forming is not followed: the work depends on
//! the final strain alone (deformation theory), so it is exact for monotone, proportional straining
//! only.

/// Strain hardening and anisotropy of a sheet, the same in every direction of its plane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SheetLaw {
    /// Strength coefficient K of σ = K εⁿ, MPa.
    pub strength_mpa: f64,
    /// Hardening exponent n, no unit, 0 ≤ n < 1.
    pub hardening: f64,
    /// Normal anisotropy r (width strain over thickness strain in a tension test), no unit, r ≥ 0;
    /// 1 = isotropic.
    pub anisotropy: f64,
    /// Young's modulus E, MPa, greater than K.
    pub elastic_modulus_mpa: f64,
}

/// What is wrong with a [`SheetLaw`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LawFault {
    /// K is not a positive number.
    Strength,
    /// n lies outside 0 ≤ n < 1.
    Hardening,
    /// r is negative or no finite number.
    Anisotropy,
    /// E is not a finite number greater than K.
    ElasticModulus,
}

impl std::fmt::Display for LawFault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Strength => "the strength coefficient must be a positive number of MPa",
            Self::Hardening => "the hardening exponent must be at least 0 and below 1",
            Self::Anisotropy => "the anisotropy must be at least 0",
            Self::ElasticModulus => {
                "the elastic modulus must be greater than the strength coefficient"
            }
        })
    }
}

impl std::error::Error for LawFault {}

/// The work density and its first two derivatives in the squared equivalent strain q.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Work {
    /// W, N·mm per mm³.
    pub w: f64,
    /// dW/dq, MPa.
    pub w_q: f64,
    /// d²W/dq², MPa.
    pub w_qq: f64,
}

impl SheetLaw {
    /// Refuses a law outside the range its formulas hold in.
    pub fn check(&self) -> Result<(), LawFault> {
        if !(self.strength_mpa.is_finite() && self.strength_mpa > 0.0) {
            return Err(LawFault::Strength);
        }
        if !(0.0..1.0).contains(&self.hardening) {
            return Err(LawFault::Hardening);
        }
        if !(self.anisotropy.is_finite() && self.anisotropy >= 0.0) {
            return Err(LawFault::Anisotropy);
        }
        if !(self.elastic_modulus_mpa.is_finite() && self.elastic_modulus_mpa > self.strength_mpa) {
            return Err(LawFault::ElasticModulus);
        }
        Ok(())
    }

    /// The strain at which elastic and hardening stress meet.
    ///
    /// d0 = (K / E)^(1 / (1 − n)), from E d0 = K d0ⁿ; K, E in MPa, n without unit.
    #[must_use]
    pub fn meeting_strain(&self) -> f64 {
        (self.strength_mpa / self.elastic_modulus_mpa).powf(1.0 / (1.0 - self.hardening))
    }

    /// The factor C of the equivalent strain; see [`Self::equivalent_squared`].
    ///
    /// C = (1 + r)² / (1 + 2 r).
    #[must_use]
    pub fn anisotropy_factor(&self) -> f64 {
        let r = self.anisotropy;
        (1.0 + r) * (1.0 + r) / (1.0 + 2.0 * r)
    }

    /// The factor m of the mixed term of the equivalent strain; see [`Self::equivalent_squared`].
    ///
    /// m = 2 r / (1 + r). A strip pulled freely narrows by e2 = −(m / 2) e1.
    #[must_use]
    pub fn mixed_factor(&self) -> f64 {
        2.0 * self.anisotropy / (1.0 + self.anisotropy)
    }

    /// Square of the equivalent strain of the principal in-plane strains `e1` and `e2`.
    ///
    /// q = C (e1² + e2² + m e1 e2): the plane-stress form of Hill's yield function of 1948 for a
    /// sheet with equal properties in every direction of its plane (R. Hill, The Mathematical
    /// Theory of Plasticity, 1950, chapter XII; from memory). With r = 1 it is the equivalent
    /// strain of von Mises, 4/3 (e1² + e1 e2 + e2²).
    #[must_use]
    pub fn equivalent_squared(&self, e1: f64, e2: f64) -> f64 {
        self.anisotropy_factor() * (e1 * e1 + e2 * e2 + self.mixed_factor() * e1 * e2)
    }

    /// Work per volume at squared equivalent strain `q`, with `d0` in place of the meeting strain.
    ///
    /// W = K / (n + 1) · [(q + d0²)^((n+1)/2) − d0^(n+1)]. One smooth line: its stress dW/dε = K ε
    /// (ε² + d0²)^((n−1)/2) has the slope K d0^(n−1) = E at ε = 0 and nears K εⁿ for ε ≫ d0 (25 %
    /// below it at d0, 1.5 % at 5 d0 for n = 0.17). A greater `d0` than the law's own makes a
    /// softer start for a solver.
    #[must_use]
    pub fn work(&self, q: f64, d0: f64) -> Work {
        self.work_from(q, d0, d0.powf(self.hardening + 1.0))
    }

    /// As [`Self::work`], `base` being d0^(n+1).
    pub(super) fn work_from(&self, q: f64, d0: f64, base: f64) -> Work {
        let n = self.hardening;
        let sum = q + d0 * d0;
        let w_q = 0.5 * self.strength_mpa * sum.powf(0.5 * (n - 1.0));
        Work {
            w: (2.0 * w_q * sum - self.strength_mpa * base) / (n + 1.0),
            w_q,
            w_qq: w_q * 0.5 * (n - 1.0) / sum,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LAW: SheetLaw = SheetLaw {
        strength_mpa: 1000.0,
        hardening: 0.17,
        anisotropy: 1.0,
        elastic_modulus_mpa: 205_000.0,
    };

    /// Uniaxial tension is the case the equivalent strain is scaled to: e2 = −r/(1+r) e1 gives √q =
    /// e1 for every r.
    #[test]
    fn free_tension_has_its_own_strain_as_equivalent() {
        for r in [0.0, 0.6, 1.0, 2.0, 5.0] {
            let law = SheetLaw { anisotropy: r, ..LAW };
            let q = law.equivalent_squared(0.1, -r / (1.0 + r) * 0.1);
            assert!((q.sqrt() - 0.1).abs() < 1e-15, "r {r}: {}", q.sqrt());
        }
    }

    /// The two ends of the stress line, from the definition: E ε far below d0, K εⁿ far above.
    #[test]
    fn stress_is_elastic_then_hardening() {
        let d0 = LAW.meeting_strain();
        let stress = |e: f64| LAW.work(e * e, d0).w_q * 2.0 * e;
        assert!((stress(1e-6) / (205_000.0 * 1e-6) - 1.0).abs() < 1e-5);
        assert!((stress(0.3) / (1000.0 * 0.3_f64.powf(0.17)) - 1.0).abs() < 1e-4);
    }

    /// Stress is the slope of the work, and w_qq the slope of w_q: central differences.
    #[test]
    fn derivatives_match_differences() {
        let d0 = LAW.meeting_strain();
        for q in [0.0004, 0.01, 0.2] {
            let step = 1e-4 * q;
            let (below, here, above) =
                (LAW.work(q - step, d0), LAW.work(q, d0), LAW.work(q + step, d0));
            assert!(((above.w - below.w) / (2.0 * step) / here.w_q - 1.0).abs() < 1e-7);
            assert!(((above.w_q - below.w_q) / (2.0 * step) / here.w_qq - 1.0).abs() < 1e-7);
        }
        assert!(LAW.work(0.0, d0).w.abs() < 1e-12);
    }

    #[test]
    fn laws_out_of_range_are_named() {
        let fault = |law: SheetLaw| law.check().err();
        assert_eq!(fault(LAW), None);
        assert_eq!(fault(SheetLaw { strength_mpa: f64::NAN, ..LAW }), Some(LawFault::Strength));
        assert_eq!(fault(SheetLaw { hardening: 1.0, ..LAW }), Some(LawFault::Hardening));
        assert_eq!(fault(SheetLaw { anisotropy: -0.1, ..LAW }), Some(LawFault::Anisotropy));
        assert_eq!(
            fault(SheetLaw { elastic_modulus_mpa: 900.0, ..LAW }),
            Some(LawFault::ElasticModulus)
        );
    }
}
