//! CQL2 text: a parser that goes down the grammar of OGC 21-065r2, Annex B.

use super::Fault;
use super::build::{self, DEEPEST, Term, Vocabulary};
use super::condition::{Comparison, Condition, Operand, Place, Relation};
use super::scan::Scan;
use super::shape::{self, Coordinates, Kind};
use geo::Geometry;

/// Reads a condition.
///
/// # Errors
/// Where the text is not one, and what was expected there.
pub fn read(text: &str, words: &Vocabulary) -> Result<Condition, Fault> {
    let mut parser = Parser {
        scan: Scan::new(text),
        words,
        depth: 0,
    };
    let condition = parser.condition()?;
    if parser.scan.is_over() {
        Ok(condition)
    } else {
        Err(parser.scan.fault("AND, OR or the end"))
    }
}

struct Parser<'a> {
    scan: Scan<'a>,
    words: &'a Vocabulary,
    /// How many brackets and NOTs stand around this place.
    depth: usize,
}

impl Parser<'_> {
    /// Reads something one level deeper.
    fn deeper<T>(&mut self, read: impl FnOnce(&mut Self) -> Result<T, Fault>) -> Result<T, Fault> {
        if self.depth == DEEPEST {
            return Err(self
                .scan
                .fault(format!("at most {DEEPEST} levels of brackets and NOT")));
        }
        self.depth += 1;
        let read = read(self);
        self.depth -= 1;
        read
    }

    fn condition(&mut self) -> Result<Condition, Fault> {
        self.chain("OR", Condition::Or, |parser| {
            parser.chain("AND", Condition::And, Self::factor)
        })
    }

    fn chain(
        &mut self,
        keyword: &str,
        joined: fn(Vec<Condition>) -> Condition,
        read: impl Fn(&mut Self) -> Result<Condition, Fault>,
    ) -> Result<Condition, Fault> {
        let first = read(self)?;
        let mut all = vec![first];
        while self.scan.takes_word(keyword) {
            all.push(read(self)?);
        }
        Ok(if all.len() == 1 {
            all.remove(0)
        } else {
            joined(all)
        })
    }

    fn factor(&mut self) -> Result<Condition, Fault> {
        if self.scan.takes_word("NOT") {
            let inner = self.deeper(Self::factor)?;
            return Ok(Condition::Not(inner.into()));
        }
        if self.scan.takes("(") {
            let inner = self.deeper(Self::condition)?;
            self.scan.expect(")")?;
            return Ok(inner);
        }
        self.predicate()
    }

    fn predicate(&mut self) -> Result<Condition, Fault> {
        let at = self.scan.at();
        if let Some(relation) = Relation::named(self.scan.word_ahead()) {
            self.scan.word();
            let [one, other] = self.two()?;
            let made = self.words.spatial(relation, one, other);
            return made.map_err(|expected| self.scan.fault_at(at, expected));
        }
        let left = self.term()?;
        let at = self.scan.at();
        let sign = Comparison::ALL
            .into_iter()
            .find(|how| self.scan.takes(how.sign()));
        let made = if let Some(how) = sign {
            let at = self.scan.at();
            let right = self.term()?;
            return self
                .words
                .compare(how, left, right)
                .map_err(|expected| self.scan.fault_at(at, expected));
        } else if self.scan.takes_word("IS") {
            let not = self.scan.takes_word("NOT");
            if !self.scan.takes_word("NULL") {
                return Err(self.scan.fault("NULL"));
            }
            Ok(negated(not, self.words.is_null(left)))
        } else if let Term::Value(Operand::Boolean(value)) = left {
            return Ok(Condition::Always(value));
        } else {
            let not = self.scan.takes_word("NOT");
            self.wider(left)?.map(|made| negated(not, made))
        };
        made.map_err(|expected| self.scan.fault_at(at, expected))
    }

    /// LIKE, BETWEEN or IN after a value; what does not fit is told of by whoever knows where the value stands.
    fn wider(&mut self, left: Term) -> Result<Result<Condition, String>, Fault> {
        if self.scan.takes_word("LIKE") {
            let pattern = self.term()?;
            Ok(self.words.like(left, pattern))
        } else if self.scan.takes_word("BETWEEN") {
            let least = self.term()?;
            if !self.scan.takes_word("AND") {
                return Err(self.scan.fault("AND and the upper end"));
            }
            let greatest = self.term()?;
            Ok(self.words.between(left, least, greatest))
        } else if self.scan.takes_word("IN") {
            let list = self.list(Self::term)?;
            Ok(self.words.one_of(left, list))
        } else {
            Err(self
                .scan
                .fault("a comparison: =, <>, <, >, <=, >=, LIKE, BETWEEN, IN or IS NULL"))
        }
    }

    /// A list in brackets.
    fn list<T>(&mut self, read: impl Fn(&mut Self) -> Result<T, Fault>) -> Result<Vec<T>, Fault> {
        self.scan.expect("(")?;
        let mut all = vec![read(self)?];
        while self.scan.takes(",") {
            all.push(read(self)?);
        }
        if self.scan.takes(")") {
            Ok(all)
        } else {
            Err(self.scan.fault(", or )"))
        }
    }

    fn two(&mut self) -> Result<[Term; 2], Fault> {
        let at = self.scan.at();
        let terms = self.list(Self::term)?;
        terms
            .try_into()
            .map_err(|_| self.scan.fault_at(at, "two geometries in brackets"))
    }

    /// A property, a value that is written down, or a geometry.
    fn term(&mut self) -> Result<Term, Fault> {
        let at = self.scan.at();
        if self.scan.sees("'") {
            return Ok(Term::Value(Operand::Text(self.scan.quoted('\'')?)));
        }
        if self.scan.sees("\"") {
            let name = self.scan.quoted('"')?;
            return self.named(&name, at);
        }
        if let Some(number) = self.scan.number()? {
            return Ok(build::number(number));
        }
        let word = self.scan.word();
        match word.to_ascii_uppercase().as_str() {
            "" => Err(self.scan.fault("a property or a value")),
            "TRUE" => Ok(Term::Value(Operand::Boolean(true))),
            "FALSE" => Ok(Term::Value(Operand::Boolean(false))),
            _ if self.scan.sees("(") => self.call(word, at),
            _ => self.named(word, at),
        }
    }

    fn named(&self, name: &str, at: usize) -> Result<Term, Fault> {
        self.words
            .named(name)
            .map_err(|expected| self.scan.fault_at(at, expected))
    }

    /// What a word with brackets after it means.
    fn call(&mut self, word: &str, at: usize) -> Result<Term, Fault> {
        let inside = self.scan.at();
        let fault = |parser: &Self, expected| parser.scan.fault_at(inside, expected);
        match word.to_ascii_uppercase().as_str() {
            "CASEI" => {
                self.scan.expect("(")?;
                let term = self.deeper(Self::term)?;
                self.scan.expect(")")?;
                self.words.folded(term).map_err(|expected| fault(self, expected))
            }
            name @ ("DATE" | "TIMESTAMP") => {
                self.scan.expect("(")?;
                if !self.scan.sees("'") {
                    return Err(self.scan.fault("a text in quotes"));
                }
                let text = self.scan.quoted('\'')?;
                self.scan.expect(")")?;
                let read = if name == "DATE" {
                    build::day
                } else {
                    build::instant
                };
                read(&text).map_err(|expected| fault(self, expected))
            }
            _ => {
                self.scan.back_to(at);
                Ok(Term::Place(Place::Given(self.geometry()?)))
            }
        }
    }

    fn geometry(&mut self) -> Result<Geometry<f64>, Fault> {
        let at = self.scan.at();
        let word = self.scan.word();
        let crs = &self.words.crs;
        let made = if word.eq_ignore_ascii_case("BBOX") {
            let numbers = self.list(Self::number)?;
            shape::bbox(&numbers, crs)
        } else if word.eq_ignore_ascii_case("GEOMETRYCOLLECTION") {
            let parts = self.deeper(|parser| parser.list(Self::geometry))?;
            shape::collection(parts)
        } else if let Some(kind) = Kind::named(word) {
            self.scan.takes_word("Z");
            // A point's brackets hold its position itself, all others hold lists.
            let written = match self.coordinates(0)? {
                Coordinates::List(mut list) if kind == Kind::Point && list.len() == 1 => list.remove(0),
                written => written,
            };
            shape::geometry(kind, &written, crs)
        } else {
            Err(format!(
                "a function that there is: S_INTERSECTS and its like, CASEI, DATE, TIMESTAMP, BBOX, POINT, LINESTRING, \
                 POLYGON, their MULTI forms or GEOMETRYCOLLECTION, and there is no {}",
                word.chars().take(40).collect::<String>()
            ))
        };
        made.map_err(|expected| self.scan.fault_at(at, expected))
    }

    fn number(&mut self) -> Result<f64, Fault> {
        self.scan.number()?.ok_or_else(|| self.scan.fault("a number"))
    }

    /// Positions in brackets in brackets.
    fn coordinates(&mut self, depth: usize) -> Result<Coordinates, Fault> {
        if depth == shape::DEEPEST {
            return Err(self.scan.fault("a position such as -3.68 43.46"));
        }
        let list = self.list(|parser| {
            if parser.scan.sees("(") {
                return parser.coordinates(depth + 1);
            }
            let mut position = vec![parser.number()?];
            while let Some(number) = parser.scan.number()? {
                position.push(number);
            }
            Ok(Coordinates::Position(position))
        })?;
        Ok(Coordinates::List(list))
    }
}

fn negated(not: bool, condition: Condition) -> Condition {
    if not {
        Condition::Not(condition.into())
    } else {
        condition
    }
}
