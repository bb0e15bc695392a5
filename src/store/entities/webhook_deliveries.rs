//! Events that a target is still to be told, or was given up on, after they could not be delivered at once.

use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "webhook_deliveries")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub webhook: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub position: i64,
    pub state: String,
    pub attempts: i64,
    pub since: DateTimeUtc,
    pub next_at: DateTimeUtc,
}

#[derive(Clone, Copy, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
