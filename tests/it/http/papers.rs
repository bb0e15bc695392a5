//! A customer's quote on paper: whoever has the link gets it, the same bytes each time, and nobody else does.

use super::app::TestApp;
use super::life::cleats;
use super::links::issued;

#[actix_web::test]
async fn a_customer_has_his_quote_on_paper_and_nobody_else_has() {
    let app = TestApp::spawn().await;
    cleats(&app).await;
    let (_, customer) = issued(&app, "Kittiwake").await;
    let mut sizes = Vec::new();
    for (paper, media_box) in [("a4", "595.276 841.89"), ("letter", "612 792")] {
        let (status, headers, first) = customer.paper(paper, true).await;
        assert_eq!((status, headers["content-type"].to_str().unwrap()), (200, "application/pdf"));
        for (name, value) in [("cache-control", "no-store"), ("x-content-type-options", "nosniff")] {
            assert_eq!(headers[name], value);
        }
        assert_eq!(headers["content-disposition"], "inline; filename=\"quote-2026-0001.pdf\"");
        assert!(first.starts_with(b"%PDF-") && first.trim_ascii_end().ends_with(b"%%EOF"));
        let text = String::from_utf8_lossy(&first);
        assert!(text.contains(&format!("/MediaBox[0 0 {media_box}]")), "{paper}: {media_box}");
        assert_eq!(customer.paper(paper, true).await.2, first, "the same bytes each time");
        sizes.push(first);
    }
    assert_ne!(sizes[0], sizes[1]);
    let (status, headers, page) = customer.paper("a4", false).await;
    assert_eq!((status, headers["content-type"].to_str().unwrap()), (404, "text/html; charset=utf-8"));
    assert!(String::from_utf8_lossy(&page).contains("There is no quote here"));
    assert_eq!(customer.paper("a5", true).await.0, 404);
    app.stop().await;
}
