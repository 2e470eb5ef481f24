//! Many records in a row, as a selection finds them.

use super::Member;
use super::member::OnSurface;
use spatial::index::PrintNo;
use std::sync::Arc;

/// Records of one collection that follow each other.
#[derive(Debug)]
pub enum Run {
    /// Prints of one surface by their numbers, upwards: there may be a million of them.
    Prints(Arc<OnSurface>, Vec<PrintNo>),
    /// Records of any kind.
    Others(Vec<Member>),
}

impl Run {
    /// How many records it has.
    #[must_use]
    pub fn len(&self) -> usize {
        match self {
            Self::Prints(_, numbers) => numbers.len(),
            Self::Others(members) => members.len(),
        }
    }

    /// Whether it has none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    fn last(&self) -> Option<Member> {
        match self {
            Self::Prints(surface, numbers) => Some(Member::Print(surface.clone(), *numbers.last()?)),
            Self::Others(members) => members.last().cloned(),
        }
    }

    fn truncate(&mut self, most: usize) {
        match self {
            Self::Prints(_, numbers) => numbers.truncate(most),
            Self::Others(members) => members.truncate(most),
        }
    }

    /// Each of them.
    pub fn iter(&self) -> Box<dyn Iterator<Item = Member> + '_> {
        match self {
            Self::Prints(surface, numbers) => {
                Box::new(numbers.iter().map(|no| Member::Print(surface.clone(), *no)))
            }
            Self::Others(members) => Box::new(members.iter().cloned()),
        }
    }

    /// The same in pieces of at most so many records.
    fn parted(self, most: usize) -> Vec<Self> {
        match self {
            Self::Prints(surface, numbers) => {
                let pieces = numbers.chunks(most);
                pieces
                    .map(|piece| Self::Prints(surface.clone(), piece.to_vec()))
                    .collect()
            }
            Self::Others(members) => {
                let pieces = members.chunks(most);
                pieces.map(|piece| Self::Others(piece.to_vec())).collect()
            }
        }
    }
}

/// Records of one collection in the order of their ids.
#[derive(Debug, Default)]
pub struct Members(Vec<Run>);

impl Members {
    /// How many they are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.0.iter().map(Run::len).sum()
    }

    /// Whether there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The last one.
    #[must_use]
    pub fn last(&self) -> Option<Member> {
        self.0.last().and_then(Run::last)
    }

    /// Each of them.
    pub fn iter(&self) -> impl Iterator<Item = Member> + '_ {
        self.0.iter().flat_map(Run::iter)
    }

    /// The runs that they stand in; none of them is empty.
    #[must_use]
    pub fn runs(&self) -> &[Run] {
        &self.0
    }

    /// The same in pieces of at most so many records.
    #[must_use]
    pub fn parted(self, most: usize) -> Vec<Run> {
        self.0.into_iter().flat_map(|run| run.parted(most)).collect()
    }

    pub(super) fn push(&mut self, run: Run) {
        if !run.is_empty() {
            self.0.push(run);
        }
    }

    /// Cuts off what is more than so many; whether there was any.
    pub(super) fn truncate(&mut self, most: usize) -> bool {
        let mut left = most;
        let before = self.len();
        for run in &mut self.0 {
            run.truncate(left);
            left -= run.len();
        }
        self.0.retain(|run| !run.is_empty());
        before > most
    }
}
