//! What an asker may see of jobs, and how many he may have.

use super::Audience;

impl Audience {
    /// Whether this asker may read a job that was computed for another one, once he knows its name: where he sees all that the
    /// other one does.
    #[must_use]
    pub fn reads_jobs_of(&self, owner: &Self) -> bool {
        match (self, owner) {
            (Self::Local, _) | (_, Self::Public) => true,
            (Self::Sites(own), Self::Sites(sites)) => own.is_superset(sites),
            _ => false,
        }
    }

    /// Whether this asker may see which jobs there are. To others the names of jobs would give away their results.
    #[must_use]
    pub fn lists_jobs(&self) -> bool {
        *self == Self::Local
    }

    /// How many jobs that have ended are kept for strangers, who must not be able to fill the disk.
    pub const MOST_KEPT_FOR_STRANGERS: u64 = 1_000;

    /// How many jobs askers of this kind may have waiting.
    #[must_use]
    pub fn most_jobs(&self) -> u64 {
        match self {
            Self::Public => 100,
            Self::Local | Self::Sites(_) => 10_000,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nobody_reads_jobs_that_show_more_than_he_sees() {
        let of = |sites: &[&str]| Audience::of_sites(sites.iter().map(|site| site.parse().unwrap()));
        let (cove, both) = (of(&["cove"]), of(&["bay", "cove"]));
        for (reader, owner, may) in [
            (&Audience::Local, &both, true),
            (&both, &cove, true),
            (&cove, &both, false),
            (&cove, &Audience::Local, false),
            (&cove, &Audience::Public, true),
            (&Audience::Public, &cove, false),
            (&Audience::Public, &Audience::Local, false),
        ] {
            assert_eq!(reader.reads_jobs_of(owner), may, "{reader} {owner}");
        }
    }
}
