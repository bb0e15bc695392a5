//! Rows of an import that is being read; those with a fault have no body.

use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "import_rows")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub import_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub line: i64,
    pub sku: String,
    pub body: Option<String>,
}

#[derive(Clone, Copy, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
