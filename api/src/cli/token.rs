//! `stridebed token issue|list|revoke`.

use super::table::table;
use super::{Desk, Done, for_machines, say};
use crate::access::{Role, Secret, Token, end_of};
use crate::problem::Problem;
use crate::store::Store;
use clap::{Args, Subcommand};
use jiff::Timestamp;
use jiff::civil::Date;
use serde_json::{Value, json};
use spatial::model::Slug;

#[derive(Subcommand)]
pub(super) enum TokenCommand {
    /// Issue a token; it is shown this once and kept nowhere
    Issue(Issue),
    /// List the tokens, those that open nothing any more included
    List {
        /// Write JSON for machines
        #[arg(long)]
        json: bool,
    },
    /// Revoke a token; running services feel it within a second
    Revoke {
        /// The token's id, as `token list` has it
        id: String,
    },
}

#[derive(Args)]
pub(super) struct Issue {
    /// What its holder may do: reader, contributor, steward or admin, each with all that those before it may
    #[arg(long)]
    role: Role,
    /// The site where; may be given several times, and is all sites where it is not given
    #[arg(long, value_name = "SLUG")]
    site: Vec<Slug>,
    /// Who holds it; the name stands beside each revision that he makes. Where none is given, the role and the token's id
    #[arg(long, value_name = "NAME")]
    holder: Option<String>,
    /// The last day on which it opens, in UTC, as in 2027-09-30; it never ends where there is none
    #[arg(long, value_name = "DATE")]
    expires: Option<Date>,
    /// Write JSON for machines
    #[arg(long)]
    json: bool,
}

impl TokenCommand {
    pub(super) fn run(self, desk: &Desk) -> Done {
        let store = desk.store()?;
        match self {
            Self::Issue(issue) => for_machines(issue.json, issue.run(&*store)),
            Self::List { json } => for_machines(json, list(&*store, json)),
            Self::Revoke { id } => {
                let token = store.gatekeeper().revoke(&id, Timestamp::now())?;
                say(&format!("Revoked {} of {}.", token.id, token.holder));
                Ok(())
            }
        }
    }
}

impl Issue {
    fn run(&self, store: &dyn Store) -> Result<(), Problem> {
        let expires = self.expires.map(end_of).transpose();
        let expires = expires.map_err(|error| Problem::bad_request(format!("--expires: {error}.")))?;
        if expires.is_some_and(|end| end <= Timestamp::now()) {
            return Err(Problem::bad_request("--expires: this day is over."));
        }
        if self.role == Role::Admin && !self.site.is_empty() {
            return Err(Problem::bad_request(
                "An admin is one everywhere; leave --site out.",
            ));
        }
        if self
            .holder
            .as_ref()
            .is_some_and(|holder| holder.trim().is_empty())
        {
            return Err(Problem::bad_request("--holder: expected a name."));
        }
        let sites = store.sites()?;
        if let Some(slug) = self
            .site
            .iter()
            .find(|slug| sites.iter().all(|site| site.slug != **slug))
        {
            return Err(Problem::not_found(format!("There is no site {slug}.")));
        }
        let secret = Secret::random().map_err(Problem::internal)?;
        let holder = self.holder.clone().unwrap_or_default();
        let token = Token::new(holder, self.role, self.site.clone(), expires);
        let mut token = token.map_err(Problem::internal)?;
        if self.holder.is_none() {
            token.holder = format!("{} {}", token.role, token.id);
        }
        store.gatekeeper().issue(&token, &secret.digest())?;
        if self.json {
            let mut told = record(&token);
            told["token"] = json!(secret.reveal());
            say(&told.to_string());
        } else {
            eprintln!(
                "Issued {} to {}: {} {}.",
                token.id,
                token.holder,
                token.role,
                place(&token)
            );
            eprintln!("This is the only time that it is shown; send it as `Authorization: Bearer …`.");
            say(secret.reveal());
        }
        Ok(())
    }
}

fn list(store: &dyn Store, json: bool) -> Result<(), Problem> {
    let tokens = store.gatekeeper().tokens()?;
    if json {
        say(&tokens.iter().map(record).collect::<Value>().to_string());
        return Ok(());
    }
    let mut rows = table([
        "token",
        "holder",
        "role",
        "sites",
        "issued",
        "expires",
        "last used",
        "state",
    ]);
    for token in &tokens {
        let moment = |moment: Option<Timestamp>| moment.map(|moment| moment.to_string()).unwrap_or_default();
        rows.add_row([
            token.id.clone(),
            token.holder.clone(),
            token.role.to_string(),
            place(token),
            token.issued.to_string(),
            moment(token.expires),
            moment(token.used),
            state(token).to_owned(),
        ]);
    }
    say(&rows.to_string());
    Ok(())
}

fn state(token: &Token) -> &'static str {
    match token.revoked {
        Some(_) => "revoked",
        None if token.holds_at(Timestamp::now()) => "open",
        None => "expired",
    }
}

fn place(token: &Token) -> String {
    if token.sites.is_empty() {
        return "at all sites".to_owned();
    }
    let slugs: Vec<&str> = token.sites.iter().map(Slug::as_str).collect();
    format!("at {}", slugs.join(", "))
}

fn record(token: &Token) -> Value {
    json!({
        "id": token.id,
        "holder": token.holder,
        "role": token.role.name(),
        "sites": token.sites,
        "issued": token.issued,
        "expires": token.expires,
        "revoked": token.revoked,
        "used": token.used,
        "state": state(token),
    })
}
