//! Choices: the sets of options of an issued quote, each with documents of its own, and which one was accepted. Quotes
//! from before this step have no options.

use sea_orm_migration::prelude::*;

use crate::WHOLE;
use crate::columns::{id, key, whole};

#[derive(DeriveMigrationName)]
pub struct Step;

fn to(column: &'static str, table: &'static str, there: &'static str) -> ForeignKeyCreateStatement {
    ForeignKey::create().from(Alias::new("choices"), Alias::new(column)).to(Alias::new(table), Alias::new(there)).take()
}

#[async_trait::async_trait]
impl MigrationTrait for Step {
    fn use_transaction(&self) -> Option<bool> {
        WHOLE
    }

    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        for (table, column) in [("quotes", "accepted_options"), ("moves", "options")] {
            let column = ColumnDef::new(Alias::new(column)).text().take();
            manager.alter_table(Table::alter().table(Alias::new(table)).add_column(column).take()).await?;
        }
        let choices = Table::create()
            .table(Alias::new("choices"))
            .col(id("quote"))
            .col(key(manager, "options"))
            .col(key(manager, "document_hash"))
            .col(key(manager, "costing_hash"))
            .col(whole("net_minor"))
            .col(whole("tax_minor"))
            .col(whole("total_minor"))
            .primary_key(Index::create().col(Alias::new("quote")).col(Alias::new("options")))
            .foreign_key(&mut to("quote", "quotes", "id"))
            .foreign_key(&mut to("document_hash", "documents", "hash"))
            .foreign_key(&mut to("costing_hash", "documents", "hash"))
            .take();
        manager.create_table(choices).await?;
        // A document that its last quote leaves is removed; these find out whether a choice still points to it.
        for column in ["document_hash", "costing_hash"] {
            let index = Index::create()
                .name(format!("choices_{column}"))
                .table(Alias::new("choices"))
                .col(Alias::new(column))
                .take();
            manager.create_index(index).await?;
        }
        Ok(())
    }
}
