//! Items of the catalogue; quantities in millionths.

use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "items")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub sku: String,
    pub kind: String,
    pub category: String,
    pub description: String,
    pub search_text: String,
    pub attributes: String,
    pub selling_unit: String,
    pub buying_unit: String,
    pub buying_quantity: i64,
    pub tax_class: Option<String>,
    pub lead_time_days: i64,
    pub special_order: bool,
    pub labour: String,
    pub supplier: Option<String>,
    pub retired: bool,
    pub version: i64,
    pub updated_at: DateTimeUtc,
    pub changed_by: Option<String>,
    pub minimum_order: i64,
    pub order_multiple: i64,
    pub shop_version: i64,
}

#[derive(Clone, Copy, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
