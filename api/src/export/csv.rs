//! The prints of a site as a field sheet.

use super::{ExportError, Exported, Source, value};
use crate::intake::Column;
use crate::store::SurfaceSummary;
use serde_json::Value;
use spatial::index::SurfaceContents;
use spatial::model::{Label, Print, Slug, SurfaceId};
use std::collections::BTreeSet;
use std::io::Write;
use std::sync::Arc;

/// Writes the prints of a site as CSV. Columns that no print has are left out, but those that every
/// sheet needs; further columns follow in the order of names.
///
/// The surfaces are looked at twice, first for their columns and then for their rows.
///
/// # Errors
/// When the store or the writer fails, or somebody changes a surface between the two looks.
pub fn csv(from: Source<'_>, site: &Slug, out: impl Write) -> Result<Exported, ExportError> {
    let mut columns = Columns::default();
    let mut seen = Vec::new();
    for SurfaceSummary { id, .. } in from.surfaces(site)? {
        if let Some((contents, revision)) = from.contents(&id)? {
            columns.see(&contents);
            seen.push((id, revision));
        }
    }
    let mut sheet = csv::Writer::from_writer(out);
    columns.write_header(&mut sheet).map_err(write_error)?;
    let mut exported = Exported::default();
    for (id, revision) in seen {
        for print in unchanged(from, &id, revision)?.prints {
            columns
                .write(&id.label, &print, &mut sheet)
                .map_err(write_error)?;
            exported.prints += 1;
        }
    }
    sheet.flush()?;
    Ok(exported)
}

fn unchanged(from: Source<'_>, id: &SurfaceId, revision: u64) -> Result<SurfaceContents, ExportError> {
    match from.contents(id)? {
        Some((contents, now)) if now == revision => Ok(contents),
        _ => Err(ExportError::Changed(id.clone())),
    }
}

/// The columns that a sheet needs for all its prints.
#[derive(Default)]
struct Columns {
    known: [bool; Column::COUNT],
    further: BTreeSet<Arc<str>>,
}

impl Columns {
    fn see(&mut self, contents: &SurfaceContents) {
        for print in &contents.prints {
            for column in Column::ALL {
                let has = &mut self.known[*column as usize];
                *has = *has || !value::value(&contents.id.label, print, *column).is_null();
            }
            for (name, _) in value::further(print) {
                if !self.further.contains(name) {
                    self.further.insert(name.clone());
                }
            }
        }
    }

    fn known(&self) -> impl Iterator<Item = Column> {
        let has = |column: &Column| self.known[*column as usize] || Column::REQUIRED.contains(column);
        Column::ALL.iter().copied().filter(has)
    }

    fn write_header(&self, sheet: &mut csv::Writer<impl Write>) -> csv::Result<()> {
        for column in self.known() {
            sheet.write_field(column.name())?;
        }
        for name in &self.further {
            sheet.write_field(&**name)?;
        }
        sheet.write_record(None::<&[u8]>)
    }

    fn write(&self, surface: &Label, print: &Print, sheet: &mut csv::Writer<impl Write>) -> csv::Result<()> {
        for column in self.known() {
            sheet.write_field(text(value::value(surface, print, column)))?;
        }
        let further = value::further(print);
        for name in &self.further {
            let value = further.iter().find(|(own, _)| own == name);
            sheet.write_field(value.map(|(_, value)| value.as_str()).unwrap_or_default())?;
        }
        sheet.write_record(None::<&[u8]>)
    }
}

/// A value as a cell: a number in the fewest digits that read back as the same number.
fn text(value: Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(text) => text,
        Value::Number(number) if number.is_f64() => number
            .as_f64()
            .map(|number| number.to_string())
            .unwrap_or_default(),
        other => other.to_string(),
    }
}

fn write_error(error: csv::Error) -> ExportError {
    ExportError::Write(error.into())
}
