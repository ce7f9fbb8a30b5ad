//! What a check says of a part: a rule, how the part stands to it, and what to do.
//!
//! Every finding is made in [`crate::check`]. Its grade is a value and follows, where the rule has
//! a limit, from the measure itself ([`Measured::grade`]), so that what is shown beside a limit
//! cannot contradict it. Terminal, JSON and report show the same finding.
//!
//! ```
//! use planish::finding::{Finding, Grade, Measured, Rule, Sense};
//! use planish::units::{Length, LengthUnit};
//!
//! let reach = Measured::length(Length::from_mm(9.0), Sense::AtLeast, Length::from_mm(14.2));
//! let finding = Finding::measured(Rule::LegLength, reach, Grade::Over, "leg 1 reaches 9 mm", "half the die opening");
//! assert_eq!((finding.grade, reach.must_be(LengthUnit::Millimetre)), (Grade::Over, "≥ 14.2 mm".to_owned()));
//! ```

use serde::{Serialize, Serializer};

use crate::problem::Place;
use crate::units::{Angle, Digits, Force, Length, LengthUnit};

/// Declares the rules, each with its stable text form, so that the list of all of them can lack
/// none.
macro_rules! rules {
    ($($(#[$doc:meta])+ $name:ident = $text:literal,)+) => {
        /// The rules that parts and jobs are checked against; each has a stable text form,
        /// [`Rule::text`].
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Rule {
            $($(#[$doc])+ $name,)+
        }

        impl Rule {
            /// All of them.
            pub const ALL: &'static [Self] = &[$(Self::$name),+];

            /// The stable text form, as JSON holds it.
            #[must_use]
            pub const fn text(self) -> &'static str {
                match self {
                    $(Self::$name => $text,)+
                }
            }
        }
    };
}

rules! {
    /// The inside radius of a bend against the least that its metal takes.
    MinimumRadius = "minimum-radius",
    /// The K-factor of a bend against those that bends are measured to have.
    KFactor = "k-factor",
    /// How far a leg or flange reaches from its bend against what the brake's tools span.
    LegLength = "leg-length",
    /// The return of a hem against the least that can be folded.
    HemReturn = "hem-return",
    /// A hem folded shut against the stretch that its sheet takes.
    ClosedHem = "closed-hem",
    /// The folded part against itself: no two of its pieces in one place.
    FoldedRoom = "folded-room",
    /// The distance from an opening to a bend or to the bend of a wall.
    OpeningToBend = "opening-to-bend",
    /// The width of an opening against the least that cuts well.
    OpeningWidth = "opening-width",
    /// The width of a slot against the width of the cut.
    SlotWidth = "slot-width",
    /// How far tabs stand out against the sheet that they go through.
    TabDepth = "tab-depth",
    /// How many tabs a job makes against the slots for them.
    TabCount = "tab-count",
    /// The slope of a joggle against what the brake's tools span.
    JoggleSlope = "joggle-slope",
    /// How much a bend's length changes where the die makes another radius than the blank is for.
    AirBendLength = "air-bend-length",
    /// The force of a bend against what the brake has.
    BrakeForce = "brake-force",
    /// The sheet's thickness against what the brake is rated for.
    BrakeThickness = "brake-thickness",
    /// The length of a bend against the brake's.
    BrakeLength = "brake-length",
    /// The angle of a bend, with what springs back, against what the tools reach.
    BendAngle = "bend-angle",
    /// Whether there is an order in which all bends can be made.
    BendOrder = "bend-order",
    /// Whether each bend finds an edge to rest against the gauge.
    GaugeEdge = "gauge-edge",
    /// The stretch of free edges against the metal's limits.
    EdgeStretch = "edge-stretch",
    /// The shrink of free edges against what hammering takes up.
    EdgeShrink = "edge-shrink",
    /// The stretch away from the edges against the forming limit.
    FormingLimit = "forming-limit",
    /// A curve of a wall that the metal cannot follow.
    WallCurve = "wall-curve",
    /// A half-shell for whose walls no blank is found; its buck is.
    NoBlank = "no-blank",
    /// A corner between walls that is left sharp.
    WallCorner = "wall-corner",
    /// Figures found in two ways, which must agree before they are told.
    FiguresAgree = "figures-agree",
    /// Whether the face leaves room for a clamp plate in one piece.
    ClampPlate = "clamp-plate",
    /// Whether the formed shell comes off its block.
    BuckRelease = "buck-release",
    /// Whether a cavity has a way out for the heat of welding.
    CavityVent = "cavity-vent",
    /// Whether a test piece found room on the sheets.
    TestPieceRoom = "test-piece-room",
    /// The width of an edge against the kerf.
    CutWidth = "cut-width",
    /// The narrowest waist of an edge against the kerf.
    WaistWidth = "waist-width",
    /// Whether a cut has room for its lead-in.
    LeadInRoom = "lead-in-room",
    /// Where a cut begins: not on an edge that is stretched in forming.
    CutStart = "cut-start",
    /// Whether a cut runs along a neighbour's.
    SharedCut = "shared-cut",
}

impl Rule {
    /// Its name for people: the text form in words.
    #[must_use]
    pub fn words(self) -> String {
        self.text().replace('-', " ")
    }
}

/// How a part stands to a rule, the better first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Grade {
    /// It keeps to it.
    Within,
    /// It can be made, with care.
    Care,
    /// It is over the limit.
    Over,
}

impl Grade {
    /// Its name in every output.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::Within => "within",
            Self::Care => "care",
            Self::Over => "over",
        }
    }
}

/// Whether a limit is the least or the most.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sense {
    /// The value must be the limit or more.
    AtLeast,
    /// The value must be the limit or less.
    AtMost,
}

impl Sense {
    /// Its name in JSON.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::AtLeast => "at_least",
            Self::AtMost => "at_most",
        }
    }
}

/// What a value and its limit are counted in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// Millimetres.
    Millimetres,
    /// A share, such as a strain: 0.05 is 5 %.
    Share,
    /// Degrees.
    Degrees,
    /// Kilonewtons.
    Kilonewtons,
    /// A count of things.
    Count,
    /// A number without unit, such as a K-factor.
    Number,
}

impl Unit {
    /// Its sign in JSON; `1` where there is none.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::Millimetres => "mm",
            Self::Degrees => "deg",
            Self::Kilonewtons => "kN",
            Self::Share | Self::Count | Self::Number => "1",
        }
    }
}

/// Results hold each by its stable text.
macro_rules! serialized_as_text {
    ($($name:ident),+) => {
        $(impl Serialize for $name {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.serialize_str(self.text())
            }
        })+
    };
}

serialized_as_text!(Rule, Grade, Sense, Unit);

/// A value and the limit that it is held to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measured {
    /// The part's value.
    pub value: f64,
    /// The limit.
    pub limit: f64,
    /// Whether that is the least or the most.
    pub sense: Sense,
    /// What both are counted in.
    pub unit: Unit,
}

/// Rounding that no limit minds: values are computed, limits are looked up.
const ROUNDING: f64 = 1e-9;

impl Measured {
    const fn of(value: f64, sense: Sense, limit: f64, unit: Unit) -> Self {
        Self { value, limit, sense, unit }
    }

    /// A length held to a least or greatest one.
    #[must_use]
    pub const fn length(value: Length, sense: Sense, limit: Length) -> Self {
        Self::of(value.mm(), sense, limit.mm(), Unit::Millimetres)
    }

    /// A share, such as a strain.
    #[must_use]
    pub const fn share(value: f64, sense: Sense, limit: f64) -> Self {
        Self::of(value, sense, limit, Unit::Share)
    }

    /// An angle.
    #[must_use]
    pub fn angle(value: Angle, sense: Sense, limit: Angle) -> Self {
        Self::of(value.degrees(), sense, limit.degrees(), Unit::Degrees)
    }

    /// A force.
    #[must_use]
    pub fn force(value: Force, sense: Sense, limit: Force) -> Self {
        Self::of(value.newtons() / 1000.0, sense, limit.newtons() / 1000.0, Unit::Kilonewtons)
    }

    /// A count of things.
    #[must_use]
    pub const fn count(value: usize, sense: Sense, limit: usize) -> Self {
        Self::of(value as f64, sense, limit as f64, Unit::Count)
    }

    /// A number without unit.
    #[must_use]
    pub const fn number(value: f64, sense: Sense, limit: f64) -> Self {
        Self::of(value, sense, limit, Unit::Number)
    }

    /// Whether the value keeps to its limit.
    #[must_use]
    pub fn holds(&self) -> bool {
        match self.sense {
            Sense::AtLeast => self.value >= self.limit - ROUNDING,
            Sense::AtMost => self.value <= self.limit + ROUNDING,
        }
    }

    /// `Within` where the value keeps to its limit, else `broken`.
    #[must_use]
    pub fn grade(&self, broken: Grade) -> Grade {
        if self.holds() { Grade::Within } else { broken }
    }

    /// The value with its unit, lengths in the part's own.
    #[must_use]
    pub fn is(&self, unit: LengthUnit) -> String {
        self.shown(self.value, unit)
    }

    /// The limit with sign and unit, lengths in the part's own.
    #[must_use]
    pub fn must_be(&self, unit: LengthUnit) -> String {
        let sign = match self.sense {
            Sense::AtLeast => '≥',
            Sense::AtMost => '≤',
        };
        format!("{sign} {}", self.shown(self.limit, unit))
    }

    fn shown(&self, x: f64, unit: LengthUnit) -> String {
        match self.unit {
            Unit::Millimetres => match unit {
                LengthUnit::Millimetre => format!("{} mm", Digits(x, 2)),
                LengthUnit::Inch => format!("{} in", Digits(Length::from_mm(x).inches(), 4)),
            },
            Unit::Share => format!("{} %", Digits(x * 100.0, 1)),
            Unit::Degrees => format!("{}°", Digits(x, 1)),
            Unit::Kilonewtons => format!("{} kN", Digits(x, 1)),
            Unit::Count => Digits(x, 0).to_string(),
            Unit::Number => Digits(x, 3).to_string(),
        }
    }
}

/// A rule and how the part stands to it.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// Which rule.
    pub rule: Rule,
    /// How the part stands to it.
    pub grade: Grade,
    /// The value and its limit; none for rules that have no figure.
    pub measured: Option<Measured>,
    /// What was found, in a builder's words.
    pub message: String,
    /// What to do; empty where nothing is to be done.
    pub remedy: String,
    /// Where the limit comes from.
    pub source: String,
    /// What in the description it is about.
    pub place: Option<Place>,
}

impl Finding {
    /// A finding with neither figures, remedy nor place.
    #[must_use]
    pub fn new(
        rule: Rule,
        grade: Grade,
        message: impl Into<String>,
        source: impl Into<String>,
    ) -> Self {
        Self {
            rule,
            grade,
            measured: None,
            message: message.into(),
            remedy: String::new(),
            source: source.into(),
            place: None,
        }
    }

    /// A finding whose grade follows from its figures: `Within` or `broken`.
    #[must_use]
    pub fn measured(
        rule: Rule,
        measured: Measured,
        broken: Grade,
        message: impl Into<String>,
        source: impl Into<String>,
    ) -> Self {
        Self {
            measured: Some(measured),
            ..Self::new(rule, measured.grade(broken), message, source)
        }
    }

    /// The same with the figures by which it is broken; without them where they say that it holds.
    #[must_use]
    pub fn broken_by(mut self, measured: Measured) -> Self {
        self.measured = Some(measured).filter(|measured| !measured.holds());
        self
    }

    /// The same with what to do about it.
    #[must_use]
    pub fn remedy(mut self, remedy: impl Into<String>) -> Self {
        self.remedy = remedy.into();
        self
    }

    /// The same at `place`.
    #[must_use]
    pub fn at(mut self, place: &Place) -> Self {
        self.place = Some(place.clone());
        self
    }

    /// Whether no limit is broken.
    #[must_use]
    pub fn is_ok(&self) -> bool {
        self.grade != Grade::Over
    }
}

/// A finding about a part of a job, or about a sheet that it lies on.
#[derive(Debug, Clone, PartialEq)]
pub struct JobFinding {
    /// The part's name.
    pub part: String,
    /// The sheet's name, for findings of cutting.
    pub sheet: Option<String>,
    /// The finding.
    pub finding: Finding,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn grades_follow_from_figures() {
        let reach =
            |mm| Measured::length(Length::from_mm(mm), Sense::AtLeast, Length::from_mm(14.2));
        assert_eq!(reach(14.2).grade(Grade::Over), Grade::Within);
        assert_eq!(reach(14.1).grade(Grade::Care), Grade::Care);
        let strain = Measured::share(0.121, Sense::AtMost, 0.08);
        assert_eq!(strain.grade(Grade::Over), Grade::Over);
        assert!(
            !Measured::share(f64::NAN, Sense::AtMost, 0.08).holds(),
            "no number keeps to no limit"
        );
    }

    #[test]
    fn figures_have_sign_and_unit() {
        let reach = Measured::length(Length::from_mm(25.4), Sense::AtLeast, Length::from_mm(12.7));
        assert_eq!(
            (reach.is(LengthUnit::Millimetre), reach.must_be(LengthUnit::Inch)),
            ("25.4 mm".into(), "≥ 0.5 in".into())
        );
        let strain = Measured::share(0.1212, Sense::AtMost, 0.08);
        assert_eq!(
            (strain.is(LengthUnit::Inch), strain.must_be(LengthUnit::Inch)),
            ("12.1 %".into(), "≤ 8 %".into())
        );
    }

    #[test]
    fn rules_have_names_of_their_own() {
        let mut names: Vec<&str> = Rule::ALL.iter().map(|rule| rule.text()).collect();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), Rule::ALL.len());
    }
}
