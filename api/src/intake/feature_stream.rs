//! The features of a GeoJSON document, one at a time, in bounded memory.

use super::Fault;
use super::batch::Stop;
use serde::de::{DeserializeSeed, Error as _, MapAccess, SeqAccess, Visitor};
use serde_json::Value;
use std::cell::Cell;
use std::fmt;
use std::io::{self, BufReader, Read};

/// A feature or another member of the document may have this many bytes.
const LONGEST: u64 = 1 << 20;

/// Who hears what the document holds.
pub(super) trait Listener {
    /// The member `crs` of the collection, before any feature.
    ///
    /// # Errors
    /// Where it names no known CRS, so that the features would lie anywhere.
    fn crs(&mut self, crs: &Value) -> Result<(), Fault>;
    /// A feature, by its number from 1; `read` is how many bytes have been read by now.
    ///
    /// # Errors
    /// When reading should stop.
    fn feature(&mut self, no: u64, feature: Value, read: u64) -> Result<(), Stop>;
}

/// Why the document could not be read to its end.
#[derive(Debug)]
pub(super) enum Broken {
    /// The listener or the reader stopped it.
    Stop(Stop),
    /// The rest of the document cannot be made out.
    Sheet(Fault),
}

/// Reads a FeatureCollection to its end; gives how many features it has.
///
/// # Errors
/// When the reader fails, the listener stops, or the document is no FeatureCollection.
pub(super) fn read(reader: impl Read, listener: &mut dyn Listener) -> Result<u64, Broken> {
    let meter = Meter::default();
    let metered = Metered {
        reader: BufReader::new(reader),
        meter: &meter,
    };
    let mut collection = Collection {
        listener,
        meter: &meter,
        kind: None,
        features: 0,
        stop: None,
        crs_fault: None,
    };
    let mut document = serde_json::Deserializer::from_reader(metered);
    meter.refill();
    let result = (&mut collection)
        .deserialize(&mut document)
        .and_then(|()| document.end());
    match result {
        Ok(()) => collection.finish(),
        Err(error) => Err(collection.broken(error)),
    }
}

/// How far the document has been read, and how much further the member at hand may reach.
#[derive(Default)]
struct Meter {
    read: Cell<u64>,
    limit: Cell<u64>,
}

impl Meter {
    fn refill(&self) {
        self.limit.set(self.read.get() + LONGEST);
    }

    fn is_spent(&self) -> bool {
        self.read.get() >= self.limit.get()
    }
}

struct Metered<'m, R> {
    reader: R,
    meter: &'m Meter,
}

impl<R: Read> Read for Metered<'_, R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        if self.meter.is_spent() {
            return Err(io::Error::other("a member is too long"));
        }
        let read = self.reader.read(buffer)?;
        self.meter.read.set(self.meter.read.get() + read as u64);
        Ok(read)
    }
}

struct Collection<'l> {
    listener: &'l mut dyn Listener,
    meter: &'l Meter,
    kind: Option<Value>,
    features: u64,
    stop: Option<Stop>,
    crs_fault: Option<Fault>,
}

impl Collection<'_> {
    fn finish(self) -> Result<u64, Broken> {
        if self.kind.as_ref().and_then(Value::as_str) == Some("FeatureCollection") {
            return Ok(self.features);
        }
        let kind = self.kind.unwrap_or(Value::Null).to_string();
        let fault = Fault::of_sheet(format!(
            "a GeoJSON object with \"type\": \"FeatureCollection\", not {kind:.80}"
        ));
        Err(Broken::Sheet(fault))
    }

    fn take_crs(&mut self, crs: &Value) -> Result<(), Fault> {
        if self.features > 0 {
            let expected = "the member crs before the member features: write it first";
            return Err(Fault::of_row(self.features + 1, expected));
        }
        self.listener.crs(crs)
    }

    fn broken(self, error: serde_json::Error) -> Broken {
        if let Some(stop) = self.stop {
            return Broken::Stop(stop);
        }
        if let Some(fault) = self.crs_fault {
            return Broken::Sheet(fault);
        }
        let expected = if self.meter.is_spent() {
            "at most 1 MiB in a feature or another member; the rest was not read".to_owned()
        } else if error.is_io() {
            return Broken::Stop(Stop::Read(error.into()));
        } else {
            format!(
                "a GeoJSON FeatureCollection; after feature {}: {error}",
                self.features
            )
        };
        Broken::Sheet(Fault::of_row(self.features + 1, expected))
    }
}

impl<'de> DeserializeSeed<'de> for &mut Collection<'_> {
    type Value = ();

    fn deserialize<D: serde::Deserializer<'de>>(self, document: D) -> Result<(), D::Error> {
        document.deserialize_map(self)
    }
}

impl<'de> Visitor<'de> for &mut Collection<'_> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("an object of type FeatureCollection")
    }

    fn visit_map<A: MapAccess<'de>>(self, mut members: A) -> Result<(), A::Error> {
        while let Some(name) = members.next_key::<String>()? {
            self.meter.refill();
            match name.as_str() {
                "type" => self.kind = Some(members.next_value()?),
                "features" => members.next_value_seed(Features(self))?,
                "crs" => {
                    let crs = members.next_value()?;
                    self.take_crs(&crs).map_err(|fault| {
                        let error = A::Error::custom(&fault);
                        self.crs_fault = Some(fault);
                        error
                    })?;
                }
                _ => {
                    members.next_value::<serde::de::IgnoredAny>()?;
                }
            }
            self.meter.refill();
        }
        Ok(())
    }
}

struct Features<'c, 'l>(&'c mut Collection<'l>);

impl<'de> DeserializeSeed<'de> for Features<'_, '_> {
    type Value = ();

    fn deserialize<D: serde::Deserializer<'de>>(self, features: D) -> Result<(), D::Error> {
        features.deserialize_seq(self)
    }
}

impl<'de> Visitor<'de> for Features<'_, '_> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("an array of features")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut features: A) -> Result<(), A::Error> {
        let collection = self.0;
        while let Some(feature) = features.next_element::<Value>()? {
            collection.features += 1;
            let read = collection.meter.read.get();
            let heard = collection.listener.feature(collection.features, feature, read);
            if let Err(stop) = heard {
                collection.stop = Some(stop);
                return Err(A::Error::custom("stopped"));
            }
            collection.meter.refill();
        }
        Ok(())
    }
}
