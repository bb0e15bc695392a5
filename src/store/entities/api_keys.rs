//! Keys of those who use the service; of their secrets the SHA-256.

use std::fmt;

use sea_orm::entity::prelude::*;

#[derive(Clone, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "api_keys")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub id: Uuid,
    pub name: String,
    pub role: String,
    pub hash: Vec<u8>,
    pub earlier_hash: Option<Vec<u8>>,
    pub earlier_until: Option<DateTimeUtc>,
    pub created_at: DateTimeUtc,
    pub created_by: String,
    pub updated_at: DateTimeUtc,
    pub changed_by: String,
    pub expires_at: Option<DateTimeUtc>,
    pub last_used_at: Option<DateTimeUtc>,
    pub revoked_at: Option<DateTimeUtc>,
    pub version: i64,
}

#[derive(Clone, Copy, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

impl fmt::Debug for Model {
    // The hashes stay out of every log.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Model").field("id", &self.id).field("role", &self.role).finish_non_exhaustive()
    }
}
