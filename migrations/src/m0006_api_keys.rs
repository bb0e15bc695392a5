//! Keys of those who use the service. Of a secret only its hash is kept; a key that was rotated keeps the hash of the
//! secret before, with the time at which that one ends.

use sea_orm_migration::prelude::*;

use crate::WHOLE;
use crate::columns::{bytes, id, key, moment, text, whole};

#[derive(DeriveMigrationName)]
pub struct Step;

fn perhaps_moment(name: &'static str) -> ColumnDef {
    ColumnDef::new(Alias::new(name)).timestamp_with_time_zone().take()
}

#[async_trait::async_trait]
impl MigrationTrait for Step {
    fn use_transaction(&self) -> Option<bool> {
        WHOLE
    }

    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let keys = Table::create()
            .table(Alias::new("api_keys"))
            .col(id("id").primary_key())
            // What was done is told by the name of the key, so that no two keys may ever share one.
            .col(key(manager, "name").unique_key())
            .col(text("role"))
            .col(bytes("hash"))
            .col(ColumnDef::new(Alias::new("earlier_hash")).blob())
            .col(perhaps_moment("earlier_until"))
            .col(moment("created_at"))
            .col(text("created_by"))
            .col(moment("updated_at"))
            .col(text("changed_by"))
            .col(perhaps_moment("expires_at"))
            .col(perhaps_moment("last_used_at"))
            .col(perhaps_moment("revoked_at"))
            .col(whole("version"))
            .take();
        manager.create_table(keys).await
    }
}
