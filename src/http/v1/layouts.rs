//! `/v1/layouts`: where things stand on a boat of each form, and the ways that cable takes there, before anyone measures.

use std::collections::BTreeSet;

use actix_web::web::Path;
use actix_web::{HttpRequest, HttpResponse, get};
use serde::Serialize;
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;

use crate::calc::routes::{Route, Routes};
use crate::calc::spec::boat::{Estimate, Hull, Run, Station};
use crate::calc::spec::check::nearest;
use crate::calc::spec::input::{Access, HullForm, Known, Propulsion, Side};
use crate::calc::spec::layouts::{self, Form, form};
use crate::calc::units::{Length, LengthUnit, LengthValue, Name};
use crate::documents::plan::{self, Plan};
use crate::http::etag::{self, IfNoneMatchHeader};
use crate::http::problem::{Kind, ParameterFault, Problem};
use crate::http::query::{FromQuery, NoParameters, Query, Reader};

const PATH: &str = "/v1/layouts";
/// Words of the units, for the query.
const UNITS: [&str; 5] = ["in", "ft", "mm", "cm", "m"];
/// Words of what drives a boat, for the query.
const PROPULSIONS: [&str; 5] = ["outboard", "petrol_inboard", "diesel_inboard", "electric", "none"];
/// Media type of a plan.
const SVG: &str = "image/svg+xml";

pub(super) fn routes(config: &mut ServiceConfig) {
    config.service(list_layouts).service(draw_plan).service(read_layout);
}

/// Lengths between two bounds.
#[derive(Serialize, ToSchema)]
struct LengthRange {
    /// The least.
    min: LengthValue,
    /// The most.
    max: LengthValue,
}

/// Shares between two bounds.
#[derive(Serialize, ToSchema)]
struct ShareRange {
    /// The least.
    min: f64,
    /// The most.
    max: f64,
}

/// One form of hull.
#[derive(Serialize, ToSchema)]
struct LayoutRow {
    /// The form.
    hull_form: HullForm,
    /// As printed.
    name: &'static str,
    /// Usual hull lengths. Beyond them a layout is given with a warning, far beyond them refused.
    hull_length: LengthRange,
    /// Usual beams.
    beam: LengthRange,
    /// Usual beams as a share of hull length.
    beam_share: ShareRange,
    /// Depth as a share of the beam where none is stated.
    depth_share: f64,
    /// Stations that it has.
    #[schema(value_type = Vec<String>)]
    stations: Vec<Name>,
    /// Address of its layout; add `hull_length` and `beam`.
    href: String,
}

/// The forms of hull.
#[derive(Serialize, ToSchema)]
struct LayoutList {
    /// One row for each form.
    rows: Vec<LayoutRow>,
    /// Where the layouts come from.
    #[schema(value_type = String)]
    source: &'static str,
}

/// A station of a layout.
#[derive(Serialize, ToSchema)]
struct LayoutStation {
    /// Identifier, as specs and packages name it.
    #[schema(value_type = String)]
    id: Name,
    /// As printed.
    name: String,
    /// From the transom, towards the bow.
    from_transom: LengthValue,
    /// From the centre line.
    off_centre: LengthValue,
    /// To which side of it; absent on the centre line.
    #[serde(skip_serializing_if = "Option::is_none")]
    side: Option<Side>,
    /// Above the inside of the bottom.
    height: LengthValue,
    /// Whether petrol vapour is taken to be there until someone has looked.
    petrol_vapour: Known,
}

/// A run of a layout.
#[derive(Serialize, ToSchema)]
struct LayoutRun {
    /// Station at one end.
    #[schema(value_type = String)]
    from: Name,
    /// Station at the other end.
    #[schema(value_type = String)]
    to: Name,
    /// Estimated length: `of_length` of the hull length, `of_beam` of the beam, `of_depth` of the depth, and `more`.
    length: LengthValue,
    /// Share of hull length.
    of_length: f64,
    /// Share of the beam.
    of_beam: f64,
    /// Share of the depth.
    of_depth: f64,
    /// What does not depend on the hull's size.
    more: LengthValue,
    /// How cable gets through.
    access: Access,
    /// Whether it passes through an engine space.
    engine_space: bool,
    /// Usual inside diameter of its tube.
    #[serde(skip_serializing_if = "Option::is_none")]
    inside_diameter: Option<LengthValue>,
}

/// The layout of a hull.
#[derive(Serialize, ToSchema)]
struct LayoutAnswer {
    /// Form of the hull.
    hull_form: HullForm,
    /// As printed.
    name: &'static str,
    /// Its length.
    hull_length: LengthValue,
    /// Its beam.
    beam: LengthValue,
    /// Its depth.
    depth: LengthValue,
    /// Whether that depth was stated, and not taken from the beam.
    depth_stated: bool,
    /// Stations by id.
    stations: Vec<LayoutStation>,
    /// Runs between neighbouring stations.
    runs: Vec<LayoutRun>,
    /// What is unusual about a hull of this form and size.
    warnings: Vec<String>,
    /// What the lengths are, and what to do before cable is cut.
    #[schema(value_type = String)]
    note: &'static str,
    /// Where the figures come from.
    #[schema(value_type = String)]
    source: &'static str,
}

/// A drawing as SVG, for the browser or for print.
#[derive(ToSchema)]
#[expect(dead_code, reason = "only describes what is drawn")]
struct Drawing(String);

/// The sizes that a layout is asked for by, for the description.
#[derive(IntoParams)]
#[into_params(parameter_in = Query)]
#[expect(dead_code, reason = "only describes what `LayoutQuery` reads")]
struct LayoutParameters {
    /// Length of the hull without bracket or motor, in `unit`.
    #[param(minimum = 0, maximum = 1_000_000, example = 22)]
    hull_length: f64,
    /// Beam, in `unit`.
    #[param(minimum = 0, maximum = 1_000_000, example = 8.5)]
    beam: f64,
    /// Depth amidships from the inside of the bottom to the sheer, in `unit`; a usual share of the beam unless stated.
    #[param(minimum = 0, maximum = 1_000_000)]
    depth: Option<f64>,
    /// Unit of the sizes here and of the lengths in the answer; feet unless stated.
    #[param(inline)]
    unit: Option<LengthUnit>,
    /// What drives it; an outboard unless stated.
    #[param(inline)]
    propulsion: Option<Propulsion>,
}

/// The route that a plan shows, for the description.
#[derive(IntoParams)]
#[into_params(parameter_in = Query)]
#[expect(dead_code, reason = "only describes what `PlanQuery` reads")]
struct RouteParameters {
    /// Station at one end of a route to be laid over the plan, with `to`.
    #[param(min_length = 1, max_length = 60, example = "helm")]
    from: Option<String>,
    /// Station at its other end.
    #[param(min_length = 1, max_length = 60, example = "aft_bilge")]
    to: Option<String>,
}

struct LayoutQuery {
    hull_length: f64,
    beam: f64,
    depth: Option<f64>,
    unit: LengthUnit,
    propulsion: Propulsion,
}

impl FromQuery for LayoutQuery {
    fn read(reader: &mut Reader) -> Self {
        LayoutQuery {
            hull_length: reader.needed_number("hull_length", 0.0, 1e6).unwrap_or_default(),
            beam: reader.needed_number("beam", 0.0, 1e6).unwrap_or_default(),
            depth: reader.number("depth", 0.0, 1e6),
            unit: reader.one_of("unit", &UNITS).unwrap_or(LengthUnit::Ft),
            propulsion: reader.one_of("propulsion", &PROPULSIONS).unwrap_or(Propulsion::Outboard),
        }
    }
}

impl LayoutQuery {
    /// The hull of a form, or what is wrong with its sizes.
    fn hull(&self, hull_form: HullForm) -> Result<Hull, Problem> {
        let length = |value: f64| Length::new(value, self.unit).unwrap_or(Length::LONGEST);
        let depth = self.depth.map(length);
        layouts::hull(hull_form, length(self.hull_length), length(self.beam), depth, self.unit).map_err(|sizes| {
            let fault = |(size, told): (layouts::Size, String)| ParameterFault {
                parameter: size.field().to_owned(),
                message: sentence(&told),
            };
            Problem::query(sizes.into_iter().map(fault).collect())
        })
    }

    fn stations_and_runs(&self, hull: &Hull) -> (Vec<Station>, Vec<Run>) {
        let stations = layouts::stations(hull, self.propulsion);
        let runs = layouts::runs(hull, self.propulsion, &stations, &BTreeSet::new());
        (stations, runs)
    }
}

struct PlanQuery {
    layout: LayoutQuery,
    from: Option<String>,
    to: Option<String>,
}

impl FromQuery for PlanQuery {
    fn read(reader: &mut Reader) -> Self {
        PlanQuery { layout: LayoutQuery::read(reader), from: reader.text("from", 60), to: reader.text("to", 60) }
    }
}

/// List the forms of hull
///
/// With the sizes at which each is usual, and the stations that its layout has.
#[utoipa::path(tag = "layouts", operation_id = "list_layouts", params(IfNoneMatchHeader),
    responses((status = 200, description = "The forms.", body = LayoutList, headers(("ETag" = String, description = "Of these bytes."))),
        (status = 304, description = "The client has them already.")))]
#[get("/v1/layouts")]
async fn list_layouts(request: HttpRequest, _: Query<NoParameters>) -> HttpResponse {
    let rows = HullForm::ALL.into_iter().map(|hull_form| row(hull_form, form(hull_form))).collect();
    etag::json(&request, &LayoutList { rows, source: "common practice" })
}

/// Read the layout of a form of hull
///
/// Stations with their places and runs with their lengths, as a quote takes them where its spec states none. They are
/// estimates: measure before cutting.
#[utoipa::path(tag = "layouts", operation_id = "read_layout",
    params(("hull_form" = HullForm, Path, description = "The form of hull."), LayoutParameters, IfNoneMatchHeader),
    responses((status = 200, description = "The layout.", body = LayoutAnswer, headers(("ETag" = String, description = "Of these bytes."))),
        (status = 304, description = "The client has it already.")))]
#[get("/v1/layouts/{hull_form}")]
async fn read_layout(
    request: HttpRequest,
    query: Query<LayoutQuery>,
    hull_form: Path<String>,
) -> Result<HttpResponse, Problem> {
    let hull = query.0.hull(form_of(&hull_form)?)?;
    Ok(etag::json(&request, &answer(&hull, &query.0)))
}

/// Draw the plan of a form of hull
///
/// An SVG picture from above, the bow to the right: outline, stations with their names, runs by access; with `from` and
/// `to` the route between two stations is laid over them.
#[utoipa::path(tag = "layouts", operation_id = "draw_layout_plan",
    params(("hull_form" = HullForm, Path, description = "The form of hull."), LayoutParameters, RouteParameters, IfNoneMatchHeader),
    responses((status = 200, description = "The picture.", headers(("ETag" = String, description = "Of these bytes.")),
        body = Drawing, content_type = "image/svg+xml",
        examples(("shortened" = (summary = "Its frame, without what is drawn in it", value = json!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 1200 660\" role=\"img\"><title>Center console</title></svg>"))))),
        (status = 304, description = "The client has it already.")))]
#[get("/v1/layouts/{hull_form}/plan")]
async fn draw_plan(
    request: HttpRequest,
    query: Query<PlanQuery>,
    hull_form: Path<String>,
) -> Result<HttpResponse, Problem> {
    let PlanQuery { layout, from, to } = query.0;
    let hull = layout.hull(form_of(&hull_form)?)?;
    let (stations, runs) = layout.stations_and_runs(&hull);
    let route = route(&stations, &runs, from.as_deref(), to.as_deref())?;
    let drawn = plan::svg(&Plan {
        title: None,
        hull: &hull,
        stations: &stations,
        runs: &runs,
        routes: route.as_slice(),
        unit: layout.unit,
    });
    Ok(etag::bytes(&request, drawn.into_bytes(), SVG))
}

fn form_of(word: &str) -> Result<HullForm, Problem> {
    HullForm::ALL.into_iter().find(|form| form.word() == word).ok_or_else(|| {
        let forms: Vec<&str> = HullForm::ALL.iter().map(|form| form.word()).collect();
        Problem::new(Kind::NotFound, format!("There is no such form of hull; there are: {}.", forms.join(", ")))
    })
}

/// The route between two stations, when both are named.
fn route(stations: &[Station], runs: &[Run], from: Option<&str>, to: Option<&str>) -> Result<Option<Route>, Problem> {
    if from.is_none() && to.is_none() {
        return Ok(None);
    }
    let mut faults = Vec::new();
    let mut place = |parameter: &str, id: Option<&str>| {
        let found = id.and_then(|id| stations.iter().position(|station| station.id.as_str() == id));
        if found.is_none() {
            let known = stations.iter().map(|station| station.id.as_str());
            let message = match id {
                None => "A route has two ends; name both stations.".to_owned(),
                Some(id) => match nearest(id, known.clone()) {
                    Some(near) => format!("The layout has no such station; did you mean '{near}'?"),
                    None => {
                        format!("The layout has no such station; it has: {}.", known.collect::<Vec<_>>().join(", "))
                    }
                },
            };
            faults.push(ParameterFault { parameter: parameter.to_owned(), message });
        }
        found
    };
    match (place("from", from), place("to", to)) {
        (Some(from), Some(to)) => Ok(Routes::new(stations.len(), runs).route(from, to)),
        _ => Err(Problem::query(faults)),
    }
}

fn row(hull_form: HullForm, form: &Form) -> LayoutRow {
    let range = |(least, most): (f64, f64)| LengthRange {
        min: Length::feet(least).written(LengthUnit::Ft),
        max: Length::feet(most).written(LengthUnit::Ft),
    };
    LayoutRow {
        hull_form,
        name: form.name,
        hull_length: range(form.length_ft),
        beam: range(form.beam_ft),
        beam_share: ShareRange { min: form.beam_share.0, max: form.beam_share.1 },
        depth_share: form.depth_share,
        stations: form.stations.iter().map(|station| station.id.clone()).collect(),
        href: format!("{PATH}/{}", hull_form.word()),
    }
}

fn answer(hull: &Hull, query: &LayoutQuery) -> LayoutAnswer {
    let unit = query.unit;
    let (stations, runs) = query.stations_and_runs(hull);
    LayoutAnswer {
        hull_form: hull.form,
        name: form(hull.form).name,
        hull_length: hull.length.written(unit),
        beam: hull.beam.written(unit),
        depth: hull.depth.written(unit),
        depth_stated: hull.depth_stated,
        runs: runs.iter().filter_map(|run| layout_run(run, &stations, unit)).collect(),
        stations: stations.iter().filter_map(|station| layout_station(station, unit)).collect(),
        warnings: layouts::unusual(hull, unit).iter().map(|told| sentence(told)).collect(),
        note: "Every length is estimated: measure before cutting.",
        source: "common practice",
    }
}

fn layout_station(station: &Station, unit: LengthUnit) -> Option<LayoutStation> {
    let position = station.position?;
    let (off, side) = match position.y.cmp(&Length::ZERO) {
        std::cmp::Ordering::Less => (Length::ZERO - position.y, Some(Side::Port)),
        std::cmp::Ordering::Equal => (Length::ZERO, None),
        std::cmp::Ordering::Greater => (position.y, Some(Side::Starboard)),
    };
    Some(LayoutStation {
        id: station.id.clone(),
        name: station.name.clone(),
        from_transom: position.x.written(unit),
        off_centre: off.written(unit),
        side,
        height: position.z.written(unit),
        petrol_vapour: station.petrol_vapour,
    })
}

fn layout_run(run: &Run, stations: &[Station], unit: LengthUnit) -> Option<LayoutRun> {
    let Some(Estimate::Sizes { of_length, of_beam, of_depth, more }) = run.estimate else { return None };
    let small = if matches!(unit, LengthUnit::In | LengthUnit::Ft) { LengthUnit::In } else { LengthUnit::Mm };
    Some(LayoutRun {
        from: stations[run.a].id.clone(),
        to: stations[run.b].id.clone(),
        length: run.length.written(unit),
        of_length,
        of_beam,
        of_depth,
        more: more.written(unit),
        access: run.access,
        engine_space: run.engine_space,
        inside_diameter: run.inside_diameter.map(|diameter| diameter.written(small)),
    })
}

/// A finding as a sentence.
fn sentence(told: &str) -> String {
    let mut letters = told.chars();
    let first = letters.next().map(|letter| letter.to_uppercase().collect::<String>()).unwrap_or_default();
    let end = if told.ends_with('.') { "" } else { "." };
    format!("{first}{}{end}", letters.as_str())
}
