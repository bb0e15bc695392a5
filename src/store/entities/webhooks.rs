//! Who is told of events. The secrets that sign what he gets stand here as they are: whoever signs needs them.

use std::fmt;

use sea_orm::entity::prelude::*;

#[derive(Clone, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "webhooks")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub id: Uuid,
    pub url: String,
    pub description: Option<String>,
    pub event_types: String,
    pub enabled: bool,
    pub disabled_at: Option<DateTimeUtc>,
    pub disabled_reason: Option<String>,
    pub secret: Vec<u8>,
    pub earlier_secret: Option<Vec<u8>>,
    pub earlier_secret_until: Option<DateTimeUtc>,
    pub created_at: DateTimeUtc,
    pub created_by: String,
    pub updated_at: DateTimeUtc,
    pub changed_by: String,
    pub version: i64,
    pub position: i64,
    pub failures: i64,
    pub failing_since: Option<DateTimeUtc>,
    pub held_until: Option<DateTimeUtc>,
    pub lease: Option<Uuid>,
    pub leased_until: Option<DateTimeUtc>,
}

#[derive(Clone, Copy, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

impl fmt::Debug for Model {
    // Secrets stay out of every log, and so does the address, which may hold one.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Model").field("id", &self.id).finish_non_exhaustive()
    }
}
