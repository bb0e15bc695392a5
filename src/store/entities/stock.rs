//! Counts of items by place and bin.

use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "stock")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub id: Uuid,
    pub sku: String,
    pub place: String,
    pub bin: String,
    pub unit: String,
    pub quantity: i64,
    pub version: i64,
    pub created_at: DateTimeUtc,
    pub created_by: String,
    pub updated_at: DateTimeUtc,
    pub changed_by: String,
}

#[derive(Clone, Copy, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
