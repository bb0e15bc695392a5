//! In what numbers an item is ordered: the least, and the multiple. What was there before is ordered one by one. And at which
//! version of the shop's tables an item was written last, so that only what has changed is read again.

use sea_orm_migration::prelude::*;

use crate::WHOLE;

#[derive(DeriveMigrationName)]
pub struct Step;

#[async_trait::async_trait]
impl MigrationTrait for Step {
    fn use_transaction(&self) -> Option<bool> {
        WHOLE
    }

    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        // A program from before this step writes no such columns.
        for (name, at_first) in [("minimum_order", 1), ("order_multiple", 1), ("shop_version", 0)] {
            let column = ColumnDef::new(Alias::new(name)).big_integer().not_null().default(at_first).take();
            manager.alter_table(Table::alter().table(Alias::new("items")).add_column(column).take()).await?;
        }
        // The version of the item lies in it too: their sum tells whether a change was missed.
        let index = Index::create()
            .name("items_shop_version")
            .table(Alias::new("items"))
            .col(Alias::new("shop_version"))
            .col(Alias::new("version"))
            .take();
        manager.create_index(index).await
    }
}
