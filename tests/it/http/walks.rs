//! Walking through a list page by page while others work on it: whatever stood there throughout is met once.

use std::collections::BTreeMap;

use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;
use serde_json::{Value, json};

use super::app::TestApp;
use super::versions::{item, operation};
use crate::fixture::{Database, each_database};
use crate::store::shop::request;

/// Walks on each list and each database.
const WALKS: u32 = 10;

/// What others do between two pages.
#[derive(Clone, Debug)]
enum Doing {
    Add(u8),
    Take(prop::sample::Index),
}

#[derive(Clone, Debug)]
struct Walk {
    there: Vec<u8>,
    limit: u8,
    meanwhile: Vec<Vec<Doing>>,
    by_link: bool,
}

fn walk() -> impl Strategy<Value = Walk> {
    let doing = prop_oneof![any::<u8>().prop_map(Doing::Add), any::<prop::sample::Index>().prop_map(Doing::Take)];
    let meanwhile = prop::collection::vec(prop::collection::vec(doing, 0..4), 0..8);
    (prop::collection::btree_set(any::<u8>(), 0..14), 1u8..5, meanwhile, any::<bool>()).prop_map(
        |(there, limit, meanwhile, by_link)| Walk { there: there.into_iter().collect(), limit, meanwhile, by_link },
    )
}

/// A list: where it is, how a row comes into it, what its rows hold, which rows are asked for, and its order.
struct List {
    path: &'static str,
    body: fn(&str) -> Value,
    field: &'static str,
    name: &'static str,
    filter: &'static str,
    newest_first: bool,
}

const LISTS: [List; 8] = [
    List {
        path: "/v1/items",
        body: item,
        field: "item",
        name: "sku",
        // An item that is taken out is retired, and leaves this list only.
        filter: "&retired=false&kind=wire",
        newest_first: false,
    },
    List {
        path: "/v1/packages",
        body: |code| json!({"code": code, "description": "A set"}),
        field: "package",
        name: "code",
        filter: "",
        newest_first: false,
    },
    List {
        path: "/v1/labour-operations",
        body: operation,
        field: "labour_operation",
        name: "code",
        filter: "",
        newest_first: false,
    },
    List {
        path: "/v1/quotes",
        body: |name| serde_json::to_value(request(name, json!([]))).unwrap(),
        field: "quote",
        name: "id",
        filter: "&state=draft",
        newest_first: true,
    },
    List {
        path: "/v1/keys",
        body: |name| json!({"name": name, "role": "reader"}),
        field: "key",
        name: "id",
        // A key that is taken out is revoked, and stays in the list.
        filter: "",
        newest_first: true,
    },
    List {
        path: "/v1/webhooks",
        body: |name| json!({"url": format!("https://stock.example/{name}")}),
        field: "webhook",
        name: "id",
        filter: "",
        newest_first: true,
    },
    List {
        path: "/v1/stock",
        body: |bin| json!({"sku": "REEL", "place": "Store", "bin": bin, "quantity": "100"}),
        field: "count",
        name: "bin",
        filter: "&sku=REEL",
        newest_first: false,
    },
    List {
        path: "/v1/offcuts",
        body: |bin| json!({"sku": "REEL", "place": "Store", "bin": bin, "length": {"value": 12, "unit": "ft"}}),
        field: "offcut",
        name: "id",
        // One that is taken out is removed, and leaves this list only.
        filter: "&state=on_shelf",
        newest_first: true,
    },
];

/// Those of the lists that this edition of the service has.
async fn lists(app: &TestApp) -> Vec<&'static List> {
    let description = app.get("/openapi.json").await.json();
    LISTS.iter().filter(|list| description["paths"][list.path].is_object()).collect()
}

/// The rows that are there, by what orders them, with their addresses.
struct Rows<'a> {
    app: &'a TestApp,
    list: &'a List,
    round: u32,
    there: BTreeMap<String, String>,
}

impl Rows<'_> {
    async fn add(&mut self, number: u8) {
        let body = (self.list.body)(&format!("r{}n{number:03}", self.round));
        let made = self.app.post(self.list.path, &body).await;
        // One by that name may be there, or may have been retired.
        if made.status == 201 {
            let name = made.json()[self.list.name].as_str().unwrap().to_owned();
            self.there.insert(name, made.header("location").to_owned());
        } else {
            made.problem(409, "already-there");
        }
    }

    async fn take(&mut self, name: &str) {
        let address = self.there.remove(name).unwrap();
        let seen = self.app.get(&address).await.header("etag").to_owned();
        assert!(self.app.delete(&address, &seen).await.status.is_success());
    }

    async fn run(&mut self, walk: &Walk) {
        let Walk { there, limit, meanwhile, by_link } = walk;
        for number in there {
            self.add(*number).await;
        }
        let mut throughout = self.there.clone();
        let mut met: Vec<String> = Vec::new();
        let mut meanwhile = meanwhile.iter();
        let list = self.list;
        let first = format!("{}?limit={limit}{}", list.path, list.filter);
        let mut address = Some(first.clone());
        while let Some(at) = address {
            let page = self.app.get(&at).await;
            assert_eq!(page.status, 200, "{at}: {}", page.text);
            let body = page.json();
            let rows = body["rows"].as_array().unwrap();
            assert!(rows.len() <= usize::from(*limit));
            met.extend(rows.iter().map(|row| row[list.field][list.name].as_str().unwrap().to_owned()));
            let link = page.header("link").split_once('>').map(|(link, _)| link.trim_start_matches('<').to_owned());
            let next = body["next"].as_str().map(|cursor| format!("{first}&cursor={cursor}"));
            assert_eq!(link.is_some(), next.is_some());
            address = if *by_link { link } else { next };
            for doing in meanwhile.next().into_iter().flatten() {
                match doing {
                    Doing::Add(number) => self.add(*number).await,
                    Doing::Take(one) if !self.there.is_empty() => {
                        let name = one.get(&self.there.keys().cloned().collect::<Vec<_>>()).clone();
                        throughout.remove(&name);
                        self.take(&name).await;
                    }
                    Doing::Take(_) => {}
                }
            }
        }
        let ahead = |pair: &[String]| if list.newest_first { pair[0] > pair[1] } else { pair[0] < pair[1] };
        assert!(met.windows(2).all(ahead), "each once and in order: {met:?}\n{walk:?}");
        for name in throughout.keys() {
            assert!(met.contains(name), "{name} was skipped: {met:?}\n{walk:?}");
        }
        for name in self.there.keys().cloned().collect::<Vec<_>>() {
            self.take(&name).await;
        }
    }
}

#[tokio::test]
async fn a_walk_meets_whatever_stood_there_throughout_once() {
    each_database(async |database| walks(&database).await).await;
}

async fn walks(database: &Database) {
    let app = TestApp::spawn_on(database).await;
    // Retired, so that it is in no list of items that is walked through.
    assert_eq!(app.post("/v1/items", &item("REEL")).await.status, 201);
    assert_eq!(app.delete("/v1/items/REEL", "\"v1\"").await.status, 200);
    let mut runner = TestRunner::default();
    for list in lists(&app).await {
        for round in 0..WALKS {
            let walk = walk().new_tree(&mut runner).unwrap().current();
            Rows { app: &app, list, round, there: BTreeMap::new() }.run(&walk).await;
        }
    }
    app.stop().await;
}

#[tokio::test]
async fn every_list_in_pages_is_walked_and_refuses_cursors_that_it_did_not_give() {
    let app = TestApp::spawn().await;
    let description = app.get("/openapi.json").await.json();
    assert_eq!(app.post("/v1/items", &item("REEL")).await.status, 201);
    let mut others = Vec::new();
    for list in lists(&app).await {
        for number in ["a1", "a2", "a3"] {
            assert_eq!(app.post(list.path, &(list.body)(number)).await.status, 201);
        }
        let page = app.get(&format!("{}?limit=1{}", list.path, list.filter)).await.json();
        others.push((list, page["next"].as_str().unwrap().to_owned()));
    }
    for (path, operations) in description["paths"].as_object().unwrap() {
        let get = &operations["get"];
        let paged = get["parameters"].as_array().into_iter().flatten().any(|parameter| parameter["name"] == "cursor");
        // Reservations come by accepting quotes, tries by events; `stock` and `webhooks` walk through them.
        if ["/v1/reservations", "/v1/webhooks/{id}/attempts"].contains(&path.as_str()) {
            continue;
        }
        let Some(list) = LISTS.iter().find(|list| list.path == path) else {
            assert!(!paged, "{path} comes in pages: walk through it here");
            continue;
        };
        let answers = &get["responses"];
        assert!(answers["400"]["description"].as_str().unwrap().contains("/problems/bad-cursor"), "{path}");
        assert!(answers["200"]["headers"]["Link"].is_object(), "{path}");
        for (other, cursor) in &others {
            let answer = app.get(&format!("{path}?limit=2{}&cursor={cursor}", list.filter)).await;
            if other.path == list.path {
                assert_eq!(answer.status, 200, "another limit is fine: {}", answer.text);
                let mut tampered = cursor.clone().into_bytes();
                tampered[12] ^= 1;
                let tampered = String::from_utf8(tampered).unwrap();
                app.get(&format!("{path}?cursor={tampered}{}", list.filter)).await.problem(400, "bad-cursor");
                if !list.filter.is_empty() {
                    app.get(&format!("{path}?cursor={cursor}")).await.problem(400, "bad-cursor");
                }
            } else {
                answer.problem(400, "bad-cursor");
            }
        }
        for never in ["x", "e30", "eyJhZnRlciI6ImEiLCJvZiI6ImIifQ", "eyJmb3JtIjo5LCJhZnRlciI6ImEiLCJvZiI6ImIifQ"] {
            app.get(&format!("{path}?cursor={never}")).await.problem(400, "bad-cursor");
        }
    }
}
