//! Sets of options of issued quotes, with the documents of each.

use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "choices")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub quote: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub options: String,
    pub document_hash: String,
    pub costing_hash: String,
    pub customer_hash: Option<String>,
    pub net_minor: i64,
    pub tax_minor: i64,
    pub total_minor: i64,
}

#[derive(Clone, Copy, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
