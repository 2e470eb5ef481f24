//! Trackways as rows.

use super::column::{count, labels, required};
use super::failure::Given;
use super::member::Member;
use super::rows::Rows;
use super::surface_row::Key;
use postgres::Row;
use spatial::model::{Label, Trackway};

impl Member for Trackway {
    const TABLE: &'static str = "trackway";
    const COLUMNS: &'static str = "label, prints, basis, status, probability, morphotype, note, judged_by, \
         revision, site, surface, change";
    const READ: &'static str =
        "label, prints, basis, status, probability, morphotype, note, judged_by, revision, change";
    const CHANGED: &'static str =
        "prints, basis, status, probability, morphotype, note, judged_by, revision, change";

    fn write(&self, rows: &mut Rows, key: Key, revision: u32, change: i64) -> Given<()> {
        rows.begin(12)
            .text(self.label.as_str())
            .texts(Some(self.prints.iter().map(Label::as_str)))
            .text(self.basis.name())
            .text(self.status.name())
            .double(self.probability)
            .text(self.morphotype.as_deref())
            .text(self.note.as_deref())
            .text(self.judged_by.as_deref())
            .bigint(i64::from(revision))
            .integer(key.site)
            .integer(key.surface)
            .bigint(change);
        Ok(())
    }

    fn read(row: &Row) -> Given<(Self, i64)> {
        let trackway = Self {
            label: required(row, 0)?,
            prints: labels(row, 1)?.unwrap_or_default(),
            basis: required(row, 2)?,
            status: required(row, 3)?,
            probability: row.try_get(4)?,
            morphotype: row.try_get(5)?,
            note: row.try_get(6)?,
            judged_by: row.try_get(7)?,
            revision: count(row, 8)?,
        };
        Ok((trackway, row.try_get(9)?))
    }
}
