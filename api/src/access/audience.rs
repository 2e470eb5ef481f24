//! Who may see what.

use spatial::model::{PlacePolicy, Site, Slug};
use std::collections::BTreeSet;
use std::fmt;
use std::str::FromStr;
use std::sync::Arc;

/// For whom a catalogue is made.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Audience {
    /// All is shown: to the command line, to the people of this machine, and to holders of a role at all sites.
    Local,
    /// Strangers.
    Public,
    /// Holders of a role at these sites; of all others they see what strangers see. Never empty.
    Sites(Arc<BTreeSet<Slug>>),
}

/// What is shown of a site.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum View {
    /// All of it.
    Whole,
    /// Its record with the cell that it lies in, and counts.
    Generalised,
    /// Not even that there is one.
    Nothing,
}

impl Audience {
    /// Those who may see these sites.
    pub fn of_sites(sites: impl IntoIterator<Item = Slug>) -> Self {
        let sites: BTreeSet<Slug> = sites.into_iter().collect();
        if sites.is_empty() {
            Self::Public
        } else {
            Self::Sites(Arc::new(sites))
        }
    }

    /// What this audience sees of a site.
    #[must_use]
    pub fn view(&self, site: &Site) -> View {
        let knows = match self {
            Self::Local => true,
            Self::Public => false,
            Self::Sites(sites) => sites.contains(&site.slug),
        };
        match site.policy {
            _ if knows => View::Whole,
            PlacePolicy::Open => View::Whole,
            PlacePolicy::Generalised => View::Generalised,
            PlacePolicy::Closed => View::Nothing,
        }
    }

    /// Whether this audience sees all of a site.
    #[must_use]
    pub fn sees(&self, site: &Site) -> bool {
        self.view(site) == View::Whole
    }
}

impl fmt::Display for Audience {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Local => f.write_str("local"),
            Self::Public => f.write_str("public"),
            Self::Sites(sites) => {
                let sites: Vec<&str> = sites.iter().map(Slug::as_str).collect();
                write!(f, "sites:{}", sites.join(","))
            }
        }
    }
}

/// A word that names no audience.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("an audience is local, public or sites: with the slugs of some")]
pub struct NoAudience;

impl FromStr for Audience {
    type Err = NoAudience;

    fn from_str(text: &str) -> Result<Self, NoAudience> {
        match text {
            "local" => Ok(Self::Local),
            "public" => Ok(Self::Public),
            _ => {
                let sites = text.strip_prefix("sites:").ok_or(NoAudience)?;
                let sites: Result<Vec<Slug>, _> = sites.split(',').map(str::parse).collect();
                sites.map(Self::of_sites).map_err(|_| NoAudience)
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_strangers_see_is_up_to_the_policy() {
        let mut site = Site::new("cove".parse().unwrap(), 25830);
        let friends = Audience::of_sites(["cove".parse().unwrap()]);
        let others = Audience::of_sites(["bay".parse().unwrap()]);
        for (policy, seen) in [
            (PlacePolicy::Open, View::Whole),
            (PlacePolicy::Generalised, View::Generalised),
            (PlacePolicy::Closed, View::Nothing),
        ] {
            site.policy = policy;
            assert_eq!(Audience::Public.view(&site), seen, "{policy}");
            assert_eq!(others.view(&site), seen, "{policy}");
            assert_eq!(friends.view(&site), View::Whole, "{policy}");
            assert_eq!(Audience::Local.view(&site), View::Whole, "{policy}");
        }
    }

    #[test]
    fn an_audience_can_be_written_down() {
        let sites = Audience::of_sites(["cove".parse().unwrap(), "bay".parse().unwrap()]);
        assert_eq!(sites.to_string(), "sites:bay,cove");
        for audience in [Audience::Local, Audience::Public, sites] {
            assert_eq!(audience.to_string().parse(), Ok(audience));
        }
        for text in ["everybody", "sites:", "sites:No Slug", "sites:a,,b"] {
            assert_eq!(text.parse::<Audience>(), Err(NoAudience), "{text}");
        }
        assert_eq!(Audience::of_sites([]), Audience::Public);
    }
}
