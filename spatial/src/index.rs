//! One surface in memory: its record, immutable, behind an R-tree over its prints.

use crate::frame::LonLat;
use crate::model::{Extent, Label, Print, Status, Surface, SurfaceId, Trackway};
use geo::{BoundingRect, Intersects, Polygon};
use rstar::primitives::GeomWithData;
use rstar::{AABB, PointDistance, RStarInsertionStrategy, RTree, RTreeParams};
use std::collections::{BTreeMap, HashSet};
use std::ops::ControlFlow;

/// Place of a print in its index, counted from 0 in the order of labels.
pub type PrintNo = u32;

type Leaf = GeomWithData<[f64; 2], PrintNo>;

/// Wide nodes: fewer of them are fetched from memory for a box or a neighbourhood, which costs more than to look at each of their
/// members. Of 6, 8, 12, 16, 24 and 32 members 16 was the quickest on a million prints.
#[derive(Debug, Clone, Copy)]
struct Wide;

impl RTreeParams for Wide {
    const MIN_SIZE: usize = 6;
    const MAX_SIZE: usize = 16;
    const REINSERTION_COUNT: usize = 4;
    type DefaultInsertionStrategy = RStarInsertionStrategy;
}

/// Everything that is stored of one surface at one moment.
#[derive(Debug, Clone, PartialEq)]
pub struct SurfaceContents {
    /// The surface's id.
    pub id: SurfaceId,
    /// The EPSG code of its site's projected CRS.
    pub crs: u32,
    /// The surface's own record.
    pub surface: Surface,
    /// The prints, in any order.
    pub prints: Vec<Print>,
    /// The extents.
    pub extents: Vec<Extent>,
    /// The trackways.
    pub trackways: Vec<Trackway>,
}

/// Why a surface cannot be indexed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum IndexFault<E> {
    /// A print's position is not a pair of finite numbers.
    #[error("print {0} has no finite position")]
    NotFinite(Label),
    /// Two prints have one label.
    #[error("two prints have the label {0}")]
    Duplicate(Label),
    /// The projection gave a fault, or not one place for each print.
    #[error("the prints' longitudes and latitudes are unknown")]
    Places(#[source] E),
}

/// A surface as queries see it: immutable, and swapped whole when the surface changes.
///
/// Prints are known by their [`PrintNo`], which is their place in the order of labels.
/// Every method that gives several gives them in a defined order, so that answers repeat to the byte.
#[derive(Debug)]
pub struct SurfaceIndex {
    contents: SurfaceContents,
    places: Vec<LonLat>,
    tree: RTree<Leaf, Wide>,
}

impl SurfaceIndex {
    /// Sorts, checks and bulk-loads a surface. `places` computes the longitude and latitude of each
    /// easting and northing; it is asked once, for all.
    ///
    /// # Errors
    /// A position that is not finite, a label that comes twice, or the fault of `places`.
    pub fn build<E>(
        mut contents: SurfaceContents,
        places: impl FnOnce(&[[f64; 2]]) -> Result<Vec<LonLat>, E>,
    ) -> Result<Self, IndexFault<E>> {
        contents.prints.sort_unstable_by(|a, b| a.label.cmp(&b.label));
        contents.extents.sort_by(|a, b| a.label.cmp(&b.label));
        contents.trackways.sort_by(|a, b| a.label.cmp(&b.label));
        for pair in contents.prints.windows(2) {
            if pair[0].label == pair[1].label {
                return Err(IndexFault::Duplicate(pair[0].label.clone()));
            }
        }
        if let Some(print) = contents
            .prints
            .iter()
            .find(|p| !(p.easting_m.is_finite() && p.northing_m.is_finite()))
        {
            return Err(IndexFault::NotFinite(print.label.clone()));
        }
        let positions: Vec<[f64; 2]> = contents
            .prints
            .iter()
            .map(|p| [p.easting_m, p.northing_m])
            .collect();
        let places = places(&positions).map_err(IndexFault::Places)?;
        assert_eq!(places.len(), positions.len(), "one place for each print");
        let leaves = positions
            .into_iter()
            .zip(0..)
            .map(|(position, no)| Leaf::new(position, no))
            .collect();
        Ok(Self {
            contents,
            places,
            tree: RTree::bulk_load_with_params(leaves),
        })
    }

    /// The surface's id.
    #[must_use]
    pub fn id(&self) -> &SurfaceId {
        &self.contents.id
    }

    /// The EPSG code of the CRS that positions are in.
    #[must_use]
    pub fn crs(&self) -> u32 {
        self.contents.crs
    }

    /// The surface's own record.
    #[must_use]
    pub fn surface(&self) -> &Surface {
        &self.contents.surface
    }

    /// All prints, in the order of labels.
    #[must_use]
    pub fn prints(&self) -> &[Print] {
        &self.contents.prints
    }

    /// The extents, in the order of labels.
    #[must_use]
    pub fn extents(&self) -> &[Extent] {
        &self.contents.extents
    }

    /// The trackways, in the order of labels.
    #[must_use]
    pub fn trackways(&self) -> &[Trackway] {
        &self.contents.trackways
    }

    /// The trackways that stand, in the order of labels: those accepted, and those proposed that share no
    /// print with one that stands already. Of proposals that share prints the more probable one stands, of
    /// equally probable ones the first by label. So no print is counted in two trackways unless it was accepted in two.
    #[must_use]
    pub fn standing_trackways(&self) -> Vec<&Trackway> {
        let of = |status| {
            self.trackways()
                .iter()
                .filter(move |trackway| trackway.status == status)
        };
        let mut standing: Vec<&Trackway> = of(Status::Accepted).collect();
        let mut taken: HashSet<&Label> = standing.iter().flat_map(|trackway| &trackway.prints).collect();
        let mut proposed: Vec<&Trackway> = of(Status::Proposed).collect();
        let probability = |trackway: &Trackway| trackway.probability.unwrap_or(0.0);
        proposed.sort_by(|a, b| probability(b).total_cmp(&probability(a)));
        for trackway in proposed {
            if trackway.prints.iter().all(|print| !taken.contains(print)) {
                taken.extend(&trackway.prints);
                standing.push(trackway);
            }
        }
        standing.sort_by(|a, b| a.label.cmp(&b.label));
        standing
    }

    /// The prints of a trackway in walking order; labels that the surface does not have are passed over.
    #[must_use]
    pub fn prints_of(&self, trackway: &Trackway) -> Vec<PrintNo> {
        trackway
            .prints
            .iter()
            .filter_map(|label| self.find(label))
            .collect()
    }

    /// The morphotype that most of these prints have; of equally frequent ones the first by name.
    #[must_use]
    pub fn kind_of(&self, prints: &[PrintNo]) -> Option<&str> {
        let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
        for morphotype in prints
            .iter()
            .filter_map(|no| self.print(*no).morphotype.as_deref())
        {
            *counts.entry(morphotype).or_default() += 1;
        }
        let most = counts.values().copied().max()?;
        counts
            .into_iter()
            .find(|(_, count)| *count == most)
            .map(|(name, _)| name)
    }

    /// The morphotype of a trackway: its own, or that of its prints.
    #[must_use]
    pub fn morphotype_of<'a>(&'a self, trackway: &'a Trackway) -> Option<&'a str> {
        trackway
            .morphotype
            .as_deref()
            .or_else(|| self.kind_of(&self.prints_of(trackway)))
    }

    /// One print.
    ///
    /// # Panics
    /// When no print has this number.
    #[must_use]
    pub fn print(&self, no: PrintNo) -> &Print {
        &self.contents.prints[no as usize]
    }

    /// Where a print lies in longitude and latitude.
    ///
    /// # Panics
    /// When no print has this number.
    #[must_use]
    pub fn place(&self, no: PrintNo) -> LonLat {
        self.places[no as usize]
    }

    /// The number of the print with this label.
    #[must_use]
    pub fn find(&self, label: &Label) -> Option<PrintNo> {
        let found = self
            .contents
            .prints
            .binary_search_by(|print| print.label.cmp(label));
        found.ok().map(as_no)
    }

    /// The number of the first print whose label comes after this one; a cursor for paging.
    #[must_use]
    pub fn first_after(&self, label: &Label) -> PrintNo {
        as_no(
            self.contents
                .prints
                .partition_point(|print| print.label <= *label),
        )
    }

    /// About how much memory this index takes, bytes.
    #[must_use]
    pub fn memory_bytes(&self) -> usize {
        // A node of the tree holds an enum of a leaf or a parent with its box; a parent for each sixteen leaves or so.
        const NODE: usize = 64;
        let fixed = size_of::<Print>() + size_of::<LonLat>() + NODE * (Wide::MAX_SIZE + 1) / Wide::MAX_SIZE;
        let prints = &self.contents.prints;
        let varying: usize = prints
            .iter()
            .map(|print| {
                let note = print
                    .remarks
                    .as_deref()
                    .map_or(0, crate::model::Remarks::memory_bytes);
                print.label.as_str().len().next_multiple_of(16) + note
            })
            .sum();
        size_of::<Self>() + prints.len() * fixed + varying
    }

    /// The smallest box around all prints, `[[west, south], [east, north]]` in metres; `None` without prints.
    #[must_use]
    pub fn bounds(&self) -> Option<[[f64; 2]; 2]> {
        let bounds = self.tree.root().envelope();
        (self.tree.size() > 0).then(|| [bounds.lower(), bounds.upper()])
    }

    /// The `k` prints nearest to a place with their distances in metres on the grid, nearest first;
    /// of equally near ones that with the smaller number comes first.
    #[must_use]
    pub fn nearest(&self, at: [f64; 2], k: usize) -> Vec<(PrintNo, f64)> {
        let mut found: Vec<(PrintNo, f64)> = Vec::with_capacity(k.min(self.tree.size()));
        for (leaf, distance_2) in self.tree.nearest_neighbor_iter_with_distance_2(at) {
            // Read on past the k-th through all that are as near, or the cut would depend on the tree's shape.
            if found.len() >= k && found.last().is_none_or(|last| distance_2 > last.1) {
                break;
            }
            found.push((leaf.data, distance_2));
        }
        by_distance(&mut found);
        found.truncate(k);
        found
    }

    /// All prints within a radius (its rim included), with their distances in metres on the grid, nearest first.
    #[must_use]
    pub fn within(&self, at: [f64; 2], radius_m: f64) -> Vec<(PrintNo, f64)> {
        let found = self.tree.locate_within_distance(at, radius_m * radius_m);
        let mut found: Vec<_> = found.map(|leaf| (leaf.data, leaf.distance_2(&at))).collect();
        by_distance(&mut found);
        found
    }

    /// All prints, neighbours mostly one after the other.
    pub(crate) fn by_place(&self) -> impl Iterator<Item = PrintNo> + use<'_> {
        self.tree.iter().map(|leaf| leaf.data)
    }

    /// All prints in a box (its rim included), by number.
    #[must_use]
    pub fn in_box(&self, lower: [f64; 2], upper: [f64; 2]) -> Vec<PrintNo> {
        let placed = self.few_in_box(lower, upper, usize::MAX).into_iter().flatten();
        let mut numbers: Vec<PrintNo> = placed.map(|(no, _)| no).collect();
        numbers.sort_unstable();
        numbers
    }

    /// All prints in a box (its rim included) with their eastings and northings, in no order; `None` where there are more than so
    /// many. The positions stand in the tree: nothing else of the prints is fetched from memory.
    #[must_use]
    pub fn few_in_box(
        &self,
        lower: [f64; 2],
        upper: [f64; 2],
        most: usize,
    ) -> Option<Vec<(PrintNo, [f64; 2])>> {
        // Most boxes are small; a larger one has time to grow.
        let mut found = Vec::with_capacity(most.min(128));
        let take = |leaf: &Leaf| {
            if found.len() == most {
                return ControlFlow::Break(());
            }
            found.push((leaf.data, *leaf.geom()));
            ControlFlow::Continue(())
        };
        let envelope = AABB::from_corners(lower, upper);
        let whole = self.tree.locate_in_envelope_int(envelope, take).is_continue();
        whole.then_some(found)
    }

    /// All prints inside a polygon (its rim included, its holes not), by number.
    #[must_use]
    pub fn in_polygon(&self, polygon: &Polygon<f64>) -> Vec<PrintNo> {
        let Some(rect) = polygon.bounding_rect() else {
            return Vec::new();
        };
        let mut found = self.in_box(rect.min().into(), rect.max().into());
        found.retain(|no| {
            let print = self.print(*no);
            polygon.intersects(&geo::Point::new(print.easting_m, print.northing_m))
        });
        found
    }
}

fn as_no(place: usize) -> PrintNo {
    PrintNo::try_from(place).unwrap_or(PrintNo::MAX)
}

/// Sorts by distance, then by number, and turns squared distances into distances.
fn by_distance(found: &mut [(PrintNo, f64)]) {
    found.sort_unstable_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0)));
    for (_, distance) in found {
        *distance = distance.sqrt();
    }
}

#[cfg(test)]
#[path = "index_tests.rs"]
mod tests;
