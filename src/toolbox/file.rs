//! The toolbox file: TOML of the user's own. Every complaint names file, line, what was found and what is allowed.

use super::size::{Size, Socket, Square};
use super::wrench::Wrench;
use super::{OwnAdapter, Toolbox};
use crate::quantity::{Amount, Angle, Length, Limits, Torque};
use jiff::civil::Date;
use rust_decimal::Decimal;
use serde::Deserialize;
use std::ops::Range;
use toml::Spanned;
use toml::value::Datetime;

/// What is wrong with a toolbox file, and where.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{file}: line {line}: {what}. {allowed}")]
pub struct ToolboxError {
    /// The name of the file.
    pub file: String,
    /// The line, from 1.
    pub line: usize,
    /// What was found there.
    pub what: String,
    /// What is allowed.
    pub allowed: String,
}

type Text = Spanned<String>;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    angle_gauge: Text,
    #[serde(default, rename = "wrench")]
    wrenches: Vec<WrittenWrench>,
    #[serde(default, rename = "adapter")]
    adapters: Vec<WrittenAdapter>,
    #[serde(default, rename = "sockets")]
    sockets: Vec<WrittenSockets>,
    #[serde(default)]
    other: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenWrench {
    name: Text,
    range: Text,
    graduation: Text,
    drive: Text,
    length: Option<Text>,
    calibrated: Option<Spanned<Datetime>>,
    accuracy: Option<Text>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenAdapter {
    name: Text,
    length: Text,
    angle: Option<Text>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenSockets {
    drive: Text,
    sizes: Vec<Text>,
}

/// Where a complaint belongs, what was found, what is allowed.
struct Wrong(Range<usize>, String, String);

impl Toolbox {
    /// Reads a toolbox file; `file` is used in errors.
    pub fn parse(file: &str, text: &str) -> Result<Toolbox, ToolboxError> {
        let at = |offset: usize| text.get(..offset).unwrap_or(text).matches('\n').count() + 1;
        let written: Written = toml::from_str(text).map_err(|error| ToolboxError {
            file: file.to_owned(),
            line: at(error.span().map_or(0, |span| span.start)),
            what: error.message().trim_end_matches('.').replace('\n', ", "),
            allowed: "docs/toolbox.toml is an example of such a file".to_owned(),
        })?;
        build(written).map_err(|Wrong(span, what, allowed)| ToolboxError {
            file: file.to_owned(),
            line: at(span.start),
            what,
            allowed,
        })
    }
}

fn build(written: Written) -> Result<Toolbox, Wrong> {
    let gauge = filled(&written.angle_gauge, "Write its name, or \"none\"")?;
    let wrenches: Vec<Wrench> = written.wrenches.iter().map(wrench).collect::<Result<_, _>>()?;
    for (i, written) in written.wrenches.iter().enumerate() {
        if wrenches[..i].iter().any(|other| other.name == wrenches[i].name) {
            let what = format!("there are two wrenches named \"{}\"", wrenches[i].name);
            return Err(Wrong(written.name.span(), what, "Each wrench needs a name of its own".into()));
        }
    }
    let mut sockets = Vec::new();
    for group in &written.sockets {
        let square = square(&group.drive)?;
        for size in &group.sizes {
            let found = Size::parse(size.get_ref()).ok_or_else(|| {
                let what = format!("\"{}\" is no size of a socket or bit", size.get_ref());
                let allowed = "Write such as \"18 mm\", \"3/4 in\", \"6 mm inner hex\", \"T40\" or \"E14\"";
                Wrong(size.span(), what, allowed.into())
            })?;
            sockets.push(Socket { size: found, written: size.get_ref().trim().to_owned(), square });
        }
    }
    Ok(Toolbox {
        wrenches,
        angle_gauge: (gauge != "none").then_some(gauge),
        adapters: written.adapters.iter().map(adapter).collect::<Result<_, _>>()?,
        sockets,
        other: written.other,
    })
}

fn wrench(written: &WrittenWrench) -> Result<Wrench, Wrong> {
    let range: Limits<Torque> = value(&written.range)?;
    let Limits::Window { low, high } = range else {
        let what = format!("\"{}\" is one value, not a range", written.range.get_ref());
        return Err(Wrong(written.range.span(), what, "Write the lowest and the highest mark: \"40..200 N·m\"".into()));
    };
    let graduation: Torque = value(&written.graduation)?;
    if low.unit != high.unit || graduation.unit != high.unit {
        let what = format!("the graduation is {graduation} and the range {range}");
        return Err(Wrong(written.graduation.span(), what, "Both are in the unit of the scale".into()));
    }
    if low.amount < Decimal::ZERO {
        let what = format!("the lowest mark is {low}");
        return Err(Wrong(written.range.span(), what, "It is 0 or more".into()));
    }
    if graduation.amount <= Decimal::ZERO || graduation.amount > high.amount - low.amount {
        let what = format!("a graduation of {graduation} on a scale of {range}");
        return Err(Wrong(written.graduation.span(), what, "It is more than 0 and less than the scale".into()));
    }
    let accuracy = written.accuracy.as_ref().map(percent).transpose()?;
    Ok(Wrench {
        name: filled(&written.name, "Write what you call it")?,
        low,
        high,
        graduation,
        square: square(&written.drive)?,
        length: written.length.as_ref().map(positive).transpose()?,
        calibrated: written.calibrated.as_ref().map(date).transpose()?,
        accuracy,
    })
}

fn adapter(written: &WrittenAdapter) -> Result<OwnAdapter, Wrong> {
    Ok(OwnAdapter {
        name: filled(&written.name, "Write what you call it")?,
        length: positive(&written.length)?,
        angle: written.angle.as_ref().map(value::<Angle>).transpose()?,
    })
}

fn filled(text: &Text, allowed: &str) -> Result<String, Wrong> {
    match text.get_ref().trim() {
        "" => Err(Wrong(text.span(), "this is empty".into(), allowed.to_owned())),
        filled => Ok(filled.to_owned()),
    }
}

fn value<T>(text: &Text) -> Result<T, Wrong>
where
    T: std::str::FromStr,
    T::Err: std::fmt::Display,
{
    let read = text.get_ref().parse().map_err(|e: T::Err| format!("{e}"));
    read.map_err(|reason| {
        Wrong(text.span(), reason.trim_end_matches('.').to_owned(), "Numbers are written with their unit".into())
    })
}

fn positive(text: &Text) -> Result<Length, Wrong> {
    let length: Length = value(text)?;
    if length.number() <= Decimal::ZERO {
        return Err(Wrong(text.span(), format!("a length of {length}"), "It is more than 0".into()));
    }
    Ok(length)
}

fn square(text: &Text) -> Result<Square, Wrong> {
    Square::parse(text.get_ref()).ok_or_else(|| {
        Wrong(
            text.span(),
            format!("\"{}\" is no square drive", text.get_ref()),
            format!("Allowed are {}", Square::FORMS),
        )
    })
}

fn percent(text: &Text) -> Result<Decimal, Wrong> {
    let number = text.get_ref().trim().strip_suffix('%').and_then(|n| n.trim().parse::<Decimal>().ok());
    number.filter(|n| *n > Decimal::ZERO && *n < Decimal::ONE_HUNDRED).ok_or_else(|| {
        let what = format!("\"{}\" is no accuracy", text.get_ref());
        Wrong(text.span(), what, "Write the permissible deviation of its class, such as \"4 %\"".into())
    })
}

fn date(written: &Spanned<Datetime>) -> Result<Date, Wrong> {
    let found = written.get_ref();
    let whole = found.date.filter(|_| found.time.is_none() && found.offset.is_none());
    let date = whole.and_then(|d| {
        Date::new(i16::try_from(d.year).ok()?, i8::try_from(d.month).ok()?, i8::try_from(d.day).ok()?).ok()
    });
    date.ok_or_else(|| Wrong(written.span(), format!("{found} is no day"), "Write a day, such as 2026-03-01".into()))
}
