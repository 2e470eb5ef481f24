//! Spans of time as users write them.

use jiff::{Span, SpanRelativeTo};
use std::time::Duration;

/// A span such as 7d, 12h, 90m or 30s; a day has 24 hours.
pub(super) fn span(text: &str) -> Result<Duration, String> {
    let expected = || format!("{text:?}: expected a span of time such as 7d, 12h, 90m or 30s");
    let span: Span = text.parse().map_err(|_| expected())?;
    let exact = span
        .to_duration(SpanRelativeTo::days_are_24_hours())
        .map_err(|_| expected())?;
    Duration::try_from(exact).map_err(|_| expected())
}

/// The same, and not nothing.
pub(super) fn some_span(text: &str) -> Result<Duration, String> {
    match span(text)? {
        Duration::ZERO => Err("expected a span of time that is longer than nothing".to_owned()),
        span => Ok(span),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_hours_minutes_and_seconds() {
        for (text, seconds) in [
            ("7d", 604_800),
            ("12h", 43_200),
            ("90m", 5_400),
            ("30s", 30),
            ("1d 1h", 90_000),
        ] {
            assert_eq!(span(text), Ok(Duration::from_secs(seconds)), "{text}");
        }
        for text in ["", "7", "-1d", "a week", "1mo"] {
            assert!(span(text).is_err(), "{text}");
        }
        assert!(some_span("0s").is_err());
    }
}
