//! The link of a quote's customer, known by the hash of its secret.

use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "quote_links")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub quote: Uuid,
    pub link: Uuid,
    pub secret_hash: Vec<u8>,
    pub document_hash: String,
    pub made_at: DateTimeUtc,
    pub made_by: String,
    pub expires_at: DateTimeUtc,
    pub revoked_at: Option<DateTimeUtc>,
}

#[derive(Clone, Copy, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
