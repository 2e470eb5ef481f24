//! Words that come again and again in a sheet, kept in memory once.

use std::collections::HashSet;
use std::sync::Arc;

/// Gives equal words one place in memory; forgets all of them when there are too many, so that a
/// sheet with another observer in every row does not fill the memory.
#[derive(Debug, Default)]
pub(super) struct Words(HashSet<Arc<str>>);

impl Words {
    const KEPT: usize = 4096;

    /// The word, shared with all that came before it.
    pub(super) fn share(&mut self, word: &str) -> Arc<str> {
        if let Some(known) = self.0.get(word) {
            return known.clone();
        }
        if self.0.len() >= Self::KEPT {
            self.0.clear();
        }
        let new: Arc<str> = word.into();
        self.0.insert(new.clone());
        new
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_words_are_one_and_their_number_is_bounded() {
        let mut words = Words::default();
        assert!(Arc::ptr_eq(&words.share("theropod"), &words.share("theropod")));
        for no in 0..10_000 {
            words.share(&no.to_string());
        }
        assert!(words.0.len() <= Words::KEPT);
    }
}
