//! Prints.

use super::{Label, named};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use std::sync::Arc;

named!(
    /// Hind or fore foot.
    Limb {
        /// A hind foot.
        Pes = "pes",
        /// A fore foot.
        Manus = "manus",
    }
);
named!(
    /// Left or right foot.
    Side {
        /// A left foot.
        Left = "left",
        /// A right foot.
        Right = "right",
    }
);
named!(
    /// What was recorded: the print itself, or what remains of it.
    Record {
        /// The footprint itself, on the surface that the foot trod.
        Print = "print",
        /// A natural cast of the print.
        Cast = "cast",
        /// An impression in a layer below the one that was trodden.
        Undertrack = "undertrack",
        /// A subsurface anomaly, as of radar, that is held to be a print.
        Anomaly = "anomaly",
    }
);

/// The depth of a print at one place inside it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct DepthSample {
    /// Metres from the print's centre along its axis, towards the digits positive.
    pub along_m: f64,
    /// Metres from the print's axis, to its right positive.
    pub across_m: f64,
    /// Depth below the surface, metres.
    pub depth_m: f64,
}

/// What only few prints have; kept apart so that the others stay small in memory.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Remarks {
    /// The prints on the same surface that this one cuts into.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub overlies: Vec<Label>,
    /// Depths inside the print.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub depth_samples: Vec<DepthSample>,
    /// Anything in words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// Further columns of the sheet by name, as they came, sorted by name.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub further: Vec<(Arc<str>, String)>,
}

impl Remarks {
    /// About how much memory these remarks take, bytes.
    #[must_use]
    pub fn memory_bytes(&self) -> usize {
        let further: usize = self.further.iter().map(|(_, value)| value.len() + 48).sum();
        size_of::<Self>()
            + self.overlies.len() * 32
            + self.depth_samples.len() * size_of::<DepthSample>()
            + self.note.as_ref().map_or(0, String::len)
            + further
    }
}

/// One footprint, or its natural cast, undertrack or subsurface anomaly.
///
/// Positions are in the site's projected CRS, metres; azimuths clockwise from its grid north, degrees.
/// `None` is unknown, never zero.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Print {
    /// The label on the surface.
    pub label: Label,
    /// Easting of the centre.
    pub easting_m: f64,
    /// Northing of the centre.
    pub northing_m: f64,
    /// Elevation of the centre.
    pub elevation_m: Option<f64>,
    /// Standard deviation of the position in each axis.
    pub position_sd_m: Option<f64>,
    /// Length, along the print's axis.
    pub length_m: f64,
    /// Width, across the print's axis.
    pub width_m: Option<f64>,
    /// Greatest depth; of a subsurface anomaly, how deep it lies below the ground.
    pub depth_m: Option<f64>,
    /// Direction in which the foot points.
    pub azimuth_deg: Option<f64>,
    /// Standard deviation of that direction.
    pub azimuth_sd_deg: Option<f64>,
    /// Left or right.
    pub side: Option<Side>,
    /// Hind or fore.
    pub limb: Option<Limb>,
    /// What was recorded.
    pub record: Option<Record>,
    /// How many digits show.
    pub digits: Option<u8>,
    /// Grade of the numerical preservation scale, 0 to 3.
    pub preservation: Option<f32>,
    /// The kind of print.
    pub morphotype: Option<Arc<str>>,
    /// The trackway that the field party saw it in.
    pub field_trackway: Option<Label>,
    /// Its place in that trackway.
    pub field_order: Option<u32>,
    /// The day it was observed.
    pub observed_on: Option<Date>,
    /// Who observed it.
    pub observer: Option<Arc<str>>,
    /// What only few prints have.
    pub remarks: Option<Box<Remarks>>,
    /// The revision of this record, counted from 1; 0 while it is not stored.
    #[serde(default)]
    pub revision: u32,
}

impl Print {
    /// A print of which only the required measures are known.
    ///
    /// # Units
    /// Metres.
    #[must_use]
    pub fn new(label: Label, easting_m: f64, northing_m: f64, length_m: f64) -> Self {
        Self {
            label,
            easting_m,
            northing_m,
            elevation_m: None,
            position_sd_m: None,
            length_m,
            width_m: None,
            depth_m: None,
            azimuth_deg: None,
            azimuth_sd_deg: None,
            side: None,
            limb: None,
            record: None,
            digits: None,
            preservation: None,
            morphotype: None,
            field_trackway: None,
            field_order: None,
            observed_on: None,
            observer: None,
            remarks: None,
            revision: 0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_print_stays_small_in_memory() {
        // A million prints stand in memory at once; the whole index may take 400 bytes for each.
        assert!(size_of::<Print>() <= 272, "{}", size_of::<Print>());
    }

    #[test]
    fn names_are_spelt_one_way() {
        assert_eq!("pes".parse::<Limb>().unwrap(), Limb::Pes);
        let fault = "Left".parse::<Side>().unwrap_err();
        assert_eq!(fault.to_string(), "\"Left\" is not one of left, right");
        assert_eq!(Record::Undertrack.to_string(), "undertrack");
    }
}
