//! Items, their prices over time, and every version that an item ever had.

use sea_orm_migration::prelude::*;

use crate::WHOLE;
use crate::columns::{day, flag, key, moment, text, whole};

#[derive(DeriveMigrationName)]
pub struct Step;

#[async_trait::async_trait]
impl MigrationTrait for Step {
    fn use_transaction(&self) -> Option<bool> {
        WHOLE
    }

    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let items = Table::create()
            .table(Alias::new("items"))
            .col(key(manager, "sku").primary_key())
            .col(text("kind"))
            .col(text("category"))
            .col(text("description"))
            .col(text("search_text"))
            .col(text("attributes"))
            .col(text("selling_unit"))
            .col(text("buying_unit"))
            .col(whole("buying_quantity"))
            .col(ColumnDef::new(Alias::new("tax_class")).text())
            .col(whole("lead_time_days"))
            .col(flag("special_order"))
            .col(text("labour"))
            .col(ColumnDef::new(Alias::new("supplier")).text())
            .col(flag("retired"))
            .col(whole("version"))
            .col(moment("updated_at"))
            .take();
        manager.create_table(items).await?;
        let prices = Table::create()
            .table(Alias::new("prices"))
            .col(key(manager, "sku"))
            .col(text("kind"))
            .col(day("valid_from"))
            .col(whole("minimum_quantity"))
            .col(whole("amount"))
            .primary_key(
                Index::create()
                    .col(Alias::new("sku"))
                    .col(Alias::new("kind"))
                    .col(Alias::new("valid_from"))
                    .col(Alias::new("minimum_quantity")),
            )
            .foreign_key(
                ForeignKey::create()
                    .from(Alias::new("prices"), Alias::new("sku"))
                    .to(Alias::new("items"), Alias::new("sku")),
            )
            .take();
        manager.create_table(prices).await?;
        let history = Table::create()
            .table(Alias::new("item_history"))
            .col(key(manager, "sku"))
            .col(whole("version"))
            .col(text("body"))
            .col(moment("at"))
            .primary_key(Index::create().col(Alias::new("sku")).col(Alias::new("version")))
            .take();
        manager.create_table(history).await
    }
}
