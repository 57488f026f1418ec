//! The kinds of amount there are: one table, from which the amounts are made as well.

/// Gives a macro every kind of amount there is: the amount, its units, what it is called, the forms allowed.
macro_rules! kinds {
    ($give:ident) => {
        $give! {
            /// Turning effort.
            Torque TorqueUnit "torque", "N·m, kgf·m, lbf·ft or lbf·in, such as \"70 N·m\" (also Nm, kgm, ft-lb, in-lb)";
            /// How far something is turned.
            Angle AngleUnit "angle", "deg, °, quarter turns, flats or points, such as \"90 deg\" or \"1.5 flats\"";
            /// How long, thick or far.
            Length LengthUnit "length", "mm, in or thou, such as \"2.5 mm\" or \"8 thou\"";
            /// How heavy.
            Mass MassUnit "mass", "g, kg or lb, such as \"40 g\"";
            /// How hard something presses on an area.
            Pressure PressureUnit "pressure", "kPa, MPa, bar, mbar, psi, kgf/cm² or inHg, such as \"2.4 bar\"";
            /// How much there is of a fluid.
            Volume VolumeUnit "volume", "ml, cm³, l, or fl oz, pints, quarts and gallons, each with US or imp, such as \"4.2 l\" or \"9 US pints\"";
            /// How hot.
            Temperature TemperatureUnit "temperature", "°C, °F or K, such as \"80 °C\"";
            /// How long it lasts.
            Time TimeUnit "time", "ms, s, min or h, such as \"15 s\"";
            /// Electric tension.
            Voltage VoltageUnit "voltage", "mV, V or kV, such as \"12.6 V\"";
            /// Electric flow.
            Current CurrentUnit "current", "mA or A, such as \"30 mA\"";
            /// Electric resistance.
            Resistance ResistanceUnit "resistance", "mΩ, Ω, kΩ or MΩ, such as \"1.2 kΩ\"";
            /// How hard something is pushed or pulled.
            Force ForceUnit "force", "N, kN, kgf or lbf, such as \"45 N\"";
            /// How much harder a spring pushes the further it is pressed.
            SpringRate SpringRateUnit "spring rate", "N/mm, kgf/mm or lbf/in, such as \"24 N/mm\"";
            /// How fast something goes.
            Speed SpeedUnit "speed", "km/h or mph, such as \"50 km/h\"";
            /// How fast something turns.
            RotationalSpeed RotationalSpeedUnit "rotational speed", "rpm, such as \"850 rpm\"";
            /// How much of a fluid runs in a time.
            Flow FlowUnit "flow rate", "ml/min, l/min, l/h, US gal/min or imp gal/min, such as \"0.8 l/min\"";
            /// How many of a hundred.
            Percentage PercentageUnit "percentage", "%, such as \"50 %\"";
        }
    };
}
pub(super) use kinds;

macro_rules! kind {
    ($($(#[$doc:meta])* $name:ident $unit:ident $called:literal, $forms:literal;)*) => {
        /// The kinds of amount there are.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Kind {
            $($(#[$doc])* $name,)*
        }

        impl Kind {
            /// All of them.
            pub const ALL: &'static [Kind] = &[$(Kind::$name),*];

            /// The forms that are allowed, for error messages.
            pub fn forms(self) -> &'static str {
                match self { $(Kind::$name => $forms,)* }
            }

            /// What it is called.
            pub(super) fn called(self) -> &'static str {
                match self { $(Kind::$name => $called,)* }
            }
        }
    };
}
kinds!(kind);

impl Kind {
    /// Can there be less than nothing of it? Of what is counted or weighed out there cannot, so a minus there was misheard.
    pub fn may_be_negative(self) -> bool {
        matches!(self, Kind::Length | Kind::Pressure | Kind::Temperature | Kind::Voltage | Kind::Current)
    }

    /// Has it a nought that only its unit sets? Twice as many degrees are not twice as hot.
    pub fn has_own_nought(self) -> bool {
        self == Kind::Temperature
    }
}

impl std::fmt::Display for Kind {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.called())
    }
}
