//! The address by which a customer reads an issued quote and answers it: one for a quote, known by the hash of its secret,
//! with the document that it shows. And the name that he typed, with the move that he made.

use sea_orm_migration::prelude::*;

use crate::WHOLE;
use crate::columns::{bytes, id, key, moment, text};

#[derive(DeriveMigrationName)]
pub struct Step;

#[async_trait::async_trait]
impl MigrationTrait for Step {
    fn use_transaction(&self) -> Option<bool> {
        WHOLE
    }

    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let to = |column: &'static str, table: &'static str, referred: &'static str| {
            ForeignKey::create()
                .from(Alias::new("quote_links"), Alias::new(column))
                .to(Alias::new(table), Alias::new(referred))
                .take()
        };
        let links = Table::create()
            .table(Alias::new("quote_links"))
            .col(id("quote").primary_key())
            .col(id("link").unique_key())
            .col(bytes("secret_hash"))
            .col(key(manager, "document_hash"))
            .col(moment("made_at"))
            .col(text("made_by"))
            .col(moment("expires_at"))
            .col(ColumnDef::new(Alias::new("revoked_at")).timestamp_with_time_zone())
            .foreign_key(&mut to("quote", "quotes", "id"))
            .foreign_key(&mut to("document_hash", "documents", "hash"))
            .take();
        manager.create_table(links).await?;
        // What the customer reads of each choice; choices from before this step have none.
        let copies = Table::alter()
            .table(Alias::new("choices"))
            .add_column(ColumnDef::new(Alias::new("customer_hash")).text())
            .take();
        manager.alter_table(copies).await?;
        let signed = Table::alter()
            .table(Alias::new("moves"))
            .add_column(ColumnDef::new(Alias::new("signed_name")).text())
            .take();
        manager.alter_table(signed).await
    }
}
