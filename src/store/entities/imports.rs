//! Imports of the catalogue.

use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "imports")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub id: Uuid,
    pub state: String,
    pub dry_run: bool,
    pub rows_read: i64,
    pub rows_bad: i64,
    pub report: String,
    pub created_at: DateTimeUtc,
    pub created_by: Option<String>,
    pub finished_at: Option<DateTimeUtc>,
}

#[derive(Clone, Copy, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
