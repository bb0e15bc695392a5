//! In whose name things were written: the name of the key, or `command line`. Rows from before this step have none.

use sea_orm_migration::prelude::*;

use crate::WHOLE;

#[derive(DeriveMigrationName)]
pub struct Step;

/// Table and column, all of them texts that may be missing.
const COLUMNS: [(&str, &str); 6] = [
    ("quotes", "created_by"),
    ("quotes", "changed_by"),
    ("items", "changed_by"),
    ("item_history", "changed_by"),
    ("shop_documents", "changed_by"),
    ("imports", "created_by"),
];

#[async_trait::async_trait]
impl MigrationTrait for Step {
    fn use_transaction(&self) -> Option<bool> {
        WHOLE
    }

    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        for (table, column) in COLUMNS {
            let wider =
                Table::alter().table(Alias::new(table)).add_column(ColumnDef::new(Alias::new(column)).text()).take();
            manager.alter_table(wider).await?;
        }
        Ok(())
    }
}
