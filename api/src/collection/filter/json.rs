//! CQL2 JSON (OGC 21-065r2, the schema cql2.json), read into the same tree as the text.

use super::Fault;
use super::build::{self, DEEPEST, Term, Vocabulary};
use super::condition::{Comparison, Condition, Operand, Place, Relation};
use super::shape::{self, Coordinates, Kind};
use geo::Geometry;
use serde_json::Value;

/// Reads a condition.
///
/// # Errors
/// Where the text is not one, and what was expected there.
pub fn read(text: &str, words: &Vocabulary) -> Result<Condition, Fault> {
    // The depth of what serde_json takes is limited, too.
    let value: Value = serde_json::from_str(text).map_err(|error| {
        let place = format!("line {} column {}", error.line(), error.column());
        Fault::new(place, format!("JSON: {error}"))
    })?;
    Reader { words }.condition(&At::root(), &value)
}

struct Reader<'a> {
    words: &'a Vocabulary,
}

/// A place in the document (a JSON Pointer, RFC 6901), and how deep it lies.
struct At {
    pointer: String,
    depth: usize,
}

impl At {
    fn root() -> Self {
        Self {
            pointer: String::new(),
            depth: 0,
        }
    }

    fn within(&self, step: impl std::fmt::Display) -> Self {
        Self {
            pointer: format!("{}/{step}", self.pointer),
            depth: self.depth + 1,
        }
    }

    fn argument(&self, no: usize) -> Self {
        Self {
            pointer: format!("{}/args/{no}", self.pointer),
            depth: self.depth + 1,
        }
    }

    fn fault(&self, expected: impl Into<String>) -> Fault {
        let place = if self.pointer.is_empty() {
            "/"
        } else {
            &self.pointer
        };
        Fault::new(place, expected)
    }

    fn fits<T>(&self, made: Result<T, String>) -> Result<T, Fault> {
        made.map_err(|expected| self.fault(expected))
    }
}

impl Reader<'_> {
    fn condition(&self, at: &At, value: &Value) -> Result<Condition, Fault> {
        if at.depth > DEEPEST {
            return Err(at.fault(format!("at most {DEEPEST} levels")));
        }
        if let Value::Bool(value) = value {
            return Ok(Condition::Always(*value));
        }
        let (Some(op), Some(args)) = (value["op"].as_str(), value["args"].as_array()) else {
            return Err(at.fault("a condition: an object with op and args, or true or false"));
        };
        if let [_, _] = args[..] {
            if let Some(how) = Comparison::ALL.into_iter().find(|how| how.sign() == op) {
                let [left, right] = self.two(at, args)?;
                return at.fits(self.words.compare(how, left, right));
            }
            if let Some(relation) = Relation::ALL.into_iter().find(|relation| relation.name() == op) {
                let [one, other] = self.two(at, args)?;
                return at.fits(self.words.spatial(relation, one, other));
            }
        }
        match (op, args.as_slice()) {
            ("and" | "or", [_, _, ..]) => {
                let parts = args
                    .iter()
                    .enumerate()
                    .map(|(no, part)| self.condition(&at.argument(no), part))
                    .collect::<Result<_, _>>()?;
                Ok(if op == "and" {
                    Condition::And(parts)
                } else {
                    Condition::Or(parts)
                })
            }
            ("not", [inner]) => {
                let inner = self.condition(&at.argument(0), inner)?;
                Ok(Condition::Not(inner.into()))
            }
            ("isNull", [_]) => Ok(self.words.is_null(self.argument(at, args, 0)?)),
            ("like", [_, _]) => {
                let [value, pattern] = self.two(at, args)?;
                at.fits(self.words.like(value, pattern))
            }
            ("between", [_, _, _]) => {
                let [value, least] = self.two(at, args)?;
                at.fits(self.words.between(value, least, self.argument(at, args, 2)?))
            }
            ("in", [_, Value::Array(list)]) => {
                let value = self.argument(at, args, 0)?;
                let inside = at.argument(1);
                let list = list.iter().enumerate();
                let list = list.map(|(no, one)| self.term(&inside.within(no), one));
                at.fits(self.words.one_of(value, list.collect::<Result<_, _>>()?))
            }
            _ => Err(at.fault(format!(
                "an op with as many args as it takes: and, or, not, =, <>, <, >, <=, >=, like, between, in, isNull, {}; \
                 and this is {} with {}",
                Relation::ALL.map(Relation::name).join(", "),
                op.chars().take(40).collect::<String>(),
                args.len()
            ))),
        }
    }

    fn argument(&self, at: &At, args: &[Value], no: usize) -> Result<Term, Fault> {
        self.term(&at.argument(no), &args[no])
    }

    fn two(&self, at: &At, args: &[Value]) -> Result<[Term; 2], Fault> {
        Ok([self.argument(at, args, 0)?, self.argument(at, args, 1)?])
    }

    fn term(&self, at: &At, value: &Value) -> Result<Term, Fault> {
        if at.depth > DEEPEST {
            return Err(at.fault(format!("at most {DEEPEST} levels")));
        }
        let text = |name: &str| value[name].as_str();
        match value {
            Value::String(text) => Ok(Term::Value(Operand::Text(text.clone()))),
            Value::Bool(value) => Ok(Term::Value(Operand::Boolean(*value))),
            Value::Number(number) => {
                let number = number
                    .as_f64()
                    .ok_or_else(|| at.fault("a number that a double can hold"))?;
                Ok(build::number(number))
            }
            Value::Object(_) => {
                if let Some(name) = text("property") {
                    at.fits(self.words.named(name))
                } else if let Some(day) = text("date") {
                    at.fits(build::day(day))
                } else if let Some(instant) = text("timestamp") {
                    at.fits(build::instant(instant))
                } else if let (Some("casei"), Some([inner])) =
                    (text("op"), value["args"].as_array().map(Vec::as_slice))
                {
                    at.fits(self.words.folded(self.term(&at.argument(0), inner)?))
                } else {
                    Ok(Term::Place(Place::Given(self.geometry(at, value)?)))
                }
            }
            Value::Null | Value::Array(_) => Err(at.fault("a property or a value")),
        }
    }

    fn geometry(&self, at: &At, value: &Value) -> Result<Geometry<f64>, Fault> {
        if at.depth > DEEPEST {
            return Err(at.fault(format!("at most {DEEPEST} levels")));
        }
        let crs = &self.words.crs;
        let kind = value["type"].as_str().unwrap_or_default();
        if let Some(numbers) = value.get("bbox").filter(|_| kind.is_empty()) {
            return match coordinates(numbers, 0) {
                Some(Coordinates::Position(numbers)) => at.fits(shape::bbox(&numbers, crs)),
                _ => Err(at.within("bbox").fault("a list of numbers")),
            };
        }
        if let ("GeometryCollection", Some(parts)) = (kind, value["geometries"].as_array()) {
            let inside = at.within("geometries");
            let parts = parts.iter().enumerate();
            let parts = parts.map(|(no, part)| self.geometry(&inside.within(no), part));
            return at.fits(shape::collection(parts.collect::<Result<_, _>>()?));
        }
        let kind = Kind::ALL.into_iter().find(|known| known.name() == kind);
        let Some(kind) = kind else {
            return Err(at.fault("a property, date, timestamp, casei, bbox or a GeoJSON geometry"));
        };
        let inside = at.within("coordinates");
        let written = coordinates(&value["coordinates"], 0);
        let written = written.ok_or_else(|| inside.fault("numbers in lists"))?;
        inside.fits(shape::geometry(kind, &written, crs))
    }
}

/// Numbers in lists in lists; `None` where something else stands among them.
fn coordinates(value: &Value, depth: usize) -> Option<Coordinates> {
    let list = value.as_array().filter(|_| depth <= shape::DEEPEST)?;
    if list.first().is_some_and(Value::is_number) {
        let numbers: Option<Vec<f64>> = list.iter().map(Value::as_f64).collect();
        return numbers.map(Coordinates::Position);
    }
    let inner = list.iter().map(|inner| coordinates(inner, depth + 1));
    inner.collect::<Option<_>>().map(Coordinates::List)
}
