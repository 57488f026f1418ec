//! Units: their sizes, the symbol each is printed with and the forms each may be written in.
//!
//! The factors are the exact ones of NIST Special Publication 811 (2008), appendix B, worked out from its exact
//! definitions: foot 0.3048 m, inch 25.4 mm, pound 0.453 592 37 kg, standard gravity 9.806 65 m/s², US gallon 231 in³,
//! imperial gallon 4.546 09 L, conventional inch of mercury 13.5951 g/cm³ high. Where a factor has no end (psi, lbf/in) it is given
//! to 28 digits. Temperatures have a nought of their own as well; they are held against each other in degrees Fahrenheit,
//! since all three scales come to those without an endless digit.

use super::kind::Kind;
use super::parse::{ParseError, Problem};
use rust_decimal::Decimal;

/// Writes the enum, its symbol, its size in the base unit of its kind (digits and decimal places), where its nought lies if it
/// is not that of the base unit, and the forms it is recognised by, once the marks between the words are taken away.
macro_rules! units {
    (@nought) => { Decimal::ZERO };
    (@nought $digits:literal e $places:literal) => { Decimal::from_i128_with_scale($digits, $places) };
    ($(#[$doc:meta])* $name:ident, $kind:ident: $($(#[$udoc:meta])* $unit:ident = $digits:literal e $places:literal
        $(from $nought:literal e $nought_places:literal)?, $symbol:literal, [$($form:literal),* $(,)?];)*) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name {
            $($(#[$udoc])* $unit,)*
        }

        impl $name {
            /// All of them, the base unit first.
            pub const ALL: &'static [$name] = &[$($name::$unit),*];

            /// Every form of every unit.
            #[cfg(test)]
            pub(super) const FORMS: &'static [&'static str] = &[$($($form),*),*];

            /// The symbol it is printed with.
            pub fn symbol(self) -> &'static str {
                match self { $($name::$unit => $symbol,)* }
            }

            /// How many of the base unit one of it is.
            pub fn factor(self) -> Decimal {
                match self { $($name::$unit => Decimal::from_i128_with_scale($digits, $places),)* }
            }

            /// How many of the base unit nought of it is.
            pub fn nought(self) -> Decimal {
                match self { $($name::$unit => units!(@nought $($nought e $nought_places)?),)* }
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
    /// MPa
    Megapascal = 1_000 e 0, "MPa", ["mpa", "megapascal", "megapascals", "n/mm²", "n/mm2"];
    /// bar
    Bar = 100 e 0, "bar", ["bar", "bars"];
    /// mbar
    Millibar = 1 e 1, "mbar", ["mbar", "millibar", "millibars"];
    /// lbf/in², written psi
    PoundForcePerSquareInch = 6_894_757_293_168_361_336_722_673_446 e 27, "psi",
        ["psi", "lbf/in²", "lbf/in2", "lb/in²", "lb/in2", "lb/sqin", "lbs/sqin"];
    /// kgf/cm²
    KilogramForcePerSquareCentimetre = 980_665 e 4, "kgf/cm²", ["kgf/cm²", "kgf/cm2", "kg/cm²", "kg/cm2", "kp/cm²", "kp/cm2"];
    /// The conventional inch of mercury
    InchOfMercury = 3_386_388_640_341 e 12, "inHg", ["inhg", "inchofmercury", "inchesofmercury", "\"hg"];
}

units! {
    /// Units of volume. Pints and their like are of two sizes, so each says whose it is.
    VolumeUnit, Volume:
    /// ml
    Millilitre = 1 e 0, "ml", ["ml", "millilitre", "millilitres", "milliliter", "milliliters"];
    /// cm³
    CubicCentimetre = 1 e 0, "cm³",
        ["cm³", "cm3", "cc", "ccm", "cubiccentimetre", "cubiccentimetres", "cubiccentimeter", "cubiccentimeters"];
    /// l
    Litre = 1_000 e 0, "l", ["l", "ltr", "litre", "litres", "liter", "liters"];
    /// US fluid ounce
    UsFluidOunce = 295_735_295_625 e 10, "US fl oz", ["usfloz", "floz(us)", "usfluidounce", "usfluidounces"];
    /// US liquid pint
    UsPint = 473_176_473 e 6, "US pt", ["uspt", "pt(us)", "uspint", "uspints", "pints(us)"];
    /// US liquid quart
    UsQuart = 946_352_946 e 6, "US qt", ["usqt", "qt(us)", "usquart", "usquarts", "quarts(us)"];
    /// US gallon
    UsGallon = 3_785_411_784 e 6, "US gal", ["usgal", "gal(us)", "usgallon", "usgallons", "gallons(us)"];
    /// Imperial fluid ounce
    ImperialFluidOunce = 284_130_625 e 7, "imp fl oz",
        ["impfloz", "floz(imp)", "ukfloz", "imperialfluidounce", "imperialfluidounces"];
    /// Imperial pint
    ImperialPint = 56_826_125 e 5, "imp pt",
        ["imppt", "pt(imp)", "ukpt", "imppint", "imppints", "imperialpint", "imperialpints", "pints(imp)"];
    /// Imperial quart
    ImperialQuart = 11_365_225 e 4, "imp qt",
        ["impqt", "qt(imp)", "ukqt", "impquart", "impquarts", "imperialquart", "imperialquarts", "quarts(imp)"];
    /// Imperial gallon
    ImperialGallon = 454_609 e 2, "imp gal",
        ["impgal", "gal(imp)", "ukgal", "impgallon", "impgallons", "imperialgallon", "imperialgallons", "gallons(imp)"];
}

units! {
    /// Units of temperature.
    TemperatureUnit, Temperature:
    /// °F
    DegreeFahrenheit = 1 e 0, "°F", ["°f", "f", "degf", "fahrenheit", "degreefahrenheit", "degreesfahrenheit"];
    /// °C
    DegreeCelsius = 18 e 1 from 32 e 0, "°C", ["°c", "c", "degc", "celsius", "degreecelsius", "degreescelsius"];
    /// K
    Kelvin = 18 e 1 from -45_967 e 2, "K", ["k", "kelvin", "kelvins"];
}

units! {
    /// Units of time.
    TimeUnit, Time:
    /// s
    Second = 1 e 0, "s", ["s", "sec", "secs", "second", "seconds"];
    /// ms
    Millisecond = 1 e 3, "ms", ["ms", "msec", "millisecond", "milliseconds"];
    /// min
    Minute = 60 e 0, "min", ["min", "mins", "minute", "minutes"];
    /// h
    Hour = 3_600 e 0, "h", ["h", "hr", "hrs", "hour", "hours"];
}

units! {
    /// Units of voltage.
    VoltageUnit, Voltage:
    /// V
    Volt = 1 e 0, "V", ["v", "volt", "volts"];
    /// mV
    Millivolt = 1 e 3, "mV", ["mv", "millivolt", "millivolts"];
    /// kV
    Kilovolt = 1_000 e 0, "kV", ["kv", "kilovolt", "kilovolts"];
}

units! {
    /// Units of current.
    CurrentUnit, Current:
    /// A
    Ampere = 1 e 0, "A", ["a", "amp", "amps", "ampere", "amperes"];
    /// mA
    Milliampere = 1 e 3, "mA", ["ma", "milliamp", "milliamps", "milliampere", "milliamperes"];
}

units! {
    /// Units of resistance.
    ResistanceUnit, Resistance:
    /// Ω
    Ohm = 1 e 0, "Ω", ["ω", "ohm", "ohms"];
    /// mΩ
    Milliohm = 1 e 3, "mΩ", ["mω", "milliohm", "milliohms"];
    /// kΩ
    Kilohm = 1_000 e 0, "kΩ", ["kω", "kohm", "kohms", "kilohm", "kilohms", "kiloohm", "kiloohms"];
    /// MΩ
    Megohm = 1_000_000 e 0, "MΩ", ["megω", "megohm", "megohms", "megaohm", "megaohms"];
}

units! {
    /// Units of force. The pound by itself is one of mass.
    ForceUnit, Force:
    /// N
    Newton = 1 e 0, "N", ["n", "newton", "newtons"];
    /// kN
    Kilonewton = 1_000 e 0, "kN", ["kn", "kilonewton", "kilonewtons"];
    /// kgf
    KilogramForce = 980_665 e 5, "kgf", ["kgf", "kp", "kilogramforce", "kilogramsforce", "kilopond"];
    /// lbf
    PoundForce = 44_482_216_152_605 e 13, "lbf", ["lbf", "poundforce", "poundsforce"];
}

units! {
    /// Units of the rate of a spring.
    SpringRateUnit, SpringRate:
    /// N/mm
    NewtonPerMillimetre = 1 e 0, "N/mm", ["n/mm", "kn/m", "newtonpermillimetre", "newtonspermillimetre"];
    /// kgf/mm
    KilogramForcePerMillimetre = 980_665 e 5, "kgf/mm", ["kgf/mm", "kg/mm", "kp/mm"];
    /// lbf/in
    PoundForcePerInch = 1_751_268_352_464_763_779_527_559_055 e 28, "lbf/in",
        ["lbf/in", "lb/in", "lbs/in", "poundperinch", "poundsperinch"];
}

units! {
    /// Units of the speed of something that goes along.
    SpeedUnit, Speed:
    /// km/h
    KilometrePerHour = 1 e 0, "km/h", ["km/h", "kph", "kmh", "kilometresperhour", "kilometreperhour"];
    /// mph
    MilePerHour = 1_609_344 e 6, "mph", ["mph", "mileperhour", "milesperhour"];
}

units! {
    /// Units of the speed of something that turns.
    RotationalSpeedUnit, RotationalSpeed:
    /// Revolutions a minute
    RevolutionPerMinute = 1 e 0, "rpm", ["rpm", "r/min", "rev/min", "1/min", "min⁻¹", "min1", "u/min", "revolutionsperminute"];
}

units! {
    /// Units of flow.
    FlowUnit, Flow:
    /// l/h
    LitrePerHour = 1 e 0, "l/h", ["l/h", "lph", "litresperhour", "litreperhour"];
    /// l/min
    LitrePerMinute = 60 e 0, "l/min", ["l/min", "lpm", "litresperminute", "litreperminute"];
    /// ml/min
    MillilitrePerMinute = 6 e 2, "ml/min", ["ml/min", "cc/min", "cm³/min", "cm3/min", "millilitresperminute"];
    /// US gal/min
    UsGallonPerMinute = 22_712_470_704 e 8, "US gal/min", ["usgal/min", "usgpm", "usgallonsperminute"];
    /// imp gal/min
    ImperialGallonPerMinute = 2_727_654 e 4, "imp gal/min", ["impgal/min", "impgpm", "imperialgallonsperminute"];
}

units! {
    /// The unit of shares.
    PercentageUnit, Percentage:
    /// %
    Percent = 1 e 0, "%", ["%", "percent", "pct"];
}

/// Does a text name a measure that is of one size in the United States and of another elsewhere, and not which?
pub(super) fn of_two_sizes(text: &str) -> bool {
    let bare = bare(text);
    let one = bare.trim_end_matches("/min");
    matches!(
        one,
        "floz"
            | "fluidounce"
            | "fluidounces"
            | "pt"
            | "pint"
            | "pints"
            | "qt"
            | "quart"
            | "quarts"
            | "gal"
            | "gallon"
            | "gallons"
            | "gpm"
    )
}

/// The text in lower case without the marks and spaces that people put between the parts of a unit. Mega is told apart from
/// milli by its capital alone, so of the ohm, which has both, it is written out; and of what has one of the two the other
/// is written out as well, which makes it no unit: nobody's megavolt is a millivolt.
fn bare(text: &str) -> String {
    let mut bare = String::with_capacity(text.len());
    for (at, c) in text.char_indices() {
        let ohm =
            |rest: &str| rest.starts_with(['Ω', 'Ω']) || rest.get(..3).is_some_and(|r| r.eq_ignore_ascii_case("ohm"));
        let behind = || text[at + c.len_utf8()..].trim_start_matches(is_between);
        let first = bare.is_empty();
        match c {
            c if is_between(c) => {}
            'M' if ohm(behind()) => bare.push_str("meg"),
            'M' if first && behind().starts_with(['V', 'v', 'A', 'a']) => bare.push_str("mega"),
            'm' if first && behind().starts_with("Pa") => bare.push_str("milli"),
            c => bare.extend(c.to_lowercase()),
        }
    }
    bare
}

/// Is it a mark or a space that people put between the parts of a unit?
fn is_between(c: char) -> bool {
    matches!(c, '·' | '⋅' | '∙' | '.' | '-' | '−' | '*' | '×') || c.is_whitespace()
}
