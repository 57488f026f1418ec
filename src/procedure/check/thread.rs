//! What torque a thread of a property class can bear, to tell a typing error from a value.
//!
//! Proof stress by ISO 898-1 (2013), table 3; stress area by ISO 898-1, 9.1.6 on the geometry of ISO 724; torque for a
//! clamp force by the formula of ISO 16047, T = F·(P/2π + 0.577·μ·d₂ + 0.5·μ·D_b), with one friction for thread and
//! bearing face from 0.08 (oiled or coated) to 0.20 (dry), and a bearing diameter D_b of 1.3·d. The range this gives is
//! wide. It is a test only, and no value is ever made from it.

/// Friction, from the slipperiest to the roughest that is counted with.
const FRICTION: (f64, f64) = (0.08, 0.20);
/// Part of the proof force that a torque alone may clamp with, from the least to the most that is counted with.
const CLAMP: (f64, f64) = (0.15, 1.1);
/// The same for a torque that only seats the joint before an angle or before it is backed off.
const SNUG: (f64, f64) = (0.03, 0.9);

/// A metric thread in millimetres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Thread {
    diameter: f64,
    pitch: f64,
}

/// Coarse pitches of ISO 261, for threads written without a pitch.
const COARSE: [(f64, f64); 16] = [
    (3.0, 0.5),
    (4.0, 0.7),
    (5.0, 0.8),
    (6.0, 1.0),
    (7.0, 1.0),
    (8.0, 1.25),
    (10.0, 1.5),
    (12.0, 1.75),
    (14.0, 2.0),
    (16.0, 2.0),
    (18.0, 2.5),
    (20.0, 2.5),
    (22.0, 2.5),
    (24.0, 3.0),
    (27.0, 3.0),
    (30.0, 3.5),
];

impl Thread {
    /// Reads "M12 x 1.5" or "M12".
    pub(super) fn read(text: &str) -> Option<Thread> {
        let rest = text.trim().strip_prefix('M')?;
        let (diameter, pitch) = match rest.split_once(['x', 'X', '×']) {
            Some((diameter, pitch)) => (diameter.trim().parse().ok()?, pitch.trim().parse().ok()?),
            None => {
                let diameter: f64 = rest.trim().parse().ok()?;
                (diameter, COARSE.iter().find(|(d, _)| *d == diameter)?.1)
            }
        };
        let sensible = (1.0..=64.0).contains(&diameter) && (0.2..=6.0).contains(&pitch) && pitch < diameter / 3.0;
        sensible.then_some(Thread { diameter, pitch })
    }

    /// Nominal stress area in mm²: that of a rod of the mean of pitch diameter and root diameter.
    fn stress_area(self) -> f64 {
        let mean = self.diameter - 0.9382 * self.pitch;
        std::f64::consts::FRAC_PI_4 * mean * mean
    }

    /// Torque in N·m for a clamp force in N.
    fn torque(self, force: f64, friction: f64) -> f64 {
        let pitch_diameter = self.diameter - 0.6495 * self.pitch;
        let arm = self.pitch / std::f64::consts::TAU
            + 0.577 * friction * pitch_diameter
            + 0.5 * friction * 1.3 * self.diameter;
        force * arm / 1000.0
    }

    /// Least and most torque in N·m that is plausible for it; the most a torque of no known class could be is that of
    /// the strongest class, and the least that of the weakest.
    pub(super) fn plausible(self, class: Option<Class>, snug: bool) -> (f64, f64) {
        let part = if snug { SNUG } else { CLAMP };
        let weakest = class.unwrap_or(Class::WEAKEST).proof_stress(self.diameter);
        let strongest = class.unwrap_or(Class::STRONGEST).proof_stress(self.diameter);
        let force = |stress: f64| stress * self.stress_area();
        (self.torque(force(weakest) * part.0, FRICTION.0), self.torque(force(strongest) * part.1, FRICTION.1))
    }
}

/// Is this the name of a property class of ISO 898-1?
pub fn is_property_class(text: &str) -> bool {
    Class::read(text).is_some()
}

/// A property class of ISO 898-1.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Class(usize);

/// Class, and its proof stress in N/mm² up to M16 and above it.
const CLASSES: [(&str, f64, f64); 9] = [
    ("4.6", 225.0, 225.0),
    ("5.6", 280.0, 280.0),
    ("4.8", 310.0, 310.0),
    ("5.8", 380.0, 380.0),
    ("6.8", 440.0, 440.0),
    ("8.8", 580.0, 600.0),
    ("9.8", 650.0, 650.0),
    ("10.9", 830.0, 830.0),
    ("12.9", 970.0, 970.0),
];

impl Class {
    const WEAKEST: Class = Class(0);
    const STRONGEST: Class = Class(CLASSES.len() - 1);

    pub(super) fn read(text: &str) -> Option<Class> {
        CLASSES.iter().position(|(name, _, _)| *name == text.trim()).map(Class)
    }

    /// The classes that are known.
    pub(super) fn all() -> impl Iterator<Item = &'static str> {
        CLASSES.iter().map(|(name, _, _)| *name)
    }

    fn proof_stress(self, diameter: f64) -> f64 {
        CLASSES.get(self.0).map_or(0.0, |(_, thin, thick)| if diameter > 16.0 { *thick } else { *thin })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stress_areas_and_proof_loads_are_those_of_iso_898_1() {
        // ISO 898-1, tables 4 to 7: thread, stress area in mm², proof load of 10.9 in N.
        for (thread, area, proof_load) in [
            ("M6", 20.1, 16_700.0),
            ("M10", 58.0, 48_100.0),
            ("M12 x 1.5", 88.1, 73_100.0),
            ("M14 x 1.5", 125.0, 104_000.0),
        ] {
            let read = Thread::read(thread).expect(thread);
            assert!((read.stress_area() - area).abs() < area * 0.005, "{thread}: {}", read.stress_area());
            let class = Class::read("10.9").expect("class");
            let load = class.proof_stress(read.diameter) * read.stress_area();
            assert!((load - proof_load).abs() < proof_load * 0.01, "{thread}: {load}");
        }
    }

    #[test]
    fn usual_torques_are_plausible_and_ten_times_that_is_not() {
        for (thread, class, torque) in [("M6", "8.8", 10.0), ("M10", "8.8", 47.0), ("M14 x 1.5", "10.9", 140.0)] {
            let read = Thread::read(thread).expect(thread);
            let (least, most) = read.plausible(Class::read(class), false);
            assert!((least..=most).contains(&torque), "{thread}: {least}..{most}");
            assert!(torque * 10.0 > most && torque / 10.0 < least, "{thread}: {least}..{most}");
        }
    }

    #[test]
    fn other_threads_are_not_read_as_metric() {
        for text in
            ["", "M", "12 x 1.5", "1/2-20 UNF", "M12 x", "M12 x 15", "M1.2 x 1.5", "M11", "Mx", "MNaN", "M12 x NaN"]
        {
            assert_eq!(Thread::read(text), None, "{text}");
        }
    }
}
