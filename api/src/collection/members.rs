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
pub struct Members {
    /// None of them is empty.
    runs: Vec<Run>,
    len: usize,
}

impl Members {
    /// How many they are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.len
    }

    /// Whether there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len == 0
    }

    /// The last one.
    #[must_use]
    pub fn last(&self) -> Option<Member> {
        self.runs.last().and_then(Run::last)
    }

    /// Each of them.
    pub fn iter(&self) -> impl Iterator<Item = Member> + '_ {
        self.runs.iter().flat_map(Run::iter)
    }

    /// The runs that they stand in; none of them is empty.
    #[must_use]
    pub fn runs(&self) -> &[Run] {
        &self.runs
    }

    /// The same in pieces of at most so many records.
    #[must_use]
    pub fn parted(self, most: usize) -> Vec<Run> {
        self.runs.into_iter().flat_map(|run| run.parted(most)).collect()
    }

    pub(super) fn push(&mut self, run: Run) {
        if !run.is_empty() {
            self.len += run.len();
            self.runs.push(run);
        }
    }

    /// Cuts off what is more than so many; whether there was any.
    pub(super) fn truncate(&mut self, most: usize) -> bool {
        let before = self.len;
        let mut left = most;
        for run in &mut self.runs {
            run.truncate(left);
            left -= run.len();
        }
        self.runs.retain(|run| !run.is_empty());
        self.len = most - left;
        before > most
    }
}
