//! Imports of the catalogue, and the rows of one that is being read.

use sea_orm_migration::prelude::*;

use crate::WHOLE;
use crate::columns::{flag, id, key, moment, text, whole};

#[derive(DeriveMigrationName)]
pub struct Step;

#[async_trait::async_trait]
impl MigrationTrait for Step {
    fn use_transaction(&self) -> Option<bool> {
        WHOLE
    }

    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let imports = Table::create()
            .table(Alias::new("imports"))
            .col(id("id").primary_key())
            .col(text("state"))
            .col(flag("dry_run"))
            .col(whole("rows_read"))
            .col(whole("rows_bad"))
            .col(text("report"))
            .col(moment("created_at"))
            .col(ColumnDef::new(Alias::new("finished_at")).timestamp_with_time_zone())
            .take();
        manager.create_table(imports).await?;
        let rows = Table::create()
            .table(Alias::new("import_rows"))
            .col(id("import_id"))
            .col(whole("line"))
            .col(key(manager, "sku"))
            .col(ColumnDef::new(Alias::new("body")).text())
            .primary_key(Index::create().col(Alias::new("import_id")).col(Alias::new("line")))
            .foreign_key(
                ForeignKey::create()
                    .from(Alias::new("import_rows"), Alias::new("import_id"))
                    .to(Alias::new("imports"), Alias::new("id")),
            )
            .take();
        manager.create_table(rows).await?;
        let twice = Index::create()
            .name("import_rows_sku")
            .table(Alias::new("import_rows"))
            .col(Alias::new("import_id"))
            .col(Alias::new("sku"))
            .take();
        manager.create_index(twice).await
    }
}
