//! `stridebed site add|set|list|show`; `tie` has a file of its own.

use super::surface::written;
use super::table::table;
use super::tie::{self, Tie};
use super::{Desk, Done, for_machines, say};
use crate::crs::{self, Crs};
use crate::problem::Problem;
use clap::{Args, Subcommand};
use serde_json::json;
use spatial::model::{PlacePolicy, Site, Slug};

#[derive(Subcommand)]
pub(super) enum SiteCommand {
    /// Add a site
    Add(Box<Add>),
    /// Change what is told of a site; what is not given stays as it is
    Set(Box<Set>),
    /// Tie a site's local grid to its CRS by control points
    Tie(Tie),
    /// List all sites
    List {
        /// Write JSON for machines
        #[arg(long)]
        json: bool,
    },
    /// Show a site with its surfaces
    Show {
        /// The site
        slug: Slug,
        /// Write JSON for machines
        #[arg(long)]
        json: bool,
    },
}

#[derive(Args)]
pub(super) struct Add {
    /// The site's readable id, as in gannet-ledge
    slug: Slug,
    /// Its CRS: a conformal projection in metres, as in EPSG:25830
    #[arg(long)]
    crs: String,
    /// What strangers may learn of its place: all, the 10 km cell that it lies in, or not even that it is there
    #[arg(long, default_value = "open", value_parser = policies())]
    policy: String,
    #[command(flatten)]
    words: Words,
    /// Write JSON for machines
    #[arg(long)]
    json: bool,
}

#[derive(Args)]
pub(super) struct Set {
    /// The site
    slug: Slug,
    /// What strangers may learn of its place: all, the 10 km cell that it lies in, or not even that it is there
    #[arg(long, value_parser = policies())]
    policy: Option<String>,
    #[command(flatten)]
    words: Words,
    /// Write JSON for machines
    #[arg(long)]
    json: bool,
}

/// What is told of a site in words.
#[derive(Args)]
struct Words {
    /// Its name in words
    #[arg(long)]
    name: Option<String>,
    /// The country
    #[arg(long)]
    country: Option<String>,
    /// Who answers for it
    #[arg(long)]
    steward: Option<String>,
    /// The licence of its data
    #[arg(long)]
    licence: Option<String>,
    /// How to cite it
    #[arg(long)]
    citation: Option<String>,
    /// The geological formation
    #[arg(long)]
    formation: Option<String>,
    /// The geological age
    #[arg(long)]
    age: Option<String>,
}

fn policies() -> clap::builder::PossibleValuesParser {
    ["open", "generalised", "closed"].into()
}

impl SiteCommand {
    pub(super) fn run(self, desk: &Desk) -> Done {
        match self {
            Self::Add(add) => for_machines(add.json, add.run(desk)),
            Self::Set(set) => for_machines(set.json, set.run(desk)),
            Self::Tie(tie) => tie.run(desk),
            Self::List { json } => for_machines(json, list(desk, json)),
            Self::Show { slug, json } => for_machines(json, show(desk, &slug, json)),
        }
    }
}

impl Add {
    fn run(&self, desk: &Desk) -> Result<(), Problem> {
        let crs = Crs::for_site(crs::parse_code(&self.crs)?)?;
        let mut site = Site::new(self.slug.clone(), crs.code);
        site.name = self.slug.to_string();
        site.policy = policy(&self.policy)?;
        self.words.tell(&mut site);
        let store = desk.store_or_new(&desk.location()?)?;
        let site = store.add_site(&site, &desk.change(format!("site add {}", self.slug)))?;
        if self.json {
            say(&json!(site).to_string());
        } else {
            say(&format!(
                "Added site {} in {} ({}).",
                site.slug,
                crs.authority_code(),
                crs.name
            ));
        }
        Ok(())
    }
}

impl Set {
    fn run(&self, desk: &Desk) -> Result<(), Problem> {
        let store = desk.store()?;
        let found = store.sites()?.into_iter().find(|site| site.slug == self.slug);
        let mut site = found.ok_or_else(|| Problem::not_found(format!("There is no site {}.", self.slug)))?;
        if let Some(name) = &self.policy {
            site.policy = policy(name)?;
        }
        self.words.tell(&mut site);
        let before = site.revision;
        let site = store.change_site(&site, &desk.change(format!("site set {}", self.slug)))?;
        if self.json {
            say(&json!(site).to_string());
        } else if site.revision == before {
            say(&format!("Site {} is as it was.", site.slug));
        } else {
            say(&format!(
                "Changed site {}; it is at revision {}.",
                site.slug, site.revision
            ));
        }
        Ok(())
    }
}

impl Words {
    /// Tells a site what is given.
    fn tell(&self, site: &mut Site) {
        if let Some(name) = &self.name {
            site.name.clone_from(name);
        }
        for (given, told) in [
            (&self.country, &mut site.country),
            (&self.steward, &mut site.steward),
            (&self.licence, &mut site.licence),
            (&self.citation, &mut site.citation),
            (&self.formation, &mut site.formation),
            (&self.age, &mut site.age),
        ] {
            if given.is_some() {
                told.clone_from(given);
            }
        }
    }
}

fn policy(name: &str) -> Result<PlacePolicy, Problem> {
    name.parse()
        .map_err(|fault: spatial::model::UnknownName| Problem::bad_request(fault.to_string()))
}

fn list(desk: &Desk, json: bool) -> Result<(), Problem> {
    let listing = desk.catalogue()?.listing()?;
    if json {
        say(&json!(listing.sites().collect::<Vec<_>>()).to_string());
        return Ok(());
    }
    let mut sites = table(["site", "name", "CRS", "policy", "surfaces", "prints"]);
    for site in listing.sites() {
        let surfaces: Vec<_> = listing.surfaces_of(&site.slug).collect();
        let prints: u64 = surfaces.iter().map(|entry| entry.summary.prints).sum();
        sites.add_row([
            site.slug.to_string(),
            site.name.clone(),
            format!("EPSG:{}", site.crs),
            site.policy.to_string(),
            surfaces.len().to_string(),
            prints.to_string(),
        ]);
    }
    say(&sites.to_string());
    Ok(())
}

fn show(desk: &Desk, slug: &Slug, json: bool) -> Result<(), Problem> {
    let listing = desk.catalogue()?.listing()?;
    let site = listing
        .site(slug)
        .ok_or_else(|| Problem::not_found(format!("There is no site {slug}.")))?;
    let entries: Vec<_> = listing.surfaces_of(slug).collect();
    if json {
        let mut shown = json!(site);
        shown["surfaces"] = entries.iter().map(|entry| written(&entry.summary)).collect();
        say(&shown.to_string());
        return Ok(());
    }
    let words = |name: &str, value: &Option<String>| value.as_ref().map(|value| format!("{name}: {value}"));
    say(&format!("{} – {}", site.slug, site.name));
    say(&format!(
        "CRS: EPSG:{} ({})",
        site.crs,
        Crs::for_site(site.crs)?.name
    ));
    say(&format!("policy: {}", site.policy));
    let more = [
        words("country", &site.country),
        words("steward", &site.steward),
        words("licence", &site.licence),
        words("citation", &site.citation),
        words("formation", &site.formation),
        words("age", &site.age),
    ];
    let grid = site.local_grid.iter().flat_map(tie::told);
    more.into_iter().flatten().chain(grid).for_each(|line| say(&line));
    let mut surfaces = table(["surface", "name", "prints", "extents", "trackways"]);
    for entry in entries {
        let summary = &entry.summary;
        surfaces.add_row([
            summary.id.to_string(),
            summary.surface.name.clone().unwrap_or_default(),
            summary.prints.to_string(),
            summary.extents.to_string(),
            summary.trackways.to_string(),
        ]);
    }
    say(&surfaces.to_string());
    Ok(())
}
