//! What is on the shelf: counts of items by place and bin, lengths that were left over, and what quotes hold of both. And
//! the index that lists of quotes in one state go by.

use sea_orm_migration::prelude::*;

use crate::WHOLE;
use crate::columns::{id, key, moment, text, whole};

#[derive(DeriveMigrationName)]
pub struct Step;

fn to_items(table: &str) -> ForeignKeyCreateStatement {
    ForeignKey::create().from(Alias::new(table), Alias::new("sku")).to(Alias::new("items"), Alias::new("sku")).take()
}

fn index(name: &str, table: &str, columns: &[&'static str]) -> IndexCreateStatement {
    let mut index = Index::create().name(name).table(Alias::new(table)).take();
    for column in columns {
        index.col(Alias::new(*column));
    }
    index
}

#[async_trait::async_trait]
impl MigrationTrait for Step {
    fn use_transaction(&self) -> Option<bool> {
        WHOLE
    }

    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let stock = Table::create()
            .table(Alias::new("stock"))
            .col(id("id").primary_key())
            .col(key(manager, "sku"))
            .col(key(manager, "place"))
            .col(key(manager, "bin"))
            // The item's selling unit when it was counted.
            .col(text("unit"))
            // Millionths of it.
            .col(whole("quantity"))
            .col(whole("version"))
            .col(moment("created_at"))
            .col(text("created_by"))
            .col(moment("updated_at"))
            .col(text("changed_by"))
            .foreign_key(&mut to_items("stock"))
            .take();
        manager.create_table(stock).await?;
        manager.create_index(index("stock_where", "stock", &["sku", "place", "bin"]).unique().take()).await?;
        let offcuts = Table::create()
            .table(Alias::new("offcuts"))
            .col(id("id").primary_key())
            .col(key(manager, "sku"))
            .col(key(manager, "place"))
            .col(key(manager, "bin"))
            .col(whole("length_nm"))
            // The unit that it was measured in.
            .col(text("unit"))
            .col(text("state"))
            .col(ColumnDef::new(Alias::new("remark")).text())
            .col(ColumnDef::new(Alias::new("reserved_for")).uuid())
            .col(whole("version"))
            .col(moment("created_at"))
            .col(text("created_by"))
            .col(moment("updated_at"))
            .col(text("changed_by"))
            .foreign_key(&mut to_items("offcuts"))
            .take();
        manager.create_table(offcuts).await?;
        manager.create_index(index("offcuts_sku", "offcuts", &["sku", "state"])).await?;
        // What all quotes together hold of a bin. No key to `stock`: where the shop's inventory system knows what is on
        // the shelf, this is all that is kept of it here.
        let held = Table::create()
            .table(Alias::new("held"))
            .col(key(manager, "sku"))
            .col(key(manager, "place"))
            .col(key(manager, "bin"))
            .col(whole("quantity"))
            .primary_key(Index::create().col(Alias::new("sku")).col(Alias::new("place")).col(Alias::new("bin")))
            .take();
        manager.create_table(held).await?;
        let reservations = Table::create()
            .table(Alias::new("reservations"))
            .col(id("id").primary_key())
            .col(id("quote"))
            .col(key(manager, "sku"))
            .col(key(manager, "place"))
            .col(key(manager, "bin"))
            .col(text("unit"))
            .col(whole("quantity"))
            // Absent for what is counted.
            .col(ColumnDef::new(Alias::new("offcut")).text())
            .col(ColumnDef::new(Alias::new("length_nm")).big_integer())
            .col(moment("reserved_at"))
            .col(text("reserved_by"))
            // Absent until it was taken from the shelf.
            .col(ColumnDef::new(Alias::new("picked_at")).timestamp_with_time_zone())
            .foreign_key(
                ForeignKey::create()
                    .from(Alias::new("reservations"), Alias::new("quote"))
                    .to(Alias::new("quotes"), Alias::new("id")),
            )
            .take();
        manager.create_table(reservations).await?;
        manager.create_index(index("reservations_quote", "reservations", &["quote"])).await?;
        manager.create_index(index("reservations_sku", "reservations", &["sku"])).await?;
        // No offcut twice, whatever a program does.
        manager.create_index(index("reservations_offcut", "reservations", &["offcut"]).unique().take()).await?;
        manager.create_index(index("quotes_state", "quotes", &["state", "id"])).await
    }
}
