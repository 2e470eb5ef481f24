//! Writing SVG compactly: lengths, escaped text and path data. Whatever draws a picture writes it with these.

use std::fmt::{self, Display, Write};

/// A length on the page, written with at most two decimals; what is not finite is written as 0.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Px(pub f64);

impl Display for Px {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write_hundredths(f, hundredths(self.0))
    }
}

/// Far beyond any page, and small enough that differences never overflow.
const FARTHEST_PX: f64 = 1e9;

fn hundredths(px: f64) -> i64 {
    if px.is_finite() {
        (px.clamp(-FARTHEST_PX, FARTHEST_PX) * 100.0).round() as i64
    } else {
        0
    }
}

fn write_hundredths(out: &mut impl Write, value: i64) -> fmt::Result {
    let (whole, rest) = (value.abs() / 100, value.abs() % 100);
    if value < 0 {
        out.write_char('-')?;
    }
    match rest {
        0 => write!(out, "{whole}"),
        tenths if tenths % 10 == 0 => write!(out, "{whole}.{}", tenths / 10),
        _ => write!(out, "{whole}.{rest:02}"),
    }
}

/// Text as it may stand in XML, between tags or in an attribute.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Escaped<'a>(pub &'a str);

impl Display for Escaped<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for letter in self.0.chars() {
            match letter {
                '&' => f.write_str("&amp;")?,
                '<' => f.write_str("&lt;")?,
                '>' => f.write_str("&gt;")?,
                '"' => f.write_str("&quot;")?,
                '\'' => f.write_str("&#39;")?,
                '\n' | '\r' | '\t' => f.write_char(' ')?,
                // XML 1.0, section 2.2, has no place for these, not even escaped.
                '\u{0}'..'\u{20}' | '\u{fffe}' | '\u{ffff}' => f.write_char('\u{fffd}')?,
                _ => f.write_char(letter)?,
            }
        }
        Ok(())
    }
}

/// The data of a `path`, in steps relative to the last point: short, and rounded without drift.
#[derive(Debug, Default)]
pub(crate) struct Path {
    data: String,
    at: [i64; 2],
    start: [i64; 2],
}

impl Path {
    pub(crate) fn move_to(&mut self, to: [f64; 2]) {
        self.data.push('m');
        self.step(&[to]);
        self.start = self.at;
    }

    pub(crate) fn line_to(&mut self, to: [f64; 2]) {
        self.data.push('l');
        self.step(&[to]);
    }

    /// A cubic Bézier curve: two control points and the end.
    pub(crate) fn curve_to(&mut self, points: &[[f64; 2]; 3]) {
        self.data.push('c');
        self.step(points);
    }

    /// An arc of a circle, clockwise on the page and of no more than half a turn.
    pub(crate) fn arc_to(&mut self, radius: f64, to: [f64; 2]) {
        let radius = Px(radius);
        let _ = write!(self.data, "a{radius} {radius} 0 0 1");
        self.step(&[to]);
    }

    pub(crate) fn close(&mut self) {
        self.data.push('z');
        self.at = self.start;
    }

    /// A straight line through all points.
    pub(crate) fn through(points: &[[f64; 2]]) -> Self {
        let mut path = Self::default();
        path.follow(points);
        path
    }

    /// One more straight line through all of some points.
    pub(crate) fn follow(&mut self, points: &[[f64; 2]]) {
        for (i, point) in points.iter().enumerate() {
            if i == 0 {
                self.move_to(*point)
            } else {
                self.line_to(*point)
            }
        }
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.data.is_empty()
    }

    fn step(&mut self, points: &[[f64; 2]]) {
        let from = self.at;
        for point in points {
            self.at = point.map(hundredths);
            for (to, from) in self.at.iter().zip(&from) {
                let step = to - from;
                // A letter or a minus sign parts two numbers by itself.
                if step >= 0 && !self.data.ends_with(char::is_alphabetic) {
                    self.data.push(' ');
                }
                write_hundredths(&mut self.data, step).expect("a String takes all text");
            }
        }
    }
}

impl Display for Path {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.data)
    }
}

/// How much wider bold letters are.
pub(crate) const BOLDER: f64 = 1.12;

/// About how wide a text stands in a sans-serif face; rather too wide than too narrow.
pub(crate) fn text_width(text: &str, size: f64) -> f64 {
    let ems: f64 = text.chars().map(letter_ems).sum();
    ems * size
}

fn letter_ems(letter: char) -> f64 {
    match letter {
        'i' | 'j' | 'l' | '.' | ',' | ':' | ';' | '\'' | '|' | '!' | '\u{202f}' => 0.32,
        ' ' | 'f' | 'r' | 't' | '(' | ')' | '-' | '/' => 0.4,
        'm' | 'w' | 'M' | 'W' => 0.95,
        'A'..='Z' => 0.72,
        '\u{1100}'.. => 1.05,
        _ => 0.62,
    }
}

/// The text cut, with a sign that it was, to what fits in a width.
pub(crate) fn fitted(text: &str, size: f64, width: f64) -> String {
    if text_width(text, size) <= width {
        return text.to_owned();
    }
    let mut used = letter_ems('…') * size;
    let kept = text.chars().take_while(|letter| {
        used += letter_ems(*letter) * size;
        used <= width
    });
    kept.collect::<String>() + "…"
}

/// The text with its middle cut out, where it does not fit in a width: names that begin alike often differ at
/// their ends.
pub(crate) fn shortened(text: &str, size: f64, width: f64) -> String {
    if text_width(text, size) <= width {
        return text.to_owned();
    }
    let letters: Vec<char> = text.chars().collect();
    let half = 0.5 * (width - letter_ems('…') * size);
    let fitting = |letters: &mut dyn Iterator<Item = &char>| {
        let mut used = 0.0;
        let fits = |letter: &&char| {
            used += letter_ems(**letter) * size;
            used <= half
        };
        letters.take_while(fits).count()
    };
    let (head, tail) = (fitting(&mut letters.iter()), fitting(&mut letters.iter().rev()));
    let head: String = letters[..head].iter().collect();
    let tail: String = letters[letters.len() - tail..].iter().collect();
    format!("{}…{}", head.trim_end(), tail.trim_start())
}

/// The text broken at spaces into lines that fit in a width.
pub(crate) fn wrapped(text: &str, size: f64, width: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split(' ').filter(|word| !word.is_empty()) {
        match lines.last_mut() {
            Some(line) if text_width(line, size) + text_width(word, size) + 0.4 * size <= width => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(fitted(word, size, width)),
        }
    }
    lines
}

/// The text in so many lines at most; the last one of a longer text ends with a sign that it was cut.
pub(crate) fn set_in_lines(text: &str, size: f64, width: f64, most: usize) -> Vec<String> {
    let mut lines = wrapped(text, size, width);
    if lines.len() > most {
        lines.truncate(most);
        if let Some(last) = lines.last_mut() {
            *last += " …";
        }
    }
    lines
}

/// A whole number with a narrow space between thousands.
pub(crate) fn grouped(value: i64) -> String {
    let digits = value.unsigned_abs().to_string();
    let mut text = String::from(if value < 0 { "−" } else { "" });
    for (i, digit) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            text.push('\u{202f}');
        }
        text.push(digit);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_short() {
        let written: Vec<String> = [0.0, -0.001, 1.5, -12.345, 0.05, f64::NAN, 1e300]
            .iter()
            .map(|px| Px(*px).to_string())
            .collect();
        assert_eq!(written, ["0", "0", "1.5", "-12.35", "0.05", "0", "1000000000"]);
    }

    #[test]
    fn text_is_escaped_and_control_letters_replaced() {
        let written = Escaped("<a href=\"x\">&'\u{0}\u{b}\n").to_string();
        assert_eq!(written, "&lt;a href=&quot;x&quot;&gt;&amp;&#39;\u{fffd}\u{fffd} ");
    }

    #[test]
    fn a_path_steps_without_drift() {
        let mut path = Path::default();
        path.move_to([10.0, 20.004]);
        for i in 1..=1000 {
            path.line_to([10.0 + f64::from(i) * 0.004, 20.0]);
        }
        assert_eq!(path.at, [1400, 2000]);
        path.close();
        path.move_to([11.0, 19.5]);
        assert!(
            path.to_string().ends_with("zm1-0.5"),
            "after closing, steps count from the start"
        );
    }

    #[test]
    fn an_arc_has_its_radius_and_steps_as_a_line_does() {
        let mut path = Path::default();
        path.move_to([0.0, -10.0]);
        path.arc_to(10.0, [10.0, 0.0]);
        path.arc_to(10.0, [0.0, 10.0]);
        assert_eq!(path.to_string(), "m0-10a10 10 0 0 1 10 10a10 10 0 0 1-10 10");
    }

    #[test]
    fn thousands_stand_apart() {
        assert_eq!(grouped(4_835_120), "4\u{202f}835\u{202f}120");
        assert_eq!(grouped(-1_000), "−1\u{202f}000");
        assert_eq!(grouped(999), "999");
    }

    #[test]
    fn long_text_is_cut_and_wrapped() {
        assert!(text_width(&fitted(&"W".repeat(500), 10.0, 200.0), 10.0) <= 200.0);
        assert_eq!(fitted("short", 10.0, 200.0), "short");
        assert_eq!(shortened("short", 10.0, 200.0), "short");
        assert_eq!(
            shortened("a long name that ends with 17", 10.0, 100.0),
            "a long n…with 17"
        );
        assert_eq!(shortened("wide", 10.0, 5.0), "…");
        let lines = wrapped("the quick brown animal walked over the wet mud", 10.0, 100.0);
        assert!(lines.len() > 2 && lines.iter().all(|line| text_width(line, 10.0) <= 100.0));
        assert!(wrapped("", 10.0, 100.0).is_empty());
    }
}
