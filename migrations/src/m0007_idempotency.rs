//! Claims of requests that are to be done once, each with the answer that it was given.

use sea_orm_migration::prelude::*;

use crate::WHOLE;
use crate::columns::{bytes, id, key, moment, text, whole};

#[derive(DeriveMigrationName)]
pub struct Step;

#[async_trait::async_trait]
impl MigrationTrait for Step {
    fn use_transaction(&self) -> Option<bool> {
        WHOLE
    }

    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let claims = Table::create()
            .table(Alias::new("idempotency"))
            .col(id("principal"))
            .col(key(manager, "key"))
            .col(bytes("fingerprint"))
            .col(whole("status"))
            .col(ColumnDef::new(Alias::new("location")).text())
            .col(ColumnDef::new(Alias::new("etag")).text())
            .col(text("content_type"))
            // Absent when the answer held a secret: that is never kept.
            .col(ColumnDef::new(Alias::new("body")).blob())
            .col(moment("created_at"))
            .col(moment("expires_at"))
            .primary_key(Index::create().col(Alias::new("principal")).col(Alias::new("key")))
            .take();
        manager.create_table(claims).await?;
        let ending = Index::create()
            .name("idempotency_expires_at")
            .table(Alias::new("idempotency"))
            .col(Alias::new("expires_at"))
            .take();
        manager.create_index(ending).await
    }
}
