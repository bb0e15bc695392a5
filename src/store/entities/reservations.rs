//! What quotes hold of the shelf, and what was picked for them.

use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "reservations")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub id: Uuid,
    pub quote: Uuid,
    pub sku: String,
    pub place: String,
    pub bin: String,
    pub unit: String,
    pub quantity: i64,
    pub offcut: Option<String>,
    pub length_nm: Option<i64>,
    pub reserved_at: DateTimeUtc,
    pub reserved_by: String,
    pub picked_at: Option<DateTimeUtc>,
}

#[derive(Clone, Copy, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
