//! Totals against published invoices and against arithmetic in whole numbers.

use iso_currency::Currency;
use proptest::prelude::*;
use rigbill::calc::findings::Fault;
use rigbill::calc::money::Money;
use rigbill::calc::pricing::Discount;
use rigbill::calc::pricing::totals::totals;
use rigbill::calc::quote::Totals;
use rigbill::calc::shop::settings::{TaxClass, TaxTreatment};
use rigbill::calc::units::Name;
use rust_decimal::{Decimal, RoundingStrategy};

use super::fixture::decimal;
use super::half_away;

/// Tax classes whose codes are their rates; `O` is outside the tax.
fn classes() -> Vec<TaxClass> {
    let class = |code: &str, treatment, rate: &str| TaxClass {
        code: code.into(),
        name: format!("Tax {code}"),
        treatment,
        rate_percent: decimal(rate),
    };
    vec![
        class("25", TaxTreatment::Standard, "25"),
        class("21", TaxTreatment::Standard, "21"),
        class("15", TaxTreatment::Standard, "15"),
        class("12", TaxTreatment::Standard, "12"),
        class("10", TaxTreatment::Standard, "10"),
        class("6", TaxTreatment::Standard, "6"),
        class("0", TaxTreatment::ZeroRated, "0"),
        class("O", TaxTreatment::OutsideScope, "0"),
        class("25b", TaxTreatment::Standard, "25.0000"),
    ]
}

fn total(lines: &[(&str, &str)], discount: Option<Discount>, currency: Currency) -> Result<Totals, Fault> {
    let nets: Vec<(Name, Money)> =
        lines.iter().map(|(net, class)| ((*class).into(), Money::rounded(decimal(net), currency).unwrap())).collect();
    totals(nets.iter().map(|(class, net)| (class, *net)), discount, None, &classes(), currency, false)
}

/// Lines as net and class against the published taxes by class, the tax and the gross.
fn check(lines: &[(&str, &str)], taxes: &[(&str, &str)], net: &str, tax: &str, gross: &str) {
    let totals = total(lines, None, Currency::EUR).unwrap();
    for (class, expected) in taxes {
        let group = totals.tax_by_class.iter().find(|group| group.tax_classes.contains(&Name::from(*class))).unwrap();
        assert_eq!(group.tax.to_string(), *expected, "tax of {class}");
    }
    assert_eq!(totals.tax_by_class.len(), taxes.len());
    assert_eq!(totals.net.to_string(), net);
    assert_eq!(totals.tax.to_string(), tax);
    assert_eq!(totals.total.unwrap().to_string(), gross);
}

// Invoices of the European Commission's EN 16931 artefacts, https://github.com/ConnectingEurope/eInvoicing-EN16931, by
// file. Where one has a document charge or an allowance of one class, it stands here as a line: tax and total are the
// same by BR-S-08.

#[test]
fn ubl_tc434_example4() {
    // 1000 x 1.00 and 100 x 5.00 at 25 %, 500 x 5.00 at 12 %.
    let lines = [("1000.00", "25"), ("500.00", "25"), ("2500.00", "12")];
    check(&lines, &[("25", "375.00"), ("12", "300.00")], "4000.00", "675.00", "4675.00");
}

#[test]
fn ubl_tc434_example9() {
    check(&[("147.00", "21")], &[("21", "30.87")], "147.00", "30.87", "177.87");
}

#[test]
fn issue116() {
    let lines = [("100", "6"), ("50", "12"), ("150", "12"), ("400", "25"), ("-1", "0"), ("1", "0")];
    let taxes = [("6", "6.00"), ("12", "24.00"), ("25", "100.00"), ("0", "0.00")];
    check(&lines, &taxes, "700.00", "130.00", "830.00");
}

#[test]
fn bis3_invoice_negativ() {
    // The tie -156435.885 goes away from zero.
    check(&[("-625743.54", "25")], &[("25", "-156435.89")], "-625743.54", "-156435.89", "-782179.43");
}

#[test]
fn ubl_tc434_example2() {
    // The tie 365.125 goes up; allowance and charge of 100.00 at 25 % stand as lines.
    let lines = [
        ("1273.00", "25"),
        ("-3.96", "15"),
        ("4.96", "15"),
        ("-25.00", "0"),
        ("187.50", "25"),
        ("-100", "25"),
        ("100", "25"),
    ];
    let taxes = [("25", "365.13"), ("15", "0.15"), ("0", "0.00")];
    check(&lines, &taxes, "1436.50", "365.28", "1801.78");
}

#[test]
fn ubl_tc434_example2_with_its_document_charge() {
    // The same invoice with its freight of 100.00 at 25 % as the document charge that it is there.
    let lines = [("1273.00", "25"), ("-3.96", "15"), ("4.96", "15"), ("-25.00", "0"), ("187.50", "25"), ("-100", "25")];
    let nets: Vec<(Name, Money)> = lines
        .iter()
        .map(|(net, class)| ((*class).into(), Money::rounded(decimal(net), Currency::EUR).unwrap()))
        .collect();
    let charge = Name::from("25");
    let freight = Some((&charge, Money::from_minor(10_000, Currency::EUR)));
    let nets = nets.iter().map(|(class, net)| (class, *net));
    let found = totals(nets, None, freight, &classes(), Currency::EUR, false).unwrap();
    let amounts = [found.lines_net, found.freight.unwrap(), found.net, found.tax, found.total.unwrap()];
    assert_eq!(amounts.map(|money| money.to_string()), ["1336.50", "100.00", "1436.50", "365.28", "1801.78"]);
    let group = &found.tax_by_class[0];
    assert_eq!((group.freight, group.taxable.to_string().as_str()), (found.freight, "1460.50"));
    assert!(found.tax_by_class[1..].iter().all(|group| group.freight.is_none()));
}

#[test]
fn ubl_tc434_example3() {
    let lines = [("800.00", "25"), ("800.00", "10"), ("100.00", "25")];
    check(&lines, &[("25", "225.00"), ("10", "80.00")], "1700.00", "305.00", "2005.00");
}

#[test]
fn ubl_tc434_example7() {
    check(&[("2500.00", "O"), ("700.00", "O")], &[("O", "0.00")], "3200.00", "0.00", "3200.00");
}

#[test]
fn ubl_quotation_2_1_example() {
    // OASIS UBL 2.1 example quotation (xml/UBL-Quotation-2.1-Example.xml): 35 of each; the net stands where EN 16931 has it.
    let lines = [("150500.00", "25"), ("43750.00", "25"), ("1750.00", "25"), ("1750.00", "25")];
    check(&lines, &[("25", "49437.50")], "197750.00", "49437.50", "247187.50");
}

#[test]
fn amounts_are_rounded_to_the_minor_unit_of_the_currency() {
    // Minor units: ISO 4217, from memory. Ties constructed: half away from zero.
    let tax = |net: &str, class: &str, currency| {
        let totals = total(&[(net, class)], None, currency).unwrap();
        (totals.tax.to_string(), totals.total.unwrap().to_string())
    };
    assert_eq!(tax("105", "10", Currency::JPY), ("11".to_owned(), "116".to_owned()), "10.5");
    assert_eq!(tax("104", "10", Currency::JPY), ("10".to_owned(), "114".to_owned()), "10.4");
    assert_eq!(tax("0.50", "25", Currency::EUR), ("0.13".to_owned(), "0.63".to_owned()), "0.125");
    assert_eq!(tax("0.05", "10", Currency::EUR), ("0.01".to_owned(), "0.06".to_owned()), "0.005");
    assert_eq!(tax("0.005", "10", Currency::BHD), ("0.001".to_owned(), "0.006".to_owned()), "0.0005");
    assert_eq!(tax("12.345", "10", Currency::BHD), ("1.235".to_owned(), "13.580".to_owned()), "1.2345");
}

#[test]
fn classes_of_one_treatment_and_rate_are_taxed_together() {
    // Constructed from BR-S-08: 0.02 + 0.02 at 25 % is 0.01 once, where two halves of it would round to 0.01 each.
    let totals = total(&[("0.02", "25"), ("0.02", "25b")], None, Currency::EUR).unwrap();
    assert_eq!(totals.tax_by_class.len(), 1);
    assert_eq!(totals.tax_by_class[0].name, "Tax 25, Tax 25b");
    assert_eq!(totals.tax.to_string(), "0.01");
}

#[test]
fn a_discount_is_shared_out_to_the_minor_unit() {
    // Constructed: 10.00 over 1.00, 1.00 and 98.00 in exact proportion; then a cent that three groups would each want.
    let lines = [("1.00", "25"), ("1.00", "12"), ("98.00", "6")];
    let totals = total(&lines, Some(Discount::Percent(decimal("10"))), Currency::EUR).unwrap();
    let shares: Vec<String> = totals.tax_by_class.iter().map(|group| group.discount.to_string()).collect();
    assert_eq!(shares, ["0.10", "0.10", "9.80"]);
    let lines = [("1.00", "25"), ("1.00", "12"), ("1.00", "6")];
    let totals = total(&lines, Some(Discount::Amount(decimal("1.00"))), Currency::EUR).unwrap();
    let shares: Vec<String> = totals.tax_by_class.iter().map(|group| group.discount.to_string()).collect();
    assert_eq!(shares, ["0.34", "0.33", "0.33"]);
    assert_eq!(totals.net.to_string(), "2.00");
}

#[test]
fn a_discount_that_makes_no_sense_is_a_fault() {
    let pointer = |discount, currency| total(&[("10", "25")], Some(discount), currency).unwrap_err().pointer;
    assert_eq!(pointer(Discount::Percent(decimal("101")), Currency::EUR), "/discount/percent");
    assert_eq!(pointer(Discount::Percent(decimal("-1")), Currency::EUR), "/discount/percent");
    assert_eq!(pointer(Discount::Amount(decimal("10.01")), Currency::EUR), "/discount/amount");
    assert_eq!(pointer(Discount::Amount(decimal("-1")), Currency::EUR), "/discount/amount");
    assert_eq!(pointer(Discount::Amount(decimal("1.5")), Currency::JPY), "/discount/amount");
    let message = total(&[("10", "25")], Some(Discount::Amount(decimal("1.5"))), Currency::JPY).unwrap_err().message;
    assert!(message.contains("JPY"), "{message}");
}

#[test]
fn sums_that_do_not_fit_are_a_fault() {
    let most = "90000000000000000.00";
    assert!(
        total(&[(most, "0"), (most, "0")], None, Currency::EUR).unwrap_err().message.contains("more than an amount")
    );
    assert!(total(&[("1", "no such class")], None, Currency::EUR).unwrap_err().message.contains("no such class"));
}

/// Shares of a whole by largest remainder, in whole numbers: units are dealt one by one to whoever lacks most.
fn shares(whole: i128, weights: &[i128]) -> Vec<i128> {
    let sum: i128 = weights.iter().sum();
    if sum == 0 {
        return weights.iter().map(|_| 0).collect();
    }
    let mut parts: Vec<i128> = weights.iter().map(|weight| (whole * weight).div_euclid(sum)).collect();
    let mut dealt = vec![false; parts.len()];
    while parts.iter().sum::<i128>() < whole {
        let lack = |place: usize| whole * weights[place] - parts[place] * sum;
        let most = (0..parts.len()).filter(|&place| !dealt[place]).max_by_key(|&place| (lack(place), -(place as i128)));
        let most = most.unwrap();
        parts[most] += 1;
        dealt[most] = true;
    }
    parts
}

proptest! {
    #[test]
    fn totals_agree_with_whole_numbers_to_the_minor_unit(
        lines in prop::collection::vec((-50_000i64..2_000_000, 0usize..9), 1..20),
        percent_e4 in 0i64..=1_000_000,
        currency in prop::sample::select(vec![Currency::JPY, Currency::EUR, Currency::BHD]),
    ) {
        let classes = classes();
        let sum: i128 = lines.iter().map(|(net, _)| i128::from(*net)).sum();
        prop_assume!(sum >= 0);
        let nets: Vec<(Name, Money)> = lines
            .iter()
            .map(|(net, class)| (classes[*class].code.clone(), Money::from_minor(*net, currency)))
            .collect();
        let discount = Discount::Percent(Decimal::new(percent_e4, 4));
        let found = totals(nets.iter().map(|(class, net)| (class, *net)), Some(discount), None, &classes, currency, false);
        let found = found.unwrap();

        // The classes 25 and 25b are one group, at the place of the first that has a line.
        let group_of = |class: usize| if class == 8 { 0 } else { class };
        let rates: [i128; 8] = [25, 21, 15, 12, 10, 6, 0, 0];
        let mut bases = [0i128; 8];
        let mut used = [false; 8];
        for (net, class) in &lines {
            bases[group_of(*class)] += i128::from(*net);
            used[group_of(*class)] = true;
        }
        let off = half_away(sum * i128::from(percent_e4), 1_000_000);
        let mut places: Vec<usize> = (0..8).filter(|&place| used[place]).collect();
        if used[0] && lines.iter().all(|(_, class)| *class != 0) {
            places.rotate_left(1);
        }
        let weights: Vec<i128> = places.iter().map(|&place| bases[place]).collect();
        let mut tax = 0;
        prop_assert_eq!(found.tax_by_class.len(), places.len());
        for ((group, &place), share) in found.tax_by_class.iter().zip(&places).zip(shares(off, &weights)) {
            let expected = half_away((bases[place] - share) * rates[place], 100);
            prop_assert_eq!(i128::from(group.discount.minor()), share);
            prop_assert_eq!(i128::from(group.taxable.minor()), bases[place] - share);
            prop_assert_eq!(i128::from(group.tax.minor()), expected);
            tax += expected;
        }
        prop_assert_eq!(i128::from(found.discount.minor()), off);
        prop_assert_eq!(i128::from(found.net.minor()), sum - off);
        prop_assert_eq!(i128::from(found.tax.minor()), tax);
        prop_assert_eq!(i128::from(found.total.unwrap().minor()), sum - off + tax);
    }

    #[test]
    fn rounding_agrees_with_whole_numbers(mantissa in any::<i64>(), scale in 0u32..=10) {
        let exact = Decimal::new(mantissa, scale);
        for (currency, places) in [(Currency::JPY, 0u32), (Currency::EUR, 2), (Currency::BHD, 3)] {
            let expected = half_away(i128::from(mantissa) * 10i128.pow(places), 10i128.pow(scale));
            match Money::rounded(exact, currency) {
                Ok(money) => prop_assert_eq!(i128::from(money.minor()), expected),
                Err(_) => prop_assert!(i64::try_from(expected).is_err()),
            }
        }
        let plain = exact.round_dp_with_strategy(2, RoundingStrategy::MidpointAwayFromZero);
        prop_assert_eq!(Money::rounded(exact, Currency::EUR).map(Money::decimal).unwrap_or(plain), plain);
    }
}
