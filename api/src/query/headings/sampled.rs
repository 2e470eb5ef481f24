//! From surfaces, sites, trackways or a plain list to directions, each with its group.

use super::super::laid::Laying;
use super::{Grouped, Input, North, Refusal, Unit, World};
use crate::catalogue::Indexed;
use crate::query::InputFault;
use spatial::gait::heading_deg;
use spatial::index::{PrintNo, SurfaceIndex};
use spatial::model::{Limb, Trackway};
use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::sync::Arc;

/// Directions by the name of their group; one group, without a name, where they are not grouped.
pub(super) struct Sample {
    /// Degrees, in the order in which they were found.
    pub groups: BTreeMap<String, Vec<f64>>,
    /// How many trackways or prints have no direction.
    pub without_direction: usize,
    /// What they are of, in words.
    pub of: String,
    /// Whether a bed was turned back.
    pub restored: bool,
}

impl Sample {
    fn add(&mut self, group: &str, azimuth_deg: f64) {
        match self.groups.get_mut(group) {
            Some(azimuths_deg) => azimuths_deg.push(azimuth_deg),
            None => drop(self.groups.insert(group.to_owned(), vec![azimuth_deg])),
        }
    }
}

/// Takes the sample that the inputs ask for.
///
/// # Errors
/// When they ask for nothing or for two things, or what they name cannot be read.
pub(super) fn sample(input: &Input, world: &World<'_>) -> Result<Sample, Refusal> {
    let asked = [
        ("surface", input.surface.len()),
        ("site", input.site.len()),
        ("trackway", input.trackway.len()),
        ("azimuths_deg", input.azimuths_deg.len()),
    ];
    let given: Vec<&str> = asked
        .iter()
        .filter(|(_, count)| *count > 0)
        .map(|(name, _)| *name)
        .collect();
    match given[..] {
        ["azimuths_deg"] => plain(input),
        [_] => recorded(input, world),
        _ => {
            let expected = "one of surface, site, trackway and azimuths_deg: what the directions are of";
            let name = given.last().copied().unwrap_or("surface");
            Err(Refusal::Inputs(vec![InputFault::new(name, None, expected)]))
        }
    }
}

fn plain(input: &Input) -> Result<Sample, Refusal> {
    if input.group != Grouped::Whole {
        return Err(Refusal::input(
            "group",
            "",
            "whole: a plain list of azimuths has no groups",
        ));
    }
    if input.restore {
        return Err(Refusal::input(
            "restore",
            true,
            "false: a plain list of azimuths has no surface to restore",
        ));
    }
    Ok(Sample {
        groups: BTreeMap::from([(String::new(), input.azimuths_deg.clone())]),
        without_direction: 0,
        of: "a list of azimuths".to_owned(),
        restored: false,
    })
}

/// A surface and those of its trackways that are asked for; `None` for all of it.
type Asked = (Arc<Indexed>, Option<Vec<usize>>);

fn recorded(input: &Input, world: &World<'_>) -> Result<Sample, Refusal> {
    let asked = asked(input, world)?;
    let sites: BTreeSet<_> = asked.iter().map(|(index, _)| &index.id().site).collect();
    if sites.len() > 1 && input.north == North::Grid {
        return Err(Refusal::input(
            "north",
            "grid",
            "true, where there are several sites: their grids have norths of their own",
        ));
    }
    let animals = animals(input)?;
    let mut sample = Sample {
        groups: BTreeMap::new(),
        without_direction: 0,
        of: [&input.surface, &input.site, &input.trackway]
            .into_iter()
            .flatten()
            .cloned()
            .collect::<Vec<_>>()
            .join(", "),
        restored: input.restore,
    };
    for (index, trackways) in &asked {
        let from = Source {
            input,
            index,
            animals: &animals,
        };
        match input.by {
            Unit::Trackway => from.trackways(trackways.as_deref(), &mut sample)?,
            Unit::Print => from.prints(trackways.as_deref(), &mut sample)?,
        }
    }
    Ok(sample)
}

fn asked(input: &Input, world: &World<'_>) -> Result<Vec<Asked>, Refusal> {
    let mut asked: Vec<Asked> = Vec::new();
    for id in &input.surface {
        asked.push((world.surface(id)?, None));
    }
    for slug in &input.site {
        asked.extend(world.site(slug)?.into_iter().map(|index| (index, None)));
    }
    for id in &input.trackway {
        let (index, no) = world.trackway(id)?;
        match asked.iter_mut().find(|(other, _)| other.id() == index.id()) {
            Some((_, Some(trackways))) => trackways.push(no),
            _ => asked.push((index, Some(vec![no]))),
        }
    }
    // Who names a thing twice wants it once: counted twice, it would look twice as sure.
    let mut seen = BTreeSet::new();
    asked.retain(|(index, _)| seen.insert(index.id().clone()));
    for trackways in asked.iter_mut().filter_map(|(_, trackways)| trackways.as_mut()) {
        trackways.sort_unstable();
        trackways.dedup();
    }
    Ok(asked)
}

/// The kind of animal of each morphotype that the asker names.
fn animals(input: &Input) -> Result<HashMap<&str, &str>, Refusal> {
    if input.group != Grouped::Animal && !input.animals.is_empty() {
        return Err(Refusal::input(
            "animals",
            input.animals.join(","),
            "nothing unless group=animal",
        ));
    }
    let read = |text: &'_ str| -> Option<(usize, usize)> {
        let at = text.rfind(':')?;
        (at > 0 && at + 1 < text.len()).then_some((at, at + 1))
    };
    let mut animals = HashMap::new();
    for text in &input.animals {
        let expected = "morphotype:kind of animal, as in Morph-A:theropod, each morphotype once";
        let (end, start) = read(text).ok_or_else(|| Refusal::input("animals", text, expected))?;
        if animals.insert(&text[..end], &text[start..]).is_some() {
            return Err(Refusal::input("animals", text, expected));
        }
    }
    Ok(animals)
}

/// Where directions are taken from.
struct Source<'a> {
    input: &'a Input,
    index: &'a SurfaceIndex,
    animals: &'a HashMap<&'a str, &'a str>,
}

impl Source<'_> {
    fn laying(&self) -> Result<Laying<'_>, Refusal> {
        Laying::of(self.index, self.input.north, self.input.restore)
    }

    fn named(&self, trackways: Option<&[usize]>) -> Vec<&Trackway> {
        match trackways {
            Some(numbers) => numbers.iter().map(|no| &self.index.trackways()[*no]).collect(),
            None => self.index.standing_trackways(),
        }
    }

    fn trackways(&self, trackways: Option<&[usize]>, sample: &mut Sample) -> Result<(), Refusal> {
        let trackways = self.named(trackways);
        let rows: Vec<Vec<PrintNo>> = trackways
            .iter()
            .map(|trackway| self.index.prints_of(trackway))
            .collect();
        for ((trackway, row), laid) in trackways.iter().zip(&rows).zip(self.laying()?.rows(&rows)?) {
            match heading_deg(&laid.placed) {
                Some(heading_deg) => {
                    let group = self.group(self.index.morphotype_of(trackway), Some((trackway, row)));
                    sample.add(&group, heading_deg);
                }
                None => sample.without_direction += 1,
            }
        }
        Ok(())
    }

    fn prints(&self, trackways: Option<&[usize]>, sample: &mut Sample) -> Result<(), Refusal> {
        let all = trackways.is_none();
        let rows: Vec<(&Trackway, Vec<PrintNo>)> = self
            .named(trackways)
            .into_iter()
            .map(|trackway| (trackway, self.index.prints_of(trackway)))
            .collect();
        let mut of: HashMap<PrintNo, usize> = HashMap::new();
        for (place, (_, row)) in rows.iter().enumerate() {
            row.iter().for_each(|no| {
                of.entry(*no).or_insert(place);
            });
        }
        let mut prints: Vec<PrintNo> = if all {
            (0u32..).take(self.index.prints().len()).collect()
        } else {
            of.keys().copied().collect()
        };
        prints.sort_unstable();
        let azimuths = self.laying()?.azimuths(&prints)?;
        sample.without_direction += prints.len() - azimuths.len();
        for (no, azimuth_deg) in azimuths {
            let trackway = of.get(&no).map(|place| (rows[*place].0, &rows[*place].1[..]));
            let group = self.group(self.index.print(no).morphotype.as_deref(), trackway);
            sample.add(&group, azimuth_deg);
        }
        Ok(())
    }

    fn group<'s>(
        &'s self,
        morphotype: Option<&'s str>,
        trackway: Option<(&Trackway, &[PrintNo])>,
    ) -> Cow<'s, str> {
        match self.input.group {
            Grouped::Whole => Cow::Borrowed(""),
            Grouped::Site => Cow::Borrowed(self.index.id().site.as_str()),
            Grouped::Surface => Cow::Owned(self.index.id().to_string()),
            Grouped::Morphotype => Cow::Borrowed(morphotype.unwrap_or("morphotype unknown")),
            Grouped::Trackway => match trackway {
                Some((trackway, _)) => Cow::Owned(format!("{}:{}", self.index.id(), trackway.label)),
                None => Cow::Borrowed("no trackway"),
            },
            Grouped::Animal => Cow::Borrowed(self.animal(morphotype, trackway.map(|(_, row)| row))),
        }
    }

    fn animal(&self, morphotype: Option<&str>, row: Option<&[PrintNo]>) -> &str {
        if !self.animals.is_empty() {
            return morphotype
                .and_then(|kind| self.animals.get(kind))
                .copied()
                .unwrap_or("other");
        }
        let is_manus = |no: &PrintNo| self.index.print(*no).limb == Some(Limb::Manus);
        match row {
            Some(row) if row.iter().any(is_manus) => "four-footed",
            Some(_) => "two-footed",
            None => "no trackway",
        }
    }
}
