//! What a request asks for of a collection.

use super::super::Problem;
use super::super::asked::Asked;
use super::super::collections::offered;
use super::super::moment::AS_OF;
use crate::catalogue::Catalogue;
use crate::collection::{Bbox, Collection, Filter, Interval, Language, Page, Selection};
use crate::feature::OutputCrs;

/// How many features a page has at most.
pub(in crate::http) const MOST: usize = 10_000;
/// How many features a page has unless it is asked otherwise.
pub(in crate::http) const USUAL: usize = 100;
/// The parameters of a list of items beside the filters by property.
const PARAMETERS: &[&str] = &[
    "limit",
    "after",
    "bbox",
    "bbox-crs",
    "datetime",
    "crs",
    "filter",
    "filter-lang",
    "filter-crs",
];

/// A page of a collection as a request asks for it.
pub(super) struct Wanted {
    pub(super) selection: Selection,
    pub(super) after: Option<String>,
    pub(super) limit: usize,
    pub(super) crs: OutputCrs,
    /// The parameters as they came, to carry on in the link to the next page.
    pub(super) parameters: Vec<(String, String)>,
}

impl Wanted {
    pub(super) fn page(&self, catalogue: &Catalogue) -> Result<Page, Problem> {
        Ok(self
            .selection
            .page(catalogue, self.after.as_deref(), self.limit)?)
    }

    pub(super) fn read(
        collection: Collection,
        asked: &mut Asked,
        catalogue: &Catalogue,
    ) -> Result<Self, Problem> {
        let mut carried = asked.parameters().to_vec();
        carried.extend(asked.as_of.clone().map(|moment| (AS_OF.to_owned(), moment)));
        let crs = |parameter: &str, text| offered_or_degrees(catalogue, parameter, text);
        let limit = limit(asked.take("limit")?)?;
        let after = asked.take("after")?;
        if let Some(text) = after.as_deref().filter(|text| !collection.may_have(text)) {
            return Err(expected(
                "after",
                text,
                &format!("the id of a {}", collection.singular()),
            ));
        }
        let output = crs("crs", asked.take("crs")?)?;
        let bbox = read_box(catalogue, asked.take("bbox")?, asked.take("bbox-crs")?)?;
        let interval = asked
            .take("datetime")?
            .map(|text| Interval::parse(&text).map_err(|e| expected("datetime", &text, &e)));
        let filter_crs = crs("filter-crs", asked.take("filter-crs")?)?;
        let language = language(asked.take("filter-lang")?)?;
        let filter = asked
            .take("filter")?
            .map(|text| Filter::parse(&text, language, collection, filter_crs));
        let mut selection = Selection::all(collection);
        selection.filter = filter
            .transpose()
            .map_err(|fault| Problem::bad_request(format!("The filter does not fit {fault}.")))?;
        selection.bbox = bbox;
        selection.interval = interval.transpose()?;
        let columns = collection.columns();
        let queryables = || {
            columns
                .iter()
                .enumerate()
                .filter(|(_, column)| column.is_queryable())
        };
        for (column, described) in queryables() {
            let Some(value) = asked.take(described.name)? else {
                continue;
            };
            match described.name {
                "site" => selection.site = Some(value.parse().map_err(|e| expected("site", &value, &e))?),
                "surface" => {
                    selection.surface = Some(value.parse().map_err(|e| expected("surface", &value, &e))?)
                }
                _ => selection.values.push((column, value)),
            }
        }
        let filters = queryables().map(|(_, column)| column.name);
        let known: Vec<&str> = PARAMETERS.iter().copied().chain(filters).collect();
        asked.nothing_else(&known)?;
        let parameters = carried.into_iter().filter(|(name, _)| name != "after").collect();
        Ok(Self {
            selection,
            after,
            limit,
            crs: output,
            parameters,
        })
    }
}

fn offered_or_degrees(
    catalogue: &Catalogue,
    parameter: &str,
    text: Option<String>,
) -> Result<OutputCrs, Problem> {
    text.map_or(Ok(OutputCrs::Crs84), |text| offered(catalogue, parameter, &text))
}

/// The box that the parameters `bbox` and `bbox-crs` name; longitude and latitude without the latter.
pub(in crate::http) fn read_box(
    catalogue: &Catalogue,
    bbox: Option<String>,
    crs: Option<String>,
) -> Result<Option<Bbox>, Problem> {
    let crs = offered_or_degrees(catalogue, "bbox-crs", crs)?;
    let bbox = bbox.map(|text| Bbox::parse(&text, crs).map_err(|e| expected("bbox", &text, &e)));
    bbox.transpose()
}

/// A limit above the maximum is clamped, as the standard has it.
fn limit(text: Option<String>) -> Result<usize, Problem> {
    let Some(text) = text else { return Ok(USUAL) };
    match text.parse::<u64>() {
        Ok(limit) if limit >= 1 => Ok(usize::try_from(limit).map_or(MOST, |limit| limit.min(MOST))),
        _ if text.bytes().all(|b| b.is_ascii_digit()) && text.len() > 19 => Ok(MOST),
        _ => Err(expected("limit", &text, &"a whole number of 1 or more")),
    }
}

fn language(text: Option<String>) -> Result<Language, Problem> {
    let Some(text) = text else {
        return Ok(Language::Text);
    };
    let found = Language::ALL.into_iter().find(|language| language.name() == text);
    found.ok_or_else(|| {
        let names = Language::ALL.map(Language::name).join(" or ");
        expected("filter-lang", &text, &names)
    })
}

fn expected(name: &str, value: &str, expected: &dyn std::fmt::Display) -> Problem {
    let short: String = value.chars().take(80).collect();
    Problem::bad_request(format!("{name}={short} does not fit: expected {expected}."))
}
