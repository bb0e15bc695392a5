//! Quantities: lengths as whole nanometres, wire sizes by their own standard, and the units they are written in.

use std::borrow::Cow;
use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Mul, Sub};
use std::str::FromStr;
use std::sync::{Arc, LazyLock};

use serde::{Deserialize, Deserializer, Serialize, Serializer, de};
use utoipa::openapi::RefOr;
use utoipa::openapi::schema::{ObjectBuilder, Schema, Type};
use utoipa::{PartialSchema, ToSchema};

/// A short identifier that many figures repeat (a station, a circuit, a stock-keeping unit): cheap to copy.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Name(Arc<str>);

impl Name {
    /// The text itself.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl From<&str> for Name {
    fn from(text: &str) -> Self {
        Name(Arc::from(text))
    }
}

impl From<String> for Name {
    fn from(text: String) -> Self {
        Name(Arc::from(text))
    }
}

impl std::borrow::Borrow<str> for Name {
    fn borrow(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Name {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl Serialize for Name {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.0)
    }
}

impl<'de> Deserialize<'de> for Name {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        Ok(Name(Arc::from(Cow::<str>::deserialize(deserializer)?)))
    }
}

impl PartialSchema for Name {
    fn schema() -> RefOr<Schema> {
        let description = "A short identifier: of a station, a circuit, an item.";
        ObjectBuilder::new().schema_type(Type::String).description(Some(description)).into()
    }
}

impl ToSchema for Name {
    fn name() -> Cow<'static, str> {
        "Name".into()
    }
}

/// The units a length may be written in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum LengthUnit {
    /// Inch, 25.4 mm exactly.
    In,
    /// Foot, 304.8 mm exactly.
    Ft,
    /// Millimetre.
    Mm,
    /// Centimetre.
    Cm,
    /// Metre.
    M,
}

impl LengthUnit {
    /// Nanometres in one of this unit: exact, by the definition of the inch as 25.4 mm.
    pub const fn nanometres(self) -> i64 {
        match self {
            LengthUnit::In => 25_400_000,
            LengthUnit::Ft => 304_800_000,
            LengthUnit::Mm => 1_000_000,
            LengthUnit::Cm => 10_000_000,
            LengthUnit::M => 1_000_000_000,
        }
    }

    /// The symbol as it stands in JSON and in print.
    pub const fn symbol(self) -> &'static str {
        match self {
            LengthUnit::In => "in",
            LengthUnit::Ft => "ft",
            LengthUnit::Mm => "mm",
            LengthUnit::Cm => "cm",
            LengthUnit::M => "m",
        }
    }
}

impl fmt::Display for LengthUnit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.symbol())
    }
}

/// A length as a whole count of nanometres, so that 1/64 in and 1 mm are both exact and sums do not drift.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Length(i64);

impl Length {
    /// No length.
    pub const ZERO: Length = Length(0);
    /// The longest length that a spec may state, 1 km: far beyond any boat, far below overflow of any sum.
    pub const LONGEST: Length = Length(1_000_000_000_000);

    /// From whole nanometres.
    pub const fn from_nanometres(nm: i64) -> Self {
        Length(nm)
    }

    /// From a value in a unit, to the nearest nanometre. `None` when it is not finite or beyond ±1 Mm.
    pub fn new(value: f64, unit: LengthUnit) -> Option<Self> {
        let nm = value * unit.nanometres() as f64;
        (nm.is_finite() && nm.abs() <= 1e15).then(|| Length(nm.round() as i64))
    }

    /// From feet; for constants and tests.
    pub fn feet(value: f64) -> Self {
        Length((value * LengthUnit::Ft.nanometres() as f64).round() as i64)
    }

    /// From inches; for constants and tests.
    pub fn inches(value: f64) -> Self {
        Length((value * LengthUnit::In.nanometres() as f64).round() as i64)
    }

    /// Whole nanometres.
    pub const fn nanometres(self) -> i64 {
        self.0
    }

    /// In feet.
    pub fn ft(self) -> f64 {
        self.to(LengthUnit::Ft)
    }

    /// In inches.
    pub fn inch(self) -> f64 {
        self.to(LengthUnit::In)
    }

    /// In metres.
    pub fn m(self) -> f64 {
        self.to(LengthUnit::M)
    }

    /// In any unit.
    pub fn to(self, unit: LengthUnit) -> f64 {
        self.0 as f64 / unit.nanometres() as f64
    }

    /// This length times a plain factor, to the nearest nanometre.
    pub fn scaled(self, factor: f64) -> Self {
        Length((self.0 as f64 * factor).round() as i64)
    }

    /// As it is written in an answer: rounded to a thousandth of the unit (a hundredth of a millimetre in mm).
    pub fn written(self, unit: LengthUnit) -> LengthValue {
        LengthValue { value: (self.to(unit) * 1000.0).round() / 1000.0, unit }
    }
}

impl Add for Length {
    type Output = Length;
    fn add(self, other: Length) -> Length {
        Length(self.0 + other.0)
    }
}

impl AddAssign for Length {
    fn add_assign(&mut self, other: Length) {
        self.0 += other.0;
    }
}

impl Sub for Length {
    type Output = Length;
    fn sub(self, other: Length) -> Length {
        Length(self.0 - other.0)
    }
}

impl Mul<i64> for Length {
    type Output = Length;
    fn mul(self, count: i64) -> Length {
        Length(self.0 * count)
    }
}

impl Sum for Length {
    fn sum<I: Iterator<Item = Length>>(lengths: I) -> Length {
        lengths.fold(Length::ZERO, Add::add)
    }
}

/// A length as it is written in JSON: a number and its unit.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"value": 9.5, "unit": "ft"}))]
pub struct LengthValue {
    /// How many of the unit; not negative, and no more than a kilometre in all.
    #[schema(minimum = 0, maximum = 1_000_000)]
    pub value: f64,
    /// The unit that the number counts.
    pub unit: LengthUnit,
}

impl LengthValue {
    /// The exact length. `None` when it is negative, not finite or longer than [`Length::LONGEST`].
    pub fn length(self) -> Option<Length> {
        let length = Length::new(self.value, self.unit)?;
        (length >= Length::ZERO && length <= Length::LONGEST).then_some(length)
    }
}

impl fmt::Display for LengthValue {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", Figure(self.value), self.unit)
    }
}

/// A figure as it is printed: the same text as the number's own, found faster where three decimal places hold it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figure(pub f64);

impl fmt::Display for Figure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        /// Far within what a double holds exactly.
        const LARGEST: f64 = 1e9;
        let thousandths = self.0 * 1000.0;
        let whole = thousandths.round();
        // The shortest text that reads as this number is the decimal one, if that reads as it.
        if !(0.0..LARGEST).contains(&whole) || self.0.is_sign_negative() || whole / 1000.0 != self.0 {
            return write!(f, "{}", self.0);
        }
        let whole = whole as u64;
        let digit = |by: u64| b'0' + (whole / by % 10) as u8;
        let mut text = [0; 16];
        let mut at = 0;
        let mut by = 1_000_000_000_000;
        while by > 1000 && whole < by {
            by /= 10;
        }
        while by >= 1000 {
            text[at] = digit(by);
            at += 1;
            by /= 10;
        }
        if !whole.is_multiple_of(1000) {
            text[at..at + 4].copy_from_slice(&[b'.', digit(100), digit(10), digit(1)]);
            at += 4;
            while text[at - 1] == b'0' {
                at -= 1;
            }
        }
        f.write_str(std::str::from_utf8(&text[..at]).map_err(|_| fmt::Error)?)
    }
}

/// The standard that a wire's copper area is taken from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum AreaStandard {
    /// American wire gauge, full area (ASTM B258; boat cable to UL 1426).
    #[default]
    Awg,
    /// SAE minimum areas (J378, J1127, J1128): the same gauge numbers with up to 11 % less copper.
    Sae,
    /// Metric nominal area in square millimetres (ISO 6722, IEC 60228).
    Metric,
}

/// Copper area of a gauge by ASTM B258, circular mils: 36 gauges lie between 0.005 in and 0.46 in, each a 39th power
/// of 92 from the next.
fn b258_cmil(awg: i8) -> f64 {
    let mils = 5.0 * 92f64.powf((36.0 - f64::from(awg)) / 39.0);
    mils * mils
}

/// [`b258_cmil`] of 22 AWG to 4/0 AWG: sizes are compared far too often to raise a power each time.
static NOMINAL_CMIL: LazyLock<[f64; 26]> = LazyLock::new(|| std::array::from_fn(|place| b258_cmil(22 - place as i8)));

/// A conductor size by name: an AWG number, or square millimetres.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum WireSize {
    /// AWG number; 0 is 1/0, -1 is 2/0, -2 is 3/0, -3 is 4/0.
    Awg(i8),
    /// Hundredths of a square millimetre: 4 mm² is 400.
    Metric(u32),
}

impl WireSize {
    /// The AWG number, for a gauge size.
    pub fn awg(self) -> Option<i8> {
        match self {
            WireSize::Awg(n) => Some(n),
            WireSize::Metric(_) => None,
        }
    }

    /// Nominal copper area in circular mils (ASTM B258 diameter squared; 1 mm² = 1973.525 cmil), for ordering sizes.
    pub fn nominal_cmil(self) -> f64 {
        match self {
            WireSize::Awg(n) => match usize::try_from(22 - i16::from(n)) {
                Ok(place) if place < NOMINAL_CMIL.len() => NOMINAL_CMIL[place],
                _ => b258_cmil(n),
            },
            WireSize::Metric(hundredths) => f64::from(hundredths) / 100.0 * 1_973.525_241_4,
        }
    }

    /// Whether `self` has no less copper than `other`, by nominal area.
    pub fn at_least(self, other: WireSize) -> bool {
        self.nominal_cmil() >= other.nominal_cmil() - 0.5
    }
}

/// The texts of 22 AWG to 4/0 AWG.
const AWG_TEXTS: [&str; 26] = [
    "22 AWG", "21 AWG", "20 AWG", "19 AWG", "18 AWG", "17 AWG", "16 AWG", "15 AWG", "14 AWG", "13 AWG", "12 AWG",
    "11 AWG", "10 AWG", "9 AWG", "8 AWG", "7 AWG", "6 AWG", "5 AWG", "4 AWG", "3 AWG", "2 AWG", "1 AWG", "1/0 AWG",
    "2/0 AWG", "3/0 AWG", "4/0 AWG",
];

impl fmt::Display for WireSize {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            WireSize::Awg(n) => match usize::try_from(22 - i16::from(n)) {
                Ok(place) if place < AWG_TEXTS.len() => f.write_str(AWG_TEXTS[place]),
                _ if n > 0 => write!(f, "{n} AWG"),
                _ => write!(f, "{}/0 AWG", 1 - i16::from(n)),
            },
            WireSize::Metric(h) => write!(f, "{} mm2", Figure(f64::from(h) / 100.0)),
        }
    }
}

/// A text that is no wire size.
#[derive(Debug, thiserror::Error)]
#[error("'{0}' is not a wire size: write a gauge from '22 AWG' to '4/0 AWG', or an area such as '4 mm2'")]
pub struct NotAWireSize(String);

impl FromStr for WireSize {
    type Err = NotAWireSize;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let fault = || NotAWireSize(text.to_owned());
        if let Some(area) = text.strip_suffix(" mm2") {
            let value: f64 = area.parse().map_err(|_| fault())?;
            if !(0.2..=400.0).contains(&value) {
                return Err(fault());
            }
            return Ok(WireSize::Metric((value * 100.0).round() as u32));
        }
        let number = text.strip_suffix(" AWG").ok_or_else(fault)?;
        let n = match number.strip_suffix("/0") {
            Some(aught) => 1 - aught.parse::<i8>().ok().filter(|n| (1..=4).contains(n)).ok_or_else(fault)?,
            None => number.parse::<i8>().ok().filter(|n| (1..=22).contains(n)).ok_or_else(fault)?,
        };
        Ok(WireSize::Awg(n))
    }
}

impl Serialize for WireSize {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        if let WireSize::Awg(n) = self
            && let Ok(place) = usize::try_from(22 - i16::from(*n))
            && let Some(text) = AWG_TEXTS.get(place)
        {
            return serializer.serialize_str(text);
        }
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for WireSize {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        Cow::<str>::deserialize(deserializer)?.parse().map_err(de::Error::custom)
    }
}

/// The pattern that the description gives for a wire size; [`WireSize::from_str`] accepts the same texts.
pub const WIRE_SIZE_PATTERN: &str =
    r"^(([1-9]|1[0-9]|2[0-2]|[1-4]/0) AWG|([1-9][0-9]?|[1-3][0-9]{2})(\.[0-9]{1,2})? mm2|0\.([2-9][0-9]?) mm2)$";

impl PartialSchema for WireSize {
    fn schema() -> RefOr<Schema> {
        ObjectBuilder::new()
            .schema_type(Type::String)
            .pattern(Some(WIRE_SIZE_PATTERN))
            .description(Some(
                "A conductor size: an AWG number written `12 AWG` or `1/0 AWG`, or an area written `4 mm2`.",
            ))
            .examples(["12 AWG"])
            .into()
    }
}

impl ToSchema for WireSize {
    fn name() -> Cow<'static, str> {
        "WireSize".into()
    }
}

/// Rounds to the given number of places for an answer; the chain itself never calculates with the rounded value.
pub fn rounded(value: f64, places: i32) -> f64 {
    let scale = 10f64.powi(places);
    (value * scale).round() / scale
}

/// The one tolerance of comparisons at a limit: a figure within a billionth of its limit meets it.
pub fn within(figure: f64, limit: f64) -> bool {
    figure <= limit * (1.0 + 1e-9) + 1e-12
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sixty_fourth_of_an_inch_and_a_millimetre_are_exact() {
        assert_eq!(Length::new(1.0 / 64.0, LengthUnit::In).unwrap().nanometres(), 396_875);
        assert_eq!(Length::new(1.0, LengthUnit::Mm).unwrap().nanometres(), 1_000_000);
        assert_eq!(Length::new(9.5, LengthUnit::Ft).unwrap().nanometres(), 2_895_600_000);
    }

    #[test]
    fn a_figure_is_printed_as_the_number_is() {
        let mut figures =
            vec![0.0, -0.0, 0.1 + 0.2, 1e-7, 999_999.999, 1e6, 123_456_789.123, 1e9, 1e300, -2.5, f64::NAN];
        figures.extend((0..200_000).map(|thousandths| f64::from(thousandths) / 1000.0));
        figures.extend((0..1000).map(|n| f64::from(n) * 0.333));
        for figure in figures {
            assert_eq!(Figure(figure).to_string(), figure.to_string());
        }
    }

    #[test]
    fn every_gauge_has_its_text_and_its_area() {
        for (place, text) in AWG_TEXTS.iter().enumerate() {
            let size: WireSize = text.parse().unwrap();
            let awg = 22 - place as i8;
            assert_eq!(size, WireSize::Awg(awg));
            assert_eq!(size.nominal_cmil(), b258_cmil(awg));
        }
    }

    #[test]
    fn wire_sizes_are_written_as_they_are_read() {
        for text in ["18 AWG", "3 AWG", "1/0 AWG", "4/0 AWG", "0.75 mm2", "4 mm2", "120 mm2", "2.5 mm2"] {
            assert_eq!(text.parse::<WireSize>().unwrap().to_string(), text);
        }
        for text in ["0 AWG", "5/0 AWG", "12", "12awg", "-4 mm2", "NaN mm2", "23 AWG"] {
            assert!(text.parse::<WireSize>().is_err(), "{text}");
        }
    }
}
