//! Counters by name. `shop_version` counts the changes of the shop's own tables.

use sea_orm_migration::prelude::*;

use crate::{WHOLE, columns};

#[derive(DeriveMigrationName)]
pub struct Step;

#[async_trait::async_trait]
impl MigrationTrait for Step {
    fn use_transaction(&self) -> Option<bool> {
        WHOLE
    }

    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let counters = Table::create()
            .table(Alias::new("counters"))
            .col(columns::key(manager, "name").primary_key())
            .col(columns::whole("value"))
            .take();
        manager.create_table(counters).await?;
        let first = Query::insert()
            .into_table(Alias::new("counters"))
            .columns([Alias::new("name"), Alias::new("value")])
            .values_panic(["shop_version".into(), 0i64.into()])
            .take();
        manager.execute(first).await
    }
}
