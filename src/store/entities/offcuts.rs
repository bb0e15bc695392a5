//! Lengths that were left over, one row each.

use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "offcuts")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub id: Uuid,
    pub sku: String,
    pub place: String,
    pub bin: String,
    pub length_nm: i64,
    pub unit: String,
    pub state: String,
    pub remark: Option<String>,
    pub reserved_for: Option<Uuid>,
    pub version: i64,
    pub created_at: DateTimeUtc,
    pub created_by: String,
    pub updated_at: DateTimeUtc,
    pub changed_by: String,
}

#[derive(Clone, Copy, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
