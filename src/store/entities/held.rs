//! What all quotes together hold of a bin.

use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "held")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub sku: String,
    #[sea_orm(primary_key, auto_increment = false)]
    pub place: String,
    #[sea_orm(primary_key, auto_increment = false)]
    pub bin: String,
    pub quantity: i64,
}

#[derive(Clone, Copy, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
