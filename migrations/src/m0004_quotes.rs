//! Quotes, and the documents that they point to by the hash of their bytes.

use sea_orm_migration::prelude::*;

use crate::WHOLE;
use crate::columns::{bytes, day, flag, id, key, moment, text, whole};

#[derive(DeriveMigrationName)]
pub struct Step;

fn to_document(column: &'static str) -> ForeignKeyCreateStatement {
    ForeignKey::create()
        .from(Alias::new("quotes"), Alias::new(column))
        .to(Alias::new("documents"), Alias::new("hash"))
        .take()
}

#[async_trait::async_trait]
impl MigrationTrait for Step {
    fn use_transaction(&self) -> Option<bool> {
        WHOLE
    }

    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let documents = Table::create()
            .table(Alias::new("documents"))
            .col(key(manager, "hash").primary_key())
            .col(text("kind"))
            .col(whole("schema_version"))
            .col(text("engine_edition"))
            .col(bytes("bytes"))
            .take();
        manager.create_table(documents).await?;
        let quotes = Table::create()
            .table(Alias::new("quotes"))
            .col(id("id").primary_key())
            .col(text("state"))
            .col(whole("version"))
            .col(text("name"))
            .col(ColumnDef::new(Alias::new("customer")).text())
            .col(text("search_text"))
            .col(text("currency"))
            .col(whole("net_minor"))
            .col(whole("tax_minor"))
            .col(ColumnDef::new(Alias::new("total_minor")).big_integer())
            .col(flag("incomplete"))
            .col(key(manager, "document_hash"))
            .col(key(manager, "costing_hash"))
            .col(whole("catalogue_version"))
            .col(day("priced_on"))
            .col(day("valid_until"))
            .col(bytes("request"))
            .col(moment("created_at"))
            .col(moment("updated_at"))
            .foreign_key(&mut to_document("document_hash"))
            .foreign_key(&mut to_document("costing_hash"))
            .take();
        manager.create_table(quotes).await?;
        // A document that its last quote leaves is removed; these find out whether another quote still points to it.
        for column in ["document_hash", "costing_hash"] {
            let index = Index::create()
                .name(format!("quotes_{column}"))
                .table(Alias::new("quotes"))
                .col(Alias::new(column))
                .take();
            manager.create_index(index).await?;
        }
        Ok(())
    }
}
