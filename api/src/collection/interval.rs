//! A span of time to filter by.

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::Offset;

/// A span of days, both ends included; an open end is `None`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Interval {
    from: Option<Date>,
    to: Option<Date>,
}

impl Interval {
    /// Reads a day or an instant of RFC 3339, or two of them with a slash between, where `..` or
    /// nothing leaves an end open. The record knows days only, so an instant counts as its day in UTC.
    ///
    /// # Errors
    /// What was expected, when the text has none of these forms.
    pub fn parse(text: &str) -> Result<Self, String> {
        let expected = || {
            "a day such as 2026-03-21, an instant such as 2026-03-21T09:00:00Z, or an interval such as \
             2026-03-01/2026-03-31 or 2026-03-01/.."
                .to_owned()
        };
        let end = |text: &str| match text {
            "" | ".." => Ok(None),
            _ => day(text).map(Some).ok_or_else(expected),
        };
        match text.split_once('/') {
            None => {
                let day = day(text).ok_or_else(expected)?;
                Ok(Self {
                    from: Some(day),
                    to: Some(day),
                })
            }
            Some((from, to)) => {
                let interval = Self {
                    from: end(from)?,
                    to: end(to)?,
                };
                let turned = interval.from.zip(interval.to).is_some_and(|(from, to)| from > to);
                if turned {
                    Err("an interval whose first day is not after its last".to_owned())
                } else {
                    Ok(interval)
                }
            }
        }
    }

    /// Whether a record of this day is selected; one without a day always is, as the standard has it.
    #[must_use]
    pub fn takes(&self, day: Option<Date>) -> bool {
        day.is_none_or(|day| self.from.is_none_or(|from| from <= day) && self.to.is_none_or(|to| day <= to))
    }
}

fn day(text: &str) -> Option<Date> {
    if text.contains(['T', 't', ' ']) {
        let instant: Timestamp = text.parse().ok()?;
        Some(Offset::UTC.to_datetime(instant).date())
    } else {
        text.parse().ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_instants_and_open_intervals() {
        let day = |text: &str| Some(text.parse::<Date>().unwrap());
        let march = Interval::parse("2026-03-01/2026-03-31").unwrap();
        assert!(march.takes(day("2026-03-01")) && march.takes(day("2026-03-31")));
        assert!(!march.takes(day("2026-04-01")));
        assert!(march.takes(None), "records without a time match");
        assert!(Interval::parse("../2026-03-31").unwrap().takes(day("1999-01-01")));
        assert!(Interval::parse("2026-03-01/").unwrap().takes(day("2030-01-01")));
        assert!(
            Interval::parse("2026-03-21T23:30:00-02:00")
                .unwrap()
                .takes(day("2026-03-22")),
            "its day in UTC"
        );
        for bad in [
            "",
            "yesterday",
            "2026-02-30",
            "2026-03-31/2026-03-01",
            "2026-03-01/2026-03-02/2026-03-03",
        ] {
            assert!(Interval::parse(bad).is_err(), "{bad:?}");
        }
    }
}
