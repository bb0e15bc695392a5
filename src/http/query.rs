//! Query parameters: each read by name, all faults at once, unknown ones refused.

use std::future::{Ready, ready};

use actix_web::dev::Payload;
use actix_web::web;
use actix_web::{FromRequest, HttpRequest};
use chrono::{Datelike, NaiveDate};
use serde::de::DeserializeOwned;
use uuid::Uuid;

use super::problem::{ParameterFault, Problem};

/// The query of a request, taken apart by [`Reader`].
pub struct Query<T>(pub T);

/// What can be read from a query.
pub trait FromQuery: Sized {
    /// Reads every parameter that there is.
    fn read(reader: &mut Reader) -> Self;
}

impl<T: FromQuery> FromRequest for Query<T> {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(parse(request.query_string()).map(Query))
    }
}

fn parse<T: FromQuery>(query: &str) -> Result<T, Problem> {
    let pairs = web::Query::<Vec<(String, String)>>::from_query(query);
    let pairs = pairs.map(web::Query::into_inner).unwrap_or_default();
    let mut reader = Reader { pairs, known: Vec::new(), faults: Vec::new() };
    let value = T::read(&mut reader);
    reader.refuse_the_rest();
    if reader.faults.is_empty() { Ok(value) } else { Err(Problem::query(reader.faults)) }
}

/// Takes parameters out of a query and collects what is wrong with them.
pub struct Reader {
    pairs: Vec<(String, String)>,
    known: Vec<&'static str>,
    faults: Vec<ParameterFault>,
}

impl Reader {
    fn fault(&mut self, parameter: &str, message: String) {
        self.faults.push(ParameterFault { parameter: parameter.to_owned(), message });
    }

    fn take(&mut self, name: &'static str) -> Option<String> {
        self.known.push(name);
        let first = self.pairs.iter().position(|(met, _)| met == name).map(|place| self.pairs.remove(place).1)?;
        if self.pairs.iter().any(|(met, _)| met == name) {
            self.pairs.retain(|(met, _)| met != name);
            self.fault(name, "It stands there more than once; give it once.".to_owned());
        }
        Some(first)
    }

    /// A text of at most `longest` characters.
    pub fn text(&mut self, name: &'static str, longest: usize) -> Option<String> {
        let text = self.take(name)?;
        let length = text.chars().count();
        if (1..=longest).contains(&length) {
            return Some(text);
        }
        self.fault(name, format!("It has {length} characters; 1 to {longest} are possible."));
        None
    }

    /// A whole number within bounds.
    pub fn whole(&mut self, name: &'static str, least: u32, most: u32) -> Option<u32> {
        let text = self.take(name)?;
        let number = text.parse().ok().filter(|number| (least..=most).contains(number));
        if number.is_none() {
            self.fault(name, format!("'{}' is no whole number from {least} to {most}.", shown(&text)));
        }
        number
    }

    /// A number within bounds.
    pub fn number(&mut self, name: &'static str, least: f64, most: f64) -> Option<f64> {
        let text = self.take(name)?;
        let number = text.parse().ok().filter(|number| (least..=most).contains(number));
        if number.is_none() {
            self.fault(name, format!("'{}' is no number from {least} to {most}.", shown(&text)));
        }
        number
    }

    /// A number within bounds that must be there.
    pub fn needed_number(&mut self, name: &'static str, least: f64, most: f64) -> Option<f64> {
        if !self.pairs.iter().any(|(met, _)| met == name) {
            self.known.push(name);
            self.fault(name, format!("It is missing; give a number from {least} to {most}."));
            return None;
        }
        self.number(name, least, most)
    }

    /// A calendar day.
    pub fn day(&mut self, name: &'static str) -> Option<NaiveDate> {
        let text = self.take(name)?;
        let day = text.parse().ok().filter(|day: &NaiveDate| (1900..=2999).contains(&day.year()));
        if day.is_none() {
            let message =
                format!("'{}' is no day from 1900 to 2999; write year-month-day, such as 2026-07-31.", shown(&text));
            self.fault(name, message);
        }
        day
    }

    /// An identifier.
    pub fn id(&mut self, name: &'static str) -> Option<Uuid> {
        let text = self.take(name)?;
        let id = Uuid::try_parse(&text).ok();
        if id.is_none() {
            self.fault(name, format!("'{}' is none of this service's identifiers.", shown(&text)));
        }
        id
    }

    /// `true` or `false`.
    pub fn flag(&mut self, name: &'static str) -> Option<bool> {
        let text = self.take(name)?;
        let flag = text.parse().ok();
        if flag.is_none() {
            self.fault(name, format!("'{}' is neither true nor false.", shown(&text)));
        }
        flag
    }

    /// One of a closed list of words, as serde writes them.
    pub fn one_of<T: DeserializeOwned>(&mut self, name: &'static str, options: &[&str]) -> Option<T> {
        let text = self.take(name)?;
        let known = options.contains(&text.as_str());
        let value = serde_json::from_value(serde_json::Value::String(text.clone())).ok().filter(|_| known);
        if value.is_none() {
            self.fault(name, format!("'{}' is not possible; possible is: {}.", shown(&text), options.join(", ")));
        }
        value
    }

    fn refuse_the_rest(&mut self) {
        for (name, _) in std::mem::take(&mut self.pairs) {
            let message = if self.known.is_empty() {
                "There is no such parameter; this address takes none.".to_owned()
            } else {
                format!("There is no such parameter; there are: {}.", self.known.join(", "))
            };
            self.fault(&shown(&name), message);
        }
    }
}

fn shown(text: &str) -> String {
    text.chars().take(60).collect()
}

/// No parameter at all.
pub struct NoParameters;

impl FromQuery for NoParameters {
    fn read(_: &mut Reader) -> Self {
        NoParameters
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    struct Filter {
        text: Option<String>,
        limit: Option<u32>,
        retired: Option<bool>,
    }

    impl FromQuery for Filter {
        fn read(reader: &mut Reader) -> Self {
            Filter {
                text: reader.text("text", 5),
                limit: reader.whole("limit", 1, 200),
                retired: reader.flag("retired"),
            }
        }
    }

    #[test]
    fn what_fits_is_read() {
        let filter = parse::<Filter>("text=a%20b&limit=7&retired=false").unwrap();
        assert_eq!((filter.text.as_deref(), filter.limit, filter.retired), (Some("a b"), Some(7), Some(false)));
    }

    #[test]
    fn all_faults_are_told_at_once() {
        let problem = parse::<Filter>("text=too+long&limit=0&retired=maybe&limit=3&txet=1").map(|_| ()).unwrap_err();
        let body = actix_web::ResponseError::error_response(&problem).into_body();
        let bytes = actix_web::body::MessageBody::try_into_bytes(body).unwrap();
        let body: serde_json::Value = serde_json::from_slice(&bytes).unwrap();
        let named: Vec<&str> =
            body["errors"].as_array().unwrap().iter().map(|e| e["parameter"].as_str().unwrap()).collect();
        assert_eq!(named, ["text", "limit", "limit", "retired", "txet"]);
    }
}
