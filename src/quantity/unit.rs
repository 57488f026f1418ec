//! Units: their sizes, the symbol each is printed with and the forms each may be written in.
//!
//! The factors are the exact ones of NIST Special Publication 811 (2008), appendix B, worked out from its exact
//! definitions: foot 0.3048 m, inch 25.4 mm, pound 0.453 592 37 kg, standard gravity 9.806 65 m/s². Where a factor has
//! no end (psi) it is given to 28 digits.

use super::parse::{ParseError, Problem};
use rust_decimal::Decimal;

/// The kinds of amount there are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kind {
    /// Turning effort.
    Torque,
    /// How far something is turned.
    Angle,
    /// How long, thick or far.
    Length,
    /// How heavy.
    Mass,
    /// How hard something presses on an area.
    Pressure,
}

impl Kind {
    /// All of them.
    pub const ALL: [Kind; 5] = [Kind::Torque, Kind::Angle, Kind::Length, Kind::Mass, Kind::Pressure];

    /// The forms that are allowed, for error messages.
    pub fn forms(self) -> &'static str {
        match self {
            Kind::Torque => "N·m, kgf·m, lbf·ft or lbf·in, such as \"70 N·m\" (also Nm, kgm, ft-lb, in-lb)",
            Kind::Angle => "deg, °, quarter turns, flats or points, such as \"90 deg\" or \"1.5 flats\"",
            Kind::Length => "mm or in, such as \"2.5 mm\"",
            Kind::Mass => "g, kg or lb, such as \"40 g\"",
            Kind::Pressure => "kPa, bar or psi, such as \"2.4 bar\"",
        }
    }
}

impl std::fmt::Display for Kind {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Kind::Torque => "torque",
            Kind::Angle => "angle",
            Kind::Length => "length",
            Kind::Mass => "mass",
            Kind::Pressure => "pressure",
        })
    }
}

/// Writes the enum, its symbol, its size in the first unit of its kind (digits and decimal places) and the forms it
/// is recognised by, once the marks between the words are taken away.
macro_rules! units {
    ($(#[$doc:meta])* $name:ident, $kind:ident: $($(#[$udoc:meta])* $unit:ident = $digits:literal e $places:literal,
        $symbol:literal, [$($form:literal),* $(,)?];)*) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name {
            $($(#[$udoc])* $unit,)*
        }

        impl $name {
            /// All of them, the base unit first.
            pub const ALL: &'static [$name] = &[$($name::$unit),*];

            /// The symbol it is printed with.
            pub fn symbol(self) -> &'static str {
                match self { $($name::$unit => $symbol,)* }
            }

            /// How many of the base unit one of it is.
            pub fn factor(self) -> Decimal {
                match self { $($name::$unit => Decimal::from_i128_with_scale($digits, $places),)* }
            }

            /// The unit that a text names, whatever the marks between its words.
            pub(super) fn named(text: &str) -> Option<$name> {
                match bare(text).as_str() {
                    $($($form)|* => Some($name::$unit),)*
                    _ => None,
                }
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(self.symbol())
            }
        }

        impl std::str::FromStr for $name {
            type Err = ParseError;

            fn from_str(text: &str) -> Result<$name, ParseError> {
                $name::named(text).ok_or_else(|| ParseError::new(text, Kind::$kind, Problem::UnknownUnit(text.trim().to_owned())))
            }
        }

        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
                to.serialize_str(self.symbol())
            }
        }

        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(from: D) -> Result<$name, D::Error> {
                let text = std::borrow::Cow::<'de, str>::deserialize(from)?;
                text.parse().map_err(serde::de::Error::custom)
            }
        }
    };
}

units! {
    /// Units of torque.
    TorqueUnit, Torque:
    /// N·m
    NewtonMetre = 1 e 0, "N·m", ["nm", "newtonmetre", "newtonmetres", "newtonmeter", "newtonmeters"];
    /// kgf·m
    KilogramForceMetre = 980_665 e 5, "kgf·m", ["kgfm", "kgm", "mkgf", "mkg", "kpm", "mkp"];
    /// lbf·ft
    PoundForceFoot = 13_558_179_483_314_004 e 16, "lbf·ft",
        ["lbfft", "ftlbf", "lbft", "ftlb", "lbsft", "ftlbs", "footpound", "footpounds", "poundfoot", "poundfeet"];
    /// lbf·in
    PoundForceInch = 1_129_848_290_276_167 e 16, "lbf·in",
        ["lbfin", "inlbf", "lbin", "inlb", "lbsin", "inlbs", "inchpound", "inchpounds", "poundinch", "poundinches"];
}

units! {
    /// Units of angle.
    AngleUnit, Angle:
    /// 1°
    Degree = 1 e 0, "°", ["°", "deg", "degs", "degree", "degrees"];
    /// 90°
    QuarterTurn = 90 e 0, "quarter turns", ["quarterturn", "quarterturns"];
    /// 60°, one flat of a hexagon
    Flat = 60 e 0, "flats", ["flat", "flats"];
    /// 30°, one point of a twelve-point drive
    Point = 30 e 0, "points", ["point", "points"];
}

units! {
    /// Units of length.
    LengthUnit, Length:
    /// mm
    Millimetre = 1 e 0, "mm", ["mm", "millimetre", "millimetres", "millimeter", "millimeters"];
    /// in
    Inch = 254 e 1, "in", ["in", "inch", "inches", "\"", "″"];
}

units! {
    /// Units of mass.
    MassUnit, Mass:
    /// g
    Gram = 1 e 0, "g", ["g", "gram", "grams"];
    /// kg
    Kilogram = 1_000 e 0, "kg", ["kg", "kilogram", "kilograms"];
    /// lb
    Pound = 45_359_237 e 5, "lb", ["lb", "lbs", "pound", "pounds"];
}

units! {
    /// Units of pressure.
    PressureUnit, Pressure:
    /// kPa
    Kilopascal = 1 e 0, "kPa", ["kpa", "kilopascal", "kilopascals"];
    /// bar
    Bar = 100 e 0, "bar", ["bar", "bars"];
    /// lbf/in², written psi
    PoundForcePerSquareInch = 6_894_757_293_168_361_336_722_673_446 e 27, "psi", ["psi", "lbf/in²", "lbf/in2"];
}

/// The text in lower case without the marks and spaces that people put between the parts of a unit.
fn bare(text: &str) -> String {
    text.chars()
        .filter(|c| !c.is_whitespace() && !matches!(c, '·' | '⋅' | '∙' | '.' | '-' | '*' | '×'))
        .flat_map(char::to_lowercase)
        .collect()
}
