//! `stridebed surface set|show`.

use super::north::{NorthArgs, as_options, tell_declination, tell_weak_compass, wrong_usage};
use super::{Desk, Done, for_machines, say};
use crate::crs::Crs;
use crate::intake::{North, Sighting, Turn};
use crate::problem::Problem;
use crate::store::{Outcome, Store, SurfaceSummary};
use clap::error::ErrorKind;
use clap::{Args, Subcommand};
use serde_json::{Value, json};
use spatial::angle::fold_deg;
use spatial::frame::magnetic::Compass;
use spatial::frame::tilt::Tilt;
use spatial::model::{Site, Surface, SurfaceId};

#[derive(Subcommand)]
pub(super) enum SurfaceCommand {
    /// Describe a surface, and make it where it is not there yet
    ///
    /// What is not given stays as it is; an empty text takes one away.
    Set(Box<Set>),
    /// Show a surface
    Show {
        /// The surface, as in gannet-ledge:S2
        surface: SurfaceId,
        /// Write JSON for machines
        #[arg(long)]
        json: bool,
    },
}

#[derive(Args)]
pub(super) struct Set {
    /// The surface, as in gannet-ledge:S2
    surface: SurfaceId,
    /// Its name in words
    #[arg(long)]
    name: Option<String>,
    /// Its place in the section, counted from the bottom
    #[arg(long, allow_negative_numbers = true)]
    order: Option<i32>,
    /// The strike, degrees clockwise from north, by the right-hand rule: looking along it, the bed dips to the right
    #[arg(long, value_name = "DEGREES", allow_negative_numbers = true)]
    strike_deg: Option<f64>,
    /// The dip, degrees below the horizontal, 0 to below 90
    #[arg(long, value_name = "DEGREES", allow_negative_numbers = true)]
    dip_deg: Option<f64>,
    #[command(flatten)]
    north: NorthArgs,
    /// The rock
    #[arg(long)]
    lithology: Option<String>,
    /// Anything else
    #[arg(long)]
    note: Option<String>,
    /// Write JSON for machines
    #[arg(long)]
    json: bool,
}

impl SurfaceCommand {
    pub(super) fn run(self, desk: &Desk) -> Done {
        match self {
            Self::Set(set) => {
                let north = set.checked_north();
                for_machines(set.json, set.run(desk, north))
            }
            Self::Show { surface, json } => for_machines(json, show(desk, &surface, json)),
        }
    }
}

impl Set {
    /// The north that the strike is counted from; ends the program where the options do not go together.
    fn checked_north(&self) -> North {
        let north = self.north.north();
        if self.north.is_given() && self.strike_deg.is_none() {
            let words = "a north says what a strike is counted from: give --strike-deg as well";
            wrong_usage(ErrorKind::MissingRequiredArgument, words);
        }
        if north == (North::Magnetic { surveyed_on: None }) {
            let words = "magnetic north moves with the years: give the day of the survey with --surveyed-on";
            wrong_usage(ErrorKind::MissingRequiredArgument, words);
        }
        north
    }

    fn run(&self, desk: &Desk, north: North) -> Result<(), Problem> {
        let store = desk.store()?;
        let site = site(&*store, &self.surface)?;
        self.check()?;
        // Begun before the surface is read, so that nobody changes it in between.
        let mut sheet = store.begin_sheet(&site.slug, &desk.change(self.deed(north)))?;
        let stored = found(&*store, &self.surface)?;
        let turn = self.turn(&site, stored.as_ref(), north)?;
        let before = stored.map(|summary| summary.surface);
        let known = before
            .clone()
            .unwrap_or_else(|| Surface::new(self.surface.label.clone()));
        let described = self.described(known, turn)?;
        let changed = before.as_ref() != Some(&described);
        if changed {
            sheet.put_surface(&described)?;
            if let Outcome::Refused(conflicts) = sheet.finish()? {
                return Err(Problem::internal(format!("a surface was refused: {conflicts:?}")));
            }
        } else {
            drop(sheet);
        }
        let now = found(&*store, &self.surface)?.ok_or_else(|| Problem::internal("a surface is gone"))?;
        self.tell(&now, before.is_none(), changed, turn, north);
        Ok(())
    }

    /// Checks the numbers as they were given.
    fn check(&self) -> Result<(), Problem> {
        // Each is looked at with a sound other one, which may not be given.
        let (strike_deg, dip_deg) = (self.strike_deg.unwrap_or(0.0), self.dip_deg.unwrap_or(0.0));
        Tilt::new(strike_deg, dip_deg).map_err(|fault| Problem::bad_request(format!("{fault}.")))?;
        if (0.0..=360.0).contains(&strike_deg) {
            return Ok(());
        }
        Err(Problem::bad_request(format!(
            "A strike of {strike_deg} degrees makes no sense: expected 0 to 360."
        )))
    }

    /// The way of a given strike to grid north.
    fn turn(
        &self,
        site: &Site,
        stored: Option<&SurfaceSummary>,
        north: North,
    ) -> Result<Option<Turn>, Problem> {
        if self.strike_deg.is_none() || north == North::Grid {
            return Ok(None);
        }
        let Some([[west, south], [east, north_m]]) = stored.and_then(|summary| summary.bounds) else {
            return Err(Problem::bad_request(format!(
                "{} has no prints and no extents yet, so nobody knows where it lies and how {} north differs from grid \
                 north there: import a sheet first, or give the strike from grid north.",
                self.surface,
                north.name()
            )));
        };
        let middle = Sighting {
            position: [(west + east) / 2.0, (south + north_m) / 2.0],
            height_m: 0.0,
            day: None,
        };
        let turns = north.turns(&*Crs::for_site(site.crs)?, site.local_grid.as_ref(), &[middle])?;
        let refused = |reason| {
            Problem::bad_request(format!(
                "The strike cannot be turned to grid north: expected {reason}."
            ))
        };
        turns.into_iter().next().transpose().map_err(refused)
    }

    /// The surface as it is to be.
    fn described(&self, known: Surface, turn: Option<Turn>) -> Result<Surface, Problem> {
        let text = |given: &Option<String>, known: Option<String>| match given {
            Some(text) => Some(text.trim().to_owned()).filter(|text| !text.is_empty()),
            None => known,
        };
        let turn_deg = turn.map_or(0.0, |turn| turn.turn_deg);
        let strike_deg = self.strike_deg.map(|strike_deg| fold_deg(strike_deg + turn_deg));
        let described = Surface {
            name: text(&self.name, known.name),
            order: self.order.or(known.order),
            strike_deg: strike_deg.or(known.strike_deg),
            dip_deg: self.dip_deg.or(known.dip_deg),
            lithology: text(&self.lithology, known.lithology),
            note: text(&self.note, known.note),
            label: known.label,
            revision: known.revision,
        };
        let lacking = match (described.strike_deg, described.dip_deg) {
            (Some(_), None) => "A strike says nothing without a dip: give --dip-deg as well.",
            (None, Some(_)) => "A dip says nothing without a strike: give --strike-deg as well.",
            _ => return Ok(described),
        };
        Err(Problem::bad_request(lacking))
    }

    /// What the history tells; strike and dip as they were given, before any turn.
    fn deed(&self, north: North) -> String {
        let degrees =
            |name: &str, given: Option<f64>| given.map(|deg| format!(" --{name} {deg}")).unwrap_or_default();
        format!(
            "surface set {}{}{}{}",
            self.surface,
            degrees("strike-deg", self.strike_deg),
            degrees("dip-deg", self.dip_deg),
            as_options(north)
        )
    }

    fn tell(&self, now: &SurfaceSummary, made: bool, changed: bool, turn: Option<Turn>, north: North) {
        if self.json {
            let mut told = written(now);
            told["made"] = json!(made);
            told["changed"] = json!(changed);
            if let Some(turn) = turn {
                told["strike_turn_deg"] = json!(turn.turn_deg);
            }
            if let Some(declination) = turn.and_then(|turn| turn.declination) {
                told["declination_sd_deg"] = json!(declination.sd_deg);
                told["weak_compass"] = json!(declination.compass == Compass::Weak);
            }
            say(&told.to_string());
            return;
        }
        say(&match (made, changed) {
            (true, _) => format!("Made surface {}.", now.id),
            (false, true) => format!(
                "Changed surface {}; it has revision {} now.",
                now.id, now.surface.revision
            ),
            (false, false) => format!("Nothing changed: surface {} is described so already.", now.id),
        });
        if let Some((turn, given)) = turn.zip(self.strike_deg) {
            tell_turn(given, turn, north);
        }
        say(&attitude(&now.surface));
    }
}

fn tell_turn(given_deg: f64, turn: Turn, north: North) {
    say(&format!(
        "The strike of {given_deg}° from {} north was turned by {:+.3}° to grid north, at the middle of the surface.",
        north.name(),
        turn.turn_deg
    ));
    if let Some(declination) = turn.declination {
        tell_declination(declination.sd_deg);
        if declination.compass == Compass::Weak {
            tell_weak_compass("the strike was");
        }
    }
}

/// A surface for machines: its own record, and how much is on it.
pub(super) fn written(summary: &SurfaceSummary) -> Value {
    let mut surface = json!(summary.surface);
    surface["id"] = json!(summary.id);
    surface["prints"] = json!(summary.prints);
    surface["extents"] = json!(summary.extents);
    surface["trackways"] = json!(summary.trackways);
    surface
}

fn show(desk: &Desk, id: &SurfaceId, json: bool) -> Result<(), Problem> {
    let store = desk.store()?;
    let summary =
        found(&*store, id)?.ok_or_else(|| Problem::not_found(format!("There is no surface {id}.")))?;
    if json {
        say(&written(&summary).to_string());
        return Ok(());
    }
    let surface = &summary.surface;
    let line = |name: &str, value: &Option<String>| value.as_ref().map(|value| format!("{name}: {value}"));
    say(&match &surface.name {
        Some(name) => format!("{id} – {name}"),
        None => id.to_string(),
    });
    let order = surface
        .order
        .map(|order| format!("place in the section: {order}, counted from the bottom"));
    order.iter().for_each(|line| say(line));
    say(&attitude(surface));
    let more = [line("lithology", &surface.lithology), line("note", &surface.note)];
    more.into_iter().flatten().for_each(|line| say(&line));
    say(&format!(
        "prints: {}, extents: {}, trackways: {}",
        summary.prints, summary.extents, summary.trackways
    ));
    Ok(())
}

/// Strike and dip in words.
fn attitude(surface: &Surface) -> String {
    match (surface.strike_deg, surface.dip_deg) {
        (Some(strike), Some(dip)) => {
            let down = fold_deg(strike + 90.0);
            format!(
                "strike and dip: {strike:.2}° from grid north, {dip:.2}° down to the right of it, towards {down:.2}°"
            )
        }
        _ => "strike and dip: unknown".to_owned(),
    }
}

fn found(store: &dyn Store, id: &SurfaceId) -> Result<Option<SurfaceSummary>, Problem> {
    let surfaces = store.surfaces()?;
    Ok(surfaces.into_iter().find(|summary| summary.id == *id))
}

fn site(store: &dyn Store, surface: &SurfaceId) -> Result<Site, Problem> {
    let found = store.sites()?.into_iter().find(|site| site.slug == surface.site);
    found.ok_or_else(|| {
        Problem::not_found(format!(
            "There is no site {0}. Add it first: `stridebed site add {0} --crs EPSG:…`.",
            surface.site
        ))
    })
}
