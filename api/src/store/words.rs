//! Words that many prints of a surface share.

use spatial::model::Print;
use std::collections::HashSet;
use std::sync::Arc;

/// Words, each kept once in memory.
#[derive(Default)]
pub(super) struct Words(HashSet<Arc<str>>);

impl Words {
    /// The one copy of a word.
    pub(super) fn shared(&mut self, word: &str) -> Arc<str> {
        if let Some(known) = self.0.get(word) {
            return known.clone();
        }
        let new: Arc<str> = word.into();
        self.0.insert(new.clone());
        new
    }

    /// Lets a print that was just read share the names of its further columns.
    pub(super) fn share_names(&mut self, print: &mut Print) {
        if let Some(remarks) = &mut print.remarks {
            for (name, _) in &mut remarks.further {
                *name = self.shared(name);
            }
        }
    }
}
