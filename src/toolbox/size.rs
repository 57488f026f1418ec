//! Sockets and bits: which one fits, and what stands in for one that is missing.
//!
//! A stand-in is exact (the same size on another square), or it has play, and then it is said how much. With play it is
//! never offered for a fastener that is tightened to a value: the corners give way before the value is reached.

use crate::quantity::{Length, LengthUnit};
use rust_decimal::Decimal;

/// What a socket or bit fits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Size {
    /// A hexagon head, by its width across flats.
    Hex(Length),
    /// A hexagon recess, by its width across flats.
    InnerHex(Length),
    /// A six-lobed recess ("T40"), ISO 10664.
    Lobes(u32),
    /// A six-lobed head ("E14").
    OuterLobes(u32),
}

/// The square that drives a socket, ISO 1174-1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Square {
    /// 1/4 in, 6.3 mm.
    Quarter,
    /// 3/8 in, 10 mm.
    ThreeEighths,
    /// 1/2 in, 12.5 mm.
    Half,
    /// 3/4 in, 20 mm.
    ThreeQuarters,
    /// 1 in, 25 mm.
    One,
}

/// A socket or bit.
#[derive(Debug, Clone, PartialEq)]
pub struct Socket {
    /// What it fits.
    pub size: Size,
    /// Its size as the user wrote it.
    pub written: String,
    /// The square it takes.
    pub square: Square,
}

/// How well the toolbox fits a drive.
#[derive(Debug, Clone, PartialEq)]
pub enum Fit<'a> {
    /// This one, of the very size; the first of them in the file.
    Exact(&'a Socket),
    /// None of the size, but this one goes on with play.
    Loose {
        /// The one with the least play.
        socket: &'a Socket,
        /// How much, in millimetres.
        play: Length,
    },
    /// None.
    Missing,
    /// The drive is not one of the kinds known here, so nothing is said about it.
    Unknown,
}

/// More play than this is not worth naming. A choice of this program, not of a standard.
const MOST_PLAY: Decimal = Decimal::from_parts(5, 0, 0, false, 1);

impl Size {
    /// Reads "18 mm hex", "18 mm", "3/4 in", "6 mm inner hex", "T40", "E14"; `None` if it is none of them.
    pub fn parse(text: &str) -> Option<Size> {
        let text = text.trim();
        let number = |rest: &str| rest.trim().parse::<u32>().ok().filter(|n| (1..=100).contains(n));
        let mut chars = text.chars();
        match chars.next()? {
            'T' | 't' => return number(chars.as_str()).map(Size::Lobes),
            'E' | 'e' => return number(chars.as_str()).map(Size::OuterLobes),
            _ => {}
        }
        let lower = text.to_lowercase();
        let (inner, width) = match lower.strip_suffix("hex").map(str::trim_end) {
            Some(rest) => match rest.strip_suffix("inner").or_else(|| rest.strip_suffix("internal")) {
                Some(rest) => (true, rest),
                None => (false, rest),
            },
            None => (false, lower.as_str()),
        };
        let width = length(width.trim())?;
        Some(if inner { Size::InnerHex(width) } else { Size::Hex(width) })
    }

    /// The play of a tool of this size on a fastener of size `on`; `None` if it does not go on.
    fn play(self, on: Size) -> Option<Decimal> {
        let mm = |length: Length| length.in_unit(LengthUnit::Millimetre).amount;
        let play = match (self, on) {
            (Size::Hex(tool), Size::Hex(head)) => mm(tool).checked_sub(mm(head))?,
            (Size::InnerHex(tool), Size::InnerHex(recess)) => mm(recess).checked_sub(mm(tool))?,
            (Size::Lobes(a), Size::Lobes(b)) | (Size::OuterLobes(a), Size::OuterLobes(b)) if a == b => Decimal::ZERO,
            _ => return None,
        };
        (play >= Decimal::ZERO).then_some(play)
    }
}

/// A length, of which inches may be written as a fraction ("3/4 in", "1 1/16 in").
fn length(text: &str) -> Option<Length> {
    if let Ok(length) = text.parse::<Length>() {
        return (length.amount > Decimal::ZERO).then_some(length);
    }
    let number = text.strip_suffix("in").or_else(|| text.strip_suffix('"'))?.trim();
    let (whole, fraction) = number.rsplit_once(' ').unwrap_or(("0", number));
    let (above, below) = fraction.split_once('/')?;
    let whole: u32 = whole.trim().parse().ok()?;
    let (above, below): (u32, u32) = (above.parse().ok()?, below.parse().ok()?);
    if above == 0 || below == 0 || above >= below || whole > 100 {
        return None;
    }
    let amount = Decimal::from(whole) + Decimal::from(above) / Decimal::from(below);
    Some(Length::new(amount, LengthUnit::Inch))
}

impl Square {
    /// The forms it is written in.
    pub const FORMS: &'static str = "\"1/4 in\", \"3/8 in\", \"1/2 in\", \"3/4 in\" or \"1 in\"";

    /// Reads one of [`Square::FORMS`].
    pub fn parse(text: &str) -> Option<Square> {
        Some(match text.trim().trim_end_matches("in").trim_end_matches('"').trim() {
            "1/4" => Square::Quarter,
            "3/8" => Square::ThreeEighths,
            "1/2" => Square::Half,
            "3/4" => Square::ThreeQuarters,
            "1" => Square::One,
            _ => return None,
        })
    }
}

impl std::fmt::Display for Square {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Square::Quarter => "1/4 in",
            Square::ThreeEighths => "3/8 in",
            Square::Half => "1/2 in",
            Square::ThreeQuarters => "3/4 in",
            Square::One => "1 in",
        })
    }
}

impl super::Toolbox {
    /// What fits a drive as a procedure names it ("18 mm hex").
    pub fn fit(&self, drive: &str) -> Fit<'_> {
        let Some(wanted) = Size::parse(drive) else { return Fit::Unknown };
        let mut best: Option<(Decimal, &Socket)> = None;
        for socket in &self.sockets {
            let Some(play) = socket.size.play(wanted) else { continue };
            if best.is_none_or(|(least, _)| play < least) {
                best = Some((play, socket));
            }
        }
        match best {
            Some((play, socket)) if play.is_zero() => Fit::Exact(socket),
            Some((play, socket)) if play <= MOST_PLAY => {
                Fit::Loose { socket, play: Length::new(play.normalize(), LengthUnit::Millimetre) }
            }
            _ => Fit::Missing,
        }
    }

    /// Is a tool of this name among the others, or is it the angle gauge?
    pub fn has_other(&self, name: &str) -> bool {
        let same = |own: &str| own.trim().eq_ignore_ascii_case(name.trim());
        self.other.iter().any(|own| same(own)) || self.angle_gauge.as_deref().is_some_and(same)
    }
}
