//! Imports of items: streamed, all or nothing, every bad row told.

use std::convert::Infallible;

use bytes::Bytes;
use chrono::Duration;
use futures_util::stream;
use rigbill::calc::shop::item::{Attributes, PriceKind};
use rigbill::calc::shop::settings::Settings;
use rigbill::clock::Clock;
use rigbill::service::imports::{Import, ImportState};
use rigbill::service::items::ItemFilter;
use rigbill::service::{Error, Service};
use rust_decimal::Decimal;
use serde_json::json;
use tokio::sync::mpsc;

use super::shop::{day, exact, item, price};
use crate::fixture::each_database;

const HEADER: &str = "sku,description,category,kind,selling_unit,buying_unit,buying_quantity,cost";

async fn import(service: &Service, bytes: &[u8], dry_run: bool) -> Import {
    import_in_pieces(service, bytes, dry_run, usize::MAX).await
}

async fn import_in_pieces(service: &Service, bytes: &[u8], dry_run: bool, size: usize) -> Import {
    let id = service.start_import(dry_run).await.unwrap().id;
    let pieces: Vec<Result<Bytes, Infallible>> =
        bytes.chunks(size.min(bytes.len()).max(1)).map(|piece| Ok(Bytes::copy_from_slice(piece))).collect();
    let done = service.import_csv(id, stream::iter(pieces)).await.unwrap();
    assert_eq!(service.import(id).await.unwrap(), done);
    done
}

/// Line, column and message of a fault.
type Told<'a> = (u64, &'a str, &'a str);

fn told(import: &Import) -> Vec<Told<'_>> {
    import.report.iter().map(|f| (f.line, f.column.as_deref().unwrap_or(""), f.message.as_str())).collect()
}

/// Lines and columns of the report.
fn places(import: &Import) -> Vec<(u64, &str)> {
    told(import).into_iter().map(|(line, column, _)| (line, column)).collect()
}

async fn skus(service: &Service) -> Vec<String> {
    let page = service.list_items(&ItemFilter::default(), None, 5000).await.unwrap();
    page.rows.iter().map(|row| row.value.sku.to_string()).collect()
}

const GOOD: &str = "\
kind,sku,description,category,selling_unit,buying_unit,buying_quantity,cost,list_price,valid_from,labour,special_order,\
lead_time_days,supplier,tax_class,function,rated_voltage_v,nominal_voltages_v,leads,ignition_protected,size,colour,\
insulation_c,supplied_diameter,recovered_diameter,piece_length
device,PUMP,\"Bilge pump, 1100\",pumps_and_panels,each,each,1,58.20,99.00,2026-02-01,mount 1; test 0.5,yes,14,Anyone,goods,\
bilge_pump,13.6,12; 24,switched_positive 4.2 A 16 AWG 30 in; return 16 AWG 30 in colour black,yes,,,,,,
wire,W16,\"The \"\"brown\"\" one\",wire,foot,spool,100,31.004,,,,,,,,,,,,,16 AWG,brown,105,,,
heat_shrink,HS,Heat shrink,terminals_and_fuses,each,each,1,2,,,,,,,,,,,,,,,,0.75 in,6.4 mm,4 ft
";

#[tokio::test(flavor = "multi_thread")]
async fn a_good_file_is_in_the_catalogue_whole() {
    each_database(async |database| {
        let service = database.service().await;
        let done = import(&service, GOOD.as_bytes(), false).await;
        assert_eq!(told(&done), []);
        assert_eq!((done.state, done.rows_read, done.rows_bad), (ImportState::Applied, 3, 0));
        assert!(done.finished_at.is_some());
        assert_eq!(service.shop().await.unwrap().0, 1, "one import is one change");

        let pump = service.item("PUMP").await.unwrap();
        assert_eq!(pump.version, 1);
        let mut expected = item("PUMP", json!({"description": "Bilge pump, 1100", "category": "pumps_and_panels",
            "labour": [{"operation": "mount", "quantity": "1"}, {"operation": "test", "quantity": "0.5"}],
            "special_order": true, "lead_time_days": 14, "supplier": "Anyone", "tax_class": "goods",
            "attributes": {"kind": "device", "function": "bilge_pump", "rated_voltage_v": 13.6,
                "nominal_voltages_v": [12, 24], "ignition_protected": true, "leads": [
                {"role": "switched_positive", "current_a": 4.2, "size": "16 AWG", "length": {"value": 30.0, "unit": "in"}},
                {"role": "return", "size": "16 AWG", "length": {"value": 30.0, "unit": "in"}, "maker_colour": "black"}]}}));
        expected.prices =
            vec![price(PriceKind::Cost, "2026-02-01", "58.2"), price(PriceKind::List, "2026-02-01", "99")];
        assert_eq!(pump.value, expected);
        let wire = service.item("W16").await.unwrap().value;
        assert_eq!(wire.description, "The \"brown\" one");
        assert_eq!(wire.prices, [price(PriceKind::Cost, "2026-11-25", "31.004")], "from the day of the import on");
        assert!(matches!(service.item("HS").await.unwrap().value.attributes, Attributes::HeatShrink { .. }));
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_device_needs_no_cell_that_is_usual_of_its_function() {
    let head = "kind,sku,description,category,selling_unit,buying_unit,buying_quantity,cost,function,draw_a,labour\n";
    let file = |rows: &str| format!("{head}{rows}");
    each_database(async |database| {
        let service = database.service().await;
        let done = import(
            &service,
            file("device,R,Radio,electronics,each,each,1,99,radio,,\ndevice,W,Winch,electronics,each,each,1,99,windlass,60,none\n")
                .as_bytes(),
            false,
        )
        .await;
        assert_eq!((done.state, told(&done).len()), (ImportState::Applied, 0));
        let kept = |attributes, labour| json!({"attributes": attributes, "labour": labour});
        let read = async |sku| serde_json::to_value(service.item(sku).await.unwrap().value).unwrap();
        let radio = read("R").await;
        let bare = json!({"kind": "device", "function": "radio", "ignition_protected": false});
        assert_eq!(kept(radio["attributes"].clone(), radio["labour"].clone()), kept(bare, json!(null)));
        assert_eq!(read("W").await["labour"], json!([]));
        let done = import(&service, file("device,B,Motor,electronics,each,each,1,99,accessory,,\n").as_bytes(), false).await;
        assert_eq!((done.state, told(&done).len()), (ImportState::Refused, 1));
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_file_means_the_same_however_it_is_cut_and_ended() {
    let with_crlf = GOOD.replace('\n', "\r\n");
    let with_cr = GOOD.replace('\n', "\r");
    let with_mark = format!("\u{feff}{GOOD}");
    let unended = GOOD.trim_end().to_owned();
    each_database(async |database| {
        let service = database.service().await;
        import(&service, GOOD.as_bytes(), false).await;
        let first = service.item("PUMP").await.unwrap().value;
        for (times, (text, size)) in
            [(GOOD, 1), (GOOD, 7), (&with_crlf, 5), (&with_cr, 64), (&with_mark, 2), (&unended, 3)]
                .into_iter()
                .enumerate()
        {
            let done = import_in_pieces(&service, text.as_bytes(), false, size).await;
            assert_eq!(told(&done), [], "{size}");
            let again = service.item("PUMP").await.unwrap();
            assert_eq!((again.version, again.value), (times as i64 + 2, first.clone()));
        }
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn one_bad_row_leaves_the_catalogue_as_it_was() {
    let file = format!(
        "{HEADER},stud,size,colour,insulation_c\n\
         OLD,Changed,hardware,hardware,each,each,1,5,,,,\n\
         L-1,A lug,hardware,lug,each,each,ten,0,#9,,,\n\
         L-2,\"A\nlug\",boats,lug,each,each,1,5,#8,8 AWG,red,\n\
         NEW,New,hardware,hardware,each,each,1,5,,,,\n\
         W-1,Wire,wire,wire,each,spool,0,5,,16,brown,105\n\
         ,No name,hardware,rope,each,crate,1,5,,,,\n\
         NEW,Again,hardware,hardware,each,each,1,5,,,,\n\
         X,Too few,hardware\n"
    );
    each_database(async |database| {
        let service = database.service().await;
        let old = service.create_item(item("OLD", json!({}))).await.unwrap();
        let done = import(&service, file.as_bytes(), false).await;
        assert_eq!((done.state, done.rows_read, done.rows_bad), (ImportState::Refused, 8, 6));
        let expected = [
            (3, "buying_quantity"),
            (3, "cost"),
            (3, "size"),
            (3, "stud"),
            (4, "category"),
            (4, "colour"),
            (4, "description"),
            (7, "size"),
            (8, "buying_unit"),
            (8, "kind"),
            (8, "sku"),
            (9, "sku"),
            (10, ""),
        ];
        assert_eq!(places(&done), expected, "{:?}", told(&done));
        let message =
            |line, column| told(&done).into_iter().find(|f| (f.0, f.1) == (line, column)).unwrap().2.to_owned();
        assert_eq!(message(9, "sku"), "'NEW' stands on line 6 already: take one of the two rows out");
        assert_eq!(message(4, "colour"), "a lug has no 'colour': leave this cell empty");
        assert_eq!(message(3, "size"), "this cell is empty: a lug needs it");
        assert!(message(7, "size").contains("'16' is not a wire size"));
        assert!(message(8, "kind").contains("'rope' is no kind of item: expected one of device, wire"));
        assert!(message(8, "buying_unit").contains("'crate' is no buying unit: expected one of each, pack"));
        assert!(message(10, "").contains("3 fields where the first row has 12"));

        assert_eq!(service.item("OLD").await.unwrap(), old);
        assert_eq!(skus(&service).await, ["OLD"]);
        assert_eq!(service.shop().await.unwrap().0, 1);
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_trial_tells_the_same_and_changes_nothing() {
    each_database(async |database| {
        let service = database.service().await;
        let done = import(&service, GOOD.as_bytes(), true).await;
        assert_eq!((done.state, done.rows_read, done.rows_bad, done.dry_run), (ImportState::DryRun, 3, 0, true));
        assert_eq!(skus(&service).await, [""; 0]);
        assert_eq!(service.shop().await.unwrap().0, 0);
        let twice = format!("{HEADER}\nA,A,hardware,hardware,each,each,1,1\nA,A,hardware,hardware,each,each,1,1\n");
        let done = import(&service, twice.as_bytes(), true).await;
        assert_eq!((done.state, done.rows_bad), (ImportState::Refused, 1));
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_first_row_must_name_columns_that_there_are() {
    let cases: [(&str, &[Told<'_>]); 5] = [
        ("", &[(1, "", "the file is empty: expected a row with the names of the columns")]),
        (
            "sku,descripton,category,kind,selling_unit,buying_unit,buying_quantity,cost,cost\n",
            &[
                (1, "cost", "the column 'cost' stands here twice: take one of the two out"),
                (1, "description", "the column 'description' is missing: every item needs it"),
                (1, "descripton", "there is no column 'descripton'; did you mean 'description'?"),
            ],
        ),
        (
            "sku,description,category,kind,selling_unit,buying_unit,buying_quantity,weight\nA,B\n",
            &[(1, "weight", "there is no column 'weight'")],
        ),
        (
            "sku;description;category\n",
            &[
                (1, "buying_quantity", "the column 'buying_quantity' is missing: every item needs it"),
                (1, "buying_unit", "the column 'buying_unit' is missing: every item needs it"),
                (1, "category", "the column 'category' is missing: every item needs it"),
                (1, "description", "the column 'description' is missing: every item needs it"),
                (1, "kind", "the column 'kind' is missing: every item needs it"),
                (1, "selling_unit", "the column 'selling_unit' is missing: every item needs it"),
                (1, "sku", "the column 'sku' is missing: every item needs it"),
                (1, "sku;description;category", "there is no column 'sku;description;category'"),
            ],
        ),
        ("sku,description,category,kind,selling_unit,buying_unit,buying_quantity\n", &[]),
    ];
    each_database(async |database| {
        let service = database.service().await;
        for (file, expected) in cases {
            let done = import(&service, file.as_bytes(), false).await;
            assert_eq!(told(&done), expected, "{file}");
            let state = if expected.is_empty() { ImportState::Applied } else { ImportState::Refused };
            assert_eq!((done.state, done.rows_read), (state, 0));
        }
        assert_eq!(service.shop().await.unwrap().0, 0);
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn another_encoding_is_told_where_it_stands() {
    let row = |text: &[u8]| [HEADER.as_bytes(), b"\nA,", text, b",hardware,hardware,each,each,1,1\n"].concat();
    // 'é' is C3 A9 in UTF-8 and E9 in ISO 8859-1; UTF-16 begins with FF FE or FE FF.
    let utf16: Vec<u8> = HEADER.encode_utf16().flat_map(u16::to_le_bytes).collect();
    let utf16 = [&[0xff, 0xfe][..], &utf16].concat();
    each_database(async |database| {
        let service = database.service().await;
        assert_eq!(import(&service, &row("Câble gainé".as_bytes()), false).await.state, ImportState::Applied);
        let done = import(&service, &row(b"C\xe2ble gain\xe9"), false).await;
        assert_eq!(places(&done), [(2, "description"), (2, "description")]);
        assert_eq!(told(&done)[0].2, "this is not UTF-8 text: save the file as CSV in UTF-8 and send it again");
        let done = import(&service, &utf16, false).await;
        assert_eq!(places(&done), [(1, "")]);
        assert!(told(&done)[0].2.starts_with("this is not UTF-8 text"));
        let done = import(&service, &row(b"zero\0character"), false).await;
        assert_eq!(places(&done), [(2, "description")]);
        let done =
            import(&service, &[HEADER.as_bytes(), b"\nA\0B,A,hardware,hardware,each,each,1,1\n"].concat(), false).await;
        assert_eq!(places(&done), [(2, "sku")]);
        assert_eq!(service.item("A").await.unwrap().value.description, "Câble gainé");
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_replaced_item_keeps_its_other_prices_and_comes_back_from_retirement() {
    each_database(async |database| {
        let service = database.service().await;
        let mut old = item("P", json!({}));
        old.prices = vec![
            price(PriceKind::Cost, "2026-01-01", "10"),
            price(PriceKind::Cost, "2027-01-01", "11"),
            price(PriceKind::List, "2026-01-01", "20"),
        ];
        service.create_item(old).await.unwrap();
        service.retire_item("P", 1).await.unwrap();
        let file = format!("{HEADER},valid_from\nP,Newer,hardware,hardware,each,each,1,13,2027-01-01\n");
        assert_eq!(import(&service, file.as_bytes(), false).await.state, ImportState::Applied);
        let now = service.item("P").await.unwrap();
        assert_eq!(now.version, 3);
        assert!(!now.value.retired);
        assert_eq!(
            now.value.prices,
            [
                price(PriceKind::Cost, "2026-01-01", "10"),
                price(PriceKind::Cost, "2027-01-01", "13"),
                price(PriceKind::List, "2026-01-01", "20"),
            ]
        );
        let on = |text: &str| now.value.price_on(PriceKind::Cost, day(text), Decimal::ONE).map(|price| price.amount);
        assert_eq!((on("2026-12-31"), on("2027-01-01")), (Some(exact("10")), Some(exact("13"))));
    })
    .await;
}

/// A file of good rows.
fn rows(numbers: std::ops::Range<u32>) -> String {
    numbers.map(|n| format!("I-{n:05},Part {n},hardware,hardware,each,each,1,{n}.25\n")).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_long_file_shows_how_far_it_has_come() {
    each_database(async |database| {
        let service = database.service().await;
        let id = service.start_import(false).await.unwrap().id;
        let (pieces, mut waiting) = mpsc::channel::<Result<Bytes, Infallible>>(1);
        let csv = stream::poll_fn(move |context| waiting.poll_recv(context));
        let feed = async {
            pieces.send(Ok(Bytes::from(format!("{HEADER}\n{}", rows(1..1201))))).await.unwrap();
            loop {
                let seen = service.import(id).await.unwrap();
                if seen.rows_read > 0 {
                    assert_eq!(seen.state, ImportState::Reading);
                    break;
                }
                tokio::task::yield_now().await;
            }
            assert_eq!(skus(&service).await, [""; 0], "nothing is in the catalogue before the end");
            pieces.send(Ok(Bytes::from(rows(1201..2501)))).await.unwrap();
            drop(pieces);
        };
        let (done, ()) = tokio::join!(service.import_csv(id, csv), feed);
        let done = done.unwrap();
        assert_eq!((done.state, done.rows_read, done.rows_bad), (ImportState::Applied, 2500, 0));
        assert_eq!(skus(&service).await.len(), 2500);
        assert_eq!(service.item("I-02500").await.unwrap().value.prices[0].amount, exact("2500.25"));
        let twice = service.import_csv(id, stream::iter([Ok::<_, Infallible>(Bytes::new())])).await;
        assert!(matches!(twice, Err(Error::NotAllowed(_))), "{twice:?}");
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn settings_that_change_under_an_import_are_heeded() {
    each_database(async |database| {
        let service = database.service().await;
        let id = service.start_import(false).await.unwrap().id;
        let (pieces, mut waiting) = mpsc::channel::<Result<Bytes, Infallible>>(1);
        let csv = stream::poll_fn(move |context| waiting.poll_recv(context));
        let feed = async {
            pieces.send(Ok(Bytes::from(format!("{HEADER}\n{}", rows(1..601))))).await.unwrap();
            while service.import(id).await.unwrap().rows_read == 0 {
                tokio::task::yield_now().await;
            }
            let mut without = Settings::starting();
            without.categories.retain(|category| category.code.as_str() != "hardware");
            service.replace_settings(without, 1).await.unwrap();
            drop(pieces);
        };
        let (done, ()) = tokio::join!(service.import_csv(id, csv), feed);
        let done = done.unwrap();
        assert_eq!((done.state, done.rows_bad), (ImportState::Refused, 600));
        assert_eq!(places(&done)[0], (2, "category"));
        assert_eq!(skus(&service).await, [""; 0]);
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_report_holds_a_thousand_faults_and_the_count_holds_all() {
    let bad: String = (0..1500).map(|n| format!("I-{n},Part,nothing,hardware,each,each,1,1\n")).collect();
    let repeated = "R,Part,hardware,hardware,each,each,1,1\n".repeat(1201);
    each_database(async |database| {
        let service = database.service().await;
        let done = import(&service, format!("{HEADER}\n{bad}").as_bytes(), false).await;
        assert_eq!((done.rows_read, done.rows_bad, done.report.len()), (1500, 1500, 1000));
        assert_eq!((done.report[0].line, done.report[999].line), (2, 1001));
        let done = import(&service, format!("{HEADER}\n{repeated}").as_bytes(), false).await;
        assert_eq!((done.rows_read, done.rows_bad, done.report.len()), (1201, 1200, 1000));
        assert_eq!(done.report[0].line, 3);
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_file_that_breaks_off_or_runs_away_is_refused() {
    let endless = format!("{HEADER}\nA,\"{}", "never closed ".repeat(10_000));
    each_database(async |database| {
        let service = database.service().await;
        let id = service.start_import(false).await.unwrap().id;
        let pieces = [Ok(Bytes::from(format!("{HEADER}\n{}I-", rows(1..3)))), Err("connection reset")];
        let done = service.import_csv(id, stream::iter(pieces)).await.unwrap();
        assert_eq!((done.state, done.rows_read), (ImportState::Refused, 2));
        assert_eq!(told(&done), [(4, "", "the file broke off here (connection reset): send it again")]);
        let done = import_in_pieces(&service, endless.as_bytes(), false, 4096).await;
        assert_eq!(done.state, ImportState::Refused);
        assert_eq!(told(&done), [(2, "", "this row is longer than 64 KiB: is a quotation mark left open?")]);
        assert_eq!(skus(&service).await, [""; 0]);
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_import_that_lost_its_reader_is_refused_by_the_next_one() {
    each_database(async |database| {
        let service = database.service().await;
        let lost = service.start_import(false).await.unwrap();
        let Clock::Fixed(clock) = service.clock() else { panic!("a fixed clock") };
        clock.set(lost.created_at + Duration::minutes(59));
        let young = service.start_import(false).await.unwrap();
        assert_eq!(service.import(lost.id).await.unwrap().state, ImportState::Reading);
        clock.set(lost.created_at + Duration::minutes(61));
        service.start_import(false).await.unwrap();
        let refused = service.import(lost.id).await.unwrap();
        assert_eq!(refused.state, ImportState::Refused);
        assert_eq!(told(&refused), [(1, "", "the file never came to its end: send it again")]);
        assert_eq!(service.import(young.id).await.unwrap().state, ImportState::Reading);
        let late = service.import_csv(lost.id, stream::iter([Ok::<_, Infallible>(Bytes::from_static(b"sku\n"))])).await;
        assert!(matches!(late, Err(Error::NotAllowed(_))), "{late:?}");
    })
    .await;
}
