//! Claims of requests that are to be done once, each with the answer that it was given.

use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "idempotency")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub principal: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub key: String,
    pub fingerprint: Vec<u8>,
    pub status: i64,
    pub location: Option<String>,
    pub etag: Option<String>,
    pub content_type: String,
    pub body: Option<Vec<u8>>,
    pub created_at: DateTimeUtc,
    pub expires_at: DateTimeUtc,
}

#[derive(Clone, Copy, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
