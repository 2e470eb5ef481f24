//! `stridebed site add|list|show`; `tie` has a file of its own.

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
    /// What strangers may learn of its place
    #[arg(long, default_value = "open", value_parser = clap::builder::PossibleValuesParser::new(["open", "generalised", "closed"]))]
    policy: String,
    /// Its name in words; the slug where there is none
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
    /// Write JSON for machines
    #[arg(long)]
    json: bool,
}

impl SiteCommand {
    pub(super) fn run(self, desk: &Desk) -> Done {
        match self {
            Self::Add(add) => for_machines(add.json, add.run(desk)),
            Self::Tie(tie) => tie.run(desk),
            Self::List { json } => for_machines(json, list(desk, json)),
            Self::Show { slug, json } => for_machines(json, show(desk, &slug, json)),
        }
    }
}

impl Add {
    fn run(&self, desk: &Desk) -> Result<(), Problem> {
        let crs = Crs::for_site(crs::parse_code(&self.crs)?)?;
        let site = Site {
            name: self.name.clone().unwrap_or_else(|| self.slug.to_string()),
            country: self.country.clone(),
            steward: self.steward.clone(),
            licence: self.licence.clone(),
            citation: self.citation.clone(),
            policy: self
                .policy
                .parse::<PlacePolicy>()
                .map_err(|fault| Problem::bad_request(fault.to_string()))?,
            formation: self.formation.clone(),
            age: self.age.clone(),
            ..Site::new(self.slug.clone(), crs.code)
        };
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
