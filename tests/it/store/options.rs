//! Options: every set of them is a quote of its own, frozen with the quote, and what is accepted is what was chosen.

use rigbill::calc::findings::Fault;
use rigbill::calc::shop::item::PriceKind;
use rigbill::calc::shop::settings::{Charge, Settings, Terms};
use rigbill::calc::units::Name;
use rigbill::service::access::{Principal, Role};
use rigbill::service::life::{AcceptRequest, Step};
use rigbill::service::once::{Made, Once};
use rigbill::service::quotes::{DocumentKind, QuoteRequest, QuoteState, QuoteSummary};
use rigbill::service::{Error, Service, Stored};
use rust_decimal::dec;
use sea_orm::{ConnectionTrait, Database as Connection, Statement};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use uuid::Uuid;

use super::life::{cleats, refused, step};
use super::shop::{faults, item, places, price, request};
use crate::fixture::{Database, clock, each_database};

/// A shop whose hardware is charged as it is bought: cleats one by one at 14.50, hooks in packs of four at 11.60.
async fn shop(service: &Service) {
    cleats(service).await;
    let mut hook = item("HOOK", json!({"buying_unit": "pack", "buying_quantity": "4"}));
    hook.prices = vec![price(PriceKind::Cost, "2026-01-01", "8")];
    service.create_item(hook).await.unwrap();
    let mut settings = Settings::starting();
    let hardware = settings.categories.iter_mut().find(|category| category.code.as_str() == "hardware");
    hardware.unwrap().charge = Charge::Purchased;
    service.replace_settings(settings, 1).await.unwrap();
}

fn hooks(id: &str, count: u32) -> Value {
    json!({"id": id, "title": format!("Hooks at the {id}"),
        "equipment": [{"sku": "HOOK", "quantity": count, "station": "helm"}]})
}

/// A cleat, and what may be added to it.
fn asked(options: Value) -> QuoteRequest {
    let mut asked = request("Turnstone", json!([{"sku": "CLEAT", "quantity": 1, "station": "helm"}]));
    asked.options = serde_json::from_value(options).unwrap();
    asked
}

/// Three hooks at the bow, one at the stern: together they are one pack.
fn bow_and_stern() -> QuoteRequest {
    asked(json!([hooks("bow", 3), hooks("stern", 1)]))
}

fn names(ids: &[&str]) -> Vec<Name> {
    ids.iter().map(|id| Name::from(*id)).collect()
}

async fn accept(service: &Service, quote: &Stored<QuoteSummary>, ids: &[&str]) -> Result<Stored<QuoteSummary>, Error> {
    let request = AcceptRequest { remark: None, options: names(ids) };
    match service.accept_quote(quote.value.id, request, quote.version, Once::unclaimed()).await? {
        Made::Now(accepted) => Ok(accepted),
        Made::Before(answer) => panic!("nothing was claimed: {answer:?}"),
    }
}

async fn document(service: &Service, id: Uuid, ids: &[&str]) -> Value {
    let read = service.choice_document(id, &names(ids), DocumentKind::Quote).await.unwrap();
    serde_json::from_slice(&read.bytes).unwrap()
}

/// The bytes of every document of a quote with two options, as another instance reads them.
async fn bytes(database: &Database, id: Uuid) -> Vec<Vec<u8>> {
    let service = Service::new(database.store().await, clock());
    let mut all = Vec::new();
    for ids in [&[][..], &["bow"], &["stern"], &["bow", "stern"]] {
        for kind in [DocumentKind::Quote, DocumentKind::Costing] {
            let document = service.choice_document(id, &names(ids), kind).await.unwrap();
            let hash: String = Sha256::digest(&document.bytes).iter().map(|byte| format!("{byte:02x}")).collect();
            assert_eq!(document.hash, hash);
            all.push(document.bytes);
        }
    }
    service.store().clone().close().await.unwrap();
    all
}

async fn count(database: &Database, table: &str) -> i64 {
    let raw = Connection::connect(&database.url).await.unwrap();
    let query = Statement::from_string(raw.get_database_backend(), format!("SELECT count(*) AS n FROM {table}"));
    let rows = raw.query_one_raw(query).await.unwrap().unwrap();
    let count = rows.try_get("", "n").unwrap();
    raw.close().await.unwrap();
    count
}

#[tokio::test(flavor = "multi_thread")]
async fn a_draft_says_what_every_set_of_options_comes_to_and_keeps_none_but_its_own_document() {
    each_database(async |database| {
        let service = database.service().await;
        shop(&service).await;
        let draft = service.create_quote(bow_and_stern()).await.unwrap();
        assert_eq!(draft.value.net.to_string(), "14.50", "the quote is that without options");
        let told = document(&service, draft.value.id, &[]).await;
        let options = told["options"].as_array().unwrap();
        for (option, id) in options.iter().zip(["bow", "stern"]) {
            assert_eq!((&option["id"], &option["net_difference"]), (&json!(id), &json!("11.60")));
            assert_eq!(option["total_difference"], "11.60", "a new shop taxes nothing");
        }
        let choices: Vec<(Value, Value)> = told["choices"]
            .as_array()
            .unwrap()
            .iter()
            .map(|choice| (choice["options"].clone(), choice["net"].clone()))
            .collect();
        // Four hooks are one pack, so that both together cost what each does.
        let expected = [(json!([]), "14.50"), (json!(["bow"]), "26.10"), (json!(["stern"]), "26.10")];
        let expected = expected.map(|(ids, net)| (ids, json!(net)));
        assert_eq!(choices[..3], expected);
        assert_eq!(choices[3], (json!(["bow", "stern"]), json!("26.10")));
        assert_eq!((count(&database, "documents").await, count(&database, "choices").await), (2, 0));

        let both = document(&service, draft.value.id, &["stern", "bow"]).await;
        assert_eq!(both["totals"]["net"], "26.10");
        let chosen =
            json!([{"id": "bow", "title": "Hooks at the bow"}, {"id": "stern", "title": "Hooks at the stern"}]);
        assert_eq!(both["chosen"], chosen);
        assert!(both.get("choices").is_none() && both.get("options").is_none());
        let mut dearer = item("HOOK", json!({"buying_unit": "pack", "buying_quantity": "4"}));
        dearer.prices = vec![price(PriceKind::Cost, "2026-01-01", "9")];
        service.replace_item("HOOK", dearer, 1).await.unwrap();
        let moved = service.choice_document(draft.value.id, &names(&["bow"]), DocumentKind::Quote).await.unwrap_err();
        assert!(matches!(moved, Error::Moved { .. }), "{moved:?}");
        match step(&service, &draft, Step::Issue).await {
            Err(Error::Moved { told, difference: Some(difference) }) => {
                assert!(told.contains("choices") && difference.lines.is_empty(), "{told}");
            }
            other => panic!("what the options come to was promised too: {other:?}"),
        }
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn every_choice_is_frozen_with_the_quote_and_the_one_that_is_accepted_counts() {
    each_database(async |database| {
        let service = database.service().await;
        shop(&service).await;
        let draft = service.create_quote(bow_and_stern()).await.unwrap();
        let seen = document(&service, draft.value.id, &["bow", "stern"]).await;
        let issued = step(&service, &draft, Step::Issue).await.unwrap();
        let id = issued.value.id;
        assert_eq!(count(&database, "choices").await, 3);
        let frozen = bytes(&database, id).await;
        let mut both: Value = serde_json::from_slice(&frozen[6]).unwrap();
        let issue = both.as_object_mut().unwrap().remove("issue").unwrap();
        assert_eq!(issue, json!({"number": "2026-0001", "revision": 1, "issued_on": "2026-11-25"}));
        assert_eq!(both, seen, "what was seen is what was issued");

        let mut hook = item("HOOK", json!({"description": "Hook, bronze"}));
        hook.prices = vec![price(PriceKind::Cost, "2026-01-01", "90")];
        service.replace_item("HOOK", hook, 1).await.unwrap();
        service.replace_settings(Settings { currency: "EUR".to_owned(), ..Settings::starting() }, 2).await.unwrap();
        service.retire_item("CLEAT", 1).await.unwrap();
        assert_eq!(bytes(&database, id).await, frozen);

        assert_eq!(places(accept(&service, &issued, &["bow", "mast", "bow"]).await), ["/options/1", "/options/2"]);
        assert_eq!(service.quote(id).await.unwrap(), issued, "nothing was changed");
        let accepted = accept(&service, &issued, &["stern", "bow"]).await.unwrap();
        assert_eq!(accepted, service.quote(id).await.unwrap());
        assert_eq!((accepted.value.state, accepted.version), (QuoteState::Accepted, 3));
        assert_eq!(accepted.value.accepted_options, names(&["bow", "stern"]));
        let totals = (accepted.value.net.to_string(), accepted.value.total.unwrap().to_string());
        assert_eq!(totals, ("26.10".to_owned(), "26.10".to_owned()));
        assert_eq!(accepted.value.document_hash, issued.value.document_hash, "what was issued never changes");
        assert_eq!(bytes(&database, id).await, frozen);
        let moves = service.quote_moves(id).await.unwrap().value;
        assert_eq!(moves.last().unwrap().options, names(&["bow", "stern"]));
        let events = service.events_behind(0, 10).await.unwrap();
        let (event, said) = events.last().unwrap();
        assert_eq!((event.kind.as_str(), &said["options"]), ("quote.accepted", &json!(["bow", "stern"])));
        let demand: Vec<_> = said["demand"].as_array().unwrap().iter().map(|d| (&d["sku"], &d["quantity"])).collect();
        assert_eq!(demand, [(&json!("CLEAT"), &json!("1")), (&json!("HOOK"), &json!("1"))], "one pack for both");
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn each_choice_has_its_own_totals_and_demand() {
    // Cleats at 14.50 and packs of hooks at 11.60: by hand.
    let table: [(&[&str], &str, &[&str]); 4] = [
        (&[], "14.50", &["CLEAT 1"]),
        (&["bow"], "37.70", &["CLEAT 1", "HOOK 2"]),
        (&["more"], "43.50", &["CLEAT 3"]),
        (&["bow", "more"], "66.70", &["CLEAT 3", "HOOK 2"]),
    ];
    each_database(async |database| {
        let service = database.service().await;
        shop(&service).await;
        for (chosen, net, demand) in table {
            let more = json!({"id": "more", "title": "More cleats", "description": "Two more",
                "equipment": [{"sku": "CLEAT", "quantity": 2, "station": "helm"}]});
            let draft = service.create_quote(asked(json!([hooks("bow", 5), more]))).await.unwrap();
            let issued = step(&service, &draft, Step::Issue).await.unwrap();
            let accepted = accept(&service, &issued, chosen).await.unwrap();
            assert_eq!(accepted.value.net.to_string(), net, "{chosen:?}");
            let read = document(&service, issued.value.id, chosen).await;
            assert_eq!(read["totals"]["net"], net);
            // A share of 30 % is paid ahead.
            let told = document(&service, issued.value.id, &[]).await;
            let choice = told["choices"].as_array().unwrap().iter().find(|c| c["options"] == json!(chosen)).unwrap();
            assert_eq!(choice["deposit"], read["deposit"]["total"]);
            let events = service.events_behind(0, 100).await.unwrap();
            let said = &events.last().unwrap().1["demand"];
            let words =
                |part: &Value| format!("{} {}", part["sku"].as_str().unwrap(), part["quantity"].as_str().unwrap());
            assert_eq!(said.as_array().unwrap().iter().map(words).collect::<Vec<_>>(), demand);
        }
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_wrong_in_an_option_is_told_at_its_place() {
    each_database(async |database| {
        let service = database.service().await;
        shop(&service).await;
        let line = |tax_class: &str| {
            json!({"description": "Polish", "quantity": "1", "unit": "each", "unit_price": "5", "tax_class": tax_class})
        };
        let wrong = asked(json!([
            {"id": "bow", "title": "Hooks", "equipment": [
                {"sku": "HOOK", "quantity": 1, "station": "helm", "id": "cleat"},
                {"sku": "HOOKS", "quantity": 1, "station": "mast"}]},
            {"id": "bow", "title": "The same", "packages": ["NONE"], "excludes": ["stern", "mast"]},
            {"id": "stern", "title": "Nothing"},
        ]));
        assert_eq!(
            places(service.create_quote(wrong).await),
            [
                "/options/1/id",
                "/options/1/excludes/1",
                "/options/2",
                "/options/0/equipment/1/sku",
                "/options/0/equipment/1/station",
                "/options/1/packages/0"
            ]
        );
        // What shows only when prices are made.
        let classes = asked(json!([
            {"id": "one", "title": "One", "extra_lines": [line("goods"), line("bads")]},
            {"id": "two", "title": "Two", "extra_lines": [line("none")]},
        ]));
        let told = service.create_quote(classes).await;
        assert_eq!(places(told), ["/options/0/extra_lines/1/tax_class", "/options/1/extra_lines/0/tax_class"]);
        // What shows only when both are on the boat.
        let twice = |id: &str| {
            json!({"id": id, "title": id, "equipment": [{"id": "hook", "sku": "HOOK", "quantity": 1, "station": "helm"}]})
        };
        let clash = service.create_quote(asked(json!([twice("one"), twice("two")]))).await;
        assert_eq!(places(clash), ["/options/1/equipment/0/id"]);
        let mut apart = twice("two");
        apart["excludes"] = json!(["one"]);
        let draft = service.create_quote(asked(json!([twice("one"), apart]))).await.unwrap();
        let told = document(&service, draft.value.id, &[]).await;
        assert_eq!(told["choices"].as_array().unwrap().len(), 3, "no choice has both");
        assert_eq!((&told["options"][0]["excludes"], &told["options"][1]["excludes"]), (&json!(["two"]), &json!(["one"])));
        let issued = step(&service, &draft, Step::Issue).await.unwrap();
        assert_eq!(places(accept(&service, &issued, &["one", "two"]).await), ["/options/1"]);
        // A fault of the boat itself is told once, and not with each option again.
        let mut boat = bow_and_stern();
        boat.spec.equipment[0].sku = "GONE".into();
        assert_eq!(places(service.create_quote(boat).await), ["/spec/equipment/0/sku"]);
        let five: Vec<Value> = (0..5).map(|n| hooks(&format!("o{n}"), 1)).collect();
        assert_eq!(places(service.create_quote(asked(json!(five))).await), ["/options"]);
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_gap_in_any_choice_stands_in_the_way_and_can_be_settled() {
    each_database(async |database| {
        let service = database.service().await;
        shop(&service).await;
        service.create_item(item("BOLLARD", json!({}))).await.unwrap();
        let bollard = json!({"id": "bollard", "title": "A bollard",
            "equipment": [{"sku": "BOLLARD", "quantity": 1, "station": "helm"}]});
        let mut wanted = asked(json!([hooks("bow", 3), bollard]));
        let draft = service.create_quote(wanted.clone()).await.unwrap();
        assert!(!draft.value.incomplete && draft.value.total.is_some(), "without options nothing is missing");
        let told = document(&service, draft.value.id, &[]).await;
        let of = |ids: Value| told["choices"].as_array().unwrap().iter().find(|one| one["options"] == ids).unwrap();
        let whole = of(json!(["bow"]));
        assert_eq!((&whole["incomplete"], &whole["total"]), (&json!(false), &json!("26.10")));
        let open = of(json!(["bow", "bollard"]));
        assert_eq!((&open["incomplete"], open.get("total")), (&json!(true), None));
        assert!(told["options"][1].get("net_difference").is_none(), "what is not known is not told");
        let gap = match step(&service, &draft, Step::Issue).await {
            Err(Error::GapsStand(gaps)) if gaps.len() == 1 => gaps[0].clone(),
            other => panic!("{other:?}"),
        };
        assert_eq!(open["gaps"][0]["what"], json!(gap.what));

        let line = json!({"kind": "line", "gap": gap.what, "description": "Bollard, from the yard", "quantity": "1",
            "unit": "each", "unit_price": "40", "tax_class": "goods"});
        wanted.settlements = serde_json::from_value(json!([line])).unwrap();
        let settled = service.replace_quote(draft.value.id, wanted.clone(), 1).await.unwrap();
        let issued = step(&service, &settled, Step::Issue).await.unwrap();
        let accepted = accept(&service, &issued, &["bollard"]).await.unwrap();
        assert_eq!(accepted.value.net.to_string(), "54.50", "the line is charged where the gap was");
        let without = document(&service, issued.value.id, &["bow"]).await;
        assert_eq!(without["totals"]["net"], "26.10", "and nowhere else");

        let nowhere = json!({"kind": "exclusion", "gap": "item/NOTHING", "reason": "Not wanted"});
        wanted.settlements = serde_json::from_value(json!([line, nowhere])).unwrap();
        let faults: Vec<Fault> = faults(service.create_quote(wanted).await);
        assert_eq!(faults[0].pointer, "/settlements/1/gap");
        assert!(faults[0].message.contains(gap.what.as_str()), "{faults:?}");
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn discounts_limits_and_the_least_margin_hold_with_every_choice() {
    each_database(async |database| {
        let owner = database.service().await;
        shop(&owner).await;
        let terms =
            Terms { discount_limit_percent: dec!(10), margin_floor_percent: Some(dec!(20)), ..Terms::default() };
        let settings = owner.settings().await.unwrap();
        owner.replace_settings(Settings { terms, ..settings.value }, settings.version).await.unwrap();
        let desk = owner.by(Principal { key: Uuid::nil(), name: "Desk".to_owned(), role: Role::FrontDesk });

        let mut percent = bow_and_stern();
        percent.discount = serde_json::from_value(json!({"kind": "percent", "percent": "10"})).unwrap();
        let draft = desk.create_quote(percent).await.unwrap();
        let told = document(&desk, draft.value.id, &[]).await;
        let nets: Vec<&Value> = told["choices"].as_array().unwrap().iter().map(|choice| &choice["net"]).collect();
        // 14.50 and 26.10, a tenth off each.
        assert_eq!(nets, [&json!("13.05"), &json!("23.49"), &json!("23.49"), &json!("23.49")]);

        // A line that takes something off in an option is a discount with that option.
        let off = |amount: &str| {
            let line = json!({"description": "Goodwill", "quantity": "-1", "unit": "each", "unit_price": amount,
                "tax_class": "goods"});
            asked(json!([{"id": "kind", "title": "With goodwill", "extra_lines": [line]}]))
        };
        assert_eq!(places(desk.create_quote(off("1.46")).await), ["/options"]);
        let fine = desk.create_quote(off("1.45")).await.unwrap();
        step(&desk, &fine, Step::Issue).await.unwrap();

        // An amount is taken from every choice, as far as its lines allow it.
        let mut amount = off("14");
        amount.discount = serde_json::from_value(json!({"kind": "amount", "amount": "1.00"})).unwrap();
        let refused_by_lines: Vec<Fault> = faults(owner.create_quote(amount.clone()).await);
        assert_eq!(refused_by_lines[0].pointer, "/discount/amount");
        assert!(refused_by_lines[0].message.contains("kind"), "{refused_by_lines:?}");
        amount.discount = serde_json::from_value(json!({"kind": "amount", "amount": "0.50"})).unwrap();
        let thin = owner.create_quote(amount).await.unwrap();
        // Without the option 14.00 for what cost 10.00, above the floor of 20 %; with it 0.00.
        let (told, _) = refused(step(&desk, &thin, Step::Issue).await);
        assert!(told.contains("only an owner"), "{told}");
        assert!(step(&owner, &thin, Step::Issue).await.is_ok());
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn prices_of_all_choices_hold_until_the_same_day() {
    each_database(async |database| {
        let service = database.service().await;
        shop(&service).await;
        // A new shop promises electronics for 14 days, and the rest for 30.
        let mut buoy = item("BUOY", json!({"category": "electronics"}));
        buoy.prices = vec![price(PriceKind::Cost, "2026-01-01", "100")];
        service.create_item(buoy).await.unwrap();
        let buoy =
            json!({"id": "buoy", "title": "A buoy", "equipment": [{"sku": "BUOY", "quantity": 1, "station": "helm"}]});
        let draft = service.create_quote(asked(json!([buoy]))).await.unwrap();
        assert_eq!(draft.value.valid_until, super::shop::day("2026-12-09"));
        for ids in [&[][..], &["buoy"]] {
            assert_eq!(document(&service, draft.value.id, ids).await["valid_until"], "2026-12-09");
        }
        let issued = step(&service, &draft, Step::Issue).await.unwrap();
        assert_eq!(issued.value.lapses_at.unwrap().to_rfc3339(), "2026-12-10T00:00:00+00:00");
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_a_draft_leaves_behind_is_kept_while_a_choice_needs_it() {
    each_database(async |database| {
        let service = database.service().await;
        shop(&service).await;
        let draft = service.create_quote(bow_and_stern()).await.unwrap();
        let issued = step(&service, &draft, Step::Issue).await.unwrap();
        let frozen = bytes(&database, issued.value.id).await;
        // A plain quote of a cleat and three hooks costs to the byte what the choice of the bow does.
        let same = json!([{"sku": "CLEAT", "quantity": 1, "station": "helm"}, {"sku": "HOOK", "quantity": 3, "station": "helm"}]);
        let twin = service.create_quote(request("Turnstone", same)).await.unwrap();
        let of_choice = service.choice_document(issued.value.id, &names(&["bow"]), DocumentKind::Costing).await.unwrap();
        assert_eq!(twin.value.costing_hash, of_choice.hash);
        service.delete_quote(twin.value.id, 1).await.unwrap();
        assert_eq!(bytes(&database, issued.value.id).await, frozen);
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_quote_without_options_is_accepted_without_any() {
    each_database(async |database| {
        let service = database.service().await;
        shop(&service).await;
        let draft = service.create_quote(asked(json!([]))).await.unwrap();
        let told = document(&service, draft.value.id, &[]).await;
        assert!(["options", "choices", "chosen"].iter().all(|part| told.get(part).is_none()));
        let issued = step(&service, &draft, Step::Issue).await.unwrap();
        assert_eq!(places(accept(&service, &issued, &["bow"]).await), ["/options/0"]);
        let unknown = service.choice_document(issued.value.id, &names(&["bow"]), DocumentKind::Quote).await;
        assert_eq!(places(unknown), ["/options/0"]);
        let accepted = accept(&service, &issued, &[]).await.unwrap();
        assert_eq!((accepted.value.accepted_options.len(), accepted.value.net), (0, issued.value.net));
        assert_eq!(count(&database, "choices").await, 0);
    })
    .await;
}
