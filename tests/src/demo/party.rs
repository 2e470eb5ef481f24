//! The field parties: what they write down of a print.

use super::animal::normal;
use super::ground::Ground;
use jiff::civil::Date;
use rand::RngExt;
use rand::seq::IndexedRandom;
use rand_chacha::ChaCha8Rng;
use spatial::model::{DepthSample, Label, Limb, Print, Record, Remarks};
use spatial::simulate::{Blur, Footfall, Kind};
use std::sync::Arc;

/// How a surface is recorded.
#[derive(Debug, Clone)]
pub struct Party {
    /// Who observes, by role only.
    pub observer: &'static str,
    /// When.
    pub observed_on: Date,
    /// How prints are lost, measured and named.
    pub blur: Blur,
    /// How the prints are recorded.
    pub record: Record,
    /// The usual grade of preservation, 0 to 3.
    pub grade: f64,
    /// What the names of photographs begin with, where the party takes them.
    pub photos: Option<&'static str>,
    /// The part of prints whose depth is sampled at several places.
    pub depth_sampled: f64,
    /// Only position and length are taken, because there is no time for more.
    pub bare: bool,
}

/// What a party may say of a print in words.
const NOTES: [&str; 6] = [
    "outer digit lost in a joint",
    "filled with coarse sand, \"plug\" left in place",
    "raised rim at the back",
    "faint; seen in low light only",
    "heel washed out, length is a least value",
    "rippled floor, ripples run through it",
];

impl Party {
    /// The record of a true print; `None` where the party finds none.
    pub fn find(
        &self,
        rng: &mut ChaCha8Rng,
        footfall: &Footfall,
        kind: &Kind,
        ground: &Ground,
    ) -> Option<Print> {
        let unnamed: Label = "P".parse().expect("a letter is a label");
        let mut print = self
            .blur
            .record(rng, footfall, &Arc::from(kind.morphotype), unnamed)?;
        let [easting_m, northing_m, elevation_m] = ground.on_map([print.easting_m, print.northing_m]);
        (print.easting_m, print.northing_m) = (easting_m, northing_m);
        if self.bare {
            print.position_sd_m = None;
            return Some(print);
        }
        print.elevation_m = Some(elevation_m + normal(rng, 0.004));
        print.azimuth_deg = print
            .azimuth_deg
            .map(|azimuth| ground.azimuth_on_map_deg(azimuth));
        print.azimuth_sd_deg = print.azimuth_deg.map(|_| self.blur.azimuth_sd_deg);
        print.record = Some(self.record);
        print.observed_on = Some(self.observed_on);
        print.observer = Some(self.observer.into());
        self.look_closely(rng, &mut print, kind);
        Some(print)
    }

    /// What takes a second look: preservation, digits, depth, words.
    fn look_closely(&self, rng: &mut ChaCha8Rng, print: &mut Print, kind: &Kind) {
        let grade = ((self.grade + normal(rng, 0.6)).clamp(0.0, 3.0) * 2.0).round() / 2.0;
        print.preservation = Some(grade as f32);
        let digits_show = grade >= 1.5 && print.morphotype.is_some();
        print.digits = digits_show.then(|| digits(kind, print.limb));
        let depth_m = print.length_m * 0.09 * normal(rng, 0.3).exp();
        print.depth_m = (grade >= 0.5).then_some(depth_m);
        let mut remarks = Remarks::default();
        if grade >= 2.0 && rng.random_bool(self.depth_sampled) {
            remarks.depth_samples = depth_samples(rng, print.length_m, depth_m);
        }
        if rng.random_bool(0.04) {
            remarks.note = NOTES.choose(rng).map(ToString::to_string);
        }
        print.remarks = Some(Box::new(remarks));
    }
}

fn digits(kind: &Kind, limb: Option<Limb>) -> u8 {
    match (kind.manus, limb) {
        (None, _) => 3,
        (Some(_), Some(Limb::Manus)) => 5,
        (Some(_), _) => 4,
    }
}

/// Heel, middle and toe: the foot sinks in deepest at the toe.
fn depth_samples(rng: &mut ChaCha8Rng, length_m: f64, depth_m: f64) -> Vec<DepthSample> {
    let places = [(-0.35, 0.6), (0.0, 0.8), (0.35, 1.0)];
    let sample = |(along, part): (f64, f64)| DepthSample {
        along_m: along * length_m,
        across_m: normal(rng, 0.05 * length_m),
        depth_m: depth_m * part,
    };
    places.map(sample).to_vec()
}
