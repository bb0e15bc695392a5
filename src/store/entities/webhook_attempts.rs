//! What was tried to tell a target of an event, and what came of it; kept for a while.

use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "webhook_attempts")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub id: Uuid,
    pub webhook: Uuid,
    pub position: i64,
    pub event: Uuid,
    pub kind: String,
    pub attempt: i64,
    pub at: DateTimeUtc,
    pub duration_ms: i64,
    pub outcome: String,
    pub status: Option<i64>,
    pub error: Option<String>,
    pub next_at: Option<DateTimeUtc>,
}

#[derive(Clone, Copy, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
