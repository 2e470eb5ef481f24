//! How many animals, of which kinds and sizes.

use super::statement::{Statement, Strength, counted};
use super::{Input, Walked};
use crate::query::Refusal;
use crate::query::individuals::{class_name, summaries};
use spatial::individuals::{INDIVIDUALS_CAUTION, Limits, SizeClass, count};

/// The least number of animals, whole and by kind and size.
///
/// # Errors
/// When a position is no place.
pub(super) fn individuals(walked: &Walked, input: &Input) -> Result<Vec<Statement>, Refusal> {
    let paths = summaries(&walked.index, input.north, false)?;
    if paths.is_empty() {
        return Ok(Vec::new());
    }
    let found = count(&paths, &Limits::default());
    let (least, likely) = (found.surely.least, found.if_none_came_back.least);
    let mut says = format!(
        "At least {} made these {}",
        counted(least, "animal", "animals"),
        counted(paths.len(), "trackway", "trackways")
    );
    if likely > least {
        says += &format!(", and at least {likely} if none came back over its own track");
    }
    let whole = Statement::new("individuals", Strength::Strong, says + ".", INDIVIDUALS_CAUTION)
        .of(walked.ids(&found.surely.trackways))
        .by_query("individuals", &input.asked());
    let classes = found.classes.iter().map(|class| of_class(walked, class, input));
    let several = found.classes.len() > 1;
    Ok(std::iter::once(whole)
        .chain(classes.filter(|_| several))
        .collect())
}

fn of_class(walked: &Walked, class: &SizeClass, input: &Input) -> Statement {
    let feet = class.foot_length_m.map_or(String::new(), |[low, high]| {
        let [low, high] = [low, high].map(|length| format!("{length:.2}"));
        if low == high {
            format!(", feet of {low} m")
        } else {
            format!(", feet of {low} to {high} m")
        }
    });
    let says = format!(
        "{}{feet}: {}, at least {}.",
        class_name(class),
        counted(class.trackways.len(), "trackway", "trackways"),
        counted(class.least, "animal", "animals")
    );
    Statement::new("individuals", Strength::Strong, says, INDIVIDUALS_CAUTION)
        .of(walked.ids(&class.trackways))
        .by_query("individuals", &input.asked())
}
