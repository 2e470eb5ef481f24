//! Trackways as the field party saw them, rebuilt from their prints, whichever store they stand in.
//!
//! A store gives the prints that have a field trackway, trackway by trackway in walking order: by their place in it;
//! of one place the pes before the manus; those without a place last; then by label.

use super::{Conflict, RowConflict};
use spatial::model::{Basis, Label, Limb, Status, Trackway};

/// A print's place in a field trackway.
pub(super) struct Member {
    pub(super) label: Label,
    pub(super) order: Option<u32>,
    pub(super) limb: Option<Limb>,
    /// The row of the sheet, where this sheet added or changed the print.
    pub(super) row: Option<u64>,
}

/// A trackway as its prints say it, in walking order.
pub(super) struct Seen {
    pub(super) label: Label,
    prints: Vec<Member>,
}

impl Seen {
    fn labels(&self) -> Vec<Label> {
        self.prints.iter().map(|member| member.label.clone()).collect()
    }

    /// The first row of the sheet that speaks of it; `None` where the sheet only took prints away from it.
    fn row(&self) -> Option<u64> {
        self.prints.iter().filter_map(|member| member.row).min()
    }

    /// Pairs of prints of one limb, or both of an unknown one, in one place.
    pub(super) fn same_order(&self) -> impl Iterator<Item = RowConflict> {
        self.prints.windows(2).filter_map(|pair| {
            let [first, second] = pair else { return None };
            let same = first.order.is_some() && first.order == second.order && first.limb == second.limb;
            // Of two prints one at least is of this sheet: what was stored before had no such pair.
            let (row, other) = match (first.row, second.row) {
                (Some(a), Some(b)) if a > b => (a, second),
                (_, Some(b)) => (b, first),
                (Some(a), None) => (a, second),
                (None, None) => return None,
            };
            same.then(|| RowConflict {
                row,
                conflict: Conflict::SameOrder(other.label.clone()),
            })
        })
    }

    /// What becomes of the trackway that is stored under its label, if there is one.
    pub(super) fn beside(&self, stored: Option<&Trackway>) -> Fate {
        let Some(stored) = stored else {
            return Fate::Added(self.added());
        };
        let labels = self.labels();
        let is_same = stored.prints == labels;
        if is_anothers(stored) {
            return match self.row() {
                Some(row) if !is_same => Fate::Refused(RowConflict {
                    row,
                    conflict: Conflict::NotOfField(self.label.clone()),
                }),
                _ => Fate::NotOfField,
            };
        }
        // A rejected one comes back when a sheet speaks of its prints anew, not when a neighbour changes.
        let is_settled = stored.status != Status::Rejected || self.row().is_none();
        if stored.basis == Basis::Field && is_same && is_settled {
            return match stored.status {
                Status::Rejected => Fate::NotOfField,
                _ => Fate::Unchanged,
            };
        }
        Fate::Replaced(Trackway {
            prints: labels,
            basis: Basis::Field,
            status: Status::Accepted,
            probability: None,
            judged_by: None,
            ..stored.clone()
        })
    }

    fn added(&self) -> Trackway {
        Trackway {
            label: self.label.clone(),
            prints: self.labels(),
            basis: Basis::Field,
            status: Status::Accepted,
            probability: None,
            morphotype: None,
            note: None,
            judged_by: None,
            revision: 1,
        }
    }
}

/// What becomes of a trackway.
pub(super) enum Fate {
    /// It is new.
    Added(Trackway),
    /// It has other prints than before, or stands again; what replaces it, with the stored one's revision.
    Replaced(Trackway),
    /// It stands as it stood.
    Unchanged,
    /// It is somebody else's, or rejected, and is left alone.
    NotOfField,
    /// It is somebody else's, and has other prints.
    Refused(RowConflict),
}

/// Gathers members into trackways, one in memory at a time.
#[derive(Default)]
pub(super) struct Gathering(Option<Seen>);

impl Gathering {
    /// Takes the next member; gives the trackway before, where this one begins another.
    pub(super) fn take(&mut self, trackway: Label, member: Member) -> Option<Seen> {
        match &mut self.0 {
            Some(seen) if seen.label == trackway => {
                seen.prints.push(member);
                None
            }
            open => open.replace(Seen {
                label: trackway,
                prints: vec![member],
            }),
        }
    }

    /// The last trackway.
    pub(super) fn end(self) -> Option<Seen> {
        self.0
    }
}

/// A field trackway that has lost all its prints: it keeps its old list.
pub(super) fn emptied(stored: &Trackway) -> Trackway {
    Trackway {
        status: Status::Rejected,
        ..stored.clone()
    }
}

/// Whether somebody other than the field party has put work into it. Mere proposals give way to the
/// field party's word, and the next grouping proposes them again under another label.
fn is_anothers(trackway: &Trackway) -> bool {
    match trackway.basis {
        Basis::Field => false,
        Basis::Grouping => trackway.status == Status::Accepted,
        Basis::Continuation | Basis::Editor => true,
    }
}
