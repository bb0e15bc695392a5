//! Lists in pages: each row once, and cursors that hold for their list and filters only.

use serde_json::Value;

use super::app::{Answer, TestApp};
use super::versions::{item, operation};
use crate::fixture::{Database, each_database};

fn skus(page: &Answer) -> Vec<String> {
    assert_eq!(page.status, 200, "{}", page.text);
    let page = page.json();
    page["rows"].as_array().unwrap().iter().map(|row| row["item"]["sku"].as_str().unwrap().to_owned()).collect()
}

/// The address in a `Link` header with `rel="next"`.
fn next(page: &Answer) -> Option<String> {
    let link = page.header("link").strip_suffix("; rel=\"next\"")?;
    Some(link.trim_start_matches('<').trim_end_matches('>').to_owned())
}

#[tokio::test]
async fn following_the_links_shows_every_row_once_also_while_rows_are_added() {
    each_database(async |database| all_pages(&database).await).await;
}

async fn all_pages(database: &Database) {
    let app = TestApp::spawn_on(database).await;
    for name in ["C", "A", "E", "B", "D"] {
        assert_eq!(app.post("/v1/items", &item(name)).await.status, 201);
    }
    let first = app.get("/v1/items?limit=2&kind=wire").await;
    assert_eq!(skus(&first), ["A", "B"]);
    // Before and behind the page that was read: only what is behind is still to come.
    for name in ["A2", "B2"] {
        assert_eq!(app.post("/v1/items", &item(name)).await.status, 201);
    }
    let mut seen = skus(&first);
    let mut link = next(&first);
    assert!(link.as_deref().is_some_and(|link| link.starts_with("/v1/items?kind=wire&limit=2&cursor=")), "{link:?}");
    while let Some(address) = link {
        let page = app.get(&address).await;
        seen.extend(skus(&page));
        assert_eq!(next(&page).is_some(), page.json().get("next").is_some());
        link = next(&page);
    }
    assert_eq!(seen, ["A", "B", "B2", "C", "D", "E"]);
    app.stop().await;
}

#[tokio::test]
async fn a_cursor_of_another_list_or_of_other_filters_is_refused() {
    let app = TestApp::spawn().await;
    for name in ["A", "B", "C"] {
        assert_eq!(app.post("/v1/items", &item(name)).await.status, 201);
    }
    let page = app.get("/v1/items?limit=1").await.json();
    let cursor = page["next"].as_str().unwrap();
    assert_eq!(skus(&app.get(&format!("/v1/items?limit=2&cursor={cursor}")).await), ["B", "C"]);
    app.get(&format!("/v1/items?kind=wire&cursor={cursor}")).await.problem(400, "bad-cursor");
    app.get(&format!("/v1/packages?cursor={cursor}")).await.problem(400, "bad-cursor");
    app.get("/v1/items?cursor=made-up").await.problem(400, "bad-cursor");
    app.get("/v1/quotes?cursor=eyJhIjoxfQ").await.problem(400, "bad-cursor");
}

#[tokio::test]
async fn rows_can_be_edited_as_they_stand_in_the_list() {
    let app = TestApp::spawn().await;
    for code in ["polish", "wax"] {
        assert_eq!(app.post("/v1/labour-operations", &operation(code)).await.status, 201);
    }
    let rows = app.get("/v1/labour-operations").await.json();
    let row: &Value =
        rows["rows"].as_array().unwrap().iter().find(|row| row["labour_operation"]["code"] == "wax").unwrap();
    let replaced =
        app.put(row["href"].as_str().unwrap(), row["etag"].as_str().unwrap(), &row["labour_operation"]).await;
    assert_eq!(replaced.status, 200, "{}", replaced.text);
}
