//! The roles that somebody has, everywhere or at single sites.

use super::{Audience, Role};
use spatial::model::Slug;
use std::collections::BTreeMap;
use std::str::FromStr;

/// The roles that somebody has.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Grants {
    everywhere: Option<Role>,
    at: BTreeMap<Slug, Role>,
}

/// A text that grants nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("a grant is a role, or a role and a site as in steward:gannet-ledge; an admin is one everywhere")]
pub struct NoGrant;

impl Grants {
    /// The same role at each of these sites; everywhere where none is named.
    #[must_use]
    pub fn of(role: Role, sites: &[Slug]) -> Self {
        let everywhere = sites.is_empty().then_some(role);
        let at = sites.iter().map(|site| (site.clone(), role)).collect();
        Self { everywhere, at }
    }

    /// What a list of grants gives, as in `["reader", "steward:gannet-ledge"]`; those that cannot be read give nothing.
    pub fn read<'a>(texts: impl IntoIterator<Item = &'a str>) -> Self {
        let mut grants = Self::default();
        for grant in texts.into_iter().filter_map(|text| text.parse::<Self>().ok()) {
            grants.everywhere = grants.everywhere.max(grant.everywhere);
            for (site, role) in grant.at {
                let held = grants.at.entry(site).or_insert(role);
                *held = role.max(*held);
            }
        }
        grants
    }

    /// Whether there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.everywhere.is_none() && self.at.is_empty()
    }

    /// The role at a site.
    #[must_use]
    pub fn role_at(&self, site: &Slug) -> Option<Role> {
        self.at.get(site).copied().max(self.everywhere)
    }

    /// The role at all sites, those that do not exist yet among them.
    #[must_use]
    pub fn everywhere(&self) -> Option<Role> {
        self.everywhere
    }

    /// What their holder sees.
    #[must_use]
    pub fn audience(&self) -> Audience {
        match self.everywhere {
            Some(_) => Audience::Local,
            None => Audience::of_sites(self.at.keys().cloned()),
        }
    }
}

impl FromStr for Grants {
    type Err = NoGrant;

    fn from_str(text: &str) -> Result<Self, NoGrant> {
        let (role, site) = match text.split_once(':') {
            Some((role, site)) => (role, Some(site.parse::<Slug>().map_err(|_| NoGrant)?)),
            None => (text, None),
        };
        let role: Role = role.parse().map_err(|_| NoGrant)?;
        match site {
            Some(_) if role == Role::Admin => Err(NoGrant),
            site => Ok(Self::of(role, &Vec::from_iter(site))),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn slug(text: &str) -> Slug {
        text.parse().unwrap()
    }

    #[test]
    fn the_higher_role_counts() {
        let grants = Grants::read([
            "reader",
            "steward:cove",
            "contributor:cove",
            "nonsense",
            "king:cove",
        ]);
        assert_eq!(grants.role_at(&slug("cove")), Some(Role::Steward));
        assert_eq!(grants.role_at(&slug("bay")), Some(Role::Reader));
        assert_eq!(grants.audience(), Audience::Local);
    }

    #[test]
    fn roles_of_one_site_show_that_site_and_no_other() {
        let grants = Grants::of(Role::Reader, &[slug("cove")]);
        assert_eq!(grants.role_at(&slug("bay")), None);
        assert_eq!(grants.everywhere(), None);
        assert_eq!(grants.audience(), Audience::of_sites([slug("cove")]));
        assert!(Grants::read(["augur"]).is_empty());
    }

    #[test]
    fn nobody_is_an_admin_of_one_site() {
        for text in ["admin:cove", "", ":", "reader:", "reader:No Slug", "Reader"] {
            assert_eq!(text.parse::<Grants>(), Err(NoGrant), "{text}");
        }
    }
}
