//! A wall that stands around a face: its section square to the edge.

use crate::fe::ring::WallSection;
use crate::shop::bend_rule::{BendRule, StraightBend};
use crate::units::{Angle, Digits, Length, LengthUnit};

/// A wall hammered or bent down around a face, in its section square to the edge. `d` is how far it
/// leans out from square to the face, N = 90 degrees - d the angle that the metal turns through.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wall {
    /// Thickness T of the sheet, mm.
    pub thickness: f64,
    /// Inside radius R between face and wall, mm.
    pub inside_radius: f64,
    /// Angle N turned through, radians.
    pub bend_angle: f64,
    /// K-factor of the bend.
    pub k_factor: f64,
    /// From the outside of the face to the wall's end, square to the face, mm.
    pub depth: f64,
}

/// Why a wall cannot be.
#[derive(Debug, Clone, PartialEq)]
pub struct WallProblem {
    /// What is wrong.
    pub message: String,
    /// What would be right.
    pub help: String,
}

impl Wall {
    /// The wall of these sizes. Refused where no straight wall is left below the radius, or where
    /// the bend rule has no answer.
    pub fn new(
        thickness: Length,
        inside_radius: Length,
        bend_angle: Angle,
        depth: Length,
        rule: &BendRule,
        unit: LengthUnit,
    ) -> Result<Self, WallProblem> {
        let problem = |message: String, help: &str| WallProblem { message, help: help.to_owned() };
        let bend = StraightBend::new(inside_radius, thickness, bend_angle)
            .map_err(|error| problem(error.to_string(), "change the radius or the angle"))?;
        let k_factor = rule
            .k_factor(&bend)
            .map_err(|error| {
                problem(
                    error.to_string(),
                    "measure a strip of this sheet and radius, or choose another bend_allowance",
                )
            })?
            .k_factor;
        let wall = Self {
            thickness: thickness.mm(),
            inside_radius: inside_radius.mm(),
            bend_angle: bend_angle.radians(),
            k_factor,
            depth: depth.mm(),
        };
        if wall.length() < 0.0 {
            let least = Length::from_mm(wall.setback() * wall.lean().cos());
            return Err(problem(
                format!("a depth of {} leaves no wall below the edge radius", unit.show(depth)),
                &format!("make it {} deep at least, or the edge radius smaller", unit.show(least)),
            ));
        }
        Ok(wall)
    }

    /// How far the wall leans out from square to the face, radians.
    #[must_use]
    pub fn lean(&self) -> f64 {
        std::f64::consts::FRAC_PI_2 - self.bend_angle
    }

    /// Outside setback: (R + T) tan(N/2), from the outside mould line to either tangent line, mm.
    #[must_use]
    pub fn setback(&self) -> f64 {
        (self.inside_radius + self.thickness) * (self.bend_angle / 2.0).tan()
    }

    /// Plan distance from the outline at the wall's end in to the outside mould line: depth tan(d),
    /// mm.
    #[must_use]
    pub fn mould_inset(&self) -> f64 {
        self.depth * self.lean().tan()
    }

    /// Plan distance from the outline at the wall's end in to the tangent line on the face, mm.
    #[must_use]
    pub fn tangent_inset(&self) -> f64 {
        self.mould_inset() + self.setback()
    }

    /// Length of the straight wall on its outside, from its tangent line to its end: depth/cos(d) -
    /// setback, mm.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.depth / self.lean().cos() - self.setback()
    }

    /// Bend allowance N (R + K T), mm.
    #[must_use]
    pub fn allowance(&self) -> f64 {
        self.bend_angle * (self.inside_radius + self.k_factor * self.thickness)
    }

    /// Flat distance from the tangent line to the wall's end where the edge is straight, mm.
    #[must_use]
    pub fn flat_width(&self) -> f64 {
        self.allowance() + self.length()
    }

    /// Flat distance from the tangent line where the edge is straight, of a place `up` mm along the
    /// wall's middle surface: round the bend the neutral line counts, (R + K T)/(R + T/2) of the
    /// middle surface, mm.
    #[must_use]
    pub fn unrolled(&self, up: f64) -> f64 {
        let section = self.ring_section(0.0, 0.0);
        up + (section.stretch_of_bend - 1.0) * up.min(section.bend_mid_radius * section.bend_angle)
    }

    /// The section for the ring solution, around a tangent line of this curvature (1/mm, positive
    /// convex), with `beyond` mm more wall.
    #[must_use]
    pub fn ring_section(&self, tangent_curvature: f64, beyond: f64) -> WallSection {
        let bend_mid_radius = self.inside_radius + self.thickness / 2.0;
        WallSection {
            tangent_curvature,
            bend_mid_radius,
            bend_angle: self.bend_angle,
            stretch_of_bend: (self.inside_radius + self.k_factor * self.thickness)
                / bend_mid_radius,
            wall_length: self.length() + beyond,
        }
    }

    /// Plan distance from the outline in to the neutral line of the metal at flat distance `width`
    /// from the tangent line, mm.
    #[must_use]
    pub fn inset_at(&self, width: f64) -> f64 {
        let neutral = self.inside_radius + self.k_factor * self.thickness;
        let angle = (width / neutral).min(self.bend_angle);
        let up_the_wall = (width - self.allowance()).max(0.0);
        self.tangent_inset() - neutral * angle.sin() - up_the_wall * self.bend_angle.cos()
    }

    /// The section's outside line (or its inside one) from the tangent point on the face, down
    /// round the bend to the wall's end, as (inset from the outline, height below the outside of
    /// the face), mm.
    #[must_use]
    pub fn line(&self, outside: bool, steps_of_bend: u32) -> Vec<(f64, f64)> {
        let skin = if outside { self.thickness } else { 0.0 };
        let radius = self.inside_radius + skin;
        let start = self.tangent_inset();
        let centre_height = self.inside_radius + self.thickness;
        let around = |i: u32| {
            let angle = self.bend_angle * f64::from(i) / f64::from(steps_of_bend);
            (start - radius * angle.sin(), centre_height - radius * angle.cos())
        };
        let mut line: Vec<(f64, f64)> = (0..=steps_of_bend).map(around).collect();
        let (inset, height) = around(steps_of_bend);
        line.push((
            inset - self.length() * self.bend_angle.cos(),
            height + self.length() * self.bend_angle.sin(),
        ));
        line
    }

    /// One line of what the wall is, for reports.
    #[must_use]
    pub fn describe(&self) -> String {
        format!(
            "K {}, allowance {} mm, setback {} mm",
            Digits(self.k_factor, 4),
            Digits(self.allowance(), 3),
            Digits(self.setback(), 3)
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shop::bend_rule::KFactor;

    fn wall(degrees: f64) -> Wall {
        let rule = BendRule::KFactor(KFactor::new(0.44).expect("usual"));
        let mm = Length::from_mm;
        Wall::new(
            mm(1.6),
            mm(4.0),
            Angle::from_degrees(degrees),
            mm(30.0),
            &rule,
            LengthUnit::Millimetre,
        )
        .expect("a wall")
    }

    #[test]
    fn square_wall_has_the_setback_of_its_outside_radius() {
        let wall = wall(90.0);
        assert!((wall.tangent_inset() - 5.6).abs() < 1e-12);
        assert!((wall.length() - 24.4).abs() < 1e-12);
        let end = wall.line(true, 8).pop().expect("points");
        assert!(end.0.abs() < 1e-12 && (end.1 - 30.0).abs() < 1e-12);
        assert!((wall.inset_at(wall.flat_width()) - (1.0 - 0.44) * 1.6).abs() < 1e-12);
    }

    #[test]
    fn leaning_wall_ends_on_the_outline_at_its_depth() {
        let wall = wall(80.0);
        let end = wall.line(true, 8).pop().expect("points");
        assert!(end.0.abs() < 1e-9 && (end.1 - 30.0).abs() < 1e-9, "{end:?}");
    }
}
