//! Every version that an item ever had.

use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "item_history")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub sku: String,
    #[sea_orm(primary_key, auto_increment = false)]
    pub version: i64,
    pub body: String,
    pub at: DateTimeUtc,
    pub changed_by: Option<String>,
}

#[derive(Clone, Copy, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
