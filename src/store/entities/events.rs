//! Events, in the order in which they were made lasting; only ever added to.

use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "events")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub position: i64,
    pub id: Uuid,
    pub kind: String,
    pub subject: String,
    pub at: DateTimeUtc,
    pub payload: Vec<u8>,
}

#[derive(Clone, Copy, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
