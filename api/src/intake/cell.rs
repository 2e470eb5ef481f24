//! One cell: what its text says, or what was expected in its place.

use jiff::civil::Date;
use spatial::model::{DepthSample, Label, Side};
use std::fmt::Display;
use std::ops::RangeInclusive;

/// The numbers that a quantity can be.
#[derive(Debug, Clone, Copy)]
pub(super) struct Measure {
    least: f64,
    /// Whether the least itself is allowed.
    from_least: bool,
    most: f64,
    /// What is expected, in words.
    expected: &'static str,
}

/// A position or a height.
pub(super) const COORDINATE: Measure = Measure::new(f64::MIN, true, f64::MAX, "metres");
/// A control point's place in a local grid: what is farther away was measured in no such grid.
pub(super) const LOCAL: Measure = Measure::new(
    -1e6,
    true,
    1e6,
    "metres in the local grid, at most 1,000,000 from its origin",
);
/// A print's length or width.
pub(super) const SIZE: Measure =
    Measure::new(0.0, false, LARGEST_PRINT_M, "metres, more than 0 and at most 5");
/// How deep a subsurface anomaly lies.
pub(super) const BURIAL: Measure = Measure::new(0.0, true, 100.0, "metres below the ground, from 0 to 100");
/// A print's depth.
pub(super) const DEPTH: Measure = Measure::new(0.0, true, LARGEST_PRINT_M, "metres, from 0 to 5");
/// A standard deviation of a position.
pub(super) const SD_M: Measure = Measure::new(0.0, true, f64::MAX, "metres, 0 or more");
/// A direction.
pub(super) const AZIMUTH: Measure = Measure::new(0.0, true, 360.0, "degrees clockwise from north, 0 to 360");
/// A standard deviation of a direction.
pub(super) const SD_DEG: Measure = Measure::new(0.0, true, 360.0, "degrees, 0 to 360");
/// A grade of the numerical preservation scale (Belvedere & Farlow 2016).
pub(super) const PRESERVATION: Measure = Measure::new(0.0, true, 3.0, "a grade of preservation from 0 to 3");

/// The largest prints known are well below two metres; what is above this is no print (common practice).
const LARGEST_PRINT_M: f64 = 5.0;

impl Measure {
    pub(super) const fn new(least: f64, from_least: bool, most: f64, expected: &'static str) -> Self {
        Self {
            least,
            from_least,
            most,
            expected,
        }
    }

    /// Reads a number with a decimal point.
    ///
    /// # Errors
    /// What was expected, where the text is no such number or out of range.
    pub(super) fn read(&self, text: &str) -> Result<f64, String> {
        match text.parse::<f64>() {
            Ok(number) if self.allows(number) => Ok(number),
            Ok(number) => Err(self.out_of_range(number)),
            Err(_) => Err(self.no_number(text)),
        }
    }

    fn allows(&self, number: f64) -> bool {
        number <= self.most && (number > self.least || (self.from_least && number == self.least))
    }

    fn out_of_range(&self, number: f64) -> String {
        let expected = self.expected;
        if !number.is_finite() {
            format!("{expected}, as a finite number; an unknown value is an empty cell")
        } else if self.most == LARGEST_PRINT_M && number > self.most {
            let unit = if number > 500.0 {
                "millimetres"
            } else {
                "centimetres"
            };
            format!("{expected}: metres expected; {number} looks like {unit}")
        } else {
            expected.to_owned()
        }
    }

    fn no_number(&self, text: &str) -> String {
        let expected = self.expected;
        match text.split_once(',') {
            Some((whole, part)) if text.replacen(',', ".", 1).parse::<f64>().is_ok() => {
                format!("{expected}, with a decimal point, not a comma: {whole}.{part}")
            }
            _ => format!("a number: {expected}, as in 0.25; an unknown value is an empty cell"),
        }
    }
}

/// Reads a whole number.
///
/// # Errors
/// What was expected.
pub(super) fn whole<N>(text: &str, range: RangeInclusive<N>) -> Result<N, String>
where
    N: std::str::FromStr + PartialOrd + Display,
{
    match text.parse() {
        Ok(number) if range.contains(&number) => Ok(number),
        _ => Err(format!(
            "a whole number from {} to {}",
            range.start(),
            range.end()
        )),
    }
}

/// Reads a label.
///
/// # Errors
/// What was expected.
pub(super) fn label(text: &str) -> Result<Label, String> {
    text.parse().map_err(|_| {
        let hint = if text.contains(':') {
            "; the site and the surface have columns of their own or none, so take what stands after the last colon"
        } else if text.contains(' ') {
            "; put a hyphen in place of each space"
        } else {
            ""
        };
        format!("a label of 1 to 63 letters (A-Z, a-z), digits, dots, underscores or hyphens, the first a letter or digit{hint}")
    })
}

/// Reads several labels with spaces, commas or semicolons between them.
///
/// # Errors
/// What was expected.
pub(super) fn labels(text: &str) -> Result<Vec<Label>, String> {
    text.split([' ', ',', ';', '\n', '\r', '\t'])
        .filter(|part| !part.is_empty())
        .map(|part| {
            label(part).map_err(|expected| format!("labels with spaces between them, each {expected}"))
        })
        .collect()
}

/// Reads one of an enumeration's names, in any letter case.
///
/// # Errors
/// What was expected.
pub(super) fn name<E: Copy>(text: &str, all: &[E], name: fn(E) -> &'static str) -> Result<E, String> {
    let found = all.iter().find(|one| name(**one).eq_ignore_ascii_case(text));
    found.copied().ok_or_else(|| {
        let names: Vec<_> = all.iter().map(|one| name(*one)).collect();
        format!("one of {}; or empty where it is unknown", names.join(", "))
    })
}

/// Reads `left` or `right`, or the letters L and R, in any letter case.
///
/// # Errors
/// What was expected.
pub(super) fn side(text: &str) -> Result<Side, String> {
    match text {
        "L" | "l" => Ok(Side::Left),
        "R" | "r" => Ok(Side::Right),
        _ => name(text, Side::ALL, Side::name),
    }
}

/// Reads a day.
///
/// # Errors
/// What was expected.
pub(super) fn day(text: &str) -> Result<Date, String> {
    let bytes = text.as_bytes();
    let form = bytes.len() == 10 && bytes[4] == b'-' && bytes[7] == b'-';
    let day = if form { text.parse().ok() } else { None };
    day.ok_or_else(|| "a day as year-month-day, such as 2024-05-31".to_owned())
}

/// Reads depths inside a print: `along/across/depth`, metres, with spaces between them.
///
/// # Errors
/// What was expected.
pub(super) fn depth_samples(text: &str) -> Result<Vec<DepthSample>, String> {
    let sample = |part: &str| {
        let mut numbers = part.split('/').map(|number| COORDINATE.read(number).ok());
        let [along_m, across_m, depth_m] = [numbers.next()??, numbers.next()??, numbers.next()??];
        let fits = numbers.next().is_none() && DEPTH.allows(depth_m);
        fits.then_some(DepthSample {
            along_m,
            across_m,
            depth_m,
        })
    };
    text.split_whitespace()
        .map(|part| {
            sample(part).ok_or_else(|| {
                format!("depths as along/across/depth in metres with spaces between them, such as 0.10/-0.02/0.031, not {part:?}")
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_finite_plain_numbers_are_numbers() {
        for good in ["0.25", "1", "+2", "3.", ".5", "1e-3"] {
            assert!(SIZE.read(good).is_ok(), "{good}");
        }
        for bad in [
            "NaN",
            "inf",
            "-infinity",
            "1e999",
            "0x1F",
            "1 000",
            "0.2 m",
            "1_000",
            "٣",
        ] {
            assert!(COORDINATE.read(bad).is_err(), "{bad}");
        }
        assert!(COORDINATE.read("1e999").unwrap_err().contains("finite"));
        assert!(COORDINATE.read("520000,5").unwrap_err().ends_with("520000.5"));
    }

    #[test]
    fn centimetres_are_seen() {
        assert!(SIZE.read("35").unwrap_err().contains("35 looks like centimetres"));
        assert!(SIZE.read("350.5").unwrap_err().contains("centimetres"));
        assert!(SIZE.read("650").unwrap_err().contains("millimetres"));
        assert!(SIZE.read("0").is_err() && SIZE.read("-0.2").is_err());
        assert!(SIZE.read("5").is_ok() && DEPTH.read("0").is_ok());
    }

    #[test]
    fn names_days_and_labels() {
        assert_eq!(side("L"), Ok(Side::Left));
        assert_eq!(side("Right"), Ok(Side::Right));
        assert!(side("lt").unwrap_err().contains("left, right"));
        assert!(day("2024-02-29").is_ok());
        for bad in [
            "2023-02-29",
            "31.05.2024",
            "05/31/2024",
            "20240531",
            "2024-5-31",
            "2024-05-31T00:00",
        ] {
            assert!(day(bad).is_err(), "{bad}");
        }
        assert_eq!(labels("P1; P2,P3  P4").unwrap().len(), 4);
        assert!(labels("P1 a:b").is_err());
        assert!(label("P 1").unwrap_err().contains("hyphen in place"));
        assert!(label("a:b:c").unwrap_err().contains("last colon"));
        assert_eq!(whole::<u8>("10", 0..=10), Ok(10));
        assert!(whole::<u8>("256", 0..=10).is_err() && whole::<u32>("0", 1..=u32::MAX).is_err());
    }

    #[test]
    fn depths_inside_a_print() {
        let samples = depth_samples("0.1/-0.02/0.031 0/0/0").unwrap();
        assert_eq!((samples.len(), samples[0].across_m), (2, -0.02));
        for bad in ["0.1/0.2", "a/b/c", "1/1/1/1", "0/0/-1", "0/0/NaN"] {
            assert!(depth_samples(bad).is_err(), "{bad}");
        }
    }
}
