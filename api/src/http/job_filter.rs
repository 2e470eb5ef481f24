//! Which jobs a list has, as the standard's parameters say.

use super::Problem;
use super::asked::Asked;
use crate::store::jobs::{JobFilter, JobStatus};
use jiff::civil::Date;
use jiff::tz::Offset;
use jiff::{Timestamp, ToSpan};

/// How many entries a page of a list has where nobody says.
pub(super) const USUAL: usize = 100;
/// How many it has at most; a larger number is taken as this.
pub(super) const LIMIT: usize = 1000;

/// The parameters of `/jobs` beside `f`.
pub(super) const PARAMETERS: [&str; 8] = [
    "limit",
    "type",
    "processID",
    "status",
    "datetime",
    "minDuration",
    "maxDuration",
    "before",
];

/// How many entries a page shall have.
pub(super) fn limit(asked: &mut Asked) -> Result<usize, Problem> {
    let Some(text) = asked.take("limit")? else {
        return Ok(USUAL);
    };
    let limit = text
        .parse()
        .ok()
        .filter(|limit| *limit > 0)
        .map(|limit: usize| limit.min(LIMIT));
    limit.ok_or_else(|| {
        Problem::bad_request(format!(
            "limit is {text:?}: expected a whole number of 1 or more."
        ))
    })
}

/// Which jobs are asked for, and whether there can be any.
pub(super) fn filter(asked: &mut Asked) -> Result<(JobFilter, bool), Problem> {
    let list = |text: String| {
        text.split(',')
            .map(|part| part.trim().to_owned())
            .collect::<Vec<_>>()
    };
    let kinds = asked
        .take("type")?
        .map(list)
        .unwrap_or_else(|| vec!["process".to_owned()]);
    let statuses = asked.take("status")?.map(|text| {
        let words = list(text);
        words
            .iter()
            .map(|word| word.parse())
            .collect::<Result<Vec<JobStatus>, _>>()
    });
    let statuses = statuses
        .transpose()
        .map_err(|fault| Problem::bad_request(format!("status: {fault}.")))?;
    let (from, to) = match asked.take("datetime")? {
        Some(text) => interval(&text).ok_or_else(|| {
            Problem::bad_request(format!(
                "datetime is {text:?}: expected an instant such as 2026-03-21T09:00:00Z, a day, or two of them with a slash \
                 between, where .. leaves an end open."
            ))
        })?,
        None => (None, None),
    };
    let filter = JobFilter {
        processes: asked.take("processID")?.map(list),
        statuses,
        from,
        to,
        least_s: seconds(asked, "minDuration")?,
        most_s: seconds(asked, "maxDuration")?,
        before: number(asked, "before")?,
    };
    Ok((filter, kinds.iter().any(|kind| kind == "process")))
}

fn number<T: std::str::FromStr>(asked: &mut Asked, name: &str) -> Result<Option<T>, Problem> {
    let parse = |text: String| {
        text.parse()
            .map_err(|_| Problem::bad_request(format!("{name} is {text:?}: expected a number.")))
    };
    asked.take(name)?.map(parse).transpose()
}

fn seconds(asked: &mut Asked, name: &str) -> Result<Option<f64>, Problem> {
    let seconds: Option<f64> = number(asked, name)?;
    match seconds {
        Some(seconds) if !seconds.is_finite() || seconds < 0.0 => Err(Problem::bad_request(format!(
            "{name} is {seconds}: expected seconds, 0 or more."
        ))),
        seconds => Ok(seconds),
    }
}

type Ends = (Option<Timestamp>, Option<Timestamp>);

/// An instant, a day, or an interval of them; both ends included.
fn interval(text: &str) -> Option<Ends> {
    let (from, to) = text.split_once('/').unwrap_or((text, text));
    let open = |text: &str| matches!(text, "" | "..");
    let first = if open(from) { None } else { Some(span(from)?.0) };
    let last = if open(to) { None } else { Some(span(to)?.1) };
    let turned = first.zip(last).is_some_and(|(first, last)| first > last);
    (!turned && (first.is_some() || last.is_some() || text.contains('/'))).then_some((first, last))
}

/// The first and the last millisecond of an instant or a day.
fn span(text: &str) -> Option<(Timestamp, Timestamp)> {
    if let Ok(instant) = text.parse::<Timestamp>() {
        return Some((instant, instant));
    }
    let day: Date = text.parse().ok().filter(|_| text.len() == 10)?;
    let start = |day: Date| Offset::UTC.to_timestamp(day.at(0, 0, 0, 0)).ok();
    Some((start(day)?, start(day.tomorrow().ok()?)? - 1.millisecond()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn intervals_of_days_and_instants() {
        let at = |text: &str| Some(text.parse::<Timestamp>().unwrap());
        assert_eq!(
            interval("2026-03-21"),
            Some((at("2026-03-21T00:00:00Z"), at("2026-03-21T23:59:59.999Z")))
        );
        let nine = at("2026-03-21T09:00:00Z");
        assert_eq!(interval("2026-03-21T09:00:00Z"), Some((nine, nine)));
        assert_eq!(interval("2026-03-21T09:00:00Z/.."), Some((nine, None)));
        assert_eq!(
            interval("/2026-03-21"),
            Some((None, at("2026-03-21T23:59:59.999Z")))
        );
        for text in [
            "",
            "..",
            "march",
            "2026-03-22/2026-03-21",
            "2026-03-21/march",
            "2026-03",
        ] {
            assert_eq!(interval(text), None, "{text}");
        }
    }
}
