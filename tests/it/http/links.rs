//! The link of a quote's customer: given once, opened without a key, answered once, ended by time and by the shop.

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use futures_util::future::join_all;
use reqwest::header::HeaderMap;
use reqwest::{Client, redirect};
use rigbill::service::access::Role;
use sea_orm::{ConnectionTrait, Database as Connection, Statement};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};

use super::app::{Answer, TestApp};
use super::life::{cleats, draft, step, with_cleats};
use crate::fixture::{Database, each_database};

/// A customer with the address that he was sent.
pub struct Customer {
    client: Client,
    url: String,
    /// `/q/…` with the secret.
    address: String,
    /// `/q/…` without it.
    page: String,
    secret: String,
}

impl Customer {
    pub fn of(app: &TestApp, address: &str) -> Self {
        let client = Client::builder().no_proxy().redirect(redirect::Policy::none()).build().unwrap();
        let (page, secret) = address.rsplit_once('/').unwrap();
        let [page, secret] = [page, secret].map(str::to_owned);
        Customer { client, url: app.url.clone(), address: address.to_owned(), page, secret }
    }

    async fn ask(&self, method: &str, path: &str, headers: &[(&str, &str)], body: String) -> Answer {
        let mut request = self.client.request(method.parse().unwrap(), format!("{}{path}", self.url)).body(body);
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        let answer = request.send().await.unwrap();
        let (status, headers) = (answer.status(), answer.headers().clone());
        let answer = Answer { status, headers, text: answer.text().await.unwrap() };
        // Whatever is answered to a customer.
        assert!(answer.header("content-security-policy").starts_with("default-src 'none';"), "{:?}", answer.headers);
        assert_eq!(answer.header("cache-control"), "no-store");
        assert_eq!(answer.header("referrer-policy"), "no-referrer");
        assert_eq!(answer.header("x-robots-tag"), "noindex, nofollow");
        assert_eq!(answer.header("x-content-type-options"), "nosniff");
        assert!(!answer.header("location").contains(&self.secret), "no later address holds the secret");
        assert!(!answer.text.contains(&self.secret), "no page holds the secret");
        if !answer.text.is_empty() {
            assert_eq!(answer.header("content-type"), "text/html; charset=utf-8", "{}", answer.text);
            assert!(!answer.text.contains("<script"), "{}", answer.text);
        }
        answer
    }

    fn cookie(&self) -> String {
        format!("quote={}", self.secret)
    }

    /// His quote on paper, as the service keeps a name for it (`a4`, `letter`): status, headers and bytes.
    pub async fn paper(&self, paper: &str, with_cookie: bool) -> (u16, HeaderMap, Vec<u8>) {
        let mut request = self.client.get(format!("{}{}/{paper}.pdf", self.url, self.page));
        if with_cookie {
            request = request.header("cookie", self.cookie());
        }
        let answer = request.send().await.unwrap();
        (answer.status().as_u16(), answer.headers().clone(), answer.bytes().await.unwrap().to_vec())
    }

    /// What he was sent.
    async fn enter(&self) -> Answer {
        self.ask("GET", &self.address, &[], String::new()).await
    }

    /// The quote, as the browser asks for it.
    pub async fn open(&self) -> Answer {
        self.ask("GET", &self.page, &[("cookie", &self.cookie())], String::new()).await
    }

    /// Sends a form, with more headers.
    async fn send(&self, form: &str, body: &str, more: &[(&str, &str)]) -> Answer {
        let cookie = self.cookie();
        let mut headers = vec![("cookie", cookie.as_str())];
        if !more.iter().any(|(name, _)| *name == "content-type") {
            headers.push(("content-type", "application/x-www-form-urlencoded"));
        }
        headers.extend(more);
        self.ask("POST", &format!("{}/{form}", self.page), &headers, body.to_owned()).await
    }

    async fn accept(&self, name: &str) -> Answer {
        self.send("accept", &format!("name={name}"), &[]).await
    }
}

/// A quote of a cleat that was issued, by its address, and its customer.
pub async fn issued(app: &TestApp, name: &str) -> (String, Customer) {
    let path = draft(app, name).await;
    let issued = step(app, &path, "issue", "\"v1\"", &[], &json!({})).await;
    assert_eq!(issued.status, 200, "{}", issued.text);
    let address = issued.json()["customer_address"].as_str().unwrap().to_owned();
    (path, Customer::of(app, &address))
}

async fn seen(app: &TestApp, path: &str) -> String {
    app.get(path).await.header("etag").to_owned()
}

/// A shop on a database.
async fn shop(database: &Database) -> TestApp {
    let app = TestApp::spawn_on(database).await;
    cleats(&app).await;
    app
}

/// The one answer to whatever opens nothing.
fn opens_nothing(answer: &Answer) -> String {
    assert_eq!(answer.status, 404, "{}", answer.text);
    assert!(answer.text.contains("There is no quote here"), "{}", answer.text);
    answer.text.clone()
}

#[tokio::test]
async fn an_address_is_told_once_and_only_its_hash_is_kept() {
    each_database(async |database| told_once(&database).await).await;
}

async fn told_once(database: &Database) {
    let app = shop(database).await;
    let path = draft(&app, "Kittiwake").await;
    assert_eq!(app.get(&format!("{path}/link")).await.json(), json!({"state": "none"}));
    let once = [("idempotency-key", "out-1")];
    let first = step(&app, &path, "issue", "\"v1\"", &once, &json!({})).await;
    assert_eq!((first.status.as_u16(), first.header("cache-control")), (200, "no-store"), "{}", first.text);
    let address = first.json()["customer_address"].as_str().unwrap().to_owned();
    let again = step(&app, &path, "issue", "\"v1\"", &once, &json!({})).await;
    assert_eq!((again.status.as_u16(), again.header("idempotent-replay")), (200, "true"));
    assert!(again.json().get("customer_address").is_none(), "{}", again.text);
    assert_eq!(again.json()["number"], first.json()["number"]);

    // A new link ends the one before it; it too is told once.
    let once = [("idempotency-key", "link-1")];
    let made = step(&app, &path, "link", "\"v2\"", &once, &json!({})).await;
    assert_eq!((made.status.as_u16(), made.header("etag")), (201, "\"v3\""), "{}", made.text);
    assert_eq!((made.header("location"), made.header("cache-control")), (&*format!("{path}/link"), "no-store"));
    let problem = step(&app, &path, "link", "\"v2\"", &once, &json!({})).await.problem(409, "shown-once");
    assert!(problem["detail"].as_str().unwrap().contains(&format!("{path}/link")), "{problem}");
    let newer = made.json()["address"].as_str().unwrap().to_owned();
    opens_nothing(&Customer::of(&app, &address).enter().await);
    opens_nothing(&Customer::of(&app, &address).open().await);
    let customer = Customer::of(&app, &newer);
    assert_eq!(customer.open().await.status, 200);

    let told = app.get(&format!("{path}/link")).await;
    assert_eq!((told.json()["state"].clone(), told.header("etag")), (json!("open"), "\"v3\""));
    // The quote's last day is over on 26 December; 90 days later is 26 March.
    assert_eq!(told.json()["expires_at"], "2027-03-26T00:00:00Z", "{}", told.text);
    let admin = Connection::connect(&database.url).await.unwrap();
    let rows = async |sql: &str| {
        admin.query_all_raw(Statement::from_string(admin.get_database_backend(), sql.to_owned())).await.unwrap()
    };
    let kept: Vec<u8> = rows("SELECT secret_hash FROM quote_links").await[0].try_get("", "secret_hash").unwrap();
    let random = URL_SAFE_NO_PAD.decode(&customer.secret).unwrap();
    assert_eq!((random.len(), kept), (32, Sha256::digest(&random).to_vec()));
    for row in rows("SELECT body FROM idempotency").await {
        // An answer that shows a secret is kept without its body.
        let body: Option<Vec<u8>> = row.try_get("", "body").unwrap();
        let body = body.unwrap_or_default();
        let body = String::from_utf8_lossy(&body).into_owned();
        for secret in [&customer.secret, address.rsplit('/').next().unwrap()] {
            assert!(!body.contains(secret), "{body}");
        }
    }
    for answer in [app.get(&path).await, app.get("/v1/quotes").await, told] {
        assert!(!answer.text.contains("customer_address\"") && !answer.text.contains(&customer.secret));
    }
    admin.close().await.unwrap();
    app.stop().await;
}

#[tokio::test]
async fn the_address_that_stays_holds_no_secret_and_what_opens_nothing_tells_nothing() {
    let app = TestApp::spawn_with(|config| config.public_url = "https://quotes.example".to_owned()).await;
    cleats(&app).await;
    let path = draft(&app, "Kittiwake").await;
    let address = step(&app, &path, "issue", "\"v1\"", &[], &json!({})).await.json()["customer_address"].clone();
    let address = address.as_str().unwrap().strip_prefix("https://quotes.example").unwrap().to_owned();
    let customer = Customer::of(&app, &address);
    let entered = customer.enter().await;
    assert_eq!((entered.status.as_u16(), entered.header("location")), (303, customer.page.as_str()));
    let cookie = entered.header("set-cookie");
    let expected =
        format!("quote={}; Path={}; Max-Age=14400; HttpOnly; SameSite=Lax; Secure", customer.secret, customer.page);
    assert_eq!(cookie, expected);
    let page = customer.open().await;
    for part in ["Kittiwake", "2026-0001", "R. Calder", "Cleat", "14.50", "25 December 2026", "Accept this quote"] {
        assert!(page.text.contains(part), "{part} is not in\n{}", page.text);
    }
    assert!(page.header("set-cookie").ends_with("; Secure"));
    // Without a cookie, with a wrong secret, with another's link, and what is no link at all.
    let mut unlike = Vec::new();
    for (path, cookie) in [
        (customer.page.clone(), String::new()),
        (customer.page.clone(), "quote=".to_owned()),
        (customer.page.clone(), format!("quote={}", "A".repeat(43))),
        (format!("/q/{}", "0".repeat(32)), customer.cookie()),
        ("/q/nothing".to_owned(), customer.cookie()),
        (format!("{}/{}", customer.page, "A".repeat(43)), String::new()),
        (format!("/q/{}/{}", "0".repeat(32), customer.secret), String::new()),
        ("/q/".to_owned(), String::new()),
        ("/q/a/b/c".to_owned(), String::new()),
    ] {
        unlike.push(opens_nothing(&customer.ask("GET", &path, &[("cookie", &cookie)], String::new()).await));
    }
    unlike.dedup();
    assert_eq!(unlike.len(), 1, "all of them are one page");
    let robots = app.get("/robots.txt").await;
    assert_eq!(robots.text, "User-agent: *\nDisallow: /q/\n");
}

#[tokio::test]
async fn a_customer_accepts_once_and_it_is_told_who_did() {
    each_database(async |database| accepts_once(&database).await).await;
}

async fn accepts_once(database: &Database) {
    let app = shop(database).await;
    let (path, customer) = issued(&app, "Kittiwake").await;
    let done = customer.accept("Ro+Calder+%26+Son").await;
    assert_eq!((done.status.as_u16(), done.header("location")), (303, customer.page.as_str()), "{}", done.text);
    let page = customer.open().await.text;
    assert!(page.contains("accepted on 25 November 2026, by Ro Calder &#38; Son"), "{page}");
    assert!(!page.contains("<form"), "{page}");
    // With a fault or without, the second comes too late.
    for late in [customer.accept("Someone").await, customer.accept("").await, customer.send("decline", "", &[]).await] {
        assert_eq!(late.status, 409, "{}", late.text);
        assert!(late.text.contains("by Ro Calder") && late.text.contains(&customer.page), "{}", late.text);
    }
    assert_eq!(customer.ask("GET", &format!("{}/accept", customer.page), &[], String::new()).await.status, 303);
    let moves = app.get(&format!("{path}/moves")).await.json();
    let last = &moves["moves"][1];
    assert_eq!(moves["moves"].as_array().unwrap().len(), 2, "{moves}");
    assert_eq!((&last["to"], &last["by"]), (&json!("accepted"), &json!("customer link")));
    assert_eq!(last["signed_name"], "Ro Calder & Son");
    assert_eq!(app.get(&path).await.json()["changed_by"], "customer link");
    let events = app.get("/v1/events").await;
    let told = events.json()["events"].as_array().unwrap().clone();
    assert_eq!(told.len(), 2, "{}", events.text);
    assert_eq!((&told[1]["type"], &told[1]["data"]["by_customer"]), (&json!("quote.accepted"), &json!(true)));
    assert_eq!(told[1]["data"]["demand"][0]["sku"], "CLEAT");
    assert!(told[0]["data"].get("by_customer").is_none() && !events.text.contains("Calder"), "{}", events.text);
    app.post("/v1/keys", &json!({"name": "customer link", "role": "reader"})).await.problem(422, "invalid");

    // Two windows, and the desk, at the same moment.
    for round in 0..5 {
        let (path, customer) = issued(&app, "Tern").await;
        let [accepts, declines] = [("accept", "name=A"), ("decline", "reason=")];
        let forms = [accepts, accepts, declines, declines];
        let answers = join_all(forms.iter().map(|(form, body)| customer.send(form, body, &[]))).await;
        let mut met: Vec<u16> = answers.iter().map(|answer| answer.status.as_u16()).collect();
        met.sort_unstable();
        assert_eq!(met, [303, 409, 409, 409], "round {round}");
        let moves = app.get(&format!("{path}/moves")).await.json();
        assert_eq!(moves["moves"].as_array().unwrap().len(), 2, "{moves}");
    }
    let told = app.get("/v1/events?limit=200").await.json()["events"].as_array().unwrap().len();
    assert_eq!(told, 2 + 5 * 2);
    app.stop().await;
}

#[tokio::test]
async fn what_is_wrong_in_a_form_is_marked_and_what_was_typed_is_kept() {
    let app = TestApp::spawn().await;
    cleats(&app).await;
    let (path, customer) = issued(&app, "Kittiwake").await;
    let long = "x".repeat(121);
    for (form, body, marked, kept) in [
        ("accept", "name=".to_owned(), "Please type your name", "value=\"\""),
        ("accept", "name=+%0D%0A+".to_owned(), "Please type your name", "aria-invalid=\"true\""),
        ("accept", "other=1".to_owned(), "Please type your name", "aria-invalid=\"true\""),
        ("accept", format!("name=%22{long}"), "122 characters", &format!("value=\"&#34;{long}\"")),
        ("accept", "name=a%00b".to_owned(), "cannot be kept", "aria-invalid=\"true\""),
        ("decline", format!("reason={}", "y".repeat(501)), "501 characters", "<details open>"),
    ] {
        let answer = customer.send(form, &body, &[]).await;
        assert_eq!(answer.status, 422, "{body}: {}", answer.text);
        assert!(answer.text.contains(marked) && answer.text.contains(kept), "{body}: {}", answer.text);
        assert!(answer.text.contains("aria-invalid=\"true\""), "{body}: {}", answer.text);
    }
    // What is no form of ours.
    for (more, body, status) in [
        (("content-type", "application/json"), "{\"name\":\"A\"}".to_owned(), 415),
        (("content-type", "text/plain"), "name=A".to_owned(), 415),
        (("content-type", "multipart/form-data; boundary=x"), "name=A".to_owned(), 415),
        (("x-plain", ""), format!("name={}", "A".repeat(20_000)), 413),
        (("sec-fetch-site", "cross-site"), "name=A".to_owned(), 403),
        (("sec-fetch-site", "same-site"), "name=A".to_owned(), 403),
        (("origin", "https://elsewhere.example"), "name=A".to_owned(), 403),
    ] {
        let answer = customer.send("accept", &body, &[more]).await;
        assert_eq!(answer.status, status, "{more:?}: {}", answer.text);
    }
    assert_eq!(app.get(&path).await.json()["state"], "issued");
    let no = customer.send("decline", "reason=Sold++the%0D%0Aboat", &[("sec-fetch-site", "same-origin")]).await;
    assert_eq!(no.status, 303, "{}", no.text);
    let moves = app.get(&format!("{path}/moves")).await.json();
    assert_eq!((&moves["moves"][1]["remark"], &moves["moves"][1]["to"]), (&json!("Sold the boat"), &json!("declined")));
    assert!(customer.open().await.text.contains("declined on 25 November 2026"));
}

#[tokio::test]
async fn a_link_ends_by_time_and_by_the_shop_and_what_became_of_the_quote_is_said() {
    each_database(async |database| ends(&database).await).await;
}

async fn ends(database: &Database) {
    let app = shop(database).await;
    let (path, customer) = issued(&app, "Kittiwake").await;
    let link = format!("{path}/link");
    app.send("DELETE", &link, &[], "").await.problem(428, "version-needed");
    app.delete(&link, "\"v1\"").await.problem(412, "stale");
    let bearer = format!("Bearer {}", app.new_key(Role::Rigger).await);
    app.send("DELETE", &link, &[("authorization", &bearer), ("if-match", "\"v2\"")], "")
        .await
        .problem(403, "not-your-role");
    let revoked = app.delete(&link, "\"v2\"").await;
    assert_eq!(
        (revoked.json()["state"].clone(), revoked.header("etag")),
        (json!("revoked"), "\"v3\""),
        "{}",
        revoked.text
    );
    opens_nothing(&customer.open().await);
    opens_nothing(&customer.accept("A").await);
    assert_eq!(app.get(&path).await.json()["state"], "issued");
    assert_eq!(app.delete(&link, "\"v3\"").await.header("etag"), "\"v3\"", "it stays as it is");

    // A draft has none, and cannot have one.
    let other = draft(&app, "Tern").await;
    app.delete(&format!("{other}/link"), "\"v1\"").await.problem(409, "not-allowed");
    let problem = step(&app, &other, "link", "\"v1\"", &[], &json!({})).await.problem(409, "not-allowed");
    assert_eq!(problem["allowed"], json!(["replace", "delete", "issue"]));

    let of = async |path: &str| {
        let made = step(&app, path, "link", &seen(&app, path).await, &[], &json!({})).await;
        assert_eq!(made.status, 201, "{}", made.text);
        Customer::of(&app, made.json()["address"].as_str().unwrap())
    };
    let says = async |customer: &Customer, words: &str| {
        let page = customer.open().await;
        assert_eq!(page.status, 200, "{words}: {}", page.text);
        assert!(page.text.contains(words) && !page.text.contains("<form"), "{words}: {}", page.text);
        let late = customer.accept("A").await;
        assert_eq!(late.status, 409, "{}", late.text);
        assert!(late.text.contains(words), "{}", late.text);
    };
    let customer = of(&path).await;
    assert!(customer.open().await.text.contains("<form"));
    let revision = step(&app, &path, "revisions", &seen(&app, &path).await, &[], &with_cleats("Kittiwake", 2)).await;
    let second = revision.header("location").to_owned();
    assert_eq!(step(&app, &second, "issue", "\"v1\"", &[], &json!({})).await.status, 200);
    says(&customer, "A newer revision of this quote stands in its place").await;
    step(&app, &path, "link", &seen(&app, &path).await, &[], &json!({})).await.problem(409, "not-allowed");

    let newer = of(&second).await;
    assert!(newer.open().await.text.contains("revision 2"));
    assert_eq!(step(&app, &second, "withdraw", &seen(&app, &second).await, &[], &json!({})).await.status, 200);
    says(&newer, "We have taken this quote back").await;

    let (third, customer) = issued(&app, "Knot").await;
    let (fourth, accepted) = issued(&app, "Dunlin").await;
    assert_eq!(step(&app, &fourth, "accept", "\"v2\"", &[], &json!({})).await.status, 200);
    assert!(accepted.open().await.text.contains("accepted on 25 November 2026."), "the desk noted no name");
    app.set_clock("2026-12-26T00:00:00Z");
    says(&customer, "valid until 25 December 2026, and that day is over").await;
    assert_eq!(app.get(&third).await.json()["state"], "lapsed");
    let moves = app.get(&format!("{third}/moves")).await.json();
    assert!(moves["moves"][1].get("by").is_none(), "nobody did it: {moves}");

    app.set_clock("2027-03-25T23:59:59Z");
    assert_eq!(accepted.open().await.status, 200);
    app.set_clock("2027-03-26T00:00:00Z");
    opens_nothing(&accepted.open().await);
    assert_eq!(app.get(&format!("{fourth}/link")).await.json()["state"], "expired");
    let again = of(&fourth).await;
    assert!(again.open().await.text.contains("accepted on 25 November 2026."));
    assert_eq!(app.get(&format!("{fourth}/link")).await.json()["expires_at"], "2027-06-24T00:00:00Z");
    app.stop().await;
}

#[tokio::test]
async fn what_a_customer_reads_stands_and_a_quote_from_before_links_gets_the_same() {
    each_database(async |database| stands(&database).await).await;
}

async fn stands(database: &Database) {
    let app = shop(database).await;
    let (path, customer) = issued(&app, "Kittiwake").await;
    let before = customer.open().await.text;
    let settings = app.get("/v1/settings").await;
    let mut renamed: Value = settings.json();
    renamed["shop_name"] = json!("Another name over the door");
    assert_eq!(app.put("/v1/settings", settings.header("etag"), &renamed).await.status, 200);
    let item = app.get("/v1/items/CLEAT").await;
    assert!(app.delete("/v1/items/CLEAT", item.header("etag")).await.status.is_success());
    assert_eq!(customer.open().await.text, before);

    // As a quote is that was issued before there were links.
    let admin = Connection::connect(&database.url).await.unwrap();
    admin.execute_unprepared("DELETE FROM quote_links").await.unwrap();
    let gone = admin.execute_unprepared("DELETE FROM documents WHERE kind = 'customer'").await.unwrap();
    assert_eq!(gone.rows_affected(), 1);
    opens_nothing(&customer.open().await);
    let made = step(&app, &path, "link", "\"v2\"", &[], &json!({})).await;
    assert_eq!(made.status, 201, "{}", made.text);
    let customer = Customer::of(&app, made.json()["address"].as_str().unwrap());
    let after = customer.open().await.text;
    assert_eq!(after.replace(&customer.page, ""), before.replace(&*page_of(&before), ""));
    admin.close().await.unwrap();
    app.stop().await;
}

/// The address of a page, from its forms.
fn page_of(html: &str) -> String {
    let (_, rest) = html.split_once("action=\"").unwrap();
    rest.split_once("/accept").unwrap().0.to_owned()
}

#[tokio::test]
async fn guessing_is_held_up_and_so_is_a_link_that_asks_too_much() {
    let app = TestApp::spawn_with(|config| {
        config.failed_keys_per_minute = 5;
        config.link_units_per_minute = 20;
    })
    .await;
    cleats(&app).await;
    let (_, customer) = issued(&app, "Kittiwake").await;
    let (_, other) = issued(&app, "Tern").await;
    let mut met = Vec::new();
    for _ in 0..25 {
        met.push(customer.open().await);
    }
    let refused = met.iter().filter(|answer| answer.status == 429).count();
    assert!((4..=5).contains(&refused), "{refused} of 25 were refused");
    let last = met.last().unwrap();
    assert!(last.text.contains("Please wait") && !last.header("retry-after").is_empty(), "{}", last.text);
    assert_eq!(other.open().await.status, 200, "another's link has its own");

    let guess = format!("/q/{}/{}", "0".repeat(32), "A".repeat(43));
    let mut met = Vec::new();
    for _ in 0..8 {
        met.push(other.ask("GET", &guess, &[], String::new()).await.status.as_u16());
    }
    assert_eq!(met, [404, 404, 404, 404, 404, 429, 429, 429]);
    assert_eq!(other.open().await.status, 200, "who has a good link goes on");
    // The link without its secret stands in the address bar of whoever has opened it.
    let guess = format!("{}/{}", other.page, "A".repeat(43));
    for _ in 0..30 {
        assert_eq!(other.ask("GET", &guess, &[], String::new()).await.status, 429);
        assert_eq!(other.ask("POST", &format!("{}/accept", other.page), &[], String::new()).await.status, 429);
    }
    assert_eq!(other.open().await.status, 200, "nobody uses up what the customer may do");
}

#[tokio::test]
async fn a_customer_adds_options_and_accepts_only_the_total_that_he_was_shown() {
    each_database(async |database| adds_options(&database).await).await;
}

async fn adds_options(database: &Database) {
    let app = shop(database).await;
    let polish = |id: &str, title: &str, price: &str| {
        json!({"id": id, "title": title, "extra_lines": [
            {"description": title, "quantity": "1", "unit": "h", "unit_price": price, "tax_class": "service"}]})
    };
    let mut asked = with_cleats("Kittiwake", 1);
    let mut wax = polish("wax", "Wax", "60");
    wax["excludes"] = json!(["polish"]);
    asked["options"] = json!([
        {"id": "more", "title": "More <cleats>", "description": "Two of them",
         "equipment": [{"sku": "CLEAT", "quantity": 2, "station": "helm"}]},
        polish("polish", "Polish", "80"),
        wax,
    ]);
    let made = app.post("/v1/quotes", &asked).await;
    assert_eq!(made.status, 201, "{}", made.text);
    let path = made.header("location").to_owned();
    let issued = step(&app, &path, "issue", "\"v1\"", &[], &json!({})).await;
    let customer = Customer::of(&app, issued.json()["customer_address"].as_str().unwrap());
    let page = customer.open().await.text;
    for part in [
        "You can add",
        "More &#60;cleats&#62;",
        "Two of them",
        "adds USD\u{a0}29.00 by itself",
        "not together with: Polish",
    ] {
        assert!(page.contains(part), "{part} is not in\n{page}");
    }
    assert!(page.contains("Total shown: USD&nbsp;14.50") && !page.contains(" checked"), "{page}");

    let shown = customer.send("choose", "name=R.+Calder&option=more&option=polish", &[]).await;
    assert_eq!(shown.status, 200, "{}", shown.text);
    for part in [
        "Total shown: USD&nbsp;123.50",
        "With the options: More &#60;cleats&#62;, Polish.",
        "name=\"shown\" value=\"more,polish\"",
        "value=\"R. Calder\"",
        "3 ×",
    ] {
        assert!(shown.text.contains(part), "{part} is not in\n{}", shown.text);
    }
    assert_eq!(shown.text.matches(" checked").count(), 2);
    for wrong in ["option=polish&option=wax", "option=paint"] {
        let refused = customer.send("choose", wrong, &[]).await;
        assert_eq!(refused.status, 422, "{}", refused.text);
        assert!(refused.text.contains("do not go together") && refused.text.contains("14.50"), "{}", refused.text);
        let shown = wrong.replace("option=", "").replace('&', "%2C");
        let refused = customer.send("accept", &format!("name=A&shown={shown}&{wrong}"), &[]).await;
        assert_eq!(refused.status, 422, "{}", refused.text);
    }
    // What was ticked after the total was shown is shown before it is accepted.
    let other = customer.send("accept", "name=R.+Calder&shown=more%2Cpolish&option=more", &[]).await;
    assert_eq!(other.status, 200, "{}", other.text);
    assert!(other.text.contains("Please look at the total") && other.text.contains("USD&nbsp;43.50"), "{}", other.text);
    // A name that is missing leaves the options as they were.
    let unnamed = customer.send("accept", "name=&shown=more&option=more", &[]).await;
    assert_eq!(unnamed.status, 422, "{}", unnamed.text);
    assert!(unnamed.text.contains("USD&nbsp;43.50") && unnamed.text.contains(" checked"), "{}", unnamed.text);
    assert_eq!(app.get(&path).await.json()["state"], "issued");

    let done = customer.send("accept", "name=R.+Calder&shown=more&option=more", &[]).await;
    assert_eq!(done.status, 303, "{}", done.text);
    let quote = app.get(&path).await.json();
    assert_eq!((&quote["net"], &quote["accepted_options"]), (&json!("43.50"), &json!(["more"])));
    let page = customer.open().await.text;
    assert!(
        page.contains("With the option: More") && page.contains("43.50") && !page.contains("You can add"),
        "{page}"
    );
    assert_eq!(customer.send("choose", "option=polish", &[]).await.status, 409);
    app.stop().await;
}
