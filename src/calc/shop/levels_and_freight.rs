//! Price levels of customers, and how freight is reckoned: parts of the settings.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::units::Name;

/// What a price level does to the prices of one category.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum LevelPrice {
    /// A mark-up on cost of its own, whatever the category goes by.
    MarkUp {
        /// The category.
        #[schema(value_type = String, min_length = 1, max_length = 60, example = "wire")]
        category: Name,
        /// Mark-up on cost, percent.
        #[schema(value_type = String, pattern = r"^[0-9]{1,4}(\.[0-9]{1,4})?$", example = "50")]
        percent: Decimal,
    },
    /// So much off the price that others pay, be it a list price or cost with its mark-up.
    PercentOff {
        /// The category.
        #[schema(value_type = String, min_length = 1, max_length = 60, example = "electronics")]
        category: Name,
        /// Percent of the price.
        #[schema(value_type = String, pattern = r"^(100(\.0{1,4})?|[0-9]{1,2}(\.[0-9]{1,4})?)$", example = "5")]
        percent: Decimal,
    },
}

impl LevelPrice {
    /// The category that it is about.
    pub fn category(&self) -> &Name {
        let (LevelPrice::MarkUp { category, .. } | LevelPrice::PercentOff { category, .. }) = self;
        category
    }
}

/// Prices for one kind of customer: trade, club, staff.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PriceLevel {
    /// Code that quotes refer to.
    #[schema(value_type = String, min_length = 1, max_length = 60, pattern = r"^[a-z0-9][a-z0-9_]*$", example = "trade")]
    pub code: Name,
    /// As printed.
    #[schema(min_length = 1, max_length = 100, example = "Trade")]
    pub name: String,
    /// Whether only an owner gives it.
    #[serde(default)]
    pub owner_only: bool,
    /// What it does to which category; any other category keeps its prices.
    #[schema(max_items = 60)]
    pub prices: Vec<LevelPrice>,
}

impl PriceLevel {
    /// What it does to the prices of a category, if anything.
    pub fn of(&self, category: &Name) -> Option<&LevelPrice> {
        self.prices.iter().find(|price| price.category() == category)
    }
}

/// How the freight of a quote is reckoned. Goods are the items on it, at their prices before the discount.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "by", rename_all = "snake_case", deny_unknown_fields)]
pub enum FreightRule {
    /// None is charged.
    None,
    /// The same for every quote with goods on it.
    Amount {
        /// The amount, rounded to the minor unit of the currency.
        #[schema(value_type = String, pattern = r"^[0-9]{1,9}(\.[0-9]{1,4})?$", example = "45.00")]
        amount: Decimal,
        /// What goods must come to for none to be charged; absent, it always is.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schema(value_type = Option<String>, pattern = r"^[0-9]{1,9}(\.[0-9]{1,4})?$", example = "2500.00")]
        free_from: Option<Decimal>,
    },
    /// A share of the goods.
    PercentOfGoods {
        /// Percent of the goods; what it comes to is rounded to the minor unit of the currency.
        #[schema(value_type = String, pattern = r"^(100(\.0{1,4})?|[0-9]{1,2}(\.[0-9]{1,4})?)$", example = "2.5")]
        percent: Decimal,
        /// What goods must come to for none to be charged; absent, it always is.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schema(value_type = Option<String>, pattern = r"^[0-9]{1,9}(\.[0-9]{1,4})?$", example = "2500.00")]
        free_from: Option<Decimal>,
    },
}

/// Freight to the shop that the customer pays.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Freight {
    /// How it is reckoned unless a quote says an amount.
    pub rule: FreightRule,
    /// Its tax class.
    #[schema(value_type = String, min_length = 1, max_length = 60, example = "goods")]
    pub tax_class: Name,
}
