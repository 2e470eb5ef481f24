//! The properties of each kind of record, each told once: name, kind, words and value.
//!
//! Features, filters, HTML tables and the OpenAPI document are all made from these lists. Every
//! feature has every property, `null` where it is unknown: clients that learn a layer's columns
//! from its first features would drop the others.

use super::cell::Cell;
use crate::access::cell_centre;
use crate::catalogue::SurfaceEntry;
use serde_json::json;
use spatial::model::{Extent, Limb, Print, Remarks, Site, Trackway};
use std::sync::Arc;

/// What kind of value a property has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A text.
    Text,
    /// A number.
    Number,
    /// A whole number.
    Whole,
    /// A day.
    Day,
    /// A list or an object.
    Json,
}

/// One property of one kind of record.
pub struct Field<R: 'static> {
    /// Its name at every interface.
    pub name: &'static str,
    /// What kind of value it has.
    pub kind: Kind,
    /// What it means.
    pub about: &'static str,
    /// Its value.
    pub cell: for<'a> fn(&'a Scope, &'a R) -> Cell<'a>,
}

/// Where a record stands: the ids of its site and surface as texts, made once for all its members.
#[derive(Debug)]
pub struct Scope {
    /// The site's slug.
    pub site: String,
    /// The surface's id; empty for a site.
    pub surface: String,
}

/// A site with what is on it.
#[derive(Debug, Clone)]
pub struct SiteRow {
    /// The site.
    pub site: Arc<Site>,
    /// How many surfaces it has.
    pub surfaces: u64,
    /// How many prints.
    pub prints: u64,
    /// The box around its surfaces, in its own CRS; only the centre of a cell where its place is generalised.
    pub bounds: Option<[[f64; 2]; 2]>,
}

impl SiteRow {
    /// What is told of it where its place is generalised: its record and counts, and of its place the cell that holds the
    /// middle of its box.
    #[must_use]
    pub fn generalised(self) -> Self {
        let centre = |[lower, upper]: [[f64; 2]; 2]| {
            let middle = [0, 1].map(|axis| f64::midpoint(lower[axis], upper[axis]));
            [cell_centre(middle); 2]
        };
        Self {
            bounds: self.bounds.map(centre),
            ..self
        }
    }
}

macro_rules! fields {
    ($(#[$doc:meta])* $list:ident: $record:ty { $($name:literal $kind:ident $about:literal => $cell:expr;)+ }) => {
        $(#[$doc])*
        pub static $list: &[Field<$record>] =
            &[$(Field { name: $name, kind: Kind::$kind, about: $about, cell: $cell }),+];
    };
}

fields!(
    /// The properties of a site.
    SITE: SiteRow {
        "site" Text "The site's slug" => |scope, _| Cell::text(Some(&scope.site));
        "name" Text "The name in words" => |_, row| Cell::text(Some(&row.site.name));
        "crs" Text "The site's projected CRS" => |_, row| Cell::Text(format!("EPSG:{}", row.site.crs).into());
        "country" Text "The country" => |_, row| Cell::text(row.site.country.as_deref());
        "steward" Text "Who answers for the site" => |_, row| Cell::text(row.site.steward.as_deref());
        "licence" Text "The licence of its data" => |_, row| Cell::text(row.site.licence.as_deref());
        "citation" Text "How to cite it" => |_, row| Cell::text(row.site.citation.as_deref());
        "policy" Text "What strangers may learn of its place: open, generalised or closed" => |_, row| Cell::text(Some(row.site.policy.name()));
        "formation" Text "The geological formation" => |_, row| Cell::text(row.site.formation.as_deref());
        "age" Text "The geological age" => |_, row| Cell::text(row.site.age.as_deref());
        "surfaces" Whole "How many surfaces it has" => |_, row| whole(row.surfaces);
        "prints" Whole "How many prints it has" => |_, row| whole(row.prints);
        "revision" Whole "The revision of this record" => |_, row| Cell::Whole(row.site.revision.into());
    }
);

fields!(
    /// The properties of a surface.
    SURFACE: SurfaceEntry {
        "site" Text "The site's slug" => |scope, _| Cell::text(Some(&scope.site));
        "surface" Text "The surface's id" => |scope, _| Cell::text(Some(&scope.surface));
        "label" Text "The label on its site" => |_, row| Cell::text(Some(row.summary.surface.label.as_str()));
        "name" Text "The name in words" => |_, row| Cell::text(row.summary.surface.name.as_deref());
        "order" Whole "The place in the section, counted from the bottom" => |_, row| Cell::whole(row.summary.surface.order);
        "strike_deg" Number "Strike, degrees from grid north, the dip to its right" => |_, row| Cell::number(row.summary.surface.strike_deg);
        "dip_deg" Number "Dip, degrees below the horizontal" => |_, row| Cell::number(row.summary.surface.dip_deg);
        "lithology" Text "The rock" => |_, row| Cell::text(row.summary.surface.lithology.as_deref());
        "note" Text "Anything else" => |_, row| Cell::text(row.summary.surface.note.as_deref());
        "prints" Whole "How many prints it has" => |_, row| whole(row.summary.prints);
        "extents" Whole "How many extents it has" => |_, row| whole(row.summary.extents);
        "trackways" Whole "How many trackways it has, those rejected included" => |_, row| whole(row.summary.trackways);
        "revision" Whole "The revision of this record" => |_, row| Cell::Whole(row.summary.surface.revision.into());
        "contents_revision" Whole "Grows with every change of the surface or of a member of it" => |_, row| whole(row.summary.contents_revision);
    }
);

fields!(
    /// The properties of an extent.
    EXTENT: Extent {
        "site" Text "The site's slug" => |scope, _| Cell::text(Some(&scope.site));
        "surface" Text "The surface's id" => |scope, _| Cell::text(Some(&scope.surface));
        "label" Text "The label on its surface" => |_, extent| Cell::text(Some(extent.label.as_str()));
        "kind" Text "exposed, covered, eroded or unmapped" => |_, extent| Cell::text(Some(extent.kind.name()));
        "surveyed_on" Day "The day it was surveyed" => |_, extent| Cell::day(extent.surveyed_on);
        "revision" Whole "The revision of this record" => |_, extent| Cell::Whole(extent.revision.into());
    }
);

fields!(
    /// The properties of a print.
    PRINT: Print {
        "site" Text "The site's slug" => |scope, _| Cell::text(Some(&scope.site));
        "surface" Text "The surface's id" => |scope, _| Cell::text(Some(&scope.surface));
        "print" Text "The label on its surface" => |_, print| Cell::text(Some(print.label.as_str()));
        "easting_m" Number "Easting of the centre in the site's CRS, metres" => |_, print| Cell::Number(print.easting_m);
        "northing_m" Number "Northing of the centre in the site's CRS, metres" => |_, print| Cell::Number(print.northing_m);
        "elevation_m" Number "Elevation of the centre, metres" => |_, print| Cell::number(print.elevation_m);
        "position_sd_m" Number "Standard deviation of the position in each axis, metres" => |_, print| Cell::number(print.position_sd_m);
        "length_m" Number "Length along the print's axis, metres" => |_, print| Cell::Number(print.length_m);
        "width_m" Number "Width across the print's axis, metres" => |_, print| Cell::number(print.width_m);
        "depth_m" Number "Greatest depth, metres" => |_, print| Cell::number(print.depth_m);
        "azimuth_deg" Number "Where the foot points, degrees clockwise from grid north" => |_, print| Cell::number(print.azimuth_deg);
        "azimuth_sd_deg" Number "Standard deviation of the azimuth, degrees" => |_, print| Cell::number(print.azimuth_sd_deg);
        "side" Text "left or right" => |_, print| Cell::text(print.side.map(|side| side.name()));
        "limb" Text "pes (hind) or manus (fore)" => |_, print| Cell::text(print.limb.map(|limb| limb.name()));
        "morphotype" Text "The kind of print" => |_, print| Cell::text(print.morphotype.as_deref());
        "digits" Whole "How many digits show" => |_, print| Cell::whole(print.digits);
        "preservation" Number "Grade of the numerical preservation scale, 0 to 3" => |_, print| grade(print);
        "record" Text "print, cast, undertrack or anomaly" => |_, print| Cell::text(print.record.map(|record| record.name()));
        "trackway" Text "The trackway that the field party saw it in" => |_, print| Cell::text(print.field_trackway.as_ref().map(|label| label.as_str()));
        "order" Whole "Its place in that trackway" => |_, print| Cell::whole(print.field_order);
        "observed_on" Day "The day it was observed" => |_, print| Cell::day(print.observed_on);
        "observer" Text "Who observed it" => |_, print| Cell::text(print.observer.as_deref());
        "overlies" Json "The prints that it cuts into" => |_, print| overlies(print);
        "depth_samples" Json "Depths inside the print: along_m and across_m from its centre, depth_m" => |_, print| depth_samples(print);
        "note" Text "Anything else" => |_, print| Cell::text(remarks(print).and_then(|remarks| remarks.note.as_deref()));
        "further" Json "Further columns of the sheet, as they came" => |_, print| further(print);
        "revision" Whole "The revision of this record" => |_, print| Cell::Whole(print.revision.into());
    }
);

fields!(
    /// The properties of a trackway.
    TRACKWAY: Trackway {
        "site" Text "The site's slug" => |scope, _| Cell::text(Some(&scope.site));
        "surface" Text "The surface's id" => |scope, _| Cell::text(Some(&scope.surface));
        "trackway" Text "The label on its surface" => |_, trackway| Cell::text(Some(trackway.label.as_str()));
        "prints" Json "The ids of its prints in walking order, manus prints included" => |scope, trackway| print_ids(scope, trackway);
        "basis" Text "Where it comes from: field, grouping, continuation or editor" => |_, trackway| Cell::text(Some(trackway.basis.name()));
        "status" Text "proposed, accepted or rejected" => |_, trackway| Cell::text(Some(trackway.status.name()));
        "probability" Number "The probability that its prints are one animal's" => |_, trackway| Cell::number(trackway.probability);
        "morphotype" Text "The kind of its prints" => |_, trackway| Cell::text(trackway.morphotype.as_deref());
        "note" Text "Anything else" => |_, trackway| Cell::text(trackway.note.as_deref());
        "revision" Whole "The revision of this record" => |_, trackway| Cell::Whole(trackway.revision.into());
    }
);

fn whole(number: u64) -> Cell<'static> {
    Cell::Whole(i64::try_from(number).unwrap_or(i64::MAX))
}

fn grade(print: &Print) -> Cell<'_> {
    // Through its shortest decimal form, or 2.3 of 32 bits would be written as 2.299999952316284.
    print
        .preservation
        .and_then(|grade| grade.to_string().parse().ok())
        .map_or(Cell::Unknown, Cell::Number)
}

fn remarks(print: &Print) -> Option<&Remarks> {
    print.remarks.as_deref()
}

fn overlies(print: &Print) -> Cell<'_> {
    let labels = remarks(print).filter(|remarks| !remarks.overlies.is_empty());
    labels.map_or(Cell::Unknown, |remarks| Cell::Json(json!(remarks.overlies)))
}

fn depth_samples(print: &Print) -> Cell<'_> {
    let samples = remarks(print).filter(|remarks| !remarks.depth_samples.is_empty());
    samples.map_or(Cell::Unknown, |remarks| Cell::Json(json!(remarks.depth_samples)))
}

fn further(print: &Print) -> Cell<'_> {
    let columns = remarks(print).filter(|remarks| !remarks.further.is_empty());
    columns.map_or(Cell::Unknown, |remarks| {
        Cell::Json(
            remarks
                .further
                .iter()
                .map(|(name, value)| (name.to_string(), json!(value)))
                .collect(),
        )
    })
}

fn print_ids<'a>(scope: &'a Scope, trackway: &'a Trackway) -> Cell<'a> {
    let ids = trackway
        .prints
        .iter()
        .map(|label| format!("{}:{label}", scope.surface));
    Cell::Json(ids.collect())
}

/// The prints through which a trackway's line is drawn: those of the hind feet where both kinds are
/// known, since a line through both zigzags; otherwise all.
#[must_use]
pub fn midline<'a>(prints: &[&'a Print]) -> Vec<&'a Print> {
    let hind: Vec<&Print> = prints
        .iter()
        .copied()
        .filter(|print| print.limb != Some(Limb::Manus))
        .collect();
    if hind.len() >= 2 { hind } else { prints.to_vec() }
}

/// A trackway's line through its [`midline`]; `None` where that has fewer than two prints.
#[must_use]
pub fn path(prints: &[&Print]) -> Option<geo::Geometry<f64>> {
    let line = geo::LineString::from_iter(
        midline(prints)
            .iter()
            .map(|print| [print.easting_m, print.northing_m]),
    );
    (line.0.len() >= 2).then(|| line.into())
}
