//! Who asks: his name, what he is shown, and what he may do.

use super::{Audience, Grants, Role};
use spatial::model::Slug;

/// Who sends a request.
#[derive(Debug, Clone)]
pub struct Asker {
    name: Option<String>,
    audience: Audience,
    rights: Rights,
}

#[derive(Debug, Clone)]
enum Rights {
    /// All: the people of this machine, while the store has no tokens.
    House,
    /// What the roles give.
    Roles(Grants),
    /// To read what his audience is shown, and no more; why.
    Reading(Denied),
}

/// Why something may not be done.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Denied {
    /// Nobody may change anything here.
    #[error("This service is read-only.")]
    ReadOnly,
    /// While there are no tokens, changes come from this machine alone.
    #[error("Changes are taken from this machine only, as long as no tokens are issued.")]
    Elsewhere,
    /// A page of another site has put the request into a browser of this machine.
    #[error("Changes are not taken through pages of other sites.")]
    StrangePage,
    /// There are tokens, and this request has none.
    #[error(
        "This needs a token: send it as `Authorization: Bearer …`. Whoever runs the service issues them."
    )]
    NoToken,
    /// The token opens nothing.
    #[error("The token opens nothing: {0}.")]
    BadToken(&'static str),
    /// The token opens, but not this.
    #[error("This needs the role {0} {1}, which the token does not give.")]
    Role(Role, String),
    /// Whether a token opens cannot be told at the moment.
    #[error("Tokens cannot be checked at the moment: {0}. Try again later.")]
    Unchecked(String),
}

impl Asker {
    /// The people of this machine, while the store has no tokens.
    #[must_use]
    pub fn house() -> Self {
        Self {
            name: None,
            audience: Audience::Local,
            rights: Rights::House,
        }
    }

    /// Somebody who is not known, and why he may only read.
    #[must_use]
    pub fn unknown(audience: Audience, why: Denied) -> Self {
        Self {
            name: None,
            audience,
            rights: Rights::Reading(why),
        }
    }

    /// The holder of a token.
    #[must_use]
    pub fn holder(name: String, grants: Grants) -> Self {
        Self {
            name: Some(name),
            audience: grants.audience(),
            rights: Rights::Roles(grants),
        }
    }

    /// The same where nobody may change anything.
    #[must_use]
    pub fn reading_only(self) -> Self {
        Self {
            rights: Rights::Reading(Denied::ReadOnly),
            ..self
        }
    }

    /// His name, where he has one.
    #[must_use]
    pub fn name(&self) -> Option<&str> {
        self.name.as_deref()
    }

    /// Who is named beside what he changes.
    #[must_use]
    pub fn author(&self) -> &str {
        self.name().unwrap_or("local")
    }

    /// What he is shown.
    #[must_use]
    pub fn audience(&self) -> &Audience {
        &self.audience
    }

    /// Whether he has this role, or a higher one, at a site. Whether the site exists makes no difference to the answer.
    ///
    /// # Errors
    /// Why not.
    pub fn must_be(&self, role: Role, site: &Slug) -> Result<(), Denied> {
        self.has(role, |grants| grants.role_at(site), || format!("at {site}"))
    }

    /// Whether he has this role, or a higher one, at all sites.
    ///
    /// # Errors
    /// Why not.
    pub fn must_be_everywhere(&self, role: Role) -> Result<(), Denied> {
        self.has(role, Grants::everywhere, || "at all sites".to_owned())
    }

    /// Whether he may change anything anywhere: where a request's body says what it is about, who may not is told before it is
    /// read.
    ///
    /// # Errors
    /// Why not.
    pub fn must_write(&self) -> Result<(), Denied> {
        match &self.rights {
            Rights::Reading(why) => Err(why.clone()),
            Rights::House | Rights::Roles(_) => Ok(()),
        }
    }

    fn has(
        &self,
        role: Role,
        held: impl Fn(&Grants) -> Option<Role>,
        place: impl Fn() -> String,
    ) -> Result<(), Denied> {
        match &self.rights {
            Rights::House => Ok(()),
            Rights::Roles(grants) if held(grants) >= Some(role) => Ok(()),
            Rights::Roles(_) => Err(Denied::Role(role, place())),
            Rights::Reading(why) => Err(why.clone()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_role_holds_where_it_is_given_and_for_less() {
        let (cove, bay): (Slug, Slug) = ("cove".parse().unwrap(), "bay".parse().unwrap());
        let asker = Asker::holder(
            "party".into(),
            Grants::of(Role::Contributor, std::slice::from_ref(&cove)),
        );
        assert_eq!(asker.must_be(Role::Reader, &cove), Ok(()));
        assert_eq!(asker.must_be(Role::Contributor, &cove), Ok(()));
        for refused in [
            asker.must_be(Role::Steward, &cove),
            asker.must_be(Role::Reader, &bay),
            asker.must_be_everywhere(Role::Reader),
        ] {
            assert!(matches!(refused, Err(Denied::Role(..))), "{refused:?}");
        }
        assert_eq!(
            asker.reading_only().must_be(Role::Reader, &cove),
            Err(Denied::ReadOnly)
        );
        assert_eq!(Asker::house().must_be_everywhere(Role::Admin), Ok(()));
    }
}
