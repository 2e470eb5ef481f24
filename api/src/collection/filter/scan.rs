//! Words, numbers and quoted texts of CQL2 text, one after the other.

use super::Fault;

/// A text with the place that reading has come to.
pub struct Scan<'a> {
    text: &'a str,
    at: usize,
}

impl<'a> Scan<'a> {
    pub fn new(text: &'a str) -> Self {
        let mut scan = Self { text, at: 0 };
        scan.skip_spaces();
        scan
    }

    /// Where reading has come to.
    pub fn at(&self) -> usize {
        self.at
    }

    /// Goes back to a place that [`Self::at`] told.
    pub fn back_to(&mut self, at: usize) {
        self.at = at;
    }

    /// A fault here.
    pub fn fault(&self, expected: impl Into<String>) -> Fault {
        self.fault_at(self.at, expected)
    }

    /// A fault at a place that [`Self::at`] told.
    pub fn fault_at(&self, at: usize, expected: impl Into<String>) -> Fault {
        let rest = &self.text[at..];
        let mut found: String = rest.chars().take(20).collect();
        if found.len() < rest.len() {
            found.push('…');
        }
        let found = if found.is_empty() {
            "the end".to_owned()
        } else {
            found
        };
        let character = self.text[..at].chars().count() + 1;
        Fault::new(format!("character {character} ({found})"), expected)
    }

    fn rest(&self) -> &'a str {
        &self.text[self.at..]
    }

    fn skip_spaces(&mut self) {
        let rest = self.rest();
        self.at += rest.len() - rest.trim_start().len();
    }

    fn advance(&mut self, bytes: usize) -> &'a str {
        let taken = &self.rest()[..bytes];
        self.at += bytes;
        self.skip_spaces();
        taken
    }

    /// Whether all is read.
    pub fn is_over(&self) -> bool {
        self.rest().is_empty()
    }

    /// Whether a sign comes next; it is not taken.
    pub fn sees(&self, sign: &str) -> bool {
        self.rest().starts_with(sign)
    }

    /// Takes a sign if it comes next.
    pub fn takes(&mut self, sign: &str) -> bool {
        let comes = self.sees(sign);
        if comes {
            self.advance(sign.len());
        }
        comes
    }

    /// Takes a sign.
    pub fn expect(&mut self, sign: &str) -> Result<(), Fault> {
        if self.takes(sign) {
            Ok(())
        } else {
            Err(self.fault(sign))
        }
    }

    fn word_length(&self) -> usize {
        let rest = self.rest();
        let starts = |c: char| c.is_alphabetic() || matches!(c, '_' | ':');
        if !rest.starts_with(starts) {
            return 0;
        }
        let ends = |c: char| !(c.is_alphanumeric() || matches!(c, '_' | ':' | '.'));
        rest.find(ends).unwrap_or(rest.len())
    }

    /// The word that comes next, not taken; empty where none does.
    pub fn word_ahead(&self) -> &'a str {
        &self.rest()[..self.word_length()]
    }

    /// Takes the word that comes next; empty where none does.
    pub fn word(&mut self) -> &'a str {
        self.advance(self.word_length())
    }

    /// Takes a keyword, in upper or lower case, if it comes next.
    pub fn takes_word(&mut self, keyword: &str) -> bool {
        let comes = self.word_ahead().eq_ignore_ascii_case(keyword);
        if comes {
            self.word();
        }
        comes
    }

    /// Takes a number if one comes next.
    pub fn number(&mut self) -> Result<Option<f64>, Fault> {
        let rest = self.rest().as_bytes();
        let digits = |from: usize| rest[from..].iter().take_while(|b| b.is_ascii_digit()).count();
        let sign = usize::from(matches!(rest.first(), Some(b'+' | b'-')));
        let mut length = sign + digits(sign);
        let mut any = length - sign;
        if rest.get(length) == Some(&b'.') {
            let decimals = digits(length + 1);
            any += decimals;
            length += 1 + decimals;
        }
        if any == 0 {
            return Ok(None);
        }
        if matches!(rest.get(length), Some(b'e' | b'E')) {
            let signed = length + 1 + usize::from(matches!(rest.get(length + 1), Some(b'+' | b'-')));
            if signed <= rest.len() && digits(signed) > 0 {
                length = signed + digits(signed);
            }
        }
        let number: Option<f64> = self.rest()[..length].parse().ok();
        match number.filter(|number| number.is_finite()) {
            Some(number) => {
                self.advance(length);
                Ok(Some(number))
            }
            None => Err(self.fault("a number that a double can hold")),
        }
    }

    /// Takes what stands in quotes; the opening quote comes next. A doubled quote is one, and so is one after a
    /// backslash.
    pub fn quoted(&mut self, quote: char) -> Result<String, Fault> {
        let mut read = String::new();
        let mut letters = self.rest().char_indices().skip(1).peekable();
        while let Some((at, letter)) = letters.next() {
            let next = letters.peek().map(|(_, next)| *next);
            if letter == quote && next != Some(quote) {
                self.advance(at + 1);
                return Ok(read);
            }
            if letter == quote || (letter == '\\' && next == Some(quote)) {
                letters.next();
                read.push(quote);
            } else {
                read.push(letter);
            }
        }
        Err(self.fault(format!("a closing {quote} for this one")))
    }
}
