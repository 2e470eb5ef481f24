//! Prints of a sheet whose surfaces have prints already: they meet the record as a set, in a temporary table.

use super::column::{as_integer, count};
use super::failure::Given;
use super::member::of_alias;
use super::past;
use super::print_row::{self, CHANGED, COLUMNS, READ, read_columns};
use super::rows::Rows;
use super::surface_row::Key;
use super::touched::TouchedSurfaces;
use crate::store::kept::Record;
use crate::store::words::Words;
use crate::store::{Conflict, RowConflict, Tally};
use postgres::{Client, Row};

const MAKE: &str = "CREATE TEMP TABLE given (LIKE print) ON COMMIT DROP";
/// Rows whose label an earlier row has; also one that went straight into the table.
const DUPLICATES: &str = "SELECT sheet_row FROM ( \
         SELECT sheet_row, row_number() OVER (PARTITION BY surface, label ORDER BY sheet_row) AS place \
         FROM pg_temp.given) AS numbered \
     WHERE place > 1 \
     UNION SELECT given.sheet_row FROM pg_temp.given JOIN print AS stood USING (surface, label) \
     WHERE stood.site = $1 AND stood.change = $2 ORDER BY sheet_row";
/// Pairs that are in memory at once.
const PAGE: &str = "FETCH 5000 FROM differing";
const ADD: &str = include_str!("add_given.sql");

/// Prints that wait for the end of the sheet.
#[derive(Default)]
pub(super) struct Known {
    rows: Rows,
    sent: u64,
    is_made: bool,
    is_doubtful: bool,
}

impl Known {
    /// Where the next print goes.
    pub(super) fn rows(&mut self) -> &mut Rows {
        &mut self.rows
    }

    /// Whether a label has come twice among prints of surfaces that had none.
    pub(super) fn is_doubtful(&self) -> bool {
        self.is_doubtful
    }

    /// Takes prints among which a label comes twice; all that follow must come here too.
    pub(super) fn doubt(&mut self, fresh: &mut Rows) {
        self.is_doubtful = true;
        self.rows.append(fresh);
    }

    /// Sends what waits to the temporary table.
    pub(super) fn send(&mut self, conn: &mut Client) -> Given<()> {
        if self.rows.count() == 0 {
            return Ok(());
        }
        if !self.is_made {
            conn.batch_execute(MAKE)?;
            self.is_made = true;
        }
        self.sent += self.rows.count();
        self.rows.send(conn, "pg_temp.given", COLUMNS)
    }

    /// Rows with a label that an earlier row of the sheet has.
    pub(super) fn duplicates(
        &mut self,
        conn: &mut Client,
        site: i32,
        change: i64,
    ) -> Given<Vec<RowConflict>> {
        self.send(conn)?;
        if !self.is_made {
            return Ok(Vec::new());
        }
        let rows = conn.query(DUPLICATES, &[&site, &change])?;
        let conflict = |row: &Row| {
            Ok(RowConflict {
                row: count(row, 0)?,
                conflict: Conflict::DuplicatePrint,
            })
        };
        rows.iter().map(conflict).collect()
    }

    /// Lays the prints, none of which comes twice, beside the record, and stores those that are new or other than before.
    pub(super) fn merge(
        &self,
        conn: &mut Client,
        surfaces: &mut TouchedSurfaces,
        tally: &mut Tally,
    ) -> Given<()> {
        if !self.is_made {
            return Ok(());
        }
        let changed = keep_past(conn, surfaces)?;
        if changed > 0 {
            replace(conn, surfaces.site)?;
        }
        let added = add(conn, surfaces)?;
        tally.added += added;
        tally.changed += changed;
        tally.unchanged += self.sent - added - changed;
        Ok(())
    }
}

/// Puts the stored revisions of prints that differ among the past ones; how many.
fn keep_past(conn: &mut Client, surfaces: &mut TouchedSurfaces) -> Given<u64> {
    // A cursor takes no parameters.
    conn.batch_execute(&format!(
        include_str!("differing.sql"),
        stored = read_columns!("stood"),
        given = read_columns!("given"),
        site = surfaces.site
    ))?;
    let page = conn.prepare(PAGE)?;
    let (mut changed, mut past) = (0, Rows::default());
    loop {
        let rows = conn.query(&page, &[])?;
        if rows.is_empty() {
            break;
        }
        for row in &rows {
            changed += u64::from(keep_one(row, surfaces, &mut past)?);
        }
        past::send(&mut past, conn)?;
    }
    conn.batch_execute("CLOSE differing")?;
    Ok(changed)
}

/// Keeps the stored print of a pair where the two differ; whether they do.
fn keep_one(row: &Row, surfaces: &mut TouchedSurfaces, past: &mut Rows) -> Given<bool> {
    let mut words = Words::default();
    let stood = print_row::read(row, 0, &mut words)?;
    let given = print_row::read(row, READ, &mut words)?;
    if stood.says(&given) {
        return Ok(false);
    }
    let (surface, change): (i32, i64) = (row.try_get(2 * READ)?, row.try_get(2 * READ + 1)?);
    let site = surfaces.site;
    past::write(past, Key { site, surface }, &stood, change)?;
    if let Some(touched) = surfaces.touched(surface) {
        touched.trackways |= stood.field_trackway.is_some();
        touched.note_print(&given);
    }
    Ok(true)
}

/// Replaces the prints whose current revision is among the past ones by now.
fn replace(conn: &mut Client, site: i32) -> Given<()> {
    let given = of_alias("given", CHANGED);
    conn.execute(
        &format!(
            "UPDATE print AS stood \
             SET ({CHANGED}, revision, sheet_row, change) \
                 = ROW ({given}, stood.revision + 1, given.sheet_row, given.change) \
             FROM pg_temp.given AS given \
             JOIN past ON past.site = $1 AND past.kind = 'print' AND past.surface = given.surface \
                 AND past.label = given.label \
             WHERE stood.site = $1 AND stood.surface = given.surface AND stood.label = given.label \
                 AND past.revision = stood.revision"
        ),
        &[&site],
    )?;
    Ok(())
}

/// Adds the prints that are new; how many.
fn add(conn: &mut Client, surfaces: &mut TouchedSurfaces) -> Given<u64> {
    let mut added = 0;
    for row in conn.query(ADD, &[&surfaces.site])? {
        let (surface, prints): (i32, u64) = (row.try_get(0)?, count(&row, 1)?);
        added += prints;
        if let Some(touched) = surfaces.touched(surface) {
            touched.growth.prints += as_integer(prints);
            touched.grow([
                [row.try_get(2)?, row.try_get(3)?],
                [row.try_get(4)?, row.try_get(5)?],
            ]);
            touched.trackways |= row.try_get::<_, bool>(6)?;
            touched.overlies |= row.try_get::<_, bool>(7)?;
        }
    }
    Ok(added)
}
